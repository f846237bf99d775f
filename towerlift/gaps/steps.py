"""Searching the steps of a path, one by one or a stretch of them together."""

# ruff: noqa: PLR0912, PLR0913, PLR0915, PLR0917
# A kernel takes rows and scalars: records of them would be copied in the inner loop.

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps.cache import inlined, kernel
from towerlift.gaps.nearest import CONTACT
from towerlift.gaps.path import Motion
from towerlift.gaps.runs import (
    ANY_NUMBER,
    StepRows,
    Work,
    make_work,
    move_run,
    run_box,
    run_boxes_gap2,
    run_slab,
    run_wall_gap,
    settle,
    step_swing,
    swept_gap,
    try_pair,
)
from towerlift.gaps.search import box_gap2, cut_at, facing_gap, is_skipped
from towerlift.gaps.stretch import DONE, GIVEN_UP, NO_CUT, Spans, change_cut, search_stretch
from towerlift.gaps.tree import WALL_SIZE, TreeArrays

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

# Steps searched together. Longer stretches smear the body more than the gap
# varies, shorter ones share less.
STRETCH = 16
SHORT_STRETCH = 4
# A step whose own search is this short is not worth searching with others.
SHORT_SEARCH = 48
# Share of the work of single steps that a stretch may spend before it is given
# up, and for how many stretches then none is tried: twice as many each time.
BUDGET = 0.5
MOST_REST = 16
# Around the last nearest pieces a step is first looked for among this many of
# each body, and no more than this share of them.
NEARBY = 1024
NEARBY_SHARE = 16


@inlined
def _faces_off(
    moving: TreeArrays,
    fixed: TreeArrays,
    motion: Motion,
    k: int,
    swing: float,
    a: int,
    b: int,
    cut2: float,
) -> bool:
    """Whether nodes a and b stay apart in step k along the way either of them faces."""
    if fixed.size[b] <= WALL_SIZE:
        slab = run_wall_gap(
            moving.boxes,
            moving.walls,
            a,
            motion.turns,
            motion.shifts,
            k,
            swing,
            fixed.walls,
            b,
        )
        if slab > 0.0 and slab * slab >= cut2:
            return True
    if moving.size[a] <= WALL_SIZE:
        slab = facing_gap(
            moving.walls,
            a,
            motion.turns,
            motion.shifts,
            k,
            k + 1,
            swing,
            fixed.boxes,
            fixed.walls,
            b,
        )
        if slab > 0.0 and slab * slab >= cut2:
            return True
    return False


