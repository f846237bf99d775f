"""Searching two bodies and stretches of the path together."""

# ruff: noqa: PLR0912, PLR0913, PLR0915, PLR0917
# A kernel takes rows and scalars: records of them would be copied in the inner loop.

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps.cache import inlined, kernel
from towerlift.gaps.nearest import CONTACT
from towerlift.gaps.path import Motion
from towerlift.gaps.runs import make_work, move_run, run_boxes_gap2, run_slab, swept_gap
from towerlift.gaps.search import box_size, cut_at, is_skipped, node_reach
from towerlift.gaps.tree import WALL_SIZE, TreeArrays

Array = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]


class Spans(NamedTuple):
    """Ranges of the pose over stretches of the path, as a binary tree.

    Node 1 is the whole path, 2q and 2q + 1 halve node q, and node n + k is step
    k, where n is the number of leaves.

    Attributes
    ----------
    turn_mid, turn_half : (2n, 3, 3) float
        Middle and half range of each entry of the rotation. [1]
    shift_mid, shift_half : (2n, 3) float
        The same of the shift. [m]
    smear : (2n,) float
        About how far the body moves within the stretch; negative if there is
        no step in it. [m]
    """

    turn_mid: Array
    turn_half: Array
    shift_mid: Array
    shift_half: Array
    smear: Array


def make_spans(motion: Motion, radius: float) -> Spans:
    """Ranges of the pose over stretches of a path.

    Parameters
    ----------
    motion : Motion
        The path.
    radius : float
        Greatest distance of a point of the body from its box frame's origin. [m]

    Returns
    -------
    spans : Spans
        The tree of stretches.
    """
    steps = len(motion.angles)
    leaves = 1 << math.ceil(math.log2(steps)) if steps > 1 else 1
    flat = np.concatenate([motion.turns.reshape(-1, 9), motion.shifts], axis=1)
    low, high = np.full((2 * leaves, 12), np.inf), np.full((2 * leaves, 12), -np.inf)
    low[leaves : leaves + steps] = np.minimum(flat[:-1], flat[1:])
    high[leaves : leaves + steps] = np.maximum(flat[:-1], flat[1:])
    size = leaves
    while size > 1:
        size //= 2
        children = slice(2 * size, 4 * size)
        low[size : 2 * size] = low[children].reshape(size, 2, 12).min(axis=1)
        high[size : 2 * size] = high[children].reshape(size, 2, 12).max(axis=1)
    empty = ~(low[:, 0] <= high[:, 0])
    low[empty], high[empty] = 0.0, 0.0
    mid, half = 0.5 * (low + high), 0.5 * (high - low)
    smear = 2.0 * (half[:, 9:].max(axis=1) + half[:, :9].max(axis=1) * radius)
    smear[empty] = -1.0
    return Spans(
        mid[:, :9].reshape(-1, 3, 3).copy(),
        half[:, :9].reshape(-1, 3, 3).copy(),
        mid[:, 9:].copy(),
        half[:, 9:].copy(),
        smear,
    )


@inlined
def stretch_gap2(
    boxes: Singles,
    a: int,
    fixed: Singles,
    b: int,
    q: int,
    turn_mid: Array,
    turn_half: Array,
    shift_mid: Array,
    shift_half: Array,
) -> float:
    """Squared distance of fixed node b from a box around node a over stretch q.

    With every entry of the rotation within half of its middle, a point within
    h of the box centre c is moved to within |R| h + half (|c| + h) of R c.
    """
    gap2 = 0.0
    cx, hx = 0.5 * (boxes[a, 3] + boxes[a, 0]), 0.5 * (boxes[a, 3] - boxes[a, 0])
    cy, hy = 0.5 * (boxes[a, 4] + boxes[a, 1]), 0.5 * (boxes[a, 4] - boxes[a, 1])
    cz, hz = 0.5 * (boxes[a, 5] + boxes[a, 2]), 0.5 * (boxes[a, 5] - boxes[a, 2])
    fx, fy, fz = abs(cx) + hx, abs(cy) + hy, abs(cz) + hz
    for c in range(3):
        rx, ry, rz = turn_mid[q, c, 0], turn_mid[q, c, 1], turn_mid[q, c, 2]
        middle = rx * cx + ry * cy + rz * cz + shift_mid[q, c]
        half = abs(rx) * hx + abs(ry) * hy + abs(rz) * hz + shift_half[q, c]
        half += turn_half[q, c, 0] * fx + turn_half[q, c, 1] * fy + turn_half[q, c, 2] * fz
        away = max(middle - half - fixed[b, 3 + c], fixed[b, c] - middle - half)
        if away > 0.0:
            gap2 += away * away
    return gap2


