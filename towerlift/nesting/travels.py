"""When each section moves, with what must be left at every height of it meanwhile."""

from collections.abc import Mapping

import numpy as np

from towerlift.nesting.budget import FreeHangCurve
from towerlift.nesting.curves import Floats
from towerlift.nesting.faces import Travel
from towerlift.nesting.needs import Allowed, play_between
from towerlift.nesting.pairs import SHAFT, Pair, Workshop

CHUNK = 0.5


def section_travels(
    shop: Workshop,
    section: str,
    edges: Floats,
    *,
    running: float,
    free: Mapping[int, FreeHangCurve],
) -> tuple[Travel, ...]:
    """Every passage in which a section moves, with play, tilt and sway.

    Parameters
    ----------
    shop : Workshop
        Plan, shapes and raise.
    section : str
        Which section.
    edges : (n + 1,) float
        Bands of its height. [m]
    running : float
        Running clearance to be left. [m]
    free : mapping of int to FreeHangCurve
        How sections on free lines hang, by passage.

    Returns
    -------
    travels : tuple of Travel
        In the order of the raise.
    """
    allowed = Allowed(running=running, free=free)
    found = []
    for passage in shop.raise_.moving_passages:
        if section not in passage.moving:
            continue
        pair = Pair(shop=shop, passage=passage, moving=section, against=SHAFT)
        low, high = pair.travel
        if high > low:
            found.append(_travel(pair, allowed, edges))
    return tuple(found)


def _travel(pair: Pair, allowed: Allowed, edges: Floats) -> Travel:
    passage = pair.passage
    low, high = pair.travel
    heels = np.linspace(low, high, max(1, int(np.ceil((high - low) / CHUNK - 1e-9))) + 1)
    hauled = passage.standing[passage.moving[0]].heel_from
    offset = passage.standing[pair.moving].heel_from - hauled
    play, shift, unknown = [], [], ""
    for start, end in zip(heels[:-1].tolist(), heels[1:].tolist(), strict=True):
        found = play_between(pair, allowed, start, end)
        unknown = unknown or found.unknown
        play.append(found.running)
        moved = np.array([sum(found.shift(float(s) + offset)) for s in edges])
        # Tilt and sway are convex in height, so the worse edge is the worst of a band.
        shift.append(np.maximum(moved[:-1], moved[1:]))
    return Travel(
        stage=passage.stage,
        passage=passage.index,
        heels=heels,
        play=np.array(play),
        shift=np.array(shift),
        unknown=unknown,
    )
