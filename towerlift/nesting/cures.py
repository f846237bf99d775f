"""What paring a piece or moving the plumb line would buy, measured by the engine."""

from math import ceil

import numpy as np

from towerlift.gaps import least_gap
from towerlift.nesting.margins import Cure, Margin
from towerlift.nesting.pairs import SHAFT, Pair, only, proven

EPS = 1e-4
STEP = 0.05
# What a hand can cut and a tape can set.
SMALLEST_CUT = 0.005

_TOWARDS = {
    "north": (0.0, 1.0),
    "south": (0.0, -1.0),
    "east": (1.0, 0.0),
    "west": (-1.0, 0.0),
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
    rest, next_label = _without(pair, margin)
    pared = margin.gap + pare
    toward = _TOWARDS[margin.face]
    shift = (-pare * toward[0], -pare * toward[1])
    return Cure(
        pare=pare,
        gap_with_pared=pared if rest is None else min(pared, rest),
        next_label=next_label if rest is not None and rest < pared else "",
        shift=shift,
        gap_when_shifted=_shifted(pair, shift) if pair.against == SHAFT else None,
    )


def _without(pair: Pair, margin: Margin) -> tuple[float | None, str]:
    """Least gap of everything but the piece, and the piece that is then nearest."""
    moving = pair.moving_assembly
    member = moving.labels.index(margin.label)
    others = np.setdiff1d(np.unique(moving.members), [member])
    if not len(others):
        return None, ""
    body = only(moving, others)
    meant = pair.meant[np.isin(pair.meant[:, 0], body.member_ids)]
    if len(meant) == len(others) * len(pair.other_assembly.labels):
        return None, ""
    path = pair.path(*pair.travel, STEP)
    gap = least_gap(body, pair.other_body, path, eps=EPS, skip_pairs=meant)
    return proven(gap), moving.labels[gap.moving_member].within(pair.moving)


def _shifted(pair: Pair, shift: tuple[float, float]) -> float | None:
    path = pair.path(*pair.travel, STEP, shift=shift)
    gap = least_gap(pair.moving_body, pair.other_body, path, eps=EPS, skip_pairs=pair.meant)
    return proven(gap)
