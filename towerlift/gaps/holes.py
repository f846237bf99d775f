"""Holes in an open mesh: what was not seen, and gaps that rely on it."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import ConvexHull, cKDTree

from towerlift.gaps.body import Body, build_body
from towerlift.gaps.inside import enclosed
from towerlift.gaps.members import grouped_parts, measure_part
from towerlift.gaps.minimum import PathGap, ask, least_gap
from towerlift.gaps.path import Path
from towerlift.gaps.pose import whole
from towerlift.gaps.sweep import DEFAULT_EPS

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

FLAT = 1e-6
"""Thickness up to which a rim is taken to lie in one plane. [m]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hole:
    """A closed run of edges that belong to one face only.

    Attributes
    ----------
    rim : (n, 3) float
        Its corners in order. [m]
    outline : bool
        Whether it is the longest of its connected piece of the mesh, which then ends
        there rather than having a hole.
    """

    rim: Array
    outline: bool

    @property
    def centre(self) -> Array:
        """Mean of its corners. [m]"""
        middle: Array = self.rim.mean(axis=0)
        return middle

    @property
    def length(self) -> float:
        """Length of its rim. [m]"""
        sides = np.roll(self.rim, -1, axis=0) - self.rim
        return float(np.linalg.norm(sides, axis=1).sum())

    @property
    def facing(self) -> Array:
        """Unit direction it faces; nought if it has no area."""
        arms = self.rim - self.centre
        area = np.cross(arms, np.roll(arms, -1, axis=0)).sum(axis=0)
        size = np.linalg.norm(area)
        direction: Array = area / size if size > 0 else area
        return direction

    @property
    def sizes(self) -> Array:
        """Its length, width and depth along the directions it spreads in. [m]"""
        spread = self._spread()
        found: Array = spread.max(axis=0) - spread.min(axis=0)
        return found

    def _spread(self) -> Array:
        arms = self.rim - self.centre
        _, axes = np.linalg.eigh(arms.T @ arms)
        spread: Array = arms @ axes[:, ::-1]
        return spread

    def goes_round(self, x: float, y: float) -> bool:
        """Whether it goes round an upright line, as the open ends of a shaft do.

        Parameters
        ----------
        x, y : float
            Where the line stands. [m]

        Returns
        -------
        round : bool
            Whether the rim, seen from above, winds about it.
        """
        arms = self.rim[:, :2] - (x, y)
        bearings = np.arctan2(arms[:, 1], arms[:, 0])
        steps = np.diff(bearings, append=bearings[:1])
        turned = ((steps + np.pi) % (2 * np.pi) - np.pi).sum()
        return bool(abs(turned) > np.pi)

    def sheet(self) -> tuple[Array, Ints]:
        """Convex hull of the rim: no surface stretched over it is anywhere else.

        Returns
        -------
        vertices : (n, 3) float
            Corners of the rim. [m]
        faces : (m, 3) int
            Triangles over all of the hull; of a rim in one plane, the plane.
        """
        spread = self._spread()
        if not self.sizes[1] > FLAT:
            ends = [int(spread[:, 0].argmin()), int(spread[:, 0].argmax())]
            return self.rim, np.array([[ends[0], ends[1], ends[1]]])
        if self.sizes[2] > FLAT:
            return self.rim, ConvexHull(self.rim).simplices.astype(np.int64)
        around = ConvexHull(spread[:, :2]).vertices
        fan = [(around[0], b, c) for b, c in pairwise(around[1:])]
        return self.rim, np.array(fan, dtype=np.int64)

    def holds(self, points: Array) -> bool:
        """Whether any point is within the hull of the rim.

        Parameters
        ----------
        points : (n, 3) float
            Frame of the rim. [m]

        Returns
        -------
        holds : bool
            Never true of a rim in one plane.
        """
        if not self.sizes[2] > FLAT:
            return False
        planes = ConvexHull(self.rim).equations
        return bool((points @ planes[:, :3].T + planes[:, 3] <= 0).all(axis=1).any())


