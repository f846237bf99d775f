"""Least distance over a whole path in one search."""

# ruff: noqa: PLR0912, PLR0913, PLR0915, PLR0917
# A kernel takes rows and scalars: records of them would be copied in the inner loop.

import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from towerlift.gaps.body import Body, piece_count_bound
from towerlift.gaps.cache import inlined, kernel
from towerlift.gaps.inside import enclosed
from towerlift.gaps.path import FinePath, Motion, Path, fine_path
from towerlift.gaps.pose import (
    CONTACT,
    Part,
    Point,
    crossing_at,
    nearest_pair,
    point_out,
    whole,
)
from towerlift.gaps.search import box_size, cut_at, is_skipped, node_reach
from towerlift.gaps.skip import no_answer, skip_keys
from towerlift.gaps.sweep import (
    DEFAULT_EPS,
    DEFAULT_WORKERS,
    ROUNDING,
    check_eps,
    make_work,
    move_run,
    run_boxes_gap2,
    run_slab,
    search_eps,
    settle,
    swept_gap,
)
from towerlift.gaps.tree import WALL_SIZE, TreeArrays

Array = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

SEEDS = 12
TASKS_PER_WORKER = 4


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
def _stretch_gap2(
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
def _search_path(
    moving: TreeArrays,
    fixed: TreeArrays,
    motion: Motion,
    spans: Spans,
    roots: tuple[int, int],
    eps: float,
    skip: Ints,
    entries: int,
    shared: Array,
    pair: Ints,
    found: Array,
    places: Array,
) -> bool:
    """Least distance of moving node roots[0] over stretch roots[1] of the path.

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
    work.stack[0, 0], work.stack[0, 1], work.stack[0, 2] = roots[0], 0, roots[1]
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
            near = _stretch_gap2(
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
            far = _stretch_gap2(
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


@dataclass(frozen=True, slots=True, kw_only=True)
class PathGap:
    """Least distance over a whole path.

    Attributes
    ----------
    upper : float
        Distance attained at `at`; minus the depth there if the bodies touch,
        cross, or lie one inside the other. [m]
    lower : float
        The true least is never below it: ``upper - eps`` or more if
        `certified`, else minus infinity. [m]
    certified : bool
        Whether both bounds hold; False where the bodies meet or the search
        could not be completed.
    at : float
        Parameter at which `upper` is attained.
    moving_point, fixed_point : tuple of float
        Nearest points, or the place of the crossing. Fixed frame. [m]
    moving_triangle, fixed_triangle : int
        Faces they lie on.
    moving_member, fixed_member : int
        Members they belong to.
    """

    upper: float
    lower: float
    certified: bool
    at: float
    moving_point: Point
    fixed_point: Point
    moving_triangle: int
    fixed_triangle: int
    moving_member: int
    fixed_member: int

    @property
    def struck(self) -> bool:
        """Whether the bodies touch, cross, or lie one inside the other."""
        return not self.upper > 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Question:
    """Everything one search over a path needs, whatever part it looks at."""

    moving: Body
    fixed: Body
    path: Path
    fine: FinePath
    spans: Spans
    eps: float
    skip: Ints
    entries: int


def ask(moving: Body, fixed: Body, path: Path, how: tuple[float, ArrayLike | None]) -> Question:
    eps, skip_pairs = how
    check_eps(eps)
    fine = fine_path(moving, fixed, path, eps / 8.0)
    radius = float(np.abs(moving.tree.boxes[0]).max()) * math.sqrt(3.0)
    spans = make_spans(fine.motion, radius)
    depth = 2 * spans.smear.size.bit_length()
    return Question(
        moving=moving,
        fixed=fixed,
        path=path,
        fine=fine,
        spans=spans,
        eps=eps,
        skip=skip_keys(moving, fixed, skip_pairs),
        entries=piece_count_bound(moving) + piece_count_bound(fixed) + depth,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """Best pair of one search: pieces, fine step, share of it, and the proof."""

    pair: Ints
    step: int
    share: float
    chord: float
    proved: bool


def seed(question: Question, part: Part, n_seeds: int) -> Found:
    """Exact least distance at a few stations: an upper bound to start from."""
    last = len(question.fine.motion.angles)
    return _seed_at(question, part, np.unique(np.linspace(0, last, n_seeds).astype(int)))


def _seed_at(question: Question, part: Part, stations: Ints) -> Found:
    motion = question.fine.motion
    last = len(motion.angles)
    pair, places = np.array([-1, -1]), np.zeros(9)
    best = Found(pair=pair.copy(), step=0, share=0.0, chord=math.inf, proved=True)
    for k in stations:
        gap2 = nearest_pair(
            part.tree,
            question.fixed.tree,
            motion.turns[k : k + 1],
            motion.shifts[k : k + 1],
            part.root,
            question.entries,
            question.skip,
            pair,
            places,
        )
        if pair[0] < 0:
            raise no_answer(question.moving, question.fixed, proved=gap2 >= 0.0)
        if 0.0 <= gap2 < best.chord**2:
            step = min(int(k), last - 1)
            best = Found(
                pair=pair.copy(),
                step=step,
                share=float(k - step),
                chord=math.sqrt(gap2),
                proved=True,
            )
    return best


def _seed_together(question: Question, part: Part, workers: int) -> Found:
    """As `seed`, with the stations shared among threads."""
    last = len(question.fine.motion.angles)
    stations = np.unique(np.linspace(0, last, SEEDS).astype(int))
    shares = [share for share in np.array_split(stations, max(workers, 1)) if len(share)]
    with ThreadPoolExecutor(max(workers, 1)) as pool:
        found = list(pool.map(lambda share: _seed_at(question, part, share), shares))
    return min(found, key=lambda one: one.chord)


def search(
    question: Question, part: Part, stretches: Sequence[int], how: tuple[int, Found]
) -> Found:
    """Search all stretches from one root, with threads that share the least found."""
    workers, best = how
    shared = np.array([best.chord])

    def run(stretch: int) -> Found:
        pair, found, places = np.array([-1, -1]), np.full(3, np.inf), np.zeros(9)
        proved = _search_path(
            part.tree,
            question.fixed.tree,
            question.fine.motion,
            question.spans,
            (part.root, stretch),
            search_eps(question.eps),
            question.skip,
            question.entries,
            shared,
            pair,
            found,
            places,
        )
        step = int(found[1]) if pair[0] >= 0 else -1
        return Found(
            pair=pair, step=step, share=float(found[2]), chord=float(found[0]), proved=proved
        )

    if workers > 1:
        with ThreadPoolExecutor(workers) as pool:
            runs = list(pool.map(run, stretches))
    else:
        runs = [run(stretch) for stretch in stretches]
    winner = min([best, *runs], key=lambda found: found.chord)
    return Found(
        pair=winner.pair,
        step=winner.step,
        share=winner.share,
        chord=winner.chord,
        proved=all(found.proved for found in runs),
    )


def settled(question: Question, part: Part, found: Found, inside: bool | None) -> PathGap:
    """Measure the best pair on the true path, and how deep if the bodies meet."""
    moving, fixed, fine = question.moving, question.fixed, question.fine
    places = np.zeros(9)
    upper = settle(
        part.tree, fixed.tree, fine.motion, found.step, found.share, found.pair, places
    )
    at = fine.stations[found.step] + found.share * (
        fine.stations[found.step + 1] - fine.stations[found.step]
    )
    at = min(float(at), float(question.path.stations[-1]))
    met = upper <= CONTACT or found.chord <= CONTACT
    if met:
        crossing = crossing_at(
            moving, fixed, question.path.pose_at(at), question.skip, part=part
        )
        if crossing is not None:
            return PathGap(
                upper=crossing.value,
                lower=-math.inf,
                certified=False,
                at=at,
                moving_point=crossing.moving_point,
                fixed_point=crossing.fixed_point,
                moving_triangle=crossing.moving_triangle,
                fixed_triangle=crossing.fixed_triangle,
                moving_member=crossing.moving_member,
                fixed_member=crossing.fixed_member,
            )
    certified = found.proved and not met and inside is False
    stray = float(fine.motion.strays.max())
    i, j = int(part.sources[found.pair[0]]), int(fixed.sources[found.pair[1]])
    return PathGap(
        upper=-upper if inside else upper,
        lower=found.chord - search_eps(question.eps) - stray - ROUNDING
        if certified
        else -math.inf,
        certified=certified,
        at=at,
        moving_point=point_out(fixed, places[:3]),
        fixed_point=point_out(fixed, places[3:6]),
        moving_triangle=i,
        fixed_triangle=j,
        moving_member=int(moving.members[i]),
        fixed_member=int(fixed.members[j]),
    )


def least_gap(
    moving: Body,
    fixed: Body,
    path: Path,
    *,
    eps: float = DEFAULT_EPS,
    skip_pairs: ArrayLike | None = None,
    workers: int = DEFAULT_WORKERS,
) -> PathGap:
    """Least distance over a whole path, certified to within `eps`.

    Parameters
    ----------
    moving, fixed : Body
        The bodies.
    path : Path
        Path of the moving body.
    eps : float, optional
        Most by which `upper` may exceed the true least. [m]
    skip_pairs : (p, 2) int or None, optional
        Members (moving, fixed) that are meant to touch and are left out.
    workers : int, optional
        Threads.

    Returns
    -------
    gap : PathGap
        ``lower <= true least <= upper``, with where and when.

    Raises
    ------
    ValueError
        If `eps` is out of range, `skip_pairs` names a member that is not
        there, or nothing is left to measure.
    """
    question = ask(moving, fixed, path, (eps, skip_pairs))
    start = _seed_together(question, whole(moving), workers)
    leaves = question.spans.smear.size // 2
    tasks = min(leaves, 1 << (max(workers, 1) * TASKS_PER_WORKER - 1).bit_length())
    stretches = [q for q in range(tasks, 2 * tasks) if question.spans.smear[q] >= 0]
    found = search(question, whole(moving), stretches, (workers, start))
    inside = enclosed(moving, fixed, path.poses[0], question.skip)
    return settled(question, whole(moving), found, inside)
