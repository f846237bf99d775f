"""Nobody on or under what moves or hangs, just before, at and just after each moment.

The spire stands locked at 20.70 m; stage L2 hangs it on pendants and raises the belfry
round it, which meets it at heel 13.90 m. Our own arithmetic for the pace (8 capstans'
barrels of 300 mm, ropes of 32 mm, bars of 1.8 m, 0.55 m/s, four parts, 2 min each
0.5 m): 13.9 m take 73.9 min, so a haul that starts at 16:00 meets the spire at 17:14.
"""

from functools import cache
from pathlib import Path
from typing import Any

import pytest

from tests.plans.factory import (
    assemble,
    at,
    fixture,
    hoist,
    install,
    land,
    stage,
    strike,
    tiny_plan,
)
from towerlift.checks.case import Case
from towerlift.checks.occupancy import OCCUPANCY, check_occupancy
from towerlift.findings import Verdict
from towerlift.motion import follow_stages
from towerlift.shapes import build_shapes

FIXTURES = [
    fixture("gantry", "gantry", 40.0),
    fixture("high needles", "needle", 20.5),
    fixture("low needles", "needle", 14.8),
    fixture("pendants", "pendant", 30.0),
    fixture("deck", "deck", 14.0),
    fixture("high deck", "deck", 22.0),
]

SPIRE_UP = stage(
    "L1",
    [
        *install("gantry"),
        assemble("spire"),
        *hoist("spire", "spire lift", 20.7),
        *install("deck", "high needles"),
        *land("spire", "high needles"),
    ],
    starts=at("06:00", "2027-04-13"),
)
BELFRY_BUILT = stage(
    "built",
    [
        {"do": "assemble", "section": "belfry", "takes": "8 h"},
        {"do": "fit", "item": "bell frame"},
    ],
    starts=at("06:00", "2027-04-14"),
)
HUNG = stage(
    "hung",
    [
        *install("pendants"),
        *hoist("spire", "spire lift", 20.8),
        {"do": "lower", "section": "spire", "to": "20.7 m"},
        {"do": "secure", "section": "spire", "on": "pendants"},
        {"do": "transfer", "section": "spire"},
        *strike("deck", "high needles"),
    ],
    starts=at("06:00", "2027-04-23"),
)
L2 = stage(
    "L2",
    [
        {"do": "sling", "section": "belfry", "lift": "belfry lift", "takes": "60 min"},
        {"do": "clear the column"},
        {"do": "float", "section": "belfry", "height": "50 mm"},
        {"do": "lift", "section": "belfry", "to": "15 m", "picks_up": ["spire"]},
        {"do": "lock", "section": "belfry", "on": "low needles", "takes": "45 min"},
        {"do": "transfer", "section": "belfry"},
    ],
    starts=at("15:00"),
)
LANDING = [*install("low needles")]
STAGES = [SPIRE_UP, BELFRY_BUILT, HUNG, L2 | {"steps": LANDING + L2["steps"]}]


@cache
def shapes():
    return build_shapes(tiny_plan(fixtures=FIXTURES), Path())


def activity(starts, ends, **changes):
    body = {
        "name": "roofers on band B3",
        "crew": "roofers",
        "count": 4,
        "place": "on",
        "section": "spire",
        "starts": at(*starts) if isinstance(starts, tuple) else at(starts),
        "ends": at(*ends) if isinstance(ends, tuple) else at(ends),
        "needs": ["locked", "secured"],
    }
    return body | changes


def check(*activities, stages=STAGES, **changes):
    plan = tiny_plan(activities=list(activities), stages=stages, fixtures=FIXTURES, **changes)
    case = Case(plan=plan, shapes=shapes(), raise_=follow_stages(plan))
    return list(check_occupancy(case))


def verdicts(findings):
    return {finding.stage: finding.verdict for finding in findings}


def test_the_plan_of_these_tests_breaks_no_rule_of_order():
    plan = tiny_plan(stages=STAGES, fixtures=FIXTURES)
    assert follow_stages(plan).breaches == ()


# ---------------------------------------------------------------- on what moves


