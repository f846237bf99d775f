"""The roofer's windows: which band, from which deck, when, in what wind, and when to be off.

A window is a time in which the section stands locked or secured, it is light, nothing
moves or works above, a net with debris mesh is in, and the crew is at work; the weather
either gives its chance, from a record, or trims it, from a forecast.
"""

from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from functools import cached_property
from math import nan

from towerlift.motion.raises import Raise
from towerlift.plan.limits import limit_in_plan
from towerlift.plan.model import Plan
from towerlift.plan.work import Activity
from towerlift.programme.hours import Window as Stretch
from towerlift.programme.hours import hours_of, is_working_day, light_windows
from towerlift.programme.tasks import LIGHT_LEFT, clock_of
from towerlift.programme.weather import Aloft, WeatherHours, WeatherNeed, judge_hours
from towerlift.programme.weather_height import Exposure
from towerlift.programme.windows_bands import (
    Band,
    bands_of,
    hours_for,
    laps_of,
    n_courses,
    rates_of,
    shortest_course,
)
from towerlift.programme.windows_chance import Almanac, Chances
from towerlift.programme.windows_cover import Choice, cheapest_cover, unreached
from towerlift.programme.windows_limits import GUST, GUST_SHEETS, MEAN, MEAN_SHEETS, OFF
from towerlift.programme.windows_parks import Hours, Opening, Park, openings, parks_of
from towerlift.programme.windows_reach import leaf_boards, reach_in, reachable
from towerlift.programme.windows_sheet import (
    NO_WAY,
    BandSheet,
    MassUp,
    RoofAsk,
    RoofSheet,
    Window,
)

_MOST_KEPT = 64  # judged needs
ABOUT = 0.05  # share by which a planned time may fall short of the rates


