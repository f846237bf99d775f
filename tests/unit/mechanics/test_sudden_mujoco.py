"""A sudden loss against MuJoCo: the same section let go, nothing damping it.

Another engine, another method of integration, its own tendons: what it meets on the way is
what ours meets, and stays below the sum of the modes where no line goes slack.
"""

import mujoco  # type: ignore[import-untyped]
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from tests.unit.mechanics.test_against_mujoco import free_tower, loaded
from tests.unit.mechanics.tower_in_mujoco import Engine, Settings
from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.mechanics.energy import Pose
from towerlift.mechanics.hang import pose_problem, settle
from towerlift.mechanics.sudden import swing_after
from towerlift.mechanics.swinging import Clock, swing_freely

N_CASES = 36
STEP = 1e-3

pytestmark = pytest.mark.slow


def let_go(tower, rest, line, seconds):
    """Greatest load of each line and the lean, with a line gone from the rest of all."""
    engine = Engine(tower, Settings(step=STEP))
    model, data = engine.model, engine.data
    model.tendon_damping[:] = 0.0
    model.dof_damping[:] = 0.0
    model.opt.integrator = mujoco.mjtIntegrator.mjINT_RK4
    model.tendon_stiffness[line] = 0.0
    turn = Rotation.from_rotvec(rest.turn[0])
    middle = tower.lower.mean(axis=0)
    data.qpos[:3] = middle + rest.shift[0] + turn.apply(tower.centre - middle)
    data.qpos[3:7] = turn.as_quat(scalar_first=True)
    peaks, lean = np.zeros(len(tower.lower)), 0.0
    for _ in range(int(seconds / STEP)):
        mujoco.mj_step(model, data)
        peaks = np.maximum(peaks, engine.tensions)
        lean = max(lean, engine.tilt)
        if lean > 0.3:
            break
    peaks[line] = 0.0
    return peaks, lean


@pytest.mark.parametrize("number", range(N_CASES))
def test_what_lines_take_is_what_the_engine_gives_them(number):
    rng = np.random.default_rng(700 + number)
    # Every third is soft enough for lines to go slack on the way.
    ratio = rng.uniform(2.2, 2.8) if number % 3 == 0 else rng.uniform(3.5, 9.0)
    tower = free_tower(rng, ratio)
    while len(tower.lower) != 8:
        tower = free_tower(rng, ratio)
    line = int(rng.integers(8))
    load, gone = loaded(tower), np.eye(8, dtype=bool)[line][None]
    before, after = settle(load), settle(load, lost=gone)
    assert before.rests[0]
    if not after.rests[0]:
        pytest.fail("drawn so that it rests on seven lines")
    inertia = np.eye(3)[None] * 6.0 * tower.weight / STANDARD_GRAVITY
    swing = swing_after(load, inertia, before, after, gone)
    # One period of the slowest: longer, and what goes slack is not foretold by anybody.
    seconds = float(swing.slowest[0])
    engine_peaks, engine_lean = let_go(tower, before, line, seconds)
    start = Pose(shift=before.shift, turn=Rotation.from_rotvec(before.turn).as_matrix())
    clock = Clock(seconds=np.array([seconds]), step=np.array([STEP]))
    motion = swing_freely(pose_problem(load, None, gone), inertia, start, clock)
    mean = tower.weight / 8
    if not motion.toppled[0]:
        np.testing.assert_allclose(motion.peaks[0], engine_peaks, atol=0.01 * mean)
        assert motion.lean[0] == pytest.approx(engine_lean, abs=2e-3)
    else:
        assert engine_lean > 0.3
    if not swing.slackens[0]:
        left = ~gone[0]
        assert np.all(engine_peaks[left] <= swing.peaks[0, left] + 0.04 * mean)
        assert engine_peaks.max() <= swing.peaks.max()
        assert engine_peaks.max() >= 0.8 * swing.peaks.max()
