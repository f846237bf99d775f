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
from towerlift.gaps.search import (
    axes_apart,
    cut_at,
    is_skipped,
    level_share,
    node_reach,
    pieces_reach,
    rings_off,
)
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
def _boxes_gap2(
    boxes: Singles,
    a: int,
    fixed: Singles,
    b: int,
    q: int,
    turn_mid: Array,
    turn_run: Array,
    turn_rest: Array,
    shift_mid: Array,
    shift_run: Array,
    shift_rest: Array,
) -> float:
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
        rx, ry, rz = turn_mid[q, c, 0], turn_mid[q, c, 1], turn_mid[q, c, 2]
        ux, uy, uz = turn_run[q, c, 0], turn_run[q, c, 1], turn_run[q, c, 2]
        middle = rx * cx + ry * cy + rz * cz + shift_mid[q, c]
        half = abs(rx) * hx + abs(ry) * hy + abs(rz) * hz
        half += abs(ux * cx + uy * cy + uz * cz + shift_run[q, c])
        half += abs(ux) * hx + abs(uy) * hy + abs(uz) * hz
        half += turn_rest[q, c, 0] * fx + turn_rest[q, c, 1] * fy
        half += turn_rest[q, c, 2] * fz + shift_rest[q, c]
        away = max(middle - half - fixed[b, 3 + c], fixed[b, c] - middle - half)
        if away > 0.0:
            gap2 += away * away
    return gap2


@inlined
def _wall_gap(
    boxes: Singles,
    facings: Singles,
    a: int,
    walls: Singles,
    b: int,
    q: int,
    turn_mid: Array,
    turn_run: Array,
    turn_rest: Array,
    shift_mid: Array,
    shift_run: Array,
    shift_rest: Array,
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
        turn_mid[q, 0, 0] * x + turn_mid[q, 1, 0] * y + turn_mid[q, 2, 0] * z,
        turn_mid[q, 0, 1] * x + turn_mid[q, 1, 1] * y + turn_mid[q, 2, 1] * z,
        turn_mid[q, 0, 2] * x + turn_mid[q, 1, 2] * y + turn_mid[q, 2, 2] * z,
    )
    cx, hx = 0.5 * (boxes[a, 3] + boxes[a, 0]), 0.5 * (boxes[a, 3] - boxes[a, 0])
    cy, hy = 0.5 * (boxes[a, 4] + boxes[a, 1]), 0.5 * (boxes[a, 4] - boxes[a, 1])
    cz, hz = 0.5 * (boxes[a, 5] + boxes[a, 2]), 0.5 * (boxes[a, 5] - boxes[a, 2])
    fx, fy, fz = abs(cx) + hx, abs(cy) + hy, abs(cz) + hz
    away = run = spread = ux = uy = uz = 0.0
    for c in range(3):
        n = walls[b, c]
        away += n * shift_mid[q, c]
        run += n * shift_run[q, c]
        ux += n * turn_run[q, c, 0]
        uy += n * turn_run[q, c, 1]
        uz += n * turn_run[q, c, 2]
        rest = turn_rest[q, c, 0] * fx + turn_rest[q, c, 1] * fy
        spread += abs(n) * (rest + turn_rest[q, c, 2] * fz + shift_rest[q, c])
    spread += abs(ux * cx + uy * cy + uz * cz + run)
    spread += abs(ux) * hx + abs(uy) * hy + abs(uz) * hz
    gap: float = max(low + away - walls[b, 4], walls[b, 3] - high - away) - spread
    return gap


