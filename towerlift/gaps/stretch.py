"""Searching two bodies and stretches of the path together."""

# ruff: noqa: PLR0912, PLR0913, PLR0915, PLR0917
# A kernel takes rows and scalars: records of them would be copied in the inner loop.

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps.cache import inlined, kernel
from towerlift.gaps.path import Motion
from towerlift.gaps.runs import StepRows, Work, move_run, run_boxes_gap2, run_slab, swept_gap
from towerlift.gaps.search import cut_at, is_skipped, node_reach
from towerlift.gaps.tree import WALL_SIZE, TreeArrays

Array = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

# How a search ended.
DONE, NO_ROOM, GIVEN_UP = 0, 1, 2
# Bound from which a step that is not asked for can be left aside: any.
NO_CUT = -1.0
# What rounding adds to a deviation, many times over.
LAST_DIGITS = 1e-13
# A stretch is halved as a node of this share of its smear would be.
SMEAR_COUNTS = 1.0 / 20.0


class Spans(NamedTuple):
    """Poses within stretches of the path, as a binary tree.

    Node 1 is the whole path, 2q and 2q + 1 halve node q, and node n + k is step
    k, where n is the number of leaves. Within a stretch every entry of the pose
    is its middle, plus a run from -1 to 1 times the same number for all
    entries, plus a rest.

    Attributes
    ----------
    turn_mid, turn_run, turn_rest, turn_half : (2n, 3, 3) float
        Middle of each entry of the rotation between both ends of the stretch,
        half of its change, what it strays from the straight run at most, and
        how far it is from the middle at most. [1]
    shift_mid, shift_run, shift_rest, shift_half : (2n, 3) float
        The same of the shift. [m]
    turn : (2n, 3, 3) float
        A rotation the body takes about the middle of the stretch.
    swing : (2n,) float
        Most by which turning away from that moves any point of the body. [m]
    smear : (2n,) float
        About how far the body moves within the stretch; negative if there is
        no step in it. [m]
    """

    turn_mid: Array
    turn_run: Array
    turn_rest: Array
    turn_half: Array
    shift_mid: Array
    shift_run: Array
    shift_rest: Array
    shift_half: Array
    turn: Array
    swing: Array
    smear: Array


