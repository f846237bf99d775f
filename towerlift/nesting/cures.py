"""What paring a piece or moving the plumb line would buy, measured by the engine."""

from math import ceil

import numpy as np

from towerlift.gaps import Body, build_body, least_gap
from towerlift.nesting.curves import Floats
from towerlift.nesting.margins import Cure, Margin
from towerlift.nesting.pairs import SHAFT, Pair, only, proven
from towerlift.nesting.parts import least_of, lots_of, standing_part
from towerlift.nesting.slabs import cut_at_heights

EPS = 1e-4
STEP = 0.05
# What a hand can cut and a tape can set.
SMALLEST_CUT = 0.005

_TOWARDS = {
    "north": (0.0, 1.0, 0.0),
    "south": (0.0, -1.0, 0.0),
    "east": (1.0, 0.0, 0.0),
    "west": (-1.0, 0.0, 0.0),
}


def find_cure(pair: Pair, margin: Margin) -> Cure | None:
    """What would cure a gap that falls short.

    Parameters
    ----------
    pair : Pair
        What moves past what.
    margin : Margin
        Its spare is negative.

    Returns
    -------
    cure : Cure or None
        None where the gap is upright or unknown: heights cure that, not paring.
    """
    if margin.spare is None or margin.gap is None or margin.face not in _TOWARDS:
        return None
    pare = SMALLEST_CUT * ceil(-margin.spare / SMALLEST_CUT - 1e-9)
    toward = np.array(_TOWARDS[margin.face])
    east, north, _ = (-pare * toward).tolist()
    gap, next_label = _when_pared(pair, margin, toward, pare)
    return Cure(
        pare=pare,
        gap_with_pared=gap,
        next_label=next_label,
        shift=(east, north),
        gap_when_shifted=_shifted(pair, (east, north)) if pair.against == SHAFT else None,
    )


def _when_pared(
    pair: Pair, margin: Margin, toward: Floats, pare: float
) -> tuple[float | None, str]:
    """Least gap once the piece is pared; the piece that is then nearest, if another."""
    moving = pair.moving_assembly
    member = moving.labels.index(margin.label)
    piece = pared(pair, member, toward, pare)
    path = pair.path(*pair.travel, STEP)
    found = [least_of(pair, path, without=member)]
    found += [
        least_gap(piece, standing_part(pair, lot), path, eps=EPS)
        for lot in lots_of(pair)
        if member in lot.moving
    ]
    nearest: tuple[float, int] = (np.inf, member)
    for each in found:
        if each is None:
            continue
        gap = proven(each)
        if gap is None:
            return None, ""
        nearest = min(nearest, (gap, each.moving_member))
    label = moving.labels[nearest[1]].within(pair.moving)
    return nearest[0], "" if nearest[1] == member else label


def pared(pair: Pair, member: int, toward: Floats, pare: float) -> Body:
    """A piece of the moving section with its side pared.

    Parameters
    ----------
    pair : Pair
        What moves past what.
    member : int
        Place of the piece in the labels of the moving section.
    toward : (3,) float
        Level direction of the side, shaft frame.
    pare : float
        How much comes off its farthest reach that way. [m]

    Returns
    -------
    body : Body
        What lay beyond is laid flat on the cut, so that the body is never smaller than
        the pared piece.
    """
    assembly = pair.moving_assembly
    rows = assembly.members == member
    out = pair.shop.raise_.shaft_from_section(0.0)[:3, :3].T @ toward
    turned = np.array([np.cross(out, (0.0, 0.0, 1.0)), (0.0, 0.0, 1.0), out])
    lying = assembly.vertices @ turned.T
    reach = lying[np.unique(assembly.faces[rows]), 2]
    low, high = float(reach.min()), float(reach.max())
    if not low < high - pare:
        return only(assembly, np.array([member]))
    faces = assembly.faces[rows]
    used, faces = np.unique(faces, return_inverse=True)
    cut = cut_at_heights(
        lying[used],
        faces.reshape(-1, 3).astype(np.int64),
        assembly.members[rows],
        np.array([low, high - pare, high]),
    )
    corners = cut.vertices.copy()
    corners[:, 2] = np.minimum(corners[:, 2], high - pare)
    return build_body(corners @ turned, cut.faces, cut.members)


def _shifted(pair: Pair, shift: tuple[float, float]) -> float | None:
    gap = least_of(pair, pair.path(*pair.travel, STEP, shift=shift))
    return None if gap is None else proven(gap)
