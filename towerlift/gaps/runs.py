"""Triangles on straight runs, and the search of one step of a path."""

# ruff: noqa: PLR0912, PLR0913, PLR0915, PLR0917
# A kernel takes rows and scalars: records of them would be copied in the inner loop.

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps.cache import inlined, kernel
from towerlift.gaps.nearest import CONTACT
from towerlift.gaps.path import Motion
from towerlift.gaps.search import (
    box_gap2,
    box_size,
    cut_at,
    facing_gap,
    is_skipped,
    move_box,
    move_triangle,
    node_reach,
)
from towerlift.gaps.tree import WALL_SIZE, TreeArrays
from towerlift.gaps.triangles import triangle_gap2

Array = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

MOST_HALVINGS = 100
SHORTEST = 1e-12


class Work(NamedTuple):
    """Room for one search, used again for every step."""

    boxes: Array
    start: Array
    end: Array
    known: NDArray[np.int32]
    stack: NDArray[np.int32]
    bounds: Array
    probe: Array
    trial: Array
    spans: Array


class StepRows(NamedTuple):
    """What the search found in each fine step.

    Attributes
    ----------
    chord : (k,) float
        Least distance found along straight runs. [m]
    upper : (k,) float
        Distance of that pair at that place on the true path. [m]
    shares : (k,) float
        Where in the step, 0 to 1. [1]
    pairs : (k, 2) int
        Pieces; -1 if none was found.
    places : (k, 9) float
        Nearest points, box frame of the fixed body. [m]
    proved : (k,) bool
        Whether nothing was dropped.
    """

    chord: Array
    upper: Array
    shares: Array
    pairs: Ints
    places: Array
    proved: Flags


@kernel
def make_work(n_nodes: int, n_pieces: int, entries: int) -> Work:
    """Room for a search of a moving tree of this size."""
    return Work(
        np.empty((n_nodes, 6)),
        np.empty((n_pieces, 9)),
        np.empty((n_pieces, 9)),
        np.full(n_nodes, -1, np.int32),
        np.empty((entries, 3), np.int32),
        np.empty(entries),
        np.empty((1, 9)),
        np.empty(9),
        np.empty((MOST_HALVINGS + 2, 2)),
    )


@kernel
def _run_bound(
    start: Array, end: Array, i: int, fixed: Array, j: int, s0: float, s1: float, trial: Array
) -> float:
    """Least distance along the line of the nearest points while s runs from s0 to s1.

    For a unit direction n no two points of the triangles are nearer than the
    least n.b minus the greatest n.a, and n.a is linear in s at each corner, so
    its greatest is at an end of the interval.
    """
    x, y, z = trial[3] - trial[0], trial[4] - trial[1], trial[5] - trial[2]
    size = math.sqrt(x * x + y * y + z * z)
    x, y, z = x / size, y / size, z / size
    low, high = math.inf, -math.inf
    for k in range(3):
        low = min(low, x * fixed[j, 3 * k] + y * fixed[j, 3 * k + 1] + z * fixed[j, 3 * k + 2])
        p = x * start[i, 3 * k] + y * start[i, 3 * k + 1] + z * start[i, 3 * k + 2]
        q = x * end[i, 3 * k] + y * end[i, 3 * k + 1] + z * end[i, 3 * k + 2]
        high = max(high, p + s0 * (q - p), p + s1 * (q - p))
    return low - high


