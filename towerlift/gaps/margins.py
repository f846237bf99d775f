"""Margins of a moving part from all that comes near it, by direction."""

# ruff: noqa: PLR0912, PLR0913, PLR0915, PLR0917
# A kernel takes rows and scalars: records of them would be copied in the inner loop.

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps.cache import inlined, kernel
from towerlift.gaps.search import node_reach
from towerlift.gaps.stretch import Spans, stretch_gap2
from towerlift.gaps.tree import TreeArrays

Array = NDArray[np.float64]
Singles = NDArray[np.float32]

# Margins are kept this much smaller than found, so that what is hardly nearer
# need not be looked at.
GRAIN = 2e-4
# Nodes and stretches no thicker than this along a direction, all together, are put to it
# as a whole: no margin is lost by more.
THIN = 5e-4


@inlined
def _margin(
    boxes: Singles,
    facings: Singles,
    a: int,
    fixed: Singles,
    walls: Singles,
    b: int,
    q: int,
    turn_mid: Array,
    turn_half: Array,
    shift_mid: Array,
    shift_half: Array,
    along: Array,
    d: int,
) -> tuple[float, float, float, float]:
    """Margin of node a from fixed node b along direction d, in stretch q.

    Least reach of b less greatest of a; then how thick a and b are that way, and how far
    a moves that way within the stretch.
    """
    x, y, z = along[d, 0], along[d, 1], along[d, 2]
    near, high = node_reach(
        boxes,
        facings,
        a,
        turn_mid[q, 0, 0] * x + turn_mid[q, 1, 0] * y + turn_mid[q, 2, 0] * z,
        turn_mid[q, 0, 1] * x + turn_mid[q, 1, 1] * y + turn_mid[q, 2, 1] * z,
        turn_mid[q, 0, 2] * x + turn_mid[q, 1, 2] * y + turn_mid[q, 2, 2] * z,
    )
    fx = max(abs(boxes[a, 0]), abs(boxes[a, 3]))
    fy = max(abs(boxes[a, 1]), abs(boxes[a, 4]))
    fz = max(abs(boxes[a, 2]), abs(boxes[a, 5]))
    middle = spread = 0.0
    for c in range(3):
        middle += along[d, c] * shift_mid[q, c]
        spread += abs(along[d, c]) * (
            turn_half[q, c, 0] * fx
            + turn_half[q, c, 1] * fy
            + turn_half[q, c, 2] * fz
            + shift_half[q, c]
        )
    low, far = node_reach(fixed, walls, b, x, y, z)
    return low - (high + middle + spread), high - near, far - low, 2.0 * spread


@kernel
def _keep_pair(
    moving: Array,
    i: int,
    fixed: Array,
    j: int,
    q: int,
    turn_mid: Array,
    turn_half: Array,
    shift_mid: Array,
    shift_half: Array,
    along: Array,
    reach2: float,
    best: Array,
) -> None:
    """Put one pair of pieces to the direction of its widest margin, if within reach."""
    low, high = np.empty(3), np.empty(3)
    spread = np.empty(3)
    for c in range(3):
        spread[c] = shift_half[q, c]
        low[c], high[c] = np.inf, -np.inf
    for c in range(3):
        far = 0.0
        for k in range(3):
            x, y, z = moving[i, 3 * k], moving[i, 3 * k + 1], moving[i, 3 * k + 2]
            at = turn_mid[q, c, 0] * x + turn_mid[q, c, 1] * y + turn_mid[q, c, 2] * z
            at += shift_mid[q, c]
            low[c], high[c] = min(low[c], at), max(high[c], at)
            far = max(
                far,
                turn_half[q, c, 0] * abs(x)
                + turn_half[q, c, 1] * abs(y)
                + turn_half[q, c, 2] * abs(z),
            )
        spread[c] += far
    gap2 = 0.0
    for c in range(3):
        p, r, s = fixed[j, c], fixed[j, 3 + c], fixed[j, 6 + c]
        away = max(low[c] - spread[c] - max(p, r, s), min(p, r, s) - high[c] - spread[c])
        if away > 0.0:
            gap2 += away * away
    if gap2 >= reach2:
        return
    widest, way = -np.inf, 0
    for d in range(along.shape[0]):
        near, out = np.inf, -np.inf
        for k in range(3):
            reach = moved = 0.0
            for c in range(3):
                reach += along[d, c] * fixed[j, 3 * k + c]
                at = (
                    turn_mid[q, c, 0] * moving[i, 3 * k]
                    + turn_mid[q, c, 1] * moving[i, 3 * k + 1]
                    + turn_mid[q, c, 2] * moving[i, 3 * k + 2]
                    + shift_mid[q, c]
                )
                moved += along[d, c] * at
            near, out = min(near, reach), max(out, moved)
        margin = near - out
        for c in range(3):
            margin -= abs(along[d, c]) * spread[c]
        if margin >= best[d]:
            return
        if margin > widest:
            widest, way = margin, d
    best[way] = min(best[way], widest - GRAIN)


