"""Go, wait or come back: the turning point of a lift against the weather and the light."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from math import ceil, floor, inf, isfinite

import numpy as np

from towerlift.programme.weather import CLEAR, HOUR, SHUT, States, WeatherHours


class Word(StrEnum):
    """What the person in charge calls."""

    GO = "go"
    WAIT = "wait"
    COME_BACK = "come back"
    NEAREST = "nearest lock"
    NOT_EVALUATED = "not evaluated"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """How far a section that hangs is from a lock.

    Attributes
    ----------
    ahead, back : float
        Time to the lock ahead and back to the last one; infinite where there is no way. [s]
    no_way_back : str
        Why there is none; empty where there is one.
    """

    ahead: float
    back: float
    no_way_back: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """What is called at one moment, and why.

    Attributes
    ----------
    word : Word
        The call.
    spare : float
        Time left over when the section is fast by this call; negative where it is not
        fast in time. [s]
    why : str
        In words.
    """

    word: Word
    spare: float
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeLeft:
    """How long it may go on.

    Attributes
    ----------
    until : datetime
        The first moment that does not allow it.
    why : str
        What comes then.
    """

    until: datetime
    why: str


def time_left(
    forecast: WeatherHours, states: States, now: datetime, light_ends: datetime
) -> TimeLeft:
    """Until when weather and light allow a lift.

    Parameters
    ----------
    forecast : WeatherHours
        Hours of the forecast.
    states : (n,) int8
        What each allows, as `judge_hours` says.
    now : datetime
        With its zone.
    light_ends : datetime
        End of the light to work by.

    Returns
    -------
    left : TimeLeft
        An hour that is not in the forecast, or not known, does not allow it.
    """
    clock = now.astimezone(forecast.zone).replace(tzinfo=None)
    hour = np.datetime64(clock, "h")
    until, why = now, "no forecast for this hour"
    while True:
        row = int(np.searchsorted(forecast.begins, hour))
        if row >= len(states) or forecast.begins[row] != hour:
            why = f"the forecast says nothing of the hour from {_clock(hour)}"
            break
        if states[row] != CLEAR:
            shut = states[row] == SHUT
            why = f"the forecast {'breaks a limit' if shut else 'leaves out a value'} from "
            why += _clock(hour)
            break
        hour = hour + HOUR
        until = _moment(forecast, hour)
        if until >= light_ends:
            break
    if light_ends <= until:
        return TimeLeft(until=light_ends, why="the light ends")
    return TimeLeft(until=max(until, now), why=why)


def _moment(forecast: WeatherHours, hour: np.datetime64) -> datetime:
    plain: datetime = hour.astype("datetime64[s]").item()
    return plain.replace(tzinfo=forecast.zone)


def _clock(hour: np.datetime64) -> str:
    return f"{hour.astype('datetime64[m]').item():%H:%M on %d %b}"


def call_before(whole: float, left: TimeLeft, now: datetime, margin: float) -> Call:
    """What is called before the section leaves its lock.

    Parameters
    ----------
    whole : float
        Time from now till it is fast at the far end. [s]
    left : TimeLeft
        How long it may go on.
    now : datetime
        With its zone.
    margin : float
        Time that must be left over. [s]

    Returns
    -------
    call : Call
        Go, or wait: nothing hangs yet, so waiting is safe.

    Raises
    ------
    ValueError
        If a time is not a number of 0 or more.
    """
    if not (whole >= 0 and margin >= 0 and isfinite(whole + margin)):
        raise ValueError(f"times must be 0 or more, got {whole} s and {margin} s")
    spare = (left.until - now).total_seconds() - whole
    needs = f"it is fast after {minutes_needed(whole)}; at {left.until:%H:%M} {left.why}"
    if spare >= margin:
        return Call(word=Word.GO, spare=spare, why=f"{needs}: {minutes_left(spare)} to spare")
    short = f"{minutes_needed(margin - spare)} short of {minutes_needed(margin)} to spare"
    return Call(word=Word.WAIT, spare=spare, why=f"{needs}: {short}")


def call_aloft(reach: Reach, left: TimeLeft, now: datetime, margin: float) -> Call:
    """What is called while the section hangs.

    Parameters
    ----------
    reach : Reach
        From where it hangs.
    left : TimeLeft
        How long it may go on.
    now : datetime
        With its zone.
    margin : float
        Time that must be left over. [s]

    Returns
    -------
    call : Call
        Go where the lock ahead is reached in time; else come back where the last lock
        is; else the nearer of the two, which is not in time.

    Raises
    ------
    ValueError
        If a time is not a number of 0 or more.
    """
    ahead, back = reach.ahead, reach.back
    if not (ahead >= 0 and back >= 0 and margin >= 0 and isfinite(margin)):
        raise ValueError(f"times must be 0 or more, got {ahead}, {back} and {margin} s")
    seconds = (left.until - now).total_seconds()
    both = f"{_way_ahead(ahead)}, {_way_back(reach)}"
    end = f"at {left.until:%H:%M} {left.why}"
    if seconds - ahead >= margin:
        spare = seconds - ahead
        kept = f"{minutes_left(spare)} to spare"
        return Call(word=Word.GO, spare=spare, why=f"{both}; {end}: {kept}")
    if seconds - back >= margin:
        spare = seconds - back
        return Call(
            word=Word.COME_BACK,
            spare=spare,
            why=f"{both}; {end}: coming back leaves {minutes_left(spare)}, going on would "
            "not do",
        )
    if not isfinite(min(ahead, back)):
        return Call(word=Word.NEAREST, spare=-inf, why=f"{both}; {end}: hold on the pawls")
    way, spare = ("go on", seconds - ahead) if ahead <= back else ("come back", seconds - back)
    late = f"late by {minutes_needed(-spare)}"
    kept = late if spare < 0 else f"{minutes_left(spare)} to spare"
    return Call(
        word=Word.NEAREST,
        spare=spare,
        why=f"{both}; {end}: neither lock with {minutes_needed(margin)} to spare; {way}, "
        f"{kept}",
    )


def _way_ahead(ahead: float) -> str:
    return f"{minutes_needed(ahead)} to the lock ahead" if isfinite(ahead) else "no lock ahead"


def _way_back(reach: Reach) -> str:
    if not isfinite(reach.back):
        why = f" ({reach.no_way_back})" if reach.no_way_back else ""
        return f"no way back{why}"
    return f"{minutes_needed(reach.back)} back to the last lock"


def minutes_needed(seconds: float) -> str:
    """A time that is needed in whole minutes, never less than it is."""
    return f"{ceil(seconds / 60.0 - 1e-9)} min"


def minutes_left(seconds: float) -> str:
    """A time that is left over in whole minutes, never more than it is."""
    return f"{floor(seconds / 60.0 + 1e-9)} min"


def latest_start(left: TimeLeft, whole: float, margin: float) -> datetime:
    """Latest moment at which a lift may leave its lock."""
    return left.until - timedelta(seconds=whole + margin)