@kernel
def swept_gap(
    start: Array,
    end: Array,
    i: int,
    fixed: Array,
    j: int,
    least: float,
    eps: float,
    probe: Array,
    trial: Array,
    spans: Array,
    places: Array,
) -> tuple[float, float, bool]:
    """Least distance of a triangle on a straight run to a fixed one, to within eps.

    Returns the lesser of `least` and the distance found, where in the run it is
    (-1 if `least` stands) and whether it is proved that no distance is less
    than that by more than `eps`. Halves the run until the bound along the line
    of the nearest points, or the distance less half the run of the fastest
    corner, proves each part.
    """
    fastest = 0.0
    for k in range(3):
        run = 0.0
        for c in range(3):
            run += (end[i, 3 * k + c] - start[i, 3 * k + c]) ** 2
        fastest = max(fastest, math.sqrt(run))
    share, proved = -1.0, True
    spans[0, 0], spans[0, 1] = 0.0, 1.0
    top = 1
    while top > 0:
        top -= 1
        s0, s1 = spans[top, 0], spans[top, 1]
        middle = 0.5 * (s0 + s1)
        for c in range(9):
            probe[0, c] = start[i, c] + middle * (end[i, c] - start[i, c])
        gap = math.sqrt(triangle_gap2(probe, 0, fixed, j, math.inf, trial))
        if gap < least:
            least, share = gap, middle
            places[:6] = trial[:6]
        if gap <= CONTACT:
            return least, share, proved
        bound = gap - 0.5 * (s1 - s0) * fastest
        if bound < least - eps:
            bound = max(bound, _run_bound(start, end, i, fixed, j, s0, s1, trial))
        if bound >= least - eps:
            continue
        if top + 2 > MOST_HALVINGS or s1 - s0 < SHORTEST:
            proved = False
            continue
        spans[top, 0], spans[top, 1] = s0, middle
        spans[top + 1, 0], spans[top + 1, 1] = middle, s1
        top += 2
    return least, share, proved


@inlined
def run_slab(start: Array, end: Array, i: int, planes: Singles, j: int) -> float:
    """Distance along the normal of fixed piece j that holds over the whole run."""
    x, y, z = planes[j, 0], planes[j, 1], planes[j, 2]
    low, high = math.inf, -math.inf
    for k in range(3):
        p = x * start[i, 3 * k] + y * start[i, 3 * k + 1] + z * start[i, 3 * k + 2]
        q = x * end[i, 3 * k] + y * end[i, 3 * k + 1] + z * end[i, 3 * k + 2]
        low, high = min(low, p, q), max(high, p, q)
    gap: float = max(low - planes[j, 4], planes[j, 3] - high)
    return gap


@inlined
def run_boxes_gap2(start: Array, end: Array, i: int, fixed: Array, j: int) -> float:
    """Squared distance between the box of a triangle's run and a fixed triangle's box."""
    gap2 = 0.0
    for c in range(3):
        p0, p1, p2 = start[i, c], start[i, 3 + c], start[i, 6 + c]
        q0, q1, q2 = end[i, c], end[i, 3 + c], end[i, 6 + c]
        low, high = min(p0, p1, p2, q0, q1, q2), max(p0, p1, p2, q0, q1, q2)
        away = max(
            low - max(fixed[j, c], fixed[j, 3 + c], fixed[j, 6 + c]),
            min(fixed[j, c], fixed[j, 3 + c], fixed[j, 6 + c]) - high,
        )
        if away > 0.0:
            gap2 += away * away
    return gap2


@inlined
def _run_box(
    boxes: Singles, node: int, turns: Array, shifts: Array, k: int, moved: Array
) -> None:
    """Write the box around all that a node's box meets in step k into moved[node]."""
    move_box(boxes, node, turns, shifts, k + 1, moved, node)
    low0, low1, low2 = moved[node, 0], moved[node, 1], moved[node, 2]
    high0, high1, high2 = moved[node, 3], moved[node, 4], moved[node, 5]
    move_box(boxes, node, turns, shifts, k, moved, node)
    moved[node, 0] = min(moved[node, 0], low0)
    moved[node, 1] = min(moved[node, 1], low1)
    moved[node, 2] = min(moved[node, 2], low2)
    moved[node, 3] = max(moved[node, 3], high0)
    moved[node, 4] = max(moved[node, 4], high1)
    moved[node, 5] = max(moved[node, 5], high2)


