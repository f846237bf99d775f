"""Areas that bear, and the pressure under a load that stands off their middle."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
# Places nearer than this are one. [m]
NEAR = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressure:
    """Pressure under a rigid rectangular pad that cannot pull.

    Attributes
    ----------
    most, least : float
        At the edge toward the load and at the far edge. [Pa]
    contact : float
        Length in contact. [m]
    """

    most: float
    least: float
    contact: float


def eccentric_pressure(
    load: float, length: float, breadth: float, eccentricity: float
) -> Pressure:
    r"""Pressure under a load that stands off the middle of a rectangle along its length.

    Parameters
    ----------
    load : float
        Pushing. [N]
    length, breadth : float
        Of the pad, along and across the eccentricity. [m]
    eccentricity : float
        Of the load from the middle. [m]

    Returns
    -------
    pressure : Pressure
        Within the middle third :math:`P/(BL)(1 \pm 6e/L)`; beyond it the pad lifts at the
        far edge, is in contact over :math:`3(L/2 - e)` and bears twice the mean of that;
        without bound where the load stands on or beyond the edge.

    Raises
    ------
    ValueError
        If sizes or load are not positive, or the eccentricity is not a number.
    """
    if not (load > 0 and length > 0 and breadth > 0 and np.isfinite(eccentricity)):
        raise ValueError(
            f"load and sizes must be positive, got {load} N on {length} by {breadth} m, "
            f"{eccentricity} m off"
        )
    off = abs(eccentricity)
    mean = load / (length * breadth)
    if off <= length / 6:
        turn = 6 * off / length
        return Pressure(most=mean * (1 + turn), least=mean * (1 - turn), contact=length)
    contact = 3 * (length / 2 - off)
    if not contact > 0:
        return Pressure(most=np.inf, least=0.0, contact=0.0)
    return Pressure(most=2 * load / (breadth * contact), least=0.0, contact=contact)


def spread_length(bearing: float, thickness: float, length: float) -> float:
    """Length over which a pad passes on what bears on part of it.

    Parameters
    ----------
    bearing : float
        Length that bears on the pad. [m]
    thickness, length : float
        Of the pad. [m]

    Returns
    -------
    spread : float
        By 45 degrees to either side, no longer than the pad. [m]
    """
    return min(length, bearing + 2 * thickness)


def rectangle(start: Floats, end: Floats, breadth: float) -> Floats:
    """Corners of a straight piece seen from above.

    Parameters
    ----------
    start, end : (2,) float
        Ends of its middle line. [m]
    breadth : float
        Across it. [m]

    Returns
    -------
    corners : (4, 2) float
        Anticlockwise. [m]

    Raises
    ------
    ValueError
        If the ends are not apart.
    """
    along = end - start
    length = float(np.linalg.norm(along))
    if not length > 0:
        raise ValueError(f"a piece needs two ends apart, got {start} and {end}")
    side = np.array([-along[1], along[0]]) / length * breadth / 2
    return np.array([start - side, end - side, end + side, start + side])


def polygon_area(corners: Floats) -> float:
    """Area of a polygon, anticlockwise positive. [m^2]"""
    if len(corners) < 3:
        return 0.0
    x, y = corners[:, 0], corners[:, 1]
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2


def overlap(first: Floats, second: Floats) -> Floats:
    """What two convex polygons share.

    Parameters
    ----------
    first, second : (n, 2) float
        Corners, anticlockwise. [m]

    Returns
    -------
    shared : (k, 2) float
        Corners, anticlockwise; none where they share nothing. [m]
    """
    shared = [np.asarray(corner, dtype=float) for corner in first]
    for a, b in zip(second, np.roll(second, -1, axis=0), strict=True):
        kept: list[Floats] = []
        inside = [_left_of(a, b, each) for each in shared]
        for n, corner in enumerate(shared):
            before, was = shared[n - 1], inside[n - 1]
            if (was >= 0) != (inside[n] >= 0):
                kept.append(before + (corner - before) * was / (was - inside[n]))
            if inside[n] >= 0:
                kept.append(corner)
        shared = kept
        if not shared:
            break
    return np.array(shared).reshape(-1, 2)


def _left_of(a: Floats, b: Floats, point: Floats) -> float:
    side = (b[0] - a[0]) * (point[1] - a[1]) - (b[1] - a[1]) * (point[0] - a[0])
    return float(side)


def shared_area(foot: Floats, beams: list[Floats]) -> float:
    """Area of a foot that lies on beams which may cross each other.

    Parameters
    ----------
    foot : (n, 2) float
        Corners of the foot, anticlockwise. [m]
    beams : list of (m, 2) float
        Corners of each beam, anticlockwise; at most six. [m]

    Returns
    -------
    area : float
        What is borne once, however many beams lie under it. [m^2]

    Raises
    ------
    ValueError
        If more beams are given.
    """
    if len(beams) > 6:
        raise ValueError(f"at most six beams under one foot, got {len(beams)}")
    total = 0.0
    for count in range(1, len(beams) + 1):
        for some in combinations(beams, count):
            shared = foot
            for beam in some:
                shared = overlap(shared, beam)
                if not len(shared):
                    break
            total += (-1) ** (count + 1) * polygon_area(shared)
    return total


def across_area(shared: Floats, grain: Floats, ends: tuple[float, float]) -> float:
    """Area that bears across the grain of a beam, with the wood beside it that helps.

    Parameters
    ----------
    shared : (k, 2) float
        Where the foot lies on the beam. [m]
    grain : (2,) float
        Unit vector along the beam.
    ends : tuple of float
        Where the beam begins and ends along that vector. [m]

    Returns
    -------
    area : float
        With up to 30 mm more on either side along the grain, no more than the contact is
        long nor than the beam goes on: EN 1995-1-1, 6.1.5. [m^2]
    """
    area = polygon_area(shared)
    if not area > 0:
        return 0.0
    along = shared @ grain
    low, high = float(along.min()), float(along.max())
    length = high - low
    more = sum(max(0.0, min(0.030, length, room)) for room in (low - ends[0], ends[1] - high))
    return area * (1 + more / length)
