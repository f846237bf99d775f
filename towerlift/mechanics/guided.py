"""How a section rests on lines between shoes, and whether it slides, leans or jams.

At rest friction is left out: it can only help, and cannot be counted on. Hauling, every
shoe drags by its friction against the way: the pose, the pressures and the extra haul
that keeps the section moving are then found together. Where the drag grows faster than
the pull that is to overcome it, no haul moves it: it jams, as a drawer does.
"""

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from scipy.spatial.transform import Rotation

from towerlift.mechanics.compiled import FARTHEST_MOVE, FARTHEST_STEP, STILL_RTOL
from towerlift.mechanics.descent import (
    FARTHEST_SHIFT,
    FARTHEST_TILT,
    descend,
    freedom_scale,
    moved_by,
    scaled_stiffness,
)
from towerlift.mechanics.energy import (
    Flags,
    Floats,
    Ints,
    LineProblem,
    Pose,
    energy_curvature,
    energy_slope,
    group_pulls,
    shoe_pressures,
    wrench_of,
)
from towerlift.mechanics.hang import HungLoad, pose_problem
from towerlift.mechanics.shoes import Guides, Held, Wind, held_about

# Friction is brought in by so many parts, each found from the one before.
LEVELS = 4
SLIDING_RTOL = 1e-8
MOST_ROUNDS = 30
NUDGE = 1e-4
# A pull beyond this many weights is a jam for every use made of it here.
MOST_WEIGHTS = 40.0
UP = np.array([0.0, 0.0, 1.0])

