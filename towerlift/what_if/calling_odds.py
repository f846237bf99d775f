"""How often the record gives the hours that a haul needs, in months and days to come."""

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from towerlift.errors import NotEvaluatedError
from towerlift.programme.weather import WeatherHours, judge_hours
from towerlift.programme.weather_windows import (
    Counts,
    DayPart,
    WindowChances,
    chance_within_days,
    days_with_window,
    hours_touched,
    record_days,
    window_chances,
    windows_from,
)
from towerlift.what_if.calling import CallBench, DayCall

DAYS = (1, 3, 7)


@dataclass(frozen=True, slots=True, kw_only=True)
class Odds:
    """Chances of a window of one length, by a record.

    Attributes
    ----------
    source : str
        Of the record.
    length : float
        Of the window. [s]
    part : DayPart
        Hours of the record's clock in which there is light to haul by on the day asked.
    by_hour : WindowChances
        For each month and hour of beginning.
    within : tuple of (int, (12,) float, (12,) int)
        For so many days in a row: chance by month that one of them gives the window
        within the light, and stretches looked at.
    months : tuple of int
        Those that the record holds, 1 to 12.
    """

    source: str
    length: float
    part: DayPart
    by_hour: WindowChances
    within: tuple[tuple[int, NDArray[np.float64], Counts], ...]
    months: tuple[int, ...]


def odds_of_window(bench: CallBench, made: DayCall, record: WeatherHours) -> Odds:
    """Chances of the hours that a haul needs, from its first step until it is fast.

    Parameters
    ----------
    bench : CallBench
        That made the call.
    made : DayCall
        Of which haul and day.
    record : WeatherHours
        Hours of past years at the same place as the forecast.

    Returns
    -------
    odds : Odds
        By wind, and by frost where the record tells it.

    Raises
    ------
    NotEvaluatedError
        If the plan does not say the land about the tower, the stage makes the section
        fast nowhere, or there is no light for so long on that day.
    """
    aloft, length = bench.aloft, bench.whole(made.ways)
    if aloft is None:
        raise NotEvaluatedError("the plan has no table of wind: no chance can be told")
    if not np.isfinite(length):
        raise NotEvaluatedError("the stage makes the section fast nowhere")
    n_hours, part = hours_touched(length), _light(bench, made, record)
    states = judge_hours(record, bench.need(record), aloft)
    begun = windows_from(record, states, n_hours)
    days = days_with_window(begun, record, part, n_hours)
    dates = record_days(record)
    return Odds(
        source=record.source,
        length=length,
        part=part,
        by_hour=window_chances(record, states, n_hours),
        within=tuple((n, *chance_within_days(dates, days, n)) for n in DAYS),
        months=tuple(int(month) for month in np.unique(record.months)),
    )


def odds_or_why(bench: CallBench, made: DayCall, record: WeatherHours | None) -> Odds | str:
    """Chances of the hours that a haul needs, or why none can be told.

    Parameters
    ----------
    bench : CallBench
        That made the call.
    made : DayCall
        Of which haul and day.
    record : WeatherHours or None
        Hours of past years; None where there are none.

    Returns
    -------
    odds : Odds or str
        In words where there are none.
    """
    if record is None:
        return "NOT EVALUATED: no record of past years was given"
    try:
        return odds_of_window(bench, made, record)
    except NotEvaluatedError as error:
        return f"NOT EVALUATED: {error}"


def _light(bench: CallBench, made: DayCall, record: WeatherHours) -> DayPart:
    span = bench.light_of(made.asked.at)
    if span is None:
        raise NotEvaluatedError(f"there is no light to haul by on {made.asked.at:%d %B}")
    midnight = span[0].replace(hour=0, minute=0, second=0, microsecond=0)
    # A record's clock is its own standard time; the site's light is told on it.
    shift = record.offset - (span[0].utcoffset() or timedelta())
    first, last = ((each - midnight + shift).total_seconds() / 3600.0 for each in span)
    first_hour, last_hour = int(np.ceil(first - 1e-9)), int(np.floor(last + 1e-9))
    if not 0 <= first_hour < last_hour <= 24:
        raise NotEvaluatedError("the light of that day does not lie in one day of the record")
    return DayPart(first=first_hour, last=last_hour)