def test_roofers_on_a_spire_that_will_be_picked_up():
    findings = check(activity("12:00", "17:45"))
    assert verdicts(findings) == {"hung": Verdict.PASS, "L2": Verdict.FAIL}
    (clash,) = [each for each in findings if each.verdict is Verdict.FAIL]
    assert (clash.subject, clash.value, clash.limit.value) == ("roofers on band B3", 1.0, 0.0)
    assert clash.limit.unit == "count"
    for told in ("12:00-17:45", "the belfry moves to pick the spire up 16:00-17:14"):
        assert told in clash.why
    assert "the spire moves under them 17:14-" in clash.why
    assert "picks up the spire at heel 13.90 m, at 17:14" in clash.why
    assert clash.heel == pytest.approx(0.05)  # afloat when the haul begins


def test_remedies_are_ranked_by_what_they_cost():
    (clash,) = [each for each in check(activity("12:00", "17:45")) if each.stage == "L2"]
    # Off by 17:45, haul from 16:00: 1 h 45 min. The spire stands fast again when the
    # belfry is locked, 60 + 80 + 45 min after 15:00: 18:05, 6 h 5 min after 12:00.
    assert clash.remedy == (
        "start L2 1 h 45 min later, when they are off",
        "take them off before 16:00: they lose 1 h 45 min",
        "start L2 6 h 5 min earlier, so that it is over",
        "let them start at 18:05, 6 h 5 min later",
        "do the work on another day",
    )


@pytest.mark.parametrize(
    ("ends", "verdict"),
    [("15:59", Verdict.PASS), ("16:00", Verdict.PASS), ("16:01", Verdict.FAIL)],
)
def test_off_just_before_at_and_just_after_the_haul_begins(ends, verdict):
    assert verdicts(check(activity("12:00", ends)))["L2"] is verdict


@pytest.mark.parametrize(
    ("starts", "verdict"), [("17:19", Verdict.FAIL), ("17:21", Verdict.PASS)]
)
def test_on_just_before_and_just_after_the_haul_ends(starts, verdict):
    # parked while the belfry is locked, so only those allowed on it then may come
    roofers = activity(starts, "18:30", needs=[])
    findings = check(roofers)
    moving = [each for each in findings if "moves" in each.why]
    assert bool(moving) is (verdict is Verdict.FAIL)
    (clash,) = findings
    assert "hangs in its tackles" in clash.why


def test_the_haul_before_the_one_that_picks_it_up_forbids_nothing_on_the_spire():
    sling, clear, floated, whole, *rest = L2["steps"]
    halves = [whole | {"to": "5 m", "picks_up": []}, whole]
    steps = [*LANDING, sling, clear, floated, *halves, *rest]
    stages = [SPIRE_UP, BELFRY_BUILT, HUNG, L2 | {"steps": steps}]
    # 5 m take 26.6 min at the pace above: the second haul starts at 16:27
    for ends, verdict in (("16:26", Verdict.PASS), ("16:28", Verdict.FAIL)):
        found = verdicts(check(activity("12:00", ends), stages=stages))
        assert found["L2"] is verdict


def test_on_a_spire_that_is_locked_again():
    findings = check(activity("18:06", "19:00"))
    assert verdicts(findings) == {"L2": Verdict.PASS}


def test_a_finished_stage_lasts_until_the_next_begins():
    roofers = activity(("08:00", "2027-04-16"), ("17:00", "2027-04-16"))
    assert verdicts(check(roofers)) == {"built": Verdict.PASS}


def test_on_a_section_that_is_not_there():
    framers = activity(("08:00", "2027-04-13"), ("09:00", "2027-04-13"), section="belfry")
    (clash,) = check(framers)
    assert clash.verdict is Verdict.FAIL
    assert "not in the shaft" in clash.why


def test_a_fitting_is_on_the_section_it_goes_into():
    (_, clash) = check(activity("12:00", "17:45", section=None, fits="cladding"))
    assert "on the spire" in clash.why
    assert clash.verdict is Verdict.FAIL


def test_a_stage_is_not_to_start_before_the_one_before_it_has_ended():
    # L2 could only begin 6 h 5 min earlier, at 08:55, if what comes before it is over
    late = HUNG | {"starts": at("09:00")}
    stages = [SPIRE_UP, BELFRY_BUILT, late, STAGES[3]]
    (clash,) = [each for each in check(activity("12:00", "17:45"), stages=stages)
                if each.stage == "L2"]  # fmt: skip
    assert not [each for each in clash.remedy if "earlier" in each]
    assert clash.remedy[0].startswith("start L2 1 h 45 min later")


