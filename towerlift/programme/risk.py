"""The programme many times over: durations vary, the order is kept, weather holds work up.

Everything is reckoned for all programmes at once, task after task in an order in which
none comes before what it waits for.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter

import numpy as np
from numpy.typing import NDArray

from towerlift.programme.problem import Edge
from towerlift.programme.risk_spread import Spread, from_scores
from towerlift.programme.risk_weather import HeldUp
from towerlift.programme.weather import Floats

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

SAME = 1e-6  # times closer than this are one moment [s]
_ROUNDS = 10_000  # of looking for room; more means that there is none


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskTask:
    """One task of the network.

    Attributes
    ----------
    name : str
        Unique in the network.
    spread : Spread
        How long it takes.
    earliest : float
        It never starts before this. [s]
    windows : (m, 2) float or None
        Stretches of time it may go on in, in order and apart; None is any time. [s]
    goes_on : bool
        Whether what is not done when a window ends goes on in the next one. A haul does
        not: once begun it is done, if need be beyond the window.
    begins_whole : bool
        Whether it begins only where it would be done within one window if it took as long
        as is likely; always so for what does not go on.
    held_up : HeldUp or None
        Weather it needs.
    """

    name: str
    spread: Spread
    earliest: float = 0.0
    windows: Floats | None = None
    goes_on: bool = False
    begins_whole: bool = False
    held_up: HeldUp | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskLink:
    """One task waits for another.

    Attributes
    ----------
    before, after : str
        Names of tasks.
    lag : float
        Least time from the edge of `before` to the edge of `after`. [s]
    from_edge, to_edge : Edge
        Which edges.
    """

    before: str
    after: str
    lag: float = 0.0
    from_edge: Edge = Edge.END
    to_edge: Edge = Edge.START


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskNetwork:
    """Tasks and what they wait for.

    Attributes
    ----------
    tasks : tuple of RiskTask
        In any order.
    links : tuple of RiskLink
        Whoever comes first, by whatever rule.

    Raises
    ------
    ValueError
        If two tasks have one name, or a link names a task that is not there.
    """

    tasks: tuple[RiskTask, ...]
    links: tuple[RiskLink, ...] = ()

    def __post_init__(self) -> None:
        names = [task.name for task in self.tasks]
        twice = sorted({name for name in names if names.count(name) > 1})
        unknown = sorted(
            {name for link in self.links for name in (link.before, link.after)} - set(names)
        )
        if twice or unknown or not names:
            raise ValueError(f"tasks named twice: {twice}; links to no task: {unknown}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """How the programmes are drawn.

    Attributes
    ----------
    n : int
        How many.
    seed : int
        The same seed draws the same programmes.
    correlation : float
        Of any two durations, through one cause they share (weather, crew, haste); 0 for
        none, below 1.

    Raises
    ------
    ValueError
        If a number cannot be meant.
    """

    n: int = 10_000
    seed: int = 1
    correlation: float = 0.2

    def __post_init__(self) -> None:
        if self.n < 1 or not 0 <= self.correlation < 1:
            raise ValueError(f"cannot draw {self.n} with correlation {self.correlation}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Programmes:
    """Every programme that was drawn.

    Attributes
    ----------
    names : tuple of str
        Of the tasks.
    starts, ends, durations : (k, n) float
        Of each task in each programme. [s]
    stuck : (k, n) bool
        Where no room was found for it in any window before they ran out.
    critical : (k,) float
        Share of programmes in which the chain of what was waited for last, followed back
        from the finish, leads through the task.
    """

    names: tuple[str, ...]
    starts: Floats
    ends: Floats
    durations: Floats
    stuck: Bools
    critical: Floats

    @property
    def finish(self) -> Floats:
        """End of the last task; infinite where one found no room. (n,) [s]"""
        finish: Floats = self.ends.max(axis=0)
        return finish

    def row(self, name: str) -> int:
        """Row of a task."""
        return self.names.index(name)

    def chance(self, name: str, moment: float) -> "Chance":
        """Chance that a task is over by a moment. [s]"""
        return chance_of(self.ends[self.row(name)] <= moment + SAME)

    def chance_finished(self, moment: float) -> "Chance":
        """Chance that everything is over by a moment. [s]"""
        return chance_of(self.finish <= moment + SAME)

    def drives(self, of: Floats) -> Floats:
        """Rank correlation of each task's duration with a time in each programme.

        Parameters
        ----------
        of : (n,) float
            Such as `finish`. [s]

        Returns
        -------
        correlation : (k,) float
            Spearman's; 0 where the duration, or the time, does not vary.
        """
        if not (np.isfinite(of).any() and np.ptp(of[np.isfinite(of)]) > 0):
            return np.zeros(len(self.durations))
        ranks = _ranks(of)
        return np.array([_correlation(each, ranks) for each in self.durations])


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """A chance found by drawing.

    Attributes
    ----------
    share : float
        Of the programmes.
    error : float
        Standard error of it, from their number alone.
    """

    share: float
    error: float


def chance_of(happened: Bools) -> Chance:
    """Share of programmes in which something happened, with its standard error."""
    share = float(happened.mean())
    # Where it always or never happened, one more draw the other way is allowed for.
    n = len(happened)
    safe = min(max(share, 1.0 / (n + 2.0)), 1.0 - 1.0 / (n + 2.0))
    return Chance(share=share, error=float(np.sqrt(safe * (1.0 - safe) / n)))


def _ranks(values: Floats) -> Floats:
    """Ranks less their mean, over their spread; equal values keep the order of the draws."""
    ranks = np.empty(len(values))
    ranks[np.argsort(values, kind="stable")] = np.arange(len(values))
    ranks -= ranks.mean()
    return ranks / (np.linalg.norm(ranks) or 1.0)


def _correlation(values: Floats, ranks: Floats) -> float:
    return float(_ranks(values) @ ranks) if np.ptp(values) > 0 else 0.0


def draw_programmes(network: RiskNetwork, draw: Draw) -> Programmes:
    """Draw programmes: every task starts as soon as what it waits for allows.

    Parameters
    ----------
    network : RiskNetwork
        Tasks, and what they wait for.
    draw : Draw
        How many, and how durations hang together.

    Returns
    -------
    programmes : Programmes
        All of them.

    Raises
    ------
    ValueError
        If tasks wait for each other in a ring.

    Notes
    -----
    Whether a task that cannot be broken off fits a window, or the weather holds for it,
    is judged by its likely duration: nobody knows beforehand how long it will take. What
    then takes longer runs on beyond the window.
    """
    order = _order(network)
    at = {task.name: row for row, task in enumerate(network.tasks)}
    durations = _durations(network.tasks, draw)
    k, n = durations.shape
    board = _Board(
        starts=np.zeros((k, n)),
        ends=np.zeros((k, n)),
        durations=durations,
        stuck=np.zeros((k, n), dtype=bool),
        last=np.full((k, n), -1, dtype=np.int64),
        which=np.asarray(np.random.default_rng(draw.seed + 1).integers(0, 2**31, n)),
    )
    for name in order:
        waits = [link for link in network.links if link.after == name]
        _place(network.tasks[at[name]], at[name], [(at[w.before], w) for w in waits], board)
    return Programmes(
        names=tuple(task.name for task in network.tasks),
        starts=board.starts,
        ends=board.ends,
        durations=durations,
        stuck=board.stuck,
        critical=_critical([at[name] for name in order], board),
    )


@dataclass(slots=True, kw_only=True)
class _Board:
    """What is known so far of every programme."""

    starts: Floats
    ends: Floats
    durations: Floats
    stuck: Bools
    last: Ints  # row of what each task waited for last, -1 for nothing
    which: Ints  # which course of the weather each programme meets


def _order(network: RiskNetwork) -> list[str]:
    sorter: TopologicalSorter[str] = TopologicalSorter({t.name: () for t in network.tasks})
    for link in network.links:
        sorter.add(link.after, link.before)
    try:
        return list(sorter.static_order())
    except CycleError as error:
        ring = " waits for ".join(reversed(error.args[1]))
        raise ValueError(f"tasks wait for each other: {ring}") from None


def _durations(tasks: Sequence[RiskTask], draw: Draw) -> Floats:
    rng = np.random.default_rng(draw.seed)
    shared = rng.standard_normal(draw.n)
    durations = np.empty((len(tasks), draw.n))
    for row, task in enumerate(tasks):
        own = rng.standard_normal(draw.n)
        score = np.sqrt(draw.correlation) * shared + np.sqrt(1.0 - draw.correlation) * own
        durations[row] = from_scores(task.spread, score)
    return durations


def _place(
    task: RiskTask, row: int, waits: Sequence[tuple[int, RiskLink]], board: _Board
) -> None:
    duration = board.durations[row]
    ready = np.full(len(duration), task.earliest)
    last = np.full(len(duration), -1, dtype=np.int64)
    for other, link in waits:
        edge = board.ends[other] if link.from_edge is Edge.END else board.starts[other]
        asked = edge + link.lag
        if link.to_edge is Edge.END:
            asked = asked - duration
        later = asked > ready + SAME
        ready = np.where(later, asked, ready)
        last = np.where(later, other, last)
    board.last[row] = last
    if not task.goes_on or task.begins_whole or task.held_up is not None:
        ready = _find_room(task, ready, board.which)
    board.starts[row], board.ends[row] = ready, ready + duration
    if task.goes_on and task.windows is not None:
        board.starts[row], board.ends[row] = _bit_by_bit(ready, duration, task.windows)
    board.stuck[row] = ~np.isfinite(board.ends[row])


def _bit_by_bit(ready: Floats, duration: Floats, windows: Floats) -> tuple[Floats, Floats]:
    """Work that stops when a window ends and goes on in the next one."""
    lengths = windows[:, 1] - windows[:, 0]
    done_before = np.concatenate([[0.0], np.cumsum(lengths)])
    moments = windows.ravel()
    worked = np.repeat(done_before, 2)[1:-1]
    begun = np.interp(ready, moments, worked)
    # Work is over at the end of a window, not at the beginning of the next one; it begins
    # at the beginning of a window, not at the end of the one before.
    total = begun + duration
    number = np.searchsorted(done_before, total - SAME, side="left") - 1
    number = np.clip(number, 0, len(windows) - 1)
    ends = windows[number, 0] + total - done_before[number]
    ends = np.where(total > done_before[-1] + SAME, np.inf, ends)
    first = np.searchsorted(windows[:, 1], ready + SAME, side="left")
    held = np.minimum(first, len(windows) - 1)
    starts = np.where(first < len(windows), np.maximum(ready, windows[held, 0]), np.inf)
    return starts, np.maximum(ends, starts)


def _find_room(task: RiskTask, ready: Floats, which: Ints) -> Floats:
    """First moment at which it fits a window and the weather holds, by its likely length."""
    starts = ready.copy()
    waiting = np.flatnonzero(np.isfinite(starts))
    starts[~np.isfinite(starts)] = np.inf
    for _ in range(_ROUNDS):
        if not len(waiting):
            return starts
        moved = starts[waiting]
        if task.windows is not None:
            moved = _into_window(moved, task.windows, task.spread.likely)
        if task.held_up is not None:
            moved = task.held_up.next_clear(moved, which[waiting], task.spread.likely)
        changed = moved > starts[waiting] + SAME
        starts[waiting] = moved
        waiting = waiting[changed & np.isfinite(moved)]
    starts[waiting] = np.inf
    return starts


def _into_window(starts: Floats, windows: Floats, length: float) -> Floats:
    wide = windows[windows[:, 1] - windows[:, 0] >= length - SAME]
    latest = wide[:, 1] - length
    number = np.searchsorted(latest, starts - SAME, side="left")
    inside = np.minimum(number, max(len(wide) - 1, 0))
    if not len(wide):
        return np.full(len(starts), np.inf)
    return np.where(number < len(wide), np.maximum(starts, wide[inside, 0]), np.inf)


def _critical(order: Sequence[int], board: _Board) -> Floats:
    k, n = board.ends.shape
    on = np.zeros((k, n), dtype=bool)
    on[board.ends.argmax(axis=0), np.arange(n)] = True
    for row in reversed(order):
        here = np.flatnonzero(on[row] & (board.last[row] >= 0))
        on[board.last[row][here], here] = True
    share: Floats = on.mean(axis=1)
    return share
