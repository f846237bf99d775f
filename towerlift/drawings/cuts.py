"""Outlines of solids where a plane cuts them, and what is seen beyond the plane."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from towerlift.rig.curves import Floats
from towerlift.shapes.solids import Ints

Loop = tuple[Floats, bool]
"""Points of an outline in the plane, (n, 2), and whether it is closed. [m]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """A plane with axes of its own, right-handed with its normal.

    Attributes
    ----------
    origin : (3,) float
        Shaft frame. [m]
    right, up : (3,) float
        Directions that a drawing takes as right and up; of length one, square.
    """

    origin: Floats
    right: Floats
    up: Floats

    @property
    def normal(self) -> Floats:
        """Towards the one who looks at the drawing, (3,)."""
        return np.asarray(np.cross(self.right, self.up))

    def flat(self, points: Floats) -> Floats:
        """Places of points in the drawing, seen along the normal, (n, 2). [m]"""
        return np.asarray((points - self.origin) @ np.column_stack([self.right, self.up]))

    def depth(self, points: Floats) -> Floats:
        """How far points lie beyond the plane, away from the one who looks, (n,). [m]"""
        return np.asarray(-((points - self.origin) @ self.normal))


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """Triangles in the shaft frame.

    Attributes
    ----------
    name : str
        Section, fixture or "shaft".
    vertices : (n, 3) float
        [m]
    faces : (m, 3) int
        Corner numbers.
    members : (m,) int
        For each triangle, its place in `marks`.
    marks : tuple of str
        Of the members.
    """

    name: str
    vertices: Floats
    faces: Ints
    members: Ints
    marks: tuple[str, ...]


def cut_loops(
    body: Body, plane: Plane, *, whole: bool = False, touching: str = "beyond"
) -> dict[int, list[Loop]]:
    """Outlines of each member where a plane cuts it.

    Parameters
    ----------
    body : Body
        What is cut.
    plane : Plane
        Where.
    whole : bool
        Whether to join outlines across members: for masonry, which is one skin.
    touching : str
        A corner that lies in the plane counts as "beyond" it, or as "before" it: a
        face that lies in the plane is cut just on the other side.

    Returns
    -------
    loops : dict of int to list of Loop
        By member, or under 0 for the whole.
    """
    depth = plane.depth(body.vertices)
    depth = np.where(np.abs(depth) < 1e-9, 1e-12 if touching == "beyond" else -1e-12, depth)
    sides = depth[body.faces] > 0
    met = np.flatnonzero(sides.any(axis=1) & ~sides.all(axis=1))
    runs: dict[int, list[tuple[tuple[int, int], tuple[int, int]]]] = defaultdict(list)
    for triangle in met.tolist():
        a, b, c = (int(v) for v in body.faces[triangle])
        keys = [
            (min(i, j), max(i, j))
            for i, j in ((a, b), (b, c), (c, a))
            if (depth[i] > 0) != (depth[j] > 0)
        ]
        runs[0 if whole else int(body.members[triangle])].append((keys[0], keys[1]))
    keys = list(dict.fromkeys(k for pairs in runs.values() for pair in pairs for k in pair))
    ends = np.array(keys, dtype=np.int64).reshape(-1, 2)
    start, end = ends[:, 0], ends[:, 1]
    share = (depth[start] / (depth[start] - depth[end]))[:, None]
    points = body.vertices[start] + share * (body.vertices[end] - body.vertices[start])
    places = dict(zip(keys, plane.flat(points), strict=True))
    return {member: _chained(pairs, places) for member, pairs in runs.items()}


def _chained(
    pairs: Sequence[tuple[tuple[int, int], tuple[int, int]]],
    places: dict[tuple[int, int], Floats],
) -> list[Loop]:
    # Ends at one place are one end: a skin's triangles may not share their corners.
    near: dict[tuple[float, float], tuple[int, int]] = {}
    same = {}
    for key in dict.fromkeys(key for pair in pairs for key in pair):
        x, y = places[key].tolist()
        same[key] = near.setdefault((round(x, 7), round(y, 7)), key)
    beside: dict[tuple[int, int], list[tuple[int, int]]] = defaultdict(list)
    for a, b in pairs:
        i, j = same[a], same[b]
        if i != j:
            beside[i].append(j)
            beside[j].append(i)
    loops: list[Loop] = []
    while beside:
        ends = [key for key, others in beside.items() if len(others) % 2]
        key = ends[0] if ends else next(iter(beside))
        path = [key]
        while beside.get(key):
            after = beside[key].pop()
            beside[after].remove(key)
            for each in (key, after):
                if not beside[each]:
                    del beside[each]
            key = after
            path.append(key)
        closed = len(path) > 3 and path[0] == path[-1]
        points = np.array([places[key] for key in (path[:-1] if closed else path)])
        if len(points) > 1:
            loops.append((_without_straight(points, closed), closed))
    return loops


def _without_straight(points: Floats, closed: bool) -> Floats:
    """Points without those that lie on the line between their neighbours."""
    before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
    a, b = points - before, after - points
    turn = np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    keep = turn > 1e-9 * (np.linalg.norm(a, axis=1) + np.linalg.norm(b, axis=1) + 1e-12)
    if not closed:
        keep[0] = keep[-1] = True
    return points[keep] if keep.sum() >= 2 else points


def clear_between(
    loops: Sequence[Loop], point: tuple[float, float], axis: int
) -> tuple[float, float] | None:
    """Where outlines are met first, either way from a point along an axis of the drawing.

    Parameters
    ----------
    loops : sequence of Loop
        Faces of the masonry.
    point : tuple of float
        From where. [m]
    axis : int
        0 to the left and right, 1 down and up.

    Returns
    -------
    ends : tuple of float or None
        Their places along the axis; None where one side is open. [m]
    """
    at, own = point[1 - axis], point[axis]
    hits = []
    for points, closed in loops:
        ring = np.vstack([points, points[:1]]) if closed else points
        for a, b in pairwise(ring):
            if (a[1 - axis] <= at) != (b[1 - axis] <= at):
                share = (at - a[1 - axis]) / (b[1 - axis] - a[1 - axis])
                hits.append(float(a[axis] + share * (b[axis] - a[axis])))
    below = [hit for hit in hits if hit < own]
    above = [hit for hit in hits if hit >= own]
    return (max(below), min(above)) if below and above else None


def hull(points: Floats) -> Floats:
    """Corners of the convex hull, anticlockwise.

    Parameters
    ----------
    points : (n, 2) float
        [m]

    Returns
    -------
    corners : (k, 2) float
        Fewer than three where all lie on a line. [m]
    """
    rows = sorted({(round(float(x), 9), round(float(y), 9)) for x, y in points})
    if len(rows) < 3:
        return np.array(rows).reshape(-1, 2)

    def half(order: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
        chain: list[tuple[float, float]] = []
        for p in order:
            while len(chain) > 1:
                (x0, y0), (x1, y1) = chain[-2:]
                if (x1 - x0) * (p[1] - y0) - (y1 - y0) * (p[0] - x0) > 1e-12:
                    break
                chain.pop()
            chain.append(p)
        return chain[:-1]

    return np.array(half(rows) + half(rows[::-1]))
