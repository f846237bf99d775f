"""Searching the steps of a path, one by one or a stretch of them together."""

# ruff: noqa: PLR0912, PLR0913, PLR0915, PLR0917
# A kernel takes rows and scalars: records of them would be copied in the inner loop.

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps.cache import kernel
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
    settle,
    step_swing,
    swept_gap,
    try_pair,
)
from towerlift.gaps.search import (
    axes_apart,
    box_gap2,
    cut_at,
    faces_off,
    is_skipped,
    level_share,
    piece_faces_off,
    rings_off,
    wall_gap,
)
from towerlift.gaps.stretch import DONE, GIVEN_UP, NO_CUT, Spans, change_cut, search_stretch
from towerlift.gaps.tree import TreeArrays

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
    # Named once, as a tuple taken apart in the innermost steps costs more than they do.
    boxes_a, walls_a, radii_a, size_a = moving.boxes, moving.walls, moving.radii, moving.size
    boxes_b, walls_b, radii_b, size_b = fixed.boxes, fixed.walls, fixed.radii, fixed.size
    child_a, first_a, bulks_a = moving.child, moving.first, moving.bulk
    child_b, first_b, bulks_b = fixed.child, fixed.first, fixed.bulk
    pieces_a, pieces_b, planes_a, planes_b = (
        moving.triangles,
        fixed.triangles,
        moving.planes,
        fixed.planes,
    )
    boxes, start, end, known = work.boxes, work.start, work.end, work.known
    stack, bounds, probe, trial, halves = (
        work.stack,
        work.bounds,
        work.probe,
        work.trial,
        work.spans,
    )
    n_fixed = np.int64(1) << 32
    turns, shifts = motion.turns, motion.shifts
    swing = step_swing(boxes_a, turns, k)
    apart = max(
        axes_apart(moving, roots[0], fixed, turns, shifts, k),
        axes_apart(moving, roots[0], fixed, turns, shifts, k + 1),
    )
    level = level_share(fixed)
    least, proved = rows.chord[k], True
    pair, places = rows.pairs[k], rows.places[k]
    cut2 = cut_at(least, eps)
    run_box(boxes_a, roots[0], turns, shifts, k, boxes)
    stack[0, 0], stack[0, 1], bounds[0] = roots[0], roots[1], 0.0
    top, visits = 1, 0
    while top > 0 and least > CONTACT:
        top -= 1
        if bounds[top] >= cut2:
            continue
        if visits >= most:
            return visits, False
        visits += 1
        a, b = stack[top, 0], stack[top, 1]
        bulk_a, bulk_b = bulks_a[a], bulks_b[b]
        if bulk_a < 0.0 and bulk_b < 0.0:
            low, high = first_a[a], first_a[a] + size_a[a]
            if known[a] != k:
                known[a] = k
                for i in range(low, high):
                    move_run(
                        pieces_a,
                        i,
                        turns,
                        shifts,
                        k,
                        start,
                        end,
                    )
            for j in range(first_b[b], first_b[b] + size_b[b]):
                slab = wall_gap(
                    boxes_a,
                    walls_a,
                    a,
                    turns,
                    shifts,
                    k,
                    k + 1,
                    swing,
                    planes_b,
                    j,
                )
                if slab > 0.0 and slab * slab >= cut2:
                    continue
                for i in range(low, high):
                    slab = run_slab(start, end, i, planes_b, j)
                    if slab > 0.0 and slab * slab >= cut2:
                        continue
                    if run_boxes_gap2(start, end, i, pieces_b, j) >= cut2:
                        continue
                    if piece_faces_off(
                        planes_a,
                        i,
                        turns,
                        shifts,
                        k,
                        k + 1,
                        swing,
                        pieces_b,
                        j,
                        cut2,
                    ):
                        continue
                    if skip.size and is_skipped(
                        skip, moving.members[i] * n_fixed + fixed.members[j]
                    ):
                        continue
                    gap, share, whole = swept_gap(
                        start,
                        end,
                        i,
                        pieces_b,
                        j,
                        least,
                        eps,
                        probe,
                        trial,
                        halves,
                        places,
                    )
                    proved = proved and whole
                    if gap < least:
                        least = gap
                        rows.chord[k], rows.shares[k] = gap, share
                        pair[0], pair[1] = i, j
                        cut2 = cut_at(least, eps)
            continue
        if top + 2 > bounds.size:
            return visits, False
        a0, a1, b0, b1 = a, a, b, b
        if bulk_a >= bulk_b:
            a0 = child_a[a]
            a1 = a0 + 1
            if known[a] != k:
                known[a] = k
                run_box(boxes_a, a0, turns, shifts, k, boxes)
                run_box(boxes_a, a1, turns, shifts, k, boxes)
        else:
            b0 = child_b[b]
            b1 = b0 + 1
        near = box_gap2(boxes, a0, boxes_b, b0)
        far = box_gap2(boxes, a1, boxes_b, b1)
        if far < near:
            a0, a1, b0, b1, near, far = a1, a0, b1, b0, far, near
        # The nearer goes on top, to bring the least down early.
        if (
            far < cut2
            and not rings_off(radii_a, a1, radii_b, b1, apart, level, cut2)
            and not faces_off(
                boxes_a,
                walls_a,
                size_a,
                a1,
                turns,
                shifts,
                k,
                k + 1,
                swing,
                boxes_b,
                walls_b,
                size_b,
                b1,
                cut2,
            )
        ):
            stack[top, 0], stack[top, 1], bounds[top] = a1, b1, far
            top += 1
        if (
            near < cut2
            and not rings_off(radii_a, a0, radii_b, b0, apart, level, cut2)
            and not faces_off(
                boxes_a,
                walls_a,
                size_a,
                a0,
                turns,
                shifts,
                k,
                k + 1,
                swing,
                boxes_b,
                walls_b,
                size_b,
                b0,
                cut2,
            )
        ):
            stack[top, 0], stack[top, 1], bounds[top] = a0, b0, near
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
    first: int,
    eps: float,
    work: Work,
    rows: StepRows,
) -> bool:
    """Try in step k the pair that was nearest in the step before, if that is its own.

    Steps before `first` are another thread's, which may be half way through writing them.
    """
    if k <= first or rows.pairs[k - 1, 0] < 0:
        return True
    i, j = rows.pairs[k - 1, 0], rows.pairs[k - 1, 1]
    return try_pair(moving, fixed, motion, k, i, j, eps, work, rows)