@inlined
def _moved_slab(
    facings: Singles,
    a: int,
    q: int,
    turn: Array,
    swing: Array,
    shift_mid: Array,
    shift_run: Array,
    shift_rest: Array,
) -> tuple[float, float, float, float, float]:
    """Direction of a moved slab about the middle of stretch q, and its reach along it."""
    u, v, w = facings[a, 0], facings[a, 1], facings[a, 2]
    x = turn[q, 0, 0] * u + turn[q, 0, 1] * v + turn[q, 0, 2] * w
    y = turn[q, 1, 0] * u + turn[q, 1, 1] * v + turn[q, 1, 2] * w
    z = turn[q, 2, 0] * u + turn[q, 2, 1] * v + turn[q, 2, 2] * w
    away = x * shift_mid[q, 0] + y * shift_mid[q, 1] + z * shift_mid[q, 2]
    run = x * shift_run[q, 0] + y * shift_run[q, 1] + z * shift_run[q, 2]
    spread = abs(run) + abs(x) * shift_rest[q, 0] + swing[q]
    spread += abs(y) * shift_rest[q, 1] + abs(z) * shift_rest[q, 2]
    return x, y, z, facings[a, 3] + away - spread, facings[a, 4] + away + spread


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
def _axes_apart(
    moving: TreeArrays,
    fixed: TreeArrays,
    motion: Motion,
    roots: tuple[int, int, int],
    leaves: int,
) -> Array:
    """Greatest distance of the axes in every stretch within roots[2], `leaves` of a step."""
    apart = np.zeros(2 * leaves)
    low, high = roots[2], roots[2] + 1
    while low < leaves:
        low, high = 2 * low, 2 * high
    steps = motion.angles.size
    for k in range(low - leaves, min(high - leaves, steps)):
        apart[leaves + k] = max(
            axes_apart(moving, roots[0], fixed, motion.turns, motion.shifts, k),
            axes_apart(moving, roots[0], fixed, motion.turns, motion.shifts, k + 1),
        )
    while low > roots[2]:
        low, high = low // 2, high // 2
        for q in range(low, high):
            apart[q] = max(apart[2 * q], apart[2 * q + 1])
    return apart


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
    start, end, known = work.start, work.end, work.known
    stack, bounds, probe, inner, halves = (
        work.stack,
        work.bounds,
        work.probe,
        work.trial,
        work.spans,
    )
    n_fixed = np.int64(1) << 32
    # Named once, as a tuple taken apart in the innermost steps costs more than they do.
    turn_mid, turn_run, turn_rest = spans.turn_mid, spans.turn_run, spans.turn_rest
    shift_mid, shift_run, shift_rest = spans.shift_mid, spans.shift_run, spans.shift_rest
    turn, swing, smears = spans.turn, spans.swing, spans.smear
    leaves = smears.size // 2
    eps, left = how
    trial = np.empty(9)
    apart, level = _axes_apart(moving, fixed, motion, roots, leaves), level_share(fixed)
    stack[0, 0], stack[0, 1], stack[0, 2] = roots[0], roots[1], roots[2]
    bounds[0] = 0.0
    top = 1
    while top > 0:
        top -= 1
        a, b, q = stack[top, 0], stack[top, 1], stack[top, 2]
        if one and shared[0] < rows.chord[0]:
            rows.chord[0], rows.pairs[0, 0] = shared[0], -1
            cuts[0] = cut_at(shared[0], eps)
        cut2 = cuts[0 if one else q]
        if bounds[top] >= cut2:
            continue
        left -= 1
        if left < 0:
            return GIVEN_UP
        bulk_a, bulk_b = bulks_a[a], bulks_b[b]
        if bulk_a < 0.0 and bulk_b < 0.0 and q >= leaves:
            k = q - leaves
            row = 0 if one else k
            low, high = first_a[a], first_a[a] + size_a[a]
            for j in range(first_b[b], first_b[b] + size_b[b]):
                slab = _wall_gap(
                    boxes_a,
                    walls_a,
                    a,
                    planes_b,
                    j,
                    q,
                    turn_mid,
                    turn_run,
                    turn_rest,
                    shift_mid,
                    shift_run,
                    shift_rest,
                )
                if slab > 0.0 and slab * slab >= cut2:
                    continue
                if known[a] != k:
                    known[a] = k
                    for i in range(low, high):
                        move_run(
                            pieces_a,
                            i,
                            motion.turns,
                            motion.shifts,
                            k,
                            start,
                            end,
                        )
                for i in range(low, high):
                    slab = run_slab(start, end, i, planes_b, j)
                    if slab > 0.0 and slab * slab >= cut2:
                        continue
                    if run_boxes_gap2(start, end, i, pieces_b, j) >= cut2:
                        continue
                    x, y, z, least, most = _moved_slab(
                        planes_a, i, q, turn, swing, shift_mid, shift_run, shift_rest
                    )
                    nearest, farthest = pieces_reach(pieces_b, j, j + 1, x, y, z)
                    slab = max(nearest - most, least - farthest)
                    if slab > 0.0 and slab * slab >= cut2:
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
                        rows.chord[row],
                        eps,
                        probe,
                        inner,
                        halves,
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
        if top + 2 > bounds.size:
            return NO_ROOM
        a0, a1, b0, b1, q0, q1 = a, a, b, b, q, q
        smear = SMEAR_COUNTS * smears[q] if q < leaves else -1.0
        if q < leaves and smear >= bulk_a and smear >= bulk_b:
            q0, q1 = 2 * q, 2 * q + 1
        elif bulk_a >= bulk_b:
            a0 = child_a[a]
            a1 = a0 + 1
        else:
            b0 = child_b[b]
            b1 = b0 + 1
        bound0 = bound1 = math.inf
        if smears[q0] >= 0.0:
            bound0 = _boxes_gap2(
                boxes_a,
                a0,
                boxes_b,
                b0,
                q0,
                turn_mid,
                turn_run,
                turn_rest,
                shift_mid,
                shift_run,
                shift_rest,
            )
        if smears[q1] >= 0.0:
            bound1 = _boxes_gap2(
                boxes_a,
                a1,
                boxes_b,
                b1,
                q1,
                turn_mid,
                turn_run,
                turn_rest,
                shift_mid,
                shift_run,
                shift_rest,
            )
        # The nearer goes on top, to bring the cuts down early.
        for turn_of in range(2):
            if (turn_of == 0) == (bound1 >= bound0):
                a, b, q, bound = a1, b1, q1, bound1
            else:
                a, b, q, bound = a0, b0, q0, bound0
            cut2 = cuts[0 if one else q]
            if bound >= cut2:
                continue
            if rings_off(radii_a, a, radii_b, b, apart[q], level, cut2):
                continue
            if size_b[b] <= WALL_SIZE:
                slab = _wall_gap(
                    boxes_a,
                    walls_a,
                    a,
                    walls_b,
                    b,
                    q,
                    turn_mid,
                    turn_run,
                    turn_rest,
                    shift_mid,
                    shift_run,
                    shift_rest,
                )
                if slab > 0.0 and slab * slab >= cut2:
                    continue
            if size_a[a] <= WALL_SIZE:
                x, y, z, least, most = _moved_slab(
                    walls_a, a, q, turn, swing, shift_mid, shift_run, shift_rest
                )
                nearest, farthest = node_reach(boxes_b, walls_b, b, x, y, z)
                slab = max(nearest - most, least - farthest)
                if slab > 0.0 and slab * slab >= cut2:
                    continue
            stack[top, 0], stack[top, 1], stack[top, 2] = a, b, q
            bounds[top] = bound
            top += 1
    return DONE
