"""How far a section stands out of its drawing, for the budget of every gap of it.

The trial assembly is not drawn again piece by piece: what it found to stand farther out
is asked for as clearance on every side, which is never too little.
"""

from math import sqrt

import numpy as np

from towerlift.plan.bodies import Section


def built_outward(section: Section, heights: tuple[float, float] | None = None) -> float:
    """Most that any part of a section stands out of its drawing between two heights.

    Parameters
    ----------
    section : Section
        Its trial assembly, rows joined linearly; beyond the first and the last it stays
        as there.
    heights : tuple of float or None
        Heights s, None for the whole section. [m]

    Returns
    -------
    outward : float
        The worst face, with what twist and unequal diagonals bring out at a corner; 0
        where nothing was measured or it all stands farther in. A side that faces
        inward may stand out by as much as its outer one stands in, so for the whole
        section the size of every offset counts. [m]

    Notes
    -----
    A twist t brings a corner of half width a out by a t, and diagonals that differ by d
    bring it out by d / (4 sqrt(2)), on any face.
    """
    rows = section.as_built
    if not rows:
        return 0.0
    known = np.array([row.s for row in rows])
    ends = (known[0], known[-1]) if heights is None else heights
    inside = known[(known > ends[0]) & (known < ends[1])]
    levels = np.concatenate([[ends[0]], inside, [ends[1]]])
    half = max(
        (
            abs(value) + 0.5 * max(member.breadth, member.depth)
            for member in section.members
            for end in (member.start, member.end)
            for value in end[:2]
        ),
        default=0.5 * section.length,
    )
    table = np.array([(r.north, r.east, r.south, r.west, r.diagonals, r.twist) for r in rows])
    at = np.column_stack([np.interp(levels, known, column) for column in table.T])
    offsets = at[:, :4].max(axis=1) if heights else np.abs(at[:, :4]).max(axis=1)
    turned = half * np.abs(at[:, 5]) + np.abs(at[:, 4]) / (4.0 * sqrt(2.0))
    return max(0.0, float((offsets + turned).max()))
