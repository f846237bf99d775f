"""Gaps of a whole raise for very many small departures from its path."""

# ruff: noqa: PLR0913, PLR0917
# A kernel takes rows and scalars: records of them would be copied in the inner loop.

import math
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps.body import Body, piece_count_bound
from towerlift.gaps.cache import kernel
from towerlift.gaps.maps import divide
from towerlift.gaps.margins import search_margin
from towerlift.gaps.members import grouped_parts
from towerlift.gaps.minimum import least_gap
from towerlift.gaps.path import Path, fine_path
from towerlift.gaps.stretch import Spans, make_spans
from towerlift.gaps.sweep import DEFAULT_WORKERS

Array = NDArray[np.float64]

COLUMNS = ("x", "y", "tilt_x", "tilt_y", "yaw", "size", "survey", "lean_x", "lean_y")
N_DIRECTIONS = 8
GRID = 65
STRAY = 1e-5
UNPROVED = -1e9
"""Stands in the tables for a margin that could not be found. [m]"""
BEYOND = 0.06
"""How far past the least gap is looked where nobody says. [m]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarginScope:
    """How far departures may go and how finely they are looked at.

    Attributes
    ----------
    reach : float or None
        Distance beyond which the fixed body is not looked at. [m] The nearer,
        the sooner `build_margins` is done. None takes the least gap of the path
        and `BEYOND`: departures of up to that can then be bounded.
    turn : float
        Greatest tilt or yaw that can be bounded. [rad]
    cell : float
        Edge of the cells the moving body is divided into. [m]
    blocks : int
        Lengths the path is divided into, for a lean that grows along it.
    """

    reach: float | None = None
    turn: float = 0.004
    cell: float = 0.25
    blocks: int = 4


DEFAULT_SCOPE = MarginScope()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Margins:
    """What is needed to bound the gap of any small departure; see `build_margins`.

    Attributes
    ----------
    moving, fixed : Body
        The bodies.
    path : Path
        The path departed from.
    scope : MarginScope
        How far departures may go.
    directions : (d, 2) float
        Level unit directions, fixed frame.
    tables : (d, g, g, blocks) float
        For each direction and block, the least of margin less what turning
        takes of it, at a grid of the two turns that matter. The tightest
        direction first. [m]
    floors : (d, 2) float
        For each direction the least of its tables with no turn [m], and the most
        that they fall for a turn [m/rad].
    middles : (blocks,) float
        Station in the middle of each block, from the middle of the path.
    half_block : float
        Half the length of the longest block.
    slack_per_turn : float
        Greatest size of a cell, which a turn can carry nearer. [m]
    radius : float
        Greatest distance of the body from its middle. [m]
    """

    moving: Body
    fixed: Body
    path: Path
    scope: MarginScope
    directions: Array
    tables: Array
    floors: Array
    middles: Array
    half_block: float
    slack_per_turn: float
    radius: float


def build_margins(
    moving: Body,
    fixed: Body,
    path: Path,
    *,
    scope: MarginScope = DEFAULT_SCOPE,
    report: Callable[[str], None] | None = None,
) -> Margins:
    """Work out once what bounds the gap of any small departure from a path.

    Parameters
    ----------
    moving, fixed : Body
        The bodies; the fixed one may have ledges, sills and soffits.
    path : Path
        The path.
    scope : MarginScope, optional
        How far departures may go.
    report : callable or None, optional
        Given one line for every tenth of the work, to show as progress: with a scanned
        shaft of half a million triangles the usual scope takes half a minute.

    Returns
    -------
    margins : Margins
        For `sample_bounds`.

    Notes
    -----
    Derived here. Every piece of the fixed body that comes within reach of a
    cell of the moving one is put to one of eight level directions n, and the
    cell keeps the least margin, least n.b less greatest n.a, of those put to
    each. A departure that moves the points a of the cell by v leaves a distance
    of at least the margin less n.v, and at least the reach less |v| to all
    that was beyond reach. For a shift d and a small turn w about the body's
    middle, n.v is n.d + w.(a x n): straight in the turn, so the least over the
    cells is concave in it, and straight interpolation between grid points is
    never above it.
    """
    reach = _reach(moving, fixed, path, scope)
    fine = fine_path(moving, fixed, path, STRAY)
    spans = make_spans(fine.motion, float(np.abs(moving.tree.boxes[0]).max()) * math.sqrt(3))
    turns = 2 * np.pi * np.arange(N_DIRECTIONS) / N_DIRECTIONS
    # Turned with the walls, so that four of the directions are square to them.
    heading = math.atan2(fixed.frame[1, 0], fixed.frame[0, 0])
    directions = np.stack([np.cos(turns + heading), np.sin(turns + heading)], axis=1)
    level = np.concatenate([directions, np.zeros((N_DIRECTIONS, 1))], axis=1)
    _, groups = divide(moving, scope.cell)
    parts = grouped_parts(moving, groups)
    stretches = _blocks(spans, scope.blocks)
    along = np.ascontiguousarray(level @ fixed.frame)
    entries = piece_count_bound(moving) + piece_count_bound(fixed) + 64

    def margin(job: tuple[int, int]) -> Array:
        cell, stretch = job
        best = np.full(N_DIRECTIONS, reach)
        done = search_margin(
            parts[cell].tree,
            fixed.tree,
            spans,
            (cell, stretch),
            along,
            reach,
            entries,
            best,
        )
        return (
            best - float(fine.motion.strays.max()) if done else np.full(N_DIRECTIONS, UNPROVED)
        )

    jobs = [(cell, stretch) for stretch in stretches for cell in range(len(parts))]
    found = np.array(list(_told(margin, jobs, report)))
    margins = found.reshape(len(stretches), len(parts), N_DIRECTIONS)
    boxes = parts[0].tree.boxes[: len(parts)].astype(np.float64)
    arms, slack = _arms(moving, path, boxes)
    middles, half_block = _block_stations(fine.stations, stretches)
    tables = _tables(margins, arms, directions, scope.turn)
    floors = _floors(tables, scope.turn)
    tightest = np.argsort(floors[:, 0])
    return Margins(
        moving=moving,
        fixed=fixed,
        path=path,
        scope=replace(scope, reach=reach),
        directions=directions[tightest],
        tables=np.ascontiguousarray(tables[tightest]),
        floors=floors[tightest],
        middles=middles,
        half_block=half_block,
        slack_per_turn=slack,
        radius=float(np.linalg.norm(boxes.reshape(-1, 2, 3), axis=2).max()),
    )


def _told(
    margin: Callable[[tuple[int, int]], Array],
    jobs: Sequence[tuple[int, int]],
    report: Callable[[str], None] | None,
) -> Iterator[Array]:
    """What each job finds, in their order, telling how many are done."""
    every = max(1, math.ceil(len(jobs) / 10))
    with ThreadPoolExecutor(DEFAULT_WORKERS) as pool:
        for done, found in enumerate(pool.map(margin, jobs), start=1):
            if report is not None and (done % every == 0 or done == len(jobs)):
                report(f"margins of the body's cells: {done} of {len(jobs)}")
            yield found


def _reach(moving: Body, fixed: Body, path: Path, scope: MarginScope) -> float:
    if scope.reach is not None:
        return scope.reach
    least = least_gap(moving, fixed, path, eps=1e-3)
    if not (least.certified and least.lower > 0):
        # What touches already keeps no gap, however far is looked.
        return BEYOND
    return least.upper + BEYOND


def _blocks(spans: Spans, blocks: int) -> list[int]:
    """Nodes of the tree of stretches that halve the path into about so many blocks."""
    leaves = spans.smear.size // 2
    row = 1 << max(0, math.ceil(math.log2(max(blocks, 1))))
    row = min(row, leaves)
    return [q for q in range(row, 2 * row) if spans.smear[q] >= 0]


def _block_stations(stations: Array, stretches: list[int]) -> tuple[Array, float]:
    """Middle of each block, from the middle of the path, and the greatest half length."""
    steps = len(stations) - 1
    row = 1 << (stretches[0].bit_length() - 1)
    leaves = 1 << math.ceil(math.log2(steps)) if steps > 1 else 1
    length = leaves // row
    starts = np.array([(q - row) * length for q in stretches])
    ends = np.minimum(starts + length, steps)
    centre = 0.5 * (stations[0] + stations[-1])
    middles = 0.5 * (stations[starts] + stations[ends]) - centre
    return middles, float(0.5 * (stations[ends] - stations[starts]).max())


def _arms(moving: Body, path: Path, boxes: Array) -> tuple[Array, float]:
    """Middle of each cell from the body's middle, fixed frame, and the largest slack."""
    middles = 0.5 * (boxes[:, :3] + boxes[:, 3:]) @ moving.frame.T
    halves = np.linalg.norm(0.5 * (boxes[:, 3:] - boxes[:, :3]), axis=1)
    turns = path.poses[:, :3, :3]
    arms = middles @ turns[0].T
    sway = np.linalg.norm(turns - turns[0], axis=(1, 2)).max()
    slack = float((halves + sway * np.linalg.norm(middles, axis=1)).max())
    return arms, slack


