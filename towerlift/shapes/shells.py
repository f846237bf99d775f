"""Boards and cladding on four sloping faces: slabs and closed-form mass."""

import numpy as np

from towerlift.errors import ShapeError
from towerlift.plan import bodies
from towerlift.shapes.solids import Floats, Ints, MassProperties, Solid

_SIDES = (bodies.Face.NORTH, bodies.Face.EAST, bodies.Face.SOUTH, bodies.Face.WEST)


def shell_solid(name: str, shell: bodies.Shell, part: str) -> Solid:
    """Four closed slabs, one on each face, mitred at the hips.

    Parameters
    ----------
    name : str
        Item they belong to.
    shell : Shell
        The surface it is laid on and how far it stands out, level.
    part : str
        Kind of piece, given to all four.

    Returns
    -------
    solid : Solid
        Marks are "north", "east", "south" and "west". Slabs meet in the upright
        planes x = y and x = -y and do not overlap.

    Raises
    ------
    ShapeError
        If the head is not above the foot.
    """
    _refuse_upside_down(name, shell)
    slab, triangles = _north_slab(shell)
    turns = [_quarter_turns(n) for n in (0, -1, -2, -3)]
    n_corners, n_triangles = len(slab), len(triangles)
    return Solid(
        name=name,
        vertices=np.concatenate([slab @ turn.T for turn in turns]),
        faces=np.concatenate([triangles + n_corners * i for i in range(4)]),
        members=np.repeat(np.arange(4, dtype=np.int64), n_triangles),
        marks=tuple(str(side) for side in _SIDES),
        parts=(part,) * 4,
        closed=True,
    )


def _refuse_upside_down(name: str, shell: bodies.Shell) -> None:
    if not shell.head > shell.foot:
        raise ShapeError(
            name,
            [f"shell: head {shell.head:g} m must be above its foot {shell.foot:g} m"],
        )


def _quarter_turns(count: int) -> Floats:
    # Written out, so that the four slabs are exactly alike.
    cos = (1.0, 0.0, -1.0, 0.0)[count % 4]
    sin = (0.0, 1.0, 0.0, -1.0)[count % 4]
    return np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])


def _north_slab(shell: bodies.Shell) -> tuple[Floats, Ints]:
    corners = []
    for height, half in ((shell.foot, shell.half_foot), (shell.head, shell.half_head)):
        for reach in (half, half + shell.thickness):
            corners += [[-reach, reach, height], [reach, reach, height]]
    # Corners, west then east: inner foot 0 1, outer foot 2 3, inner head 4 5, outer
    # head 6 7.
    quads = [
        (0, 2, 3, 1),  # foot
        (4, 5, 7, 6),  # head
        (3, 2, 6, 7),  # outside
        (0, 1, 5, 4),  # inside
        (0, 4, 6, 2),  # west mitre
        (1, 3, 7, 5),  # east mitre
    ]
    triangles = [t for a, b, c, d in quads for t in ((a, b, c), (a, c, d))]
    vertices = np.array(corners)
    if shell.half_head == 0:
        # The inner surface ends in a point: its two head corners are one.
        merged = [tuple(4 if c == 5 else c for c in t) for t in triangles]
        kept = [t for t in merged if len(set(t)) == 3]
        triangles = [tuple(c - (c > 5) for c in t) for t in kept]  # type: ignore[misc]
        vertices = np.delete(vertices, 5, axis=0)
    return vertices, np.array(triangles, dtype=np.int64)


def shell_mass(name: str, shell: bodies.Shell, tolerance: float) -> MassProperties:
    """Mass, centre of gravity and inertia of a shell.

    Parameters
    ----------
    name : str
        Item it belongs to, for messages.
    shell : Shell
        The surface it is laid on and its mass per sloping area.
    tolerance : float
        Share by which the mass may be out.

    Returns
    -------
    mass : MassProperties
        Frame of the section it is on.

    Raises
    ------
    ShapeError
        If the head is not above the foot.

    Notes
    -----
    The mass is spread evenly over the surface it is laid on, four trapezoids. At a
    share u of the height the half width is w = a + (b - a) u and the four strips have
    the area 8 L w du, L being the slope length; hence the area 4 L (a + b), the
    centre at h (a + 2 b) / (3 (a + b)) above the foot, and the moments below, the
    mean of x^2 over the four strips being 2 w^2 / 3.
    """
    _refuse_upside_down(name, shell)
    a, b, h = shell.half_foot, shell.half_head, shell.head - shell.foot
    slope = float(np.hypot(h, a - b))
    mass = shell.surface_density * 4 * slope * (a + b)
    up = h * (a + 2 * b) / (3 * (a + b))
    per_length = shell.surface_density * 8 * slope
    xx = per_length * (a**3 + a**2 * b + a * b**2 + b**3) / 6
    # Integral of w u^2 du is (a + 3 b) / 12; the parallel-axis theorem moves it.
    zz = per_length * h**2 * (a + 3 * b) / 12 - mass * up**2
    return MassProperties(
        mass=mass,
        centre=np.array([0.0, 0.0, shell.foot + up]),
        inertia=np.diag([xx + zz, xx + zz, 2 * xx]),
        tolerance=tolerance,
    )
