"""Triangles on straight runs: what bounds them, and what is known of each step."""

# ruff: noqa: PLR0913, PLR0917
# A kernel takes rows and scalars: records of them would be copied in the inner loop.

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps.cache import inlined, kernel
from towerlift.gaps.nearest import CONTACT
from towerlift.gaps.path import Motion
from towerlift.gaps.search import move_box, move_triangle
from towerlift.gaps.tree import TreeArrays
from towerlift.gaps.triangles import triangle_gap2

Array = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

MOST_HALVINGS = 100
# More pairs of nodes than any search can look at.
ANY_NUMBER = 1 << 62
SHORTEST = 1e-12


class Work(NamedTuple):
    """Room for one search, used again for every step.

    `known` is the step for which the boxes of a node's children, or the pieces
    of a leaf, have been moved.
    """

    boxes: Array
    start: Array
    end: Array
    known: NDArray[np.int32]
    one_start: Array
    one_end: Array
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


def no_rows(steps: int) -> StepRows:
    """Rows of steps of which nothing is known yet.

    Parameters
    ----------
    steps : int
        How many.

    Returns
    -------
    rows : StepRows
        Without pairs, not proved.
    """
    return StepRows(
        np.full(steps, np.inf),
        np.full(steps, np.inf),
        np.zeros(steps),
        np.full((steps, 2), -1),
        np.zeros((steps, 9)),
        np.zeros(steps, np.bool_),
    )


@kernel
def make_work(n_nodes: int, n_pieces: int, entries: int) -> Work:
    """Room for a search of a moving tree of this size."""
    return Work(
        np.empty((n_nodes, 6)),
        np.empty((n_pieces, 9)),
        np.empty((n_pieces, 9)),
        np.full(n_nodes, -1, np.int32),
        np.empty((1, 9)),
        np.empty((1, 9)),
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
def run_box(
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
def try_pair(
    moving: TreeArrays,
    fixed: TreeArrays,
    motion: Motion,
    k: int,
    i: int,
    j: int,
    eps: float,
    work: Work,
    rows: StepRows,
) -> bool:
    """Lower what is known of step k by the pair of pieces i, j, if that is nearer.

    Returns whether it is proved that the pair comes no nearer than eps less than
    what is known then.
    """
    for end in range(2):
        move_triangle(
            moving.triangles,
            i,
            motion.turns,
            motion.shifts,
            k + end,
            work.one_start if end == 0 else work.one_end,
            0,
        )
    gap, share, whole = swept_gap(
        work.one_start,
        work.one_end,
        0,
        fixed.triangles,
        j,
        rows.chord[k],
        eps,
        work.probe,
        work.trial,
        work.spans,
        rows.places[k],
    )
    if gap < rows.chord[k]:
        rows.chord[k], rows.shares[k] = gap, share
        rows.pairs[k, 0], rows.pairs[k, 1] = i, j
    return whole


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
