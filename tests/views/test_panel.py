"""The planner's panel, its callbacks called as the browser would call them."""

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from tests.views.made import made_outcome
from towerlift.panels import PlannerPanel
from towerlift.panels.choice import PlannerChoice
from towerlift.panels.planner import GAP_VIEW, PLAN_VIEW, SECTION_VIEW
from towerlift.panels.words import CAUTION, finding_html, list_line, place_html, quantity
from towerlift.scene import as_png

OUTCOME = made_outcome()


@pytest.fixture
def panel():
    return PlannerPanel(OUTCOME)


def number_of(words):
    return next(n for n, f in enumerate(OUTCOME.findings) if words in f.subject + f.why)


def test_it_opens_at_the_worst_finding(panel):
    assert panel.choice.chosen == 0
    assert panel.findings.value == 0
    assert panel.stage.value == OUTCOME.findings[0].stage


def test_the_caution_and_the_verdict_come_first(panel):
    assert CAUTION in panel.caution.value
    assert "2 fail, 1 not evaluated, 3 pass" in panel.caution.value
    assert panel.widget.children[0] is panel.caution


def test_the_slider_moves_everything(panel):
    panel.slider.value = 0.0
    before = (panel.whole.value, panel.gaps.value, panel.loads.value, panel.strip.value)
    panel.slider.value = 10.0
    after = (panel.whole.value, panel.gaps.value, panel.loads.value, panel.strip.value)
    assert all(a != b for a, b in zip(before, after, strict=True))
    assert panel.choice.passage.stage == "A2"
    assert panel.stage.value == "A2"
    heel = panel.choice.heel
    assert heel is not None
    assert f"heel {heel:.2f} m" in panel.gaps.value
    assert f"outer {heel:.2f} m moving" in panel.place.value


def test_the_ends_of_the_slider_are_the_ends_of_the_raise(panel):
    panel.slider.value = panel.slider.max
    assert panel.choice.position == pytest.approx(len(OUTCOME.raise_.passages))
    panel.slider.value = 0.0
    assert panel.choice.position == 0


def test_the_sliders_own_rounding_moves_nothing(panel):
    panel.findings.value = number_of("brace N3")
    before = panel.choice
    panel.slider.value += 0.02
    assert panel.choice is before


def test_choosing_a_finding_goes_to_it(panel):
    panel.findings.value = number_of("brace N3")
    assert panel.choice.passage.index == 6
    assert panel.choice.heel == pytest.approx(3.0)
    assert panel.slider.value == pytest.approx(0.25 * 5 + 6.0 + 3.0, abs=0.06)
    assert "FAILS" in panel.detail.value
    assert "20 mm short" in panel.detail.value
    assert "pare 50 mm off the foot" in panel.detail.value


def test_the_closer_view_looks_at_the_finding(panel):
    panel.findings.value = number_of("brace N3")
    views = {}
    for view in (GAP_VIEW, SECTION_VIEW, PLAN_VIEW):
        panel.view.value = view
        views[view] = panel.near.value
    assert len(set(views.values())) == 3
    panel.view.value = GAP_VIEW
    at_finding = panel._standpoint()
    assert at_finding.focus == OUTCOME.findings[panel.findings.value].where
    panel.slider.value = 0.0
    assert panel._standpoint().focus != at_finding.focus


def test_stage_jump_and_neighbouring_findings(panel):
    panel.stage.value = "A3"
    assert panel.choice.passage.index == 8
    panel.after.click()
    assert panel.choice.chosen == 1
    assert panel.findings.value == 1
    panel.before.click()
    assert panel.choice.chosen == 0


def test_the_list_follows_the_sieve(panel):
    panel.verdict.value = "not evaluated"
    assert len(panel.findings.options) == 1
    panel.verdict.value = ""
    panel.check.value = "clearance"
    assert len(panel.findings.options) == 2
    panel.of_stage.value = "A2"
    panel.text.value = "ledge"
    assert [n for _, n in panel.findings.options] == [number_of("brace N3")]
    panel.text.value = "nowhere"
    assert panel.findings.options == ()
    assert panel.after.disabled
    panel.text.value = ""
    assert not panel.after.disabled


def test_the_picture_is_a_png_of_its_size(panel, tmp_path):
    file = tmp_path / "whole.png"
    file.write_bytes(panel.whole.value)
    with Image.open(file) as image:
        assert f"{image.width}px" == panel.whole.layout.width
        assert f"{image.height}px" == panel.whole.layout.height
    pixels = np.zeros((2, 3, 3), dtype=np.uint8)
    pixels[1, 2] = (10, 20, 30)
    file.write_bytes(as_png(pixels))
    with Image.open(file) as image:
        assert np.array_equal(np.asarray(image), pixels)


def test_every_line_says_its_verdict_in_words():
    said = [list_line(finding) for finding in OUTCOME.findings]
    starts = ["FAILS", "FAILS", "NOT\u00a0EVALUATED", "passes", "passes", "passes"]
    assert [line.startswith(word) for line, word in zip(said, starts, strict=True)] == [
        True
    ] * 6
    assert len({line.index("\u00a0A") for line in said if "\u00a0A2" in line}) == 1


def test_an_overrule_names_person_and_note():
    html = finding_html(OUTCOME.findings[number_of("inner in outer")])
    assert "Wenna Holt, engineer" in html
    assert "sum 14" in html
    assert "at least 5 m" in html


def test_no_value_is_never_a_pass():
    html = finding_html(OUTCOME.findings[number_of("bell")])
    assert "NOT EVALUATED" in html
    assert "passes" not in html
    assert "no certificate was given" in html


def test_names_cannot_break_the_page():
    finding = replace(OUTCOME.findings[0], subject="<img src=x>", why="a & b")
    html = finding_html(finding)
    assert "<img" not in html
    assert "a &amp; b" in html


def test_place_in_words():
    html = place_html(PlannerChoice(outcome=OUTCOME).moved_to(7.5))
    assert "picks up inner" in html
    assert "outer 7.00 m moving" in html
    assert "outer not built" in place_html(PlannerChoice(outcome=OUTCOME))


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (11.0, "mm", "11 mm"),
        (2.35, "1", "2.35"),
        (1.0, "count", "1"),
        (18858.0, "kg", "18858 kg"),
    ],
)
def test_quantities(value, unit, words):
    assert quantity(value, unit) == words
