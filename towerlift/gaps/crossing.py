"""Two straight round lines whose ends go straight up or down: the least between them, exactly.

With shares s and u along the lines, both ends of both going up evenly, the distance is

.. math:: D^2 = |h(s, u)|^2 + \\big((1 - t)\\, z_0(s, u) + t\\, z_1(s, u)\\big)^2

where h, level, and the differences of height at first and at last are linear in s and u. Over
the time the height between them is least at first or at last, unless it changes sign: then
they pass each other, and only h counts. So the least is the least of four convex sums, each
over a polygon in s and u.
"""

from dataclasses import dataclass

import numpy as np

from towerlift.gaps.pose import Point
from towerlift.gaps.sweep import Array

_SQUARE = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
# Ends that go aside by no more than this go straight up. [m]
ASIDE = 1e-9
# Twice the area below which a polygon is no more than its edges.
FLAT = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """Least distance of two lines over a time.

    Attributes
    ----------
    gap : float
        Between their surfaces; negative where they cut into each other. [m]
    at : float
        When, from 0 to 1.
    shares : tuple of float
        How far along each line, from its first end.
    point : tuple of float
        On the middle of the first line. [m]
    """

    gap: float
    at: float
    shares: tuple[float, float]
    point: Point


def crossing_gap(one: Array, other: Array, radii: tuple[float, float]) -> Crossing:
    """Least distance of two lines whose ends go straight up or down.

    Parameters
    ----------
    one, other : (2, 2, 3) float
        Both ends of each, at first and at last; in between they go evenly. [m]
    radii : tuple of float
        Of both lines. [m]

    Returns
    -------
    crossing : Crossing
        Exact but for rounding.

    Raises
    ------
    ValueError
        If an end goes aside, or is not finite.
    """
    for ends in (one, other):
        if not np.all(np.abs(ends[1, :, :2] - ends[0, :, :2]) <= ASIDE):
            raise ValueError("ends must be finite and go straight up or down")
    # Difference of places, as c + s a + u b, at first and at last.
    forms = [(f[0] - g[0], f[1] - f[0], g[0] - g[1]) for f, g in zip(one, other, strict=True)]
    found = [
        (*_least(_SQUARE, form), when) for when, form in zip((0.0, 1.0), forms, strict=True)
    ]
    heights = [np.array([form[k][2] for k in range(3)]) for form in forms]
    for sense in (1.0, -1.0):
        polygon = _cut(_cut(_SQUARE, sense * heights[0]), -sense * heights[1])
        if len(polygon):
            level = tuple(each[:2] for each in forms[0])
            distance, shares = _least(polygon, (level[0], level[1], level[2]))
            first, last = (float(z @ (1.0, *shares)) for z in heights)
            apart = first - last
            # Where both are as good as nothing, rounding alone would put it out of the time.
            when = first / apart if apart else 0.0
            found.append((distance, shares, min(max(when, 0.0), 1.0)))
    distance, shares, when = min(found, key=lambda each: each[0])
    along = one[0] + when * (one[1] - one[0])
    x, y, z = (along[0] + shares[0] * (along[1] - along[0])).tolist()
    return Crossing(gap=distance - sum(radii), at=when, shares=shares, point=(x, y, z))


def _cut(polygon: Array, form: Array) -> Array:
    """The part of a convex polygon where a linear form is not negative."""
    values = polygon @ form[1:] + form[0]
    kept = []
    for k in range(len(polygon)):
        after = (k + 1) % len(polygon)
        if values[k] >= 0:
            kept.append(polygon[k])
        if (values[k] >= 0) != (values[after] >= 0):
            share = values[k] / (values[k] - values[after])
            kept.append(polygon[k] + share * (polygon[after] - polygon[k]))
    return np.array(kept).reshape(-1, 2)


def _least(
    polygon: Array, form: tuple[Array, Array, Array]
) -> tuple[float, tuple[float, float]]:
    """Least length of c + s a + u b over a convex polygon of (s, u), and where."""
    c, a, b = form
    square = np.array([[a @ a, a @ b], [a @ b, b @ b]])
    spots = [polygon]
    if abs(np.linalg.det(square)) > 1e-12 * max(float(np.trace(square)) ** 2, 1e-300):
        spot = -np.linalg.solve(square, np.array([a @ c, b @ c]))
        if _holds(polygon, spot):
            spots.append(spot[None])
    starts, ways = polygon, np.roll(polygon, -1, axis=0) - polygon
    moved = ways[:, :1] * a + ways[:, 1:] * b
    there = c + starts[:, :1] * a + starts[:, 1:] * b
    lengths = (moved**2).sum(axis=1)
    shares = np.zeros(len(polygon))
    np.divide(-(moved * there).sum(axis=1), lengths, out=shares, where=lengths > 0)
    spots.append(starts + np.clip(shares, 0.0, 1.0)[:, None] * ways)
    tried = np.concatenate(spots)
    sizes = np.linalg.norm(c + tried[:, :1] * a + tried[:, 1:] * b, axis=1)
    best = int(sizes.argmin())
    return float(sizes[best]), (float(tried[best, 0]), float(tried[best, 1]))


def _holds(polygon: Array, spot: Array) -> bool:
    """Whether a convex polygon, anticlockwise and not flat, holds a spot."""
    after = np.roll(polygon, -1, axis=0)
    area = (polygon[:, 0] * after[:, 1] - polygon[:, 1] * after[:, 0]).sum()
    ways, to = after - polygon, spot - polygon
    inside = np.all(ways[:, 0] * to[:, 1] - ways[:, 1] * to[:, 0] >= 0)
    return bool(area > FLAT and inside)
