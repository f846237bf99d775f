"""How much more any other plumb line could leave: a bound that is proved."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from towerlift.gaps.body import Body
from towerlift.gaps.minimum import ask, seed
from towerlift.gaps.path import Path
from towerlift.gaps.plumb import DEFAULT_REACH, PlumbLine, Reach, Shift, thinned
from towerlift.gaps.pose import whole
from towerlift.gaps.runs import settle
from towerlift.gaps.sweep import DEFAULT_EPS, gap_series

Array = NDArray[np.float64]

STEPS = 60
"""Steps of the path from which pairs of points are taken."""
SEEDS = 8
ASKED = 12
"""Shifts at which the engine is asked for another pair, in each round."""
ROUNDS = 40
MOST_BOXES = 20_000
STRAY = DEFAULT_EPS / 8.0 + 1e-9
"""How far off the body a point told by the engine may lie, with rounding. [m]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlumbCeiling:
    """What no shift within reach leaves more than.

    Attributes
    ----------
    ceiling : float
        No shift within reach leaves a least distance above it. [m]
    left : float
        How much more than the line in question that is; nothing where the line is
        proved to be the best there is. [m]
    """

    ceiling: float
    left: float


def plumb_ceiling(  # noqa: PLR0913
    moving: Body,
    fixed: Body,
    path: Path,
    line: PlumbLine,
    *,
    reach: Reach = DEFAULT_REACH,
    skip_pairs: ArrayLike | None = None,
    close: float = 5e-4,
) -> PlumbCeiling:
    """Prove how much more any other plumb line within reach could leave.

    Parameters
    ----------
    moving, fixed : Body
        The bodies.
    path : Path
        Path of the moving body, without the shift.
    line : PlumbLine
        The best that was found.
    reach : Reach, optional
        How far others may be.
    skip_pairs : (p, 2) int or None, optional
        Members (moving, fixed) left out, as for the line.
    close : float, optional
        A ceiling no higher than this above the line is not lowered further. [m]

    Returns
    -------
    ceiling : PlumbCeiling
        The bound, and how much it leaves.

    Raises
    ------
    ValueError
        As `least_gap`, or if `close` is not positive.

    Notes
    -----
    Derived here. A point of the moving body and a point of the fixed one are never
    nearer than the bodies are, so at every shift the distance of any such pair bounds
    the least distance from above. Over a box of shifts that distance is greatest at a
    corner, since it is convex in a shift, and a point at distance r from the axis that is
    turned leaves the chord of its arc by at most r h^2 / 2 for a turn of h to either
    side. The box with the highest bound is halved, and where its middle shows no pair
    near enough the engine is asked for one there, until no box is above the line by more
    than `close` or the work set aside for it is done.
    """
    if not close > 0:
        raise ValueError(f"close must be positive, got {close} m")
    search = _Search(moving, fixed, path, skip_pairs)
    search.learn_series(line.shift)
    limits = np.array([reach.shift, reach.shift, reach.yaw])
    low, high = -limits[None], limits[None]
    bounds = search.bounds(low, high)
    target = max(line.after.upper, 0.0) + close
    for _ in range(ROUNDS):
        open_ = np.flatnonzero(bounds > target)
        if not len(open_) or len(bounds) > MOST_BOXES:
            break
        worst = open_[np.argsort(-bounds[open_])]
        middles = 0.5 * (low[worst] + high[worst])
        slack = search.bounds(middles, middles) > target
        for at in middles[slack][:ASKED]:
            search.learn_at(Shift(x=float(at[0]), y=float(at[1]), yaw=float(at[2])))
        bounds[open_] = np.minimum(bounds[open_], search.bounds(low[open_], high[open_]))
        low, high, bounds = _halved(search, (low, high, bounds), target)
    ceiling = max(float(bounds.max()), line.after.upper)
    return PlumbCeiling(ceiling=ceiling, left=ceiling - line.after.upper)


def _halved(
    search: "_Search", boxes: tuple[Array, Array, Array], target: float
) -> tuple[Array, Array, Array]:
    """The boxes, each that is above the target halved along what counts most in it."""
    low, high, bounds = boxes
    above = bounds > target
    rows = np.flatnonzero(above)
    size = (high[rows] - low[rows]) * np.array([1.0, 1.0, search.arm])
    axis = size.argmax(axis=1)
    each = np.arange(len(rows))
    first_high, second_low = high[rows].copy(), low[rows].copy()
    middle = 0.5 * (low[rows, axis] + high[rows, axis])
    first_high[each, axis] = second_low[each, axis] = middle
    new_low = np.concatenate([low[rows], second_low])
    new_high = np.concatenate([first_high, high[rows]])
    # A half is no higher than the whole.
    fresh = np.minimum(search.bounds(new_low, new_high), np.tile(bounds[rows], 2))
    return (
        np.concatenate([low[~above], new_low]),
        np.concatenate([high[~above], new_high]),
        np.concatenate([bounds[~above], fresh]),
    )


