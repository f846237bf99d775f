"""Every rule of order is always told: kept, or broken and how to cure it."""

from pathlib import Path

import pytest

from tests.plans.factory import (
    assemble,
    at,
    fixture,
    hoist,
    install,
    orderly_stages,
    stage,
    tiny_plan,
)
from towerlift.checks.case import Case
from towerlift.checks.stage_order import LIMITS, check_stage_order
from towerlift.findings import Verdict
from towerlift.motion import follow_stages
from towerlift.motion.rules import Rule
from towerlift.shapes import build_shapes

FIXTURES = [
    fixture("gantry", "gantry", 40.0),
    fixture("pendants", "pendant", 30.0),
    fixture("deck", "deck", 14.0),
]
PER_METRE = 4 * 0.2 * 0.2 * 760  # mass of a bare section for each metre of height [kg/m]


def check(stages, **changes):
    plan = tiny_plan(stages=stages, **changes)
    case = Case(plan=plan, shapes=build_shapes(plan, Path()), raise_=follow_stages(plan))
    return list(check_stage_order(case))


def dated():
    return [
        each | {"starts": at("08:00", f"2027-04-{10 + number}")}
        for number, each in enumerate(orderly_stages())
    ]


def failing(findings):
    return [each for each in findings if each.verdict is Verdict.FAIL]


def test_every_rule_is_told_when_all_are_kept():
    findings = check(dated())
    assert len(findings) == len(Rule)
    assert {each.verdict for each in findings} == {Verdict.PASS}
    assert {each.value for each in findings} == {0.0}
    for finding, rule in zip(findings, Rule, strict=True):
        assert finding.why.startswith(f"{rule}: kept in all 4 stages")


def test_every_limit_has_a_name_of_its_own_and_a_source():
    assert len({usual.name for usual in LIMITS}) == len(Rule)
    assert all(usual.source for usual in LIMITS)


def test_dates_that_are_missing_are_not_a_pass():
    findings = check(orderly_stages())
    (unknown,) = [each for each in findings if each.verdict is Verdict.NOT_EVALUATED]
    assert unknown.why.startswith(str(Rule.TIMES))
    assert "spire up" in unknown.why


def test_a_broken_rule_is_told_for_each_breach_and_the_others_are_kept():
    stages = dated()
    stages[0]["steps"] += [{"do": "fit", "item": "bell frame"}] * 2
    findings = check(stages)
    broken = [each for each in findings if each.why.startswith(str(Rule.FITTING))]
    # in a belfry that is not there, and a second time; then once more where it belongs
    assert [each.verdict for each in broken] == [Verdict.FAIL] * len(broken)
    assert len(broken) >= 2
    assert {each.value for each in broken} == {1.0}
    assert all(each.remedy for each in broken)
    assert len(findings) == len(Rule) - 1 + len(broken)


def test_a_hidden_pick_up_tells_its_height_and_how_the_load_steps():
    steps = [
        *install("gantry", "pendants", "deck"),
        assemble("belfry"),
        {"do": "fit", "item": "bell frame"},
        *hoist("belfry", "belfry lift", 15.0),
        {"do": "secure", "section": "belfry", "on": "pendants"},
        {"do": "transfer", "section": "belfry"},
        assemble("base"),
        *hoist("base", "base lift", 14.7),
    ]
    (finding,) = failing(check([stage("L3", steps, starts=at("08:00"))], fixtures=FIXTURES))
    assert finding.heel == pytest.approx(14.66)
    assert (finding.subject, finding.stage) == ("belfry", "L3")
    light = 13.0 * PER_METRE
    heavy = light + 12.5 * PER_METRE + 2000
    for mass in (light, heavy):
        assert f"{mass:,.0f}".replace(",", " ") in finding.why
    assert len(finding.remedy) == 3


@pytest.mark.parametrize(("value", "verdict"), [("0", Verdict.FAIL), ("1", Verdict.PASS)])
def test_a_named_person_may_overrule(value, verdict):
    stages = dated()
    stages[1]["in_charge"] = "Nobody Known"
    overrule = {
        "limit": str(Rule.IN_CHARGE),
        "subject": "belfry built",
        "stage": "belfry built",
        "value": value,
        "by": "Ansa Morrow",
        "note": "named on the day",
    }
    findings = check(stages, overrules=[overrule])
    (finding,) = [each for each in findings if each.why.startswith(str(Rule.IN_CHARGE))]
    assert finding.verdict is verdict
    assert finding.overrule is not None
    assert finding.overrule.by.startswith("Ansa Morrow")
