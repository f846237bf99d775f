"""The rigger's panel: what goes wrong at a height, and what every rope then takes."""

from collections.abc import Callable, Iterable
from functools import cached_property
from html import escape
from typing import Any

import ipywidgets as widgets
import numpy as np

from towerlift.drawings.leads import LeadPlan, lead_plan
from towerlift.drawings.tackles import ForceStrip, force_strip
from towerlift.findings import Finding, Verdict
from towerlift.panels.rigging_choice import (
    Reading,
    RiggerBench,
    RiggerChoice,
    RiggerView,
)
from towerlift.panels.words import CAUTION, finding_html, list_head, list_line
from towerlift.rig.trial import Trouble
from towerlift.workflow import Outcome

WIDTH, LEFT = 1150, 504
PLAN_SIZE, STRIP_SIZE = (500.0, 300.0), (636.0, 112.0)
NONE = ""
LAG_STEP, MOST_LAG = 1.0, 100.0  # [mm]
MOST_FRICTION, MOST_GUST = 0.6, 20.0

_STYLE = """<style>
.towerlift {font-size: 13px; line-height: 1.3; color: #262a30}
.towerlift p, .towerlift h4, .towerlift ol {margin: 0 0 4px 0}
.towerlift table {border-collapse: collapse; width: 100%}
.towerlift td {padding: 0 6px 1px 0; vertical-align: top; font-size: 12px; line-height: 1.25}
.towerlift td.what {width: 92px; white-space: nowrap}
.towerlift td.value {width: 228px}
.towerlift td.source {color: #5c5c56; font-size: 11px}
.towerlift .wrong {font-weight: bold; color: #8a1b3d}
.towerlift select[size], .towerlift .towerlift-head
  {font-family: "DejaVu Sans Mono", monospace; font-size: 11px}
.towerlift .towerlift-head {white-space: pre; line-height: 16px; padding-left: 5px}
.towerlift-caution {font-weight: bold}
.towerlift .widget-html-content {line-height: 1.3; font-size: 13px}
.towerlift .widget-html {min-height: 0}
</style>"""


