"""Bury against the two rules of common practice, and the nest ledge.

The belfry is 4.5 m wide and the spire 3.5 m: 1.5 widths are 6.75 and 5.25 m, by hand.
"""

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plans.factory import (
    assemble,
    fixture,
    hoist,
    install,
    legs,
    lift,
    orderly_stages,
    section,
    stage,
    tiny_plan,
)
from towerlift.checks.bury import BURY, NEST, check_bury, usual_bury
from towerlift.checks.case import Case
from towerlift.findings import Verdict
from towerlift.motion import follow_stages
from towerlift.shapes import build_shapes

FIXTURES = [
    fixture("gantry", "gantry", 40.0),
    fixture("low needles", "needle", 9.8),
    fixture("high needles", "needle", 15.0),
    fixture("pendants", "pendant", 30.0),
    fixture("deck", "deck", 9.0),
]
LIFTS = [
    lift("spire lift", "spire", "gantry", (1, 2, 3, 4)),
    lift("upper lift", "spire", "belfry", (1, 2, 3, 4)),
    lift("belfry lift", "belfry", "gantry", (5, 6, 7, 8)),
]
# The belfry locked on needles at heel 10 with the spire on its ledge, 6.8 m up: bury
# 12.5 - 6.8 = 5.7 m.
NESTED = orderly_stages()


def upper(to):
    """A stage that hoists the spire out of the belfry to a heel height."""
    return stage(
        "step",
        [
            *hoist("spire", "upper lift", to),
            {"do": "lock", "section": "spire", "on": "belfry"},
            {"do": "transfer", "section": "spire"},
        ],
    )


def check(stages, **changes):
    plan = tiny_plan(stages=stages, lifts=LIFTS, fixtures=FIXTURES, **changes)
    case = Case(plan=plan, shapes=build_shapes(plan, Path()), raise_=follow_stages(plan))
    return list(check_bury(case))


def of_limit(findings, usual):
    source = usual.source
    return {each.stage: each for each in findings if each.limit.source == source}


@pytest.mark.parametrize(
    ("width", "stack", "least", "rule"),
    [
        (3.5, 13.5, 5.25, "1.5 ×"),  # the spire
        (4.5, 12.5, 6.75, "1.5 ×"),  # the belfry
        (1.0, 10.0, 2.0, "1/4 of"),  # 2 m deep leave 8 m out, of which a quarter is 2 m
        (1.0, 7.5, 1.5, "1.5 ×"),  # both rules alike
    ],
)
def test_the_greater_rule_governs(width, stack, least, rule):
    found, governs = usual_bury(width, stack)
    assert found == pytest.approx(least)
    assert governs.startswith(rule)


@given(st.floats(0.1, 10), st.floats(1, 50))
def test_both_rules_are_met_and_one_exactly(width, stack):
    least, _ = usual_bury(width, stack)
    by_width, by_part_out = 1.5 * width, (stack - least) / 4
    assert least >= by_width - 1e-9
    assert least >= by_part_out - 1e-9
    assert least == pytest.approx(by_width) or least == pytest.approx(by_part_out)


def test_a_section_nested_deep_enough():
    (bury, nest) = check(NESTED)
    assert bury.verdict is Verdict.PASS
    assert (bury.subject, bury.stage) == ("spire", "belfry up")
    assert bury.value == pytest.approx(5.7)
    assert bury.limit.value == pytest.approx(5.25)
    assert bury.limit.unit == "m"
    assert (nest.value, nest.limit.value, nest.verdict) == (0.0, 0.0, Verdict.PASS)


@pytest.mark.parametrize(
    ("to", "value", "verdict"),
    # bury = 12.5 - (to - 10): 5.25 m at heel 17.25
    [
        (17.24, 5.26, Verdict.PASS),
        (17.25, 5.25, Verdict.PASS),
        (17.26, 5.24, Verdict.FAIL),
        (20.0, 2.5, Verdict.FAIL),
    ],
)
def test_bury_just_inside_at_and_outside(to, value, verdict):
    finding = of_limit(check([*NESTED, upper(to)]), BURY)["step"]
    assert finding.value == pytest.approx(value)
    assert finding.verdict is verdict
    assert finding.heel == pytest.approx(to)
    assert bool(finding.remedy) is (verdict is Verdict.FAIL)


def test_a_bury_that_stays_is_told_once_unless_it_is_overruled_in_one_stage():
    stages = [*NESTED, upper(20.0), stage("later", install("high needles"))]
    findings = [each for each in check(stages) if each.limit.source == BURY.source]
    assert [each.stage for each in findings] == ["belfry up", "step"]
    assert findings[1].why.endswith("so also in later")
    overrule = {
        "limit": BURY.name,
        "subject": "spire",
        "stage": "step",
        "value": "2 m",
        "by": "Ansa Morrow",
        "note": "overturning 1.6",
    }
    found = of_limit(check(stages, overrules=[overrule]), BURY)
    assert found["step"].verdict is Verdict.PASS
    assert found["later"].verdict is Verdict.FAIL


def test_the_first_remedy_says_where_to_stop():
    finding = of_limit(check([*NESTED, upper(20.0)]), BURY)["step"]
    assert "2.75 m lower" in finding.remedy[0]
    assert "17.25 m" in finding.remedy[0]


