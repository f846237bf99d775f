"""Lines loaded all at once: closed forms, laws, and where a line goes slack."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.mechanics.energy import Pose
from towerlift.mechanics.hang import HungLoad, pose_problem, settle
from towerlift.mechanics.sudden import follow_loss, mass_matrix, swing_after
from towerlift.mechanics.swinging import Clock, swing_freely

CORNERS = np.array([[1.0, 1.0], [1.0, -1.0], [-1.0, -1.0], [-1.0, 1.0]])
WEIGHT, SPACING, LENGTH = 1e5, 4.0, 12.0


def doubled(height, *, ratio=4.0, m=1, each=2):
    """A section on two lines a corner, whose stiffness is a ratio of what topples it."""
    lower = np.repeat(np.column_stack([CORNERS * SPACING / 2, np.zeros(4)]), each, axis=0)
    one = ratio * WEIGHT * abs(height) / SPACING**2 / each
    return HungLoad(
        upper=np.tile(lower + np.array([0, 0, LENGTH]), (m, 1, 1)),
        lower=np.tile(lower, (m, 1, 1)),
        stiffness=np.full((m, 4 * each), one),
        weight=np.full(m, WEIGHT),
        centre=np.tile([0.0, 0.0, height], (m, 1)),
        groups=np.arange(4 * each),
    )


def slender(m=1, *, about=2.5):
    """Inertia of a body as tall as it is heavy: radius of gyration level, and less upright."""
    mass = WEIGHT / STANDARD_GRAVITY
    return np.tile(np.diag([about**2, about**2, 1.5**2]) * mass, (m, 1, 1))


def after_loss(load, lost):
    gone = np.asarray(lost, dtype=bool)[None]
    before, after = settle(load), settle(load, lost=gone)
    inertia = slender(len(load.weight))
    return before, after, swing_after(load, inertia, before, after, gone), gone


def test_one_of_two_lines_at_each_corner_gone_heaves_to_three_times_the_share():
    """Pure heave: W/8 before, W/4 at rest after, W/4 + W/8 at the peak; never slack."""
    before, after, swing, gone = after_loss(doubled(5.0), [1, 0] * 4)
    assert before.tensions[0] == pytest.approx(np.full(8, WEIGHT / 8))
    assert after.tensions[0, 1::2] == pytest.approx(np.full(4, WEIGHT / 4))
    assert swing.peaks[0, 1::2] == pytest.approx(np.full(4, 3 * WEIGHT / 8), rel=1e-9)
    assert swing.lows[0, 1::2] == pytest.approx(np.full(4, WEIGHT / 8), rel=1e-9)
    assert np.all(swing.peaks[gone] == 0)
    assert not swing.slackens[0]
    # Quickest or not, heave has the period 2 pi sqrt(m / K); the motion has its peak too.
    motion = follow_loss(doubled(5.0), slender(), before, swing, gone)
    assert motion.peaks[0, 1::2] == pytest.approx(np.full(4, 3 * WEIGHT / 8), rel=2e-3)


def test_heave_turns_after_half_its_period():
    load = doubled(5.0)
    before, _, _, gone = after_loss(load, [1, 0] * 4)
    stiffness = load.stiffness[0, 0] * 4
    half = np.pi * np.sqrt(WEIGHT / STANDARD_GRAVITY / stiffness)
    problem = pose_problem(load, None, gone)
    start = Pose(shift=before.shift, turn=np.eye(3)[None])

    def peak(seconds):
        clock = Clock(seconds=np.array([seconds]), step=np.array([half / 2000]))
        return swing_freely(problem, slender(), start, clock).peaks[0, 1]

    # T = T1 - (T1 - T0) cos w t: at a quarter of the period the rest, at half the peak.
    assert peak(half / 2) == pytest.approx(WEIGHT / 4, rel=2e-3)
    assert peak(half) == pytest.approx(3 * WEIGHT / 8, rel=1e-5)


@settings(deadline=None, max_examples=25)
@given(seed=st.integers(0, 10**6))
def test_mass_matrix_gives_the_energy_of_the_masses_themselves(seed):
    """Twenty point masses moved as one body: half m v^2 each, against half q M q."""
    rng = np.random.default_rng(seed)
    masses, places = rng.uniform(1, 9, 20), rng.uniform(-3, 3, (20, 3))
    centre = masses @ places / masses.sum()
    arms = places - centre
    inertia = sum(
        m * (a @ a * np.eye(3) - np.outer(a, a)) for m, a in zip(masses, arms, strict=True)
    )
    load = doubled(5.0)
    problem = pose_problem(load, None, None)
    moved = HungLoad(
        upper=load.upper, lower=load.lower, stiffness=load.stiffness,
        weight=np.array([masses.sum() * STANDARD_GRAVITY]), centre=centre[None],
        groups=load.groups,
    )  # fmt: skip
    problem = pose_problem(moved, None, None)
    turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    turn *= np.sign(np.linalg.det(turn))
    pose = Pose(shift=rng.normal(size=(1, 3)), turn=turn[None])
    rate = rng.normal(size=6)
    speeds = rate[:3] + np.cross(rate[3:], places @ turn.T)
    energy = 0.5 * masses @ (speeds**2).sum(axis=1)
    matrix = mass_matrix(problem, pose, np.asarray(inertia)[None])[0]
    assert 0.5 * rate @ matrix @ rate == pytest.approx(energy, rel=1e-10)


cases = st.tuples(
    st.floats(2.5, 8.0), st.floats(2.0, 7.0), st.integers(0, 7), st.floats(1.0, 4.0)
)


@settings(deadline=None, max_examples=40)
@given(case=cases)
def test_all_modes_together_are_never_less_than_twice_the_static_change(case):
    """Half a period on, were all modes in step, each line is as far beyond its rest."""
    ratio, height, line, about = case
    load = doubled(height, ratio=ratio)
    gone = np.eye(8, dtype=bool)[line][None]
    before, after = settle(load), settle(load, lost=gone)
    if not after.rests[0]:
        return
    swing = swing_after(load, slender(about=about), before, after, gone)
    left = ~gone[0]
    twice = before.tensions + 2 * (after.tensions - before.tensions)
    # The modes are those of small turns: a hundredth is left to the arcs.
    assert np.all(swing.peaks[0, left] >= twice[0, left] - 0.01 * WEIGHT / 8)
    assert np.all(swing.lows[0, left] <= before.tensions[0, left] + 0.01 * WEIGHT / 8)


@settings(deadline=None, max_examples=20)
@given(ratio=st.floats(6.0, 12.0), line=st.integers(0, 7), about=st.floats(1.5, 4.0))
def test_the_motion_keeps_below_the_modes_where_nothing_slackens(ratio, line, about):
    load = doubled(3.0, ratio=ratio)
    gone = np.eye(8, dtype=bool)[line][None]
    before, after = settle(load), settle(load, lost=gone)
    inertia = slender(about=about)
    swing = swing_after(load, inertia, before, after, gone)
    assert after.rests[0]
    if swing.slackens[0]:
        return
    motion = follow_loss(load, inertia, before, swing, gone)
    left = ~gone[0]
    assert not motion.slack[0]
    # Lines that turn as it swings add a little to those that do not govern: that is why
    # the motion counts beside the modes.
    assert np.all(motion.peaks[0, left] <= swing.peaks[0, left] + 0.15 * WEIGHT / 8)
    assert motion.peaks.max() <= swing.peaks.max()
    # And the sum is no wild guess: the partner of what is lost comes near to it.
    partner = line + 1 - 2 * (line % 2)
    assert motion.peaks[0, partner] >= 0.85 * swing.peaks[0, partner]


def test_a_finer_step_drifts_less_by_its_square():
    load = doubled(5.0)
    before, _, _, gone = after_loss(load, [1] + [0] * 7)
    start = Pose(shift=before.shift, turn=np.eye(3)[None])
    drifts = [
        swing_freely(
            pose_problem(load, None, gone), slender(), start,
            Clock(seconds=np.array([6.0]), step=np.array([step])),
        ).drift[0]
        for step in (0.04, 0.02, 0.01)
    ]  # fmt: skip
    assert drifts[0] / drifts[1] == pytest.approx(4, rel=0.2)
    assert drifts[1] / drifts[2] == pytest.approx(4, rel=0.2)


def test_a_line_that_would_push_is_told_and_the_motion_followed():
    """Just stiff enough to stand on seven lines: the swing empties the corner across."""
    load = doubled(5.0, ratio=2.6)
    before, after, swing, gone = after_loss(load, [1] + [0] * 7)
    assert after.rests[0]
    assert swing.slackens[0]
    motion = follow_loss(load, slender(), before, swing, gone)
    assert motion.slack[0]
    twice = before.tensions + 2 * (after.tensions - before.tensions)
    assert motion.peaks.max() > twice.max()


def test_what_goes_over_on_the_way_bears_nothing():
    """It would rest on seven lines, but swings past where they could hold it."""
    load = doubled(5.0, ratio=2.1)
    before, after, swing, gone = after_loss(load, [1] + [0] * 7)
    assert after.rests[0]
    motion = follow_loss(load, slender(), before, swing, gone)
    assert motion.toppled[0]
    assert np.all(np.isinf(motion.peaks))


def test_what_does_not_rest_has_no_bound():
    _, after, swing, _ = after_loss(doubled(5.0, ratio=1.5, each=1), [1, 0, 0, 0])
    assert not after.rests[0]
    assert np.all(np.isinf(swing.peaks))
    assert np.isnan(swing.slowest[0])