@kernel
def _search_step(
    moving: TreeArrays,
    fixed: TreeArrays,
    motion: Motion,
    k: int,
    roots: tuple[int, int],
    most: int,
    eps: float,
    skip: Ints,
    work: Work,
    rows: StepRows,
) -> tuple[int, bool]:
    """Lower what is known of step k by all that lies below nodes `roots`.

    A pair of nodes is left aside only if boxes that hold the whole run of one
    and all of the other are no nearer than the least found so far less eps.
    Returns the number of pairs of nodes looked at, and whether nothing was
    dropped: it is False where that number reached `most`.
    """
    n_fixed = np.int64(1) << 32
    swing = step_swing(moving.boxes, motion.turns, k)
    least, proved = rows.chord[k], True
    pair, places = rows.pairs[k], rows.places[k]
    cut2 = cut_at(least, eps)
    run_box(moving.boxes, roots[0], motion.turns, motion.shifts, k, work.boxes)
    work.stack[0, 0], work.stack[0, 1], work.bounds[0] = roots[0], roots[1], 0.0
    top, visits = 1, 0
    while top > 0 and least > CONTACT:
        top -= 1
        if work.bounds[top] >= cut2:
            continue
        if visits >= most:
            return visits, False
        visits += 1
        a, b = work.stack[top, 0], work.stack[top, 1]
        bulk_a, bulk_b = moving.bulk[a], fixed.bulk[b]
        if bulk_a < 0.0 and bulk_b < 0.0:
            low, high = moving.first[a], moving.first[a] + moving.size[a]
            if work.known[a] != k:
                work.known[a] = k
                for i in range(low, high):
                    move_run(
                        moving.triangles,
                        i,
                        motion.turns,
                        motion.shifts,
                        k,
                        work.start,
                        work.end,
                    )
            for j in range(fixed.first[b], fixed.first[b] + fixed.size[b]):
                slab = run_wall_gap(
                    moving.boxes,
                    moving.walls,
                    a,
                    motion.turns,
                    motion.shifts,
                    k,
                    swing,
                    fixed.planes,
                    j,
                )
                if slab > 0.0 and slab * slab >= cut2:
                    continue
                for i in range(low, high):
                    slab = run_slab(work.start, work.end, i, fixed.planes, j)
                    if slab > 0.0 and slab * slab >= cut2:
                        continue
                    if run_boxes_gap2(work.start, work.end, i, fixed.triangles, j) >= cut2:
                        continue
                    if skip.size and is_skipped(
                        skip, moving.members[i] * n_fixed + fixed.members[j]
                    ):
                        continue
                    gap, share, whole = swept_gap(
                        work.start,
                        work.end,
                        i,
                        fixed.triangles,
                        j,
                        least,
                        eps,
                        work.probe,
                        work.trial,
                        work.spans,
                        places,
                    )
                    proved = proved and whole
                    if gap < least:
                        least = gap
                        rows.chord[k], rows.shares[k] = gap, share
                        pair[0], pair[1] = i, j
                        cut2 = cut_at(least, eps)
            continue
        if top + 2 > work.bounds.size:
            return visits, False
        a0, a1, b0, b1 = a, a, b, b
        if bulk_a >= bulk_b:
            a0 = moving.child[a]
            a1 = a0 + 1
            if work.known[a] != k:
                work.known[a] = k
                run_box(moving.boxes, a0, motion.turns, motion.shifts, k, work.boxes)
                run_box(moving.boxes, a1, motion.turns, motion.shifts, k, work.boxes)
        else:
            b0 = fixed.child[b]
            b1 = b0 + 1
        near = box_gap2(work.boxes, a0, fixed.boxes, b0)
        far = box_gap2(work.boxes, a1, fixed.boxes, b1)
        if far < near:
            a0, a1, b0, b1, near, far = a1, a0, b1, b0, far, near
        # The nearer goes on top, to bring the least down early.
        if far < cut2 and not _faces_off(moving, fixed, motion, k, swing, a1, b1, cut2):
            work.stack[top, 0], work.stack[top, 1], work.bounds[top] = a1, b1, far
            top += 1
        if near < cut2 and not _faces_off(moving, fixed, motion, k, swing, a0, b0, cut2):
            work.stack[top, 0], work.stack[top, 1], work.bounds[top] = a0, b0, near
            top += 1
    return visits, proved


