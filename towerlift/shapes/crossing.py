"""Triangles of one surface that pass through each other.

A broad phase finds the pairs whose boxes meet, by walking a tree of boxes against
itself one level at a time; a narrow phase asks each pair. Both take whole arrays.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from towerlift.shapes.solids import Bools, Floats, Ints

_CHUNK = 200_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossings:
    """Pairs of triangles that pass through each other.

    Attributes
    ----------
    pairs : (k, 2) int
        Triangle numbers, the lower first, in rising order.
    places : (k, 3) float
        Middle of the stretch that both share; the middle of their corners where they
        lie flat on one another. [m]
    """

    pairs: Ints
    places: Floats


def find_crossings(vertices: Floats, faces: Ints, depth: float) -> Crossings:
    """Pairs of triangles that pass through each other, and where.

    Parameters
    ----------
    vertices : (n, 3) float
        [m]
    faces : (m, 3) int
        Corner numbers, anticlockwise from outside; corners that are the same place
        have the same number within one body.
    depth : float
        Triangles that pass into each other by no more than this only touch. [m]

    Returns
    -------
    crossings : Crossings
        None of them if the surface nowhere crosses itself.

    Notes
    -----
    Two triangles cross if each reaches both sides of the other's plane and the
    stretches that they cut from the line common to both planes overlap. A corner
    within `depth` of a plane counts as before it, outside the solid: solids that touch
    from outside are then apart, and one that touches another from within, or has a
    face in the same plane on the same side, crosses it. That is the answer for solids
    shrunk by a hair, so edges that meet edges exactly need no cases of their own.
    Triangles with a common edge cross only when folded flat on one another.
    """
    corners = vertices[faces]
    found = [(np.empty((0, 2), dtype=np.int64), np.empty((0, 3)))]
    for near in _box_pairs(corners.min(axis=1), corners.max(axis=1), depth):
        crossing, where = _cross(corners, faces, near, depth)
        found.append((near[crossing], where[crossing]))
    pairs = np.concatenate([each for each, _ in found])
    places = np.concatenate([each for _, each in found])
    order = np.lexsort((pairs[:, 1], pairs[:, 0]))
    return Crossings(pairs=pairs[order], places=places[order])


def _box_pairs(low: Floats, high: Floats, slack: float) -> Iterator[Ints]:
    """Pairs of triangles whose boxes come within a slack of each other, in chunks."""
    order = _order_by_place(low + high)
    levels = _box_levels(low[order] - slack, high[order])
    # Stack of (level, pairs of nodes); level 0 holds the triangles.
    stack = [(len(levels) - 1, np.zeros((1, 2), dtype=np.int64))]
    while stack:
        level, nodes = stack.pop()
        lows, highs = levels[level]
        i, j = nodes.T
        meet = (lows[i] <= highs[j]).all(axis=1) & (lows[j] <= highs[i]).all(axis=1)
        nodes = nodes[meet]
        if level == 0:
            pairs = order[nodes[nodes[:, 0] != nodes[:, 1]]]
            if len(pairs):
                yield np.sort(pairs, axis=1)
            continue
        below = _children(nodes, len(levels[level - 1][0]))
        stack += [(level - 1, below[n : n + _CHUNK]) for n in range(0, len(below), _CHUNK)]


def _order_by_place(middles: Floats) -> Ints:
    # Along a curve that keeps neighbours together (bits of the three places, interleaved).
    span = np.ptp(middles, axis=0)
    cells = ((middles - middles.min(axis=0)) / np.where(span > 0, span, 1.0) * 1023).astype(
        np.int64
    )
    code = np.zeros(len(cells), dtype=np.int64)
    for bit in range(10):
        for axis in range(3):
            code |= ((cells[:, axis] >> bit) & 1) << (3 * bit + axis)
    order: Ints = np.argsort(code, kind="stable").astype(np.int64)
    return order


def _box_levels(low: Floats, high: Floats) -> list[tuple[Floats, Floats]]:
    levels = [(low, high)]
    while len(levels[-1][0]) > 1:
        lows, highs = levels[-1]
        firsts = np.arange(0, len(lows), 2)
        levels.append((np.minimum.reduceat(lows, firsts), np.maximum.reduceat(highs, firsts)))
    return levels


def _children(nodes: Ints, count: int) -> Ints:
    i, j = nodes.T
    below = np.concatenate(
        [
            np.column_stack([2 * i + a, 2 * j + b])[(i != j) | (a <= b)]
            for a in (0, 1)
            for b in (0, 1)
        ]
    )
    kept: Ints = below[(below < count).all(axis=1)]
    return kept


def _cross(corners: Floats, faces: Ints, pairs: Ints, depth: float) -> tuple[Bools, Floats]:
    """Which pairs cross, and where."""
    first, second = pairs.T
    same = faces[first][:, :, None] == faces[second][:, None, :]
    in_first, in_second = same.any(axis=2), same.any(axis=1)
    n_shared = in_first.sum(axis=1)
    crossing = n_shared == 3
    where = (corners[first] + corners[second]).mean(axis=1) / 2
    apart = np.flatnonzero(n_shared <= 1)
    of_first = _heights(corners, first[apart], second[apart], in_first[apart])
    of_second = _heights(corners, second[apart], first[apart], in_second[apart])
    both = _straddles(of_first, depth) & _straddles(of_second, depth)
    kept = apart[both]
    length, middle = _common_stretch(
        corners, pairs[kept], (of_first[both], of_second[both]), depth
    )
    crossing[kept] = length > depth
    where[kept] = middle
    folded = np.flatnonzero(n_shared == 2)
    crossing[folded] = _folded_flat(corners, pairs[folded], in_first[folded], in_second[folded])
    return crossing, where


def _normals(corners: Floats) -> Floats:
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    unit: Floats = normals / np.linalg.norm(normals, axis=1, keepdims=True)
    return unit


def _heights(corners: Floats, of: Ints, over: Ints, shared: Bools) -> Floats:
    """Heights of corners over the plane of the other triangle; shared ones lie in it."""
    plane = corners[over]
    rise = np.einsum("nci,ni->nc", corners[of] - plane[:, :1], _normals(plane))
    heights: Floats = np.where(shared, 0.0, rise)
    return heights


def _common_stretch(
    corners: Floats, pairs: Ints, heights: tuple[Floats, Floats], depth: float
) -> tuple[Floats, Floats]:
    """Length and middle of what two triangles share of the line common to their planes."""
    first, second = pairs.T
    line = np.cross(_normals(corners[first]), _normals(corners[second]))
    size = np.linalg.norm(line, axis=1, keepdims=True)
    line /= np.where(size > 0, size, 1.0)
    origin = corners[first].mean(axis=1)
    a_low, a_high, foot = _cut(corners[first], heights[0], (origin, line), depth)
    b_low, b_high, _ = _cut(corners[second], heights[1], (origin, line), depth)
    low, high = np.maximum(a_low, b_low), np.minimum(a_high, b_high)
    return high - low, foot + ((low + high) / 2 - a_low)[:, None] * line


def _straddles(heights: Floats, depth: float) -> Bools:
    both: Bools = (heights.min(axis=1) < -depth) & (heights.max(axis=1) >= -depth)
    return both


def _cut(
    corners: Floats, heights: Floats, line: tuple[Floats, Floats], depth: float
) -> tuple[Floats, Floats, Floats]:
    """Stretch that a triangle cuts from a line in the plane it straddles, and its low end."""
    origin, direction = line
    behind = heights < -depth
    # Heights within the depth count as nought, so a cut lies between the corners.
    level = np.where(behind, heights, np.maximum(heights, 0.0))
    low = np.full(len(heights), np.inf)
    high = np.full(len(heights), -np.inf)
    foot = np.zeros((len(heights), 3))
    for i, j in ((0, 1), (1, 2), (2, 0)):
        cuts = behind[:, i] != behind[:, j]
        drop = np.where(cuts, level[:, i] - level[:, j], 1.0)
        share = (level[:, i] / drop)[:, None]
        point = corners[:, i] + share * (corners[:, j] - corners[:, i])
        along = np.einsum("ni,ni->n", point - origin, direction)
        lower = cuts & (along < low)
        foot[lower], low[lower] = point[lower], along[lower]
        high = np.where(cuts, np.maximum(high, along), high)
    return low, high, foot


def _folded_flat(
    corners: Floats,
    pairs: Ints,
    in_first: Bools,
    in_second: Bools,
) -> Bools:
    """Whether two triangles with a common edge lie on one another."""
    first, second = corners[pairs[:, 0]], corners[pairs[:, 1]]
    rows = np.arange(len(pairs))
    free_first, free_second = np.argmin(in_first, axis=1), np.argmin(in_second, axis=1)
    foot = first[rows, (free_first + 1) % 3]
    edge = first[rows, (free_first + 2) % 3] - foot
    edge /= np.linalg.norm(edge, axis=1, keepdims=True)
    a, b = (
        p - np.einsum("ni,ni->n", p, edge)[:, None] * edge
        for p in (first[rows, free_first] - foot, second[rows, free_second] - foot)
    )
    together = np.einsum("ni,ni->n", a, b)
    apart = np.linalg.norm(np.cross(a, b), axis=1)
    folded: Bools = (together > 0) & (apart <= 1e-9 * together)
    return folded