def find_holes(body: Body, *, weld: float = 0.0) -> tuple[Hole, ...]:
    """Every hole in a mesh: scan shadow, opening, or open end.

    Parameters
    ----------
    body : Body
        The body; corners at equal coordinates are one.
    weld : float, optional
        Corners no farther apart than this are one as well: cracks as narrow are no
        holes. [m]

    Returns
    -------
    holes : tuple of Hole
        Longest rim first. Which of them are openings that are really there, the
        mesh cannot tell; the caller must.

    Notes
    -----
    An edge counts once for every face that runs along it less every face that runs
    against it. What is left over all faces has no ends, so it always closes to rims,
    also where more than two faces share an edge or a face is turned over.
    """
    points, number = np.unique(body.vertices, axis=0, return_inverse=True)
    number = number.reshape(-1)
    if weld > 0:
        number, points = _welded(points, number, weld)
    faces = number[body.faces]
    edges = _left_over(faces, len(points))
    if not len(edges):
        return ()
    pieces = _pieces(faces, len(points))
    rims = sorted(_rims(edges), key=lambda rim: -Hole(rim=points[rim], outline=False).length)
    found, met = [], set()
    for rim in rims:
        piece = int(pieces[rim[0]])
        found.append(Hole(rim=points[rim], outline=piece not in met))
        met.add(piece)
    return tuple(found)


def _welded(points: Array, number: Ints, weld: float) -> tuple[Ints, Array]:
    """Number of the one corner that each corner becomes, and where those lie."""
    near = cKDTree(points).query_pairs(weld, output_type="ndarray")
    links = coo_array((np.ones(len(near), np.int8), near.T), (len(points), len(points)))
    _, labels = connected_components(links, directed=False)
    _, first, merged = np.unique(labels, return_index=True, return_inverse=True)
    return merged.reshape(-1)[number], points[first]


def _left_over(faces: Ints, n_points: int) -> list[tuple[int, int]]:
    """Edges that the faces leave over, from end to end."""
    starts, ends = faces.reshape(-1), np.roll(faces, -1, axis=1).reshape(-1)
    low, high = np.minimum(starts, ends), np.maximum(starts, ends)
    keys, place = np.unique(low * n_points + high, return_inverse=True)
    count = np.bincount(place.reshape(-1), np.where(starts == low, 1.0, -1.0) * (low != high))
    found = []
    for k in np.flatnonzero(count):
        a, b = divmod(int(keys[k]), n_points)
        found += [(a, b) if count[k] > 0 else (b, a)] * abs(int(count[k]))
    return found


def _pieces(faces: Ints, n_points: int) -> Ints:
    """Number of the connected piece of the mesh that each point is of."""
    rows, columns = faces[:, [0, 1]].reshape(-1), faces[:, [1, 2]].reshape(-1)
    links = coo_array((np.ones(len(rows), np.int8), (rows, columns)), (n_points, n_points))
    _, labels = connected_components(links, directed=False)
    numbered: Ints = labels.astype(np.int64)
    return numbered


def _rims(edges: Sequence[tuple[int, int]]) -> Iterator[list[int]]:
    """Closed runs of edges; none passes a point twice."""
    onward: dict[int, list[int]] = {}
    for start, end in edges:
        onward.setdefault(start, []).append(end)
    for first in list(onward):
        trail, place = [first], {first: 0}
        while onward[trail[-1]]:
            at = onward[trail[-1]].pop()
            if at not in place:
                place[at] = len(trail)
                trail.append(at)
                continue
            yield trail[place[at] :]
            for gone in trail[place[at] + 1 :]:
                del place[gone]
            del trail[place[at] + 1 :]


def open_ends(holes: Sequence[Hole], axis: tuple[float, float]) -> frozenset[int]:
    """The lowest and the highest hole that go round an upright line.

    Parameters
    ----------
    holes : sequence of Hole
        From `find_holes`.
    axis : tuple of float
        Where the line stands, x and y. [m]

    Returns
    -------
    ends : frozenset of int
        Their numbers: where a shaft begins and ends. One that lies between is a
        stretch that was not seen.
    """
    rings = [k for k, hole in enumerate(holes) if hole.goes_round(*axis)]
    if not rings:
        return frozenset()
    heights = [float(holes[k].centre[2]) for k in rings]
    return frozenset({rings[int(np.argmin(heights))], rings[int(np.argmax(heights))]})


