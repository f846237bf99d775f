"""What-ifs of the small plan against geometry and statics done by hand."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.plans.factory import lift, tiny_plan
from tests.unit.what_if.made import haul, outcome_of, tiny_outcome
from towerlift.findings import Verdict
from towerlift.gaps import pose_gap
from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.motion.masses import moving_mass
from towerlift.rig.trial import lift_trial
from towerlift.what_if import WhatIf, WhatIfBench

WALL, BELFRY, HEAD, LIFT_POINT = 3.1, 2.25, 12.5, 0.1
# Running 20 mm, swelling 3 mm, and 6 mm of workshop with 5 mm of survey: their root.
NEED_MM = 20 + 3 + np.hypot(6, 5)


@pytest.fixture(scope="module")
def bench():
    return WhatIfBench(tiny_outcome())


@pytest.fixture(scope="module")
def float_up(bench):
    """The belfry floated off the floor, by itself in the shaft."""
    return haul(bench.outcome, "belfry", 0)


def only(answer, check):
    found = [each for each in answer.findings if each.check == check]
    assert len(found) == 1, check
    return found[0]


def weight(bench, passage):
    outcome = bench.outcome
    return moving_mass(outcome.shapes, outcome.raise_.passages[passage]).mass * STANDARD_GRAVITY


def pulls(answer):
    """Each line pulls along itself."""
    ends = np.array([(line.upper, line.lower) for line in answer.lines])
    along = ends[:, 0] - ends[:, 1]
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    return along * np.array([[line.tension] for line in answer.lines])


def test_hanging_true_the_gap_is_that_of_the_drawing(bench, float_up):
    answer = bench.answer(WhatIf(passage=float_up, share=0.5))
    assert answer.near.gap == pytest.approx(WALL - BELFRY, abs=1e-6)
    assert answer.verdict is Verdict.PASS
    assert answer.held is None
    assert pulls(answer)[:, 2].sum() == pytest.approx(weight(bench, float_up), rel=1e-8)
    assert pulls(answer)[:, :2].sum(axis=0) == pytest.approx(0, abs=1e-3)


@pytest.mark.parametrize(
    ("east", "north", "wall"),
    [(0.1, 0.0, "east"), (-0.1, 0.0, "west"), (0.0, 0.2, "north"), (0.0, -0.2, "south")],
)
def test_a_drift_takes_its_own_amount_off_that_wall(bench, float_up, east, north, wall):
    answer = bench.answer(
        WhatIf(passage=float_up, share=0.5, drift_east=east, drift_north=north)
    )
    assert answer.near.gap == pytest.approx(WALL - BELFRY - abs(east + north), abs=1e-6)
    assert wall in answer.near.opposite_mark
    assert "leg" in answer.near.mark
    away = np.array(answer.near.across) - np.array(answer.near.where)
    assert np.linalg.norm(away) == pytest.approx(answer.near.gap, abs=1e-9)
    assert away[:2] @ (east, north) > 0


@pytest.mark.parametrize(("east", "north", "wall"), [(1, 0, "east"), (0, -1, "south")])
def test_a_lean_takes_the_head_over_by_its_height(bench, float_up, east, north, wall):
    lean = 0.02
    answer = bench.answer(
        WhatIf(passage=float_up, share=0.5, lean_east=east * lean, lean_north=north * lean)
    )
    # The outer corner of a leg turns about the middle of the lift points.
    out = BELFRY * np.cos(lean) + (HEAD - LIFT_POINT) * np.sin(lean)
    assert answer.near.gap == pytest.approx(WALL - out, abs=1e-6)
    assert wall in answer.near.opposite_mark
    assert answer.near.where[2] > HEAD - 0.2


def test_a_turn_swings_the_corners_out(bench, float_up):
    turn = 0.1
    answer = bench.answer(WhatIf(passage=float_up, share=0.5, yaw=turn))
    out = BELFRY * (np.cos(turn) + np.sin(turn))
    assert answer.near.gap == pytest.approx(WALL - out, abs=1e-6)
    other = bench.answer(WhatIf(passage=float_up, share=0.5, yaw=-turn))
    assert other.near.gap == pytest.approx(answer.near.gap, abs=1e-9)
    # Anticlockwise from above: the north-east corner goes west.
    corner = answer.poses["belfry"] @ (BELFRY, BELFRY, 0, 1)
    assert corner[0] < BELFRY - 0.1


@pytest.mark.parametrize(
    ("off_mm", "verdict"), [(1e-2, Verdict.PASS), (-2e-2, Verdict.FAIL), (-900, Verdict.FAIL)]
)
def test_the_clearance_is_held_against_its_budget(bench, float_up, off_mm, verdict):
    left = (np.ceil(NEED_MM * 100) / 100 + off_mm) / 1e3
    drift = WALL - BELFRY - left
    finding = only(
        bench.answer(WhatIf(passage=float_up, share=0.5, drift_north=drift)), "clearance"
    )
    assert finding.verdict is verdict
    assert finding.limit.value == pytest.approx(NEED_MM, abs=0.01)
    assert "running clearance by" in finding.limit.source
    assert finding.where is not None
    if off_mm > -50:
        assert finding.value == pytest.approx(left * 1e3, abs=0.011)
        assert finding.value <= left * 1e3 + 1e-6
    else:
        # Past the wall it is clear of it again, but it cannot have come there.
        assert finding.value <= 0
        assert "on the way" in finding.why


def test_a_drifted_load_pulls_back_as_a_pendulum(bench, float_up):
    drift = 0.3
    answer = bench.answer(WhatIf(passage=float_up, share=0.0, drift_east=drift))
    # What they lift is the weight, and what they pull back must be held.
    level = pulls(answer).sum(axis=0)
    assert level[2] == pytest.approx(weight(bench, float_up), rel=1e-8)
    assert level[0] < 0
    assert answer.held.force == pytest.approx(np.hypot(*level[:2]), rel=1e-8)


def test_a_lean_by_hand_loads_the_lines_unequally_and_must_be_held(bench, float_up):
    answer = bench.answer(WhatIf(passage=float_up, share=0.0, lean_east=0.004))
    east = [line.tension for line in answer.lines if line.lower[0] > 0]
    west = [line.tension for line in answer.lines if line.lower[0] < 0]
    # The head goes east, so the eastern lift points sink and their lines stretch.
    assert min(east) > max(west)
    assert answer.held.moment > 0
    level = only(answer, "level")
    apart = max(line.lower[2] for line in answer.lines) - min(
        line.lower[2] for line in answer.lines
    )
    assert level.value == pytest.approx(apart * 1e3, abs=0.011)
    assert level.limit.value == 10.0
    assert "belfry lift" in level.limit.source


def test_a_crew_ahead_slackens_its_neighbours_and_it_is_said(bench, float_up):
    plan = tiny_plan()
    coils = tuple(
        coil.model_copy(update={"axial_stiffness": coil.axial_stiffness * 30})
        for coil in plan.coils
    )
    bench = WhatIfBench(outcome_of(plan.model_copy(update={"coils": coils}), Path()))
    capstan = bench.capstans(float_up)[0]
    level = bench.answer(WhatIf(passage=float_up, share=0.0))
    answer = bench.answer(WhatIf(passage=float_up, share=0.0, behind=capstan, by=-0.1))
    mine = next(line for line in answer.lines if line.capstan == capstan)
    was = next(line for line in level.lines if line.capstan == capstan)
    assert mine.tension > was.tension
    slack = only(answer, "slack lines")
    assert slack.value == len(answer.slack) > 0
    assert slack.verdict is Verdict.FAIL
    assert answer.slack[0].tackle in slack.why
    assert only(level, "slack lines").verdict is Verdict.PASS


def test_a_rope_is_held_against_the_factor_of_the_plan(bench, float_up):
    answer = bench.answer(WhatIf(passage=float_up, share=0.0))
    rope = only(answer, "rope strength")
    fullest = max(answer.lines, key=lambda line: line.tension)
    # Four parts at 93 % a sheave, worst corner 1.15, friction 3 %, mass a tenth over.
    advantage = sum(0.93**n for n in range(1, 5))
    pull = fullest.tension * 1.15 * 1.03 * 1.1 / advantage
    assert rope.value == pytest.approx(0.75 * 150e3 / pull, rel=1e-6)
    assert rope.limit.value == 10.0


def test_wind_is_held_against_the_gust_at_which_hauling_stops(bench, float_up):
    calm = bench.answer(WhatIf(passage=float_up, share=0.0))
    assert not [each for each in calm.findings if each.check == "gust"]
    for gust, verdict in ((11.0, Verdict.PASS), (11.1, Verdict.FAIL)):
        answer = bench.answer(WhatIf(passage=float_up, share=0.0, gust=gust))
        assert only(answer, "gust").verdict is verdict


def test_wind_pushes_the_way_it_blows():
    # A wall only 5 m high, so that the wind has something to push.
    low = tiny_plan()
    shaft = low.shaft.model_copy(update={"wall_head": 5.0})
    bench = WhatIfBench(outcome_of(low.model_copy(update={"shaft": shaft}), Path()))
    passage = haul(bench.outcome, "belfry", 0)
    still = bench.answer(WhatIf(passage=passage, share=0.5)).poses["belfry"]
    for towards, axis, sign in ((0.0, 0, 1), (np.pi / 2, 1, 1), (np.pi, 0, -1)):
        answer = bench.answer(WhatIf(passage=passage, share=0.5, gust=10.0, towards=towards))
        moved = answer.poses["belfry"][:2, 3] - still[:2, 3]
        assert sign * moved[axis] > 1e-4
        assert abs(moved[1 - axis]) < 1e-3 * abs(moved[axis])


def test_the_picked_up_section_goes_along(bench):
    passage = haul(bench.outcome, "belfry", -1)
    answer = bench.answer(WhatIf(passage=passage, share=1.0, lean_east=0.01, drift_north=0.05))
    assert set(answer.poses) == {"belfry", "spire"}
    between = np.linalg.inv(answer.poses["belfry"]) @ answer.poses["spire"]
    assert between[:3, :3] == pytest.approx(np.eye(3), abs=1e-12)
    assert between[:2, 3] == pytest.approx(0, abs=1e-9)
    standing = bench.outcome.raise_.passages[passage].standing
    rise = standing["spire"].heel_from - standing["belfry"].heel_from
    assert between[2, 3] == pytest.approx(rise)


def test_asked_anywhere_in_any_order_it_finds_the_least_of_all(bench):
    """The bounds that spare questions to the engine must never change an answer."""
    rng = np.random.default_rng(3)
    for passage in (haul(bench.outcome, "belfry", -2), haul(bench.outcome, "belfry", -1)):
        trial = lift_trial(
            bench.outcome.nesting.workshop, bench.outcome.raise_.passages[passage]
        )
        for _ in range(12):
            asked = WhatIf(
                passage=passage,
                share=rng.uniform(),
                lean_east=rng.normal() * 0.02,
                lean_north=rng.normal() * 0.02,
                yaw=rng.normal() * 0.02,
                drift_east=rng.normal() * 0.2,
            )
            answer = bench.answer(asked)
            gaps = [
                pose_gap(
                    pair.moving_body,
                    pair.other_body,
                    np.linalg.inv(pair.shaft_from_other) @ answer.poses[pair.moving],
                    skip_pairs=pair.meant if len(pair.meant) else None,
                ).value
                for pair in trial.pairs
            ]
            assert answer.near.gap == pytest.approx(min(gaps), abs=1e-9)


def test_pieces_that_may_only_touch_where_they_rest_are_held_apart_on_the_way():
    contacts = [
        {
            "kind": "heel on needle",
            "of": "belfry",
            "marks": ["leg 1"],
            "on": "shaft",
            "on_marks": ["*"],
        }
    ]
    bench = WhatIfBench(outcome_of(tiny_plan(contacts=contacts), Path()))
    passage = haul(bench.outcome, "belfry", 1)
    # Leg 1 stands in the south-west: over to the west wall, half way up.
    near = bench.answer(WhatIf(passage=passage, share=0.5, drift_east=-0.8)).near
    assert near is not None
    assert near.gap == pytest.approx(0.05, abs=1e-6)
    for yaw, mark in ((0.003, "leg 4"), (-0.003, "leg 1")):
        asked = WhatIf(passage=passage, share=0.5, drift_east=-0.8, yaw=yaw)
        turned = bench.answer(asked).near
        assert turned is not None
        assert turned.mark == mark


def test_what_does_not_hang_says_so(bench):
    still = next(p for p in bench.outcome.raise_.passages if not p.moving)
    answer = bench.answer(WhatIf(passage=still.index, share=0.0))
    assert answer.verdict is Verdict.NOT_EVALUATED
    assert answer.findings == ()
    assert "nothing hangs free" in answer.notes[0]
    assert bench.capstans(still.index) == ()


def test_what_topples_says_so_and_gives_no_numbers():
    plan = tiny_plan()
    coils = tuple(
        coil.model_copy(update={"axial_stiffness": coil.axial_stiffness / 30})
        for coil in plan.coils
    )
    bench = WhatIfBench(outcome_of(plan.model_copy(update={"coils": coils}), Path()))
    passage = haul(bench.outcome, "belfry", 0)
    answer = bench.answer(WhatIf(passage=passage, share=0.0, lean_east=0.001))
    assert answer.verdict is Verdict.FAIL
    assert answer.near is None
    assert answer.lines == ()
    assert answer.poses == {}
    assert only(answer, "rest").verdict is Verdict.FAIL
    assert only(answer, "clearance").verdict is Verdict.NOT_EVALUATED
    assert only(answer, "rope strength").verdict is Verdict.NOT_EVALUATED


def test_every_number_has_its_limit_and_the_limit_its_source(bench, float_up):
    asked = WhatIf(passage=float_up, share=0.3, lean_east=0.01, gust=3.0)
    answer = bench.answer(asked)
    assert {each.check for each in answer.findings} == {
        *("clearance", "level", "rope strength", "slack lines", "gust")
    }
    assert all(each.limit.source for each in answer.findings)
    message = answer.as_message()
    assert message["verdict"] == str(answer.verdict)
    assert WhatIf.from_record(message["asked"]) == asked
    sent = np.array(message["poses"]["belfry"]).reshape(4, 4).T
    assert sent == pytest.approx(answer.poses["belfry"])


def test_an_offset_of_the_weight_is_levelled_out():
    heavy = {
        "mark": "stone", "mass": "1 t", "centre": ["1 m", "0.5 m", "4 m"]
    }  # fmt: skip
    frame = {"name": "bell frame", "kind": "bell frame", "on": "belfry", "masses": [heavy]}
    cladding = {
        "name": "cladding", "kind": "cladding", "on": "spire",
        "masses": [{"mark": "lead", "mass": "300 kg", "centre": ["0 m", "0 m", "9 m"]}],
    }  # fmt: skip
    bench = WhatIfBench(outcome_of(tiny_plan(fit_out=[frame, cladding]), Path()))
    passage = haul(bench.outcome, "belfry", 0)
    answer = bench.answer(WhatIf(passage=passage, share=0.0))
    assert only(answer, "level").value <= 0.02
    loads = {line.lift_point: line.tension for line in answer.lines}
    assert max(loads.values()) > 1.1 * min(loads.values())
    assert any("levelled" in note for note in answer.notes)


def test_an_equaliser_is_tried_every_way_and_the_worst_is_told():
    lifts = [
        lift("spire lift", "spire", "gantry", (1, 2, 3, 4)),
        lift("belfry lift", "belfry", "gantry", (5, 6, 7, 8), equalised="all"),
        lift("base lift", "base", "gantry", (5, 6, 7, 8)),
    ]
    bench = WhatIfBench(outcome_of(tiny_plan(lifts=lifts), Path()))
    passage = haul(bench.outcome, "belfry", 0)
    # One tension in all lines has no stiffness against tilt: it topples.
    answer = bench.answer(WhatIf(passage=passage, share=0.5, lean_east=0.001))
    assert only(answer, "rest").verdict is Verdict.FAIL


def overruling(subject, value):
    row = {"limit": "running clearance", "subject": subject, "value": value}
    return tiny_plan(overrules=[row | {"by": "Ansa Morrow", "note": "sum 3"}])


def test_a_stricter_overrule_is_held_to_by_the_whole_body(bench, float_up):
    # Over to the east: legs 2 and 3 are as near, and only one of them is overruled.
    asked = WhatIf(passage=float_up, share=0.5, drift_east=WALL - BELFRY - 0.040)
    subject = "belfry: leg 3 (corner leg) against shaft: east wall z 0.00-30.00"
    assert only(bench.answer(asked), "clearance").verdict is Verdict.PASS
    other = WhatIfBench(outcome_of(overruling(subject, "35 mm"), Path()))
    finding = only(other.answer(asked), "clearance")
    assert finding.limit.value == pytest.approx(NEED_MM + 15, abs=0.01)
    assert finding.verdict is Verdict.FAIL


def test_a_piece_that_may_come_nearer_hides_no_other(bench, float_up):
    # Turned a little, so that one leg is nearest and the next a little farther.
    asked = WhatIf(passage=float_up, share=0.5, drift_east=WALL - BELFRY - 0.028, yaw=0.001)
    plain = only(bench.answer(asked), "clearance")
    assert plain.verdict is Verdict.FAIL
    other = WhatIfBench(outcome_of(overruling(plain.subject, "5 mm"), Path()))
    found = [each for each in other.answer(asked).findings if each.check == "clearance"]
    spared = next(each for each in found if each.subject == plain.subject)
    assert spared.overrule is not None
    assert "Ansa Morrow" in spared.overrule.by
    assert spared.limit_in_force.value == pytest.approx(NEED_MM - 15, abs=0.01)
    assert spared.verdict is Verdict.PASS
    (next_one,) = [each for each in found if each.subject != plain.subject]
    assert "leg" in next_one.subject
    assert next_one.overrule is None
    # From the outer corner of the one to the inner of the other 2.25 + 2.05 m, turned by a
    # thousandth.
    assert next_one.value == pytest.approx(plain.value + 4.3, abs=0.02)
    assert next_one.verdict is Verdict.FAIL


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"passage": 999}, "passage must be within"),
        ({"behind": "C99"}, "C99"),
    ],
)
def test_what_is_not_there_is_refused(bench, float_up, changes, said):
    asked = replace(WhatIf(passage=float_up, share=0.0), **changes)
    with pytest.raises(ValueError, match=said):
        bench.answer(asked)
