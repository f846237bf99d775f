"""How far lines are loaded when one of them goes all at once.

A load that hangs at rest is let go into the rest that its other lines would give it. With
nothing to damp it, it swings about that rest in six modes at once, each by as much as it was
away from it at first:

.. math::

   K \\phi_j = \\lambda_j M \\phi_j, \\qquad x(t) = \\sum_j a_j \\phi_j \\cos \\omega_j t,
   \\qquad a_j = \\phi_j^T M x_0

Whatever the phases come to be, no line is loaded above its rest by more than the sum of what
each mode gives it:

.. math:: T_i \\le T_i^{after} + \\sum_j | k_i g_i^T \\phi_j a_j |

where g is the slope of the line's stretch. That holds for as long as no line goes slack and
the lines keep their directions. In truth they turn a little, and may go slack: so the motion
itself is followed as well, with lines that only pull, and what is more counts.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial.transform import Rotation

from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.mechanics.energy import (
    Flags,
    Floats,
    LineProblem,
    Pose,
    cross,
    energy_curvature,
    energy_of,
    group_pulls,
    lengths_of,
    turned_points,
)
from towerlift.mechanics.guided import settle_guided
from towerlift.mechanics.hang import Hang, HungLoad, pose_problem
from towerlift.mechanics.shoes import Guides, shoes_about
from towerlift.mechanics.swinging import Clock, Motion, swing_freely

# Of the slowest mode, for which a motion is followed where a line may go slack; elsewhere one
# is enough. Steps in a period of the quickest.
PERIODS, PARTS = 3.0, 40.0
# Of the greatest part that a mode has in any load, below which a mode is passed over.
PART = 0.02
# A motion whose energy drifts by more of what was freed is none.
DRIFT = 0.01
# Steps in a period of the quickest when all shoes are pressed, of which half are at once;
# clearance by which they all are. [m]
BLOWS, PRESSED = 10.0, 1.0
# Periods of the heave for which it is followed, and how often a step is halved.
HEAVES, MOST_HALVINGS = 3.0, 5
# Energy below which nothing swings. [J]
_NOTHING = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """What each line may come to carry after a sudden loss.

    Attributes
    ----------
    peaks, lows : (m, n) float
        Bounds of the load on each line, all modes together; infinite and not a number
        where it does not come to rest after the loss. 0 for what is lost. [N]
    slackens : (m,) bool
        Whether a line that is left may go slack: then these bounds do not hold by
        themselves.
    lean : (m,) float
        Bound of the angle from the true hang. [rad]
    slowest, quickest : (m,) float
        Periods of the slowest mode that has a part in the loads, and of the quickest; not
        a number where it does not come to rest. [s]
    """

    peaks: Floats
    lows: Floats
    slackens: Flags
    lean: Floats
    slowest: Floats
    quickest: Floats


def mass_matrix(problem: LineProblem, pose: Pose, inertia: Floats) -> Floats:
    """Mass of each load by its six freedoms.

    Parameters
    ----------
    problem : LineProblem
        Weight and centre of gravity.
    pose : Pose
        How it hangs.
    inertia : (m, 3, 3) float
        About the centre of gravity, axes of the true hang. [kg m^2]

    Returns
    -------
    mass : (m, 6, 6) float
        By shift of the middle, then by turn about it as it hangs. [kg], [kg m], [kg m^2]
    """
    mass = problem.weight / STANDARD_GRAVITY
    arm = turned_points(pose, problem.centre)
    rows = np.zeros((len(mass), 6, 6))
    rows[:, :3, :3] = mass[:, None, None] * np.eye(3)
    # The centre moves by v + w x c, which is v - [c] w.
    skew = np.zeros((len(mass), 3, 3))
    skew[:, 0, 1], skew[:, 0, 2], skew[:, 1, 2] = -arm[:, 2], arm[:, 1], -arm[:, 0]
    skew = skew - np.swapaxes(skew, 1, 2)
    rows[:, :3, 3:] = -mass[:, None, None] * skew
    rows[:, 3:, :3] = np.swapaxes(rows[:, :3, 3:], 1, 2)
    turned = pose.turn @ inertia @ np.swapaxes(pose.turn, 1, 2)
    rows[:, 3:, 3:] = turned + mass[:, None, None] * np.swapaxes(skew, 1, 2) @ skew
    return rows


def swing_after(
    load: HungLoad, inertia: Floats, before: Hang, after: Hang, lost: Flags
) -> Swing:
    """Bounds of every line's load when some go all at once.

    Parameters
    ----------
    load : HungLoad
        As hung, all lines there.
    inertia : (m, 3, 3) float
        About the centre of gravity, axes of the true hang. [kg m^2]
    before, after : Hang
        At rest with all lines, and with those lost.
    lost : (m, n) bool
        Which go.

    Returns
    -------
    swing : Swing
        For every case.
    """
    m, n = load.stiffness.shape
    ok = before.rests & after.rests
    peaks, lows = np.full((m, n), np.inf), np.full((m, n), np.nan)
    slackens, lean = np.zeros(m, dtype=bool), np.full(m, np.inf)
    periods = np.full((m, 2), np.nan)
    if ok.any():
        problem = pose_problem(load, None, lost).of(ok)
        modes = _modes(problem, inertia[ok], _pose(before, ok), _pose(after, ok))
        reach = np.abs(modes.pulls).sum(axis=2)
        left = ~lost[ok]
        peaks[ok] = np.where(left, after.tensions[ok] + reach, 0.0)
        lows[ok] = np.where(left, after.tensions[ok] - reach, 0.0)
        slackens[ok] = np.any(left & (lows[ok] < 0), axis=1)
        tilt = np.abs(after.turn[ok][:, :2]) + np.abs(modes.tilts).sum(axis=2)
        lean[ok] = np.hypot(tilt[:, 0], tilt[:, 1])
        # A slow sway that moves no load need not be waited for.
        strength = np.abs(modes.pulls).max(axis=1)
        takes_part = (strength > PART * strength.max(axis=1, keepdims=True)).argmax(axis=1)
        slow = modes.squares[np.arange(len(takes_part)), takes_part]
        periods[ok] = 2 * np.pi / np.sqrt(np.stack([slow, modes.squares[:, -1]], axis=1))
    return Swing(
        peaks=peaks,
        lows=lows,
        slackens=slackens,
        lean=lean,
        slowest=periods[:, 0],
        quickest=periods[:, 1],
    )


def follow_loss(
    load: HungLoad, inertia: Floats, before: Hang, swing: Swing, lost: Flags
) -> Motion:
    """The motion itself after some lines have gone all at once.

    Parameters
    ----------
    load : HungLoad
        As hung, all lines there; every case rests before and after.
    inertia : (m, 3, 3) float
        About the centre of gravity, axes of the true hang. [kg m^2]
    before : Hang
        At rest with all lines.
    swing : Swing
        Of the same cases: gives the time to follow.
    lost : (m, n) bool
        Which go.

    Returns
    -------
    motion : Motion
        Over one period of the slowest mode, or three where a line may go slack, since the
        motion is then no longer made of modes. Loads are infinite where it topples, or
        where the energy drifts by more than 1 % of what was freed.
    """
    problem = pose_problem(load, None, lost)
    every = np.ones(len(load.weight), dtype=bool)
    first = _pose(before, every)
    periods = np.where(swing.slackens, PERIODS, 1.0)
    clock = Clock(seconds=periods * swing.slowest, step=swing.quickest / PARTS)
    motion = swing_freely(problem, inertia, first, clock)
    gone = (lost.astype(float) @ problem.member.T > 0) * 1.0
    whole = pose_problem(load, None, np.zeros_like(lost))
    pulls, _ = group_pulls(whole, first)
    freed = (gone * pulls**2 / whole.stiffness).sum(axis=1) / 2
    wrong = motion.toppled | (motion.drift > DRIFT * freed + _NOTHING)
    return replace(motion, peaks=np.where(wrong[:, None], np.inf, motion.peaks))


def follow_between_shoes(
    load: HungLoad, inertia: Floats, guides: Guides, lost: Flags
) -> tuple[Motion, Flags]:
    """The motion of a load between shoes after some of its lines have gone all at once.

    Parameters
    ----------
    load : HungLoad
        As hung, all lines there.
    inertia : (m, 3, 3) float
        About the centre of gravity, axes of the true hang. [kg m^2]
    guides : Guides
        Shoes that push and never pull, with their clearance. Friction takes no part: it
        would only damp the motion.
    lost : (m, n) bool
        Which go.

    Returns
    -------
    motion : Motion
        Over three periods of the heave, that is past its first peaks and the blows of the
        shoes about them. Loads are infinite where it topples, or where the energy
        drifts by more than 1 % of what was freed.
    rests : (m,) bool
        Whether it rests with all its lines; where not, the motion is none.
    """
    before = settle_guided(load, guides)
    held = shoes_about(load.middle, guides)
    problem = replace(pose_problem(load, None, lost), held=held)
    start = Pose(
        shift=np.nan_to_num(before.shift),
        turn=Rotation.from_rotvec(np.nan_to_num(before.turn)).as_matrix(),
    )
    mass = mass_matrix(problem, start, inertia)
    heave = energy_curvature(problem, start)[:, 2, 2] / mass[:, 2, 2]
    # Never more than half of the shoes are pressed at once: those of one side, high and low.
    pressed = replace(problem, held=replace(held, gap=held.gap - PRESSED))
    inverse = np.linalg.inv(np.linalg.cholesky(mass))
    stiffness = inverse @ energy_curvature(pressed, start) @ np.swapaxes(inverse, 1, 2)
    quickest = np.sqrt(np.linalg.eigvalsh(stiffness)[:, -1])
    gone = (lost.astype(float) @ problem.member.T > 0) * 1.0
    whole = replace(pose_problem(load, None, np.zeros_like(lost)), held=held)
    pulls, _ = group_pulls(whole, start)
    freed = (gone * pulls**2 / whole.stiffness).sum(axis=1) / 2
    motion = _finely(
        (problem, inertia, start),
        Clock(seconds=2 * np.pi * HEAVES / np.sqrt(heave), step=2 * np.pi / quickest / BLOWS),
        DRIFT * freed + _NOTHING,
    )
    wrong = motion.toppled | (motion.drift > DRIFT * freed + _NOTHING) | ~before.rests
    peaks = np.where(wrong[:, None], np.inf, motion.peaks)
    return replace(motion, peaks=np.where(lost, 0.0, peaks)), before.rests


def _finely(what: tuple[LineProblem, Floats, Pose], clock: Clock, allowed: Floats) -> Motion:
    """The motion, in shorter steps where the energy drifts by more than is allowed."""
    problem, inertia, start = what
    motion = swing_freely(problem, inertia, start, clock)
    parts = {name: getattr(motion, name).copy() for name in Motion.__slots__}
    step = clock.step.copy()
    for _ in range(MOST_HALVINGS):
        again = np.flatnonzero((parts["drift"] > allowed) & ~parts["toppled"])
        if not again.size:
            break
        step[again] /= 2
        finer = swing_freely(
            problem.of(again),
            inertia[again],
            start.of(again),
            Clock(seconds=clock.seconds[again], step=step[again]),
        )
        for name, rows in parts.items():
            rows[again] = getattr(finer, name)
    return Motion(**parts)


def _pose(hang: Hang, cases: Flags) -> Pose:
    return Pose(
        shift=hang.shift[cases], turn=Rotation.from_rotvec(hang.turn[cases]).as_matrix()
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Modes:
    """Each mode's part in each line's load (m, n, 6) and in the tilt about two axes (m, 2, 6).

    Squares of the circular frequencies (m, 6), slowest first.
    """

    pulls: Floats
    tilts: Floats
    squares: Floats


def _modes(problem: LineProblem, inertia: Floats, first: Pose, then: Pose) -> _Modes:
    stiffness = energy_curvature(problem, then)
    mass = mass_matrix(problem, then, inertia)
    inverse = np.linalg.inv(np.linalg.cholesky(mass))
    squares, vectors = np.linalg.eigh(inverse @ stiffness @ np.swapaxes(inverse, 1, 2))
    shapes = np.swapaxes(inverse, 1, 2) @ vectors
    turn = Rotation.from_matrix(first.turn @ np.swapaxes(then.turn, 1, 2)).as_rotvec()
    away = np.concatenate([first.shift - then.shift, turn], axis=1)
    amounts = np.einsum("mij,mi->mj", shapes, np.einsum("mij,mj->mi", mass, away))
    # Lines that turn as it moves free a little more or less than the modes hold.
    held = np.einsum("mi,mij,mj->m", away, stiffness, away) / 2
    freed = energy_of(problem, first) - energy_of(problem, then)
    more = np.maximum(1.0, freed / np.maximum(held, _NOTHING))
    amounts = amounts * np.where(held > _NOTHING, np.sqrt(more), 1.0)[:, None]
    _, lines = group_pulls(problem, then)
    along = lines / lengths_of(lines)[..., None]
    slopes = -np.concatenate([along, cross(turned_points(then, problem.arms), along)], axis=-1)
    grouped = problem.stiffness[..., None] * (problem.member @ slopes)
    pulls = np.einsum("gn,mgi->mni", problem.member, grouped)
    moved = shapes * amounts[:, None, :]
    return _Modes(pulls=pulls @ moved, tilts=moved[:, 3:5], squares=squares)
