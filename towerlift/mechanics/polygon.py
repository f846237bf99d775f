"""How far a point lies inside the points that carry it, seen from above."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Rounding of coordinates of some metres.
ON_THE_LINE = 1e-9


def margin_inside(point: Floats, corners: Floats) -> float:
    """Distance of a point from the nearest edge of the hull of others, in plan.

    Parameters
    ----------
    point : (2,) float
        [m]
    corners : (n, 2) float
        In any order; those inside the hull do not matter. [m]

    Returns
    -------
    margin : float
        Positive inside, negative outside. Points in one line have no inside: the
        margin is then 0 on the stretch between them. [m]

    Raises
    ------
    ValueError
        If there are no corners or anything is not finite.
    """
    if corners.ndim != 2 or corners.shape[1] != 2 or not len(corners):
        raise ValueError(f"corners must be (n, 2), got {corners.shape}")
    if not (np.all(np.isfinite(corners)) and np.all(np.isfinite(point))):
        raise ValueError("point and corners must be finite")
    ring = _hull(corners)
    ends = np.roll(ring, -1, axis=0)
    along = ends - ring
    length = np.maximum(np.linalg.norm(along, axis=1), ON_THE_LINE)
    out = point - ring
    share = np.clip((out * along).sum(axis=1) / length**2, 0.0, 1.0)
    reach = float(np.linalg.norm(out - share[:, None] * along, axis=1).min())
    left = (along[:, 0] * out[:, 1] - along[:, 1] * out[:, 0]) / length
    if reach <= ON_THE_LINE:
        return 0.0
    return reach if len(ring) > 2 and bool(np.all(left > 0)) else -reach


def margin_between(point: Floats, ends: Floats) -> float:
    """Distance from the nearer end of two points, along the line between them.

    Parameters
    ----------
    point : (2,) float
        Taken square onto the line. [m]
    ends : (2, 2) float
        [m]

    Returns
    -------
    margin : float
        Positive between the ends, negative beyond. [m]

    Raises
    ------
    ValueError
        If the ends are one point.
    """
    along = ends[1] - ends[0]
    length = float(np.linalg.norm(along))
    if not length > 0:
        raise ValueError(f"the two ends are one point: {ends[0].tolist()}")
    place = float((point - ends[0]) @ along) / length
    return min(place, length - place)


def _hull(corners: Floats) -> Floats:
    """Corners of the convex hull, anticlockwise, by Andrew's monotone chain."""
    ordered = np.unique(corners, axis=0)
    if len(ordered) < 3:
        return ordered
    lower, upper = _chain(ordered), _chain(ordered[::-1])
    return np.array(lower[:-1] + upper[:-1])


def _chain(ordered: Floats) -> list[Floats]:
    chain: list[Floats] = []
    for corner in ordered:
        while len(chain) > 1 and _turn(chain[-2], chain[-1], corner) <= 0:
            chain.pop()
        chain.append(corner)
    return chain


def _turn(a: Floats, b: Floats, c: Floats) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
