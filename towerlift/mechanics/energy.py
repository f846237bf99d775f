"""Energy of a rigid load on tension-only lines and shoes, its slope and its curvature."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from towerlift.mechanics import compiled
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

    @property
    def loads(self) -> compiled.Loads:
        """The same for what is compiled."""
        m, held = len(self.weight), self.held
        body = np.zeros((m, 11))
        body[:, :3], body[:, compiled.WEIGHT] = self.centre, self.weight
        body[:, compiled.REACH] = self.reach
        shoes = np.zeros((m, 0, 8))
        if held is not None:
            body[:, compiled.FORCE : compiled.FORCE_ARM] = held.force
            body[:, compiled.FORCE_ARM :] = held.force_arm
            contact = np.stack([held.gap, held.stiffness], axis=-1)
            shoes = np.concatenate([held.arms, held.outward, contact], axis=-1)
        return compiled.Loads(
            lines=np.concatenate([self.anchors, self.arms], axis=-1),
            group=self.member.argmax(axis=0),
            groups=np.stack([self.stiffness, self.rest], axis=-1),
            shoes=shoes,
            body=body,
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

    @property
    def rows(self) -> Floats:
        """Shift, then turn row by row, (m, 12)."""
        return np.concatenate([self.shift, self.turn.reshape(-1, 9)], axis=1)


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
    tension, lines = np.empty_like(problem.stiffness), np.empty_like(problem.arms)
    compiled.lie(problem.loads, pose.rows, tension, lines)
    return tension, lines


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
    return _derived(problem, pose, 0)


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
    return _derived(problem, pose, 1)


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
    return _derived(problem, pose, 2)


def _derived(problem: LineProblem, pose: Pose, order: int) -> Floats:
    """The energy, or its first or second derivative, case by case."""
    rooms = [np.empty((0,) + (6,) * each) for each in range(3)]
    rooms[order] = np.empty((len(problem.weight),) + (6,) * order)
    compiled.derive(problem.loads, pose.rows, *rooms)
    return rooms[order]