class RiggerPanel:
    """Sliders for what goes wrong, plan of leads, force strips and numbers of one outcome.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.

    Attributes
    ----------
    choice : RiggerChoice
        What is tried.
    view : RiggerView
        What came of it.
    """

    def __init__(self, outcome: Outcome) -> None:
        self.bench = RiggerBench(outcome)
        self.choice = self.bench.first()
        self._silent = False
        self._drawn: tuple[object, ...] = ()
        self._make()
        self._listen()
        self.view = self.show(self.choice)

    @cached_property
    def widget(self) -> widgets.Widget:
        """All of it, to be displayed."""
        top = widgets.HBox([self.passage, self.heel])
        wrong = widgets.HBox([self.behind, self.lag, self.lost])
        weather = widgets.HBox([self.friction, self.gust, self.towards])
        left = _column([self.verdict, self.numbers, self.leads], LEFT)
        right = _column(
            [self.pulls, self.ratios, self.head, self.findings, self.detail], WIDTH - LEFT - 8
        )
        panel = widgets.VBox(
            [self.caution, top, wrong, weather, widgets.HBox([left, right])],
            layout={"width": "100%", "max_width": f"{WIDTH}px"},
        )
        panel.add_class("towerlift")
        return panel

    def show(self, choice: RiggerChoice) -> RiggerView:
        """Try another choice: every widget follows.

        Parameters
        ----------
        choice : RiggerChoice
            Passage, height and trouble.

        Returns
        -------
        view : RiggerView
            What came of it.
        """
        moved = choice.passage != self.choice.passage or not self.findings.options
        self.choice = choice
        self._silent = True
        try:
            self._show_controls(moved)
        finally:
            self._silent = False
        self.view = self.bench.show(choice)
        self.verdict.value = _verdict_html(self.view)
        self.numbers.value = _numbers_html(self.view)
        self._draw()
        return self.view

    def _make(self) -> None:
        outcome, bench = self.bench.outcome, self.bench
        caution = f'<span class="towerlift-caution">{CAUTION}</span>'
        self.caution = widgets.HTML(f"{_STYLE}{escape(outcome.plan.name)}. {caution}")
        options = []
        for index in bench.passages:
            curve = bench.curve(index)
            ends = f"{curve.heels[0]:.2f} to {curve.heels[-1]:.2f} m"
            options.append((f"{curve.stage}: {curve.hauled[0]} {ends} on {curve.lift}", index))
        self.passage = _picker(options, "Haul", 430)
        self.heel = _slider("Heel, m", (0.0, 1.0, 0.05), 500)
        self.behind = _picker([("nobody", NONE)], "Behind", 200)
        self.lag = _slider("by, mm", (0.0, MOST_LAG, LAG_STEP), 330)
        self.lost = _picker([("none", NONE)], "Tackle lost", 200)
        self.friction = _slider("Friction", (0.0, MOST_FRICTION, 0.05), 330)
        self.gust = _slider("Gust, m/s", (0.0, MOST_GUST, 0.5), 330)
        winds = [("east", 0), ("north-east", 45), ("north", 90), ("west", 180), ("south", 270)]
        self.towards = _picker(winds, "towards", 180)
        self.verdict = widgets.HTML()
        self.numbers = widgets.HTML(layout={"height": "180px", "overflow": "auto"})
        self.leads = widgets.HTML()
        self.pulls, self.ratios = widgets.HTML(), widgets.HTML()
        self.head = widgets.HTML(f'<div class="towerlift-head">{escape(list_head())}</div>')
        self.findings = widgets.Select(rows=6, layout={"width": "99%", "height": "92px"})
        self.detail = widgets.HTML(
            layout={"height": "118px", "overflow": "auto", "border": "1px solid #dedcd4"}
        )

    def _listen(self) -> None:
        self._on(self.passage, self._moved)
        self._on(self.findings, self._picked)
        for control in (
            self.heel, self.behind, self.lag, self.lost, self.friction, self.gust, self.towards
        ):  # fmt: skip
            self._on(control, self._tried)

    def _on(self, widget: widgets.Widget, act: Callable[[Any], None]) -> None:
        def heard(change: dict[str, Any]) -> None:
            if not self._silent:
                act(change["new"])

        widget.observe(heard, names="value")

    def _moved(self, passage: int) -> None:
        curve = self.bench.curve(passage)
        row = int(np.nan_to_num(curve.ratio).argmin())
        calm = Trouble(friction=self.choice.trouble.friction)
        self.show(RiggerChoice(passage=passage, heel=float(curve.heels[row]), trouble=calm))

    def _tried(self, _: object) -> None:
        trouble = Trouble(
            behind=self.behind.value,
            by=self.lag.value / 1e3,
            lost=self.lost.value,
            friction=self.friction.value,
            gust=self.gust.value,
            towards=float(np.radians(self.towards.value)),
        )
        self.show(
            RiggerChoice(passage=self.choice.passage, heel=self.heel.value, trouble=trouble)
        )

    def _picked(self, number: int | None) -> None:
        self.detail.value = _detail(
            None if number is None else self.bench.findings(self.choice.passage)[number]
        )

    def _show_controls(self, moved: bool) -> None:
        choice, trouble = self.choice, self.choice.trouble
        if moved:
            self._show_lift()
        self.passage.value = choice.passage
        self.heel.value = choice.heel
        self.behind.value, self.lost.value = trouble.behind, trouble.lost
        self.lag.value = trouble.by * 1e3
        self.friction.value, self.gust.value = trouble.friction, trouble.gust

    def _show_lift(self) -> None:
        curve = self.bench.curve(self.choice.passage)
        low, high = float(curve.heels.min()), float(curve.heels.max())
        # Bounds in an order that never crosses.
        self.heel.max = max(high, self.heel.max)
        self.heel.min, self.heel.max = low, high
        lines = self.bench.trial(self.choice.passage).rigged.lift.lines
        marks = dict.fromkeys(line.capstan for line in lines)
        self.behind.options = [("nobody", NONE), *((mark, mark) for mark in marks)]
        self.lost.options = [("none", NONE), *((each.tackle, each.tackle) for each in lines)]
        found = self.bench.findings(self.choice.passage)
        self.findings.options = [(list_line(each), n) for n, each in enumerate(found)]
        self.findings.value = 0 if found else None
        self.detail.value = _detail(found[0] if found else None)

    def _draw(self) -> None:
        choice = self.choice
        marked = frozenset(
            name
            for name in (
                choice.trouble.behind if choice.trouble.by else "",
                choice.trouble.lost,
            )
            if name
        )
        if (choice.passage, marked) != self._drawn:
            self._drawn = (choice.passage, marked)
            leads = self.bench.leads(choice.passage)
            options = LeadPlan(width=PLAN_SIZE[0], height=PLAN_SIZE[1], marked=marked)
            found = () if isinstance(leads, str) else leads
            self.leads.value = lead_plan(self.bench.outcome.plan, found, options)
        self._draw_strips()

    def _draw_strips(self) -> None:
        passage = self.choice.passage
        curve, path = self.bench.curve(passage), self.bench.path(passage)
        pulls = curve.tensions * path.over * path.barrel / 1e3
        worst = np.argsort(-np.nan_to_num(pulls).max(axis=0), kind="stable")[:4]
        size = {"heel": self.choice.heel, "width": STRIP_SIZE[0], "height": STRIP_SIZE[1]}
        self.pulls.value = force_strip(
            ForceStrip(
                title=f"Pull at the capstans along {curve.stage}, hauling at worst",
                unit="kN",
                heels=curve.heels,
                curves=[(f"tackle {curve.lines[n]}", pulls[:, n]) for n in worst],
                limit=None,
                **size,
            )
        )
        mean = curve.weight[:, None] / len(curve.lines)
        self.ratios.value = force_strip(
            ForceStrip(
                title="Load of the fullest tackle over the mean, at rest and with one lost",
                unit="times",
                heels=curve.heels,
                curves=[
                    ("as rove", (curve.tensions / mean).max(axis=1)),
                    ("one lost, hung free", (curve.lost_tensions / mean).max(axis=1)),
                    ("tilting stiffness ratio", np.minimum(curve.ratio, 10.0)),
                ],
                limit=1.0,
                **size,
            )
        )


