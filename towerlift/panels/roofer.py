"""The roofer's panel: which day, which band, how far to lean, and when to be off."""

from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from html import escape
from typing import Any

import ipywidgets as widgets

from towerlift.drawings.day_bars import Bars, day_bars
from towerlift.drawings.unrolled import Unrolled, spire_unrolled
from towerlift.drawings.watch import WatchSheet, watch_sheet
from towerlift.motion.raises import Raise
from towerlift.panels.roofer_words import band_table, verdict_html, windows_of_day
from towerlift.panels.words import CAUTION
from towerlift.plan.limits import limit_in_plan
from towerlift.plan.model import Plan
from towerlift.programme.daylight import daylight
from towerlift.programme.tasks import LIGHT_LEFT
from towerlift.programme.watch import watch
from towerlift.programme.weather import WeatherHours
from towerlift.programme.weather_height import Exposure
from towerlift.programme.windows import RoofBench
from towerlift.programme.windows_bars import day_bar
from towerlift.programme.windows_limits import MEAN
from towerlift.programme.windows_sheet import RoofAsk, RoofSheet

WIDTH, LEFT = 1150, 504
N_BARS = 4
RIGHT = 636.0

_STYLE = """<style>
.towerlift {font-size: 13px; line-height: 1.3; color: #262a30}
.towerlift p, .towerlift h4 {margin: 0 0 4px 0}
.towerlift table {border-collapse: collapse; width: 100%}
.towerlift td, .towerlift th {padding: 0 5px 1px 0; vertical-align: top; font-size: 11px;
  line-height: 1.25; text-align: left; font-weight: normal}
.towerlift th {color: #5c5c56}
.towerlift .wrong {font-weight: bold; color: #8a1b3d}
.towerlift-caution {font-weight: bold}
.towerlift .widget-html-content {line-height: 1.3; font-size: 13px}
.towerlift .widget-html {min-height: 0}
</style>"""


