"""Curves of hauled sections on a small made-up tower."""

from dataclasses import replace

import numpy as np
import pytest

from tests.plans.factory import assemble, hoist, install, land, lift, stage, tiny_plan
from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.motion import follow_stages, hanging_mass
from towerlift.rig import hang_curves
from towerlift.rig.hanging import heel_samples, rigged_lift
from towerlift.shapes import build_shapes

CORNERS = ((-1, -1), (1, -1), (1, 1), (-1, 1))


def over_the_points(lift_body, half, z=30.0):
    """The same lift with its top blocks straight above the lift points."""
    for line, (x, y) in zip(lift_body["lines"], CORNERS, strict=True):
        line["upper"] = [f"{x * half} m", f"{y * half} m", f"{z} m"]
    return lift_body


def curves(tmp_path, **changes):
    plan = tiny_plan(**changes)
    shapes = build_shapes(plan, tmp_path)
    raise_ = follow_stages(plan)
    return plan, shapes, raise_, hang_curves(plan, shapes, raise_)


def spire_lift(**changes):
    return over_the_points(lift("spire lift", "spire", "gantry", (1, 2, 3, 4), **changes), 1.75)


def only_spire(to=15.3):
    return [
        stage("up", [
            *install("gantry"),
            assemble("spire"),
            *hoist("spire", "spire lift", to),
            *install("high needles"),
            *land("spire", "high needles"),
        ])
    ]  # fmt: skip


def test_every_hauled_passage_has_a_curve(tmp_path):
    _, _, raise_, found = curves(tmp_path)
    hauled = [passage.index for passage in raise_.moving_passages]
    assert [curve.passage for curve in found] == hauled
    assert len(found) > 3


def test_samples_reach_both_ends_and_lie_at_most_50_mm_apart(tmp_path):
    _, _, raise_, found = curves(tmp_path)
    for passage, curve in zip(raise_.moving_passages, found, strict=True):
        place = passage.standing[passage.moving[0]]
        assert curve.heels[0] == place.heel_from
        assert curve.heels[-1] == place.heel_to
        assert np.abs(np.diff(curve.heels)).max() <= 0.05 + 1e-9
        np.testing.assert_array_equal(curve.heels, heel_samples(passage))


def test_pick_up_adds_the_weight_of_what_is_picked_up(tmp_path):
    _, shapes, raise_, found = curves(tmp_path)
    before, after = found[-2], found[-1]
    assert (before.hauled, after.hauled) == (("belfry",), ("belfry", "spire"))
    spire = hanging_mass(shapes, raise_.passages[after.passage], "spire")
    step = after.weight[0] - before.weight[-1]
    assert step == pytest.approx(spire.mass * STANDARD_GRAVITY, rel=1e-12)
    assert after.height[0] > before.height[-1]
    assert after.ratio[0] < before.ratio[-1]


def test_vertical_lines_share_the_weight_and_stand_by_the_textbook_ratio(tmp_path):
    plan, shapes, raise_, (_, curve) = curves(
        tmp_path, lifts=[spire_lift()], stages=only_spire()
    )
    mass = hanging_mass(shapes, raise_.passages[curve.passage], "spire")
    weight = mass.mass * STANDARD_GRAVITY
    length = 30.0 - curve.heels - 0.1
    stiffness = 1 / (length / (4 * 690e3) + 42.0 / (16 * 690e3))
    by_hand = stiffness * 4 * 1.75**2 / (weight * (mass.centre[2] - 0.1))
    assert curve.rests.all()
    np.testing.assert_allclose(curve.ratio, by_hand, rtol=1e-6)
    np.testing.assert_allclose(curve.tensions, weight / 4, rtol=1e-9)
    np.testing.assert_allclose(curve.stretch[:, 0], weight / 4 / stiffness, rtol=1e-9)
    np.testing.assert_allclose(curve.tilt, 0.0, atol=1e-9)
    np.testing.assert_allclose(curve.lengths[:, 0], length, rtol=1e-12)
    assert curve.spacing == pytest.approx(3.5)
    advantage = 0.93 * (1 - 0.93**4) / (1 - 0.93)
    pull = weight / 4 * 1.15 * 1.03 / advantage / 0.93**2
    np.testing.assert_allclose(curve.pull, pull, rtol=1e-9)
    assert plan.lifts[0].worst_corner == 1.15


def test_one_tackle_a_corner_topples_when_one_is_lost(tmp_path):
    _, _, _, (_, curve) = curves(tmp_path, lifts=[spire_lift()], stages=only_spire())
    np.testing.assert_array_equal(curve.lost_ratio, 0.0)
    assert np.isinf(curve.lost_tension).all()


