"""The planner's panel, its callbacks called as the browser would call them."""

import json
from dataclasses import replace
from io import BytesIO
from typing import Any

import numpy as np
import pytest
import traitlets
from ipywidgets.embed import dependency_state
from PIL import Image

from tests.unit.what_if.made import haul, tiny_outcome
from tests.views.made import made_outcome
from towerlift.motion.travel import locate
from towerlift.nesting.bodies import Label
from towerlift.nesting.budget import GapBudget
from towerlift.nesting.margins import Margin
from towerlift.panels import PlannerPanel, planner
from towerlift.panels.gap_rows import gap_rows
from towerlift.panels.planner import HEIGHTS
from towerlift.panels.stills import still_of
from towerlift.panels.takings import KINDS
from towerlift.panels.tries import message
from towerlift.what_if import WhatIf
from towerlift.what_if.answers import ShoeLoad

PATIENCE = 60.0
OUTCOME = made_outcome()


@pytest.fixture
def panel(tmp_path):
    made = PlannerPanel(OUTCOME, folder=tmp_path / "pictures")
    yield made
    made.close()


@pytest.fixture
def trying(tmp_path):
    """A panel of the small plan, in the middle of the belfry's haul, ready for what-ifs."""
    made = PlannerPanel(tiny_outcome(), folder=tmp_path / "pictures")
    made.view.position = haul(made.outcome, "belfry", 1) + 0.5
    made.tab.value = "What if"
    assert made.worker.settle(PATIENCE)
    yield made
    made.close()


def ask(panel, number, **values):
    """Drag sliders, as the browser tells it."""
    panel.view.what_if_request = {
        "number": number,
        "position": float(panel.view.position),
        "values": values,
    }
    assert panel.worker.settle(PATIENCE)


def test_it_opens_at_the_worst_finding_with_every_slider_put_away(panel):
    assert panel.view.finding == 0
    assert panel.view.what_if_sliders == []
    assert panel.pane.children == ()
    assert panel.view.height == HEIGHTS["laptop"][0]


def test_panes_open_one_at_a_time_and_make_room(panel):
    for tab in ("Gaps", "Pictures", "What if"):
        panel.tab.value = tab
        assert len(panel.pane.children) >= 2
        assert panel.view.height == HEIGHTS["laptop"][1]
    panel.large.value = "projector"
    assert panel.view.height == HEIGHTS["projector"][1]
    panel.tab.value = "Raise"
    assert panel.pane.children == ()
    assert panel.view.height == HEIGHTS["projector"][0]


def test_opening_what_if_tells_how_it_hangs_as_planned(trying):
    assert [each["key"] for each in trying.view.what_if_sliders][:2] == [
        "lean_east",
        "lean_north",
    ]
    answer = trying.view.what_if_answer
    assert answer["position"] == pytest.approx(trying.view.position)
    # Leg to leg at the corners: 2.05 m inside the belfry's, 1.75 m outside the spire's.
    assert answer["gap"]["least"] == pytest.approx(np.hypot(0.3, 0.3), abs=1e-6)
    assert "as it should be" in trying.full.value
    assert trying.behind.value == "C5"


def test_a_slider_is_answered_with_numbers_limits_and_a_pose(trying):
    ask(trying, 7, drift_east=100, lean_north=2)
    answer = trying.view.what_if_answer
    assert answer["number"] == 7
    tilt_x, tilt_y, yaw, drift_x, _ = answer["poses"]["belfry"]
    assert tilt_x == pytest.approx(-0.002, abs=1e-5)
    assert (tilt_y, yaw) == (pytest.approx(0, abs=1e-6), pytest.approx(0, abs=1e-6))
    assert drift_x == pytest.approx(0.1, abs=1e-6)
    rows = {row["name"]: row for row in answer["rows"]}
    assert rows["clearance"]["verdict"] == "passes"
    assert "asked ≥" in rows["clearance"]["value"]
    assert rows["level"]["verdict"] in ("passes", "FAILS")
    assert "kN" in rows["fullest lines"]["value"]
    # Where each limit comes from stands below.
    assert "running clearance by common practice" in trying.full.value
    assert "belfry lift stops hauling" in trying.full.value
    json.dumps(answer)