def _verdict_html(view: RiggerView) -> str:
    bad = view.verdict.isupper() or view.verdict.split(":")[0].isupper()
    mark = ' class="wrong"' if bad else ""
    return f"<h4{mark}>{escape(view.verdict)}</h4>"


def _numbers_html(view: RiggerView) -> str:
    rows = "".join(
        f"<tr{' class=wrong' if each.wrong else ''}>"
        f'<td class="what">{escape(each.what)}</td>'
        f'<td class="value">{escape(_flagged(each))}</td>'
        f'<td class="source">{escape(each.source)}</td></tr>'
        for each in view.readings
    )
    if not rows:
        return "<p>It finds no rest: there are no numbers to give.</p>"
    return f"<table>{rows}</table>"


def _flagged(reading: Reading) -> str:
    # In words, not by colour alone.
    return f"{reading.value} (beyond its limit)" if reading.wrong else reading.value


def _detail(finding: Finding | None) -> str:
    return f'<div style="padding:4px">{finding_html(finding)}</div>'


def _column(children: Iterable[widgets.Widget], width: int) -> widgets.Widget:
    layout = {
        "width": f"{width}px",
        "flex": "0 1 auto",
        "min_width": "0",
        "margin": "0 0 0 4px",
    }
    return widgets.VBox(list(children), layout=layout)


def _picker(options: Iterable[tuple[str, object]], name: str, width: int) -> widgets.Widget:
    return widgets.Dropdown(
        options=list(options),
        description=name,
        layout={"width": f"{width}px"},
        style={"description_width": "70px"},
    )


def _slider(name: str, bounds: tuple[float, float, float], width: int) -> widgets.Widget:
    low, high, step = bounds
    return widgets.FloatSlider(
        min=low,
        max=high,
        step=step,
        description=name,
        layout={"width": f"{width}px"},
        style={"description_width": "70px"},
    )


def failing(panel: RiggerPanel) -> list[Finding]:
    """What the rig checks fail in the haul that is shown."""
    found = panel.bench.findings(panel.choice.passage)
    return [each for each in found if each.verdict is Verdict.FAIL]
