"""Courses of weather that a programme may meet, taken whole from a record."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from towerlift.programme.weather import CLEAR, HOUR, States, WeatherHours
from towerlift.programme.weather_windows import hours_touched

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
DAYS_AROUND = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldUp:
    """Weather that a task needs, over many courses of it.

    Attributes
    ----------
    clear : (s, h) bool
        Whether each hour of each course allows the work; what is not known does not.
    """

    clear: NDArray[np.bool_]
    _known: dict[int, Ints] = field(default_factory=dict)

    def next_clear(self, starts: Floats, which: Ints, length: float) -> Floats:
        """First moments, from given ones on, at which the weather holds for so long.

        Parameters
        ----------
        starts : (n,) float
            After the beginning of the first hour. [s]
        which : (n,) int
            Course that each meets; taken round their number.
        length : float
            For which it must hold. [s]

        Returns
        -------
        starts : (n,) float
            Infinite where the course has no such stretch left. [s]
        """
        s, h = self.clear.shape
        hour = np.floor(starts / 3600.0 + 1e-9).astype(np.int64)
        past = starts - 3600.0 * hour
        course = which % s
        moved = starts.copy()
        needs = np.ceil((past + length) / 3600.0 - 1e-9).astype(np.int64)
        for n_hours in np.unique(needs):
            here = np.flatnonzero(needs == n_hours)
            inside = np.clip(hour[here], 0, h - 1)
            found = self._next(int(n_hours))[course[here], inside]
            moved[here] = np.where(found == hour[here], starts[here], 3600.0 * found)
            lost = (found >= h) | (hour[here] >= h)
            moved[here[lost]] = np.inf
        # At a full hour fewer hours may be touched: then an earlier one might do.
        return self._earlier(starts, moved, course, length)

    def _earlier(self, starts: Floats, moved: Floats, course: Ints, length: float) -> Floats:
        table = self._next(hours_touched(length))
        h = self.clear.shape[1]
        full = np.ceil(starts / 3600.0 - 1e-9).astype(np.int64)
        found = np.where(full < h, table[course, np.clip(full, 0, h - 1)], h)
        at_full = np.where(found < h, 3600.0 * found, np.inf)
        return np.where(moved > starts, np.minimum(moved, at_full), moved)

    def _next(self, n_hours: int) -> Ints:
        """For each hour, the first from which so many are clear; h where there is none."""
        if n_hours not in self._known:
            s, h = self.clear.shape
            held = np.zeros((s, h), dtype=bool)
            last = h - n_hours + 1
            if last > 0:
                total = np.zeros((s, h + 1), dtype=np.int64)
                self.clear.cumsum(axis=1, out=total[:, 1:])
                held[:, :last] = total[:, n_hours:] - total[:, :last] == n_hours
            index = np.where(held, np.arange(h), h)
            self._known[n_hours] = np.minimum.accumulate(index[:, ::-1], axis=1)[:, ::-1]
        return self._known[n_hours]


def courses_of_weather(
    hours: WeatherHours,
    states: Mapping[str, States],
    begins: datetime,
    n_days: int,
    *,
    around: int = DAYS_AROUND,
) -> Mapping[str, HeldUp]:
    """Courses of weather from a record, beginning on about the date of the programme.

    Parameters
    ----------
    hours : WeatherHours
        A record of one or more years, or a typical year.
    states : mapping of str to (n,) int8
        For each need, what each hour allows.
    begins : datetime
        Midnight at the site with which the programme's clock begins; summer time is taken
        off it, since a record has none.
    n_days : int
        Days of weather needed.
    around : int
        Courses begin up to so many days before and after the date.

    Returns
    -------
    courses : mapping of str to HeldUp
        For each need; the same course has the same number in all of them, so that bad
        weather stops every kind of work on the same day.

    Raises
    ------
    ValueError
        If the record has no course so long near that date.

    Notes
    -----
    A typical year is wound round from its last hour to its first. A course with hours
    left out is not taken; months of different years joined in a typical year are.
    """
    first, put_forward = begins.date(), begins.dst() or timedelta(0)
    rows = _courses(hours, first, n_days, around)
    rows = rows - int(put_forward.total_seconds() // 3600)
    rows = rows[rows.min(axis=1) >= 0] if len(rows) and not _year_round(hours) else rows
    if not len(rows):
        raise ValueError(
            f"{hours.source}: no unbroken {n_days} days within {around} days of {first:%d %b}"
        )
    return {name: HeldUp(clear=each[rows] == CLEAR) for name, each in states.items()}


def _courses(hours: WeatherHours, first: date, n_days: int, around: int) -> Ints:
    wanted = {
        (day.month, day.day)
        for day in (_shifted(first, shift) for shift in range(-around, around + 1))
    }
    n, length = len(hours.begins), 24 * n_days
    year_round = _year_round(hours)
    rows = []
    for begin in np.flatnonzero(hours.clock == 0):
        moment: datetime = hours.begins[begin].astype("datetime64[s]").item()
        if (moment.month, moment.day) not in wanted:
            continue
        course = np.arange(begin, begin + length)
        if year_round:
            rows.append(course % n)
        elif begin + length <= n and hours.run[begin] == hours.run[begin + length - 1]:
            rows.append(course)
    return np.array(rows, dtype=np.int64)


def _year_round(hours: WeatherHours) -> bool:
    return len(hours.begins) in (8760, 8784) and not _left_out(hours)


def _left_out(hours: WeatherHours) -> bool:
    """Whether an hour is missing, other than where months of different years meet."""
    broken = np.flatnonzero(np.diff(hours.begins) != HOUR)
    ends = hours.begins[broken] + HOUR
    months = ends.astype("datetime64[M]")
    at_joins = (ends == months.astype("datetime64[h]")) & (hours.clock[broken + 1] == 0)
    return not bool(at_joins.all())


def _shifted(day: date, shift: int) -> date:
    return date.fromordinal(day.toordinal() + shift)