class _Search:
    """Pairs of points found so far, as functions of the shift.

    A pair is apart by ``base + cos(yaw) u + sin(yaw) v + (x, y, 0)``.
    """

    def __init__(
        self, moving: Body, fixed: Body, path: Path, skip_pairs: ArrayLike | None
    ) -> None:
        self.moving, self.fixed, self.skip_pairs = moving, fixed, skip_pairs
        self.path, self.coarse = path, thinned(path, STEPS)
        self.base, self.u, self.v = (np.empty((0, 3)) for _ in range(3))

    @property
    def arm(self) -> float:
        """Greatest distance of a point from the axis that is turned. [m]"""
        return float(np.linalg.norm(self.u, axis=1).max(initial=1.0))

    def learn_series(self, shift: Shift) -> None:
        """Take the nearest pair of every step at one shift."""
        shifted = shift.applied(self.coarse)
        found = gap_series(
            self.moving, self.fixed, shifted, eps=DEFAULT_EPS, skip_pairs=self.skip_pairs
        )
        rows = zip(found.at, found.moving_points, found.fixed_points, strict=True)
        for at, moved, still in rows:
            self._add(shift, float(at), moved, still)

    def learn_at(self, shift: Shift) -> None:
        """Take the nearest pair of a few stations at one shift."""
        shifted = shift.applied(self.coarse)
        question = ask(self.moving, self.fixed, shifted, (DEFAULT_EPS, self.skip_pairs))
        sides = whole(self.moving), whole(self.fixed)
        found = seed(question, sides, SEEDS)
        places = np.zeros(9)
        motion = question.fine.motion
        settle(
            sides[0].tree, sides[1].tree, motion, found.step, found.share, found.pair, places
        )
        stations = question.fine.stations
        at = stations[found.step] + found.share * (
            stations[found.step + 1] - stations[found.step]
        )
        out = [
            place @ self.fixed.frame.T + self.fixed.centre for place in places[:6].reshape(2, 3)
        ]
        self._add(shift, min(float(at), float(self.path.stations[-1])), out[0], out[1])

    def _add(self, shift: Shift, at: float, moved: Array, still: Array) -> None:
        pose = self.coarse.pose_at(at)
        turned = pose[:3, :3].T @ (moved - np.array([shift.x, shift.y, 0.0]) - pose[:3, 3])
        c, s = math.cos(shift.yaw), math.sin(shift.yaw)
        x, y, z = c * turned[0] + s * turned[1], c * turned[1] - s * turned[0], turned[2]
        # Where the whole path has the body then: any time will do for a bound.
        pose = self.path.pose_at(at)
        base = pose[:3, 3] + pose[:3, 2] * z - still
        self.base = np.concatenate([self.base, base[None]])
        self.u = np.concatenate([self.u, (pose[:3, 0] * x + pose[:3, 1] * y)[None]])
        self.v = np.concatenate([self.v, (pose[:3, 1] * x - pose[:3, 0] * y)[None]])

    def bounds(self, low: Array, high: Array) -> Array:
        """Upper bound of the least distance over each box of shifts, (n,). [m]"""
        worst = np.zeros((len(low), len(self.base)))
        for yaw in (low[:, 2], high[:, 2]):
            turned = (
                self.base
                + np.cos(yaw)[:, None, None] * self.u
                + np.sin(yaw)[:, None, None] * self.v
            )
            for x in (low[:, 0], high[:, 0]):
                for y in (low[:, 1], high[:, 1]):
                    apart = (turned[..., 0] + x[:, None]) ** 2
                    apart += (turned[..., 1] + y[:, None]) ** 2
                    apart += turned[..., 2] ** 2
                    np.maximum(worst, apart, out=worst)
        half = 0.5 * (high[:, 2] - low[:, 2])
        arms = np.linalg.norm(self.u, axis=1)
        found: Array = (np.sqrt(worst) + 0.5 * half[:, None] ** 2 * arms).min(axis=1)
        return found + STRAY
