"""What follows from a problem's rules without any search: bounds, and orders that are forced.

Links are least differences between starts, so chains of links give least differences
between any two tasks; hours and the horizon bound each start; where only one way is left
to keep two things apart, that way is a link of its own. This is repeated until nothing
changes, and leaves far less for the search to decide.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from towerlift.programme.problem import Edge, Exclusion, Problem, Task

# Least difference of two starts where nothing is known.
_FREE = -(10**9)
# A rule is that a start is so much or more after another: (after, before, difference).
Order = tuple[str, str, int]
Moment = tuple[str, Edge, int]


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
    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.tasks = {task.name: task for task in problem.tasks}
        self.index = {name: k for k, name in enumerate(self.tasks)}
        n = len(self.tasks)
        self.least: NDArray[np.int64] = np.full((n, n), _FREE, dtype=np.int64)
        np.fill_diagonal(self.least, 0)
        self.early = np.zeros(n, dtype=np.int64)
        self.late = np.array(
            [problem.horizon - task.duration for task in problem.tasks], dtype=np.int64
        )
        self.fixed = {task.name for task in problem.tasks if task.fixed is not None}
        for task in problem.tasks:
            if task.fixed is not None:
                k = self.index[task.name]
                self.early[k] = self.late[k] = task.fixed
        self.orders: list[Order] = []
        self.possible = True

    def run(self) -> Tight:
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
        self._close()
        while self.possible:
            left, forced = [], False
            for ways in choices:
                open_ways = [way for way in ways if not self._refuted(way)]
                if any(self._entailed(way) for way in open_ways):
                    continue
                if len(open_ways) == 1:
                    self._demand(open_ways[0])
                    forced = True
                elif open_ways:
                    left.append(tuple(open_ways))
                else:
                    self.possible = False
            choices = left
            if not forced:
                break
            self._close()
        names = list(self.tasks)
        return Tight(
            earliest=dict(zip(names, map(int, self.early), strict=True)),
            latest=dict(zip(names, map(int, self.late), strict=True)),
            orders=tuple(self.orders),
            choices=tuple(dict.fromkeys(choices)),
            possible=self.possible,
        )

    def _demand(self, order: Order) -> None:
        after, before, difference = order
        self.orders.append(order)
        i, j = self.index[before], self.index[after]
        self.least[i, j] = max(self.least[i, j], difference)

    def _entailed(self, way: Order) -> bool:
        after, before, difference = way
        i, j = self.index[before], self.index[after]
        return bool(
            self.least[i, j] >= difference or self.early[j] - self.late[i] >= difference
        )

    def _refuted(self, way: Order) -> bool:
        after, before, difference = way
        i, j = self.index[before], self.index[after]
        most = min(-self.least[j, i], self.late[j] - self.early[i])
        return bool(most < difference)

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
            early = self._into_hours(early, self._next)
            late = self._into_hours(late, self._last)
            same = np.array_equal(early, self.early) and np.array_equal(late, self.late)
            self.early, self.late = early, late
            if np.any(early > late):
                self.possible = False
                return
            if same:
                return

    def _into_hours(self, bounds: NDArray[np.int64], move: object) -> NDArray[np.int64]:
        moved = bounds.copy()
        for k, task in enumerate(self.tasks.values()):
            if task.windows is not None and task.fixed is None:
                moved[k] = move(task, int(bounds[k]))  # type: ignore[operator]
        return moved

    @staticmethod
    def _next(task: Task, at: int) -> int:
        for begins, ends in _fitting(task):
            if ends - task.duration >= at:
                return max(begins, at)
        return -_FREE

    @staticmethod
    def _last(task: Task, at: int) -> int:
        for begins, ends in reversed(_fitting(task)):
            if begins <= at:
                return min(ends - task.duration, at)
        return _FREE


def _fitting(task: Task) -> Sequence[tuple[int, int]]:
    return [(b, e) for b, e in task.windows or () if e - b >= task.duration]
