"""Slope and curvature of the energy against differences of the energy itself."""

from dataclasses import replace

import numpy as np
import pytest

from towerlift.mechanics.compiled import BALANCE_RTOL
from towerlift.mechanics.descent import descend, moved_by
from towerlift.mechanics.energy import (
    Pose,
    energy_curvature,
    energy_of,
    energy_slope,
    group_pulls,
    shoe_pressures,
)
from towerlift.mechanics.hang import HungLoad, pose_problem
from towerlift.mechanics.shoes import Guides, Wind, held_about

CORNERS = np.array([[1.9, 2.1], [2.0, -1.8], [-2.1, -2.0], [-1.8, 1.9]])
SIDES = np.array([[1.0, 0, 0], [0, 1.0, 0], [-1.0, 0, 0], [0, -1.0, 0]])


def held_load(rng, m=6):
    """Six lines, two of them on one equaliser, one lost; eight shoes, most of them closed."""
    lower = np.zeros((6, 3))
    lower[:, :2] = np.concatenate([CORNERS, CORNERS[:2] + 0.3])
    upper = lower + rng.uniform([-0.4, -0.4, 8.0], [0.4, 0.4, 12.0], (m, 6, 3))
    load = HungLoad(
        upper=upper,
        lower=np.tile(lower, (m, 1, 1)),
        stiffness=rng.uniform(100e3, 200e3, (m, 6)),
        weight=rng.uniform(1e5, 2e5, m),
        centre=rng.uniform([-0.1, -0.1, 2.0], [0.1, 0.1, 5.0], (m, 3)),
        groups=np.array([0, 1, 2, 3, 0, 4]),
    )
    lost = np.zeros((m, 6), dtype=bool)
    lost[:, 5] = True
    at = np.concatenate([SIDES * 2.0, SIDES * 2.0 + [0, 0, 9.0]])
    guides = Guides(
        at=np.tile(at, (m, 1, 1)),
        outward=np.tile(np.concatenate([SIDES, SIDES]), (m, 1, 1)),
        gap=np.full((m, 8), 0.002),
        friction=np.full(m, 0.2),
        stiffness=3e5,
    )
    wind = Wind(force=rng.normal(0, 3e3, (m, 3)), at=rng.normal(0, 4, (m, 3)))
    problem = pose_problem(load, rng.uniform(0, 0.05, (m, 6)), lost)
    return replace(problem, held=held_about(load.middle, guides, wind))


def astray(rng, m=6):
    start = Pose(shift=np.zeros((m, 3)), turn=np.tile(np.eye(3), (m, 1, 1)))
    return moved_by(start, rng.normal(0, 1, (m, 6)) * [0.05, 0.05, 0.02, 0.03, 0.03, 0.05])


def differences(function, pose, by):
    """By each of the six freedoms in turn, central, of the pose as it is."""
    rows = []
    for freedom in range(6):
        step = np.zeros((len(pose.shift), 6))
        step[:, freedom] = by
        ahead, behind = function(moved_by(pose, step)), function(moved_by(pose, -step))
        rows.append((ahead - behind) / (2 * by))
    return np.stack(rows, axis=-1)


@pytest.mark.parametrize("seed", range(4))
def test_slope_is_that_of_the_energy(seed):
    rng = np.random.default_rng(seed)
    problem, pose = held_load(rng), astray(rng)
    found = differences(lambda at: energy_of(problem, at), pose, 1e-6)
    slope = energy_slope(problem, pose)
    np.testing.assert_allclose(slope, found, atol=1e-7 * np.abs(slope).max())


@pytest.mark.parametrize("seed", range(4))
def test_curvature_is_the_change_of_the_slope(seed):
    rng = np.random.default_rng(seed)
    problem, pose = held_load(rng), astray(rng)
    tension, _ = group_pulls(problem, pose)
    pressures, _ = shoe_pressures(problem.held, pose)
    # Taut and slack, lost and shared, open and closed are all among them.
    assert (tension[:, :4] > 0).any()
    assert np.all(tension[:, 4] == 0)
    assert (pressures > 0).any()
    assert (pressures == 0).any()
    change = differences(lambda at: energy_slope(problem, at), pose, 1e-6)
    # Two turns one after the other do not commute: the curvature is the even part.
    change = (change + np.swapaxes(change, 1, 2)) / 2
    stiffness = energy_curvature(problem, pose)
    np.testing.assert_allclose(stiffness, change, atol=1e-6 * np.abs(stiffness).max())
    np.testing.assert_allclose(stiffness, np.swapaxes(stiffness, 1, 2), rtol=1e-12)


def test_nothing_pulls_where_the_way_down_ends_and_it_lies_lower():
    rng = np.random.default_rng(9)
    problem = held_load(rng)
    true = Pose(shift=np.zeros((6, 3)), turn=np.tile(np.eye(3), (6, 1, 1)))
    pose, balanced = descend(problem, true)
    assert balanced.all()
    scale = np.ones((6, 6))
    scale[:, 3:] /= problem.reach[:, None]
    left = np.linalg.norm(energy_slope(problem, pose) * scale, axis=1)
    assert np.all(left <= 2 * BALANCE_RTOL * problem.weight)
    assert np.all(energy_of(problem, pose) < energy_of(problem, true))
    np.testing.assert_allclose(
        pose.turn @ np.swapaxes(pose.turn, 1, 2), np.tile(np.eye(3), (6, 1, 1)), atol=1e-12
    )


def test_what_has_no_number_is_not_balanced():
    problem = held_load(np.random.default_rng(3))
    problem.anchors[2, 1, 2] = np.nan
    true = Pose(shift=np.zeros((6, 3)), turn=np.tile(np.eye(3), (6, 1, 1)))
    _, balanced = descend(problem, true)
    assert balanced.tolist() == [True, True, False, True, True, True]
