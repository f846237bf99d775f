"""Boxes of placed timbers: corners, triangles and closed-form mass."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from towerlift.errors import ShapeError
from towerlift.plan import bodies
from towerlift.shapes.solids import Floats, Ints, MassProperties, Solid

UPRIGHT = 1e-9
"""Level part of a unit axis up to which a piece counts as upright."""

# Corners of a box as signs along (breadth, depth, axis), and its twelve triangles,
# anticlockwise from outside.
_SIGNS = np.array(
    [
        [-1.0, -1.0, -1.0],
        [1.0, -1.0, -1.0],
        [1.0, 1.0, -1.0],
        [-1.0, 1.0, -1.0],
        [-1.0, -1.0, 1.0],
        [1.0, -1.0, 1.0],
        [1.0, 1.0, 1.0],
        [-1.0, 1.0, 1.0],
    ]
)
_TRIANGLES: Ints = np.array(
    [
        [0, 2, 1],
        [0, 3, 2],
        [4, 5, 6],
        [4, 6, 7],
        [0, 1, 5],
        [0, 5, 4],
        [1, 2, 6],
        [1, 6, 5],
        [2, 3, 7],
        [2, 7, 6],
        [3, 0, 4],
        [3, 4, 7],
    ],
    dtype=np.int64,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Boxes:
    """Square-cut pieces as arrays.

    Attributes
    ----------
    starts, ends : (n, 3) float
        Ends of the centre lines. [m]
    sides : (n, 2) float
        Breadth and depth. [m]
    axes : (n, 3, 3) float
        Unit vectors of breadth, depth and centre line, as rows.
    densities : (n,) float
        [kg/m^3]
    """

    starts: Floats
    ends: Floats
    sides: Floats
    axes: Floats
    densities: Floats

    @property
    def lengths(self) -> Floats:
        """Length of each piece along its centre line. [m]"""
        lengths: Floats = np.linalg.norm(self.ends - self.starts, axis=1)
        return lengths

    @property
    def masses(self) -> Floats:
        """Mass of each piece. [kg]"""
        masses: Floats = self.densities * self.sides[:, 0] * self.sides[:, 1] * self.lengths
        return masses


def member_axes(along: Floats, rolls: Floats) -> Floats:
    """Directions of breadth, depth and centre line of placed pieces.

    Parameters
    ----------
    along : (n, 3) float
        Unit vectors from start to end.
    rolls : (n,) float
        Turn about the centre line, right-handed from start to end. [rad]

    Returns
    -------
    axes : (n, 3, 3) float
        Unit vectors of breadth, depth and centre line, as rows of a right-handed set.

    Notes
    -----
    With no roll, depth lies as near to upward as it can and breadth is level. An
    upright piece has no such direction: its depth lies along y, its breadth along x.
    """
    upright = np.hypot(along[:, 0], along[:, 1]) <= UPRIGHT
    depth = np.array([0.0, 0.0, 1.0]) - along[:, 2:] * along
    depth[upright] = [0.0, 1.0, 0.0]
    depth /= np.linalg.norm(depth, axis=1, keepdims=True)
    breadth = np.cross(depth, along)
    breadth /= np.linalg.norm(breadth, axis=1, keepdims=True)
    cos, sin = np.cos(rolls)[:, None], np.sin(rolls)[:, None]
    rolled_breadth = cos * breadth + sin * depth
    rolled_depth = cos * depth - sin * breadth
    return np.stack([rolled_breadth, rolled_depth, along], axis=1)


def place_members(
    name: str, members: Sequence[bodies.Member], densities: dict[str, float]
) -> Boxes:
    """Placed pieces as arrays.

    Parameters
    ----------
    name : str
        Body they belong to, for messages.
    members : sequence of Member
        At least one.
    densities : dict of str to float
        Density of each species. [kg/m^3]

    Returns
    -------
    boxes : Boxes
        In the order of `members`.

    Raises
    ------
    ShapeError
        If a piece has no length or its species is not in `densities`; all are named.
    """
    starts = np.array([m.start for m in members], dtype=np.float64).reshape(-1, 3)
    ends = np.array([m.end for m in members], dtype=np.float64).reshape(-1, 3)
    lengths = np.linalg.norm(ends - starts, axis=1)
    problems = [
        f'member "{m.mark}": start and end are the same place {m.start} m; give two ends apart'
        for m, length in zip(members, lengths, strict=True)
        if not length > 0
    ]
    problems += [
        f'member "{m.mark}": no species named "{m.species}"; the plan has '
        f"{', '.join(sorted(densities)) or 'none'}"
        for m in members
        if m.species not in densities
    ]
    if problems:
        raise ShapeError(name, problems)
    rolls = np.array([m.roll for m in members], dtype=np.float64)
    return Boxes(
        starts=starts,
        ends=ends,
        sides=np.array([(m.breadth, m.depth) for m in members], dtype=np.float64),
        axes=member_axes((ends - starts) / lengths[:, None], rolls),
        densities=np.array([densities[m.species] for m in members], dtype=np.float64),
    )


def box_solid(name: str, members: Sequence[bodies.Member], boxes: Boxes) -> Solid:
    """Triangles of placed pieces, twelve each.

    Parameters
    ----------
    name : str
        Body they belong to.
    members : sequence of Member
        They give marks and parts.
    boxes : Boxes
        The same pieces as arrays.

    Returns
    -------
    solid : Solid
        Every piece a closed box of its own; pieces may cross at their joints.
    """
    n_boxes = len(members)
    half_sides = boxes.sides / 2
    across = np.einsum("cj,nj,njk->nck", _SIGNS[:, :2], half_sides, boxes.axes[:, :2])
    far = _SIGNS[:, 2] > 0
    ends = np.where(far[None, :, None], boxes.ends[:, None, :], boxes.starts[:, None, :])
    faces = _TRIANGLES[None] + 8 * np.arange(n_boxes, dtype=np.int64)[:, None, None]
    return Solid(
        name=name,
        vertices=(ends + across).reshape(-1, 3),
        faces=faces.reshape(-1, 3),
        members=np.repeat(np.arange(n_boxes, dtype=np.int64), len(_TRIANGLES)),
        marks=tuple(m.mark for m in members),
        parts=tuple(m.part for m in members),
        closed=True,
    )


def box_mass(boxes: Boxes, tolerance: float) -> MassProperties:
    """Mass, centre of gravity and inertia of placed pieces together.

    Parameters
    ----------
    boxes : Boxes
        At least one piece.
    tolerance : float
        Share by which the mass may be out.

    Returns
    -------
    mass : MassProperties
        The sum over the pieces: where two cross at a joint, both are counted.

    Notes
    -----
    A box of sides a, b, c has the inertia m (b^2 + c^2) / 12 about the axis along a
    through its centre; the rest is the parallel-axis theorem.
    """
    masses = boxes.masses
    middles = (boxes.starts + boxes.ends) / 2
    total = float(masses.sum())
    centre = masses @ middles / total
    squares = np.column_stack([boxes.sides, boxes.lengths]) ** 2
    principal = masses[:, None] / 12 * (squares.sum(axis=1, keepdims=True) - squares)
    own = np.einsum("nji,nj,njk->ik", boxes.axes, principal, boxes.axes)
    arms = middles - centre
    spread = np.einsum("n,ni,nj->ij", masses, arms, arms)
    moved = np.trace(spread) * np.eye(3) - spread
    return MassProperties(mass=total, centre=centre, inertia=own + moved, tolerance=tolerance)
