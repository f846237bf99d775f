"""How often the weather gives a window long enough, by month and hour.

Bad hours come together, and so do good ones: a window is looked for in the hours
themselves, as they followed each other, never made up from the chances of single hours.
"""

from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from towerlift.programme.weather import CLEAR, SHUT, Floats, States, WeatherHours

Counts = NDArray[np.int64]
_TINY = 1e-9  # of an hour, lost in adding minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowChances:
    """How often work of one length could have been done, had it begun at an hour.

    Attributes
    ----------
    n_hours : int
        Whole hours that the work touches.
    clear, shut, unknown : (12, 24) int
        Beginnings in each month at each hour of the day that were followed by a window,
        by weather that breaks it, and by hours that the record cannot tell of.
    single : (12, 24) float
        Share of clear ones among the known single hours; NaN where none is known.
    """

    n_hours: int
    clear: Counts
    shut: Counts
    unknown: Counts
    single: Floats

    @property
    def starts(self) -> Counts:
        """Beginnings looked at. (12, 24)"""
        return self.clear + self.shut + self.unknown

    @property
    def chance(self) -> Floats:
        """Share of beginnings known to be followed by a window. (12, 24)

        What is not known counts as no window; NaN where there is no beginning at all.
        """
        with np.errstate(invalid="ignore"):
            share: Floats = self.clear / np.where(self.starts, self.starts, np.nan)
        return share

    @property
    def as_if_independent(self) -> Floats:
        """What single hours multiplied would give; shown to be wrong, never used. (12, 24)"""
        product = np.ones((12, 24))
        for later in range(self.n_hours):
            product *= np.roll(self.single, -later, axis=1)
        return product


def hours_touched(length: float, *, begins: float = 0.0) -> int:
    """Clock hours that a stretch of work touches.

    Parameters
    ----------
    length : float
        Of the work. [s]
    begins : float
        After the full hour. [s]

    Returns
    -------
    n : int
        One at least.

    Raises
    ------
    ValueError
        If the length is not above nothing.
    """
    if not length > 0:
        raise ValueError(f"a window needs a length, got {length} s")
    return max(1, ceil((begins + length) / 3600.0 - _TINY))


def windows_from(hours: WeatherHours, states: States, n_hours: int) -> States:
    """For each hour, whether a window begins there.

    Parameters
    ----------
    hours : WeatherHours
        The hours.
    states : (n,) int8
        What each allows, as `judge_hours` says.
    n_hours : int
        Length of the window.

    Returns
    -------
    begun : (n,) int8
        1 all its hours are clear; 0 one of them is shut; -1 none is shut but one is not
        known; -2 the record breaks off before it is over.
    """
    n = len(states)
    begun = np.full(n, -2, dtype=np.int8)
    if n_hours > n:
        return begun
    last = n - n_hours + 1
    shut = _within(states == SHUT, n_hours)
    clear = _within(states == CLEAR, n_hours)
    found = np.where(shut > 0, SHUT, np.where(clear == n_hours, CLEAR, -1))
    run = hours.run
    whole = run[:last] == run[n_hours - 1 :]
    begun[:last] = np.where(whole, found, -2)
    return begun


def _within(flags: NDArray[np.bool_], n_hours: int) -> Counts:
    total = np.concatenate([[0], np.cumsum(flags)])
    within: Counts = total[n_hours:] - total[:-n_hours]
    return within


def window_chances(hours: WeatherHours, states: States, n_hours: int) -> WindowChances:
    """How often a window of a length begins, by month and hour of the day.

    Parameters
    ----------
    hours : WeatherHours
        The hours.
    states : (n,) int8
        What each allows, as `judge_hours` says.
    n_hours : int
        Length of the window.

    Returns
    -------
    chances : WindowChances
        Beginnings whose window would run past a break of the record are left out.
    """
    begun = windows_from(hours, states, n_hours)
    cells = (hours.months - 1) * 24 + hours.clock

    def count(flags: NDArray[np.bool_]) -> Counts:
        return np.bincount(cells[flags], minlength=288).reshape(12, 24)

    known = count(states >= 0)
    with np.errstate(invalid="ignore"):
        single = count(states == CLEAR) / np.where(known, known, np.nan)
    return WindowChances(
        n_hours=n_hours,
        clear=count(begun == CLEAR),
        shut=count(begun == SHUT),
        unknown=count(begun == -1),
        single=single,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class DayPart:
    """The part of a day in which work may go on.

    Attributes
    ----------
    first, last : int
        Whole hours of the station's clock: work begins no earlier than the first and is
        over by the last.

    Raises
    ------
    ValueError
        If they are not hours of one day in this order.
    """

    first: int
    last: int

    def __post_init__(self) -> None:
        if not 0 <= self.first < self.last <= 24:
            raise ValueError(f"hours {self.first} to {self.last} are no part of a day")


def days_with_window(begun: States, hours: WeatherHours, part: DayPart, n_hours: int) -> States:
    """For each day of the record, whether a window begins and ends within a part of it.

    Parameters
    ----------
    begun : (n,) int8
        As `windows_from` gives them for `n_hours`.
    hours : WeatherHours
        The hours.
    part : DayPart
        When the work may go on.
    n_hours : int
        Length of the window.

    Returns
    -------
    days : (m,) int8
        One for each calendar day in the order of the record, as `record_days` lists them:
        1 yes, 0 no, -1 not known.
    """
    _, number = _days(hours)
    inside = (hours.clock >= part.first) & (hours.clock + n_hours <= part.last)
    m = int(number.max()) + 1
    clear = np.bincount(number[inside & (begun == CLEAR)], minlength=m) > 0
    possible = part.last - part.first - n_hours + 1
    shut = np.bincount(number[inside & (begun == SHUT)], minlength=m) >= max(possible, 0)
    return np.where(clear, 1, np.where(shut, 0, -1)).astype(np.int8)


def record_days(hours: WeatherHours) -> NDArray[np.datetime64]:
    """Calendar days of a record, in its order. (m,)"""
    return _days(hours)[0]


def _days(hours: WeatherHours) -> tuple[NDArray[np.datetime64], Counts]:
    day = hours.begins.astype("datetime64[D]")
    new = np.concatenate([[True], day[1:] != day[:-1]])
    return day[new], np.cumsum(new) - 1


def chance_within_days(
    days: NDArray[np.datetime64], given: States, n_days: int
) -> tuple[Floats, Counts]:
    """Chance, by month, that one of so many days in a row gives the window.

    Parameters
    ----------
    days : (m,) datetime64
        Calendar days, as `record_days` lists them.
    given : (m,) int8
        Whether each has a window, as `days_with_window` says.
    n_days : int
        Days in a row that there are to choose from.

    Returns
    -------
    chance : (12,) float
        Share of first days in each month followed by a window within the days; what is
        not known counts as none. NaN where the record has no such stretch of days.
    n : (12,) int
        Stretches looked at.

    Raises
    ------
    ValueError
        If no day is asked for.
    """
    if n_days < 1:
        raise ValueError(f"one day at least is needed, got {n_days}")
    if n_days > len(days):
        return np.full(12, np.nan), np.zeros(12, dtype=np.int64)
    found = _within(given == 1, n_days) > 0
    last = len(days) - n_days + 1
    whole = days[n_days - 1 :] - days[:last] == np.timedelta64(n_days - 1, "D")
    month = days[:last].astype("datetime64[M]").astype(np.int64) % 12
    n = np.bincount(month[whole], minlength=12)
    yes = np.bincount(month[whole & found], minlength=12)
    with np.errstate(invalid="ignore"):
        return yes / np.where(n, n, np.nan), n