def test_the_picture_is_told_what_lines_and_shoes_take(trying):
    ask(trying, 8, drift_east=100)
    told = trying.view.what_if_answer
    moving = trying.moment.passage.index
    weight = next(h.weight[0] for h in trying.outcome.hangs if h.passage == moving)
    assert sum(line["tension"] for line in told["lines"]) == pytest.approx(weight, rel=0.02)
    assert told["arrows"] == []  # it hangs free
    shoes = [
        ShoeLoad(face=face, height=1.0, force=force, left=0.0, at=(1.0, 2.0, 5.0))
        for face, force in (("east", 2000.0), ("south", 300.0), ("west", 0.0))
    ]
    answer = replace(trying.answer, shoes=tuple(shoes))
    east, south = message(answer, 8, trying.outcome.raise_)["arrows"]
    # A rail presses the shoe inward.
    assert east == {"at": [1.0, 2.0, 5.0], "force": [-2000.0, 0.0, 0.0], "name": "shoe east"}
    assert south["force"] == [0.0, 300.0, 0.0]


def test_the_crew_behind_is_asked_about_anew_when_another_is_chosen(trying):
    ask(trying, 1, by=30)
    first = trying.view.what_if_answer
    trying.behind.value = "C7"
    assert trying.worker.settle(PATIENCE)
    other = trying.view.what_if_answer
    assert other["number"] == first["number"]
    assert other["poses"] != first["poses"]
    assert "C7 30 mm behind" in trying.full.value


def test_wind_is_asked_by_the_compass(trying):
    ask(trying, 2, gust=6, from_north=90)
    assert trying.answer.asked.towards == pytest.approx(0.0)
    ask(trying, 3, gust=6, from_north=0)
    assert trying.answer.asked.towards == pytest.approx(np.pi / 2)


def test_what_cannot_be_asked_is_answered_too(trying):
    ask(trying, 4, no_such_slider=1)
    answer = trying.view.what_if_answer
    assert answer["number"] == 4
    assert answer["rows"][0]["verdict"] == "NOT EVALUATED"
    assert "no_such_slider" in trying.full.value
    assert trying.answer is None
    ask(trying, 5, lean_east=float("inf"))
    assert trying.view.what_if_answer["number"] == 5
    assert trying.view.what_if_answer["poses"] == {}


def test_where_nothing_hangs_it_says_so(trying):
    still = next(p for p in trying.outcome.raise_.passages if not p.moving)
    trying.view.position = float(still.index)
    ask(trying, 6, lean_east=3)
    assert trying.view.what_if_answer["rows"][0]["verdict"] == "NOT EVALUATED"
    assert "nothing hangs free" in trying.view.what_if_answer["rows"][0]["value"]
    assert trying.behind.options == (("no crew", ""),)


def test_a_variant_is_kept_and_called_back(trying):
    trying.keep.click()
    trying.name.value = " "
    trying.keep.click()
    assert "needs a name" in trying.said.value
    ask(trying, 1, drift_north=-50, by=20)
    at = float(trying.view.position)
    trying.name.value = "over to the south"
    trying.keep.click()
    assert "kept as over to the south" in trying.said.value
    trying.keep.click()
    assert "already" in trying.said.value
    assert "drifts 50 mm south" in trying.kept.value
    ask(trying, 2, drift_north=0)
    trying.view.position = 0.0
    trying.variant.value = "over to the south"
    assert trying.worker.settle(PATIENCE)
    assert trying.view.position == pytest.approx(at)
    values = {each["key"]: each["value"] for each in trying.view.what_if_sliders}
    assert (values["drift_north"], values["by"], values["lean_east"]) == (-50, 20, 0)
    assert trying.answer.asked.drift_north == pytest.approx(-0.05)
    assert trying.behind.value == trying.answer.asked.behind != ""
    assert trying.view.what_if_answer["position"] == pytest.approx(at)


def test_put_away_sliders_try_nothing(trying):
    ask(trying, 3, lean_east=5)
    trying.tab.value = "Gaps"
    assert trying.view.what_if_sliders == []
    trying.behind.value = "C6"
    assert trying.worker.settle(PATIENCE)
    assert trying.answer.asked.lean_east == pytest.approx(0.005)


def test_a_what_if_may_be_asked_from_a_cell(trying):
    passage = haul(trying.outcome, "belfry", 0)
    trying.try_out(WhatIf(passage=passage, share=0.5, yaw=0.01, behind="C6", by=0.01))
    assert trying.worker.settle(PATIENCE)
    assert trying.view.position == passage + 0.5
    assert trying.answer.asked.behind == "C6"
    values = {each["key"]: each["value"] for each in trying.view.what_if_sliders}
    assert (values["yaw"], values["by"]) == (10, 10)


