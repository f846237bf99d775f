"""Papers of the Tidewatch: every page of both plans, and the same bytes twice."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2
import pytest

from tests.unit.documents.made import body_of, squeezed, text_of
from towerlift.documents.binder import all_papers, paper_files
from towerlift.documents.edition import Edition, PageSize, hauling_stages
from towerlift.documents.fonts import printable
from towerlift.documents.holds import NOT_RELEASED
from towerlift.documents.lift_plan import lift_plan
from towerlift.documents.press import press_pdf
from towerlift.documents.stage_cards import stage_cards
from towerlift.documents.work_windows import work_window_sheet
from towerlift.drawings.lengths import Measure
from towerlift.findings import Verdict
from towerlift.plan import read_plan
from towerlift.workflow import check_plan

FOLDER = Path(__file__).resolve().parents[2] / "meshes" / "tidewatch"
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def outcomes():
    names = ("plan.toml", "plan-corrected.toml")
    return {name: check_plan(read_plan(FOLDER / name), FOLDER) for name in names}


@pytest.mark.parametrize("name", ["plan.toml", "plan-corrected.toml"])
@pytest.mark.parametrize(
    ("page", "measure"), [(PageSize.A4, Measure.METRIC), (PageSize.LETTER, Measure.FEET)]
)
def test_no_page_is_empty_and_nothing_runs_off_it(outcomes, name, page, measure):
    told = Edition(outcome=outcomes[name], page=page, measure=measure)
    for paper in all_papers(told):
        document = pypdfium2.PdfDocument(press_pdf(paper, told))
        for number, sheet in enumerate(document, start=1):
            ink = np.asarray(sheet.render(scale=1.0).to_pil().convert("L")) < 200
            height, width = ink.shape
            body = ink[int(0.08 * height) : int(0.92 * height)]
            assert body.mean() > 0.001, (paper.name, number)
            edge = int(0.02 * min(width, height))
            rim = [ink[:edge], ink[-edge:], ink[:, :edge], ink[:, -edge:]]
            assert not any(part.any() for part in rim), (paper.name, number)
        document.close()


def test_the_draft_is_told_for_what_it_is(outcomes):
    told = Edition(outcome=outcomes["plan.toml"])
    text = body_of(press_pdf(lift_plan(told, parts=("Findings",)), told), told)
    unhappy = [f for f in told.outcome.findings if f.verdict is not Verdict.PASS]
    assert len(unhappy) > 20
    for finding in unhappy:
        assert squeezed(printable(finding.subject)) in text
        assert squeezed(printable(finding.limit_in_force.source)) in text
        assert squeezed(printable(finding.why)) in text
    for paper in all_papers(told):
        for leaf in paper.leaves:
            if paper.name in ("stage-cards", "crew-cards", "lock-certificates"):
                assert leaf.stamp == NOT_RELEASED, leaf.title


@pytest.mark.parametrize("page", list(PageSize))
def test_front_and_back_of_a_card_are_a_page_each(outcomes, page):
    told = Edition(outcome=outcomes["plan-corrected.toml"], page=page)
    cards = stage_cards(told)
    moving = {f"Stage {stage.name}" for stage in hauling_stages(told)}
    for leaf in cards.leaves:
        stage, _, rest = leaf.title.partition(":" if ":" in leaf.title else ",")
        if stage in moving and (":" in leaf.title or rest == " before and after"):
            pages = text_of(press_pdf(replace(cards, leaves=(leaf,)), told))
            assert len(pages) == 1, leaf.title


def test_the_same_plan_gives_the_same_bytes(outcomes):
    outcome = outcomes["plan-corrected.toml"]
    once = dict(paper_files(Edition(outcome=outcome)))
    twice = dict(paper_files(Edition(outcome=replace(outcome))))
    assert once.keys() == twice.keys()
    assert [name for name in once if once[name] != twice[name]] == []


def test_nets_are_held_to_the_rule_and_second_hand_figures_only_told(outcomes):
    """1.05 m down: 8 ft by the rule that decides, 2.5 m by figures read second-hand."""
    told = Edition(outcome=outcomes["plan-corrected.toml"])
    text = squeezed(" ".join(text_of(press_pdf(work_window_sheet(told), told))))
    assert squeezed("roofers' net ring deck 1.05 2.50 2.44 2.50") in text
    assert squeezed("US 29 CFR 1926.502(c)(1) and (2), which decides") in text
    assert squeezed("UNVERIFIED, to compare") in text
    assert text.count(squeezed("unverified: read second-hand")) == 2
