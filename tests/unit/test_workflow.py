"""From a plan to a verdict: nothing unknown, unused or uncertified may pass."""

from dataclasses import replace

import numpy as np
import pytest

import towerlift
from towerlift import check_plan, new_plan, read_plan
from towerlift.errors import PlanError
from towerlift.findings import Verdict
from towerlift.gaps import gap_series
from towerlift.nesting import parts
from towerlift.plan.work import ChosenLimit, ChosenOverrule

WHO = "Tobin Vale"


@pytest.fixture(scope="module")
def start(tmp_path_factory):
    folder = tmp_path_factory.mktemp("start")
    return read_plan(new_plan(folder)), folder


@pytest.fixture(scope="module")
def outcome(start):
    return check_plan(*start)


def limit(name, value, source="Tobin Vale, engineer"):
    return ChosenLimit(limit=name, value=value, source=source)


def overrule(name, subject, value, stage="", note="watched with rods"):
    return ChosenOverrule(
        limit=name, subject=subject, stage=stage, value=value, by=WHO, note=note
    )


def refusal(start, **changes):
    plan, folder = start
    with pytest.raises(PlanError) as caught:
        check_plan(plan.model_copy(update=changes), folder)
    return caught.value.problems


def test_public_names():
    assert towerlift.__all__ == [
        "Finding",
        "Outcome",
        "PlanError",
        "ShapeError",
        "TowerliftError",
        "Verdict",
        "check_plan",
        "new_plan",
        "read_plan",
        "save_plan",
    ]
    assert all(hasattr(towerlift, name) for name in towerlift.__all__)


def test_the_plan_to_start_from_passes(outcome):
    assert [f.subject for f in outcome.findings if f.verdict is not Verdict.PASS] == []
    assert outcome.passes


def test_findings_come_worst_first(outcome):
    margins = [finding.relative_margin for finding in outcome.findings]
    assert margins == sorted(margins)


def test_every_haul_is_held_against_the_masonry_and_all_that_stands(outcome):
    seen = {(m.passage, m.moving, m.against) for m in outcome.nesting.margins}
    for passage in outcome.raise_.moving_passages:
        others = {n for n in passage.standing if n not in passage.moving} | passage.fixtures
        for moving in passage.moving:
            for against in {"shaft", *others}:
                assert (passage.index, moving, against) in seen


def test_nothing_checked_is_no_pass(outcome):
    assert not replace(outcome, findings=()).passes


def test_one_finding_not_evaluated_is_no_pass(outcome):
    first, *rest = outcome.findings
    unknown = replace(first, value=None, why="not known")
    assert not replace(outcome, findings=(unknown, *rest)).passes


def test_a_gap_that_is_not_certified_is_not_evaluated(start, monkeypatch):
    exact = gap_series

    def unproved(*args, **options):
        series = exact(*args, **options)
        return replace(
            series,
            lower=np.full_like(series.lower, -np.inf),
            certified=np.zeros_like(series.certified),
        )

    monkeypatch.setattr(parts, "gap_series", unproved)
    findings = check_plan(*start).findings
    clearances = [finding for finding in findings if finding.check == "clearance"]
    assert clearances
    assert {finding.verdict for finding in clearances} == {Verdict.NOT_EVALUATED}
    assert all("certify" in finding.why for finding in clearances)


def test_unknown_limits_are_refused_with_the_nearest_name(start):
    problems = refusal(
        start,
        limits=(limit("running clearence", "20 mm"), limit("colour", "20 mm")),
        overrules=(overrule("berry", "cap", "1 m"),),
    )
    assert 'limits[0].limit: no check uses a limit named "running clearence"' in problems[0]
    assert 'did you mean "running clearance"?' in problems[0]
    assert "known:" in problems[1]
    assert problems[2].startswith("overrules[0].limit")


@pytest.mark.parametrize(
    "value", ["20", "20 kg", "nan mm", "-5 mm", "inf mm", "twenty mm", ""], ids=repr
)
def test_limits_that_measure_nothing_are_refused(start, value):
    plan, folder = start
    wrong = limit("running clearance", "20 mm").model_copy(update={"value": value})
    with pytest.raises(PlanError, match=r"limits\[0\].value"):
        check_plan(plan.model_copy(update={"limits": (wrong,)}), folder)


def test_a_limit_set_twice_is_refused(start):
    twice = (limit("running clearance", "20 mm"), limit("running clearance", "5 mm"))
    (problem,) = refusal(start, limits=twice)
    assert problem.startswith("limits[1]")
    assert "limits[0]" in problem


def test_an_overrule_written_twice_is_refused(start):
    twice = (overrule("bury", "cap", "2 m"), overrule("bury", "cap", "1 m"))
    (problem,) = refusal(start, overrules=twice)
    assert problem.startswith("overrules[1]")


def test_an_overrule_that_nothing_takes_up_is_told(start):
    plan, folder = start
    slip = overrule("bury", "cup", "3 m")
    findings = check_plan(plan.model_copy(update={"overrules": (slip,)}), folder).findings
    (told,) = [finding for finding in findings if finding.check == "overrule"]
    assert told.verdict is Verdict.NOT_EVALUATED
    assert told.subject == "cup"
    assert WHO in told.limit.source


def test_an_overrule_that_is_taken_up_is_in_force(start):
    plan, folder = start
    stricter = overrule("bury", "cap", "3 m")
    findings = check_plan(plan.model_copy(update={"overrules": (stricter,)}), folder).findings
    (bury,) = [f for f in findings if f.overrule is not None]
    assert bury.verdict is Verdict.FAIL
    assert bury.limit_in_force.value == 3.0
    assert not any(finding.check == "overrule" for finding in findings)


def test_a_wider_running_clearance_is_asked_of_every_passage(start, outcome):
    plan, folder = start
    wider = check_plan(
        plan.model_copy(update={"limits": (limit("running clearance", "30 mm"),)}), folder
    )
    for before, after in zip(outcome.nesting.margins, wider.nesting.margins, strict=True):
        assert before.spare - after.spare == pytest.approx(0.010)