@inlined
def run_wall_gap(
    boxes: Singles,
    facings: Singles,
    a: int,
    turns: Array,
    shifts: Array,
    k: int,
    swing: float,
    walls: Singles,
    b: int,
) -> float:
    """Distance of a node from a fixed slab, along its direction, over all of step k.

    The reach at the start of the step, shifted to both ends; `swing` is the most
    by which turning over the step can move any point of the body.
    """
    x, y, z = walls[b, 0], walls[b, 1], walls[b, 2]
    low, high = node_reach(
        boxes,
        facings,
        a,
        turns[k, 0, 0] * x + turns[k, 1, 0] * y + turns[k, 2, 0] * z,
        turns[k, 0, 1] * x + turns[k, 1, 1] * y + turns[k, 2, 1] * z,
        turns[k, 0, 2] * x + turns[k, 1, 2] * y + turns[k, 2, 2] * z,
    )
    start = x * shifts[k, 0] + y * shifts[k, 1] + z * shifts[k, 2]
    end = x * shifts[k + 1, 0] + y * shifts[k + 1, 1] + z * shifts[k + 1, 2]
    low += min(start, end)
    high += max(start, end)
    gap: float = max(low - walls[b, 4], walls[b, 3] - high) - swing
    return gap


@kernel
def step_swing(boxes: Singles, turns: Array, k: int) -> float:
    """Most by which turning over step k moves any point of the body's box."""
    swing2 = 0.0
    for r in range(3):
        row = 0.0
        for c in range(3):
            far = max(abs(boxes[0, c]), abs(boxes[0, 3 + c]))
            row += abs(turns[k + 1, r, c] - turns[k, r, c]) * far
        swing2 += row * row
    return math.sqrt(swing2)


@inlined
def move_run(
    triangles: Array, i: int, turns: Array, shifts: Array, k: int, start: Array, end: Array
) -> None:
    """Write piece i at both ends of step k."""
    move_triangle(triangles, i, turns, shifts, k, start, i)
    move_triangle(triangles, i, turns, shifts, k + 1, end, i)


@kernel
def pose_within(motion: Motion, k: int, share: float, turn: Array, shift: Array) -> None:
    """Write the true pose at a place within step k (Rodrigues' rotation formula)."""
    x, y, z = motion.axes[k, 0], motion.axes[k, 1], motion.axes[k, 2]
    angle = share * motion.angles[k]
    sine, versine = math.sin(angle), 2.0 * math.sin(0.5 * angle) ** 2
    skew = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    for r in range(3):
        shift[r] = motion.origins[k, r] + share * (
            motion.origins[k + 1, r] - motion.origins[k, r]
        )
        for c in range(3):
            turn[r, c] = 0.0
            for m in range(3):
                square = 0.0
                for n in range(3):
                    square += skew[m, n] * skew[n, c]
                step = sine * skew[m, c] + versine * square + (1.0 if m == c else 0.0)
                turn[r, c] += motion.turns[k, r, m] * step
            shift[r] += turn[r, c] * motion.pivot[c]


@kernel
def settle(
    moving: TreeArrays,
    fixed: TreeArrays,
    motion: Motion,
    k: int,
    share: float,
    pair: Ints,
    places: Array,
) -> float:
    """Exact distance of a pair of pieces at a place within step k of the true path."""
    turns, shifts, probe = np.empty((1, 3, 3)), np.empty((1, 3)), np.empty((1, 9))
    pose_within(motion, k, share, turns[0], shifts[0])
    move_triangle(moving.triangles, pair[0], turns, shifts, 0, probe, 0)
    return math.sqrt(triangle_gap2(probe, 0, fixed.triangles, pair[1], math.inf, places))


