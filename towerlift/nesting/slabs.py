"""Cutting a body into slabs, so that each height is held against its own budget."""

from dataclasses import dataclass

import numpy as np

from towerlift.nesting.curves import Floats
from towerlift.shapes.solids import Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class Slabs:
    """Triangles of a body cut at level planes.

    Attributes
    ----------
    vertices : (n, 3) float
        [m]
    faces : (m, 3) int
        Corner numbers.
    members : (m,) int
        Member of each triangle, as before the cut.
    slabs : (m,) int
        Slab of each triangle: slab k lies between edges k and k + 1.
    edges : (k + 1,) float
        Heights of the planes. [m]
    """

    vertices: Floats
    faces: Ints
    members: Ints
    slabs: Ints
    edges: Floats


def cut_at_heights(vertices: Floats, faces: Ints, members: Ints, edges: Floats) -> Slabs:
    """Cut triangles at level planes; the surface stays where it was.

    Parameters
    ----------
    vertices : (n, 3) float
        [m]
    faces : (m, 3) int
        Corner numbers.
    members : (m,) int
        Member of each triangle.
    edges : (k + 1,) float
        Rising heights that enclose the body. [m]

    Returns
    -------
    slabs : Slabs
        Every piece with its member and slab.

    Raises
    ------
    ValueError
        If the planes do not rise or do not enclose the body.
    """
    if not (np.all(np.diff(edges) > 0) and len(edges) > 1):
        raise ValueError(f"planes must rise, got {edges}")
    if vertices[:, 2].min() < edges[0] or vertices[:, 2].max() > edges[-1]:
        raise ValueError("planes must enclose the body")
    pieces, owner, slab_of = [], [], []
    corners = vertices[faces]
    lows = np.searchsorted(edges, corners[:, :, 2].min(axis=1), side="right") - 1
    highs = np.searchsorted(edges, corners[:, :, 2].max(axis=1), side="left") - 1
    lows = np.clip(lows, 0, len(edges) - 2)
    highs = np.clip(highs, lows, len(edges) - 2)
    for triangle, member, low, high in zip(corners, members, lows, highs, strict=True):
        for slab in range(low, high + 1):
            polygon = _clip(triangle, edges[slab], edges[slab + 1], low == high)
            for k in range(1, len(polygon) - 1):
                pieces.append((polygon[0], polygon[k], polygon[k + 1]))
                owner.append(member)
                slab_of.append(slab)
    flat = np.array(pieces).reshape(-1, 3)
    return Slabs(
        vertices=flat,
        faces=np.arange(len(flat)).reshape(-1, 3),
        members=np.array(owner, dtype=np.int64),
        slabs=np.array(slab_of, dtype=np.int64),
        edges=edges,
    )


def _clip(triangle: Floats, low: float, high: float, whole: bool) -> list[Floats]:
    polygon = [np.asarray(corner) for corner in triangle]
    if whole:
        return polygon
    for level, sign in ((low, 1.0), (high, -1.0)):
        kept: list[Floats] = []
        for start, end in zip(polygon, polygon[1:] + polygon[:1], strict=True):
            inside_start = sign * (start[2] - level) >= 0
            inside_end = sign * (end[2] - level) >= 0
            if inside_start:
                kept.append(start)
            if inside_start != inside_end:
                share = (level - start[2]) / (end[2] - start[2])
                crossing = start + share * (end - start)
                crossing[2] = level
                kept.append(crossing)
        polygon = kept
    return polygon
