"""Downhill on the energy of a hung load to where nothing pulls any more."""

import numpy as np
from scipy.spatial.transform import Rotation

from towerlift.mechanics.energy import (
    Flags,
    Floats,
    LineProblem,
    Pose,
    energy_curvature,
    energy_of,
    energy_slope,
)

# A section farther out of true than this has toppled for every use made of it here.
FARTHEST_TILT = 0.35
FARTHEST_SHIFT = 5.0
# No step of the search turns or moves it more than this.
FARTHEST_STEP = 0.05
FARTHEST_MOVE = 0.5
BALANCE_RTOL = 1e-10
STILL_RTOL = 1e-9
MOST_STEPS = 80
MOST_HALVINGS = 25


def scaled_stiffness(problem: LineProblem, hessian: Floats) -> Floats:
    """Stiffness with turns taken at the mean reach of the lift points, (m, 6, 6). [N/m]"""
    scale = freedom_scale(problem)
    return np.asarray(hessian * scale[:, :, None] * scale[:, None, :])


def freedom_scale(problem: LineProblem) -> Floats:
    """What each freedom is multiplied by to be a length, (m, 6)."""
    turns = np.repeat(1 / problem.reach[:, None], 3, axis=1)
    return np.concatenate([np.ones_like(turns), turns], axis=1)


def descend(problem: LineProblem, start: Pose) -> tuple[Pose, Flags]:
    """Downhill from a pose until nothing pulls any more, each case by itself.

    Parameters
    ----------
    problem : LineProblem
        Energy.
    start : Pose
        Where to begin.

    Returns
    -------
    pose : Pose
        Where each case came to.
    balanced : (m,) bool
        Whether nothing pulls there.
    """
    shift, turn = start.shift.copy(), start.turn.copy()
    balanced = np.zeros(len(shift), dtype=bool)
    going = np.arange(len(shift))
    for _ in range(MOST_STEPS):
        part, pose = problem.of(going), Pose(shift=shift[going], turn=turn[going])
        scale = freedom_scale(part)
        slope = energy_slope(part, pose) * scale
        still = np.linalg.norm(slope, axis=1) <= BALANCE_RTOL * part.weight + _rounding(part)
        balanced[going[still]] = True
        astray = pose.turn[:, 2, 2] < np.cos(FARTHEST_TILT)
        astray |= np.linalg.norm(pose.shift, axis=1) > FARTHEST_SHIFT
        on = ~(still | astray)
        going = going[on]
        if not going.size:
            break
        part, pose, slope, scale = part.of(on), pose.of(on), slope[on], scale[on]
        step = _step(scaled_stiffness(part, energy_curvature(part, pose)), slope)
        moved = _walk(part, pose, step * scale, (step * slope).sum(axis=1))
        shift[going], turn[going] = moved.shift, moved.turn
    return Pose(shift=shift, turn=turn), balanced


def _rounding(problem: LineProblem) -> Floats:
    """Force that rounding of places alone makes in hard shoes, (m,). [N]"""
    if problem.held is None or not problem.held.stiffness.size:
        return np.zeros(len(problem.weight))
    reach = np.abs(problem.held.arms).max(axis=(1, 2))
    return np.asarray(1e-15 * problem.held.stiffness.max(axis=1) * reach)


def _step(hessian: Floats, slope: Floats) -> Floats:
    """Newton's step with every eigenvalue taken positive: always downhill."""
    try:
        # Where every case is stiff all ways, the plain step is the same and cheaper.
        np.linalg.cholesky(hessian)
    except np.linalg.LinAlgError:
        values, vectors = np.linalg.eigh(hessian)
        floor = STILL_RTOL * np.maximum(values[:, -1:], 1.0)
        along = np.einsum("mji,mj->mi", vectors, slope) / np.maximum(np.abs(values), floor)
        return np.asarray(-np.einsum("mij,mj->mi", vectors, along))
    return np.asarray(-np.linalg.solve(hessian, slope[..., None])[..., 0])


def _walk(problem: LineProblem, pose: Pose, step: Floats, slope: Floats) -> Pose:
    """As much of a step as lowers the energy."""
    turning = np.linalg.norm(step[:, 3:], axis=1) / FARTHEST_STEP
    moving = np.linalg.norm(step[:, :3], axis=1) / FARTHEST_MOVE
    share = 1 / np.maximum(1.0, np.maximum(turning, moving))
    start = energy_of(problem, pose)
    # Rounding of energies as large as weight times length must not stop the last steps.
    noise = 1e-13 * problem.weight * np.linalg.norm(problem.anchors, axis=-1).max(axis=1)
    shift, turn = pose.shift.copy(), pose.turn.copy()
    left = np.arange(len(share))
    for _ in range(MOST_HALVINGS):
        part = problem.of(left)
        tried = moved_by(pose.of(left), step[left] * share[left, None])
        lower = energy_of(part, tried) <= (
            start[left] + 1e-4 * share[left] * slope[left] + noise[left]
        )
        shift[left[lower]], turn[left[lower]] = tried.shift[lower], tried.turn[lower]
        left = left[~lower]
        if not left.size:
            break
        share[left] /= 2
    return Pose(shift=shift, turn=turn)


def moved_by(pose: Pose, step: Floats) -> Pose:
    """A pose shifted and turned by a step, (m, 6). [m], [rad]"""
    by = Rotation.from_rotvec(step[:, 3:]).as_matrix()
    return Pose(shift=pose.shift + step[:, :3], turn=by @ pose.turn)
