"""The framer's panel: the gap map, the cut at the worst place, and what to do about it."""

from collections.abc import Callable, Sequence
from functools import cached_property
from html import escape
from typing import Any

import ipywidgets as widgets

from towerlift.checks.clearance import WET_SHOE
from towerlift.documents.benches import Framing
from towerlift.drawings.gap_map import MapNames, MapSize, gap_map
from towerlift.drawings.humidity import calendar_chart
from towerlift.drawings.section_cut import CutPlace, section_cut
from towerlift.nesting.answers import price_list
from towerlift.nesting.bench import Setting
from towerlift.nesting.humidity import Air, Weather, masonry_calendar, nest_calendar
from towerlift.panels.framing_answers import (
    chance_html,
    pare_html,
    prices_html,
    proven_html,
    shims_html,
    tolerance_html,
    verdict_html,
)
from towerlift.panels.framing_choice import FramerChoice
from towerlift.panels.words import CAUTION
from towerlift.plan.limits import limit_in_plan

MAP_SIZE = MapSize(width=420.0, height=560.0)
CUT_SIZE = 270.0
WIDTH, RIGHT_WIDTH = 1150, 436
PLANNED = "as planned"
TABS = ("Tolerance", "Prices", "Pare", "Shims", "Chance", "Calendar")
DAY = 86400.0
MOISTURES = range(-8, 13)
"""Changes of moisture content on the slider. [%]"""

_STYLE = """<style>
.towerlift-framer {font-size: 13px; line-height: 1.3; color: #262a30}
.towerlift-framer p {margin: 0 0 4px 0}
.towerlift-framer .widget-html-content {line-height: 1.3; font-size: 13px}
.towerlift-framer .widget-html {min-height: 0}
.towerlift-framer table {border-collapse: collapse; font-size: 10.5px; line-height: 1.2}
.towerlift-framer th {text-align: left; vertical-align: bottom; font-weight: bold;
  border-bottom: 1px solid #76766f; padding: 1px 4px 1px 0}
.towerlift-framer td {text-align: left; vertical-align: top; padding: 1px 4px 1px 0;
  border-bottom: 1px solid #eeece6; background: #fff}
.towerlift-framer td.number {text-align: right}
.towerlift-framer .widget-toggle-button, .towerlift-framer .widget-button
  {padding: 0 2px; font-size: 12px}
.towerlift-framer .answers p {max-width: 400px}
.towerlift-framer .short {font-weight: bold; color: #7f3b08}
.towerlift-framer .stale {opacity: 0.45}
.towerlift-caution {font-weight: bold}
</style>"""