@inlined
def _stretch_wall_gap(
    boxes: Singles,
    facings: Singles,
    a: int,
    walls: Singles,
    b: int,
    q: int,
    turn_mid: Array,
    turn_half: Array,
    shift_mid: Array,
    shift_half: Array,
) -> float:
    """Distance of node a from a fixed slab along its direction, over stretch q.

    The reach at the middle of the stretch, less what the ranges of the rotation
    and of the shift can add to it.
    """
    x, y, z = walls[b, 0], walls[b, 1], walls[b, 2]
    low, high = node_reach(
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
    spread = away = 0.0
    for c in range(3):
        spread += abs(walls[b, c]) * (
            turn_half[q, c, 0] * fx
            + turn_half[q, c, 1] * fy
            + turn_half[q, c, 2] * fz
            + shift_half[q, c]
        )
        away += walls[b, c] * shift_mid[q, c]
    gap: float = max(low + away - walls[b, 4], walls[b, 3] - high - away) - spread
    return gap


@kernel
def search_path(
    moving: TreeArrays,
    fixed: TreeArrays,
    motion: Motion,
    spans: Spans,
    roots: tuple[int, int, int],
    eps: float,
    skip: Ints,
    entries: int,
    shared: Array,
    pair: Ints,
    found: Array,
    places: Array,
) -> bool:
    """Least distance of moving node roots[0] from fixed node roots[1] over stretch roots[2].

    Searches node, node and stretch together and leaves a triple aside only if
    its bound is no less than the least attained anywhere, less eps. `shared`
    holds that least for all threads: another thread can only lower it, and a
    lost update only prunes less. Writes the pieces, the fine step and the share
    of it at which a lower distance was found. Returns whether nothing was
    dropped.
    """
    n_fixed = np.int64(1) << 32
    leaves = spans.smear.size // 2
    turn_mid, turn_half = spans.turn_mid, spans.turn_half
    shift_mid, shift_half = spans.shift_mid, spans.shift_half
    work = make_work(1, moving.triangles.shape[0], entries)
    trial = np.empty(9)
    proved = True
    least = shared[0]
    cut2 = cut_at(least, eps)
    work.stack[0, 0], work.stack[0, 1], work.stack[0, 2] = roots[0], roots[1], roots[2]
    work.bounds[0] = 0.0
    top = 1
    while top > 0:
        top -= 1
        if shared[0] < least:
            least = shared[0]
            cut2 = cut_at(least, eps)
        if least <= CONTACT:
            break
        if work.bounds[top] >= cut2:
            continue
        a, b, q = work.stack[top, 0], work.stack[top, 1], work.stack[top, 2]
        left_a, left_b = moving.child[a], fixed.child[b]
        size_a = box_size(moving.boxes, a) if left_a > 0 else -1.0
        size_b = box_size(fixed.boxes, b) if left_b > 0 else -1.0
        size_q = spans.smear[q] if q < leaves else -1.0
        if size_a < 0.0 and size_b < 0.0 and q >= leaves:
            k = q - leaves
            low, high = moving.first[a], moving.first[a] + moving.size[a]
            ready = False
            for j in range(fixed.first[b], fixed.first[b] + fixed.size[b]):
                slab = _stretch_wall_gap(
                    moving.boxes,
                    moving.walls,
                    a,
                    fixed.planes,
                    j,
                    q,
                    turn_mid,
                    turn_half,
                    shift_mid,
                    shift_half,
                )
                if slab > 0.0 and slab * slab >= cut2:
                    continue
                if not ready:
                    ready = True
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
                        trial,
                    )
                    proved = proved and whole
                    if gap < least:
                        least = gap
                        cut2 = cut_at(least, eps)
                        pair[0], pair[1] = i, j
                        found[0], found[1], found[2] = gap, k, place
                        places[:6] = trial[:6]
                        shared[0] = min(shared[0], gap)
            continue
        if top + 2 > work.bounds.size:
            return False
        a0, a1, b0, b1, q0, q1 = a, a, b, b, q, q
        if q < leaves and size_q >= size_a and size_q >= size_b:
            q0, q1 = 2 * q, 2 * q + 1
        elif size_a >= size_b:
            a0, a1 = left_a, left_a + 1
        else:
            b0, b1 = left_b, left_b + 1
        near = far = math.inf
        if spans.smear[q0] >= 0.0:
            near = stretch_gap2(
                moving.boxes,
                a0,
                fixed.boxes,
                b0,
                q0,
                turn_mid,
                turn_half,
                shift_mid,
                shift_half,
            )
        if spans.smear[q1] >= 0.0:
            far = stretch_gap2(
                moving.boxes,
                a1,
                fixed.boxes,
                b1,
                q1,
                turn_mid,
                turn_half,
                shift_mid,
                shift_half,
            )
        if far < near:
            a0, a1, b0, b1, q0, q1, near, far = a1, a0, b1, b0, q1, q0, far, near
        if far < cut2 and fixed.size[b1] <= WALL_SIZE:
            slab = _stretch_wall_gap(
                moving.boxes,
                moving.walls,
                a1,
                fixed.walls,
                b1,
                q1,
                turn_mid,
                turn_half,
                shift_mid,
                shift_half,
            )
            if slab > 0.0 and slab * slab >= cut2:
                far = math.inf
        if far < cut2:
            work.stack[top, 0], work.stack[top, 1], work.stack[top, 2] = a1, b1, q1
            work.bounds[top] = far
            top += 1
        if near < cut2 and fixed.size[b0] <= WALL_SIZE:
            slab = _stretch_wall_gap(
                moving.boxes,
                moving.walls,
                a0,
                fixed.walls,
                b0,
                q0,
                turn_mid,
                turn_half,
                shift_mid,
                shift_half,
            )
            if slab > 0.0 and slab * slab >= cut2:
                near = math.inf
        if near < cut2:
            work.stack[top, 0], work.stack[top, 1], work.stack[top, 2] = a0, b0, q0
            work.bounds[top] = near
            top += 1
    return proved