def make_spans(motion: Motion, radius: float) -> Spans:
    """Poses within stretches of a path.

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
    poses = np.concatenate([motion.turns.reshape(-1, 9), motion.shifts], axis=1)
    mid, run, rest, taken = (np.zeros((2 * leaves, 12)) for _ in range(4))
    width = 1
    while width <= leaves:
        starts = np.arange(0, steps, width)
        ends = np.minimum(starts + width, steps)
        rows = slice(leaves // width, leaves // width + len(starts))
        mid[rows] = 0.5 * (poses[starts] + poses[ends])
        run[rows] = 0.5 * (poses[ends] - poses[starts])
        taken[rows] = poses[(starts + ends) // 2]
        # Within a step the entries run straight, so they stray most at a pose.
        at = np.minimum(starts[:, None] + np.arange(width + 1), ends[:, None])
        share = 2.0 * (at - starts[:, None]) / (ends - starts)[:, None] - 1.0
        stray = poses[at] - mid[rows][:, None] - share[:, :, None] * run[rows][:, None]
        rest[rows] = np.abs(stray).max(axis=1) + LAST_DIGITS
        width *= 2
    half = np.abs(run) + rest
    smear = 2.0 * (half[:, 9:].max(axis=1) + half[:, :9].max(axis=1) * radius)
    smear[rest[:, 0] == 0.0] = -1.0
    away = (half + np.abs(mid - taken))[:, :9]
    turn_mid, turn_run, turn_rest, turn_half, turn = (
        part[:, :9].reshape(-1, 3, 3).copy() for part in (mid, run, rest, half, taken)
    )
    shift_mid, shift_run, shift_rest, shift_half = (
        part[:, 9:].copy() for part in (mid, run, rest, half)
    )
    return Spans(
        turn_mid=turn_mid,
        turn_run=turn_run,
        turn_rest=turn_rest,
        turn_half=turn_half,
        shift_mid=shift_mid,
        shift_run=shift_run,
        shift_rest=shift_rest,
        shift_half=shift_half,
        turn=turn,
        swing=np.linalg.norm(away, axis=1) * radius,
        smear=smear,
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
def _boxes_gap2(boxes: Singles, a: int, fixed: Singles, b: int, q: int, spans: Spans) -> float:
    """As `stretch_gap2`, but no more than the run of this node is taken off.

    Turn and shift move a node by their sum, and where one undoes the other,
    it hardly moves.
    """
    gap2 = 0.0
    cx, hx = 0.5 * (boxes[a, 3] + boxes[a, 0]), 0.5 * (boxes[a, 3] - boxes[a, 0])
    cy, hy = 0.5 * (boxes[a, 4] + boxes[a, 1]), 0.5 * (boxes[a, 4] - boxes[a, 1])
    cz, hz = 0.5 * (boxes[a, 5] + boxes[a, 2]), 0.5 * (boxes[a, 5] - boxes[a, 2])
    fx, fy, fz = abs(cx) + hx, abs(cy) + hy, abs(cz) + hz
    for c in range(3):
        rx, ry, rz = spans.turn_mid[q, c, 0], spans.turn_mid[q, c, 1], spans.turn_mid[q, c, 2]
        ux, uy, uz = spans.turn_run[q, c, 0], spans.turn_run[q, c, 1], spans.turn_run[q, c, 2]
        middle = rx * cx + ry * cy + rz * cz + spans.shift_mid[q, c]
        half = abs(rx) * hx + abs(ry) * hy + abs(rz) * hz
        half += abs(ux * cx + uy * cy + uz * cz + spans.shift_run[q, c])
        half += abs(ux) * hx + abs(uy) * hy + abs(uz) * hz
        half += spans.turn_rest[q, c, 0] * fx + spans.turn_rest[q, c, 1] * fy
        half += spans.turn_rest[q, c, 2] * fz + spans.shift_rest[q, c]
        away = max(middle - half - fixed[b, 3 + c], fixed[b, c] - middle - half)
        if away > 0.0:
            gap2 += away * away
    return gap2


@inlined
def _wall_gap(
    boxes: Singles, facings: Singles, a: int, walls: Singles, b: int, q: int, spans: Spans
) -> float:
    """Distance of node a from a fixed slab along its direction, over stretch q.

    The reach at the middle of the stretch, less the run of the node along the
    direction and what it can stray from it.
    """
    x, y, z = walls[b, 0], walls[b, 1], walls[b, 2]
    low, high = node_reach(
        boxes,
        facings,
        a,
        spans.turn_mid[q, 0, 0] * x + spans.turn_mid[q, 1, 0] * y + spans.turn_mid[q, 2, 0] * z,
        spans.turn_mid[q, 0, 1] * x + spans.turn_mid[q, 1, 1] * y + spans.turn_mid[q, 2, 1] * z,
        spans.turn_mid[q, 0, 2] * x + spans.turn_mid[q, 1, 2] * y + spans.turn_mid[q, 2, 2] * z,
    )
    cx, hx = 0.5 * (boxes[a, 3] + boxes[a, 0]), 0.5 * (boxes[a, 3] - boxes[a, 0])
    cy, hy = 0.5 * (boxes[a, 4] + boxes[a, 1]), 0.5 * (boxes[a, 4] - boxes[a, 1])
    cz, hz = 0.5 * (boxes[a, 5] + boxes[a, 2]), 0.5 * (boxes[a, 5] - boxes[a, 2])
    fx, fy, fz = abs(cx) + hx, abs(cy) + hy, abs(cz) + hz
    away = run = spread = ux = uy = uz = 0.0
    for c in range(3):
        n = walls[b, c]
        away += n * spans.shift_mid[q, c]
        run += n * spans.shift_run[q, c]
        ux += n * spans.turn_run[q, c, 0]
        uy += n * spans.turn_run[q, c, 1]
        uz += n * spans.turn_run[q, c, 2]
        rest = spans.turn_rest[q, c, 0] * fx + spans.turn_rest[q, c, 1] * fy
        spread += abs(n) * (rest + spans.turn_rest[q, c, 2] * fz + spans.shift_rest[q, c])
    spread += abs(ux * cx + uy * cy + uz * cz + run)
    spread += abs(ux) * hx + abs(uy) * hy + abs(uz) * hz
    gap: float = max(low + away - walls[b, 4], walls[b, 3] - high - away) - spread
    return gap


@inlined
def _facing_gap(
    facings: Singles, a: int, boxes: Singles, walls: Singles, b: int, q: int, spans: Spans
) -> float:
    """Distance of fixed node b from a moved node's slab, over stretch q.

    Along the slab's direction about the middle of the stretch.
    """
    u, v, w = facings[a, 0], facings[a, 1], facings[a, 2]
    x = spans.turn[q, 0, 0] * u + spans.turn[q, 0, 1] * v + spans.turn[q, 0, 2] * w
    y = spans.turn[q, 1, 0] * u + spans.turn[q, 1, 1] * v + spans.turn[q, 1, 2] * w
    z = spans.turn[q, 2, 0] * u + spans.turn[q, 2, 1] * v + spans.turn[q, 2, 2] * w
    away = x * spans.shift_mid[q, 0] + y * spans.shift_mid[q, 1] + z * spans.shift_mid[q, 2]
    run = x * spans.shift_run[q, 0] + y * spans.shift_run[q, 1] + z * spans.shift_run[q, 2]
    spread = abs(run) + abs(x) * spans.shift_rest[q, 0]
    spread += abs(y) * spans.shift_rest[q, 1] + abs(z) * spans.shift_rest[q, 2]
    low, high = node_reach(boxes, walls, b, x, y, z)
    spread += spans.swing[q]
    gap: float = max(low - facings[a, 4] - away, facings[a, 3] + away - high) - spread
    return gap


@inlined
def _faces_off(
    moving: TreeArrays, fixed: TreeArrays, a: int, b: int, q: int, spans: Spans, cut2: float
) -> bool:
    """Whether nodes a and b stay apart over stretch q along the way either of them faces."""
    if fixed.size[b] <= WALL_SIZE:
        slab = _wall_gap(moving.boxes, moving.walls, a, fixed.walls, b, q, spans)
        if slab > 0.0 and slab * slab >= cut2:
            return True
    if moving.size[a] <= WALL_SIZE:
        slab = _facing_gap(moving.walls, a, fixed.boxes, fixed.walls, b, q, spans)
        if slab > 0.0 and slab * slab >= cut2:
            return True
    return False


@inlined
def change_cut(cuts: Array, q: int, cut2: float) -> None:
    """Give step node q its cut, and every stretch above it the greatest of its steps."""
    cuts[q] = cut2
    q >>= 1
    while q > 0:
        greatest = max(cuts[2 * q], cuts[2 * q + 1])
        if cuts[q] == greatest:
            break
        cuts[q] = greatest
        q >>= 1


@kernel
def search_stretch(
    moving: TreeArrays,
    fixed: TreeArrays,
    motion: Motion,
    spans: Spans,
    roots: tuple[int, int, int],
    how: tuple[float, int],
    skip: Ints,
    work: Work,
    cuts: Array,
    rows: StepRows,
    shared: Array,
    found: Ints,
) -> int:
    """Lower what is known of the steps of stretch roots[2] by all below nodes roots[:2].

    Searches node, node and stretch together. A triple is left aside only if its
    bound is no less than the greatest of the cuts of its steps: the squares of
    what is known of each, less eps, kept in `cuts` as the stretches are. `how`
    is eps and the number of triples after which to give up; rows found until
    then hold. Where a distance could not be proved, `rows.proved` is unset.

    If `shared` is not empty, only the least of all steps is asked for: it is
    kept in row 0, and in `shared` for all threads. Another thread can only lower
    it, and an update that is lost only prunes less; row 0 then holds a pair only
    if it was found here, and `found` its step.
    """
    one = shared.size > 0
    n_fixed = np.int64(1) << 32
    leaves = spans.smear.size // 2
    eps, left = how
    trial = np.empty(9)
    work.stack[0, 0], work.stack[0, 1], work.stack[0, 2] = roots[0], roots[1], roots[2]
    work.bounds[0] = 0.0
    top = 1
    while top > 0:
        top -= 1
        a, b, q = work.stack[top, 0], work.stack[top, 1], work.stack[top, 2]
        if one and shared[0] < rows.chord[0]:
            rows.chord[0], rows.pairs[0, 0] = shared[0], -1
            cuts[0] = cut_at(shared[0], eps)
        cut2 = cuts[0 if one else q]
        if work.bounds[top] >= cut2:
            continue
        left -= 1
        if left < 0:
            return GIVEN_UP
        bulk_a, bulk_b = moving.bulk[a], fixed.bulk[b]
        if bulk_a < 0.0 and bulk_b < 0.0 and q >= leaves:
            k = q - leaves
            row = 0 if one else k
            low, high = moving.first[a], moving.first[a] + moving.size[a]
            for j in range(fixed.first[b], fixed.first[b] + fixed.size[b]):
                slab = _wall_gap(moving.boxes, moving.walls, a, fixed.planes, j, q, spans)
                if slab > 0.0 and slab * slab >= cut2:
                    continue
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
                        rows.chord[row],
                        eps,
                        work.probe,
                        work.trial,
                        work.spans,
                        trial,
                    )
                    rows.proved[row] = rows.proved[row] and whole
                    if gap < rows.chord[row]:
                        rows.chord[row], rows.shares[row] = gap, share
                        rows.pairs[row, 0], rows.pairs[row, 1] = i, j
                        rows.places[row, :6] = trial[:6]
                        cut2 = cut_at(gap, eps)
                        if one:
                            cuts[0], found[0] = cut2, k
                            shared[0] = min(shared[0], gap)
                        else:
                            change_cut(cuts, q, cut2)
            continue
        if top + 2 > work.bounds.size:
            return NO_ROOM
        a0, a1, b0, b1, q0, q1 = a, a, b, b, q, q
        smear = SMEAR_COUNTS * spans.smear[q] if q < leaves else -1.0
        if q < leaves and smear >= bulk_a and smear >= bulk_b:
            q0, q1 = 2 * q, 2 * q + 1
        elif bulk_a >= bulk_b:
            a0 = moving.child[a]
            a1 = a0 + 1
        else:
            b0 = fixed.child[b]
            b1 = b0 + 1
        near = far = math.inf
        if spans.smear[q0] >= 0.0:
            near = _boxes_gap2(moving.boxes, a0, fixed.boxes, b0, q0, spans)
        if spans.smear[q1] >= 0.0:
            far = _boxes_gap2(moving.boxes, a1, fixed.boxes, b1, q1, spans)
        if far < near:
            a0, a1, b0, b1, q0, q1, near, far = a1, a0, b1, b0, q1, q0, far, near
        # The nearer goes on top, to bring the cuts down early.
        cut2 = cuts[0 if one else q1]
        if far < cut2 and not _faces_off(moving, fixed, a1, b1, q1, spans, cut2):
            work.stack[top, 0], work.stack[top, 1], work.stack[top, 2] = a1, b1, q1
            work.bounds[top] = far
            top += 1
        cut2 = cuts[0 if one else q0]
        if near < cut2 and not _faces_off(moving, fixed, a0, b0, q0, spans, cut2):
            work.stack[top, 0], work.stack[top, 1], work.stack[top, 2] = a0, b0, q0
            work.bounds[top] = near
            top += 1
    return DONE
