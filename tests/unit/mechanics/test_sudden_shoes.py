"""Lines lost all at once by a section between shoes: closed forms, and MuJoCo.

MuJoCo's own contacts are damped; so each shoe is a tendon there too, from the shoe to a place
far behind it, which is slack until the clearance is used up. Nothing damps anything.
"""

from dataclasses import replace

import mujoco  # type: ignore[import-untyped]
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from tests.unit.mechanics.test_against_mujoco import guided_tower, loaded
from tests.unit.mechanics.tower_in_mujoco import Engine, Settings
from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.mechanics.energy import Pose
from towerlift.mechanics.guided import settle_guided
from towerlift.mechanics.hang import pose_problem
from towerlift.mechanics.shoes import Guides, shoes_about
from towerlift.mechanics.sudden import follow_between_shoes
from towerlift.mechanics.swinging import Clock, swing_freely

FAR = 1000.0
STEP = 2e-4
HARD = 2e6


def guides_of(tower, gap=None):
    q = len(tower.at)
    return Guides(
        at=tower.at[None],
        outward=tower.outward[None],
        gap=np.full((1, q), tower.gap if gap is None else gap),
        friction=np.zeros(1),
        stiffness=HARD,
    )


def inertia_of(tower):
    return np.eye(3)[None] * 6.0 * tower.weight / STANDARD_GRAVITY


def lost(number, of=4):
    return np.arange(of)[None] == number


def let_go(tower, rest, line, seconds):
    """Greatest load of each line and the lean, in the engine."""
    n = len(tower.lower)
    whole = replace(
        tower,
        upper=np.concatenate([tower.upper, tower.at - FAR * tower.outward]),
        lower=np.concatenate([tower.lower, tower.at]),
        stiffness=np.concatenate([tower.stiffness, np.full(len(tower.at), HARD)]),
        at=np.zeros((0, 3)),
        outward=np.zeros((0, 3)),
    )
    engine = Engine(whole, Settings(step=STEP))
    model, data = engine.model, engine.data
    model.tendon_lengthspring[:n, 1] = tower.lengths - tower.haul
    model.tendon_lengthspring[n:, 1] = FAR + tower.gap
    model.tendon_damping[:] = 0.0
    model.dof_damping[:] = 0.0
    model.opt.integrator = mujoco.mjtIntegrator.mjINT_RK4
    model.tendon_stiffness[line] = 0.0
    turn = Rotation.from_rotvec(rest.turn[0])
    middle = tower.lower.mean(axis=0)
    data.qpos[:3] = middle + rest.shift[0] + turn.apply(tower.centre - middle)
    data.qpos[3:7] = turn.as_quat(scalar_first=True)
    peaks, lean = np.zeros(n), 0.0
    for _ in range(int(seconds / STEP)):
        mujoco.mj_step(model, data)
        peaks = np.maximum(peaks, engine.tensions[:n])
        lean = max(lean, engine.tilt)
    peaks[line] = 0.0
    return peaks, lean


@pytest.mark.parametrize("number", range(6))
def test_the_swing_between_shoes_is_that_of_the_engine(number):
    rng = np.random.default_rng(40 + number)
    tower = guided_tower(rng)
    line = int(rng.integers(4))
    rest = settle_guided(loaded(tower), guides_of(tower))
    assert rest.rests[0]
    mass = tower.weight / STANDARD_GRAVITY
    # Half a period of the heave on three lines, and the blows till then.
    seconds = np.pi * np.sqrt(mass / (3 * tower.stiffness[0]))
    peaks, lean = let_go(tower, rest, line, seconds)
    problem = replace(
        pose_problem(loaded(tower), None, lost(line)),
        held=shoes_about(loaded(tower).middle, guides_of(tower)),
    )
    start = Pose(shift=rest.shift, turn=Rotation.from_rotvec(rest.turn).as_matrix())
    clock = Clock(seconds=np.array([seconds]), step=np.array([STEP]))
    motion = swing_freely(problem, inertia_of(tower), start, clock)
    mean = tower.weight / 4
    np.testing.assert_allclose(motion.peaks[0], peaks, atol=0.01 * mean)
    assert motion.lean[0] == pytest.approx(lean, rel=0.02, abs=1e-4)
    # Shoes did bear, or nothing was shown of them.
    free = swing_freely(replace(problem, held=None), inertia_of(tower), start, clock)
    assert motion.lean[0] < 0.9 * free.lean[0]


def square(play, *, each=2):
    """A section on two lines a corner, its centre in its middle, between close shoes."""
    tower = guided_tower(np.random.default_rng(1))
    corners = np.array([[1.0, 1], [1, -1], [-1, -1], [-1, 1]]) * 2.0
    lower = np.repeat(np.column_stack([corners, np.zeros(4)]), each, axis=0)
    n = len(lower)
    return replace(
        tower,
        lower=lower,
        upper=lower + np.array([0, 0, 10.0]),
        stiffness=np.full(n, tower.weight / n / 0.1),
        centre=np.array([0.0, 0.0, 3.0]),
        gap=play,
    )


def test_one_line_of_each_corner_gone_heaves_and_leans_nowhere():
    """W/8 before, W/4 at rest after, 3 W/8 at the peak: shoes have nothing to do."""
    tower = square(0.01)
    gone = np.tile([True, False], 4)[None]
    motion, rests = follow_between_shoes(
        loaded(tower), inertia_of(tower), guides_of(tower), gone
    )
    assert rests[0]
    left = motion.peaks[0][~gone[0]]
    assert left == pytest.approx(np.full(4, 3 * tower.weight / 8), rel=5e-3)
    assert motion.lean[0] < 1e-6
    assert np.all(motion.peaks[gone] == 0)


def test_without_play_one_line_gone_sinks_it_upright():
    """Kept upright all share alike: W/8 before, W/7 at rest, and as far again beyond."""
    tower = square(0.0)
    gone = np.arange(8)[None] == 0
    hard = replace(guides_of(tower), stiffness=1e9)
    motion, _ = follow_between_shoes(loaded(tower), inertia_of(tower), hard, gone)
    peak = tower.weight * (1 / 8 + 2 * (1 / 7 - 1 / 8))
    assert motion.peaks[0][1:] == pytest.approx(np.full(7, peak), rel=0.02)


def test_more_play_leans_farther_and_loads_the_partner_more():
    gone = np.arange(8)[None] == 0
    found = []
    for play in (0.0, 0.01, 0.02):
        tower = square(play)
        motion, _ = follow_between_shoes(
            loaded(tower), inertia_of(tower), guides_of(tower), gone
        )
        found.append((motion.lean[0], motion.peaks[0].max()))
    assert found == sorted(found)
    assert np.all(np.isfinite(found))


def test_the_energy_stays_within_a_hundredth_of_what_was_freed():
    tower = square(0.02)
    gone = np.arange(8)[None] == 0
    motion, _ = follow_between_shoes(loaded(tower), inertia_of(tower), guides_of(tower), gone)
    pull = tower.weight / 8
    assert motion.drift[0] <= 0.0101 * pull**2 / tower.stiffness[0] / 2
