"""Least distance over each step of a path, with a certificate."""

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from towerlift.gaps.body import Body, piece_count_bound, reach
from towerlift.gaps.inside import enclosed
from towerlift.gaps.nearest import CONTACT
from towerlift.gaps.path import FinePath, Path, fine_path
from towerlift.gaps.pose import crossing_at
from towerlift.gaps.runs import StepRows, no_rows
from towerlift.gaps.skip import no_answer, skip_keys
from towerlift.gaps.steps import STRETCH, search_steps
from towerlift.gaps.stretch import make_spans

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

DEFAULT_EPS = 1e-4
LEAST_EPS = 1e-7
DEFAULT_WORKERS = 2
# What rounding of coordinates within 100 m of each other can add, many times over.
ROUNDING = 1e-11
CHUNKS = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GapSeries:
    """Least distance over each step of a path.

    Attributes
    ----------
    stations : (k + 1,) float
        Parameter at the ends of the steps.
    upper : (k,) float
        Distance attained in each step at `at`; minus the depth there if the
        bodies touch, cross, or lie one inside the other. The true least is
        never above it. [m]
    lower : (k,) float
        The true least is never below it: ``upper - eps`` or more where
        `certified`, else minus infinity. [m]
    certified : (k,) bool
        Whether both bounds hold. False where the bodies meet, as nothing then
        bounds the depth over the whole step, and where the search could not be
        completed.
    at : (k,) float
        Parameter at which `upper` is attained.
    moving_points, fixed_points : (k, 3) float
        Nearest points, or the place of the crossing. Fixed frame. [m]
    moving_triangles, fixed_triangles : (k,) int
        Faces they lie on.
    moving_members, fixed_members : (k,) int
        Members they belong to.
    """

    stations: Array
    upper: Array
    lower: Array
    certified: Flags
    at: Array
    moving_points: Array
    fixed_points: Array
    moving_triangles: Ints
    fixed_triangles: Ints
    moving_members: Ints
    fixed_members: Ints

    @property
    def struck(self) -> Flags:
        """Steps in which the bodies touch, cross, or lie one inside the other."""
        return ~(self.upper > 0)

    @property
    def worst(self) -> int:
        """Step with the least distance."""
        return int(np.argmin(self.upper))


def check_eps(eps: float) -> None:
    """Refuse a tolerance that cannot be certified.

    Parameters
    ----------
    eps : float
        Tolerance. [m]

    Raises
    ------
    ValueError
        If it is not finite or below 1e-7 m.
    """
    if not (eps >= LEAST_EPS and math.isfinite(eps)):
        raise ValueError(f"eps must be finite and at least {LEAST_EPS} m, got {eps} m")


def search_eps(eps: float) -> float:
    """Share of a tolerance left for the search, after strays and rounding.

    Parameters
    ----------
    eps : float
        Tolerance the caller asked for. [m]

    Returns
    -------
    eps : float
        Tolerance of the search along straight runs. [m]
    """
    return 0.75 * eps - 4 * ROUNDING


def gap_series(  # noqa: PLR0913
    moving: Body,
    fixed: Body,
    path: Path,
    *,
    eps: float = DEFAULT_EPS,
    skip_pairs: ArrayLike | None = None,
    workers: int = DEFAULT_WORKERS,
) -> GapSeries:
    """Least distance over every step of a path, certified to within `eps`.

    Parameters
    ----------
    moving, fixed : Body
        The bodies.
    path : Path
        Path of the moving body; what it does between stations is stated there.
    eps : float, optional
        Most by which `upper` may exceed the true least. [m]
    skip_pairs : (p, 2) int or None, optional
        Members (moving, fixed) that are meant to touch and are left out.
    workers : int, optional
        Threads.

    Returns
    -------
    series : GapSeries
        For each step ``lower <= true least <= upper``.

    Raises
    ------
    ValueError
        If `eps` or `workers` is out of range, `skip_pairs` names a member that
        is not there, or nothing is left to measure.
    """
    check_eps(eps)
    if not workers >= 1:
        raise ValueError(f"workers must be at least 1, got {workers}")
    skip = skip_keys(moving, fixed, skip_pairs)
    fine = fine_path(moving, fixed, path, eps / 8.0)
    rows = _search_all(moving, fixed, fine, (search_eps(eps), workers, skip))
    if (rows.pairs < 0).any():
        raise no_answer(moving, fixed, proved=bool(rows.proved.all()))
    lower = rows.chord - search_eps(eps) - fine.motion.strays - ROUNDING
    # A bound that does not keep off nothing does not keep off crossing, however deep.
    lower[~rows.proved | (rows.upper <= CONTACT) | ~(lower > 0)] = -np.inf
    inside = enclosed(moving, fixed, path.poses[0], skip)
    return _by_step(moving, fixed, path, (fine, rows, lower), (inside, skip))