# ---------------------------------------------------------------- what they need


@pytest.mark.parametrize(
    ("needs", "verdict"),
    [
        (["locked"], Verdict.FAIL),
        (["locked", "secured"], Verdict.PASS),
        ([], Verdict.FAIL),
    ],
)
def test_a_secured_section_needs_a_permit(needs, verdict):
    roofers = activity("08:00", "12:00", needs=needs)
    assert verdicts(check(roofers)) == {"hung": verdict}


@pytest.mark.parametrize(
    ("needs", "verdict"),
    [
        (["locked"], Verdict.PASS),
        (["transferred"], Verdict.PASS),
        (["complete"], Verdict.FAIL),
    ],
)
def test_a_transferred_section_is_a_locked_one(needs, verdict):
    roofers = activity(("08:00", "2027-04-16"), ("12:00", "2027-04-16"), needs=needs)
    assert verdicts(check(roofers)) == {"built": verdict}


def test_needs_hold_from_outside_too():
    riggers = activity("16:30", "16:45", place="outside", needs=["locked"])
    (clash,) = check(riggers)
    assert "must be locked but is secured" in clash.why


def test_outside_with_no_needs_nothing_is_forbidden():
    assert verdicts(check(activity("16:30", "16:45", place="outside", needs=[]))) == {
        "L2": Verdict.PASS
    }


# ---------------------------------------------------------------- in the column


def framers(starts, ends, **changes):
    defaults: dict[str, Any] = {
        "name": "framers",
        "crew": "framers",
        "place": "in the column",
        "section": None,
        "needs": [],
        "lowest": "0 m",
        "highest": "13 m",
    }
    return activity(starts, ends, **(defaults | changes))


S3 = stage(
    "S3",
    [
        {"do": "sling", "section": "spire", "lift": "spire lift", "takes": "30 min"},
        {"do": "clear the column"},
        {"do": "float", "section": "spire"},
        {"do": "lift", "section": "spire", "to": "22.5 m"},
    ],
    starts=at("07:30", "2027-04-16"),
)


@pytest.mark.parametrize(
    ("ends", "verdict"),
    [("07:29", None), ("07:30", None), ("07:31", Verdict.FAIL)],
)
def test_framers_under_a_spire_from_when_it_is_slung(ends, verdict):
    early = framers(("06:30", "2027-04-16"), (ends, "2027-04-16"), sheltered_by="deck")
    found = verdicts(check(early, stages=[SPIRE_UP, BELFRY_BUILT, S3]))
    assert found.pop("built") is Verdict.PASS
    assert found.get("S3") is verdict


def test_a_deck_does_not_shelter_from_what_hangs_in_tackles():
    at_eight = framers(("08:00", "2027-04-16"), ("12:00", "2027-04-16"), sheltered_by="deck")
    (clash,) = check(at_eight, stages=[SPIRE_UP, BELFRY_BUILT, S3])
    assert clash.verdict is Verdict.FAIL
    assert "the spire moves over them 08:00-" in clash.why
    assert "let them start" not in " ".join(clash.remedy)  # it is parked at the end
    assert clash.heel == pytest.approx(20.7)


@pytest.mark.parametrize(
    ("shelter", "verdict"),
    [
        ({"sheltered_by": "deck"}, Verdict.PASS),
        ({}, Verdict.PASS),  # a deck between them shelters, named or not
        ({"sheltered_by": "high deck"}, Verdict.FAIL),  # not in place
        ({"sheltered_by": "gantry"}, Verdict.FAIL),  # no deck
        ({"sheltered_by": "deck", "highest": "14 m"}, Verdict.FAIL),  # they stand on it
        ({"sheltered_by": "deck", "highest": None}, Verdict.PASS),  # they work up to it
        ({"sheltered_by": "deck", "lowest": None, "highest": None}, Verdict.PASS),
    ],
)
def test_under_a_locked_section_a_deck_must_lie_between(shelter, verdict):
    work = framers(("08:00", "2027-04-16"), ("12:00", "2027-04-16"), **shelter)
    (finding,) = check(work)
    assert (finding.stage, finding.verdict) == ("built", verdict)
    if verdict is Verdict.FAIL:
        assert finding.remedy[0].startswith("put a deck between")


