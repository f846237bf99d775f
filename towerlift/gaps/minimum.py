"""Least distance over a whole path in one search."""

import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from towerlift.gaps.body import Body, piece_count_bound, reach
from towerlift.gaps.inside import enclosed
from towerlift.gaps.nearest import CONTACT, nearest_pair
from towerlift.gaps.path import FinePath, Path, fine_path
from towerlift.gaps.pose import Part, Point, crossing_at, point_out, whole
from towerlift.gaps.runs import ANY_NUMBER, make_work, no_rows, settle
from towerlift.gaps.search import cut_at
from towerlift.gaps.skip import no_answer, skip_keys
from towerlift.gaps.stretch import DONE, Spans, make_spans, search_stretch
from towerlift.gaps.sweep import (
    DEFAULT_EPS,
    DEFAULT_WORKERS,
    ROUNDING,
    check_eps,
    search_eps,
)

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

SEEDS = 12
TASKS_PER_WORKER = 4

Sides = tuple[Part, Part]


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
    """Gather what a search needs, after checking it."""
    eps, skip_pairs = how
    check_eps(eps)
    fine = fine_path(moving, fixed, path, eps / 8.0)
    spans = make_spans(fine.motion, reach(moving))
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


def seed(question: Question, sides: Sides, n_seeds: int) -> Found:
    """Exact least distance at a few stations: an upper bound to start from."""
    last = len(question.fine.motion.angles)
    return _seed_at(question, sides, np.unique(np.linspace(0, last, n_seeds).astype(int)))


def _seed_at(question: Question, sides: Sides, stations: Ints) -> Found:
    motion = question.fine.motion
    last = len(motion.angles)
    pair, places = np.array([-1, -1]), np.zeros(9)
    best = Found(pair=pair.copy(), step=0, share=0.0, chord=math.inf, proved=True)
    for k in stations:
        gap2 = nearest_pair(
            sides[0].tree,
            sides[1].tree,
            motion.turns[k : k + 1],
            motion.shifts[k : k + 1],
            (sides[0].root, sides[1].root),
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


def _seed_together(question: Question, sides: Sides, workers: int) -> Found:
    """As `seed`, with the stations shared among threads."""
    last = len(question.fine.motion.angles)
    stations = np.unique(np.linspace(0, last, SEEDS).astype(int))
    if workers <= 1:
        return _seed_at(question, sides, stations)
    shares = [share for share in np.array_split(stations, max(workers, 1)) if len(share)]
    with ThreadPoolExecutor(max(workers, 1)) as pool:
        found = list(pool.map(lambda share: _seed_at(question, sides, share), shares))
    return min(found, key=lambda one: one.chord)


def search(
    question: Question, sides: Sides, stretches: Sequence[int], how: tuple[int, Found]
) -> Found:
    """Search all stretches from one root, with threads that share the least found."""
    workers, best = how
    shared = np.array([best.chord])

    def run(stretch: int) -> Found:
        row, step = no_rows(1), np.array([-1])
        row.chord[0], row.proved[0] = shared[0], True
        eps = search_eps(question.eps)
        ended = search_stretch(
            sides[0].tree,
            sides[1].tree,
            question.fine.motion,
            question.spans,
            (sides[0].root, sides[1].root, stretch),
            (eps, ANY_NUMBER),
            question.skip,
            make_work(sides[0].tree.child.size, len(sides[0].sources), question.entries),
            np.array([cut_at(row.chord[0], eps)]),
            row,
            shared,
            step,
        )
        mine = row.pairs[0, 0] >= 0
        return Found(
            pair=row.pairs[0],
            step=int(step[0]),
            share=float(row.shares[0]),
            chord=float(row.chord[0]) if mine else math.inf,
            proved=bool(row.proved[0]) and ended == DONE,
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


def settled(question: Question, sides: Sides, found: Found, inside: bool | None) -> PathGap:
    """Measure the best pair on the true path, and how deep if the bodies meet."""
    moving, fixed, fine = question.moving, question.fixed, question.fine
    places = np.zeros(9)
    upper = settle(
        sides[0].tree, sides[1].tree, fine.motion, found.step, found.share, found.pair, places
    )
    at = fine.stations[found.step] + found.share * (
        fine.stations[found.step + 1] - fine.stations[found.step]
    )
    at = min(float(at), float(question.path.stations[-1]))
    stray = float(fine.motion.strays.max())
    lower = found.chord - search_eps(question.eps) - stray - ROUNDING
    # A bound that does not keep off nothing does not keep off crossing, however deep.
    met = upper <= CONTACT or not lower > 0
    if met:
        crossing = crossing_at(
            moving, fixed, question.path.pose_at(at), question.skip, parts=sides
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
    i, j = int(sides[0].sources[found.pair[0]]), int(sides[1].sources[found.pair[1]])
    return PathGap(
        upper=-upper if inside else upper,
        lower=lower if certified else -math.inf,
        certified=certified,
        at=at,
        moving_point=point_out(fixed, places[:3]),
        fixed_point=point_out(fixed, places[3:6]),
        moving_triangle=i,
        fixed_triangle=j,
        moving_member=int(moving.members[i]),
        fixed_member=int(fixed.members[j]),
    )


def least_gap(  # noqa: PLR0913
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
    sides = (whole(moving), whole(fixed))
    start = _seed_together(question, sides, workers)
    leaves = question.spans.smear.size // 2
    tasks = min(leaves, 1 << (max(workers, 1) * TASKS_PER_WORKER - 1).bit_length())
    stretches = [q for q in range(tasks, 2 * tasks) if question.spans.smear[q] >= 0]
    found = search(question, sides, stretches, (workers, start))
    inside = enclosed(moving, fixed, path.poses[0], question.skip)
    return settled(question, sides, found, inside)