@kernel
def _search_step(
    moving: TreeArrays,
    fixed: TreeArrays,
    motion: Motion,
    k: int,
    eps: float,
    skip: Ints,
    work: Work,
    rows: StepRows,
) -> None:
    """Find the least distance in step k, starting from the pair in rows.pairs[k].

    A pair of nodes is left aside only if boxes that hold the whole run of one
    and all of the other are no nearer than the least found so far less eps.
    """
    n_fixed = np.int64(1) << 32
    swing = step_swing(moving.boxes, motion.turns, k)
    least, share, proved = math.inf, 0.0, True
    pair, places = rows.pairs[k], rows.places[k]
    if pair[0] >= 0:
        move_run(
            moving.triangles, pair[0], motion.turns, motion.shifts, k, work.start, work.end
        )
        least, share, proved = swept_gap(
            work.start,
            work.end,
            pair[0],
            fixed.triangles,
            pair[1],
            least,
            eps,
            work.probe,
            work.trial,
            work.spans,
            places,
        )
    cut2 = cut_at(least, eps)
    _run_box(moving.boxes, 0, motion.turns, motion.shifts, k, work.boxes)
    work.stack[0, 0], work.stack[0, 1], work.bounds[0] = 0, 0, 0.0
    top = 1
    while top > 0 and least > CONTACT:
        top -= 1
        if work.bounds[top] >= cut2:
            continue
        a, b = work.stack[top, 0], work.stack[top, 1]
        left_a, left_b = moving.child[a], fixed.child[b]
        if left_a == 0 and left_b == 0:
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
                    gap, place, whole = swept_gap(
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
                        least, share = gap, place
                        pair[0], pair[1] = i, j
                        cut2 = cut_at(least, eps)
            continue
        if top + 2 > work.bounds.size:
            proved = False
            break
        if left_b == 0 or (left_a > 0 and box_size(work.boxes, a) >= box_size(fixed.boxes, b)):
            if work.known[a] != k:
                work.known[a] = k
                _run_box(moving.boxes, left_a, motion.turns, motion.shifts, k, work.boxes)
                _run_box(moving.boxes, left_a + 1, motion.turns, motion.shifts, k, work.boxes)
            a0, a1, b0, b1 = left_a, left_a + 1, b, b
        else:
            a0, a1, b0, b1 = a, a, left_b, left_b + 1
        near = box_gap2(work.boxes, a0, fixed.boxes, b0)
        far = box_gap2(work.boxes, a1, fixed.boxes, b1)
        if far < near:
            a0, a1, b0, b1, near, far = a1, a0, b1, b0, far, near
        if far < cut2 and fixed.size[b1] <= WALL_SIZE:
            slab = run_wall_gap(
                moving.boxes,
                moving.walls,
                a1,
                motion.turns,
                motion.shifts,
                k,
                swing,
                fixed.walls,
                b1,
            )
            if slab > 0.0 and slab * slab >= cut2:
                far = math.inf
        if far < cut2 and moving.size[a1] <= WALL_SIZE:
            slab = facing_gap(
                moving.walls,
                a1,
                motion.turns,
                motion.shifts,
                k,
                k + 1,
                swing,
                fixed.boxes,
                fixed.walls,
                b1,
            )
            if slab > 0.0 and slab * slab >= cut2:
                far = math.inf
        if far < cut2:
            work.stack[top, 0], work.stack[top, 1], work.bounds[top] = a1, b1, far
            top += 1
        if near < cut2 and fixed.size[b0] <= WALL_SIZE:
            slab = run_wall_gap(
                moving.boxes,
                moving.walls,
                a0,
                motion.turns,
                motion.shifts,
                k,
                swing,
                fixed.walls,
                b0,
            )
            if slab > 0.0 and slab * slab >= cut2:
                near = math.inf
        if near < cut2 and moving.size[a0] <= WALL_SIZE:
            slab = facing_gap(
                moving.walls,
                a0,
                motion.turns,
                motion.shifts,
                k,
                k + 1,
                swing,
                fixed.boxes,
                fixed.walls,
                b0,
            )
            if slab > 0.0 and slab * slab >= cut2:
                near = math.inf
        if near < cut2:
            work.stack[top, 0], work.stack[top, 1], work.bounds[top] = a0, b0, near
            top += 1
    rows.chord[k], rows.shares[k], rows.proved[k] = least, share, proved
    if pair[0] >= 0:
        rows.upper[k] = settle(moving, fixed, motion, k, share, pair, places)


@kernel
def search_steps(
    moving: TreeArrays,
    fixed: TreeArrays,
    motion: Motion,
    span: tuple[int, int],
    eps: float,
    skip: Ints,
    entries: int,
    rows: StepRows,
) -> None:
    """Search steps span[0] up to span[1], each starting from the last one's pair."""
    work = make_work(moving.child.size, moving.triangles.shape[0], entries)
    for k in range(span[0], span[1]):
        if k > span[0]:
            rows.pairs[k, 0], rows.pairs[k, 1] = rows.pairs[k - 1, 0], rows.pairs[k - 1, 1]
        _search_step(moving, fixed, motion, k, eps, skip, work, rows)
