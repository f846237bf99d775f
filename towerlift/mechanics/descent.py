"""Downhill on the energy of a hung load to where nothing pulls any more."""

import numpy as np
from scipy.spatial.transform import Rotation

from towerlift.mechanics import compiled
from towerlift.mechanics.energy import Flags, Floats, LineProblem, Pose

# A section farther out of true than this has toppled for every use made of it here.
FARTHEST_TILT = 0.35
FARTHEST_SHIFT = 5.0


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
    rows, balanced = start.rows, np.zeros(len(start.shift), dtype=bool)
    bounds = (float(np.cos(FARTHEST_TILT)), FARTHEST_SHIFT)
    compiled.descents(problem.loads, rows, bounds, balanced)
    return Pose(shift=rows[:, :3].copy(), turn=rows[:, 3:].reshape(-1, 3, 3)), balanced


def moved_by(pose: Pose, step: Floats) -> Pose:
    """A pose shifted and turned by a step, (m, 6). [m], [rad]"""
    by = Rotation.from_rotvec(step[:, 3:]).as_matrix()
    return Pose(shift=pose.shift + step[:, :3], turn=by @ pose.turn)