def veil(holes: Sequence[Hole]) -> Body:
    """A sheet over each hole, the worst that its rim can hold; members are the holes.

    Parameters
    ----------
    holes : sequence of Hole
        The holes, at least one.

    Returns
    -------
    body : Body
        The sheets.

    Raises
    ------
    ValueError
        If there are no holes.
    """
    if not holes:
        raise ValueError("a veil needs at least one hole")
    vertices, faces, members = [], [], []
    start = 0
    for number, hole in enumerate(holes):
        corners, triangles = hole.sheet()
        vertices.append(corners)
        faces.append(triangles + start)
        members.append(np.full(len(triangles), number))
        start += len(corners)
    return build_body(np.concatenate(vertices), np.concatenate(faces), np.concatenate(members))


def hole_gaps(
    moving: Body, holes: Sequence[Hole], path: Path, *, eps: float = DEFAULT_EPS
) -> tuple[PathGap, ...]:
    """Least distance of a moving body from the sheet over each hole.

    Parameters
    ----------
    moving : Body
        The body.
    holes : sequence of Hole
        The holes, fixed frame.
    path : Path
        Path of the moving body.
    eps : float, optional
        Most by which any ``upper`` may exceed the true least. [m]

    Returns
    -------
    gaps : tuple of PathGap
        One for each hole. Nothing is certified of one that the body crosses, or is
        in: its ``lower`` is minus infinity.

    Raises
    ------
    ValueError
        If `eps` is out of range.
    """
    if not holes:
        return ()
    sheets = veil(holes)
    question = ask(moving, sheets, path, (eps, None))
    parts = grouped_parts(sheets, sheets.tree.members.astype(np.int64))
    inside = enclosed(moving, sheets, path.poses[0], question.skip)
    pose = path.poses[0]
    shells = moving.vertices[moving.shells] @ pose[:3, :3].T + pose[:3, 3]
    return tuple(
        measure_part(question, (whole(moving), part), True if hole.holds(shells) else inside)
        for hole, part in zip(holes, parts, strict=True)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenGap:
    """Least distance over a path, and whether it rests on what was not seen.

    Attributes
    ----------
    gap : PathGap
        Least distance from the mesh.
    unseen : tuple of PathGap
        Least distance from the sheet over each hole that is not known.
    limit : float
        Distance the gap is held against. [m]
    """

    gap: PathGap
    unseen: tuple[PathGap, ...]
    limit: float

    @property
    def relies_on_hole(self) -> bool:
        """Whether something unseen could be nearer than the gap, or than the limit.

        Such a gap is not evaluated, unless the mesh alone already fails it.
        """
        need = max(self.limit, self.gap.upper)
        return any(not unseen.lower >= need for unseen in self.unseen)

    @property
    def verdict_lower(self) -> float:
        """Lower bound that a verdict may use; minus infinity if it relies on a hole."""
        return -np.inf if self.relies_on_hole else self.gap.lower


def seen_gap(
    moving: Body,
    fixed: Body,
    path: Path,
    limit: float,
    *,
    known: Collection[int] = (),
) -> SeenGap:
    """Least distance over a path, not trusting holes in the fixed mesh.

    Parameters
    ----------
    moving, fixed : Body
        The bodies.
    path : Path
        Path of the moving body.
    limit : float
        Distance the gap is held against. [m]
    known : collection of int, optional
        Numbers, in `find_holes`, of openings that are known to be there.
        The open ends of a shaft, as `open_ends` finds them about the middle of the
        mesh, are always taken as known.

    Returns
    -------
    seen : SeenGap
        Both distances.

    Raises
    ------
    ValueError
        If `known` names no hole, or as `least_gap`.
    """
    holes = find_holes(fixed)
    wrong = [number for number in known if not 0 <= number < len(holes)]
    if wrong:
        raise ValueError(f"known must name holes 0 to {len(holes) - 1}, got {wrong[0]}")
    ends = open_ends(holes, (float(fixed.centre[0]), float(fixed.centre[1])))
    unseen = [
        hole for number, hole in enumerate(holes) if number not in known and number not in ends
    ]
    gap = least_gap(moving, fixed, path, eps=DEFAULT_EPS)
    return SeenGap(gap=gap, unseen=hole_gaps(moving, unseen, path), limit=limit)