def _tables(margins: Array, arms: Array, directions: Array, turn: float) -> Array:
    """Least over the cells of margin less turning, on a grid of both turns."""
    grid = np.linspace(-turn, turn, GRID)
    tables = np.empty((len(directions), GRID, GRID, len(margins)))
    for k, (nx, ny) in enumerate(directions):
        lever = arms[:, 0] * ny - arms[:, 1] * nx
        taken_tilt = np.outer(grid, arms[:, 2])
        taken_yaw = np.outer(grid, lever)
        for block, of_cells in enumerate(margins[:, :, k]):
            for row in range(GRID):
                left = of_cells - taken_tilt[row]
                tables[k, row, :, block] = (left - taken_yaw).min(axis=1)
    return tables


def _floors(tables: Array, turn: float) -> Array:
    """What each direction has with no turn, and how steeply it falls at most."""
    step = 2.0 * turn / (GRID - 1)
    falls = [np.abs(np.diff(tables, axis=axis)).max(axis=(1, 2, 3)) for axis in (1, 2)]
    middle = tables[:, GRID // 2, GRID // 2].min(axis=1)
    return np.stack([middle, np.maximum(*falls) / step], axis=1)


@kernel
def _bound_samples(
    samples: Array,
    tables: Array,
    directions: Array,
    floors: Array,
    middles: Array,
    numbers: tuple[float, float, float, float, float],
    bounds: Array,
) -> None:
    """Lower bound of the gap of each sample; minus infinity beyond the tables.

    On each half of a square of the grid the interpolation is that of its three
    corners, which a concave function is never below. A direction is passed over if
    what it has with no turn, less the steepest that its table falls, is more than
    another direction leaves: rows of `floors` are those two, the tightest direction
    first.
    """
    reach, turn, half_block, slack, radius = numbers
    grid, blocks = tables.shape[1], tables.shape[3]
    scale = (grid - 1) / (2.0 * turn)
    values = tables.reshape(-1)
    row = grid * blocks
    farthest = np.abs(middles).max()
    for i in range(samples.shape[0]):
        dx, dy, wx, wy, wz = (
            samples[i, 0],
            samples[i, 1],
            samples[i, 2],
            samples[i, 3],
            samples[i, 4],
        )
        growth = abs(samples[i, 5]) + abs(samples[i, 6])
        lx, ly = samples[i, 7], samples[i, 8]
        tilted = math.sqrt(wx * wx + wy * wy)
        total = abs(dx) + abs(dy) + growth + abs(lx) + abs(ly)
        # Written so that what is not a number is bounded by nothing.
        if not (total < math.inf and tilted <= turn and abs(wz) <= turn):
            bounds[i] = -math.inf
            continue
        turned = math.sqrt(tilted * tilted + wz * wz)
        lean = math.sqrt(lx * lx + ly * ly)
        # What was beyond reach comes nearer by all that the body moves.
        least = reach - (math.sqrt(dx * dx + dy * dy) + lean * farthest + turned * radius)
        across = (wz + turn) * scale
        q = min(int(across), grid - 2)
        v = across - q
        for k in range(directions.shape[0]):
            nx, ny = directions[k, 0], directions[k, 1]
            shift, drift = nx * dx + ny * dy, nx * lx + ny * ly
            floor = floors[k, 0] - floors[k, 1] * (tilted + abs(wz))
            if floor - shift - abs(drift) * farthest >= least:
                continue
            u = max(0.0, (wy * nx - wx * ny + turn) * scale)
            p = min(int(u), grid - 2)
            u -= p
            more, less = max(u, v), min(u, v)
            corner = (k * grid + p) * row + q * blocks
            side = corner + (row if u > v else blocks)
            far = corner + row + blocks
            near_weight, side_weight = 1.0 - more, more - less
            for j in range(blocks):
                value = (
                    near_weight * values[corner + j]
                    + side_weight * values[side + j]
                    + less * values[far + j]
                )
                least = min(least, value - shift - drift * middles[j])
        if least < UNPROVED / 2:
            bounds[i] = -math.inf
            continue
        bounds[i] = least - (
            growth + turned * slack + 0.5 * turned * turned * radius + lean * half_block
        )


def sample_bounds(margins: Margins, samples: Array) -> Array:
    """Rigorous lower bound of the least gap of the whole raise, for each sample.

    Parameters
    ----------
    margins : Margins
        From `build_margins`.
    samples : (n, 9) float
        Shift x and y [m], turn about x, y and z through the body's middle
        [rad], growth of the body's outside [m], error of the survey [m], and
        lean in x and y: shift per unit of station from the path's middle.

    Returns
    -------
    bounds : (n,) float
        The true least gap of the sample is not below it; minus infinity where
        the sample goes beyond the scope or is not a number. [m]

    Raises
    ------
    ValueError
        If the shape is wrong.
    """
    given = np.ascontiguousarray(samples, dtype=np.float64)
    if given.ndim != 2 or given.shape[1] != len(COLUMNS):
        raise ValueError(f"samples must be (n, {len(COLUMNS)}), got {given.shape}")
    bounds = np.empty(len(given))
    numbers = (
        margins.scope.reach or 0.0,
        margins.scope.turn,
        margins.half_block,
        margins.slack_per_turn,
        margins.radius,
    )
    edges = np.linspace(0, len(given), DEFAULT_WORKERS + 1).astype(int)

    def work(part: int) -> None:
        rows = slice(int(edges[part]), int(edges[part + 1]))
        _bound_samples(
            given[rows],
            margins.tables,
            margins.directions,
            margins.floors,
            margins.middles,
            numbers,
            bounds[rows],
        )

    with ThreadPoolExecutor(DEFAULT_WORKERS) as pool:
        list(pool.map(work, range(DEFAULT_WORKERS)))
    return bounds


def departed(path: Path, sample: Array, moving: Body) -> Path:
    """The path with one sample's departure, for an exact answer.

    Parameters
    ----------
    path : Path
        The path departed from.
    sample : (9,) float
        As a row of `sample_bounds`; size and survey error are not part of it.
    moving : Body
        The moving body, whose middle the turn goes through.

    Returns
    -------
    path : Path
        The path departed to.
    """
    vector = np.asarray(sample[2:5], dtype=np.float64)
    angle = float(np.linalg.norm(vector))
    turn = np.eye(3)
    if angle > 0:
        x, y, z = vector / angle
        skew = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
        turn = turn + math.sin(angle) * skew + 2 * math.sin(angle / 2) ** 2 * skew @ skew
    poses = path.poses.copy()
    middles = poses[:, :3, :3] @ moving.centre + poses[:, :3, 3]
    heights = path.stations - 0.5 * (path.stations[0] + path.stations[-1])
    poses[:, :3, :3] = turn @ poses[:, :3, :3]
    shift = np.zeros((len(heights), 3))
    shift[:, 0] = sample[0] + sample[7] * heights
    shift[:, 1] = sample[1] + sample[8] * heights
    poses[:, :3, 3] = middles + shift - poses[:, :3, :3] @ moving.centre
    return Path(stations=path.stations, poses=poses)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SampleVerdicts:
    """How many samples keep a limit.

    Attributes
    ----------
    lower : (n,) float
        Rigorous lower bound of each sample's least gap. [m]
    upper : (n,) float
        Upper bound, infinite where the lower one already decides. [m]
    limit : float
        The limit. [m]
    """

    lower: Array
    upper: Array
    limit: float

    @property
    def kept(self) -> int:
        """Samples that certainly keep the limit."""
        return int((self.lower >= self.limit).sum())

    @property
    def broken(self) -> int:
        """Samples that certainly break it."""
        return int((self.upper < self.limit).sum())

    @property
    def undecided(self) -> int:
        """Samples that could not be settled."""
        return len(self.lower) - self.kept - self.broken


def settle_samples(
    margins: Margins, samples: Array, limit: float, *, at_most: int = 200
) -> SampleVerdicts:
    """Hold samples against a limit, and settle the undecided ones by the engine.

    Parameters
    ----------
    margins : Margins
        From `build_margins`.
    samples : (n, 9) float
        As for `sample_bounds`.
    limit : float
        Least gap asked for. [m]
    at_most : int, optional
        Number of samples to settle exactly, in the order given; the rest stay
        undecided.

    Returns
    -------
    verdicts : SampleVerdicts
        Bounds of each sample. Growth and survey error are taken off in full
        from the lower bound and added to the upper.

    Raises
    ------
    ValueError
        If the shape is wrong.
    """
    lower = sample_bounds(margins, samples)
    upper = np.full(len(lower), np.inf)
    for row in np.flatnonzero(~(lower >= limit))[:at_most]:
        if not np.isfinite(samples[row]).all():
            continue
        path = departed(margins.path, samples[row], margins.moving)
        gap = least_gap(margins.moving, margins.fixed, path)
        error = abs(samples[row, 5]) + abs(samples[row, 6])
        lower[row], upper[row] = gap.lower - error, gap.upper + error
    return SampleVerdicts(lower=lower, upper=upper, limit=limit)
