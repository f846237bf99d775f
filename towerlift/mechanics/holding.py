"""What lines and shoes bear while a load is held out of true, and what must hold it there."""

from dataclasses import dataclass

import numpy as np

from towerlift.mechanics.energy import (
    Flags,
    Floats,
    LineProblem,
    Pose,
    energy_curvature,
    energy_slope,
    group_pulls,
    shoe_pressures,
)
from towerlift.mechanics.guided import Disturbance, guided_problem
from towerlift.mechanics.hang import HungLoad, pose_problem
from towerlift.mechanics.shoes import Guides

# A pose whose height balances farther from true than about this is no hang.
FIRST_STEP, DOUBLINGS = 1e-3, 13
BALANCED_RTOL = 1e-9
MOST_ROUNDS = 80
# Newton's steps to a level hang, and how well it must balance.
LEVELLINGS, LEVEL_RTOL = 4, 1e-7
LEAST_REACH = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """A load held out of true at the height at which its weight is borne.

    Attributes
    ----------
    balances : (m,) bool
        Whether such a height exists. Where not, no number below is a number.
    shift : (m, 3) float
        Move of the mean of the lift points from the true hang, height included. [m]
    tensions : (m, n) float
        Load of each line. [N]
    pressures : (m, q) float
        Of each shoe on its rail. [N]
    force : (m, 2) float
        Level force that must hold it there, over and above lines, shoes and wind. [N]
    moment : (m, 3) float
        Moment about the mean of the lift points that must hold it there. [N m]
    """

    balances: Flags
    shift: Floats
    tensions: Floats
    pressures: Floats
    force: Floats
    moment: Floats


_UNDISTURBED = Disturbance()


def hold(
    load: HungLoad,
    guides: Guides,
    out_of_true: Pose,
    *,
    disturbed: Disturbance = _UNDISTURBED,
) -> Holding:
    """Hold a load out of true, free to rise and sink, and ask what bears it.

    Parameters
    ----------
    load : HungLoad
        Load and lines, hanging true.
    guides : Guides
        Shoes; their friction is left out.
    out_of_true : Pose
        Level shift and turn are kept; the height is where the search begins.
    disturbed : Disturbance
        Crews out of step, lost lines, wind.

    Returns
    -------
    holding : Holding
        For every case.

    Raises
    ------
    ValueError
        If shapes do not agree.

    Notes
    -----
    Derived here. The slope of the energy in a pose is the force and the moment that
    hold the load there. Its upward part rises with the height, since lines slacken as
    the load is lifted, so that there is one height at which nothing need lift it; it is
    fenced in and found by Newton's steps, halved where they leave the fence.
    """
    problem = guided_problem(load, guides, disturbed)
    low, high, fenced = _fence(problem, out_of_true)
    pose = _level(problem, out_of_true, (low, high))
    slope = energy_slope(problem, pose)
    balances = fenced & (np.abs(slope[:, 2]) <= BALANCED_RTOL * problem.weight)
    tension, _ = group_pulls(problem, pose)
    pressures = np.zeros((len(low), 0))
    if problem.held is not None:
        pressures, _ = shoe_pressures(problem.held, pose)
    unknown = np.where(balances, 0.0, np.nan)[:, None]
    return Holding(
        balances=balances,
        shift=pose.shift + unknown,
        tensions=tension @ problem.member + unknown,
        pressures=pressures + unknown,
        force=slope[:, :2] + unknown,
        moment=slope[:, 3:] + unknown,
    )


def _at(pose: Pose, height: Floats) -> Pose:
    shift = pose.shift.copy()
    shift[:, 2] = height
    return Pose(shift=shift, turn=pose.turn)


def _lift(problem: LineProblem, pose: Pose, height: Floats) -> Floats:
    """Upward force that would have to hold the load at a height. [N]"""
    return np.asarray(energy_slope(problem, _at(pose, height))[:, 2])


def _fence(problem: LineProblem, pose: Pose) -> tuple[Floats, Floats, Flags]:
    """Heights with the balance between them, and whether it is."""
    low, high = pose.shift[:, 2].copy(), pose.shift[:, 2].copy()
    step = FIRST_STEP
    for _ in range(DOUBLINGS):
        below, above = _lift(problem, pose, low) > 0, _lift(problem, pose, high) < 0
        if not (below.any() or above.any()):
            break
        low[below] -= step
        high[above] += step
        step *= 2
    fenced = (_lift(problem, pose, low) <= 0) & (_lift(problem, pose, high) >= 0)
    return low, high, fenced


