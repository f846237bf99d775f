"""How far a body reaches from its axis at every height."""

import numpy as np

from towerlift.shapes.solids import Floats, Solid

REACH_COLUMNS = ("north", "east", "south", "west")
"""Faces in the order of the columns of `half_widths`."""


def half_widths(solid: Solid, heights: Floats) -> Floats:
    """Farthest reach from the axis towards each face, band by band of height.

    Parameters
    ----------
    solid : Solid
        Its axis is x = y = 0.
    heights : (n + 1,) float
        Edges of the bands, rising. [m]

    Returns
    -------
    reach : (n, 4) float
        Towards north, east, south and west within each band, both of its edges
        included; NaN where the body has nothing in the band. [m]

    Raises
    ------
    ValueError
        If there are not at least two heights, or they do not rise.

    Notes
    -----
    Exact for triangles: what is left of one between two heights has its corners at
    its own corners and where its edges pass the heights, and a reach is greatest at
    a corner.
    """
    if not (heights.ndim == 1 and len(heights) > 1 and np.all(np.diff(heights) > 0)):
        raise ValueError(f"heights must rise and be two or more, got {heights}")
    directed = solid.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    edges = np.unique(np.sort(directed, axis=1), axis=0)
    points = np.concatenate(
        [
            solid.vertices[np.unique(solid.faces)],
            _passing(solid.vertices[edges[:, 0]], solid.vertices[edges[:, 1]], heights),
        ]
    )
    n_bands = len(heights) - 1
    reach = np.full((n_bands, 4), -np.inf)
    outward = np.column_stack([points[:, 1], points[:, 0], -points[:, 1], -points[:, 0]])
    for side in ("left", "right"):
        # A point on the edge of two bands belongs to both.
        band = np.searchsorted(heights, points[:, 2], side=side) - 1
        inside = (band >= 0) & (band < n_bands)
        for face in range(4):
            np.maximum.at(reach[:, face], band[inside], outward[inside, face])
    reach[np.isneginf(reach)] = np.nan
    return reach


def _passing(starts: Floats, ends: Floats, heights: Floats) -> Floats:
    """Points at which edges pass the heights, one row for each edge and height."""
    low = np.minimum(starts[:, 2], ends[:, 2])
    high = np.maximum(starts[:, 2], ends[:, 2])
    first = np.searchsorted(heights, low, side="right")
    counts = np.searchsorted(heights, high, side="left") - first
    counts = np.maximum(counts, 0)
    edge = np.repeat(np.arange(len(starts)), counts)
    nth = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    height = heights[np.repeat(first, counts) + nth]
    share = (height - starts[edge, 2]) / (ends[edge, 2] - starts[edge, 2])
    points: Floats = starts[edge] + share[:, None] * (ends[edge] - starts[edge])
    points[:, 2] = height
    return points