@kernel
def search_margin(
    moving: TreeArrays,
    fixed: TreeArrays,
    spans: Spans,
    roots: tuple[int, int],
    along: Array,
    reach: float,
    entries: int,
    best: Array,
) -> bool:
    """Lower best[d] until every pair that comes within reach has its margin.

    Moving node roots[0] in stretch roots[1]. On return every pair of points
    nearer than `reach` at any time in the stretch has, along at least one
    direction d, a margin of at least best[d]. A triple is left aside if its
    boxes are farther apart than the reach, or if its margin along some
    direction is not below what is kept for that direction already. One that is thin
    along the direction of its widest margin is put to that as a whole: on a straight
    path most are, long before they are single pieces in single steps. Returns whether
    nothing was dropped.
    """
    leaves = spans.smear.size // 2
    turn_mid, turn_half = spans.turn_mid, spans.turn_half
    shift_mid, shift_half = spans.shift_mid, spans.shift_half
    stack = np.empty((entries, 3), np.int32)
    stack[0, 0], stack[0, 1], stack[0, 2] = roots[0], 0, roots[1]
    top = 1
    reach2 = reach * reach
    while top > 0:
        top -= 1
        a, b, q = stack[top, 0], stack[top, 1], stack[top, 2]
        gap2 = stretch_gap2(
            moving.boxes, a, fixed.boxes, b, q, turn_mid, turn_half, shift_mid, shift_half
        )
        if gap2 >= reach2:
            continue
        covered, widest, way = False, -np.inf, 0
        thick_a = thick_b = moved = 0.0
        for d in range(along.shape[0]):
            margin, of_a, of_b, of_q = _margin(
                moving.boxes,
                moving.walls,
                a,
                fixed.boxes,
                fixed.walls,
                b,
                q,
                turn_mid,
                turn_half,
                shift_mid,
                shift_half,
                along,
                d,
            )
            if margin >= best[d]:
                covered = True
                break
            if margin > widest:
                widest, way, thick_a, thick_b, moved = margin, d, of_a, of_b, of_q
        if covered:
            continue
        if thick_a + thick_b + moved <= THIN:
            best[way] = min(best[way], widest - GRAIN)
            continue
        left_a, left_b = moving.child[a], fixed.child[b]
        # What is thickest that way is halved; what is a hair thick and no leaf, at last.
        size_a = thick_a if left_a > 0 else -1.0
        size_b = thick_b if left_b > 0 else -1.0
        size_q = moved if q < leaves else -1.0
        if size_a < 0.0 and size_b < 0.0 and size_q <= THIN:
            for i in range(moving.first[a], moving.first[a] + moving.size[a]):
                for j in range(fixed.first[b], fixed.first[b] + fixed.size[b]):
                    _keep_pair(
                        moving.triangles,
                        i,
                        fixed.triangles,
                        j,
                        q,
                        turn_mid,
                        turn_half,
                        shift_mid,
                        shift_half,
                        along,
                        reach2,
                        best,
                    )
            continue
        if top + 2 > entries:
            return False
        for side in range(1, -1, -1):
            a1, b1, q1 = a, b, q
            if size_q >= size_a and size_q >= size_b:
                q1 = 2 * q + side
                if spans.smear[q1] < 0.0:
                    continue
            elif size_a >= size_b:
                a1 = left_a + side
            else:
                b1 = left_b + side
            stack[top, 0], stack[top, 1], stack[top, 2] = a1, b1, q1
            top += 1
    return True