def test_two_tackles_a_corner_stand_when_one_is_lost(tmp_path):
    body = spire_lift()
    body["lines"] += [
        line | {"tackle": f"{line['tackle']}b", "capstan": f"C{number}"}
        for number, line in enumerate(body["lines"], start=5)
    ]
    _, _, _, (_, curve) = curves(tmp_path, lifts=[body], stages=only_spire())
    assert (curve.lost_ratio > 1).all()
    # Corner stiffness 1, 1, 1, 1/2 with heave free: 2.857 of 4 in the soft direction.
    np.testing.assert_allclose(curve.lost_ratio, curve.ratio * 2.857142857 / 4, rtol=0.01)
    # Its partner takes more than its share, and more still the nearer it is to toppling.
    mean = curve.weight / 8
    assert (curve.lost_tension > 1.5 * mean).all()
    assert (curve.lost_tension < 2.0 * mean).all()


def test_crews_that_push_by_feel_give_no_stiffness(tmp_path):
    _, _, _, found = curves(tmp_path, lifts=[spire_lift(paced="feel")], stages=only_spire())
    for curve in found:
        np.testing.assert_array_equal(curve.ratio, 0.0)
        assert (curve.tilt_stiffness > 0).all()
        assert curve.rests.all()


def test_equalised_falls_have_no_ratio(tmp_path):
    _, _, _, found = curves(tmp_path, lifts=[spire_lift(equalised="all")], stages=only_spire())
    for curve in found:
        np.testing.assert_allclose(curve.ratio, 0.0, atol=1e-9)
        assert not curve.rests.any()
        assert np.isnan(curve.pull).all()


def test_one_side_equalised_halves_the_ratio(tmp_path):
    _, _, _, (_, free) = curves(tmp_path, lifts=[spire_lift()], stages=only_spire())
    _, _, _, (_, half) = curves(
        tmp_path, lifts=[spire_lift(equalised="one side")], stages=only_spire()
    )
    np.testing.assert_allclose(half.ratio, free.ratio / 2, rtol=1e-6)


def test_top_blocks_on_a_section_go_where_it_goes(tmp_path):
    """A spire hauled inside a belfry: its tops move with the belfry's heel."""
    body = over_the_points(lift("spire lift", "spire", "belfry", (1, 2, 3, 4)), 1.75, 20.0)
    plan = tiny_plan(lifts=[body])
    raise_ = follow_stages(tiny_plan())
    passage = next(each for each in raise_.moving_passages if each.moving == ("spire",))
    standing = dict(passage.standing)
    standing["belfry"] = replace(standing["spire"], heel_from=2.0, heel_to=3.0)
    moved = replace(passage, standing=standing, lift="spire lift")
    rigged = rigged_lift(plan, raise_, moved)
    np.testing.assert_allclose(rigged.upper[0, :, 2], 22.0)
    np.testing.assert_allclose(rigged.upper[-1, :, 2], 23.0)


def test_plumb_line_and_turn_carry_the_lift_points(tmp_path):
    _, _, raise_, (_, curve) = curves(
        tmp_path,
        lifts=[spire_lift()],
        stages=only_spire(),
        plumb_line={"x": "50 mm", "y": "-65 mm", "turn": "90 deg"},
    )
    # P1 at (-1.75, -1.75) turns to (1.75, -1.75) and shifts with the plumb line.
    np.testing.assert_allclose(
        curve.lower[0, 0], [1.75 + 0.05, -1.75 - 0.065, curve.heels[0] + 0.1], atol=1e-12
    )
    assert raise_.plumb_line.turn == pytest.approx(np.pi / 2)


def test_tops_that_are_not_on_the_site_leave_no_number(tmp_path):
    body = over_the_points(lift("spire lift", "spire", "belfry", (1, 2, 3, 4)), 1.75, 20.0)
    _, _, _, found = curves(tmp_path, lifts=[body], stages=only_spire())
    for curve in found:
        assert not curve.rests.any()
        assert np.isnan(curve.tensions).all()
        np.testing.assert_array_equal(curve.ratio, 0.0)


def test_lift_point_above_its_top_block_hangs_nowhere(tmp_path):
    body = over_the_points(lift("spire lift", "spire", "gantry", (1, 2, 3, 4)), 1.75, 10.0)
    _, _, _, (_, curve) = curves(tmp_path, lifts=[body], stages=only_spire())
    low = curve.heels + 0.1 < 10.0
    assert low.any()
    assert not low.all()
    assert not curve.rests[~low].any()
    np.testing.assert_array_equal(curve.ratio[~low], 0.0)
    assert curve.rests[low][0]


def test_lift_rigged_for_another_section_leaves_no_number(tmp_path):
    body = tiny_plan().model_dump(mode="json")
    for point in body["sections"][2]["lift_points"]:
        point["mark"] = f"S{point['mark']}"
    _, _, _, found = curves(
        tmp_path, sections=body["sections"], lifts=[spire_lift()], stages=only_spire()
    )
    for curve in found:
        assert not curve.rests.any()
        assert np.isnan(curve.lower).all()
