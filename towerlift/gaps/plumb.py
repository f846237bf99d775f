"""The plumb line and turn that give a raise its greatest least distance."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from towerlift.gaps.body import Body
from towerlift.gaps.minimum import PathGap, least_gap
from towerlift.gaps.path import Path
from towerlift.gaps.sweep import DEFAULT_EPS, GapSeries, gap_series

Array = NDArray[np.float64]

ROUNDS = 12
SMALLEST_TRUST = 1e-4
# What the search steers by; what is reported is measured again.
STEERING_EPS = 1e-4


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
    Each round measures the nearest points of every step, takes how the shift
    would move them towards or away from each other, and finds the shift for
    which the least of all these, from all rounds, is greatest. It is kept only
    if the engine then measures a greater least distance; else it is sought
    nearer. What is reported is measured, and that it is the greatest there is
    rests on distances being nearly straight in so small a shift.
    """
    start = least_gap(moving, fixed, path, skip_pairs=skip_pairs)
    best, best_gap = np.zeros(3), start.upper
    limits = np.array([reach.shift, reach.shift, reach.yaw])
    trust = 1.0
    values, slopes = np.empty(0), np.empty((0, 3))
    at = best
    for _ in range(ROUNDS):
        shifted = _shift(at).applied(path)
        series = gap_series(moving, fixed, shifted, eps=STEERING_EPS, skip_pairs=skip_pairs)
        if at is best or series.upper.min() > best_gap:
            best, best_gap = at, max(best_gap, float(series.upper.min()))
        else:
            trust *= 0.5
        new_values, new_slopes = _tangents(shifted, series, at)
        values, slopes = np.append(values, new_values), np.concatenate([slopes, new_slopes])
        at = _greatest_least((values, slopes), best, trust * limits, limits)
        if np.abs((at - best) / limits).max() * reach.shift < SMALLEST_TRUST:
            break
    shift = _shift(best)
    after = least_gap(
        moving, fixed, shift.applied(path), eps=DEFAULT_EPS, skip_pairs=skip_pairs
    )
    if not after.upper > start.upper:
        return PlumbLine(shift=Shift(), before=start, after=start)
    return PlumbLine(shift=shift, before=start, after=after)


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


def _greatest_least(
    tangents: tuple[Array, Array], centre: Array, trust: Array, limits: Array
) -> Array:
    """Shift within a box for which the least of straight functions is greatest.

    The least is replaced by a smooth one, sharper each time, and climbed by
    Newton's method: with n functions the two differ by at most ln(n) over the
    sharpness, micrometres at the end.
    """
    values, slopes = tangents
    low, high = np.maximum(centre - trust, -limits), np.minimum(centre + trust, limits)
    scaled = slopes * limits
    at = centre / limits

    def smooth(place: Array, sharpness: float) -> tuple[float, Array]:
        gaps = values + scaled @ place
        weights = np.exp(-sharpness * (gaps - gaps.min()))
        total = weights.sum()
        return float(gaps.min() - np.log(total) / sharpness), weights / total

    for sharpness in np.geomspace(3e2, 3e6, 9):
        for _ in range(12):
            level, weights = smooth(at, sharpness)
            slope = weights @ scaled
            spread = (scaled * weights[:, None]).T @ scaled - np.outer(slope, slope)
            stiff = sharpness * spread + np.eye(3) * 1e-9
            step = np.linalg.solve(stiff, slope)
            length = 1.0
            while length > 1e-3:
                trial = np.clip(at + length * step, low / limits, high / limits)
                if smooth(trial, sharpness)[0] > level + 1e-12:
                    break
                length *= 0.5
            else:
                break
            at = trial
    return at * limits
