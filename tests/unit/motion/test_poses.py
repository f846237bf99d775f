"""Poses: names, handedness and the direction of small angles."""

import numpy as np
import pytest

from tests.plans.factory import tiny_plan
from towerlift.motion.follow import follow_stages
from towerlift.motion.passages import PoseChange

EAST, NORTH, UP = np.eye(3)


def pose(heel=0.0, x="0 m", y="0 m", turn="0 deg", **change):
    raise_ = follow_stages(tiny_plan(plumb_line={"x": x, "y": y, "turn": turn}))
    return raise_.shaft_from_section(heel, PoseChange(**change))


def moved(shaft_from_section, point):
    return (shaft_from_section @ np.append(point, 1.0))[:3]


def test_height_is_heel_plus_height_in_the_section():
    at = pose(heel=8.5, x="50 mm", y="-65 mm")
    np.testing.assert_allclose(moved(at, [1.0, 2.0, 9.2]), [1.05, 1.935, 17.7], atol=1e-12)


def test_tilt_about_east_lifts_the_north_side():
    assert moved(pose(tilt_x=1e-3), NORTH)[2] == pytest.approx(1e-3, rel=1e-6)
    assert moved(pose(tilt_x=1e-3), UP)[1] == pytest.approx(-1e-3, rel=1e-6)


def test_tilt_about_north_lowers_the_east_side():
    assert moved(pose(tilt_y=1e-3), EAST)[2] == pytest.approx(-1e-3, rel=1e-6)
    assert moved(pose(tilt_y=1e-3), UP)[0] == pytest.approx(1e-3, rel=1e-6)


def test_yaw_takes_east_towards_north_and_adds_to_the_turn():
    np.testing.assert_allclose(moved(pose(yaw=np.pi / 2), EAST), NORTH, atol=1e-12)
    both = pose(turn="30 deg", yaw=np.pi / 3)
    np.testing.assert_allclose(moved(both, EAST), NORTH, atol=1e-12)


def test_drift_shifts_the_heel_centre():
    at = pose(heel=1.0, x="10 mm", drift_x=0.02, drift_y=-0.03)
    np.testing.assert_allclose(moved(at, [0.0, 0.0, 0.0]), [0.03, -0.03, 1.0], atol=1e-15)


def test_heel_centre_stays_when_the_section_tilts_or_turns():
    at = pose(heel=3.0, tilt_x=0.02, tilt_y=-0.01, yaw=0.5)
    np.testing.assert_allclose(moved(at, [0.0, 0.0, 0.0]), [0.0, 0.0, 3.0], atol=1e-15)


def test_pose_is_rigid_and_right_handed():
    turn = pose(tilt_x=0.1, tilt_y=-0.2, yaw=0.3, turn="10 deg")[:3, :3]
    np.testing.assert_allclose(turn @ turn.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(turn) == pytest.approx(1.0)
