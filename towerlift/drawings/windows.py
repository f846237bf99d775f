"""Outlines cut off at the edges of a rectangle."""

from itertools import pairwise

import numpy as np

from towerlift.drawings.drawing import Place
from towerlift.rig.curves import Floats

FLAT = 1e-12
"""A line that leans less than this over its length lies along the edge. [m]"""
Window = tuple[Place, Place]
"""Lower left and upper right corner. [m]"""


def clipped(points: Floats, window: Window) -> list[Floats]:
    """A closed outline within a rectangle.

    Parameters
    ----------
    points : (n, 2) float
        Corners of the outline. [m]
    window : tuple of (float, float)
        Lower left and upper right corner. [m]

    Returns
    -------
    rings : list of (k, 2) float
        One outline, with parts of the rectangle where it passes out of it; none where it
        lies outside. [m]
    """
    ring = points
    for axis in (0, 1):
        for sign, bound in ((1.0, window[1][axis]), (-1.0, -window[0][axis])):
            ring = _half(ring, axis, sign, float(bound))
            if len(ring) < 3:
                return []
    return [ring]


def parts_within(points: Floats, window: Window) -> list[Floats]:
    """Parts of a line within a rectangle.

    Parameters
    ----------
    points : (n, 2) float
        Of the line. [m]
    window : tuple of (float, float)
        Lower left and upper right corner. [m]

    Returns
    -------
    parts : list of (k, 2) float
        In order. [m]
    """
    low, high = np.array(window[0]), np.array(window[1])
    parts: list[list[Floats]] = [[]]
    for a, b in pairwise(points):
        ends = _inside(a, b, low, high)
        if ends is None:
            parts.append([])
            continue
        if not parts[-1] or not np.allclose(parts[-1][-1], ends[0]):
            parts.append([ends[0]])
        parts[-1].append(ends[1])
    return [np.array(part) for part in parts if len(part) > 1]


def _half(ring: Floats, axis: int, sign: float, bound: float) -> Floats:
    """The part of a closed outline on one side of a line."""
    room = bound - sign * ring[:, axis]
    kept: list[Floats] = []
    for k in range(len(ring)):
        a, b = ring[k], ring[(k + 1) % len(ring)]
        ra, rb = room[k], room[(k + 1) % len(ring)]
        if ra >= 0:
            kept.append(a)
        if (ra >= 0) != (rb >= 0):
            kept.append(a + ra / (ra - rb) * (b - a))
    return np.array(kept).reshape(-1, 2)


def _inside(a: Floats, b: Floats, low: Floats, high: Floats) -> tuple[Floats, Floats] | None:
    start, end, way = 0.0, 1.0, b - a
    for axis in (0, 1):
        for sign, bound in ((1.0, high[axis]), (-1.0, -low[axis])):
            slope, room = sign * way[axis], bound - sign * a[axis]
            if abs(slope) < FLAT:
                if room < 0:
                    return None
            elif slope > 0:
                end = min(end, room / slope)
            else:
                start = max(start, room / slope)
    return (a + start * way, a + end * way) if end > start else None
