"""Holes in an open mesh: what was not seen, and gaps that rely on it."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps.body import Body, build_body, open_edges
from towerlift.gaps.minimum import PathGap, least_gap
from towerlift.gaps.path import Path
from towerlift.gaps.sweep import DEFAULT_EPS

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hole:
    """A closed run of edges that belong to one face only.

    Attributes
    ----------
    rim : (n, 3) float
        Its corners in order. [m]
    """

    rim: Array

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
    def level(self) -> bool:
        """Whether it faces up or down, as the open ends of a shaft do."""
        return bool(abs(self.facing[2]) > 0.9)


def find_holes(body: Body) -> tuple[Hole, ...]:
    """Every hole in a mesh: scan shadow, opening, or open end.

    Parameters
    ----------
    body : Body
        The body; corners at equal coordinates are one.

    Returns
    -------
    holes : tuple of Hole
        Longest rim first. Which of them are openings that are really there, the
        mesh cannot tell; the caller must.

    Raises
    ------
    ValueError
        If open edges do not close to rims, as where three faces share an edge.
    """
    edges = open_edges(body.vertices, body.faces, np.zeros(len(body.faces), np.int64))
    if not len(edges):
        return ()
    points, ends = np.unique(edges.reshape(-1, 3), axis=0, return_inverse=True)
    pairs = ends.reshape(-1, 2)
    following: dict[int, list[int]] = {}
    for start, end in pairs.tolist():
        following.setdefault(start, []).append(end)
    holes = []
    while following:
        start = next(iter(following))
        rim, at = [], start
        while True:
            if at not in following:
                raise ValueError(f"open edges do not close at {points[at].tolist()} m")
            rim.append(at)
            onward = following[at].pop()
            if not following[at]:
                del following[at]
            at = onward
            if at == start:
                break
        holes.append(Hole(rim=points[rim]))
    return tuple(sorted(holes, key=lambda hole: -hole.length))


def veil(holes: Sequence[Hole]) -> Body:
    """A sheet over each hole, from its rim to its centre; members are the holes.

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
        n = len(hole.rim)
        around = np.arange(n)
        vertices.append(np.concatenate([hole.rim, hole.centre[None]]))
        faces.append(np.stack([around, np.roll(around, -1), np.full(n, n)], axis=1) + start)
        members.append(np.full(n, number))
        start += n + 1
    return build_body(np.concatenate(vertices), np.concatenate(faces), np.concatenate(members))


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenGap:
    """Least distance over a path, and whether it rests on what was not seen.

    Attributes
    ----------
    gap : PathGap
        Least distance from the mesh.
    unseen : PathGap or None
        Least distance from the sheets over unseen holes; None if there are no
        such holes. Its fixed member is the number of the hole.
    limit : float
        Distance the gap is held against. [m]
    """

    gap: PathGap
    unseen: PathGap | None
    limit: float

    @property
    def relies_on_hole(self) -> bool:
        """Whether something unseen could be nearer than both the gap and the limit.

        Such a gap is not evaluated, unless the mesh alone already fails it.
        """
        if self.unseen is None:
            return False
        return self.unseen.lower < max(self.limit, self.gap.upper)

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
        The open ends of a shaft are always taken as known.

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
    unseen = [
        hole for number, hole in enumerate(holes) if number not in known and not hole.level
    ]
    gap = least_gap(moving, fixed, path, eps=DEFAULT_EPS)
    behind = least_gap(moving, veil(unseen), path, eps=DEFAULT_EPS) if unseen else None
    return SeenGap(gap=gap, unseen=behind, limit=limit)
