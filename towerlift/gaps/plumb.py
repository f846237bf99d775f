"""The plumb line and turn that give a raise its greatest least distance."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import linprog

from towerlift.gaps.body import Body
from towerlift.gaps.minimum import PathGap, least_gap
from towerlift.gaps.path import Path, step_turns
from towerlift.gaps.sweep import DEFAULT_EPS, GapSeries, gap_series

Array = NDArray[np.float64]

ROUNDS = 12
SMALLEST_TRUST = 1e-4
# Not sought for: less than the engine is asked to tell apart.
LEAST_GAIN = 1e-4
# What the search steers by; what is reported is measured again over the whole path.
STEERING_EPS = 1e-3
STEERING_STEPS = 60
COARSEST_TURN = 0.1
# Where the whole path is nearer than what was steered by, its nearest place is learnt.
LEARNT_AT_MOST = 4
LEARNT_FROM = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """A shift of a whole path in plan, and a turn of the body on it.

    Attributes
    ----------
    x, y : float
        Shift, fixed frame. [m]
    yaw : float
        Turn about the body's own z axis through its origin. [rad]
    """

    x: float = 0.0
    y: float = 0.0
    yaw: float = 0.0

    def applied(self, path: Path) -> Path:
        """The path, shifted and turned.

        Parameters
        ----------
        path : Path
            The path.

        Returns
        -------
        shifted : Path
            The same stations, each pose shifted and turned.
        """
        poses = path.poses.copy()
        cosine, sine = math.cos(self.yaw), math.sin(self.yaw)
        turn = np.array([[cosine, -sine, 0.0], [sine, cosine, 0.0], [0.0, 0.0, 1.0]])
        poses[:, :3, :3] = poses[:, :3, :3] @ turn
        poses[:, 0, 3] += self.x
        poses[:, 1, 3] += self.y
        return Path(stations=path.stations, poses=poses)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlumbLine:
    """The best shift found, measured by the engine before and after.

    Attributes
    ----------
    shift : Shift
        What to do to the path.
    before, after : PathGap
        Certified least distance without and with it.
    """

    shift: Shift
    before: PathGap
    after: PathGap

    @property
    def gain(self) -> float:
        """How much the least distance grows. [m]"""
        return self.after.upper - self.before.upper


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """How far the shift may be sought.

    Attributes
    ----------
    shift : float
        Greatest shift in x and in y. [m]
    yaw : float
        Greatest turn. [rad]
    """

    shift: float = 0.05
    yaw: float = 0.01


DEFAULT_REACH = Reach()


def best_plumb_line(
    moving: Body,
    fixed: Body,
    path: Path,
    *,
    reach: Reach = DEFAULT_REACH,
    skip_pairs: ArrayLike | None = None,
) -> PlumbLine:
    """Shift in plan and turn that make the least distance of a raise greatest.

    Parameters
    ----------
    moving, fixed : Body
        The bodies.
    path : Path
        Path of the moving body.
    reach : Reach, optional
        How far to seek.
    skip_pairs : (p, 2) int or None, optional
        Members (moving, fixed) left out: meant contacts, or protrusions that
        are to be pared away.

    Returns
    -------
    line : PlumbLine
        Never worse than no shift; both ends measured by `least_gap`.

    Raises
    ------
    ValueError
        As `least_gap`.

    Notes
    -----
    Each round measures the nearest points of some dozens of steps, takes how the
    shift would move them towards or away from each other, and finds the shift for
    which the least of all these, from all rounds, is greatest. It is kept only
    if a greater least distance is then measured; else it is sought nearer. At
    last the engine measures the whole path; if it finds a place that is nearer
    than any steered by, that is learnt and the shift found again.

    Certified are the distances before and after. That no other shift leaves more
    is not: it rests on distances being nearly straight in so small a shift.
    `plumb_ceiling` proves how much more any other could leave.
    """
    start = least_gap(moving, fixed, path, skip_pairs=skip_pairs)
    limits = np.array([reach.shift, reach.shift, reach.yaw])
    coarse = thinned(path, STEERING_STEPS)

    def series(at: Array) -> GapSeries:
        shifted = _shift(at).applied(coarse)
        return gap_series(moving, fixed, shifted, eps=STEERING_EPS, skip_pairs=skip_pairs)

    best, steered, tangents = _steered(coarse, series, limits)
    line = PlumbLine(shift=Shift(), before=start, after=start)
    for _ in range(LEARNT_AT_MOST):
        shift = _shift(best)
        shifted = shift.applied(path)
        after = least_gap(moving, fixed, shifted, eps=DEFAULT_EPS, skip_pairs=skip_pairs)
        if after.upper > line.after.upper:
            line = PlumbLine(shift=shift, before=start, after=after)
        if not 0 < after.upper < steered - LEARNT_FROM:
            break
        value, slope = _tangent(shifted, after, best)
        tangents = np.append(tangents[0], value), np.concatenate([tangents[1], slope])
        best = _greatest_least(tangents, best, limits, limits)
        steered = float((tangents[0] + tangents[1] @ best).min())
    return line


def thinned(path: Path, steps: int) -> Path:
    """The path by no more than so many of its own poses.

    Parameters
    ----------
    path : Path
        The path.
    steps : int
        Most steps to keep.

    Returns
    -------
    coarse : Path
        Evenly chosen stations, both ends among them; the path itself if it has no
        more steps, or turns too much between the stations that would be kept.
    """
    if len(path.stations) - 1 <= steps:
        return path
    rows = np.unique(np.linspace(0, len(path.stations) - 1, steps + 1).astype(int))
    _, turns = step_turns(path.poses[rows, :3, :3])
    if not (turns <= COARSEST_TURN).all():
        return path
    return Path(stations=path.stations[rows], poses=path.poses[rows])


def _steered(
    coarse: Path, series: Callable[[Array], GapSeries], limits: Array
) -> tuple[Array, float, tuple[Array, Array]]:
    """Best shift by the coarse path, its least distance there, and all tangents."""
    best, best_gap = np.zeros(3), -math.inf
    trust = 1.0
    values, slopes = np.empty(0), np.empty((0, 3))
    at = best
    for _ in range(ROUNDS):
        found = series(at)
        if found.upper.min() > best_gap:
            best, best_gap = at, float(found.upper.min())
        else:
            trust *= 0.5
        new_values, new_slopes = _tangents(_shift(at).applied(coarse), found, at)
        values, slopes = np.append(values, new_values), np.concatenate([slopes, new_slopes])
        if not len(values):
            # They touch in every step: no pair shows which way is out.
            break
        at = _greatest_least((values, slopes), best, trust * limits, limits)
        hoped = float((values + slopes @ at).min()) - best_gap
        if (
            hoped < LEAST_GAIN
            or np.abs((at - best) / limits).max() * limits[0] < SMALLEST_TRUST
        ):
            break
    return best, best_gap, (values, slopes)


def _shift(at: Array) -> Shift:
    return Shift(x=float(at[0]), y=float(at[1]), yaw=float(at[2]))


def _tangents(path: Path, series: GapSeries, at: Array) -> tuple[Array, Array]:
    """Distance of each step as a straight function of the shift: value at none, slope."""
    apart = series.moving_points - series.fixed_points
    lengths = np.linalg.norm(apart, axis=1)
    kept = lengths > 0
    away = apart[kept] / lengths[kept, None]
    steps = np.flatnonzero(kept)
    # A turn about the body's own axis carries a point square to its arm.
    axes = path.poses[steps, :3, 2]
    arms = series.moving_points[kept] - path.poses[steps, :3, 3]
    share = (series.at[kept] - path.stations[steps]) / np.diff(path.stations)[steps]
    arms -= share[:, None] * (path.poses[steps + 1, :3, 3] - path.poses[steps, :3, 3])
    turning = np.einsum("ij,ij->i", away, np.cross(axes, arms))
    slopes = np.stack([away[:, 0], away[:, 1], turning], axis=1)
    return series.upper[kept] - slopes @ at, slopes


def _tangent(path: Path, gap: PathGap, at: Array) -> tuple[float, Array]:
    """The same of one pair of nearest points, slope as a row."""
    apart = np.subtract(gap.moving_point, gap.fixed_point)
    away = apart / np.linalg.norm(apart)
    pose = path.pose_at(gap.at)
    turning = float(away @ np.cross(pose[:3, 2], gap.moving_point - pose[:3, 3]))
    slope = np.array([[away[0], away[1], turning]])
    return gap.upper - float(slope[0] @ at), slope


def _greatest_least(
    tangents: tuple[Array, Array], centre: Array, trust: Array, limits: Array
) -> Array:
    """Shift within a box for which the least of straight functions is greatest.

    A linear program: the level is raised until no shift leaves every function above it.
    Shift and turn are measured in shares of their limits.
    """
    values, slopes = tangents
    low, high = np.maximum(centre - trust, -limits), np.minimum(centre + trust, limits)
    found = linprog(
        [0.0, 0.0, 0.0, -1.0],
        A_ub=np.column_stack([-slopes * limits, np.ones(len(values))]),
        b_ub=values,
        bounds=[*zip(low / limits, high / limits, strict=True), (None, None)],
        method="highs",
    )
    if found.x is None:
        # The box holds its centre, so only rounding can be in the way: it stays.
        return centre
    at: Array = np.clip(found.x[:3] * limits, low, high)
    return at
