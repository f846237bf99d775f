"""The call on raising day: go, wait or come back, from the place, the hour and the weather.

What hangs must reach a lock before the weather breaks a limit or the light ends. Times to
both locks are those of the recovery rehearsal; hours to come are those of a forecast, raised
where the wind that is measured is already more than was foretold.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from math import inf, isfinite, nan

import numpy as np

from towerlift.checks.recovery import TO_SPARE, drill_of
from towerlift.checks.wind import HAULING, HAULING_MEAN
from towerlift.errors import NotEvaluatedError
from towerlift.findings import Limit
from towerlift.motion.clock import site_zone
from towerlift.motion.raises import Raise
from towerlift.plan.limits import limit_in_plan
from towerlift.plan.model import Plan
from towerlift.programme.daylight import daylight
from towerlift.programme.hours import is_working_day, midnight, moment_of
from towerlift.programme.tasks import LIGHT_LEFT
from towerlift.programme.weather import (
    Aloft,
    States,
    WeatherHours,
    WeatherNeed,
    judge_hours,
    wind_aloft,
)
from towerlift.programme.weather_call import (
    Call,
    Reach,
    TimeLeft,
    Word,
    call_aloft,
    call_before,
    latest_start,
    time_left,
)
from towerlift.programme.weather_height import Exposure
from towerlift.programme.windows_chance import Almanac
from towerlift.rig.recovery_ways import LEVEL, Raising, Ways, ways_of

ICE = 2.0
ICE_SOURCE = "common practice, no source: no haul at 2 degC or less, when wet rope stiffens"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is known when the call is asked for.

    Attributes
    ----------
    haul : str
        Stage, with the section where the stage hauls more than one: "L2" or "L2 belfry".
    at : datetime
        Moment of the call, with its zone.
    heel : float or None
        Height of the section's heel; None while it is on its lock. [m]
    mean, gust : float or None
        Wind measured at the wall head now; None where it was not measured. [m/s]
    """

    haul: str
    at: datetime
    heel: float | None = None
    mean: float | None = None
    gust: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sky:
    """Hours of weather to judge by.

    Attributes
    ----------
    forecast : WeatherHours or None
        Of the day itself; None where there is none.
    station : str or None
        Land about the place that the forecast is for, as `Exposure` names it; None takes
        that about the tower.
    """

    forecast: WeatherHours | None = None
    station: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DayCall:
    """A call, and everything it was made from.

    Attributes
    ----------
    asked : Asked
        What it answers.
    ways : Ways
        Of the haul.
    call : Call
        Word, time to spare and reason.
    reach : Reach
        Times to the locks; before it leaves, ahead is the whole stage.
    left : TimeLeft
        How long light and weather allow it.
    latest : datetime
        Latest moment at which it may leave its lock, by the weather and light of now.
    next_start : datetime or None
        First moment to come, in hours in which the site works, at which it would be called
        to go; None where there is none in the forecast, or it hangs already.
    foretold : tuple of float
        Mean wind and gust at the wall head in this hour by the forecast; NaN where it
        does not say. [m/s]
    raised : tuple of float
        By what the forecast's mean and gust are multiplied, since more was measured.
    unknown : tuple of str
        What could not be judged.
    limits : tuple of (str, Limit)
        What was held, by name.
    """

    asked: Asked
    ways: Ways
    call: Call
    reach: Reach
    left: TimeLeft
    latest: datetime
    next_start: datetime | None
    foretold: tuple[float, float]
    raised: tuple[float, float]
    unknown: tuple[str, ...]
    limits: tuple[tuple[str, Limit], ...]

    @property
    def hangs(self) -> bool:
        """Whether the section is off its lock."""
        return self.asked.heel is not None