def margin(passage, gap, heel, *, need=0.03):
    label = Label(body="outer", mark="girt E1", part="girt")
    return Margin(
        stage="A2",
        passage=passage,
        moving="outer",
        against="shaft",
        label=label,
        opposite=Label(body="shaft", mark="east wall", part="east wall"),
        gap=gap,
        budget=GapBudget(
            running=need, play=0, swelling=0, fabrication=0, survey=0, tilt=0, sway=0
        ),
        heel=heel,
        heels=(heel, heel),
        where=(2.0, 0.0, 5.0),
        across=(3.0, 0.0, 5.0),
        why="" if gap is not None else "not certified",
    )


def test_gaps_are_listed_tightest_first_and_choosing_one_goes_there(tmp_path):
    nesting = replace(
        OUTCOME.nesting,
        margins=(margin(6, 0.1, 1.0), margin(6, 0.05, 3.0), margin(7, None, 6.0),
                 margin(8, 0.02, 9.75)),
    )  # fmt: skip
    outcome = replace(OUTCOME, nesting=nesting)
    rows = gap_rows(outcome)
    verdicts = ["NOT\u00a0EVALUATED", "FAILS", "passes"]
    assert [row.line.startswith(v) for row, v in zip(rows, verdicts, strict=True)] == [True] * 3
    assert "50\u00a0mm" in rows[2].line
    assert "100\u00a0mm" not in "".join(row.line for row in rows)
    panel = PlannerPanel(outcome, folder=tmp_path)
    panel.tab.value = "Gaps"
    panel.gap_of.value = "whole raise"
    panel.gaps.value = 1
    # Outer sinks from 10 to 9.5 m in passage 8: half way at 9.75 m.
    assert panel.view.position == pytest.approx(8.5)
    panel.gaps.value = 2
    assert panel.view.position == pytest.approx(6.75)
    panel.close()


@pytest.mark.parametrize("kind", [kind for kind in KINDS if "film" not in kind])
def test_everything_that_can_be_made_is_made(panel, kind):
    panel.view.position = 6.5
    panel.kind.value = kind
    path = panel.make_one(kind)
    assert path is not None
    assert path.parent.name == "pictures"
    assert "Written: pictures/" in panel.made.value
    starts = {".png": b"\x89PNG", ".glb": b"glTF", ".html": b"<!doctype html>"}
    assert path.read_bytes().startswith(starts[path.suffix])
    if "moment" in kind:
        assert path.stem.endswith("A2 step 7 heel 2.00 m")


def test_a_film_tells_how_far_it_is(panel, monkeypatch):
    told = []

    def write(scene, plan, path, *, tell, **rest):
        tell(1, 4)
        told.append((panel.bar.value, panel.bar.max))
        path.write_bytes(b"film")

    monkeypatch.setattr("towerlift.panels.takings.write_movie", write)
    assert panel.make_one("film of the raise (MP4)") is not None
    assert panel.make_one("small film (GIF)") is not None
    assert told == [(1, 4), (1, 4)]


def test_what_cannot_be_written_says_so(tmp_path):
    (tmp_path / "pictures").write_text("a file is in the way")
    panel = PlannerPanel(OUTCOME, folder=tmp_path / "pictures")
    assert panel.make_one("the nest, taken apart") is None
    assert "Not made" in panel.made.value
    assert not panel.make.disabled
    panel.close()


def test_no_made_up_place(panel):
    with pytest.raises(traitlets.TraitError, match="position"):
        panel.view.position = 1000.0


def test_the_saved_state_stays_small(trying):
    ask(trying, 1, lean_east=2)
    trying.tab.value = "Gaps"
    # Of this panel alone: other tests leave widgets behind.
    state = dependency_state(trying.widget, drop_defaults=False)
    assert len(state) > 20
    assert len(json.dumps(state)) < 1_000_000


def test_a_still_is_left_that_says_what_it_is(panel, monkeypatch):
    shown: list[Any] = []
    monkeypatch.setattr(planner, "show", shown.append)
    panel._ipython_display_()
    assert shown[0] is panel.widget
    with Image.open(BytesIO(shown[1].data)) as image:
        still = np.asarray(image.convert("RGB"))
    assert len(shown[1].data) < 1_000_000
    # The raise at the worst finding: the outer frame's oak is seen, and words below it.
    assert still.shape[1] == 560
    assert still.shape[0] > 420 + 60
    assert (still[424:].min(axis=2) < 90).sum() > 300
    assert shown[1].data == still_of(OUTCOME, panel.scene)
    assert locate(OUTCOME.raise_, 6.75).passage.stage == "A2"
