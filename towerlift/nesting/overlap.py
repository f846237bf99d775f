"""How deep two pieces overlap while one rises past the other, exactly for square timber."""

from itertools import combinations

import numpy as np

from towerlift.nesting.curves import Floats

# Pieces with more faces than this are not crossed edge by edge: fewer directions can
# only make an overlap look deeper.
MOST_FACES = 12
SAME = 1e-9


def least_separation(
    piece: Floats, other: Floats, rise: Floats, reach: tuple[float, float]
) -> tuple[float, float]:
    """Least separation of two convex pieces while one is shifted along a line.

    Parameters
    ----------
    piece, other : (n, 3, 3) float
        Triangles of either; taken as their convex hulls. [m]
    rise : (3,) float
        Shift of `piece` for each unit of the parameter.
    reach : tuple of float
        Least and greatest value of the parameter. [m]

    Returns
    -------
    separation : float
        Negative: minus the length of the least shift that parts them where they overlap
        most. Not negative: they never overlap, and are at least this far apart. [m]
    at : float
        Parameter at which it occurs. [m]

    Notes
    -----
    The separating-axis theorem: along each face normal, and each cross product of two
    edges, the separation is the gap between two shadows, linear in the shift. Their
    greatest is convex in the shift, so that its least is at an end or where two cross.
    Exact for hulls of up to `MOST_FACES` faces; else the overlap is not understated.
    """
    axes = _axes(piece, other)
    points, fixed = piece.reshape(-1, 3), other.reshape(-1, 3)
    gaps = (fixed @ axes.T).min(axis=0) - (points @ axes.T).max(axis=0)
    slopes = -(axes @ rise)
    places = np.append(_crossings(gaps, slopes), reach)
    places = np.unique(np.clip(places, *reach))
    greatest = (gaps[:, None] + slopes[:, None] * places).max(axis=0)
    best = int(np.argmin(greatest))
    return float(greatest[best]), float(places[best])


def _crossings(gaps: Floats, slopes: Floats) -> Floats:
    pairs = np.array(list(combinations(range(len(gaps)), 2)))
    steeper = slopes[pairs[:, 0]] - slopes[pairs[:, 1]]
    meet = np.abs(steeper) > SAME
    places: Floats = (gaps[pairs[:, 1]] - gaps[pairs[:, 0]])[meet] / steeper[meet]
    return places


def _axes(piece: Floats, other: Floats) -> Floats:
    """Unit directions, both ways round, along which the pieces may be parted."""
    normals = [
        _directions(np.cross(t[:, 1] - t[:, 0], t[:, 2] - t[:, 0])) for t in (piece, other)
    ]
    found = [*normals]
    if all(2 * len(each) <= MOST_FACES for each in normals):
        edges = [
            _directions((np.roll(t, -1, axis=1) - t).reshape(-1, 3)) for t in (piece, other)
        ]
        crossed = np.cross(edges[0][:, None], edges[1][None]).reshape(-1, 3)
        found.append(_directions(crossed))
    one_way = np.concatenate(found)
    return np.concatenate([one_way, -one_way])


def _directions(vectors: Floats) -> Floats:
    """Unit vectors, each line of action once."""
    sizes = np.linalg.norm(vectors, axis=1)
    units = vectors[sizes > SAME] / sizes[sizes > SAME, None]
    # The first part that is not nothing is made positive.
    lead = np.argmax(np.abs(units) > 1e-6, axis=1)
    signs = np.sign(units[np.arange(len(units)), lead])
    _, first = np.unique(np.round(units * signs[:, None], 7), axis=0, return_index=True)
    kept: Floats = units[first]
    return kept
