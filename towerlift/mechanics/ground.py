"""Circles, falls and sectors on the ground, seen from above."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def distance_to_run(point: Floats, start: Floats, end: Floats) -> float:
    """Distance of a point from a straight run of rope. [m]

    Parameters
    ----------
    point, start, end : (2,) float
        Seen from above. [m]

    Returns
    -------
    distance : float
        To the nearest place of the run, its ends included.
    """
    along = end - start
    length = float(along @ along)
    share = 0.0 if length == 0 else float(np.clip((point - start) @ along / length, 0.0, 1.0))
    return float(np.linalg.norm(point - start - share * along))


def distance_to_sector(
    point: Floats, apex: Floats, towards: Floats, half_angle: float
) -> float:
    """Distance of a point from a sector without end; below nothing inside it.

    Parameters
    ----------
    point, apex : (2,) float
        Seen from above. [m]
    towards : (2,) float
        Along the middle of the sector.
    half_angle : float
        On each side of it, below a right angle. [rad]

    Returns
    -------
    distance : float
        To the nearest edge; minus that distance inside. [m]

    Raises
    ------
    ValueError
        If the direction has no length or the angle is not below a right angle.
    """
    length = float(np.linalg.norm(towards))
    if not (length > 0 and 0 < half_angle < np.pi / 2):
        raise ValueError(f"sector needs a way and an angle, got {towards}, {half_angle} rad")
    ahead = towards / length
    away = point - apex
    along = float(away @ ahead)
    aside = abs(float(ahead[0] * away[1] - ahead[1] * away[0]))
    off_edge = aside * np.cos(half_angle) - along * np.sin(half_angle)
    beside = along * np.cos(half_angle) + aside * np.sin(half_angle)
    if off_edge > 0 and beside < 0:
        return float(np.linalg.norm(away))
    return float(off_edge)


def distance_to_box(point: Floats, low: Floats, high: Floats) -> float:
    """Distance of a point from an upright box; below nothing inside it. [m]

    Parameters
    ----------
    point, low, high : (2,) float
        Seen from above. [m]

    Returns
    -------
    distance : float
        To the nearest side; minus that distance inside.
    """
    out = np.maximum(low - point, point - high)
    if np.all(out <= 0):
        return float(out.max())
    return float(np.linalg.norm(np.maximum(out, 0.0)))


def runs_cross(first: tuple[Floats, Floats], second: tuple[Floats, Floats]) -> bool:
    """Whether two straight runs of rope cross, seen from above.

    Parameters
    ----------
    first, second : tuple of (2,) float
        Ends of each. [m]

    Returns
    -------
    cross : bool
        Not where they only meet at an end.
    """

    def side(run: tuple[Floats, Floats], point: Floats) -> float:
        along, to = run[1] - run[0], point - run[0]
        return float(along[0] * to[1] - along[1] * to[0])

    return (
        side(first, second[0]) * side(first, second[1]) < 0
        and side(second, first[0]) * side(second, first[1]) < 0
    )


def turning_load(run: tuple[Floats, Floats, Floats], pull: float) -> Floats:
    """Load of a rope on the block that turns it.

    Parameters
    ----------
    run : three (3,) float
        Where the rope comes from, the block, and where it goes. [m]
    pull : float
        In the rope, taken alike on both sides. [N]

    Returns
    -------
    load : (3,) float
        Force on the block. [N]

    Raises
    ------
    ValueError
        If the block has no distance from where the rope comes or goes.
    """
    before, at, after = run
    ways = np.array([before, after]) - at
    lengths = np.linalg.norm(ways, axis=1, keepdims=True)
    if not np.all(lengths > 0):
        raise ValueError(f"block at {at} has no distance from where its rope comes or goes")
    load: Floats = pull * (ways / lengths).sum(axis=0)
    return load