class RooferPanel:
    """Sliders for date, wind and crew; bands, day bars and the watch sheet of the date.

    Parameters
    ----------
    plan : Plan
        With dates, decks and bands.
    raise_ : Raise
        The same plan's.
    hours : WeatherHours or None
        A record or a forecast; without one no chance is told.
    exposure : Exposure or None
        Land about the station and the tower.

    Attributes
    ----------
    ask : RoofAsk
        What is asked.
    sheet : RoofSheet
        What comes of it.
    """

    def __init__(
        self,
        plan: Plan,
        raise_: Raise,
        hours: WeatherHours | None = None,
        exposure: Exposure | None = None,
    ) -> None:
        self.bench = RoofBench(plan, raise_, hours, exposure)
        self.days = _days(self.bench)
        self._usual = limit_in_plan(plan, MEAN).value
        self._n_planned = max((each.count for each in self.bench.planned.values()), default=4)
        self._silent = False
        self._make()
        self._listen()
        first = next((d for d in self.days if self._is_open(d)), self.days[0])
        self.ask = RoofAsk(day=first, n_roofers=self._n_planned)
        self.sheet = self.show(self.ask)

    @property
    def widget(self) -> widgets.Widget:
        """All of it, to be displayed."""
        sliders = widgets.HBox([self.day, self.wind, self.roofers])
        left = widgets.VBox(
            [self.verdict, self.spire, self.table],
            layout={"width": f"{LEFT}px", "flex": "0 1 auto", "min_width": "0"},
        )
        right = widgets.VBox(
            [self.bars, self.watch],
            layout={
                "width": f"{WIDTH - LEFT - 8}px",
                "flex": "0 1 auto",
                "min_width": "0",
                "margin": "0 0 0 8px",
            },
        )
        panel = widgets.VBox(
            [self.caution, sliders, widgets.HBox([left, right])],
            layout={"width": "100%", "max_width": f"{WIDTH}px"},
        )
        panel.add_class("towerlift")
        return panel

    def show(self, ask: RoofAsk) -> RoofSheet:
        """Ask something else: every widget follows.

        Parameters
        ----------
        ask : RoofAsk
            Day, crew and wind.

        Returns
        -------
        sheet : RoofSheet
            What comes of it.
        """
        self.ask = ask
        self._silent = True
        try:
            self.day.value = ask.day
            self.wind.value = self._usual if ask.mean is None else ask.mean
            self.roofers.value = ask.n_roofers
        finally:
            self._silent = False
        self.sheet = self.bench.show(ask)
        self.verdict.value = verdict_html(self.bench, self.sheet)
        self.table.value = band_table(self.sheet)
        self.spire.value = spire_unrolled(
            self.sheet, Unrolled(gauge=self.bench.rates.gauge, width=LEFT)
        )
        self._draw_days()
        return self.sheet

    def _draw_days(self) -> None:
        ask = self.ask
        dates = [ask.day + timedelta(days=n) for n in range(N_BARS)]
        words = tuple(windows_of_day(self.sheet, each) for each in dates)
        bars = [day_bar(self.bench, each, ask) for each in dates]
        self.bars.value = day_bars(bars, Bars(words=words, width=RIGHT, row=49.0))
        begins, ends = self._hours(ask.day)
        seen = watch(self.bench.plan, self.bench.raise_, begins, ends)
        light = daylight(self.bench.plan.site, ask.day).span(
            timedelta(minutes=limit_in_plan(self.bench.plan, LIGHT_LEFT).value)
        )
        options = WatchSheet(
            light=() if light is None else (light,), width=RIGHT, height=276.0, most_words=2
        )
        self.watch.value = watch_sheet(seen, options)

    def _hours(self, day: date) -> tuple[datetime, datetime]:
        zone = self.bench.clock.zone
        return (
            datetime.combine(day, time(6), zone),
            datetime.combine(day, time(20), zone),
        )

    def _make(self) -> None:
        plan = self.bench.plan
        caution = f'<span class="towerlift-caution">{CAUTION}</span>'
        self.caution = widgets.HTML(f"{_STYLE}{escape(plan.name)}. {caution}")
        first = self.bench.plan.site.day_1
        options = [(_day_words(first, each, self.bench), each) for each in self.days]
        self.day = widgets.SelectionSlider(
            options=options,
            description="From",
            layout={"width": "440px"},
            style={"description_width": "40px"},
            continuous_update=True,
        )
        self.wind = widgets.FloatSlider(
            min=3.0,
            max=15.0,
            step=0.1,
            value=self._usual,
            description="Stop at, m/s",
            layout={"width": "400px"},
            style={"description_width": "80px"},
        )
        self.roofers = widgets.IntSlider(
            min=1,
            max=8,
            value=self._n_planned,
            description="Roofers",
            layout={"width": "260px"},
            style={"description_width": "60px"},
        )
        self.verdict, self.spire = widgets.HTML(), widgets.HTML()
        self.table = widgets.HTML(layout={"height": "226px", "overflow": "auto"})
        self.bars, self.watch = widgets.HTML(), widgets.HTML()

    def _listen(self) -> None:
        for control in (self.day, self.wind, self.roofers):
            self._on(control, self._asked)

    def _on(self, widget: widgets.Widget, act: Callable[[], None]) -> None:
        def heard(change: dict[str, Any]) -> None:
            if not self._silent:
                act()

        widget.observe(heard, names="value")

    def _asked(self) -> None:
        wind = float(self.wind.value)
        mean = None if abs(wind - self._usual) < 0.05 else wind
        self.show(RoofAsk(day=self.day.value, n_roofers=self.roofers.value, mean=mean))

    def _is_open(self, day: date) -> bool:
        return any(each.begins.date() == day for each in self.bench.openings)


def _days(bench: RoofBench) -> list[date]:
    """Dates from the first park on to a little after the last band is dated."""
    parks = [bench.clock.moment(each.begins).date() for each in bench.parks]
    first = min(parks, default=bench.plan.site.day_1)
    dated = [each.ends.date() for each in bench.planned.values()]
    last = max([first, *dated]) + timedelta(days=7)
    return [first + timedelta(days=n) for n in range((last - first).days + 1)]


def _day_words(first: date, day: date, bench: RoofBench) -> str:
    works = [each for each in bench.clock.days if first <= each <= day]
    number = sum(1 for each in works if bench.works_on(each))
    return f"{day:%a %d %b} (D{number})" if bench.works_on(day) else f"{day:%a %d %b}"