@kernel
def _around(tree: TreeArrays, piece: int) -> int:
    """The largest node with `piece` that holds few enough to be looked at first."""
    most = min(NEARBY, max(1, tree.triangles.shape[0] // NEARBY_SHARE))
    node = 0
    while tree.child[node] > 0 and tree.size[node] > most:
        node = tree.child[node]
        if piece >= tree.first[node] + tree.size[node]:
            node += 1
    return node


@kernel
def _from_last(
    moving: TreeArrays,
    fixed: TreeArrays,
    motion: Motion,
    k: int,
    eps: float,
    work: Work,
    rows: StepRows,
) -> bool:
    """Try in step k the pair that was nearest in the step before."""
    if k == 0 or rows.pairs[k - 1, 0] < 0:
        return True
    i, j = rows.pairs[k - 1, 0], rows.pairs[k - 1, 1]
    return try_pair(moving, fixed, motion, k, i, j, eps, work, rows)


@kernel
def _whole_step(
    moving: TreeArrays,
    fixed: TreeArrays,
    motion: Motion,
    k: int,
    eps: float,
    skip: Ints,
    work: Work,
    rows: StepRows,
) -> int:
    """Search step k by itself; returns how many pairs of nodes were looked at."""
    before = _from_last(moving, fixed, motion, k, eps, work, rows)
    visits, proved = _search_step(
        moving, fixed, motion, k, (0, 0), ANY_NUMBER, eps, skip, work, rows
    )
    rows.proved[k] = before and proved
    return visits


@kernel
def _together(
    moving: TreeArrays,
    fixed: TreeArrays,
    motion: Motion,
    spans: Spans,
    span: tuple[int, int],
    node: int,
    eps: float,
    skip: Ints,
    work: Work,
    cuts: Array,
    rows: StepRows,
) -> bool:
    """Search steps span[0] up to span[1], those of stretch `node`; False if given up.

    The first step is searched by itself, which shows what a single step costs.
    In the others only the neighbourhood of the last pair is looked through, so
    that the search of all of them starts from a low bound in each.
    """
    low, high = span
    single = _whole_step(moving, fixed, motion, low, eps, skip, work, rows)
    if single <= SHORT_SEARCH or rows.pairs[low, 0] < 0:
        for k in range(low + 1, high):
            _whole_step(moving, fixed, motion, k, eps, skip, work, rows)
        return True
    left = int(BUDGET * single * (high - low - 1))
    for k in range(low + 1, high):
        _from_last(moving, fixed, motion, k, eps, work, rows)
        roots = (_around(moving, rows.pairs[k, 0]), _around(fixed, rows.pairs[k, 1]))
        visits, _ = _search_step(
            moving, fixed, motion, k, roots, single >> 2, eps, skip, work, rows
        )
        left -= visits
    for k in range(low + 1, high):
        rows.proved[k] = True
        change_cut(cuts, cuts.size // 2 + k, cut_at(rows.chord[k], eps))
    ended = search_stretch(
        moving,
        fixed,
        motion,
        spans,
        (0, 0, node),
        (eps, left),
        skip,
        work,
        cuts,
        rows,
        np.empty(0),
        np.empty(0, np.int64),
    )
    if ended != GIVEN_UP:
        for k in range(low + 1, high):
            rows.proved[k] = rows.proved[k] and ended == DONE
        return True
    # Nodes and pieces were moved to steps that are now looked at again.
    work.known[:] = -1
    for k in range(low + 1, high):
        _whole_step(moving, fixed, motion, k, eps, skip, work, rows)
    return False


@kernel
def search_steps(
    moving: TreeArrays,
    fixed: TreeArrays,
    motion: Motion,
    spans: Spans,
    span: tuple[int, int],
    eps: float,
    skip: Ints,
    entries: int,
    rows: StepRows,
) -> None:
    """Search steps span[0] up to span[1]; span[0] is the first of a stretch.

    Stretches are given up, for a while, where single steps are quicker: where
    the bodies come towards each other faster than the stretch is short.
    """
    work = make_work(moving.child.size, moving.triangles.shape[0], entries)
    steps = spans.smear.size // 2
    width = min(STRETCH, steps)
    cuts = np.full(2 * steps, NO_CUT)
    rest, next_rest = 0, 1
    for low in range(span[0], span[1], width):
        high = min(low + width, span[1])
        if rest > 0 or high - low < SHORT_STRETCH:
            rest -= 1
            for k in range(low, high):
                _whole_step(moving, fixed, motion, k, eps, skip, work, rows)
            continue
        node = (steps + low) // width
        if _together(
            moving, fixed, motion, spans, (low, high), node, eps, skip, work, cuts, rows
        ):
            next_rest = 1
        else:
            rest, next_rest = next_rest, min(2 * next_rest, MOST_REST)
    for k in range(span[0], span[1]):
        if rows.pairs[k, 0] >= 0:
            rows.upper[k] = settle(
                moving, fixed, motion, k, rows.shares[k], rows.pairs[k], rows.places[k]
            )