def _search_all(
    moving: Body, fixed: Body, fine: FinePath, how: tuple[float, int, Ints]
) -> StepRows:
    eps, workers, skip = how
    n = len(fine.steps)
    rows = no_rows(n)
    spans = make_spans(fine.motion, reach(moving))
    entries = piece_count_bound(moving) + piece_count_bound(fixed)
    entries += spans.smear.size.bit_length()
    stretches = -(-n // STRETCH)
    chunks = min(stretches, CHUNKS * workers) if workers > 1 else 1
    edges = np.minimum(n, STRETCH * np.linspace(0, stretches, chunks + 1).astype(int))

    def search(chunk: int) -> None:
        span = (int(edges[chunk]), int(edges[chunk + 1]))
        search_steps(
            moving.tree, fixed.tree, fine.motion, spans, span, eps, skip, entries, rows
        )

    if workers == 1:
        search(0)
        return rows
    with ThreadPoolExecutor(workers) as pool:
        list(pool.map(search, range(chunks)))
    return rows


def _by_step(
    moving: Body,
    fixed: Body,
    path: Path,
    found: tuple[FinePath, StepRows, Array],
    contact: tuple[bool | None, Ints],
) -> GapSeries:
    """Gather fine steps into the steps of the path."""
    fine, rows, fine_lower = found
    inside, skip = contact
    starts = np.flatnonzero(np.diff(fine.steps, prepend=-1))
    lower = np.minimum.reduceat(fine_lower, starts)
    best = np.array(
        [
            first + int(np.argmin(rows.upper[first:last]))
            for first, last in zip(starts, [*starts[1:], len(fine.steps)], strict=True)
        ]
    )
    at = fine.stations[best] + rows.shares[best] * np.diff(fine.stations)[best]
    upper = rows.upper[best].copy()
    pieces = rows.pairs[best]
    moving_faces, fixed_faces = moving.sources[pieces[:, 0]], fixed.sources[pieces[:, 1]]
    places = rows.places[best]
    points = [p @ fixed.frame.T + fixed.centre for p in (places[:, :3], places[:, 3:6])]
    if inside is not False:
        lower[:] = -np.inf
        upper = -upper if inside else upper
    series = GapSeries(
        stations=path.stations,
        upper=upper,
        lower=lower,
        certified=np.isfinite(lower),
        at=at,
        moving_points=points[0],
        fixed_points=points[1],
        moving_triangles=moving_faces.astype(np.int64),
        fixed_triangles=fixed_faces.astype(np.int64),
        moving_members=moving.members[moving_faces],
        fixed_members=fixed.members[fixed_faces],
    )
    for step in np.flatnonzero(series.upper <= CONTACT):
        if not inside:
            _deepen(moving, fixed, path, (series, int(step)), skip)
    return series


def _deepen(
    moving: Body, fixed: Body, path: Path, struck: tuple[GapSeries, int], skip: Ints
) -> None:
    """Replace a touch by the deepest crossing at its place and at the step's ends."""
    series, step = struck
    for station in (series.at[step], path.stations[step], path.stations[step + 1]):
        crossing = crossing_at(moving, fixed, path.pose_at(float(station)), skip)
        if crossing is None or crossing.value >= series.upper[step]:
            continue
        series.upper[step], series.at[step] = crossing.value, station
        series.moving_points[step] = crossing.moving_point
        series.fixed_points[step] = crossing.fixed_point
        series.moving_triangles[step] = crossing.moving_triangle
        series.fixed_triangles[step] = crossing.fixed_triangle
        series.moving_members[step] = crossing.moving_member
        series.fixed_members[step] = crossing.fixed_member
