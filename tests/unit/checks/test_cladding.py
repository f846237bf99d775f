"""Cladding: reach, lean and window of every dated band, at, inside and outside each limit."""

from pathlib import Path
from typing import Any

import pytest

from tests.plans.factory import tiny_plan
from towerlift.checks.case import Case
from towerlift.checks.cladding import CHECK, LIMITS, OPEN, check_cladding
from towerlift.findings import Verdict
from towerlift.motion import follow_stages
from towerlift.plan import read_plan
from towerlift.plan.work import ChosenLimit, ChosenOverrule
from towerlift.programme.windows_reach import HIGHEST, LEAN, LOWEST

FOLDER = Path(__file__).parents[3] / "meshes" / "tidewatch"


@pytest.fixture(scope="module")
def plan():
    return read_plan(FOLDER / "plan-corrected.toml")


@pytest.fixture(scope="module")
def raise_(plan):
    return follow_stages(plan)


def findings(plan, raise_):
    shapes: Any = None  # the check asks nothing of them
    return list(check_cladding(Case(plan=plan, shapes=shapes, raise_=raise_)))


def of(found, usual, subject):
    return next(
        each
        for each in found
        if each.subject == subject and each.limit.unit == usual.unit and each.limit.bound
        is usual.bound and (usual is not LEAN or "leaf board" in each.why)
        and (usual is not HIGHEST or "head of the band" in each.why)
    )  # fmt: skip


def with_limit(plan, usual, value):
    others = tuple(each for each in plan.limits if each.limit != usual.name)
    mine = ChosenLimit(limit=usual.name, value=f"{value!r} {usual.unit}", source="a test")
    return plan.model_copy(update={"limits": (*others, mine)})


def test_the_corrected_plan_passes(plan, raise_):
    found = findings(plan, raise_)
    assert len(found) == 4 * 7
    assert {each.verdict for each in found} == {Verdict.PASS}
    assert all(each.check == CHECK and each.where is not None for each in found)


def test_the_draft_fails_on_b3_alone():
    draft = read_plan(FOLDER / "plan.toml")
    failing = [
        e for e in findings(draft, follow_stages(draft)) if e.verdict is not Verdict.PASS
    ]
    assert [each.subject for each in failing] == ["cladding B3"]
    assert "the belfry moves to pick the spire up" in failing[0].why
    assert "the column is cleared" in failing[0].why


@pytest.mark.parametrize("usual", [LOWEST, HIGHEST, LEAN], ids=lambda usual: usual.name)
def test_on_the_limit_inside_and_outside(plan, raise_, usual):
    value = of(findings(plan, raise_), usual, "cladding B2").value
    assert value is not None
    step = 0.001 if usual is LOWEST else -0.001
    for change, verdict in ((0.0, Verdict.PASS), (-step, Verdict.PASS), (step, Verdict.FAIL)):
        limited = with_limit(plan, usual, round(value + change, 4))
        found = of(findings(limited, raise_), usual, "cladding B2")
        assert found.verdict is verdict, (usual.name, change)
        assert bool(found.remedy) is (verdict is Verdict.FAIL)


def test_what_cannot_be_told_is_not_evaluated(plan, raise_):
    decks = tuple(
        each.model_copy(update={"kind": "other"}) if each.kind == "deck" else each
        for each in plan.fixtures
    )
    found = findings(plan.model_copy(update={"fixtures": decks}), raise_)
    by_verdict = {verdict: [e for e in found if e.verdict is verdict] for verdict in Verdict}
    assert len(by_verdict[Verdict.NOT_EVALUATED]) == 3 * 7
    assert len(by_verdict[Verdict.FAIL]) == 7
    assert not by_verdict[Verdict.PASS]


def test_a_band_that_nobody_is_told_to_clad(plan, raise_):
    works = tuple(each for each in plan.activities if each.fits != "band B5")
    found = findings(plan.model_copy(update={"activities": works}), raise_)
    (missing,) = [each for each in found if each.verdict is Verdict.NOT_EVALUATED]
    assert missing.subject == "band B5"


def test_an_overrule_is_shown(plan, raise_):
    strict = with_limit(plan, LOWEST, 0.5)
    overrule = ChosenOverrule(
        limit=LOWEST.name,
        subject="cladding B2",
        value="0.1 m",
        by="Jory Penvose",
        note="kneeling",
    )
    strict = strict.model_copy(update={"overrules": (*strict.overrules, overrule)})
    found = of(findings(strict, raise_), LOWEST, "cladding B2")
    assert found.verdict is Verdict.PASS
    assert found.overrule is not None
    assert "Jory Penvose" in found.overrule.by


def test_plans_without_cladding_have_nothing_to_check():
    plan = tiny_plan()
    assert findings(plan, follow_stages(plan)) == []


def test_every_limit_has_a_name_of_its_own_and_a_source():
    names = [each.name for each in LIMITS]
    assert len(set(names)) == len(names)
    assert OPEN in LIMITS
    assert all(each.source for each in LIMITS)
