"""The planner's panel: the raise on one slider, and what if, gaps and pictures below it."""

from collections.abc import Callable
from functools import cached_property
from html import escape
from math import floor
from pathlib import Path
from threading import RLock, Thread
from typing import Any

import ipywidgets as widgets
from IPython import display

from towerlift.motion.travel import Moment, locate
from towerlift.panels.gap_rows import GapRow, gap_rows, heads
from towerlift.panels.stills import still_of
from towerlift.panels.takings import KINDS, Taking, take
from towerlift.panels.tries import answer_html, asked_by, failed_message, message, offered
from towerlift.panels.variants import Variants
from towerlift.panels.words import VERDICTS
from towerlift.scene import Scene, build_scene
from towerlift.scrub import ScrubView
from towerlift.what_if import Answer, Newest, WhatIf, WhatIfBench
from towerlift.workflow import Outcome

# A laptop 768 high shows the view with the bar below it, or a lower one with a pane. [px]
HEIGHTS = {"laptop": (606, 400), "projector": (880, 620)}
PANE_HEIGHTS = {"laptop": 206, "projector": 320}
TABS = ("Raise", "What if", "Gaps", "Pictures")
NOBODY = ""
show: Callable[[object], None] = display.display
picture: Callable[..., object] = display.Image
UNASKED = -1  # number of an answer that the browser did not ask for

_STYLE = """<style>
.towerlift {font-size: 13px; line-height: 1.3; color: #262a30}
.towerlift.towerlift-projector,
  .towerlift.towerlift-projector .widget-html-content {font-size: 17px}
.towerlift.towerlift-projector table, .towerlift.towerlift-projector select[size],
  .towerlift.towerlift-projector .towerlift-head {font-size: 15px}
.towerlift p, .towerlift h4 {margin: 0 0 4px 0}
.towerlift h4 {font-size: 14px}
.towerlift table {border-collapse: collapse; font-size: 11.5px; line-height: 1.25}
.towerlift th {text-align: left; font-weight: bold; border-bottom: 1px solid #76766f;
  padding: 1px 8px 1px 0}
.towerlift td {text-align: left; vertical-align: top; padding: 1px 8px 1px 0;
  border-bottom: 1px solid #eeece6; background: #fff}
.towerlift td:nth-child(-n+4) {white-space: nowrap}
.towerlift select[size], .towerlift .towerlift-head
  {font-family: "DejaVu Sans Mono", monospace; font-size: 11px}
.towerlift .towerlift-head {white-space: pre; line-height: 16px; padding-left: 5px}
.towerlift .widget-html-content {line-height: 1.3; font-size: 13px}
.towerlift .widget-html {min-height: 0}
.towerlift .short {font-weight: bold; color: #8a1548}
.towerlift .tlv-side {overflow-y: auto}
.towerlift .tlv-list {flex: 0 0 auto; min-height: 4.4em}
/* Where there is little height, the strips make room for what is tried, and the states,
   which the picture names too, for the findings. They stay there for a screen reader. */
@media (max-height: 850px) {
  .towerlift .tlv-side:has(.tlv-tries[open]:not([hidden])) .tlv-strip {display: none}
  .towerlift .tlv-states {position: absolute; width: 1px; height: 1px; overflow: hidden;
    clip-path: inset(50%)}
}
/* While this lives, the still picture that stands in for it is not needed. */
.jp-OutputArea-child:has(.towerlift) ~ .jp-OutputArea-child:has(img) {display: none}
</style>"""


