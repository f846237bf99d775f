"""Bars of a date: light, the crew's hours, locks, weather, and all of them together."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from towerlift.programme.hours import Window, both, midnight
from towerlift.programme.weather import Floats
from towerlift.programme.windows import RoofBench
from towerlift.programme.windows_sheet import RoofAsk

Stretches = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DayBar:
    """One date, for the bars.

    Attributes
    ----------
    day : date
        Which.
    light, at_work, fast, open : tuple of (float, float)
        Hours of the day in which it is light with its margin, the crew works, the section
        stands locked or secured, and all of it together with nothing forbidding it.
    heel : float or None
        Of the section at the end of the day. [m]
    clear : (24,) float
        Chance of each hour to be within the limits for small pieces; NaN if not known.
    why_shut : tuple of str
        What shuts hours that are light, at work and fast.
    """

    day: date
    light: tuple[tuple[float, float], ...]
    at_work: tuple[tuple[float, float], ...]
    fast: tuple[tuple[float, float], ...]
    open: tuple[tuple[float, float], ...]
    heel: float | None
    clear: Floats
    why_shut: tuple[str, ...]


def day_bar(bench: RoofBench, day: date, ask: RoofAsk) -> DayBar:
    """One date in bars.

    Parameters
    ----------
    bench : RoofBench
        Section, parks and weather.
    day : date
        At the site.
    ask : RoofAsk
        Wind.

    Returns
    -------
    bar : DayBar
        Light, hours, locks, weather, and all together.
    """
    clock = bench.clock
    begins = clock.minute(midnight(day, clock.zone))
    ends = clock.minute(midnight(day + timedelta(days=1), clock.zone))

    def cut(windows: Iterable[Window]) -> Stretches:
        inside = both(sorted(windows), [(begins, ends)])
        return tuple(((b - begins) / 60.0, (e - begins) / 60.0) for b, e in inside)

    light, at_work = bench.light, bench.at_work
    parks = [park for park in bench.parks if park.begins < ends and park.ends > begins]
    fast = [(park.begins, park.ends) for park in parks]
    usable = both(both(light, at_work), sorted(fast))
    opened = [
        (clock.minute_from(each.begins), clock.minute(each.ends))
        for each in bench.openings
        if each.begins.date() == day
    ]
    return DayBar(
        day=day,
        light=cut(light),
        at_work=cut(at_work),
        fast=cut(fast),
        open=cut(opened),
        heel=parks[-1].heel if parks else None,
        clear=_clear(bench, day, ask),
        why_shut=_why(bench, [each for each in usable if each[1] > begins and each[0] < ends]),
    )


def _clear(bench: RoofBench, day: date, ask: RoofAsk) -> Floats:
    band = next((each for each in bench.bands if not each.sheets), bench.bands[0])
    tops = [park.deck.top for park in bench.parks if park.deck is not None]
    chances = bench.chances(bench.need(band, ask), max(tops)) if tops else None
    return np.full(24, np.nan) if chances is None else chances.hourly(day)


def _why(bench: RoofBench, usable: Sequence[Window]) -> tuple[str, ...]:
    reasons = [
        shut.why
        for park in bench.parks
        for shut in park.shut
        if any(shut.begins < e and shut.ends > b for b, e in usable)
        and any(park.begins < e and park.ends > b for b, e in usable)
    ]
    return tuple(dict.fromkeys(reasons))
