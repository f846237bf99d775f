"""What follows from a problem's rules without any search: bounds, and orders that are forced.

Links are least differences between starts, so chains of links give least differences
between any two tasks; hours and the horizon bound each start; where only one way is left
to keep two things apart, that way is a link of its own. This is repeated until nothing
changes, and leaves far less for the search to decide.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from towerlift.programme.problem import Edge, Exclusion, Link, Problem, Task
from towerlift.programme.verify import broken_rules

# Least difference of two starts where nothing is known.
_FREE = -(10**9)
# A rule is that a start is so much or more after another: (after, before, difference).
Order = tuple[str, str, int]
Moment = tuple[str, Edge, int]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tight:
    """What is forced.

    Attributes
    ----------
    earliest, latest : mapping of str to int
        Bounds of each start, in steps.
    orders : tuple of (str, str, int)
        Starts that come so much or more after another: after, before, difference.
    choices : tuple of tuple of (str, str, int)
        Of each one must hold.
    possible : bool
        False where it is already seen that no schedule keeps the rules.
    """

    earliest: Mapping[str, int]
    latest: Mapping[str, int]
    orders: tuple[Order, ...]
    choices: tuple[tuple[Order, ...], ...]
    possible: bool


def tightened(problem: Problem) -> Tight:
    """Everything that is forced in a problem.

    Parameters
    ----------
    problem : Problem
        Its links, hours, horizon and exclusions are used; its resources are not.

    Returns
    -------
    tight : Tight
        Keeps every schedule of the problem and loses none.
    """
    return _Tightening(problem).run()


def chained(problem: Problem) -> bool:
    """Whether links, hours and horizon alone leave every task a place.

    Parameters
    ----------
    problem : Problem
        Its exclusions and resources are not looked at.

    Returns
    -------
    possible : bool
        False where a chain of links, begun as early as can be, ends too late.
    """
    tasks = {task.name: task for task in problem.tasks}
    hours = {task.name: _starts_within(task) for task in problem.tasks}
    early = {task.name: task.fixed or 0 for task in problem.tasks}
    fixed = {task.name for task in problem.tasks if task.fixed is not None}
    orders = [
        order_of(tasks, (each.before, each.from_edge, each.lag), (each.after, each.to_edge, 0))
        for each in problem.links
        if not {each.before, each.after} <= fixed
    ]
    changed = True
    while changed:
        changed = False
        for name, task in tasks.items():
            if task.windows is not None and name not in fixed:
                early[name] = _next(*hours[name], early[name])
            if name not in fixed and early[name] + task.duration > problem.horizon:
                return False
        for after, before, difference in orders:
            if early[before] + difference > early[after]:
                if after in fixed:
                    return False
                early[after] = early[before] + difference
                changed = True
    return True


def justified(problem: Problem, starts: Mapping[str, int]) -> Mapping[str, int]:
    """A schedule with everything as early as the orders in it allow.

    Parameters
    ----------
    problem : Problem
        Tasks and rules.
    starts : mapping of str to int
        A schedule that keeps every rule.

    Returns
    -------
    starts : mapping of str to int
        Keeps every rule; no start is later than it was.
    """
    tasks = {task.name: task for task in problem.tasks}
    links = list(problem.links)
    for exclusion in problem.exclusions:
        kept = [w for w in ways_of(tasks, exclusion) if starts[w[0]] - starts[w[1]] >= w[2]]
        links += [_as_link(way) for way in kept[:1]]
    for resource, capacity in problem.capacities.items():
        users = [t for t in problem.tasks if t.demands.get(resource, 0) and t.duration]
        for one, other in combinations(sorted(users, key=lambda t: starts[t.name]), 2):
            if one.demands[resource] + other.demands[resource] > capacity:
                links.append(_as_link((other.name, one.name, one.duration)))
    ordered = replace(problem, links=tuple(links), exclusions=())
    tight = tightened(ordered)
    # Three tasks may be too many where two are not, so the outcome is looked at again.
    if not tight.possible or any(True for _ in broken_rules(problem, tight.earliest)):
        return starts
    return tight.earliest


def _as_link(order: Order) -> Link:
    after, before, difference = order
    return Link(
        before=before, after=after, from_edge=Edge.START, lag=difference, reason="order"
    )


def order_of(tasks: Mapping[str, Task], first: Moment, second: Moment) -> Order:
    """That a moment comes no later than another, as a difference of starts.

    Parameters
    ----------
    tasks : mapping of str to Task
        By name.
    first, second : (str, Edge, int)
        Task, edge of it and steps after that edge.

    Returns
    -------
    order : (str, str, int)
        After, before, and by how much the start of the one comes after that of the other.
    """
    length = tasks[first[0]].duration if first[1] is Edge.END else 0
    other = tasks[second[0]].duration if second[1] is Edge.END else 0
    return second[0], first[0], length + first[2] - other - second[2]


def ways_of(tasks: Mapping[str, Task], exclusion: Exclusion) -> tuple[Order, ...]:
    """Ways to keep an exclusion: one stretch ends before another, or itself, begins.

    Parameters
    ----------
    tasks : mapping of str to Task
        By name.
    exclusion : Exclusion
        Stretches that must have no moment in common.

    Returns
    -------
    ways : tuple of (str, str, int)
        Stretches of time on one line have a moment in common only if each two of them do,
        so it is enough that two are apart, or that one is empty.
    """
    ways = []
    for one in exclusion.stretches:
        for other in exclusion.stretches:
            if one.ends is not None and other.begins is not None:
                way = order_of(tasks, one.ends, other.begins)
                # A task that takes time does not end before it begins.
                if way[0] != way[1] or way[2] <= 0:
                    ways.append(way)
    return tuple(dict.fromkeys(ways))


class _Tightening:
    """Bounds and differences of one problem, drawn tighter until nothing changes."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.tasks = {task.name: task for task in problem.tasks}
        self.index = {name: k for k, name in enumerate(self.tasks)}
        n = len(self.tasks)
        self.least: Ints = np.full((n, n), _FREE, dtype=np.int64)
        np.fill_diagonal(self.least, 0)
        self.early: Ints = np.zeros(n, dtype=np.int64)
        self.late: Ints = np.array(
            [problem.horizon - task.duration for task in problem.tasks], dtype=np.int64
        )
        self.fixed = {task.name for task in problem.tasks if task.fixed is not None}
        for task in problem.tasks:
            if task.fixed is not None:
                k = self.index[task.name]
                self.early[k] = self.late[k] = task.fixed
        self.hours = [
            (self.index[task.name], *_starts_within(task))
            for task in problem.tasks
            if task.windows is not None and task.fixed is None
        ]
        self.orders: list[Order] = []
        self.possible = True

    def run(self) -> Tight:
        """Draw everything tight."""
        for link in self.problem.links:
            if not {link.before, link.after} <= self.fixed:
                self._demand(
                    order_of(
                        self.tasks,
                        (link.before, link.from_edge, link.lag),
                        (link.after, link.to_edge, 0),
                    )
                )
        choices = [
            ways_of(self.tasks, each)
            for each in self.problem.exclusions
            if not set(each.tasks) <= self.fixed
        ]
        if not all(choices):
            self.possible = False
        choices = list(dict.fromkeys(choices))
        self._close()
        while self.possible and choices:
            choices, forced = self._sift(choices)
            if not (forced and self.possible):
                break
            self._close()
        names = list(self.tasks)
        return Tight(
            earliest=dict(zip(names, map(int, self.early), strict=True)),
            latest=dict(zip(names, map(int, self.late), strict=True)),
            orders=tuple(self.orders),
            choices=tuple(choices),
            possible=self.possible,
        )

    def _sift(
        self, choices: Sequence[tuple[Order, ...]]
    ) -> tuple[list[tuple[Order, ...]], bool]:
        """Choices that are still open, and whether some have become forced."""
        ways = [way for each in choices for way in each]
        j = np.array([self.index[after] for after, _, _ in ways])
        i = np.array([self.index[before] for _, before, _ in ways])
        difference = np.array([d for _, _, d in ways])
        surely = (self.least[i, j] >= difference) | (self.early[j] - self.late[i] >= difference)
        most = np.minimum(-self.least[j, i], self.late[j] - self.early[i])
        never = most < difference
        ends = np.cumsum([len(each) for each in choices])
        begins = ends - [len(each) for each in choices]
        met = np.add.reduceat(surely, begins) > 0
        left, forced = [], False
        for number in map(int, np.flatnonzero(~met)):
            open_ways = [
                way
                for k, way in enumerate(choices[number], start=int(begins[number]))
                if not never[k]
            ]
            if not open_ways:
                self.possible = False
            elif len(open_ways) == 1:
                self._demand(open_ways[0])
                forced = True
            else:
                left.append(tuple(open_ways))
        return list(dict.fromkeys(left)), forced

    def _demand(self, order: Order) -> None:
        after, before, difference = order
        self.orders.append(order)
        i, j = self.index[before], self.index[after]
        self.least[i, j] = max(self.least[i, j], difference)

    def _close(self) -> None:
        """Chains of differences, and bounds of every start that keep to hours."""
        least = self.least
        for k in range(len(least)):
            through = least[:, k, None] + least[None, k, :]
            np.maximum(least, np.where(through > _FREE // 2, through, _FREE), out=least)
        if np.any(np.diagonal(least) > 0):
            self.possible = False
            return
        linked = least > _FREE // 2
        while True:
            early = np.where(linked, self.early[:, None] + least, _FREE).max(axis=0)
            late = np.where(linked, self.late[None, :] - least, -_FREE).min(axis=1)
            for k, firsts, lasts in self.hours:
                early[k] = _next(firsts, lasts, int(early[k]))
                late[k] = _last(firsts, lasts, int(late[k]))
            same = np.array_equal(early, self.early) and np.array_equal(late, self.late)
            self.early, self.late = early, late
            if np.any(early > late):
                self.possible = False
                return
            if same:
                return


def _starts_within(task: Task) -> tuple[list[int], list[int]]:
    fits = [(b, e - task.duration) for b, e in task.windows or () if e - b >= task.duration]
    return [first for first, _ in fits], [last for _, last in fits]


def _next(firsts: Sequence[int], lasts: Sequence[int], at: int) -> int:
    k = bisect_left(lasts, at)
    return max(firsts[k], at) if k < len(lasts) else -_FREE


def _last(firsts: Sequence[int], lasts: Sequence[int], at: int) -> int:
    k = bisect_right(firsts, at)
    return min(lasts[k - 1], at) if k else _FREE