class PlannerPanel:
    """The raise in the browser, what-ifs, gaps and pictures of one outcome.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    folder : Path
        Where pictures go.

    Attributes
    ----------
    view : ScrubView
        Slider, strips, findings and what-if sliders, in the browser.
    answer : Answer or None
        The newest what-if.
    variants : Variants
        What-ifs kept under names, with their answers.
    """

    def __init__(self, outcome: Outcome, *, folder: Path = Path("pictures")) -> None:
        self.outcome, self._folder = outcome, folder
        self.answer: Answer | None = None
        self.variants: Variants[Answer] = Variants()
        self._bench = WhatIfBench(outcome)
        self._number = UNASKED
        self._request: dict[str, Any] = {}
        self._silent = False
        # A notebook may call from the thread of its cells and from that of its widgets.
        self._turn = RLock()
        self.worker: Newest[tuple[int, WhatIf], Answer] = Newest(
            lambda asked: self._bench.answer(asked[1]),
            lambda asked, answer: self._told(asked[0], answer),
            lambda asked, error: self._failed(asked[0], error),
        )
        self._make()
        self._listen()
        self._moved()

    @cached_property
    def scene(self) -> Scene:
        """What pictures show."""
        return build_scene(self.outcome)

    @cached_property
    def widget(self) -> widgets.Widget:
        """All of it, to be displayed."""
        panel = widgets.VBox(
            [widgets.HTML(_STYLE), self.view, widgets.HBox([self.tab, self.large]), self.pane],
            layout={"width": "100%"},
        )
        panel.add_class("towerlift")
        return panel

    @property
    def moment(self) -> Moment:
        """Where the raise is."""
        return locate(self.outcome.raise_, float(self.view.position))

    def try_out(self, asked: WhatIf) -> None:
        """Ask a what-if; sliders and place follow.

        Parameters
        ----------
        asked : WhatIf
            Where, and what is out of true.
        """
        self.tab.value = "What if"
        with self._turn:
            self.view.position = asked.passage + asked.share
            self._moved()
            self._silent = True
            try:
                if asked.behind in dict(self.behind.options).values():
                    self.behind.value = asked.behind
            finally:
                self._silent = False
            self.view.what_if_sliders = offered(asked)
            self._request = {"position": float(self.view.position), "values": {}}
            self._request["values"] = {
                each["key"]: each["value"] for each in self.view.what_if_sliders
            }
            self.worker.ask((self._number, asked))

    def close(self) -> None:
        """Answer no more."""
        self.worker.close()

    def _ipython_display_(self) -> None:
        self.view.make_ready()
        show(self.widget)
        # What is left in a saved notebook that no kernel runs, or that is not trusted.
        show(picture(data=still_of(self.outcome, self.scene), format="png"))

    def _make(self) -> None:
        self.view = ScrubView(
            self.outcome,
            follow=True,
            finding=0 if self.outcome.findings else None,
            height=HEIGHTS["laptop"][0],
        )
        self.tab = widgets.ToggleButtons(options=TABS, style={"button_width": "96px"})
        self.large = widgets.Dropdown(
            options=list(HEIGHTS),
            description="screen",
            layout={"width": "170px", "margin": "2px 2px 2px auto"},
            style={"description_width": "50px"},
        )
        self._make_what_if()
        self.gap_head = widgets.HTML(f'<div class="towerlift-head">{escape(heads())}</div>')
        self.gap_of = widgets.ToggleButtons(
            options=("this stage", "whole raise"), style={"button_width": "96px"}
        )
        self.gaps = widgets.Select(rows=9, layout={"width": "99%", "height": "168px"})
        self.kind = widgets.Dropdown(options=list(KINDS), layout={"width": "250px"})
        self.make = _button("Make", "Make it and write it into the folder below")
        self.made = widgets.HTML()
        self.bar = widgets.IntProgress(min=0, max=1, layout={"width": "250px"})
        self.bar.layout.display = "none"
        self.pane = widgets.VBox([], layout={"width": "100%"})

    def _make_what_if(self) -> None:
        self.behind = widgets.Dropdown(
            options=[("no crew", NOBODY)],
            description="Crew behind",
            layout={"width": "200px"},
            style={"description_width": "80px"},
        )
        self.level = _button("All as planned", "Set every slider back")
        self.name = widgets.Text(placeholder="name of a variant", layout={"width": "170px"})
        self.keep = _button("Keep", "Keep this what-if under the name; the plan is untouched")
        self.variant = widgets.Dropdown(options=[("variants", "")], layout={"width": "190px"})
        self.said = widgets.HTML()
        self.full = widgets.HTML(
            "<p>Drag a slider under “What if …” in the view.</p>",
            layout={
                "height": f"{PANE_HEIGHTS['laptop']}px",
                "overflow": "auto",
                "width": "99%",
            },
        )
        self.kept = widgets.HTML()

    def _listen(self) -> None:
        self.view.observe(self._asked, names="what_if_request")
        self.view.observe(lambda _: self._moved(), names="position")
        self._on(self.tab, self._open)
        self._on(self.large, lambda _: self._open(self.tab.value))
        self._on(self.behind, lambda _: self._again())
        self._on(self.variant, self._recall)
        self._on(self.gap_of, lambda _: self._list_gaps())
        self._on(self.gaps, self._go_to_gap)
        self.level.on_click(lambda _: self.try_out(self._planned()))
        self.keep.on_click(lambda _: self._keep())
        self.make.on_click(lambda _: self._start_making())

    def _on(self, widget: widgets.Widget, act: Callable[[Any], None]) -> None:
        def heard(change: dict[str, Any]) -> None:
            with self._turn:
                if not self._silent:
                    act(change["new"])

        widget.observe(heard, names="value")

    def _open(self, tab: str) -> None:
        if tab == "What if":
            row = [self.behind, self.level, self.name, self.keep, self.variant, self.said]
            panes = [widgets.HBox(row), self.full, self.kept]
        elif tab == "Gaps":
            self._list_gaps()
            panes = [self.gap_of, self.gap_head, self.gaps]
        elif tab == "Pictures":
            panes = [widgets.HBox([self.kind, self.make, self.bar]), self.made]
        else:
            panes = []
        self.pane.children = panes
        self.view.height = HEIGHTS[self.large.value][bool(panes)]
        self.full.layout.height = f"{PANE_HEIGHTS[self.large.value]}px"
        self.gaps.layout.height = f"{PANE_HEIGHTS[self.large.value] - 38}px"
        if self.large.value == "projector":
            self.widget.add_class("towerlift-projector")
        else:
            self.widget.remove_class("towerlift-projector")
        # Sliders that are put away try nothing: the view forgets what they tried.
        trying = tab == "What if"
        if trying != bool(self.view.what_if_sliders):
            self._request, self._number = {}, UNASKED
            self.view.what_if_sliders = offered() if trying else []
            if trying:
                # How it hangs as planned, at once; what comes next is then warm.
                self.worker.ask((UNASKED, self._planned()))

    def _planned(self) -> WhatIf:
        return WhatIf(passage=self.moment.passage.index, share=self.moment.share)

    def _moved(self) -> None:
        """The raise is elsewhere: other capstans, other gaps."""
        marks = self._bench.capstans(self.moment.passage.index)
        options = [("no crew", NOBODY), *((mark, mark) for mark in marks)]
        if list(self.behind.options) != options:
            self._silent = True
            try:
                self.behind.options = options
                if marks:
                    self.behind.value = marks[0]
            finally:
                self._silent = False
        if self.tab.value == "Gaps" and self.gap_of.value == "this stage":
            self._list_gaps()

    def _asked(self, change: dict[str, Any]) -> None:
        request = change["new"]
        if not request:
            return
        self._number, self._request = int(request["number"]), dict(request)
        self._again()

    def _again(self) -> None:
        """Ask what the sliders say, with whoever is behind."""
        if not self._request:
            return
        try:
            asked = asked_by(self.outcome.raise_, self._request, self.behind.value)
        except ValueError as error:
            self._failed(self._number, error)
            return
        self.worker.ask((self._number, asked))

    def _told(self, number: int, answer: Answer) -> None:
        self.answer = answer
        self.view.what_if_answer = message(answer, number, self.outcome.raise_)
        self.full.value = answer_html(answer)

    def _failed(self, number: int, error: Exception) -> None:
        self.answer = None
        self.view.what_if_answer = failed_message(error, number)
        self.full.value = f'<p class="short">NOT EVALUATED: {escape(str(error))}</p>'

    def _keep(self) -> None:
        if self.answer is None:
            self._say("there is no what-if to keep: drag a slider first")
            return
        try:
            self.variants = self.variants.keep(self.name.value, self.answer)
        except ValueError as error:
            self._say(str(error))
            return
        self._say(f"kept as {self.name.value.strip()}; the plan is untouched", wrong=False)
        self._silent = True
        try:
            self.variant.options = [
                ("variants", ""),
                *((name, name) for name in self.variants.names),
            ]
        finally:
            self._silent = False
        self.kept.value = _kept_html(self.variants)

    def _recall(self, name: str) -> None:
        if name:
            self.try_out(self.variants.of(name).asked)

    def _say(self, words: str, *, wrong: bool = True) -> None:
        kind = "short" if wrong else "said"
        self.said.value = f'<span class="{kind}">{escape(words)}</span>'

    def _list_gaps(self) -> None:
        stage = self.moment.passage.stage if self.gap_of.value == "this stage" else ""
        self._rows: tuple[GapRow, ...] = gap_rows(self.outcome, stage)
        self._silent = True
        try:
            self.gaps.options = [(row.line, n) for n, row in enumerate(self._rows)]
            self.gaps.value = None
        finally:
            self._silent = False

    def _go_to_gap(self, number: int | None) -> None:
        at = None if number is None else self._rows[number].position
        if at is not None:
            self.view.position = at

    def _start_making(self) -> None:
        self.make.disabled, self.made.value = True, "Making it …"
        self.bar.value, self.bar.layout.display = 0, ""
        kind, moment = self.kind.value, self.moment
        Thread(
            target=self.make_one, args=(kind, moment), name="towerlift pictures", daemon=True
        ).start()

    def make_one(self, kind: str, moment: Moment | None = None) -> Path | None:
        """Make a picture, a film or a file, and say where it went.

        Parameters
        ----------
        kind : str
            As the list names it.
        moment : Moment or None
            Of the raise; None takes where it is.

        Returns
        -------
        path : Path or None
            None where it could not be written; the panel says why.
        """
        taking = Taking(
            outcome=self.outcome,
            scene=self.scene,
            moment=self.moment if moment is None else moment,
            folder=self._folder,
            tell=self._count,
        )
        try:
            path = take(kind, taking)
        except (OSError, ValueError) as error:
            self.made.value = f'<p class="short">Not made: {escape(str(error))}</p>'
            return None
        finally:
            self.make.disabled, self.bar.layout.display = False, "none"
        size = path.stat().st_size / 1e6
        name = f"{path.parent.name}/{path.name}"
        self.made.value = f"<p>Written: {escape(name)}, {size:.1f} MB.</p>"
        return path

    def _count(self, done: int, of: int) -> None:
        self.bar.max, self.bar.value = of, done


def _kept_html(variants: Variants[Answer]) -> str:
    heads_ = "".join(
        f"<th>{w}</th>" for w in ("variant", "where", "what", "verdict", "least gap")
    )
    rows = []
    for name, answer in variants.kept:
        near = answer.near
        gap = "–"
        if near is not None:
            # Never rounded up: a gap is not to look wider than it is.
            gap = f"{floor(1e3 * near.gap)} mm, {near.mark} to {near.against}"
        heel = "" if answer.heel is None else f", heel {answer.heel:.2f} m"
        cells = (
            name,
            f"{answer.stage}{heel}",
            answer.asked.in_words() or "as it should be",
            VERDICTS[answer.verdict],
            gap,
        )
        rows.append("".join(f"<td>{escape(cell)}</td>" for cell in cells))
    body = "".join(f"<tr>{row}</tr>" for row in rows)
    return f"<table><tr>{heads_}</tr>{body}</table>"


def _button(words: str, tooltip: str) -> widgets.Widget:
    layout = {"width": "116px", "flex": "0 0 auto"}
    return widgets.Button(description=words, tooltip=tooltip, layout=layout)