def test_a_deck_above_what_stands_over_them_is_no_shelter():
    with_high = [
        SPIRE_UP | {"steps": [*SPIRE_UP["steps"], *install("high deck"), *strike("deck")]},
        BELFRY_BUILT,
    ]
    work = framers(("08:00", "2027-04-16"), ("12:00", "2027-04-16"))
    (finding,) = check(work, stages=with_high)
    assert finding.verdict is Verdict.FAIL


def test_under_a_secured_section_without_a_deck():
    (finding,) = check(framers("08:00", "12:00"))
    assert finding.verdict is Verdict.FAIL
    assert "only secured over them" in finding.why


def test_above_the_head_of_what_moves():
    # the spire's head is at 34.2 m and the belfry's at 27.5 m when they stop at most
    aloft = framers("16:30", "16:45", lowest="40 m", highest="42 m")
    assert verdicts(check(aloft)) == {"L2": Verdict.PASS}
    beside = framers("16:30", "16:45", lowest="20 m", highest="22 m")
    assert verdicts(check(beside)) == {"L2": Verdict.FAIL}


def test_on_a_section_under_one_that_is_hoisted_from_its_head():
    raised = stage(
        "step",
        [
            {"do": "sling", "section": "spire", "lift": "spire lift", "takes": "30 min"},
            {"do": "clear the column"},
            {"do": "float", "section": "spire"},
            {"do": "lift", "section": "spire", "to": "24 m"},
        ],
        starts=at("08:00", "2027-04-26"),
    )
    on_belfry = activity(
        ("07:00", "2027-04-26"), ("09:00", "2027-04-26"), section="belfry", needs=["locked"]
    )
    found = {each.stage: each for each in check(on_belfry, stages=[*STAGES, raised])}
    assert found["L2"].verdict is Verdict.PASS
    assert found["step"].verdict is Verdict.FAIL
    assert "the spire hangs over them in its tackles 08:00-08:30" in found["step"].why


# ---------------------------------------------------------------- not evaluated


def test_an_undated_stage_is_not_a_pass():
    undated = {key: value for key, value in L2.items() if key != "starts"}
    findings = check(activity("12:00", "17:45"), stages=[SPIRE_UP, BELFRY_BUILT, HUNG, undated])
    assert verdicts(findings) == {"L2": Verdict.NOT_EVALUATED}
    assert "stage L2" in findings[0].why


def test_work_between_dated_stages_is_known_though_another_stage_is_not_dated():
    undated = {key: value for key, value in L2.items() if key != "starts"}
    work = activity(("08:00", "2027-04-16"), ("12:00", "2027-04-16"))
    findings = check(work, stages=[SPIRE_UP, BELFRY_BUILT, HUNG, undated])
    assert verdicts(findings) == {"built": Verdict.PASS}


@pytest.mark.parametrize(
    "changes",
    [
        {"section": None, "fits": None},
        {"ends": at("12:00")},
        {"ends": at("11:00")},
    ],
)
def test_an_activity_that_cannot_be_placed_is_not_a_pass(changes):
    (finding,) = check(activity("12:00", "17:45") | changes)
    assert finding.verdict is Verdict.NOT_EVALUATED


def test_a_plan_without_activities_is_not_a_pass():
    (finding,) = check()
    assert finding.verdict is Verdict.NOT_EVALUATED


# ---------------------------------------------------------------- overruled


@pytest.mark.parametrize(
    ("who", "where", "verdict"),
    [
        ("roofers on band B3", "L2", Verdict.PASS),
        ("roofers on band B3", "", Verdict.PASS),
        ("roofers on band B3", "L1", Verdict.FAIL),
        ("framers", "L2", Verdict.FAIL),
    ],
)
def test_a_named_person_may_overrule(who, where, verdict):
    overrule = {
        "limit": OCCUPANCY.name,
        "subject": who,
        "stage": where,
        "value": "1",
        "by": "Ansa Morrow",
        "note": "they watch it from the wall head, roped",
    }
    findings = check(activity("12:00", "17:45"), overrules=[overrule])
    assert verdicts(findings)["L2"] is verdict