Way = Literal["at rest", "up", "down"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Disturbance:
    """What puts a guided load out of true.

    Attributes
    ----------
    hauled : (m, n) float or None
        Extra haul of each line. [m]
    lost : (m, n) bool or None
        Lines lost after the load was hung.
    wind : Wind or None
        Steady force.
    """

    hauled: Floats | None = None
    lost: Flags | None = None
    wind: Wind | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GuidedHang:
    """How each case rests, or moves steadily, between its shoes.

    Attributes
    ----------
    rests : (m,) bool
        Whether an answer exists that it returns to. Where not, all numbers but `least`
        are not a number.
    jammed : (m,) bool
        Whether it would rest without friction, but no haul moves it with it.
    shift, turn : (m, 3) float
        Move of the mean of the lift points and rotation vector, from the true hang.
        Hauled, its height is that of the same load at rest. [m], [rad]
    tensions : (m, n) float
        Load of each line. [N]
    pressures : (m, q) float
        Of each shoe on its rail; none where its clearance is open. [N]
    haul : (m,) float
        Extra haul of every line that friction takes. [m]
    least : (m,) float
        Smallest eigenvalue of the stiffness at rest, lines, shoes and toppling
        together, turns taken at the mean reach of the lift points. [N/m]
    """

    rests: Flags
    jammed: Flags
    shift: Floats
    turn: Floats
    tensions: Floats
    pressures: Floats
    haul: Floats
    least: Floats

    @property
    def touching(self) -> Flags:
        """Shoes whose clearance is closed, (m, q)."""
        return np.asarray(self.pressures > 0)


_UNDISTURBED = Disturbance()


def settle_guided(
    load: HungLoad,
    guides: Guides,
    *,
    disturbed: Disturbance = _UNDISTURBED,
    way: Way = "at rest",
) -> GuidedHang:
    """Where each case comes to rest between its shoes, or how it moves steadily.

    Parameters
    ----------
    load : HungLoad
        Load and lines, hanging true.
    guides : Guides
        Shoes and their friction.
    disturbed : Disturbance
        Crews out of step, lost lines, wind.
    way : str
        Whether it stands, is hauled up or is let down.

    Returns
    -------
    hang : GuidedHang
        For every case, also where none exists.

    Raises
    ------
    ValueError
        If shapes do not agree.

    Notes
    -----
    Derived here. At rest: the least of the energy of lines, shoes, weight and wind. On
    the way: balance of forces with each shoe dragging by friction times pressure along
    the vertical, height held, and the haul of all lines free; friction is brought in by
    steps from none. Rails are plane and upright where the shoes are.
    """
    problem = guided_problem(load, guides, disturbed)
    m = len(load.weight)
    true = Pose(shift=np.zeros((m, 3)), turn=np.tile(np.eye(3), (m, 1, 1)))
    pose, rests, least = _rest(problem, true)
    haul, jammed = np.zeros(m), np.zeros(m, dtype=bool)
    if way != "at rest":
        sense = 1.0 if way == "up" else -1.0
        sliding = _Sliding(problem=problem, drag=sense * guides.friction)
        pose, haul, moves = _slide(sliding, pose, rests)
        jammed = rests & ~moves
        rests = rests & moves
    tension, _ = group_pulls(_hauled(problem, haul), pose)
    pressures, _ = shoe_pressures(_held(problem), pose)
    unknown = np.where(rests, 0.0, np.nan)
    return GuidedHang(
        rests=rests,
        jammed=jammed,
        shift=pose.shift + unknown[:, None],
        turn=Rotation.from_matrix(pose.turn).as_rotvec() + unknown[:, None],
        tensions=tension @ problem.member + unknown[:, None],
        pressures=pressures + unknown[:, None],
        haul=haul + unknown,
        least=least,
    )


def guided_problem(load: HungLoad, guides: Guides, disturbed: Disturbance) -> LineProblem:
    """A load on its lines and between its shoes, as the energy takes it.

    Parameters
    ----------
    load : HungLoad
        What hangs.
    guides : Guides
        Its shoes.
    disturbed : Disturbance
        What is done to it.

    Returns
    -------
    problem : LineProblem
        Held by the guides.
    """
    bare = pose_problem(load, disturbed.hauled, disturbed.lost)
    return replace(bare, held=held_about(load.middle, guides, disturbed.wind))


def _held(problem: LineProblem) -> Held:
    if problem.held is None:
        raise ValueError("a guided load has shoes")
    return problem.held


def _rest(problem: LineProblem, true: Pose) -> tuple[Pose, Flags, Floats]:
    """Rest of each case, whether it is one, and the least stiffness there."""
    pose, balanced = descend(problem, true)
    for _ in range(2):
        values, vectors = np.linalg.eigh(
            scaled_stiffness(problem, energy_curvature(problem, pose))
        )
        standing = values[:, 0] > STILL_RTOL * values[:, -1]
        poised = np.flatnonzero(balanced & ~standing)
        if not poised.size:
            break
        # Poised on a ridge: a nudge along the weakest way, and down again.
        part, scale = problem.of(poised), freedom_scale(problem)[poised]
        nudge = NUDGE * vectors[poised, :, 0] * scale * part.reach[:, None]
        found, ok = descend(part, moved_by(pose.of(poised), nudge))
        pose.shift[poised], pose.turn[poised] = found.shift, found.turn
        balanced[poised] = ok
    values = np.linalg.eigvalsh(scaled_stiffness(problem, energy_curvature(problem, pose)))
    standing = values[:, 0] > STILL_RTOL * values[:, -1]
    least: Floats = np.asarray(values[:, 0], dtype=np.float64)
    return pose, balanced & standing, least


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sliding:
    """Balance of a load that moves along its shoes.

    Attributes
    ----------
    problem : LineProblem
        Load, lines and shoes.
    drag : (m,) float
        Friction, negative where the way is down.
    """

    problem: LineProblem
    drag: Floats
    pulls: Floats = field(init=False)

    def __post_init__(self) -> None:
        counts = self.problem.member.sum(axis=1)
        object.__setattr__(self, "pulls", self.problem.stiffness * counts)

    def of(self, cases: Ints) -> "_Sliding":
        return _Sliding(problem=self.problem.of(cases), drag=self.drag[cases])

    def unbalance(self, pose: Pose, haul: Floats, share: float) -> Floats:
        """What is left over of forces and moments, (m, 6)."""
        hauled = _hauled(self.problem, haul)
        pressure, arms = shoe_pressures(_held(hauled), pose)
        drag = (share * self.drag)[:, None, None] * pressure[..., None] * UP
        return np.asarray(energy_slope(hauled, pose) + wrench_of(arms, drag).sum(axis=1))

    def tangent(self, pose: Pose, haul: Floats, share: float) -> Floats:
        """Its change by sway, haul in the place of heave, and turns, (m, 6, 6)."""
        hauled = _hauled(self.problem, haul)
        held = _held(hauled)
        pressure, arms = shoe_pressures(held, pose)
        change = energy_curvature(hauled, pose)
        drag = wrench_of(arms, np.broadcast_to(UP, arms.shape))
        closed = np.where(pressure > 0, held.stiffness, 0.0) * (share * self.drag)[:, None]
        presses = wrench_of(arms, held.outward)
        change += np.swapaxes(drag, 1, 2) @ (closed[..., None] * presses)
        tension, lines = group_pulls(hauled, pose)
        along = lines / np.linalg.norm(lines, axis=-1, keepdims=True)
        taut = np.where(tension > 0, self.pulls, 0.0) @ hauled.member
        turned = hauled.arms @ np.swapaxes(pose.turn, 1, 2)
        change[:, :, 2] = -wrench_of(turned, taut[..., None] * along).sum(axis=1)
        return change


def _hauled(problem: LineProblem, haul: Floats) -> LineProblem:
    counts = problem.member.sum(axis=1)
    return LineProblem(
        anchors=problem.anchors,
        arms=problem.arms,
        centre=problem.centre,
        weight=problem.weight,
        member=problem.member,
        stiffness=problem.stiffness,
        rest=problem.rest - haul[:, None] * counts,
        reach=problem.reach,
        held=problem.held,
    )


def _slide(sliding: _Sliding, start: Pose, rests: Flags) -> tuple[Pose, Floats, Flags]:
    """Pose, extra haul and whether each case moves, friction brought in step by step."""
    shift, turn = start.shift.copy(), start.turn.copy()
    haul, moves = np.zeros(len(shift)), rests.copy()
    for level in range(1, LEVELS + 1):
        cases = np.flatnonzero(moves)
        if not cases.size:
            break
        part = sliding.of(cases)
        pose, extra, ok = _balance(
            part, Pose(shift=shift[cases], turn=turn[cases]), haul[cases], level / LEVELS
        )
        shift[cases], turn[cases], haul[cases] = pose.shift, pose.turn, extra
        moves[cases[~ok]] = False
    return Pose(shift=shift, turn=turn), haul, moves


def _balance(
    sliding: _Sliding, start: Pose, haul: Floats, share: float
) -> tuple[Pose, Floats, Flags]:
    """Newton's steps, halved while they do not help, at one share of the friction."""
    pose, haul = Pose(shift=start.shift.copy(), turn=start.turn.copy()), haul.copy()
    done = np.zeros(len(haul), dtype=bool)
    going = np.arange(len(haul))
    for _ in range(MOST_ROUNDS):
        part, at = sliding.of(going), pose.of(going)
        scale = freedom_scale(part.problem)
        left = part.unbalance(at, haul[going], share) * scale
        size = np.linalg.norm(left, axis=1)
        still = size <= SLIDING_RTOL * part.problem.weight
        done[going[still]] = True
        tension, _ = group_pulls(_hauled(part.problem, haul[going]), at)
        lifted = (tension @ part.problem.member).sum(axis=1)
        astray = (at.turn[:, 2, 2] < np.cos(FARTHEST_TILT)) | (
            np.linalg.norm(at.shift, axis=1) > FARTHEST_SHIFT
        )
        astray |= lifted > MOST_WEIGHTS * part.problem.weight
        on = ~(still | astray)
        going = going[on]
        if not going.size:
            break
        part, at, left, scale, size = (
            part.of(np.flatnonzero(on)),
            at.of(on),
            left[on],
            scale[on],
            size[on],
        )
        change = part.tangent(at, haul[going], share) * scale[:, :, None]
        change[:, :, 3:] *= scale[:, None, 3:]
        step = _solved(change, left)
        step = step * scale
        moved, extra = _shorter(part, (at, haul[going]), (step, size), share)
        pose.shift[going], pose.turn[going], haul[going] = moved.shift, moved.turn, extra
    return pose, haul, done


def _solved(change: Floats, left: Floats) -> Floats:
    floor = 1e-12 * np.abs(change).max(axis=(1, 2))[:, None, None] * np.eye(6)
    return np.asarray(-np.linalg.solve(change + floor, left[..., None])[..., 0])


def _shorter(
    sliding: _Sliding, at: tuple[Pose, Floats], step: tuple[Floats, Floats], share: float
) -> tuple[Pose, Floats]:
    """As much of each step as brings the balance nearer; the shortest if none does."""
    (pose, haul), (by, size) = at, step
    turning = np.linalg.norm(by[:, 3:], axis=1) / FARTHEST_STEP
    moving = np.linalg.norm(by[:, :3], axis=1) / FARTHEST_MOVE
    part = 1 / np.maximum(1.0, np.maximum(turning, moving))
    scale = freedom_scale(sliding.problem)
    shift, turn, extra = pose.shift.copy(), pose.turn.copy(), haul.copy()
    left = np.arange(len(haul))
    for halving in range(12):
        cut = part[left, None] * by[left]
        level = cut.copy()
        level[:, 2] = 0.0
        tried = moved_by(pose.of(left), level)
        tried_haul = haul[left] + cut[:, 2]
        now = np.linalg.norm(
            sliding.of(left).unbalance(tried, tried_haul, share) * scale[left], axis=1
        )
        better = (now < (1 - 1e-4 * part[left]) * size[left]) | (halving == 11)
        took = left[better]
        shift[took], turn[took], extra[took] = (
            tried.shift[better],
            tried.turn[better],
            tried_haul[better],
        )
        left = left[~better]
        if not left.size:
            break
        part[left] /= 2
    return Pose(shift=shift, turn=turn), extra
