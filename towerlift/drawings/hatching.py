"""Lines of a pattern, cut off at the edges of an area."""

from collections.abc import Sequence
from math import ceil, cos, floor, sin

import numpy as np

from towerlift.drawings.drawing import Place


def hatch_lines(
    rings: Sequence[Sequence[Place]], turn: float, spacing: float
) -> list[tuple[Place, Place]]:
    """Parallel lines within an area.

    Parameters
    ----------
    rings : sequence of sequence of (float, float)
        Closed outlines; what an odd number of them encloses is filled.
    turn : float
        Direction of the lines, from level. [rad]
    spacing : float
        Between two lines, in the unit of the rings.

    Returns
    -------
    lines : list of (Place, Place)
        In one lattice through the origin, so that neighbouring areas match.
    """
    c, s = cos(turn), sin(turn)
    # Turned so that the lines are level: u along them, v across.
    turned = [
        np.array([(x * c + y * s, -x * s + y * c) for x, y in ring], dtype=np.float64)
        for ring in rings
    ]
    starts = np.concatenate(turned)
    ends = np.concatenate([np.roll(ring, -1, axis=0) for ring in turned])
    low, high = float(starts[:, 1].min()), float(starts[:, 1].max())
    lines = []
    for n in range(ceil(low / spacing), floor(high / spacing) + 1):
        v = n * spacing
        # Half-open, so that a corner on the line counts once.
        met = (starts[:, 1] <= v) != (ends[:, 1] <= v)
        a, b = starts[met], ends[met]
        us = np.sort(a[:, 0] + (v - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0]))
        lines += [
            ((u0 * c - v * s, u0 * s + v * c), (u1 * c - v * s, u1 * s + v * c))
            for u0, u1 in zip(us[::2].tolist(), us[1::2].tolist(), strict=False)
            if u1 > u0
        ]
    return lines