class RoofBench:
    """One clad section of a plan, made ready once and asked again and again.

    Parameters
    ----------
    plan : Plan
        With dates, decks and bands.
    raise_ : Raise
        The same plan's.
    hours : WeatherHours or None
        A record or a forecast.
    exposure : Exposure or None
        Land about the station and the tower; must be told where there are hours.
    section : str or None
        The clad section; None is the first that has bands.

    Raises
    ------
    ValueError
        If the plan has no band of cladding, or hours come without an exposure.
    """

    def __init__(
        self,
        plan: Plan,
        raise_: Raise,
        hours: WeatherHours | None = None,
        exposure: Exposure | None = None,
        *,
        section: str | None = None,
    ) -> None:
        every = [each for each in bands_of(plan) if section in (None, each.section)]
        if not every:
            raise ValueError("the plan has no band of cladding with a shell")
        self.plan, self.raise_, self.hours = plan, raise_, hours
        if hours is not None and exposure is None:
            raise ValueError("the terrain about the station and the tower must be told")
        self.exposure = exposure
        self.section = every[0].section
        self.bands = tuple(band for band in every if band.section == self.section)
        self.rates, self.reach = rates_of(plan), reach_in(plan)
        self.clock = clock_of(plan)
        self.parks = parks_of(plan, raise_, self.section, self.clock)
        self.almanac = None if hours is None else Almanac(hours)
        self._chances: dict[tuple[float, float, bool, float], Chances] = {}

    @cached_property
    def planned(self) -> Mapping[str, Activity]:
        """Dated work by the band that it clads."""
        names = {band.name for band in self.bands}
        return {each.fits: each for each in self.plan.activities if each.fits in names}

    @cached_property
    def crew(self) -> str:
        """Crew that clads."""
        return next((each.crew for each in self.planned.values()), "roofers")

    @cached_property
    def light(self) -> tuple[Stretch, ...]:
        """When it is light enough to work, on the programme's clock. [min]"""
        margin = limit_in_plan(self.plan, LIGHT_LEFT).value
        return light_windows(self.clock, timedelta(minutes=margin))

    @cached_property
    def at_work(self) -> tuple[Stretch, ...]:
        """When the crew is at work, on the programme's clock. [min]"""
        crews = [each for each in self.plan.crews if each.name == self.crew]
        return hours_of(self.clock, crews)

    @cached_property
    def openings(self) -> tuple[Opening, ...]:
        """Every time in which roofers may be at a park, in order."""
        hours = Hours(light=self.light, at_work=self.at_work)
        found = [o for park in self.parks for o in openings(park, self.clock, hours)]
        return tuple(sorted(found, key=lambda each: each.begins))

    def works_on(self, day: date) -> bool:
        """Whether the site works on a date."""
        return is_working_day(self.plan.site, day)

    def reached(self, park: Park) -> tuple[float, float] | None:
        """Heights s of the bands that a park reaches, or None."""
        if park.deck is None:
            return None
        low, high = reachable(park.deck.top, park.heel, self.reach)
        low, high = max(low, self.bands[-1].low), min(high, self.bands[0].high)
        return (low, high) if low < high - 1e-9 else None

    @cached_property
    def choices(self) -> tuple[Choice, ...]:
        """Parks that reach something, one for each height and deck."""
        found: dict[tuple[float, float], Choice] = {}
        for park in self.parks:
            reached = self.reached(park)
            if reached is not None:
                found.setdefault(
                    reached, Choice(name=park.name, low=reached[0], high=reached[1])
                )
        return tuple(found.values())

    def need(self, band: Band, ask: RoofAsk) -> WeatherNeed:
        """Weather that a band needs.

        Parameters
        ----------
        band : Band
            Sheets need less wind, and must be laid dry.
        ask : RoofAsk
            May set another mean; the gust goes with it in proportion.

        Returns
        -------
        need : WeatherNeed
            With its source.
        """
        pair = (MEAN_SHEETS, GUST_SHEETS) if band.sheets else (MEAN, GUST)
        mean, gust = (limit_in_plan(self.plan, usual) for usual in pair)
        share, source = 1.0, mean.source
        if ask.mean is not None:
            usual_mean = limit_in_plan(self.plan, MEAN).value
            share = ask.mean / usual_mean
            if share != 1.0:
                source = f"set by hand to {share:.0%} of: {source}"
        return WeatherNeed(
            mean=share * mean.value, gust=share * gust.value, dry=band.sheets, source=source
        )

    def show(self, ask: RoofAsk) -> RoofSheet:
        """Every band with its windows.

        Parameters
        ----------
        ask : RoofAsk
            Day, crew and wind.

        Returns
        -------
        sheet : RoofSheet
            What comes of it.
        """
        sheets = tuple(self._sheet(band, ask) for band in self.bands)
        dated = [each for each in sheets if each.planned is not None]
        order = sorted(dated, key=lambda each: each.planned.starts)  # type: ignore[union-attr]
        low, high = self.bands[-1].low, self.bands[0].high
        return RoofSheet(
            ask=ask,
            bands=sheets,
            laps=laps_of(self.bands, [each.band.name for each in order], self.rates),
            unreached=unreached(self.choices, low, high),
            cover=cheapest_cover(self.choices, low, high),
            masses=self._masses(),
        )

    def _masses(self) -> tuple[MassUp, ...]:
        dated = [(self.planned[b.name].ends, b) for b in self.bands if b.name in self.planned]
        done = sorted(dated, key=lambda each: each[0])
        found, total = [], 0.0
        for when, band in done:
            total += band.mass
            found.append(
                MassUp(
                    band=band.name,
                    when=when,
                    mass=band.mass,
                    total=total,
                    next_haul=self._next_haul(when),
                )
            )
        return tuple(found)

    def _next_haul(self, when: datetime) -> str:
        hauls = (
            each.stage
            for each in self.raise_.moving_passages
            if self.section in each.moving and each.begins is not None and each.begins >= when
        )
        return next(hauls, "")

    def _sheet(self, band: Band, ask: RoofAsk) -> BandSheet:
        planned = self.planned.get(band.name)
        windows = tuple(self._windows(band, ask))
        park = self.park_at(planned) if planned is not None else None
        if park is None:
            park = next((each for each in self.parks if self._reaches(each, band)), None)
        boards = None
        if park is not None and park.deck is not None:
            boards = leaf_boards(park.deck, band, park.heel)
        return BandSheet(
            band=band,
            planned=planned,
            fault="" if planned is None else self.fault(band, planned, ask),
            windows=windows,
            n_courses=n_courses(band, self.rates),
            hours=hours_for(band, self.rates, ask.n_roofers),
            park=park,
            boards=boards,
        )

    def _reaches(self, park: Park, band: Band) -> bool:
        reached = self.reached(park)
        return (
            reached is not None
            and reached[0] <= band.low + 1e-9
            and reached[1] >= band.high - 1e-9
        )

    def park_at(self, work: Activity) -> Park | None:
        """The park at which a piece of work starts, or None."""
        minute = self.clock.minute(work.starts)
        return next((p for p in self.parks if p.begins <= minute < p.ends), None)

    def fault(self, band: Band, work: Activity, ask: RoofAsk) -> str:
        """Why the plan's date of a band will not do; empty where it will."""
        park = self.park_at(work)
        if park is None:
            return f"the {self.section} does not stand locked or secured when it starts"
        if work.starts.date() != work.ends.date():
            return (
                self._over_days(band, work, ask)
                or self._not_ready(park, band, work)
                or self._too_short(band, work, ask)
            )
        return (
            self._shut_at(park, work)
            or self._not_open(work)
            or self._not_ready(park, band, work)
            or self._too_short(band, work, ask)
        )

    def _over_days(self, band: Band, work: Activity, ask: RoofAsk) -> str:
        """Work broken off overnight: what is open at parks that reach it must be enough."""
        open_time = sum(
            _shared(o.begins, o.ends - self._off(), work)
            for o in self.openings
            if self._reaches(o.park, band)
        )
        needs = self._takes(band, ask) if work.takes is None else work.takes
        if open_time < needs:
            found = f"{open_time / 3600:.1f} h are open till it ends"
            return f"{needs / 3600:.1f} h are needed, {found}"
        return ""

    def _shut_at(self, park: Park, work: Activity) -> str:
        first, last = self.clock.minute(work.starts), self.clock.minute_from(work.ends)
        why = [each.why for each in park.shut if each.begins < last and each.ends > first]
        if last > park.ends:
            why.append(f"the {self.section} leaves this park before it ends")
        return "; ".join(dict.fromkeys(why))

    def _not_open(self, work: Activity) -> str:
        inside = [o for o in self.openings if o.begins <= work.starts and work.ends <= o.ends]
        if not inside:
            return "it is not all in the light and the hours of the crew"
        if work.ends > inside[0].ends - self._off():
            minutes = self._off().seconds // 60
            return f"they must be off {minutes} min before this: {inside[0].because}"
        return ""

    def _not_ready(self, park: Park, band: Band, work: Activity) -> str:
        if not self._reaches(park, band):
            return f"the park at {park.heel:.2f} m does not reach all of it"
        if not (work.way_off and work.rescue and work.rescue_takes is not None):
            return "way off, rescue or its minutes are not given"
        return ""

    def _too_short(self, band: Band, work: Activity, ask: RoofAsk) -> str:
        needs = 0.0 if band.sheets else hours_for(band, self.rates, ask.n_roofers)
        given = _planned_time(work)
        if given < (1.0 - ABOUT) * needs:
            return f"{given / 3600:.1f} h are planned, {needs / 3600:.1f} h are needed"
        return ""

    def _off(self) -> timedelta:
        return timedelta(minutes=limit_in_plan(self.plan, OFF).value)

    def _takes(self, band: Band, ask: RoofAsk) -> float:
        """By the rates; sheets are not rated, and take what the plan gives. [s]"""
        work = self.planned.get(band.name)
        if band.sheets and work is not None:
            return _planned_time(work) * work.count / ask.n_roofers
        return hours_for(band, self.rates, ask.n_roofers)

    def _windows(self, band: Band, ask: RoofAsk) -> Iterator[Window]:
        takes, need = self._takes(band, ask), self.need(band, ask)
        least = min(takes, shortest_course(band, self.rates, ask.n_roofers))
        work = self.planned.get(band.name)
        for opening in self.openings:
            park, reached = opening.park, self.reached(opening.park)
            if opening.begins.date() < ask.day or reached is None or park.deck is None:
                continue
            low, high = max(reached[0], band.low), min(reached[1], band.high)
            off_by = opening.ends - self._off()
            time = (off_by - opening.begins).total_seconds()
            if high <= low + 1e-9 or time < least:
                continue
            yield Window(
                band=band,
                opening=opening,
                boards=leaf_boards(park.deck, band, park.heel),
                low=low,
                high=high,
                off_by=off_by,
                hours=takes,
                share=min(1.0, time / takes),
                need=need,
                chance=self._chance(need, opening, off_by, min(takes, time)),
                way_off=NO_WAY if work is None or not work.way_off else work.way_off,
                rescue=NO_WAY if work is None or not work.rescue else work.rescue,
                rescue_takes=None if work is None else work.rescue_takes,
            )

    def chances(self, need: WeatherNeed, height: float) -> Chances | None:
        """Chances of a need at a height above the shaft's floor; None without hours."""
        if self.almanac is None or self.exposure is None:
            return None
        key = (need.mean, need.gust, need.dry, height)
        if key not in self._chances:
            if len(self._chances) > _MOST_KEPT:
                self._chances.clear()
            aloft = Aloft(height=height, exposure=self.exposure)
            states = judge_hours(self.almanac.hours, need, aloft)
            self._chances[key] = Chances(self.almanac, states)
        return self._chances[key]

    def _chance(
        self, need: WeatherNeed, opening: Opening, off_by: datetime, length: float
    ) -> float:
        deck = opening.park.deck
        chances = None if deck is None else self.chances(need, deck.top)
        if chances is None:
            return nan
        return chances.window((opening.begins, off_by), length)


def _planned_time(work: Activity) -> float:
    if work.takes is not None:
        return work.takes
    return (work.ends - work.starts).total_seconds()


def _shared(begins: datetime, ends: datetime, work: Activity) -> float:
    """Time that a stretch shares with a piece of work. [s]"""
    return max((min(ends, work.ends) - max(begins, work.starts)).total_seconds(), 0.0)