class FramerPanel:
    """Map, cut, controls and answers of one plan.

    Parameters
    ----------
    framing : Framing
        Benches of the plan.
    climate : sequence of Air
        Days of a climate file or a forecast; empty for none.
    lag_100 : float
        Lag of a piece 100 mm thick behind the air; 0 follows at once. [s]

    Attributes
    ----------
    choice : FramerChoice
        What is shown.
    """

    def __init__(
        self, framing: Framing, *, climate: Sequence[Air] = (), lag_100: float = 0.0
    ) -> None:
        self.choice = FramerChoice(framing=framing)
        self._climate, self._lag = tuple(climate), lag_100
        self._silent = False
        self._make()
        self.answers.add_class("answers")
        self._listen()
        self.show(self.choice)
        self.answer()

    @cached_property
    def widget(self) -> widgets.Widget:
        """All of it, to be displayed."""
        head = widgets.HBox([self.section, self.verdict], layout={"width": "100%"})
        controls = [self.moisture, self.square, self.drift, self.x, self.y]
        kept = widgets.HBox([self.name, self.keep, self.variant])
        turned = widgets.HBox([self.turn, self.reset, self.work, self.prove])
        right = _column(
            [*controls, turned, kept, self.said, self.tab, self.answers], RIGHT_WIDTH
        )
        main = widgets.HBox(
            [
                _column([self.map], int(MAP_SIZE.width)),
                _column([self.cut], int(CUT_SIZE)),
                right,
            ],
            layout={"width": "100%"},
        )
        panel = widgets.VBox(
            [self.caution, head, main], layout={"width": "100%", "max_width": f"{WIDTH}px"}
        )
        panel.add_class("towerlift-framer")
        return panel

    @property
    def cheapest(self) -> str:
        """The best change for the section as the bench is set, in words; empty for none."""
        prices = price_list(self.choice.bench, self.choice.setting)
        return prices[0].what if prices else ""

    def show(self, choice: FramerChoice) -> None:
        """Show another choice: map, cut and controls follow, answers wait to be asked.

        Parameters
        ----------
        choice : FramerChoice
            Section, setting and variants.
        """
        stale = (choice.number, choice.setting) != (self.choice.number, self.choice.setting)
        self.choice = choice
        self._silent = True
        try:
            self._show_controls()
        finally:
            self._silent = False
        self._draw()
        if stale:
            self.answers.add_class("stale")
            self.said.value = "Answers below are for another setting: work them out again."

    def answer(self) -> None:
        """Work out what the chosen tab shows, for the setting as it is."""
        choice = self.choice
        make = {
            "Tolerance": tolerance_html,
            "Prices": prices_html,
            "Pare": pare_html,
            "Shims": shims_html,
            "Chance": chance_html,
            "Calendar": self._calendar,
        }[self.tab.value]
        self.answers.value = make(choice)
        self.answers.remove_class("stale")
        self.said.value = ""

    def proven(self) -> None:
        """Add to the chances what a million samples of the whole section say."""

        def told(words: str) -> None:
            self.said.value = f"Proving: {escape(words)}"

        self.tab.value = "Chance"
        self.answer()
        self.prove.disabled = True
        try:
            self.answers.value = proven_html(self.choice, told) + self.answers.value
        finally:
            self.prove.disabled = False
            self.said.value = ""

    def _make(self) -> None:
        plan = self.choice.framing.plan
        caution = f'<span class="towerlift-caution">{CAUTION}</span>'
        self.caution = widgets.HTML(f"{_STYLE}{escape(plan.name)}. {caution}")
        names = [bench.section.name for bench in self.choice.framing.benches]
        self.section = widgets.Dropdown(
            options=names,
            description="Section",
            layout={"width": "200px", "flex": "0 0 auto"},
            style={"description_width": "56px"},
        )
        self.verdict = widgets.HTML(layout={"margin": "4px 0 0 12px"})
        self.map, self.cut = widgets.HTML(), widgets.HTML()
        self.moisture = widgets.SelectionSlider(
            options=[PLANNED, *(f"{n:+d} %" for n in MOISTURES)],
            description="Moisture",
            continuous_update=True,
            layout={"width": "420px"},
            style={"description_width": "134px"},
        )
        self.square = _slider("Out of square [mm]", (0, 40))
        self.drift = _slider("Drift [mm]", (0, 120))
        self.x = _slider("Plumb line x [mm]", (-200, 200))
        self.y = _slider("Plumb line y [mm]", (-200, 200))
        self.turn = widgets.Dropdown(
            options=[(f"turned {90 * n}°", n) for n in range(4)],
            layout={"width": "118px"},
        )
        self.reset = _button("As planned", "Set everything back to the plan")
        self.work = _button("Work out", "Work out the answers for this setting")
        self.prove = _button(
            "Prove", "Hold a million samples of the whole section against the stone: seconds"
        )
        self.name = widgets.Text(placeholder="name of a variant", layout={"width": "150px"})
        self.keep = _button("Keep", "Keep this setting; the plan is untouched")
        self.variant = widgets.Dropdown(options=[("variants", "")], layout={"width": "150px"})
        self.said = widgets.HTML()
        self.tab = widgets.ToggleButtons(
            options=TABS, style={"button_width": "66px"}, layout={"width": f"{RIGHT_WIDTH}px"}
        )
        self.answers = widgets.HTML(
            layout={
                "width": f"{RIGHT_WIDTH - 4}px",
                "height": "300px",
                "overflow": "auto",
                "border": "1px solid #dedcd4",
                "padding": "3px",
            }
        )

    def _listen(self) -> None:
        self._on(self.section, self._other_section)
        for slider in (self.moisture, self.square, self.drift, self.x, self.y, self.turn):
            self._on(slider, lambda _: self._turned())
        self._on(self.variant, self._recall)
        self._on(self.tab, lambda _: self.answer())
        self.reset.on_click(lambda _: self.show(self.choice.turned(Setting())))
        self.work.on_click(lambda _: self.answer())
        self.prove.on_click(lambda _: self.proven())
        self.keep.on_click(lambda _: self._keep())

    def _on(self, widget: widgets.Widget, act: Callable[[Any], None]) -> None:
        def heard(change: dict[str, Any]) -> None:
            if not self._silent:
                act(change["new"])

        widget.observe(heard, names="value")

    def _other_section(self, name: str) -> None:
        self.show(self.choice.of_section(name))
        self.answer()

    def _turned(self) -> None:
        planned = self.choice.framing.plan.plumb_line
        x, y = self.x.value / 1000.0, self.y.value / 1000.0
        # The first of the slider is what the plan says.
        moisture = self.moisture.index - 1
        setting = Setting(
            moisture=None if moisture < 0 else MOISTURES[moisture] / 100.0,
            out_of_square=self.square.value / 1000.0,
            drift=self.drift.value / 1000.0,
            # The plan's own line may lie between two millimetres.
            x=None if abs(x - planned.x) < 5e-4 else x,
            y=None if abs(y - planned.y) < 5e-4 else y,
            quarter_turns=self.turn.value,
            pared=self.choice.setting.pared,
        )
        self.show(self.choice.turned(setting))

    def _recall(self, name: str) -> None:
        if name:
            self.show(self.choice.at_variant(name))
            self.answer()

    def _keep(self) -> None:
        try:
            self.choice = self.choice.kept(self.name.value)
        except ValueError as error:
            self.said.value = f'<span class="short">{escape(str(error))}</span>'
            return
        self.said.value = f"Kept as {escape(self.name.value.strip())}; the plan is untouched."
        self._silent = True
        try:
            self._show_controls()
        finally:
            self._silent = False

    def _show_controls(self) -> None:
        choice, setting = self.choice, self.choice.setting
        self.section.value = choice.bench.section.name
        moisture = setting.moisture
        self.moisture.index = (
            0 if moisture is None else 1 + MOISTURES.index(round(100 * moisture))
        )
        self.square.value = round(1000 * setting.out_of_square)
        self.drift.value = round(1000 * setting.drift)
        line = choice.bench.line(setting)
        self.x.value, self.y.value = round(1000 * line.x), round(1000 * line.y)
        self.turn.value = setting.quarter_turns
        names = [variant.name for variant in choice.variants]
        options = [("variants", ""), *((name, name) for name in names)]
        if list(self.variant.options) != options:
            self.variant.options = options

    def _draw(self) -> None:
        choice = self.choice
        bench, gaps = choice.bench, choice.gaps
        names = MapNames(marks=bench.drawn.marks, when=choice.framing.when)
        self.map.value = gap_map(gaps, names, MAP_SIZE)
        worst = gaps.worst()
        self.verdict.value = verdict_html(choice, gaps)
        if worst is None:
            self.cut.value = "<p>Nothing of the section comes by the shaft.</p>"
            return
        place = CutPlace(
            gaps=gaps,
            reach=bench.reach(choice.setting),
            walls=bench.walls,
            line=bench.line(choice.setting),
            band=worst[0],
            face=worst[1],
        )
        self.cut.value = section_cut(place, size=CUT_SIZE)

    def _calendar(self, choice: FramerChoice) -> str:
        if not self._climate:
            return "<p>No climate file was given: put one beside the plan and read it.</p>"
        bench, framing = choice.bench, choice.framing
        weather = Weather(days=self._climate, lag_100=self._lag)
        found = [masonry_calendar(bench, choice.setting, weather)]
        if choice.number:
            around = framing.benches[choice.number - 1]
            limit = limit_in_plan(framing.plan, WET_SHOE).value / 1000.0
            found.append(nest_calendar(around, bench, weather, limit=limit))
        lifts = framing.lifts.get(bench.section.name, ())
        size = MapSize(width=RIGHT_WIDTH - 24.0, height=190.0)
        parts = [
            f"<p>Not evaluated: {escape(each)}.</p>"
            if isinstance(each, str)
            else calendar_chart(each, lifts=lifts, size=size)
            for each in found
        ]
        lag = (
            f"A piece 100 mm thick follows the air with a lag of {self._lag / DAY:.0f} days."
            if self._lag > 0
            else "The wood is taken to follow the air at once, quicker than any wood does."
        )
        return "".join(parts) + f"<p>{lag}</p>"


def _slider(words: str, ends: tuple[int, int]) -> widgets.Widget:
    return widgets.IntSlider(
        min=ends[0],
        max=ends[1],
        description=words,
        continuous_update=True,
        layout={"width": "420px"},
        style={"description_width": "134px"},
    )


def _button(words: str, tooltip: str) -> widgets.Widget:
    layout = {"width": "88px", "flex": "0 0 auto"}
    return widgets.Button(description=words, tooltip=tooltip, layout=layout)


def _column(children: Sequence[widgets.Widget], width: int) -> widgets.Widget:
    layout = {
        "width": f"{width}px",
        "flex": "0 1 auto",
        "min_width": "0",
        "margin": "0 0 0 8px",
    }
    return widgets.VBox(list(children), layout=layout)