def _level(problem: LineProblem, pose: Pose, fence: tuple[Floats, Floats]) -> Pose:
    low, high = fence[0].copy(), fence[1].copy()
    height = (low + high) / 2
    for _ in range(MOST_ROUNDS):
        lift = _lift(problem, pose, height)
        if (np.abs(lift) <= 1e-3 * BALANCED_RTOL * problem.weight).all():
            break
        low, high = np.where(lift < 0, height, low), np.where(lift > 0, height, high)
        stiffness = energy_curvature(problem, _at(pose, height))[:, 2, 2]
        with np.errstate(divide="ignore", invalid="ignore"):
            stepped = height - lift / stiffness
        # A slack load has no stiffness, and a step past the fence is no step.
        height = np.where((stepped > low) & (stepped < high), stepped, (low + high) / 2)
    return _at(pose, height)


def level_haul(load: HungLoad) -> tuple[Floats, Flags]:
    """Extra haul of each line, on top of hauling all alike, that hangs a load level.

    Parameters
    ----------
    load : HungLoad
        Load and lines, hanging true.

    Returns
    -------
    haul : (m, n) float
        Highest to lowest in one plane over the lift points, as crews level by marks at
        the corners; none where no such haul levels it. [m]
    levels : (m,) bool
        Whether it does.

    Notes
    -----
    Derived here: balance of forces and moments, upright and at its height, with three
    coefficients of the plane, sway and yaw unknown, by Newton's steps with differences.
    """
    m, n = load.stiffness.shape
    arms = load.lower - load.middle[:, None]
    planes = np.stack([np.ones((m, n)), arms[..., 0], arms[..., 1]], axis=-1)
    reach = np.maximum(np.abs(planes).max(axis=1), LEAST_REACH)
    # A thousandth of the stretch at most, so that every line stays taut.
    step = 1e-3 * (load.weight / load.stiffness.sum(axis=1))
    sizes = np.concatenate([step[:, None] / reach, np.repeat(step[:, None], 3, axis=1)], axis=1)
    tolerance = LEVEL_RTOL * load.weight * np.maximum(reach.max(axis=1), 1.0)
    unknown = np.zeros((m, 6))
    for _ in range(LEVELLINGS):
        bare = _left_over(load, planes, unknown)
        if (np.abs(bare).max(axis=1) <= 1e-3 * tolerance).all():
            break
        slopes = np.empty((m, 6, 6))
        for k in range(6):
            by = np.zeros((m, 6))
            by[:, k] = sizes[:, k]
            moved = _left_over(load, planes, unknown + by)
            slopes[..., k] = (moved - bare) / sizes[:, k : k + 1]
        # Yaw on a single line, or tilt on lines in a row, has no say: left as it is.
        scaled = slopes * sizes[:, None]
        unknown -= (np.linalg.pinv(scaled, rcond=1e-9) @ bare[..., None])[..., 0] * sizes
    haul = (planes @ unknown[:, :3, None])[..., 0]
    left = np.abs(_left_over(load, planes, unknown)).max(axis=1)
    levels = (left <= tolerance) & np.isfinite(unknown).all(axis=1)
    return np.where(levels[:, None], haul, 0.0), levels


def _left_over(load: HungLoad, planes: Floats, unknown: Floats) -> Floats:
    """Force and moment left over, upright, hauled by a plane, swayed and yawed, (m, 6)."""
    haul = (planes @ unknown[:, :3, None])[..., 0]
    shift = np.concatenate([unknown[:, 3:5], np.zeros((len(unknown), 1))], axis=1)
    turn = np.tile(np.eye(3), (len(unknown), 1, 1))
    c, s = np.cos(unknown[:, 5]), np.sin(unknown[:, 5])
    turn[:, 0, 0], turn[:, 1, 1], turn[:, 0, 1], turn[:, 1, 0] = c, c, -s, s
    return np.asarray(
        energy_slope(pose_problem(load, haul, None), Pose(shift=shift, turn=turn))
    )