class CallBench:
    """Calls on one plan, asked again and again.

    Parameters
    ----------
    plan : Plan
        As read.
    raise_ : Raise
        The same plan's.
    sky : Sky
        Hours of weather.
    """

    def __init__(self, plan: Plan, raise_: Raise, sky: Sky) -> None:
        self.plan, self.raise_, self.sky = plan, raise_, sky
        found = ways_of(Raising(plan=plan, raise_=raise_), drill_of(plan))
        each_stage = list(found)
        stages = [each.stage for each in each_stage]
        self.hauls: dict[str, Ways] = {
            each.stage
            if stages.count(each.stage) == 1
            else f"{each.stage} {each.section}": each
            for each in each_stage
        }
        self.zone = site_zone(plan.site)
        self.limits = tuple(
            (usual.name, limit_in_plan(plan, usual))
            for usual in (HAULING_MEAN, HAULING, LIGHT_LEFT, TO_SPARE)
        )
        self._mean, self._gust, self._light, self._spare = (each for _, each in self.limits)

    def need(
        self, of: WeatherHours, *, raised: tuple[float, float] = (1.0, 1.0)
    ) -> WeatherNeed:
        """What hauling needs of hours whose wind will be so many times what they tell.

        Parameters
        ----------
        of : WeatherHours
            The hours; frost is asked where they tell the temperature of any.
        raised : tuple of float
            For mean and gust.

        Returns
        -------
        need : WeatherNeed
            By the limits of the plan.
        """
        return WeatherNeed(
            mean=self._mean.value / raised[0],
            gust=self._gust.value / raised[1],
            warmest_ice=None if np.isnan(of.temperature).all() else ICE,
            source=self._gust.source,
        )

    @property
    def aloft(self) -> Aloft | None:
        """The wall head, where wind is told; None where the plan does not say its land."""
        wind = self.plan.wind
        if wind is None:
            return None
        return Aloft(
            height=self.plan.shaft.wall_head - wind.ground,
            exposure=Exposure(station=self.sky.station or wind.terrain, site=wind.terrain),
        )

    def whole(self, ways: Ways) -> float:
        """Time of a stage from its first step until the section is fast; infinite if never. [s]

        Parameters
        ----------
        ways : Ways
            Of the haul.

        Returns
        -------
        time : float
            By the plan's own steps.
        """
        total = 0.0
        for passage in self.raise_.passages:
            if passage.stage == ways.stage:
                total += passage.duration
                fast = passage.step in ("lock", "secure") and passage.subject == ways.section
                if fast and passage.index > ways.passages[0].index:
                    return total
        return inf

    def ask(self, asked: Asked) -> DayCall:
        """Make the call.

        Parameters
        ----------
        asked : Asked
            Haul, place, hour and wind.

        Returns
        -------
        made : DayCall
            Never to go while anything it needs is not known.

        Raises
        ------
        NotEvaluatedError
            If there is no such haul, the heel is outside it, the moment has no zone, or
            a measured wind cannot be meant; everything that is wrong is named.
        """
        ways = self._checked(asked)
        reach = self._reach(ways, asked.heel)
        hours, states, foretold, raised = self._weather(asked)
        unknown = tuple(self._unknown(asked, hours, states))
        left = self._left(asked, hours, states)
        call = self._call(asked, reach, left)
        if call.word is Word.GO and unknown:
            call = Call(
                word=Word.NOT_EVALUATED,
                spare=call.spare,
                why=f"{'; '.join(unknown)}. By what is known: {call.why}",
            )
        following = None
        if asked.heel is None and call.word is Word.WAIT:
            following = self._next_start(asked, reach.ahead, hours, states)
        latest = asked.at
        if isfinite(reach.ahead):
            latest = latest_start(left, reach.ahead, self._margin)
        return DayCall(
            asked=asked,
            ways=ways,
            call=call,
            reach=reach,
            left=left,
            latest=latest.astimezone(self.zone),
            next_start=following,
            foretold=foretold,
            raised=raised,
            unknown=unknown,
            limits=self.limits,
        )

    @property
    def _margin(self) -> float:
        return 60.0 * self._spare.value

    def _checked(self, asked: Asked) -> Ways:
        wrong = []
        ways = self.hauls.get(asked.haul)
        if ways is None:
            known = ", ".join(self.hauls) or "none"
            wrong.append(f'no haul "{asked.haul}"; hauls of this plan: {known}')
        elif asked.heel is not None:
            foot, top = _range(ways)
            if not foot - LEVEL <= asked.heel <= top + LEVEL:
                wrong.append(
                    f"heel {asked.heel:g} m is outside the haul, {foot:.2f} to {top:.2f} m"
                )
        if asked.at.tzinfo is None:
            wrong.append(f"the moment {asked.at} has no offset from UTC")
        for name, value in (("mean wind", asked.mean), ("gust", asked.gust)):
            if value is not None and not 0 <= value <= 120:
                wrong.append(f"{name} {value:g} m/s cannot be meant; 0 to 120 m/s")
        if asked.mean is not None and asked.gust is not None and asked.gust < asked.mean:
            wrong.append(f"the gust, {asked.gust:g} m/s, is less than the mean wind")
        if wrong or ways is None:
            raise NotEvaluatedError("; ".join(wrong))
        return ways

    def _reach(self, ways: Ways, heel: float | None) -> Reach:
        if heel is None:
            return Reach(ahead=self.whole(ways), back=0.0)
        # At a height that it passes twice, or where something is struck, the worse counts.
        here = [
            each.index
            for each in ways.passages
            if _between(heel, each.standing[ways.section].heel_from,
                        each.standing[ways.section].heel_to)
        ]  # fmt: skip
        shut = next((why for each in here if (why := ways.shut_at(each))), "")
        return Reach(
            ahead=max(ways.time_on(heel, each) for each in here),
            back=max(ways.time_back(heel, each) for each in here),
            no_way_back=shut,
        )

    def _weather(
        self, asked: Asked
    ) -> tuple[WeatherHours | None, States, tuple[float, float], tuple[float, float]]:
        """Hours and what each allows; wind foretold for now, and by how much it is more."""
        hours, aloft = self.sky.forecast, self.aloft
        none = np.empty(0, dtype=np.int8)
        if hours is None or aloft is None:
            return None, none, (nan, nan), (1.0, 1.0)
        day = asked.at.astimezone(hours.zone).date()
        if not Almanac(hours).forecast(day):
            return None, none, (nan, nan), (1.0, 1.0)
        mean, gust = wind_aloft(hours, aloft)
        now = asked.at.astimezone(hours.zone).replace(tzinfo=None)
        row = np.flatnonzero(hours.begins == np.datetime64(now, "h"))
        foretold = (float(mean[row[0]]), float(gust[row[0]])) if len(row) else (nan, nan)
        raised = (_more(asked.mean, foretold[0]), _more(asked.gust, foretold[1]))
        return (
            hours,
            judge_hours(hours, self.need(hours, raised=raised), aloft),
            foretold,
            raised,
        )

    def _unknown(
        self, asked: Asked, hours: WeatherHours | None, states: States
    ) -> Iterator[str]:
        if self.plan.wind is None:
            yield "the plan has no table of wind: the land about the tower is not known"
        if hours is None:
            yield (
                "there is no forecast"
                if self.sky.forecast is None
                else f"{self.sky.forecast.source.split(' (')[0]} says nothing of "
                f"{asked.at.astimezone(self.sky.forecast.zone):%d %B %Y}"
            )
        for name, value in (("mean wind", asked.mean), ("gust", asked.gust)):
            if value is None:
                yield f"no {name} was measured at the wall head"
        if hours is not None and np.isnan(hours.temperature).all():
            yield "the forecast tells no temperature, so frost is not judged"

    def _left(self, asked: Asked, hours: WeatherHours | None, states: States) -> TimeLeft:
        light = self.light_of(asked.at)
        if light is None or not light[0] <= asked.at <= light[1]:
            return TimeLeft(until=asked.at, why="there is no light to haul by")
        for value, limit, name in (
            (asked.gust, self._gust, "gust"),
            (asked.mean, self._mean, "mean wind"),
        ):
            if value is not None and not value <= limit.value:
                why = f"the {name} measured, {value:g} m/s, is over its limit"
                return TimeLeft(until=asked.at, why=f"{why}, {limit.value:g} m/s")
        if hours is None:
            return TimeLeft(until=light[1], why="the light ends")
        found = time_left(hours, states, asked.at, light[1])
        return replace(found, until=found.until.astimezone(self.zone))

    def light_of(self, moment: datetime) -> tuple[datetime, datetime] | None:
        """Light to haul by on the day of a moment, the plan's margin kept; None for none."""
        margin = timedelta(minutes=self._light.value)
        return daylight(self.plan.site, moment.astimezone(self.zone).date()).span(margin)

    def _call(self, asked: Asked, reach: Reach, left: TimeLeft) -> Call:
        if asked.heel is not None:
            return call_aloft(reach, left, asked.at, self._margin)
        if not isfinite(reach.ahead):
            return Call(
                word=Word.NOT_EVALUATED,
                spare=-inf,
                why="the stage makes the section fast nowhere",
            )
        return call_before(reach.ahead, left, asked.at, self._margin)

    def _next_start(
        self, asked: Asked, whole: float, hours: WeatherHours | None, states: States
    ) -> datetime | None:
        """First moment to come at which weather and light allow it.

        Within a stretch of light and weather time only runs out: so the first moment is
        where one begins, or where the site begins to work.
        """
        if hours is None:
            return None
        begins = [
            each.astype("datetime64[s]").item().replace(tzinfo=hours.zone)
            for each in hours.begins
        ]
        first, last = (each.astimezone(self.zone).date() for each in (asked.at, begins[-1]))
        days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
        starts = [each for day in days for each in self._starts(day, begins)]
        for moment in sorted({each for each in starts if each > asked.at}):
            # What is measured now says nothing of then but by how much the forecast is out.
            later = replace(asked, at=moment, mean=None, gust=None)
            left = self._left(later, hours, states)
            if (left.until - moment).total_seconds() - whole >= self._margin:
                return _whole_minute(moment.astimezone(self.zone))
        return None

    def _starts(self, day: date, begins: Sequence[datetime]) -> Iterator[datetime]:
        """Moments of a day at which the site works, and light or an hour begins."""
        site, light = self.plan.site, self.light_of(midnight(day, self.zone))
        if light is None or not is_working_day(site, day):
            return
        first = max(light[0], moment_of(day, site.works_from, self.zone))
        end = min(light[1], moment_of(day, site.works_to, self.zone))
        yield from (each for each in (first, *begins) if first <= each <= end)


def _whole_minute(moment: datetime) -> datetime:
    """The first whole minute that is no sooner."""
    full = moment.replace(second=0, microsecond=0)
    return full if full == moment else full + timedelta(minutes=1)


def _range(ways: Ways) -> tuple[float, float]:
    ends = [
        end
        for each in ways.passages
        for end in (
            each.standing[ways.section].heel_from,
            each.standing[ways.section].heel_to,
        )
    ]
    return min(ends), max(ends)


def _between(heel: float, one: float, other: float) -> bool:
    return min(one, other) - LEVEL <= heel <= max(one, other) + LEVEL


def _more(measured: float | None, foretold: float) -> float:
    """By how much more is measured than was foretold; 1 where it is no more, or unknown."""
    if measured is None or not foretold > 0 or not measured > foretold:
        return 1.0
    return measured / foretold
