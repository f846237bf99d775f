"""The planner's panel: one slider through the whole raise, with the findings beside it."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import cached_property
from html import escape
from threading import RLock
from typing import Any

import ipywidgets as widgets
import numpy as np

from towerlift.drawings import (
    Strip,
    course_of,
    gap_strip,
    load_strip,
    raise_strip,
    strip_insets,
)
from towerlift.findings import Verdict
from towerlift.panels.choice import ALL, PlannerChoice, Sieve
from towerlift.panels.words import CAUTION, finding_html, list_head, list_line, place_html
from towerlift.scene import (
    Nearest,
    Standpoint,
    as_png,
    build_scene,
    close_up,
    from_above,
    nearest_gap,
    on_section,
    picture,
    whole_tower,
)
from towerlift.workflow import Outcome

WHOLE_SIZE, NEAR_SIZE = (190, 456), (366, 262)
WIDTH, RIGHT_WIDTH = 1150, 566
STRIP_SIZE, STRIP_TEXT = (float(WIDTH), 100.0), 10.0
SLIDER_STEP = 0.05  # of the course [m]
NEAREST, WIDEST, GAP_SPANS = 0.8, 1.6, 20.0  # height of the closer view [m], [m], gaps
NEAR_ENOUGH = 0.6  # a gap so close to a finding's place is taken to be its gap [m]

GAP_VIEW, SECTION_VIEW, PLAN_VIEW = "finding or least gap", "what moves", "plan at the heel"

_STYLE = """<style>
.towerlift {font-size: 13px; line-height: 1.3; color: #262a30}
.towerlift p, .towerlift h4, .towerlift ol {margin: 0 0 4px 0}
.towerlift ol {padding-left: 20px}
.towerlift h4 {font-size: 14px}
.towerlift select[size], .towerlift .towerlift-head
  {font-family: "DejaVu Sans Mono", monospace; font-size: 11px}
.towerlift .towerlift-head {white-space: pre; line-height: 16px; padding-left: 5px}
.towerlift-caution {font-weight: bold}
.towerlift .widget-html-content {line-height: 1.3; font-size: 13px}
.towerlift .widget-html {min-height: 0}
</style>"""


class PlannerPanel:
    """Slider, pictures, strips and findings of one outcome.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.

    Attributes
    ----------
    choice : PlannerChoice
        What is shown.
    """

    def __init__(self, outcome: Outcome) -> None:
        self.choice = PlannerChoice(outcome=outcome)
        self._scene = build_scene(outcome)
        self._course = course_of(outcome.raise_)
        self._silent = False
        # A notebook may call from the thread of its cells and from that of its widgets.
        self._turn = RLock()
        self._make()
        self._listen()
        worst = next(iter(self.choice.listed), None)
        self.show(self.choice if worst is None else self.choice.with_finding(worst))

    @cached_property
    def widget(self) -> widgets.Widget:
        """All of it, to be displayed."""
        left, right = (
            f"{100 * share:.2f}%" for share in strip_insets(STRIP_SIZE[0], STRIP_TEXT)
        )
        slider = widgets.Box(
            [self.slider], layout={"padding": f"0 {right} 0 {left}", "width": "100%"}
        )
        controls = widgets.HBox([self.stage, self.before, self.after, self.place])
        near = _column([self.view, self.near, self.detail], NEAR_SIZE[0] + 4)
        sieve = widgets.HBox([self.verdict, self.check, self.of_stage, self.text])
        right_side = _column(
            [self.gaps, self.loads, sieve, self.head, self.findings], RIGHT_WIDTH
        )
        main = widgets.HBox([self.whole, near, right_side], layout={"width": "100%"})
        panel = widgets.VBox(
            [self.caution, controls, slider, self.strip, main],
            layout={"width": "100%", "max_width": f"{WIDTH}px"},
        )
        panel.add_class("towerlift")
        return panel

    def show(self, choice: PlannerChoice) -> None:
        """Show another choice: every widget follows.

        Parameters
        ----------
        choice : PlannerChoice
            Place, list and finding.
        """
        relisted = choice.sieve != self.choice.sieve or not self.findings.options
        self.choice = choice
        self._silent = True
        try:
            self._show_controls(relisted)
        finally:
            self._silent = False
        # A notebook may call from the thread of its cells and from that of its widgets.
        self._turn = RLock()
        self._show_pictures()
        self._show_strips()

    def _make(self) -> None:
        outcome = self.choice.outcome
        said = f"{escape(outcome.plan.name)}: {self.choice.summary}. "
        caution = f'{said}<span class="towerlift-caution">{CAUTION}</span>'
        self.caution = widgets.HTML(f'{_STYLE}<div style="font-size:11.5px">{caution}</div>')
        titles = {stage.name: stage.title for stage in outcome.plan.stages}
        stages = [(f"{s}: {titles.get(s, '')}", s) for s in self.choice.stages]
        self.stage = widgets.Dropdown(
            options=stages,
            description="Go to stage",
            layout={"width": "310px", "flex": "0 0 auto"},
            style={"description_width": "76px"},
        )
        self.before = _button("◀ finding", "Go to the finding before in the list")
        self.after = _button("finding ▶", "Go to the next finding in the list")
        self.place = widgets.HTML(layout={"flex": "1 1 auto", "margin": "0 0 0 12px"})
        self.slider = widgets.FloatSlider(
            min=0.0,
            max=self._course.length,
            step=SLIDER_STEP,
            readout=False,
            tooltip="Way through the raise",
            layout={"width": "100%", "height": "20px"},
        )
        self.strip = widgets.HTML(layout={"margin": "-10px 0 0 0"})
        self.gaps, self.loads = widgets.HTML(), widgets.HTML()
        self.whole = _image(WHOLE_SIZE)
        self.near = _image(NEAR_SIZE)
        self.view = widgets.Dropdown(
            options=[GAP_VIEW, SECTION_VIEW, PLAN_VIEW],
            description="Closer view",
            layout={"width": "98%"},
            style={"description_width": "76px"},
        )
        self.detail = widgets.HTML(
            layout={"height": "154px", "overflow": "auto", "border": "1px solid #dedcd4"}
        )
        self._make_list()

    def _make_list(self) -> None:
        findings = self.choice.outcome.findings
        verdicts = [(f"verdict: {v}", str(v)) for v in Verdict]
        self.verdict = _picker([("every verdict", ALL), *verdicts])
        checks = sorted({finding.check for finding in findings})
        self.check = _picker([("every check", ALL), *((c, c) for c in checks)])
        stages = [s for s in self.choice.stages if any(f.stage == s for f in findings)]
        self.of_stage = _picker([("every stage", ALL), *((f"stage {s}", s) for s in stages)])
        self.text = widgets.Text(
            placeholder="words to find", layout={"width": "24%"}, continuous_update=True
        )
        heads = escape(list_head())
        self.head = widgets.HTML(f'<div class="towerlift-head">{heads}</div>')
        self.findings = widgets.Select(rows=7, layout={"width": "99%", "height": "104px"})

    def _listen(self) -> None:
        self._on(self.slider, self._slid)
        self._on(self.stage, lambda stage: self.show(self.choice.at_stage(stage)))
        self._on(self.view, lambda _: self._show_pictures())
        self._on(self.findings, self._picked)
        for sieve in (self.verdict, self.check, self.of_stage, self.text):
            self._on(sieve, self._sieved)
        self.before.on_click(lambda _: self.show(self.choice.next_finding(-1)))
        self.after.on_click(lambda _: self.show(self.choice.next_finding(1)))

    def _on(self, widget: widgets.Widget, act: Callable[[Any], None]) -> None:
        def heard(change: dict[str, Any]) -> None:
            with self._turn:
                if not self._silent:
                    act(change["new"])

        widget.observe(heard, names="value")

    def _slid(self, along: float) -> None:
        # The browser says back, rounded to a step, what the slider was set to.
        if abs(along - self._course.along(self.choice.position)) <= 0.51 * SLIDER_STEP:
            return
        self.show(self.choice.moved_to(self._course.position(along)))

    def _picked(self, number: int | None) -> None:
        if number is not None:
            self.show(self.choice.with_finding(number))

    def _sieved(self, _: object) -> None:
        sieve = Sieve(
            verdict=self.verdict.value,
            check=self.check.value,
            stage=self.of_stage.value,
            text=self.text.value,
        )
        self.show(self.choice.sieved(sieve))

    def _show_controls(self, relisted: bool) -> None:
        choice = self.choice
        self.slider.value = self._course.along(choice.position)
        self.stage.value = choice.passage.stage
        self.place.value = place_html(choice)
        self.detail.value = f'<div style="padding:4px">{finding_html(choice.finding)}</div>'
        if relisted:
            found = choice.outcome.findings
            self.findings.options = [(list_line(found[n]), n) for n in choice.listed]
        self.findings.value = choice.chosen
        self.before.disabled = self.after.disabled = not choice.listed

    def _show_pictures(self) -> None:
        passage, share = self.choice.passage, self.choice.share
        near = self._standpoint()
        for image, standpoint, size in (
            (self.whole, whole_tower(self._scene, WHOLE_SIZE), WHOLE_SIZE),
            (self.near, near, NEAR_SIZE),
        ):
            pixels = picture(self._scene, passage, share, standpoint=standpoint, size=size)
            image.value = as_png(pixels)

    def _standpoint(self) -> Standpoint:
        passage, share = self.choice.passage, self.choice.share
        if self.view.value == SECTION_VIEW:
            return on_section(self._scene, passage, share)
        if self.view.value == PLAN_VIEW:
            heels = [passage.heel(name, share) for name in passage.moving]
            return from_above(self._scene, max(heels, default=0.0) + 1.0)
        nearest = nearest_gap(self._scene.gaps, passage, share)
        place = self._place_of_finding()
        if place is not None:
            along = _direction(nearest, place)
            return close_up(place, along, span=WIDEST if along is None else _span(along))
        if nearest is not None:
            along = nearest.opposite - nearest.where
            return close_up(nearest.where, along, span=_span(along))
        return on_section(self._scene, passage, share)

    def _place_of_finding(self) -> np.ndarray[Any, np.dtype[np.float64]] | None:
        # Only while the raise stands where the finding is.
        finding = self.choice.finding
        if finding is None or finding.where is None:
            return None
        at = self.choice.position_of(finding)
        if at is None or abs(at - self.choice.position) > 1e-6:
            return None
        return np.array(finding.where)

    def _show_strips(self) -> None:
        choice = self.choice
        outcome, passage = choice.outcome, choice.passage
        self.strip.value = raise_strip(
            outcome, choice.position, self._marks, size=STRIP_SIZE, text=STRIP_TEXT
        )
        strip = Strip(share=choice.share, width=RIGHT_WIDTH, height=146.0)
        self.gaps.value = gap_strip(outcome, passage, strip)
        self.loads.value = load_strip(outcome, passage, replace(strip, height=152.0))

    @cached_property
    def _marks(self) -> list[tuple[float, Verdict]]:
        placed = [(self.choice.position_of(f), f.verdict) for f in self.choice.outcome.findings]
        return [(at, verdict) for at, verdict in placed if at is not None]


def _span(gap: np.ndarray[Any, np.dtype[np.float64]]) -> float:
    # A small gap is looked at from nearer, so that it can still be seen.
    return min(WIDEST, max(NEAREST, GAP_SPANS * float(np.linalg.norm(gap))))


def _direction(
    nearest: Nearest | None, place: np.ndarray[Any, np.dtype[np.float64]]
) -> np.ndarray[Any, np.dtype[np.float64]] | None:
    if nearest is None or not np.linalg.norm(nearest.where - place) < NEAR_ENOUGH:
        return None
    return nearest.opposite - nearest.where


def _column(children: Iterable[widgets.Widget], width: int) -> widgets.Widget:
    layout = {
        "width": f"{width}px",
        "flex": "0 1 auto",
        "min_width": "0",
        "margin": "0 0 0 8px",
    }
    return widgets.VBox(list(children), layout=layout)


def _button(words: str, tooltip: str) -> widgets.Widget:
    layout = {"width": "82px", "flex": "0 0 auto"}
    return widgets.Button(description=words, tooltip=tooltip, layout=layout)


def _image(size: tuple[int, int]) -> widgets.Widget:
    layout = {"width": f"{size[0]}px", "height": f"{size[1]}px", "flex": "0 0 auto"}
    return widgets.Image(format="png", layout=layout)


def _picker(options: Iterable[tuple[str, str]]) -> widgets.Widget:
    return widgets.Dropdown(options=list(options), layout={"width": "25%"})
