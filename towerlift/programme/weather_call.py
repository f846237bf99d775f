"""Go, wait or come back: the turning point of a lift against the weather and the light."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from math import inf, isfinite

import numpy as np

from towerlift.motion.passages import Passage, Standing, State
from towerlift.motion.raises import Raise
from towerlift.plan.model import Plan
from towerlift.programme.weather import CLEAR, HOUR, SHUT, States, WeatherHours
from towerlift.rig.lowering import lowering_duration

SEAT_TIME = 900.0  # to seat and wedge a section where it stood before [s]
SEAT_SOURCE = "15 min to seat and wedge where it stood: common practice, no source"
_FAST = frozenset({State.COMPLETE, State.SECURED, State.LOCKED, State.TRANSFERRED})


class Word(StrEnum):
    """What the person in charge calls."""

    GO = "go"
    WAIT = "wait"
    COME_BACK = "come back"
    NEAREST = "nearest lock"


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """One haul of a lift, and how far it is from there to a lock.

    Attributes
    ----------
    stage : str
        Stage it belongs to.
    section : str
        Section that is hauled.
    low, high : float
        Heel heights between which it hauls, lowest first. [m]
    up_low, up_high : float
        Time to the lock ahead from the lower and from the upper end. [s]
    down_low, down_high : float
        Time back to the last lock; infinite where there is no way back. [s]
    no_way_back : str
        Why there is none; empty where there is one.

    Notes
    -----
    Both times are linear in height between the ends: hauling and the checks of level are
    spread evenly over the travel.
    """

    stage: str
    section: str
    low: float
    high: float
    up_low: float
    up_high: float
    down_low: float
    down_high: float
    no_way_back: str = ""

    def ahead(self, heel: float) -> float:
        """Time to the lock ahead. [s]"""
        return float(np.interp(heel, [self.low, self.high], [self.up_low, self.up_high]))

    def back(self, heel: float) -> float:
        """Time back to the last lock; infinite where there is no way back. [s]"""
        if self.no_way_back:
            return inf
        return float(np.interp(heel, [self.low, self.high], [self.down_low, self.down_high]))

    @property
    def turning_point(self) -> float | None:
        """Heel height at which both ways take as long; None if it is not in this haul. [m]"""
        if self.no_way_back:
            return None
        low, high = self.up_low - self.down_low, self.up_high - self.down_high
        if not low >= 0 >= high or low == high:
            return None
        return self.low + (self.high - self.low) * low / (low - high)


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
class GoingBack:
    """What is taken for the way back where the plan does not say it.

    Attributes
    ----------
    seat_time : float
        To seat and wedge a section where it stood before. [s]
    lowering : float
        Speed down over speed up, for lifts that do not say it; no more than 1.
    """

    seat_time: float = SEAT_TIME
    lowering: float


def lift_legs(plan: Plan, raise_: Raise, stage: str, back: GoingBack) -> tuple[Leg, ...]:
    """Every haul of a stage, with the times to the locks at either end.

    Parameters
    ----------
    plan : Plan
        Gives the speed of each lift.
    raise_ : Raise
        The same plan's.
    stage : str
        Name of the stage.
    back : GoingBack
        For the way back.

    Returns
    -------
    legs : tuple of Leg
        In order; hauls that lower are left out, since they end at a lock.

    Notes
    -----
    Ahead: the rest of the haul and every step after it until the section is secured or
    locked. Back: the travel since it floated at the speed at which the lift is let down,
    with checks of level, and the time to seat it.
    There is no way back where what carried the section, or a section that it has picked
    up on the way, has been taken out meanwhile.
    """
    passages = [each for each in raise_.passages if each.stage == stage]
    legs = []
    for number, passage in enumerate(passages):
        if passage.step == "lift" and passage.moving and passage.duration > 0:
            after = _time_ahead(passages[number + 1 :], passage.moving[0])
            if after is not None:
                legs.append(_leg(plan, passages[: number + 1], after, back))
    return tuple(legs)


def _time_ahead(later: Sequence[Passage], section: str) -> float | None:
    total = 0.0
    for passage in later:
        total += passage.duration
        if passage.step in ("lock", "secure") and passage.subject == section:
            return total
    return None


def _leg(plan: Plan, done: Sequence[Passage], after: float, back: GoingBack) -> Leg:
    passage = done[-1]
    section = passage.moving[0]
    place = passage.standing[section]
    first = _stood(done, section)
    lift = next(each for each in plan.lifts if each.name == passage.lift)
    pace = lowering_duration(plan, lift, 1.0, back.lowering)
    gone = place.heel_from - first.heel_from
    return Leg(
        stage=passage.stage,
        section=section,
        low=place.heel_from,
        high=place.heel_to,
        up_low=passage.duration + after,
        up_high=after,
        down_low=gone * pace + back.seat_time,
        down_high=(gone + passage.travel) * pace + back.seat_time,
        no_way_back=_cut_off(done, section),
    )


def _stood(done: Sequence[Passage], section: str) -> Standing:
    """Where it last stood fast in this stage, before its tackles took it."""
    slung = next(
        (
            each.standing[section]
            for each in done
            if section in each.standing and each.step in ("sling", "float")
        ),
        done[-1].standing[section],
    )
    return slung


def _cut_off(done: Sequence[Passage], section: str) -> str:
    """What has been taken out since that the section, or one it carries, would need."""
    now = done[-1]
    for name in now.moving:
        stood = None
        for passage in done:
            place = passage.standing.get(name)
            if place is not None and place.state in _FAST:
                stood = place
        if stood is None or stood.carrier == "ground":
            continue
        if stood.carrier not in now.fixtures and stood.carrier not in now.standing:
            return f"out since: {stood.carrier}, on which the {name} stood"
    return ""


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
    needs = f"it is fast after {_minutes(whole)}; at {left.until:%H:%M} {left.why}"
    if spare >= margin:
        return Call(word=Word.GO, spare=spare, why=f"{needs}: {_minutes(spare)} to spare")
    short = f"{_minutes(margin - spare)} short of {_minutes(margin)} to spare"
    return Call(word=Word.WAIT, spare=spare, why=f"{needs}: {short}")


def call_aloft(leg: Leg, heel: float, left: TimeLeft, now: datetime, margin: float) -> Call:
    """What is called while the section hangs.

    Parameters
    ----------
    leg : Leg
        The haul.
    heel : float
        Where its heel is. [m]
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
        If the heel is not in the haul, or the margin not a number of 0 or more.
    """
    if not (leg.low <= heel <= leg.high):
        raise ValueError(f"heel {heel} m is not between {leg.low} and {leg.high} m")
    if not (margin >= 0 and isfinite(margin)):
        raise ValueError(f"the margin must be 0 or more, got {margin} s")
    seconds = (left.until - now).total_seconds()
    ahead, back = leg.ahead(heel), leg.back(heel)
    both = f"{_minutes(ahead)} to the lock ahead, {_way_back(leg, back)}"
    end = f"at {left.until:%H:%M} {left.why}"
    if seconds - ahead >= margin:
        spare = seconds - ahead
        return Call(word=Word.GO, spare=spare, why=f"{both}; {end}: {_minutes(spare)} to spare")
    if seconds - back >= margin:
        spare = seconds - back
        return Call(
            word=Word.COME_BACK,
            spare=spare,
            why=f"{both}; {end}: coming back leaves {_minutes(spare)}, going on would not do",
        )
    way, spare = ("go on", seconds - ahead) if ahead <= back else ("come back", seconds - back)
    return Call(
        word=Word.NEAREST,
        spare=spare,
        why=f"{both}; {end}: neither lock with {_minutes(margin)} to spare; {way}, "
        f"{'late by ' + _minutes(-spare) if spare < 0 else _minutes(spare) + ' to spare'}",
    )


def _way_back(leg: Leg, back: float) -> str:
    if leg.no_way_back:
        return f"no way back ({leg.no_way_back})"
    return f"{_minutes(back)} back to the last lock"


def _minutes(seconds: float) -> str:
    # A time that is needed is never rounded to less than it is.
    minutes = int(np.ceil(abs(seconds) / 60.0 - 1e-9))
    return f"{'-' if seconds < 0 else ''}{minutes} min"


def latest_start(left: TimeLeft, whole: float, margin: float) -> datetime:
    """Latest moment at which a lift may leave its lock."""
    return left.until - timedelta(seconds=whole + margin)
