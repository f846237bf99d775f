"""The rope clearance inside its limit, on it, outside, and with no value."""

from dataclasses import replace

import pytest

from tests.plans.factory import tiny_plan
from towerlift.checks import rope_clearance
from towerlift.checks.case import Case
from towerlift.checks.rope_clearance import (
    check_rope_clearance,
    opening_card,
    opening_rows,
    opening_words,
)
from towerlift.findings import Verdict
from towerlift.motion import follow_stages
from towerlift.plan.rigging import Opening
from towerlift.rig.rope_search import RopeGap
from towerlift.rig.rope_ways import RopeWay
from towerlift.shapes import build_shapes
from towerlift.shapes.unseen import UNSEEN

PASS, FAIL, NOT = Verdict.PASS, Verdict.FAIL, Verdict.NOT_EVALUATED
STAGE, LIFT, TACKLE = "belfry up", "belfry lift", "belfry lift.1"
SLOT = Opening.model_validate({
    "name": "slot north",
    "of": "deck",
    "member": "deck 1",
    "kind": "slot",
    "lifts": [LIFT],
    "tackles": [TACKLE],
    "centre": ["1 m", "2 m", "14 m"],
    "clear_east": "400 mm",
    "clear_north": "120 mm",
})  # fmt: skip


def gap(at, *, moves=0.01, member="cap N", certified=True, opening=None):
    return RopeGap(
        body="belfry",
        member=member,
        opening=opening,
        run="tackle",
        gap=at,
        certified=certified,
        moves=moves,
        heel=3.5,
        where=(1.0, 2.0, 12.25),
    )


def found(tmp_path, monkeypatch, gaps, *, unknown="", **changes):
    """The finding on one way, as if that had been reckoned."""
    plan = tiny_plan(**changes)
    case = Case(plan=plan, shapes=build_shapes(plan, tmp_path), raise_=follow_stages(plan))
    way = RopeWay(stage=STAGE, lift=LIFT, tackle=TACKLE, gaps=tuple(gaps), unknown=unknown)
    monkeypatch.setattr(rope_clearance, "rope_ways", lambda shop, allowed: [way])
    (finding,) = check_rope_clearance(case)
    return finding


@pytest.mark.parametrize(
    ("left", "verdict"), [(0.0301, PASS), (0.03, PASS), (0.0299, FAIL), (-0.016, FAIL)]
)
def test_inside_on_and_outside(tmp_path, monkeypatch, left, verdict):
    finding = found(tmp_path, monkeypatch, [gap(left)])
    assert finding.verdict is verdict
    assert finding.limit.value == pytest.approx(30.0)
    assert finding.limit.source.startswith("20 mm by common practice, no source")
    assert (finding.heel, finding.where) == (3.5, (1.0, 2.0, 12.25))
    assert "belfry: cap N at z 12.25 m" in finding.why
    assert bool(finding.remedy) is (verdict is FAIL)


HOLE = "hole 1 in the scan, north wall, z 5.00 to 6.00 m"


def test_a_gap_that_relies_on_a_hole_of_the_scan_has_no_verdict(tmp_path, monkeypatch):
    unseen = replace(gap(0.10, member=HOLE), body=UNSEEN)
    for seen in ([], [gap(0.12)], [gap(0.12, certified=False)]):
        finding = found(tmp_path, monkeypatch, [*seen, unseen])
        assert finding.verdict is NOT
        assert f"relies on what the scan did not see: {HOLE}" in finding.why
    # What was seen fails already, or is nearer than the hole.
    assert found(tmp_path, monkeypatch, [gap(0.01), unseen]).verdict is FAIL
    finding = found(tmp_path, monkeypatch, [gap(0.05), unseen])
    assert finding.verdict is PASS
    assert finding.value == pytest.approx(50.0)


def test_a_line_that_bears_chafes(tmp_path, monkeypatch):
    finding = found(tmp_path, monkeypatch, [gap(-0.016), gap(0.01, member="girt N5")])
    assert "bears on belfry: cap N" in finding.why
    assert "chafes" in finding.why
    assert "also too near: belfry: girt N5" in finding.why
    assert finding.subject == f"{LIFT}, tackle {TACKLE}"


@pytest.mark.parametrize(
    ("gaps", "unknown"),
    [
        ([gap(0.5, certified=False)], ""),
        ([gap(0.5)], "the loads of lift belfry lift could not be found"),
        ([], "the loads of lift belfry lift could not be found"),
    ],
)
def test_without_a_value_it_is_not_evaluated(tmp_path, monkeypatch, gaps, unknown):
    finding = found(tmp_path, monkeypatch, gaps, unknown=unknown)
    assert finding.verdict is NOT
    assert unknown in finding.why


def test_what_bears_fails_however_it_sways(tmp_path, monkeypatch):
    finding = found(tmp_path, monkeypatch, [gap(-0.016)], unknown="not known")
    assert finding.verdict is FAIL


def test_nothing_near_passes(tmp_path, monkeypatch):
    finding = found(tmp_path, monkeypatch, [])
    assert (finding.verdict, finding.value) == (PASS, 250.0)


def test_a_limit_of_the_plan_and_an_overrule(tmp_path, monkeypatch):
    limits = [{"limit": "rope clearance", "value": "50 mm", "source": "the rigger"}]
    finding = found(tmp_path, monkeypatch, [gap(0.05)], limits=limits)
    assert (finding.verdict, finding.limit.value) == (FAIL, pytest.approx(60.0))
    overrules = [
        {
            "limit": "rope clearance",
            "subject": f"{LIFT}, tackle {TACKLE}",
            "value": "35 mm",
            "by": "Ansa Morrow",
            "note": "served and watched",
        }
    ]
    finding = found(tmp_path, monkeypatch, [gap(0.05)], limits=limits, overrules=overrules)
    assert finding.verdict is PASS
    assert finding.overrule is not None
    assert finding.overrule.limit.value == pytest.approx(45.0)


def test_an_opening_is_named_with_its_width(tmp_path, monkeypatch):
    finding = found(tmp_path, monkeypatch, [gap(0.02, opening=SLOT)])
    assert "the side of slot 400 by 120 mm in deck: deck 1" in finding.why
    assert finding.remedy[0].startswith("widen the opening")


def test_words_of_an_opening():
    assert opening_words(SLOT) == "slot 400 by 120 mm in deck: deck 1"
    ((name, what, lines, left),) = opening_rows([SLOT])
    assert (name, what) == ("slot north", opening_words(SLOT))
    assert lines == f"{TACKLE} of {LIFT}"
    assert left.startswith("NOT EVALUATED")
    passed = SLOT.model_copy(update={"passed_by": "Ansa Morrow", "note": "two thirds left"})
    assert next(opening_rows([passed]))[3] == "passed by Ansa Morrow: two thirds left"
    bay = SLOT.model_copy(update={"kind": "bay"})
    assert next(opening_rows([bay]))[3] == "nothing is cut"


@pytest.mark.parametrize(("of", "stage", "lines"), [
    ("pendants", STAGE, 1), ("pendants", "spire up", 0), ("deck", STAGE, 0),
])  # fmt: skip
def test_the_card_tells_the_openings_of_its_stage(tmp_path, of, stage, lines):
    plan = tiny_plan()
    plan = plan.model_copy(update={"openings": (SLOT.model_copy(update={"of": of}),)})
    case = Case(plan=plan, shapes=build_shapes(plan, tmp_path), raise_=follow_stages(plan))
    told = list(opening_card(case, stage))
    assert len(told) == lines
    assert all("NOT EVALUATED" in words and TACKLE in words for _, words in told)
