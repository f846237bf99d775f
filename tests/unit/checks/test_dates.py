"""Dates and hold points: kept, broken by one minute, and without a date."""

from dataclasses import replace
from pathlib import Path

import pytest

from tests.plans.factory import at, orderly_stages, tiny_plan
from towerlift.checks.case import Case
from towerlift.checks.dates import CHECK, check_dates
from towerlift.checks.hold_points import check_hold_points
from towerlift.findings import Verdict
from towerlift.motion import follow_stages
from towerlift.shapes import build_shapes

HOURS = {"spire up": "08:00", "belfry built": "12:00", "spire hung": "13:00"}
NEEDED = {
    "spire up": ("H1", "H2", "H3", "H4", "H5", "H6", "H7", "H8", "H9", "H11", "H12", "H14"),
    "belfry built": ("H2",),
    "spire hung": ("H6", "H7", "H8", "H9", "H11", "H12", "H14"),
    "belfry up": ("H6", "H7", "H8", "H9", "H10", "H11", "H12", "H14"),
}


def case(*activities, **changes):
    stages = orderly_stages()
    for each in stages:
        each["starts"] = at(HOURS.get(each["name"], "14:00"))
        each["hold_points"] = list(NEEDED[each["name"]])
    body = {"activities": list(activities), "stages": stages} | changes
    body["crews"] = [{"name": "masons", "need": 3, "signed": 3}]
    plan = tiny_plan(**body)
    return Case(plan=plan, shapes=build_shapes(plan, Path()), raise_=follow_stages(plan))


def work(name, starts, ends, **changes):
    body = {"name": name, "crew": "masons", "count": 3, "place": "outside"}
    return body | {"starts": at(starts), "ends": at(ends)} | changes


def told(findings):
    return {each.subject: (each.value, each.verdict) for each in findings}


def test_dates_that_keep_every_rule_pass():
    found = list(check_dates(case()))
    assert told(found) == {"programme": (0.0, Verdict.PASS)}
    assert found[0].check == CHECK


@pytest.mark.parametrize(
    ("ends", "verdict"),
    [("09:59", Verdict.PASS), ("10:00", Verdict.PASS), ("10:01", Verdict.FAIL)],
)
def test_what_waits_may_start_when_it_is_over_and_not_before(ends, verdict):
    found = list(
        check_dates(case(work("a", "09:00", ends), work("b", "10:00", "11:00", after=["a"])))
    )
    assert {each.verdict for each in found} == {verdict}
    if verdict is Verdict.FAIL:
        assert found[0].subject == "b"
        assert "b waits until a is done" in found[0].why
        assert found[0].remedy == ("start a 1 min sooner", "start b 1 min later")


@pytest.mark.parametrize(
    ("cures", "verdict"), [("60 min", Verdict.PASS), ("61 min", Verdict.FAIL)]
)
def test_a_cure_is_waited_for(cures, verdict):
    found = list(
        check_dates(
            case(
                work("a", "08:00", "09:00", cures=cures),
                work("b", "10:00", "11:00", after=["a"]),
            )
        )
    )
    assert {each.verdict for each in found} == {verdict}


@pytest.mark.parametrize(
    ("within", "verdict"), [("2 h", Verdict.PASS), ("119 min", Verdict.FAIL)]
)
def test_what_must_follow_soon_does(within, verdict):
    found = list(
        check_dates(
            case(
                work("a", "08:00", "09:00"),
                work("b", "10:00", "11:00", after=["a"], within=within),
            )
        )
    )
    assert {each.verdict for each in found} == {verdict}


def test_one_crew_is_not_in_two_places():
    found = list(check_dates(case(work("a", "09:00", "11:00"), work("b", "10:00", "12:00"))))
    assert found[0].verdict is Verdict.FAIL
    assert "6 are needed at once and there are 3" in found[0].why


@pytest.mark.parametrize(
    ("starts", "verdict"), [("14:00", Verdict.PASS), ("18:30", Verdict.FAIL)]
)
def test_a_lift_in_the_dark_is_found(starts, verdict):
    late = orderly_stages()
    for each in late:
        each["starts"] = at(starts if each["name"] == "belfry up" else HOURS[each["name"]])
    found = list(check_dates(case(stages=late)))
    assert [each.verdict for each in found] == [verdict]
    if verdict is Verdict.FAIL:
        assert (found[0].subject, found[0].stage, found[0].value) == (*["belfry up"] * 2, 1.0)
        assert "of light" in found[0].why


def test_without_a_date_nothing_is_said_to_pass():
    stages = [each | {"hold_points": []} for each in orderly_stages()]
    found = list(check_dates(case(stages=stages)))
    assert told(found) == {"programme": (None, Verdict.NOT_EVALUATED)}
    assert "spire up" in found[0].why


def test_a_ring_is_not_evaluated_and_is_named():
    found = list(
        check_dates(
            case(
                work("a", "08:00", "09:00", after=["b"]),
                work("b", "09:00", "10:00", after=["a"]),
            )
        )
    )
    assert [each.verdict for each in found] == [Verdict.NOT_EVALUATED]
    assert "wait for each other" in found[0].why


def test_every_hold_point_listed_passes():
    found = list(check_hold_points(case()))
    assert {each.subject for each in found} == set(NEEDED)
    assert {each.verdict for each in found} == {Verdict.PASS}


@pytest.mark.parametrize("mark", NEEDED["belfry up"])
def test_each_hold_point_is_missed(mark):
    whole = case()
    stages = tuple(
        each.model_copy(update={"hold_points": tuple(m for m in each.hold_points if m != mark)})
        if each.name == "belfry up"
        else each
        for each in whole.plan.stages
    )
    short = replace(whole, plan=whole.plan.model_copy(update={"stages": stages}))
    found = {each.subject: each for each in check_hold_points(short)}
    assert found["belfry up"].value == 1.0
    assert mark in found["belfry up"].why
    assert f'"{mark}"' in found["belfry up"].remedy[0]
