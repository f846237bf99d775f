"""The call on raising day in words: the answer first, then every number with its source."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil, isfinite, isnan

from towerlift.checks.lowering import SPEED
from towerlift.checks.recovery import LANDING, TO_SPARE
from towerlift.checks.wind import HAULING, HAULING_MEAN
from towerlift.findings import Limit
from towerlift.plan.limits import limit_in_plan
from towerlift.programme.tasks import LIGHT_LEFT
from towerlift.programme.weather_call import Word, minutes_left, minutes_needed
from towerlift.programme.weather_height import GUST_SOURCE, PROFILE_SOURCE
from towerlift.rig.recovery_ways import LEVEL, SafePlace
from towerlift.units import rounded_up
from towerlift.what_if.calling import ICE, ICE_SOURCE, CallBench, DayCall

_BY_PLAN = "the plan's own steps, from slinging to the lock"
_REHEARSED = "recovery rehearsal"


@dataclass(frozen=True, slots=True, kw_only=True)
class CallLine:
    """One number behind a call.

    Attributes
    ----------
    what, value, source : str
        What it is, the number with its unit, and who or what says so.
    """

    what: str
    value: str
    source: str


def headline(made: DayCall) -> str:
    """The call in one line.

    Parameters
    ----------
    made : DayCall
        As made.

    Returns
    -------
    words : str
        Such as "WAIT until 10:40".
    """
    call, ways = made.call, made.ways
    if call.word is Word.NOT_EVALUATED:
        return f"NOT EVALUATED: {made.unknown[0] if made.unknown else call.why}"
    if call.word is Word.GO:
        place = "" if ways.on is None else f" on the {ways.on.carrier}"
        fast = made.asked.at + timedelta(seconds=60 * ceil(made.reach.ahead / 60 - 1e-9))
        by = f"{fast.astimezone(made.latest.tzinfo):%H:%M}"
        return f"GO: fast{place} by {by}, {minutes_left(call.spare)} to spare"
    if call.word is Word.WAIT:
        return f"WAIT{_until(made)}"
    ahead, back = made.reach.ahead, made.reach.back
    if not isfinite(min(ahead, back)):
        return "HOLD ON THE PAWLS: there is no lock to reach"
    lock = ways.on if ahead <= back else ways.back
    takes = minutes_needed(min(ahead, back))
    nearest = f"the nearest lock is {_side(made, lock)}, {takes}"
    if call.word is Word.COME_BACK:
        return f"COME BACK: {nearest}"
    way = "GO ON NOW" if ahead <= back else "COME BACK NOW"
    late = f"{minutes_needed(-call.spare)} late"
    left = late if call.spare < 0 else f"only {minutes_left(call.spare)} to spare"
    return f"{way}: {nearest}, {left}"


def _side(made: DayCall, place: SafePlace | None) -> str:
    heel = made.asked.heel
    if place is None or heel is None or abs(place.heel - heel) <= LEVEL:
        return "here"
    return "above" if place.heel > heel else "below"


def _until(made: DayCall) -> str:
    start = made.next_start
    if start is None:
        return ": nothing in the forecast is long enough"
    same = start.date() == made.asked.at.astimezone(start.tzinfo).date()
    return f" until {start:%H:%M}" if same else f" until {start:%H:%M on %d %b}"


def call_lines(bench: CallBench, made: DayCall) -> tuple[CallLine, ...]:
    """Every number behind a call, with its source.

    Parameters
    ----------
    bench : CallBench
        That made it.
    made : DayCall
        As made.

    Returns
    -------
    lines : tuple of CallLine
        Ways out first, then weather and light.
    """
    return (*_ways_lines(bench, made), *_weather_lines(bench, made))


def _ways_lines(bench: CallBench, made: DayCall) -> Iterator[CallLine]:
    ways, reach = made.ways, made.reach
    seat = limit_in_plan(bench.plan, LANDING)
    down = limit_in_plan(bench.plan, SPEED)
    if made.hangs:
        on = "none" if ways.on is None else f"{ways.on.carrier} at {ways.on.heel:.2f} m"
        yield CallLine(
            what="lock ahead",
            value=f"{on}: {_takes(reach.ahead)}",
            source=f"{_REHEARSED}: {ways.up:.0f} s a metre up with checks of level, "
            "halts and fixing by the plan's steps",
        )
        back = "none" if ways.back is None else f"{ways.back.carrier} at {ways.back.heel:.2f} m"
        yield CallLine(
            what="lock behind",
            value=reach.no_way_back or f"{back}: {_takes(reach.back)}",
            source=f"{_REHEARSED}: {ways.down:.0f} s a metre down, by the lift's own speed or "
            f"{down.value:g} of that up ({down.source}); {seat.value:g} min to land and make "
            f"fast ({seat.source})",
        )
    else:
        yield CallLine(what="until it is fast", value=_takes(reach.ahead), source=_BY_PLAN)
        if isfinite(reach.ahead):
            yield CallLine(
                what="latest start",
                value=_clock(made.latest, made),
                source="end of weather or light, less that time and the time to spare",
            )
    turning = ways.turning_point
    yield CallLine(
        what="turning point",
        value="none" if turning is None else f"heel {turning:.2f} m",
        source=f"{_REHEARSED}: from there on going on is quicker than coming back",
    )
    for _, above, why in ways.shut:
        yield CallLine(what="no way back", value=f"above {above:.2f} m", source=why)


def _weather_lines(bench: CallBench, made: DayCall) -> Iterator[CallLine]:
    asked, hours = made.asked, bench.sky.forecast
    names = dict(made.limits)
    yield CallLine(what="it may go on until", value=_clock(made.left.until, made),
                   source=made.left.why)  # fmt: skip
    pairs = (
        ("mean wind", asked.mean, 0, HAULING_MEAN.name),
        ("gust", asked.gust, 1, HAULING.name),
    )
    for name, measured, number, limit in pairs:
        told = made.foretold[number]
        parts = ["not measured" if measured is None else f"{measured:g} m/s measured"]
        parts.append("no forecast" if isnan(told) else f"{rounded_up(told, 1):g} m/s foretold")
        if made.raised[number] > 1:
            parts.append(f"hours to come taken {rounded_up(made.raised[number], 2):g} times")
        yield CallLine(
            what=f"{name}, at most {names[limit].value:g} m/s",
            value=", ".join(parts),
            source=names[limit].source,
        )
    if hours is not None:
        aloft = bench.aloft
        height = "" if aloft is None else f", to {aloft.height:g} m at the wall head"
        yield CallLine(
            what="forecast",
            value=hours.source,
            source=f"wind at {hours.height:g} m{height}: {PROFILE_SOURCE}; {GUST_SOURCE}, or "
            "the forecast's own where that is more",
        )
        yield CallLine(what="frost", value=f"above {ICE:g} degC", source=ICE_SOURCE)
    yield _limit_line("light left after the last lock", LIGHT_LEFT.name, names)
    yield _limit_line("time to spare", TO_SPARE.name, names)


def _limit_line(what: str, name: str, names: dict[str, Limit]) -> CallLine:
    limit = names[name]
    return CallLine(what=what, value=f"{limit.value:g} {limit.unit}", source=limit.source)


def _takes(seconds: float) -> str:
    return minutes_needed(seconds) if isfinite(seconds) else "never"


def _clock(moment: datetime, made: DayCall) -> str:
    same = moment.date() == made.asked.at.astimezone(moment.tzinfo).date()
    return f"{moment:%H:%M}" if same else f"{moment:%H:%M on %d %b}"
