"""Ropes, chains, pendants and bars: straight lines with a radius, fixed or moving."""

# ruff: noqa: PLR0913, PLR0917
# A kernel takes rows and scalars: records of them would be copied in the inner loop.

import math
from dataclasses import dataclass

# ruff: noqa: PLR0913, PLR0917
import numpy as np
from numpy.typing import ArrayLike, NDArray

from towerlift.gaps.body import Body, piece_count_bound
from towerlift.gaps.cache import kernel
from towerlift.gaps.nearest import CONTACT
from towerlift.gaps.pose import Point, point_out
from towerlift.gaps.runs import run_boxes_gap2, swept_gap
from towerlift.gaps.search import cut_at
from towerlift.gaps.skip import UnsearchedError
from towerlift.gaps.sweep import DEFAULT_EPS, ROUNDING, check_eps
from towerlift.gaps.tree import TreeArrays

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

LINE_PIECE = 0.25


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A straight round line whose ends run from place to place.

    Attributes
    ----------
    stations : (k,) float
        Rising parameter, the same as the path's; k is at least 2.
    ends : (k, 2, 3) float
        Both ends at each station, fixed frame; each runs straight and evenly
        between stations. A line that does not move has the same ends twice. [m]
    radius : float
        Half its thickness. [m]

    Raises
    ------
    ValueError
        If a shape is wrong, a number is not finite, the stations do not rise,
        or the radius is negative.
    """

    stations: Array
    ends: Array
    radius: float

    def __post_init__(self) -> None:
        stations = np.array(self.stations, dtype=np.float64)
        ends = np.array(self.ends, dtype=np.float64)
        if stations.ndim != 1 or len(stations) < 2 or not (np.diff(stations) > 0).all():
            raise ValueError(f"stations must be two or more that rise, got {stations.tolist()}")
        if ends.shape != (len(stations), 2, 3) or not np.isfinite(ends).all():
            raise ValueError(
                f"ends must be finite and ({len(stations)}, 2, 3), got {ends.shape}"
            )
        if not (self.radius >= 0 and math.isfinite(self.radius)):
            raise ValueError(f"radius must be finite and not negative, got {self.radius} m")
        object.__setattr__(self, "stations", stations)
        object.__setattr__(self, "ends", ends)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineGap:
    """Least distance of a line from a body over all its stations.

    Attributes
    ----------
    upper : float
        Distance attained at `at`, from the line's surface; negative if it cuts
        into the body. [m]
    lower : float
        The true least is never below it; minus infinity if the line's middle
        meets the body. [m]
    certified : bool
        Whether both bounds hold.
    at : float
        Station at which `upper` is attained.
    line_point, fixed_point : tuple of float
        Nearest points, of the line's middle and of the body. Fixed frame. [m]
    fixed_triangle, fixed_member : int
        Face and member of the body.
    """

    upper: float
    lower: float
    certified: bool
    at: float
    line_point: Point
    fixed_point: Point
    fixed_triangle: int
    fixed_member: int

    @property
    def struck(self) -> bool:
        """Whether the line touches or cuts into the body."""
        return not self.upper > 0


@kernel
def _search_rows(
    start: Array,
    end: Array,
    fixed: TreeArrays,
    allowed: NDArray[np.bool_],
    eps: float,
    entries: int,
    found: Array,
    pair: Ints,
    places: Array,
) -> bool:
    """Least distance of any row, running straight from start to end, to a tree.

    A node is left aside only if its box is no nearer to the box of the row's
    run than the least found less eps. `allowed` tells for each fixed member
    whether it counts. Returns whether nothing was dropped.
    """
    stack, bounds = np.empty(entries, np.int32), np.empty(entries)
    box = np.empty((1, 9))
    probe, trial, spans = np.empty((1, 9)), np.empty(9), np.empty((102, 2))
    least, proved = math.inf, True
    for row in range(start.shape[0]):
        cut2 = cut_at(least, eps)
        stack[0], bounds[0] = 0, 0.0
        top = 1
        while top > 0 and least > CONTACT:
            top -= 1
            if bounds[top] >= cut2:
                continue
            node = stack[top]
            if fixed.child[node] == 0:
                for j in range(fixed.first[node], fixed.first[node] + fixed.size[node]):
                    if not allowed[fixed.members[j]]:
                        continue
                    if run_boxes_gap2(start, end, row, fixed.triangles, j) >= cut2:
                        continue
                    gap, share, whole = swept_gap(
                        start,
                        end,
                        row,
                        fixed.triangles,
                        j,
                        least,
                        eps,
                        probe,
                        trial,
                        spans,
                        places,
                    )
                    proved = proved and whole
                    if gap < least:
                        least = gap
                        cut2 = cut_at(least, eps)
                        found[0], found[1] = gap, share
                        pair[0], pair[1] = row, j
                continue
            if top + 2 > entries:
                return False
            for side in range(2):
                child = fixed.child[node] + side
                for c in range(3):
                    # A triangle with these three corners has the node's box.
                    box[0, c] = fixed.boxes[child, c]
                    box[0, 3 + c] = box[0, 6 + c] = fixed.boxes[child, 3 + c]
                bound = run_boxes_gap2(start, end, row, box, 0)
                if bound < cut2:
                    stack[top], bounds[top] = child, bound
                    top += 1
    return proved


def line_gap(
    line: Line, fixed: Body, *, eps: float = DEFAULT_EPS, skip_members: ArrayLike = ()
) -> LineGap:
    """Certified least distance of a line from a body over all its stations.

    Parameters
    ----------
    line : Line
        The line.
    fixed : Body
        The body.
    eps : float, optional
        Most by which ``upper`` may exceed the true least. [m]
    skip_members : (p,) int, optional
        Members of the body that the line is meant to touch.

    Returns
    -------
    gap : LineGap
        ``lower <= true least <= upper``.

    Raises
    ------
    ValueError
        If `eps` is out of range, a member is not there, or none is left.
    """
    check_eps(eps)
    skipped = np.array(skip_members, dtype=np.int64).reshape(-1)
    absent = skipped[~np.isin(skipped, fixed.member_ids)]
    if len(absent):
        raise ValueError(f"skip_members names member {int(absent[0])}, which the body has not")
    allowed = ~np.isin(fixed.member_ids, skipped)
    if not allowed.any():
        raise ValueError("skip_members leaves nothing to measure")
    rows, steps = _pieces(line)
    local = (rows - fixed.centre) @ fixed.frame
    start = np.ascontiguousarray(local[:, 0].reshape(-1, 9))
    end = np.ascontiguousarray(local[:, 1].reshape(-1, 9))
    found, pair, places = np.full(2, np.inf), np.array([-1, -1]), np.zeros(9)
    inner = eps - 4 * ROUNDING
    entries = piece_count_bound(fixed)
    proved = _search_rows(start, end, fixed.tree, allowed, inner, entries, found, pair, places)
    if pair[0] < 0:
        raise UnsearchedError("not certified: the search ran out of room")
    # A bound that does not keep the middle off nothing does not keep it from crossing.
    certified = bool(proved) and found[0] > CONTACT and found[0] - inner - ROUNDING > 0
    k, face = int(steps[pair[0]]), int(fixed.sources[pair[1]])
    lower = float(found[0]) - inner - ROUNDING - line.radius
    return LineGap(
        upper=float(found[0]) - line.radius,
        lower=lower if certified else -math.inf,
        certified=certified,
        at=float(line.stations[k] + found[1] * (line.stations[k + 1] - line.stations[k])),
        line_point=point_out(fixed, places[:3]),
        fixed_point=point_out(fixed, places[3:6]),
        fixed_triangle=face,
        fixed_member=int(fixed.members[face]),
    )


def _pieces(line: Line) -> tuple[Array, Ints]:
    """Short pieces of the line at both ends of each step, as flat triangles.

    Returns rows (n, 2, 3, 3) and the step of each. A point at a fixed share of
    the line's length runs straight, since both ends do.
    """
    longest = float(np.linalg.norm(line.ends[:, 1] - line.ends[:, 0], axis=1).max())
    n = max(1, math.ceil(longest / LINE_PIECE))
    shares = np.linspace(0.0, 1.0, n + 1)[:, None]
    points = line.ends[:, None, 0] * (1 - shares) + line.ends[:, None, 1] * shares
    flat = np.stack([points[:, :-1], points[:, 1:], points[:, 1:]], axis=2)
    runs = np.stack([flat[:-1], flat[1:]], axis=2)
    return runs.reshape(-1, 2, 3, 3), np.repeat(np.arange(len(line.stations) - 1), n)