@kernel
def _whole_step(
    moving: TreeArrays,
    fixed: TreeArrays,
    motion: Motion,
    k: int,
    first: int,
    eps: float,
    skip: Ints,
    work: Work,
    rows: StepRows,
) -> int:
    """Search step k by itself; returns how many pairs of nodes were looked at.

    `first` is the first step that this thread searches.
    """
    before = _from_last(moving, fixed, motion, k, first, eps, work, rows)
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
    first: int,
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
    single = _whole_step(moving, fixed, motion, low, first, eps, skip, work, rows)
    if single <= SHORT_SEARCH or rows.pairs[low, 0] < 0:
        for k in range(low + 1, high):
            _whole_step(moving, fixed, motion, k, first, eps, skip, work, rows)
        return True
    left = int(BUDGET * single * (high - low - 1))
    for k in range(low + 1, high):
        _from_last(moving, fixed, motion, k, first, eps, work, rows)
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
        _whole_step(moving, fixed, motion, k, first, eps, skip, work, rows)
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
                _whole_step(moving, fixed, motion, k, span[0], eps, skip, work, rows)
            continue
        node = (steps + low) // width
        if _together(
            moving,
            fixed,
            motion,
            spans,
            (low, high),
            span[0],
            node,
            eps,
            skip,
            work,
            cuts,
            rows,
        ):
            next_rest = 1
        else:
            rest, next_rest = next_rest, min(2 * next_rest, MOST_REST)
    for k in range(span[0], span[1]):
        if rows.pairs[k, 0] >= 0:
            rows.upper[k] = settle(
                moving, fixed, motion, k, rows.shares[k], rows.pairs[k], rows.places[k]
            )
