"""Clearance findings: each limit inside, on, outside and with no value."""

from dataclasses import replace

import pytest

from tests.unit.nesting.small import mast, small_plan, workshop
from towerlift.checks.case import Case
from towerlift.checks.clearance import check_clearance
from towerlift.findings import Verdict
from towerlift.nesting.bodies import Label
from towerlift.nesting.budget import GapBudget
from towerlift.nesting.margins import ContactGap, Cure, Margin, RestGap

# 20 + 3 + 10 + 5 + 7.5 = 45.5 mm.
BUDGET = GapBudget(
    running=0.020,
    play=0.0,
    swelling=0.003,
    fabrication=0.006,
    survey=0.008,
    tilt=0.005,
    sway=0.0075,
)
FOOT = Label(body="mast", mark="foot", part="brace foot")
LEDGE = Label(body="shaft", mark="ledge: L1", part="ledge")
SUBJECT = "mast: foot (brace foot) against shaft: ledge: L1"
MARGIN = Margin(
    stage="up",
    passage=5,
    moving="mast",
    against="shaft",
    label=FOOT,
    opposite=LEDGE,
    gap=0.0455,
    budget=BUDGET,
    heel=2.0,
    heels=(2.0, 2.0),
    where=(0.0, 1.32, 4.0),
    across=(0.0, 1.36, 4.0),
)
REST = RestGap(
    stage="up",
    step="assemble",
    subject="mast",
    against="shaft",
    label=FOOT,
    opposite=LEDGE,
    gap=0.0,
    where=(0.0, 1.3, 2.0),
    heel=0.0,
)
CONTACT = ContactGap(
    kind="shoe on runner",
    stage="up",
    passage=5,
    moving="mast",
    against="runners",
    label=FOOT,
    opposite=Label(body="runners", mark="R1", part="runner"),
    gap=0.013,
    heel=1.0,
    where=(0.0, 1.3, 2.0),
)
CURE = Cure(
    pare=0.01, gap_with_pared=0.05, next_label="", shift=(0.0, -0.01), gap_when_shifted=0.048
)


@pytest.fixture
def case(tmp_path):
    plan = small_plan()
    shop = workshop(plan, tmp_path)
    return Case(plan=plan, shapes=shop.shapes, raise_=shop.raise_)


def found(case, **changes):
    return list(check_clearance(replace(case, **changes)))


def only(case, **changes):
    (finding,) = found(case, **changes)
    return finding


def overruled(case, value, stage=""):
    row = {
        "limit": "running clearance",
        "subject": SUBJECT,
        "stage": stage,
        "value": value,
        "by": "Ansa Morrow",
        "note": "watched by two people with rods",
    }
    return replace(case, plan=small_plan(overrules=[row]))


@pytest.mark.parametrize(
    ("gap", "verdict"),
    [
        (0.0456, Verdict.PASS),
        (0.0455, Verdict.PASS),
        (0.045499, Verdict.FAIL),
        (0.0454, Verdict.FAIL),
        (-0.01, Verdict.FAIL),
        (None, Verdict.NOT_EVALUATED),
    ],
)
def test_the_budget_is_the_limit(case, gap, verdict):
    why = "the engine could not certify the gap" if gap is None else ""
    finding = only(case, margins=(replace(MARGIN, gap=gap, why=why),))
    assert finding.verdict is verdict
    assert finding.limit.value == pytest.approx(45.5)
    assert finding.subject == SUBJECT
    assert finding.heel == 2.0


def test_no_budget_is_no_pass(case):
    finding = only(case, margins=(replace(MARGIN, gap=1.0, budget=None, why="it topples"),))
    assert finding.verdict is Verdict.NOT_EVALUATED
    assert finding.why == "it topples"


def test_what_is_printed_is_never_rounded_up(case):
    # 45.4999 mm to two decimals would be 45.5, and pass.
    finding = only(case, margins=(replace(MARGIN, gap=0.0454999),))
    assert finding.value == 45.49
    assert finding.verdict is Verdict.FAIL


def test_the_reason_shows_the_sum(case):
    finding = only(case, margins=(replace(MARGIN, gap=0.040, heels=(1.9, 3.1)),))
    assert "on the north side" in finding.why
    assert "from heel 1.90 to 3.10 m" in finding.why
    assert "5.0 tilt + 7.5 sway = 45.5 mm" in finding.why


@pytest.mark.parametrize(
    ("value", "limit", "verdict"),
    [
        ("14 mm", 39.5, Verdict.PASS),
        ("14.5 mm", 40.0, Verdict.PASS),
        ("14.6 mm", 40.1, Verdict.FAIL),
        # Nothing but the running clearance can be overruled: 25.5 mm are left to be kept.
        ("0 mm", 25.5, Verdict.PASS),
        ("30 mm", 55.5, Verdict.FAIL),
    ],
)
def test_overruling_the_running_clearance_keeps_the_rest_of_the_budget(
    case, value, limit, verdict
):
    finding = only(overruled(case, value), margins=(replace(MARGIN, gap=0.040),))
    assert finding.overrule.limit.value == pytest.approx(limit)
    assert finding.verdict is verdict
    assert finding.limit.value == pytest.approx(45.5)
    assert finding.overrule.by == "Ansa Morrow, master of the raise"


