"""Energy of a rigid load on tension-only lines and shoes, its slope and its curvature."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from towerlift.mechanics.shoes import Held

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineProblem:
    """A load on lines, in m cases, about the middle of its lift points hanging true.

    Attributes
    ----------
    anchors : (m, n, 3) float
        Fixed ends of the lines, from the middle. [m]
    arms : (m, n, 3) float
        Lift points, from the middle. [m]
    centre : (m, 3) float
        Centre of gravity, from the middle. [m]
    weight : (m,) float
        [N]
    member : (g, n) float
        1 where a line belongs to a group that shares one tension, else 0.
    stiffness : (m, g) float
        Of each group; 0 where it is lost. [N/m]
    rest : (m, g) float
        Length over all lines of a group at which it is just slack. [m]
    reach : (m,) float
        Mean distance of the lift points from their middle. [m]
    held : Held or None
        Shoes and wind, where there are any.
    """

    anchors: Floats
    arms: Floats
    centre: Floats
    weight: Floats
    member: Floats
    stiffness: Floats
    rest: Floats
    reach: Floats
    held: Held | None = None

    def of(self, cases: Flags | Ints) -> "LineProblem":
        """Some of the cases.

        Parameters
        ----------
        cases : (m,) bool or (k,) int
            Which.

        Returns
        -------
        problem : LineProblem
            Those cases, in their order.
        """
        return LineProblem(
            anchors=self.anchors[cases],
            arms=self.arms[cases],
            centre=self.centre[cases],
            weight=self.weight[cases],
            member=self.member,
            stiffness=self.stiffness[cases],
            rest=self.rest[cases],
            reach=self.reach[cases],
            held=None if self.held is None else self.held.of(cases),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """How each case hangs away from true.

    Attributes
    ----------
    shift : (m, 3) float
        Move of the middle of the lift points. [m]
    turn : (m, 3, 3) float
        Rotation about it.
    """

    shift: Floats
    turn: Floats

    def of(self, cases: Flags | Ints) -> "Pose":
        """Some of the cases.

        Parameters
        ----------
        cases : (m,) bool or (k,) int
            Which.

        Returns
        -------
        pose : Pose
            Those cases, in their order.
        """
        return Pose(shift=self.shift[cases], turn=self.turn[cases])


def lengths_of(rows: Floats) -> Floats:
    """Length of each row, (..., 3) to (...)."""
    return np.asarray(np.sqrt(np.einsum("...i,...i->...", rows, rows)))


def cross(left: Floats, right: Floats) -> Floats:
    """Cross product of rows, (..., 3)."""
    a, b, c = left[..., 0], left[..., 1], left[..., 2]
    d, e, f = right[..., 0], right[..., 1], right[..., 2]
    return np.stack([b * f - c * e, c * d - a * f, a * e - b * d], axis=-1)


def turned_points(pose: Pose, points: Floats) -> Floats:
    """Points of the load after it has turned, not yet shifted.

    Parameters
    ----------
    pose : Pose
        How it hangs.
    points : (m, 3) or (m, n, 3) float
        From the middle, hanging true. [m]

    Returns
    -------
    points : (m, 3) or (m, n, 3) float
        From the middle. [m]
    """
    rows = points.reshape(len(points), -1, 3) @ np.swapaxes(pose.turn, 1, 2)
    return np.asarray(rows.reshape(points.shape))


def group_pulls(problem: LineProblem, pose: Pose) -> tuple[Floats, Floats]:
    """Tension of each group, and its lines as they lie.

    Parameters
    ----------
    problem : LineProblem
        Load and lines.
    pose : Pose
        How they hang.

    Returns
    -------
    tension : (m, g) float
        None where a group is slack or lost. [N]
    lines : (m, n, 3) float
        From lift points to fixed ends. [m]
    """
    lines = problem.anchors - pose.shift[:, None] - turned_points(pose, problem.arms)
    stretch = lengths_of(lines) @ problem.member.T - problem.rest
    return problem.stiffness * np.maximum(stretch, 0.0), lines


def shoe_pressures(held: Held, pose: Pose) -> tuple[Floats, Floats]:
    """Pressure of each shoe on its rail, and the shoes as they lie.

    Parameters
    ----------
    held : Held
        Shoes.
    pose : Pose
        How the load hangs.

    Returns
    -------
    pressure : (m, q) float
        None while the clearance is not closed. [N]
    arms : (m, q, 3) float
        From the middle, turned, not shifted. [m]
    """
    arms = turned_points(pose, held.arms)
    moved = pose.shift[:, None] + arms - held.arms
    closed = (moved * held.outward).sum(axis=-1) - held.gap
    return held.stiffness * np.maximum(closed, 0.0), arms


def energy_of(problem: LineProblem, pose: Pose) -> Floats:
    """Energy of the lines and of the height of the centre of gravity.

    Parameters
    ----------
    problem : LineProblem
        Load and lines.
    pose : Pose
        How they hang.

    Returns
    -------
    energy : (m,) float
        Height counted from the true hang. [J]
    """
    tension, _ = group_pulls(problem, pose)
    soft = np.where(problem.stiffness > 0, problem.stiffness, 1.0)
    sunk = pose.shift[:, 2] + (turned_points(pose, problem.centre) - problem.centre)[:, 2]
    energy = (tension**2 / soft).sum(axis=1) / 2 + problem.weight * sunk
    held = problem.held
    if held is not None:
        pressure, _ = shoe_pressures(held, pose)
        blown = pose.shift + turned_points(pose, held.force_arm) - held.force_arm
        energy = energy + (pressure**2 / held.stiffness).sum(axis=1) / 2
        energy = energy - (held.force * blown).sum(axis=1)
    return np.asarray(energy)


def energy_slope(problem: LineProblem, pose: Pose) -> Floats:
    """Slope of the energy: the force and moment that hold the load in a pose.

    Parameters
    ----------
    problem : LineProblem
        Load and lines.
    pose : Pose
        How they hang.

    Returns
    -------
    slope : (m, 6) float
        By shift, then by turn about the middle as it hangs. [N], [N m]
    """
    group_tension, lines = group_pulls(problem, pose)
    along = lines / lengths_of(lines)[..., None]
    pull = (group_tension @ problem.member)[..., None] * along
    arms, centre = turned_points(pose, problem.arms), turned_points(pose, problem.centre)
    force = np.concatenate([pull, cross(arms, pull)], axis=-1).sum(axis=1)
    down = np.zeros_like(pose.shift)
    down[:, 2] = problem.weight
    slope = np.concatenate([down, cross(centre, down)], axis=-1) - force
    held = problem.held
    if held is not None:
        pressure, shoes = shoe_pressures(held, pose)
        push = pressure[..., None] * held.outward
        slope = slope + wrench_of(shoes, push).sum(axis=1)
        slope = slope - wrench_of(turned_points(pose, held.force_arm), held.force)
    return np.asarray(slope)


def wrench_of(arms: Floats, forces: Floats) -> Floats:
    """Forces with their moments about the middle, (..., 6). [N], [N m]"""
    return np.concatenate([forces, cross(arms, forces)], axis=-1)


def energy_curvature(problem: LineProblem, pose: Pose) -> Floats:
    """Curvature of the energy: stiffness in a pose, lines' slant and toppling in it.

    Parameters
    ----------
    problem : LineProblem
        Load and lines.
    pose : Pose
        How they hang.

    Returns
    -------
    stiffness : (m, 6, 6) float
        By shift, then by turn about the middle as it hangs; symmetric.
        [N/m], [N], [N m/rad]

    Notes
    -----
    Exact second derivative, derived here: lines that are taut resist along
    themselves by their stiffness and across by tension over length; turns add the
    arcs that lift points and centre of gravity move along.
    """
    group_tension, lines = group_pulls(problem, pose)
    length = lengths_of(lines)[..., None]
    along = lines / length
    arms = turned_points(pose, problem.arms)
    tension = (group_tension @ problem.member)[..., None]
    # Each line's own stretch by the six freedoms, then each group's.
    slopes = -np.concatenate([along, cross(arms, along)], axis=-1)
    grouped = problem.member @ slopes
    taut = np.where(group_tension > 0, problem.stiffness, 0.0)[..., None]
    stiffness = np.swapaxes(grouped, 1, 2) @ (taut * grouped)
    # A pulling line resists moves across itself by tension over length.
    spread = tension / length
    stiffness += _spread(spread, arms)
    stiffness -= np.swapaxes(spread * slopes, 1, 2) @ slopes
    # Turning moves the lift points and the centre along arcs.
    down = np.zeros((len(arms), 3, 1))
    down[:, 2, 0] = -problem.weight
    turning = np.swapaxes(arms, 1, 2) @ (tension * along)
    turning += turned_points(pose, problem.centre)[..., None] @ np.swapaxes(down, 1, 2)
    stiffness[:, 3:, 3:] += np.trace(turning, axis1=1, axis2=2)[:, None, None] * np.eye(3)
    stiffness[:, 3:, 3:] -= (turning + np.swapaxes(turning, 1, 2)) / 2
    if problem.held is not None:
        stiffness += _held_curvature(problem.held, pose)
    return np.asarray(stiffness)


def _held_curvature(held: Held, pose: Pose) -> Floats:
    pressure, arms = shoe_pressures(held, pose)
    slopes = wrench_of(arms, held.outward)
    closed = np.where(pressure > 0, held.stiffness, 0.0)[..., None]
    stiffness = np.swapaxes(slopes, 1, 2) @ (closed * slopes)
    # Turning moves shoes and wind along arcs: dead forces at turning arms.
    turning = np.swapaxes(arms, 1, 2) @ (-pressure[..., None] * held.outward)
    turning += turned_points(pose, held.force_arm)[..., None] @ held.force[:, None, :]
    stiffness[:, 3:, 3:] += np.trace(turning, axis1=1, axis2=2)[:, None, None] * np.eye(3)
    stiffness[:, 3:, 3:] -= (turning + np.swapaxes(turning, 1, 2)) / 2
    return np.asarray(stiffness)


def _spread(spread: Floats, arms: Floats) -> Floats:
    """Stiffness by six freedoms of springs at arms that resist all ways alike."""
    whole = spread.sum(axis=1)
    first = (spread * arms).sum(axis=1)
    second = np.swapaxes(arms, 1, 2) @ (spread * arms)
    stiffness = np.zeros((len(arms), 6, 6))
    stiffness[:, :3, :3] = whole[:, :, None] * np.eye(3)
    stiffness[:, 3:, :3] = _cross_matrix(first)
    stiffness[:, :3, 3:] = -stiffness[:, 3:, :3]
    square = np.trace(second, axis1=1, axis2=2)[:, None, None]
    stiffness[:, 3:, 3:] = square * np.eye(3) - second
    return stiffness


def _cross_matrix(arms: Floats) -> Floats:
    matrix = np.zeros((*arms.shape, 3))
    x, y, z = arms[..., 0], arms[..., 1], arms[..., 2]
    matrix[..., 0, 1], matrix[..., 0, 2], matrix[..., 1, 2] = -z, y, -x
    return np.asarray(matrix - np.swapaxes(matrix, -1, -2))