def test_bury_is_least_at_the_end_of_a_hoist_that_is_lowered_again():
    steps = [
        *hoist("spire", "upper lift", 20.0),
        {"do": "lower", "section": "spire", "to": "17 m"},
        {"do": "lock", "section": "spire", "on": "belfry"},
    ]
    finding = of_limit(check([*NESTED, stage("step", steps)]), BURY)["step"]
    assert finding.value == pytest.approx(2.5)
    assert "moving in lift upper lift" in finding.why or "parked in" in finding.why


def test_what_it_carries_stands_out_with_it():
    narrow = [
        section("base", 2.8, 13.0, nest_height="0.34 m"),
        section("belfry", 0.75, 12.5, nest_height="6.8 m"),
        section("spire", 0.5, 13.5),
    ]
    # Belfry locked in the base with the spire on its ledge: 6.8 + 13.5 = 20.3 m from its
    # heel, of which a fifth, 4.06 m, governs over 1.5 widths of 1.5 m.
    stages = [
        stage("nested", [
            *install("gantry"),
            assemble("base"),
            {"do": "assemble", "section": "belfry", "at": "0.34 m"},
            {"do": "fit", "item": "bell frame"},
            {"do": "assemble", "section": "spire", "at": "7.14 m"},
            *hoist("spire", "spire lift", 8.0),
            {"do": "lower", "section": "spire", "to": "7.14 m"},
            {"do": "lock", "section": "spire", "on": "belfry"},
            {"do": "transfer", "section": "spire"},
            *hoist("belfry", "belfry lift", 2.0),
            {"do": "lower", "section": "belfry", "to": "0.34 m"},
            {"do": "lock", "section": "belfry", "on": "base"},
        ])
    ]  # fmt: skip
    found = [each for each in check(stages, sections=narrow) if each.subject == "belfry"]
    (bury,) = [each for each in found if each.limit.source == BURY.source]
    assert bury.limit.value == pytest.approx(20.3 / 5)


def test_shoes_do_not_widen_a_section():
    pad = legs(1.75, 0.3, 0.2)[0] | {
        "mark": "shoe 1",
        "start": ["-1.9 m", "0 m", "0.1 m"],
        "end": ["-1.9 m", "0 m", "0.4 m"],
    }
    spire = section("spire", 1.75, 13.5)
    spire["members"] = [*spire["members"], pad]
    shod = spire | {"shoes": [{"member": "shoe 1", "face": "west", "running": "20 mm"}]}
    base, belfry = tiny_plan().sections[:2]
    for body, width in ((shod, 3.5), (spire, 1.75 + 2.0)):
        sections = [base.model_dump(), belfry.model_dump(), body]
        finding = of_limit(check(NESTED, sections=sections), BURY)["belfry up"]
        assert finding.limit.value == pytest.approx(1.5 * width)


def test_a_section_without_a_solid_is_not_a_pass():
    plan = tiny_plan(stages=NESTED, lifts=LIFTS, fixtures=FIXTURES)
    shapes = build_shapes(plan, Path())
    bare = dict(shapes.sections) | {"spire": replace(shapes.sections["spire"], solid=None)}
    case = Case(plan=plan, shapes=replace(shapes, sections=bare), raise_=follow_stages(plan))
    (bury, _) = check_bury(case)
    assert bury.verdict is Verdict.NOT_EVALUATED
    assert "width is not known" in bury.why


def test_no_ledge_no_height_above_it():
    base, belfry, spire = tiny_plan().sections
    sections = [base.model_dump(), belfry.model_dump() | {"nest_height": None}, spire]
    findings = check([*NESTED, upper(17.0)], sections=sections)
    assert not [each for each in findings if each.limit.source == NEST.source]


def test_no_finding_where_nothing_stands_in_anything():
    assert check(NESTED[:1]) == []


def test_a_heel_below_its_ledge():
    steps = [
        *hoist("spire", "spire lift", 16.9),
        {"do": "lower", "section": "spire", "to": "16.79 m"},
    ]
    findings = check([*NESTED, stage("down", steps)])
    (finding,) = [each for each in findings if each.limit.source == NEST.source]
    assert finding.value == pytest.approx(-0.01)
    assert (finding.verdict, finding.stage) == (Verdict.FAIL, "down")
    assert finding.remedy


@pytest.mark.parametrize(
    ("subject", "where", "value", "verdict"),
    [
        ("spire", "step", "2.4 m", Verdict.PASS),
        ("spire", "step", "2.5 m", Verdict.PASS),
        ("spire", "step", "2.6 m", Verdict.FAIL),
        ("belfry", "step", "1 m", Verdict.FAIL),
        ("spire", "belfry up", "1 m", Verdict.FAIL),
    ],
)
def test_a_named_engineer_may_set_another_limit(subject, where, value, verdict):
    overrule = {
        "limit": BURY.name,
        "subject": subject,
        "stage": where,
        "value": value,
        "by": "Ansa Morrow",
        "note": "shoes 4 kN, legs 3 MPa, overturning 1.6",
    }
    finding = of_limit(check([*NESTED, upper(20.0)], overrules=[overrule]), BURY)["step"]
    assert finding.verdict is verdict


def test_a_limit_in_the_plan_replaces_the_rules():
    chosen = {"limit": BURY.name, "value": "6 m", "source": "letter of the engineer"}
    findings = check(NESTED, limits=[chosen])
    (finding,) = [each for each in findings if each.limit.source == "letter of the engineer"]
    assert (finding.limit.value, finding.verdict) == (6.0, Verdict.FAIL)
