"""The panel of raising day: go, wait or come back, with everything the answer was made from."""

from collections.abc import Callable
from datetime import datetime, time, timedelta
from html import escape
from typing import Any

import ipywidgets as widgets

from towerlift.drawings.odds import odds_table, window_words
from towerlift.errors import NotEvaluatedError
from towerlift.motion.raises import Raise
from towerlift.panels.words import CAUTION
from towerlift.plan.model import Plan
from towerlift.programme.weather import WeatherHours
from towerlift.programme.weather_call import Word
from towerlift.what_if.calling import Asked, CallBench, DayCall, Sky
from towerlift.what_if.calling_odds import Odds, odds_or_why
from towerlift.what_if.calling_words import call_lines, headline

WIDTH = 1150
STEP = timedelta(minutes=5)
NO_FORECAST = "no forecast"

_STYLE = """<style>
.towerlift {font-size: 13px; line-height: 1.3; color: #262a30}
.towerlift p {margin: 0 0 3px 0}
.towerlift table {border-collapse: collapse; width: 100%}
.towerlift td {padding: 1px 8px 1px 0; vertical-align: top; font-size: 11px;
  line-height: 1.25; text-align: left; border-bottom: 1px solid #eeece6; background: #fff}
.towerlift td:nth-child(3) {color: #5c5c56}
.towerlift .call {font-size: 22px; line-height: 1.25; font-weight: bold; padding: 4px 8px;
  border-left: 8px solid #8a1b3d; background: #f7f3f4; color: #8a1b3d}
.towerlift .call.go {border-color: #2f5d3a; background: #f2f6f3; color: #2f5d3a}
.towerlift-caution {font-weight: bold}
.towerlift .widget-html-content {line-height: 1.3; font-size: 13px}
.towerlift .widget-html {min-height: 0}
</style>"""