def test_play_of_the_shoes_stays_when_running_is_overruled(case):
    guided = replace(BUDGET, play=0.018)
    finding = only(
        overruled(case, "5 mm"), margins=(replace(MARGIN, gap=0.040, budget=guided),)
    )
    assert finding.overrule.limit.value == pytest.approx(45.5 - 20 + 18)
    assert finding.verdict is Verdict.FAIL


def test_an_overrule_of_another_stage_or_subject_is_not_taken(case):
    assert only(overruled(case, "0 mm", "down"), margins=(MARGIN,)).overrule is None
    other = replace(MARGIN, label=replace(FOOT, mark="foot 2"))
    assert only(overruled(case, "0 mm"), margins=(other,)).overrule is None


def test_a_limit_set_by_the_plan_names_its_source(case):
    row = {"limit": "running clearance", "value": "25 mm", "source": "Ansa Morrow, surveyed"}
    finding = only(replace(case, plan=small_plan(limits=[row])), margins=(MARGIN,))
    assert "Ansa Morrow, surveyed" in finding.limit.source


def test_remedies_best_first(case):
    short = replace(MARGIN, gap=0.040, cure=CURE)
    pare, move, cut = only(case, margins=(short,)).remedy
    assert pare == "pare 10 mm off foot: the gap becomes 50 mm"
    assert "move the plumb line 10 mm south, to (0, -10) mm" in move
    assert "is then 48 mm" in move
    assert cut.startswith("cut 10 mm off the masonry: ledge: L1")


def test_no_one_is_told_to_pare_a_leg_away(case):
    deep = replace(MARGIN, gap=-0.2, cure=replace(CURE, pare=0.25, gap_when_shifted=-0.1))
    remedies = only(case, margins=(deep,)).remedy
    assert remedies
    assert not any("pare" in text or "plumb" in text for text in remedies)


def test_upright_gaps_are_cured_by_heights(case):
    under = replace(MARGIN, gap=0.01, across=(0.0, 1.32, 4.05), against="beam")
    assert under.face == "above"
    first, *_ = only(case, margins=(under,)).remedy
    assert first.startswith("keep mast out of heel")


@pytest.mark.parametrize(
    ("gap", "verdict"),
    [
        (0.001, Verdict.PASS),
        (0.0, Verdict.PASS),
        (-0.00001, Verdict.FAIL),
        (-0.3, Verdict.FAIL),
        (None, Verdict.NOT_EVALUATED),
    ],
)
def test_bodies_at_rest_may_touch_and_not_overlap(case, gap, verdict):
    why = "not surveyed" if gap is None else ""
    finding = only(case, rests=(replace(REST, gap=gap, why=why),))
    assert finding.verdict is verdict
    assert finding.check == "clearance at rest"
    assert bool(finding.remedy) is (verdict is Verdict.FAIL)


def test_the_worst_of_several_rests_is_told(case):
    unknown = replace(REST, gap=None, why="not surveyed")
    assert only(case, rests=(REST, replace(REST, gap=-0.1))).value == -100.0
    # What is known to overlap is not hidden by what is not known, nor that by a gap.
    assert only(case, rests=(unknown, replace(REST, gap=-0.1), REST)).value == -100.0
    finding = only(case, rests=(replace(REST, gap=0.2), unknown, REST))
    assert finding.verdict is Verdict.NOT_EVALUATED
    assert finding.why == "not surveyed"


@pytest.mark.parametrize(
    ("gap", "verdict"),
    [
        # 3 mm of swelling: 13 mm dry leaves 10 wet.
        (0.0131, Verdict.PASS),
        (0.013, Verdict.PASS),
        (0.01299, Verdict.FAIL),
        (-0.005, Verdict.FAIL),
        (None, Verdict.NOT_EVALUATED),
    ],
)
def test_a_shoe_keeps_its_gap_when_wet(case, gap, verdict):
    finding = only(case, contacts=(replace(CONTACT, gap=gap),))
    assert finding.check == "running gap"
    assert finding.verdict is verdict


@pytest.mark.parametrize(
    ("gap", "value", "verdict"),
    [
        (0.05, 0.0, Verdict.PASS),
        (0.0, 0.0, Verdict.PASS),
        (-0.0029, 2.9, Verdict.PASS),
        (-0.003, 3.0, Verdict.PASS),
        (-0.003001, 3.01, Verdict.FAIL),
        (-0.2, 200.0, Verdict.FAIL),
        (None, None, Verdict.NOT_EVALUATED),
    ],
)
def test_a_bearing_beds_in_a_little(case, gap, value, verdict):
    finding = only(case, contacts=(replace(CONTACT, kind="heel on needle", gap=gap),))
    assert finding.check == "meant contact"
    assert finding.value == value
    assert finding.verdict is verdict


def test_swelling_of_both_sections_counts_at_a_shoe(case):
    plan = small_plan(sections=[mast(swelling="3 mm"), mast(name="base", swelling="4 mm")])
    twin = replace(case, plan=plan)
    finding = only(twin, contacts=(replace(CONTACT, against="base"),))
    assert finding.value == pytest.approx(6.0)
