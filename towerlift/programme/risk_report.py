"""What a programme risks: light, the day of the bells, and what drives them."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np

from towerlift.plan.work import Stage
from towerlift.programme.bookings import Programme
from towerlift.programme.daylight import daylight
from towerlift.programme.hours import Clock, midnight
from towerlift.programme.posing import Posed
from towerlift.programme.risk import Bools, Chance, Draw, Programmes, chance_of, draw_programmes
from towerlift.programme.risk_network import ALOFT, LIFTS, Varies, network_of, starts_of
from towerlift.programme.risk_spread import Spread
from towerlift.programme.risk_weather import HeldUp, courses_of_weather
from towerlift.programme.weather import Aloft, Floats, WeatherHours, WeatherNeed, judge_hours
from towerlift.programme.weather_height import Exposure

ROOM_DAYS = 21  # of weather beyond the finish of the programme; what needs more is stuck


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Weather that a programme may meet.

    Attributes
    ----------
    hours : WeatherHours
        A record of one or more years, or a typical year.
    exposure : Exposure
        Land about the station and about the tower.
    lifts, aloft : WeatherNeed
        What hauling and work on a section need.
    height : float
        At which it matters. [m]
    """

    hours: WeatherHours
    exposure: Exposure
    lifts: WeatherNeed
    aloft: WeatherNeed
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskAsk:
    """What is asked of the draws.

    Attributes
    ----------
    by : datetime or None
        When all is to be done; None is by the end of the day on which the programme ends.
    spreads : mapping of str to Spread
        Three-point durations by stage or activity.
    weather : Weather or None
        None leaves the weather out.
    draw : Draw
        How many, and how durations hang together.
    """

    by: datetime | None = None
    spreads: Mapping[str, Spread] = field(default_factory=dict)
    weather: Weather | None = None
    draw: Draw = field(default_factory=Draw)


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftRisk:
    """One stage that hauls.

    Attributes
    ----------
    stage : str
        Which.
    in_light : Chance
        That it is over before the light of its day goes.
    on_its_day : Chance
        That it is on the date that the programme gives it.
    """

    stage: str
    in_light: Chance
    on_its_day: Chance


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """How far one stage or activity decides when all is done.

    Attributes
    ----------
    name : str
        Which.
    critical : float
        Share of draws in which what was waited for last leads through it.
    correlation : float
        Rank correlation of its length with the finish.
    spread : Spread
        What it was drawn from, with its source; of its first part.
    """

    name: str
    critical: float
    correlation: float
    spread: Spread


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskReport:
    """What comes of many draws.

    Attributes
    ----------
    programmes : Programmes
        All of them.
    by : datetime
        When all is to be done.
    in_time : Chance
        That it is.
    finish : tuple of datetime or None
        Reached in one draw of ten, in half of them, in nine of ten; None where so many
        draws found no room for something.
    lifts : tuple of LiftRisk
        In the order of the stages.
    all_in_light : Chance
        That no haul runs into the dark.
    drivers : tuple of Driver
        Strongest first.
    n_stuck : int
        Draws in which something found no room: they count as late.
    """

    programmes: Programmes
    by: datetime
    in_time: Chance
    finish: tuple[datetime | None, ...]
    lifts: tuple[LiftRisk, ...]
    all_in_light: Chance
    drivers: tuple[Driver, ...]
    n_stuck: int