class DayPanel:
    """Haul, place, hour and wind; the call, its reasons, and the chance of another window.

    Parameters
    ----------
    plan : Plan
        With its wind and its hours.
    raise_ : Raise
        The same plan's.
    sky : Sky
        The forecast.
    record : WeatherHours or None
        Hours of past years; without them no chance is told.

    Attributes
    ----------
    made : DayCall or None
        The call that is shown; None where it was not evaluated.
    odds : Odds or str
        Chances that are shown, or why there are none.
    """

    def __init__(
        self, plan: Plan, raise_: Raise, sky: Sky, record: WeatherHours | None = None
    ) -> None:
        self.plan, self.raise_, self.sky, self.record = plan, raise_, sky, record
        self.bench = CallBench(plan, raise_, sky)
        self.made: DayCall | None = None
        self.odds: Odds | str = ""
        self._silent = False
        self._make()
        self.haul.value = self._haul_to_come()
        self._haul_chosen()
        self._listen()
        self._again()

    @property
    def widget(self) -> widgets.Widget:
        """All of it, to be displayed."""
        first = widgets.HBox([self.haul, self.day, self.hour])
        second = widgets.HBox([self.hangs, self.heel, self.measured, self.mean, self.gust,
                               self.forecast])  # fmt: skip
        panel = widgets.VBox(
            [self.caution, first, second, self.call, self.lines, self.chances],
            layout={"width": "100%", "max_width": f"{WIDTH}px"},
        )
        panel.add_class("towerlift")
        return panel

    @property
    def asked(self) -> Asked:
        """What the controls say."""
        at = datetime.combine(self.day.value or self.plan.site.day_1, time(), self.bench.zone)
        measured = bool(self.measured.value)
        return Asked(
            haul=self.haul.value,
            at=at + self.hour.value,
            heel=float(self.heel.value) if self.hangs.value else None,
            mean=float(self.mean.value) if measured else None,
            gust=float(self.gust.value) if measured else None,
        )

    def show(self, asked: Asked) -> None:
        """Ask something else: every control follows.

        Parameters
        ----------
        asked : Asked
            Haul, place, hour and wind; the moment is taken to the five minutes before it.
        """
        self._silent = True
        try:
            self.haul.value = asked.haul
            self._haul_chosen()
            at = asked.at.astimezone(self.bench.zone)
            self.day.value = at.date()
            self.hour.value = timedelta(hours=at.hour, minutes=at.minute // 5 * 5)
            self.hangs.value = asked.heel is not None
            if asked.heel is not None:
                self.heel.value = asked.heel
            self.measured.value = asked.mean is not None and asked.gust is not None
            if asked.mean is not None and asked.gust is not None:
                self.mean.value, self.gust.value = asked.mean, asked.gust
        finally:
            self._silent = False
        self._again()

    def _make(self) -> None:
        caution = f'<span class="towerlift-caution">{escape(CAUTION)}</span>'
        self.caution = widgets.HTML(f"{_STYLE}{escape(self.plan.name)}. {caution}")
        self.haul = widgets.Dropdown(
            options=[(_haul_words(name, self.bench), name) for name in self.bench.hauls],
            description="Haul",
            layout={"width": "300px"},
            style={"description_width": "40px"},
        )
        self.day = widgets.DatePicker(
            description="Day", layout={"width": "200px"}, style={"description_width": "30px"}
        )
        steps = [STEP * n for n in range(int(timedelta(days=1) / STEP))]
        self.hour = widgets.SelectionSlider(
            options=[(_clock(each), each) for each in steps],
            description="Time now",
            layout={"width": "600px"},
            style={"description_width": "70px"},
        )
        self.hangs = widgets.Checkbox(
            description="It hangs", indent=False, layout={"width": "85px"}
        )
        self.heel = widgets.FloatSlider(
            step=0.05,
            description="heel, m",
            readout_format=".2f",
            layout={"width": "330px"},
            style={"description_width": "50px"},
        )
        self.measured = widgets.Checkbox(
            description="Wind measured:", indent=False, layout={"width": "125px"}
        )
        self.mean = _speed("mean, m/s", 4.0)
        self.gust = _speed("gust, m/s", 6.0)
        hours = self.sky.forecast
        named = [] if hours is None else [(hours.source.split(" (")[0], True)]
        self.forecast = widgets.Dropdown(
            options=[*named, (NO_FORECAST, False)],
            description="Forecast",
            layout={"width": "210px"},
            style={"description_width": "60px"},
        )
        self.call = widgets.HTML(layout={"width": "100%"})
        self.lines = widgets.HTML(layout={"width": "100%"})
        self.chances = widgets.HTML(layout={"width": "100%"})

    def _haul_to_come(self) -> str:
        """The first haul that is dated in the forecast; without one the first of all."""
        hours = self.sky.forecast
        days = set() if hours is None else set(hours.begins.astype("datetime64[D]").tolist())
        dates = {each.name: each.starts for each in self.plan.stages}
        for name, ways in self.bench.hauls.items():
            starts = dates[ways.stage]
            if starts is not None and starts.astimezone(self.bench.zone).date() in days:
                return name
        return next(iter(self.bench.hauls))

    def _haul_chosen(self) -> None:
        """Heel heights and the date of the haul."""
        ways = self.bench.hauls[self.haul.value]
        heels = sorted((ways.foot, ways.head))
        self.heel.min, self.heel.max = min(heels[0], self.heel.max), heels[1]
        self.heel.min = heels[0]
        self.heel.value = heels[0]
        starts = next(each.starts for each in self.plan.stages if each.name == ways.stage)
        begins = starts or datetime.combine(self.plan.site.day_1, time(8), self.bench.zone)
        begins = begins.astimezone(self.bench.zone)
        self.day.value = begins.date()
        self.hour.value = timedelta(hours=begins.hour, minutes=begins.minute // 5 * 5)

    def _listen(self) -> None:
        def chosen() -> None:
            self._silent = True
            try:
                self._haul_chosen()
            finally:
                self._silent = False
            self._again()

        self._on(self.haul, chosen)
        self._on(self.forecast, self._sky_chosen)
        for control in (
            *(self.day, self.hour, self.hangs, self.heel),
            *(self.measured, self.mean, self.gust),
        ):
            self._on(control, self._again)

    def _on(self, widget: widgets.Widget, act: Callable[[], None]) -> None:
        def heard(_: dict[str, Any]) -> None:
            if not self._silent:
                act()

        widget.observe(heard, names="value")

    def _sky_chosen(self) -> None:
        sky = self.sky if self.forecast.value else Sky(station=self.sky.station)
        self.bench = CallBench(self.plan, self.raise_, sky)
        self._again()

    def _again(self) -> None:
        self.heel.disabled = not self.hangs.value
        self.mean.disabled = self.gust.disabled = not self.measured.value
        try:
            self.made = self.bench.ask(self.asked)
        except NotEvaluatedError as error:
            self.made, self.odds = None, ""
            self.call.value = f'<div class="call">NOT EVALUATED: {escape(str(error))}</div>'
            self.lines.value = self.chances.value = ""
            return
        made = self.made
        kind = "call go" if made.call.word is Word.GO else "call"
        self.call.value = (
            f'<div class="{kind}">{escape(headline(made))}</div><p>{escape(made.call.why)}.</p>'
        )
        rows = "".join(
            f"<tr><td>{escape(line.what)}</td><td>{escape(line.value)}</td>"
            f"<td>{escape(line.source)}</td></tr>"
            for line in call_lines(self.bench, made)
        )
        self.lines.value = f"<table>{rows}</table>"
        self.odds = odds_or_why(self.bench, made, self.record)
        self.chances.value = _odds_html(self.odds)


def _odds_html(odds: Odds | str) -> str:
    if isinstance(odds, str):
        return f"<p><b>Another day:</b> {escape(odds)}.</p>"
    drawn = odds_table(odds, width=WIDTH - 20.0)
    return f"<p><b>Another day.</b> {escape(window_words(odds))}.</p>{drawn}"


def _haul_words(name: str, bench: CallBench) -> str:
    ways = bench.hauls[name]
    return f"{name}: {ways.section}, {ways.foot:.2f} to {ways.head:.2f} m"


def _clock(since: timedelta) -> str:
    hours, minutes = divmod(int(since.total_seconds()) // 60, 60)
    return f"{hours:02d}:{minutes:02d}"


def _speed(words: str, value: float) -> widgets.Widget:
    return widgets.BoundedFloatText(
        value=value,
        min=0.0,
        max=120.0,
        step=0.5,
        description=words,
        layout={"width": "150px"},
        style={"description_width": "70px"},
    )