def risk_of(posed: Posed, programme: Programme, ask: RiskAsk) -> RiskReport:
    """Draw a programme many times over.

    Parameters
    ----------
    posed : Posed
        The problem of the plan, as `towerlift.programme.posing.pose` gives it.
    programme : Programme
        A solution of it; its order is kept.
    ask : RiskAsk
        Durations, weather and the day it must be done.

    Returns
    -------
    report : RiskReport
        Chances with their standard errors, and what drives them.

    Raises
    ------
    ValueError
        If the record has no course of weather so long near the date.
    """
    starts = starts_of(posed, programme)
    weather: Mapping[str, HeldUp] = {}
    if ask.weather is not None:
        reached = (programme.finish.date() - posed.plan.site.day_1).days + ROOM_DAYS
        weather = _courses(posed.clock, ask.weather, min(reached, posed.clock.n_days))
    network = network_of(posed, starts, Varies(spreads=ask.spreads, weather=weather))
    drawn = draw_programmes(network, ask.draw)
    by = _end_of_day(programme.finish) if ask.by is None else ask.by
    seconds = _seconds(posed.clock, by)
    spreads = {task.name: task.spread for task in network.tasks}
    lights, late = _lights(posed), np.zeros(ask.draw.n, dtype=bool)
    lifts = []
    for name in _hauling(posed):
        rows = [drawn.row(task.name) for task in posed.jobs[name].tasks]
        dark = ~_within(drawn.starts[rows].min(axis=0), drawn.ends[rows].max(axis=0), lights)
        late |= dark
        day = _day(posed.clock, starts[posed.jobs[name].tasks[0].name])
        first = drawn.starts[rows].min(axis=0)
        same = (first >= day[0]) & (first < day[1])
        lifts.append(
            LiftRisk(stage=name, in_light=chance_of(~dark), on_its_day=chance_of(same))
        )
    return RiskReport(
        programmes=drawn,
        by=by,
        in_time=drawn.chance_finished(seconds),
        finish=tuple(_quantile(posed.clock, drawn.finish, share) for share in (0.1, 0.5, 0.9)),
        lifts=tuple(lifts),
        all_in_light=chance_of(~late),
        drivers=_drivers(posed, drawn, spreads),
        n_stuck=int(np.count_nonzero(~np.isfinite(drawn.finish))),
    )


def _courses(clock: Clock, weather: Weather, n_days: int) -> Mapping[str, HeldUp]:
    aloft = Aloft(height=weather.height, exposure=weather.exposure)
    states = {
        LIFTS: judge_hours(weather.hours, weather.lifts, aloft),
        ALOFT: judge_hours(weather.hours, weather.aloft, aloft),
    }
    begins = midnight(clock.site.day_1, clock.zone)
    return courses_of_weather(weather.hours, states, begins, n_days)


def _end_of_day(moment: datetime) -> datetime:
    return moment.replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(days=1)


def _seconds(clock: Clock, moment: datetime) -> float:
    return 60.0 * clock.minute(moment)


def _hauling(posed: Posed) -> list[str]:
    return [
        name
        for name, job in posed.jobs.items()
        if isinstance(job.of, Stage)
        and any(step.do in ("lift", "lower") for step in job.of.steps)
    ]


def _lights(posed: Posed) -> Floats:
    spans = [daylight(posed.clock.site, day).span() for day in posed.clock.days]
    return np.array(
        [
            [_seconds(posed.clock, moment) for moment in span]
            for span in spans
            if span is not None
        ]
    ).reshape(-1, 2)


def _within(starts: Floats, ends: Floats, windows: Floats) -> Bools:
    number = np.searchsorted(windows[:, 1], starts, side="left")
    inside = np.minimum(number, len(windows) - 1)
    held: Bools = (
        (number < len(windows)) & (starts >= windows[inside, 0]) & (ends <= windows[inside, 1])
    )
    return held


def _day(clock: Clock, minute: int) -> tuple[float, float]:
    moment = clock.moment(minute)
    begins = moment.replace(hour=0, minute=0, second=0, microsecond=0)
    return _seconds(clock, begins), _seconds(clock, begins + timedelta(days=1))


def _quantile(clock: Clock, finish: Floats, share: float) -> datetime | None:
    # A draw that was reached, not a mean of two: infinite ones stay what they are.
    value = float(np.sort(finish)[min(int(np.ceil(share * len(finish))), len(finish)) - 1])
    return clock.moment(int(np.ceil(value / 60.0))) if np.isfinite(value) else None


def _drivers(
    posed: Posed, drawn: Programmes, spreads: Mapping[str, Spread]
) -> tuple[Driver, ...]:
    correlation = drawn.drives(drawn.finish)
    found = []
    for name, job in posed.jobs.items():
        rows = [drawn.row(task.name) for task in job.tasks if task.duration]
        if not rows:
            continue
        found.append(
            Driver(
                name=name,
                critical=float(drawn.critical[rows].max()),
                correlation=float(correlation[rows].max()),
                spread=spreads[drawn.names[rows[0]]],
            )
        )
    return tuple(sorted(found, key=lambda each: (-each.correlation, -each.critical, each.name)))
