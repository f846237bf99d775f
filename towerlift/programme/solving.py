"""Search for the shortest schedule by constraint programming, and for the least change.

The solver is OR-Tools' CP-SAT: it proves the least finish, or tells how much is left open.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from time import monotonic

from ortools.sat.python import cp_model

from towerlift.errors import NoProgrammeError
from towerlift.programme.clashing import clash
from towerlift.programme.problem import Problem, Task
from towerlift.programme.solver_model import Model, solver_for
from towerlift.programme.tighten import justified, tightened
from towerlift.programme.verify import broken_rules

# Share of the time kept for starting everything as soon as the shortest finish lets it,
# and the most work the solver puts into that, in its own measure.
_TIDYING = 0.3
_TIDYING_WORK = 0.2
# The first horizon looked into is this part of the least finish beyond it; each further
# one is twice as far, and gets a share of the time left, or so much. [s]
_STEPS = 40
_SHARE = 0.5
_LEAST = 1.0

_NONE_FOUND = "none was found in {:.0f} s, and none was ruled out: allow more time"


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """A schedule and what is proved of it.

    Attributes
    ----------
    starts : mapping of str to int
        Start of each task, in steps.
    finish : int
        When the last ends.
    bound : int
        No schedule ends before this.
    seconds : float
        Time the search took. [s]
    """

    starts: Mapping[str, int]
    finish: int
    bound: int
    seconds: float

    @property
    def proved(self) -> bool:
        """Whether no schedule is shorter."""
        return self.bound >= self.finish


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Where each task is wished to start, for the least change.

    Attributes
    ----------
    starts : mapping of str to int
        Wished start of each task, in steps.
    together : tuple of tuple of str
        Tasks that count as one change when any of them moves, such as parts of one work.
    reaches : tuple of int
        How far from the wished starts is looked first, before it is looked everywhere.
    """

    starts: Mapping[str, int]
    together: tuple[tuple[str, ...], ...]
    reaches: tuple[int, ...] = ()


def shortest(
    problem: Problem,
    *,
    seconds: float,
    known: Mapping[str, int] | None = None,
    tidy: bool = True,
) -> Solution:
    """The schedule that ends first, each task as early as that lets it.

    Parameters
    ----------
    problem : Problem
        Tasks and rules.
    seconds : float
        Time after which the best found so far is returned. [s]
    known : mapping of str to int or None
        A schedule at hand; where it keeps every rule, only shorter ones are looked for.
    tidy : bool
        Whether everything is then started as early as the finish lets it, in all.

    Returns
    -------
    solution : Solution
        With the bound that was proved.

    Raises
    ------
    NoProgrammeError
        If no schedule keeps every rule, with a smallest set of rules that clash; or if
        none was found in the time.
    """
    began = monotonic()
    start = _kept(problem, known)
    if start is not None:
        start = justified(problem, start)
    search = _Search(problem=problem, best=start, ends=began + seconds * (1 - _TIDYING))
    search.run()
    if search.best is None:
        if search.bound > problem.horizon:
            raise NoProgrammeError(clash(problem))
        raise NoProgrammeError([_NONE_FOUND.format(seconds)])
    best, finish = search.best, _finish(problem, search.best)
    left = seconds - (monotonic() - began)
    if tidy and left > 0:
        best = _tidied(replace(problem, horizon=finish), best, left)
    return Solution(
        starts=best,
        finish=finish,
        bound=min(search.bound, finish),
        seconds=monotonic() - began,
    )


@dataclass(slots=True, kw_only=True)
class _Search:
    """Looks for a schedule within horizons that grow from what is least possible.

    Within a near horizon little is left to choose, so that either a schedule is found
    or the horizon is ruled out soon.
    """

    problem: Problem
    best: Mapping[str, int] | None
    ends: float
    bound: int = 0

    def run(self) -> None:
        """Until a shortest schedule is proved, none is possible, or time is up."""
        far = self.problem.horizon
        if self.best is not None:
            far = min(far, _finish(self.problem, self.best) - 1)
        tight = tightened(replace(self.problem, horizon=far))
        if not tight.possible:
            self.bound = far + 1
            return
        self.bound = max(self.bound, _finish(self.problem, tight.earliest))
        step = max(self.bound // _STEPS, 1)
        while self.bound <= far and monotonic() < self.ends:
            self._within(min(self.bound + step - 1, far))
            step *= 2
            if self.best is not None:
                far = min(far, _finish(self.problem, self.best) - 1)

    def _within(self, horizon: int) -> None:
        """Look for the shortest schedule within a horizon, or rule the horizon out."""
        limited = replace(self.problem, horizon=horizon)
        tight = tightened(limited)
        if not tight.possible:
            self.bound = horizon + 1
            return
        least = _finish(self.problem, tight.earliest)
        built = Model(limited, tight)
        finish = built.model.new_int_var(least, horizon, "finish")
        for task in self.problem.tasks:
            built.model.add(finish >= built.start[task.name] + task.duration)
        built.hint(self.best)
        built.model.minimize(finish)
        left = max(self.ends - monotonic(), _LEAST)
        wide = horizon >= self.problem.horizon
        solver = solver_for(left if wide else max(left * _SHARE, _LEAST))
        status = solver.solve(built.model)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            self.best = built.values(solver)
        if status == cp_model.INFEASIBLE:
            self.bound = horizon + 1
        elif status == cp_model.OPTIMAL:
            self.bound = _finish(self.problem, built.values(solver))
        elif status == cp_model.FEASIBLE:
            self.bound = max(self.bound, _ceil(solver.best_objective_bound))


def _kept(problem: Problem, known: Mapping[str, int] | None) -> Mapping[str, int] | None:
    if known is None or min(known.values(), default=0) < 0:
        return None
    return None if any(True for _ in broken_rules(problem, known)) else known


def _finish(problem: Problem, starts: Mapping[str, int]) -> int:
    return max((starts[task.name] + task.duration for task in problem.tasks), default=0)


def least_change(problem: Problem, wanted: Wanted, *, seconds: float) -> Solution:
    """The schedule nearest to wished starts: fewest moved, then least moved in all.

    Parameters
    ----------
    problem : Problem
        Tasks and rules.
    wanted : Wanted
        The wished starts.
    seconds : float
        Time after which the best found so far is returned. [s]

    Returns
    -------
    solution : Solution
        Its `bound` is its finish where the change is proved least, else 0.

    Raises
    ------
    NoProgrammeError
        As for `shortest`.
    """
    search = _Nearest(problem=problem, wanted=wanted, ends=monotonic() + seconds)
    began = monotonic()
    for reach in wanted.reaches:
        search.within(reach)
    search.everywhere()
    if search.best is None:
        if search.impossible:
            raise NoProgrammeError(clash(problem))
        raise NoProgrammeError([_NONE_FOUND.format(seconds)])
    finish = _finish(problem, search.best)
    return Solution(
        starts=search.best,
        finish=finish,
        bound=finish if search.proved else 0,
        seconds=monotonic() - began,
    )


@dataclass(slots=True, kw_only=True)
class _Nearest:
    """Looks near the wished starts first, then for fewer moves everywhere.

    Where the best within a reach moves less in all than that reach, nothing outside it
    moves less in all; so only fewer moves are left to be ruled out.
    """

    problem: Problem
    wanted: Wanted
    ends: float
    best: Mapping[str, int] | None = None
    reach: int = 0
    proved: bool = False
    impossible: bool = False

    def within(self, reach: int) -> None:
        """The least change in which nothing moves farther than a reach."""
        if self._enough():
            return
        near = tuple(_near(task, self.wanted, reach) for task in self.problem.tasks)
        status = self._solve(replace(self.problem, tasks=near), _SHARE)
        self.reach = reach if status == cp_model.OPTIMAL else 0

    def everywhere(self) -> None:
        """The least change of all."""
        if self._enough():
            assert self.best is not None
            fewer = self._change(self.best)[0] - 1
            status = self._solve(self.problem, 1.0, at_most=fewer) if fewer >= 0 else None
            self.proved = fewer < 0 or status in (cp_model.INFEASIBLE, cp_model.OPTIMAL)
            return
        status = self._solve(self.problem, 1.0)
        self.proved = status == cp_model.OPTIMAL
        self.impossible = status == cp_model.INFEASIBLE

    def _enough(self) -> bool:
        return self.best is not None and self._change(self.best)[1] <= self.reach

    def _change(self, starts: Mapping[str, int]) -> tuple[int, int]:
        wished = self.wanted.starts
        by = [[abs(starts[n] - wished[n]) for n in group] for group in self.wanted.together]
        return sum(any(each) for each in by), sum(sum(each) for each in by)

    def _solve(
        self, problem: Problem, share: float, *, at_most: int | None = None
    ) -> cp_model.CpSolverStatus:
        tight = tightened(problem)
        if not tight.possible:
            return cp_model.INFEASIBLE
        built = Model(problem, tight)
        built.hint(self.best or self.wanted.starts)
        moved = _nearest(built, self.wanted)
        if at_most is not None:
            built.model.add(sum(moved) <= at_most)
        left = max((self.ends - monotonic()) * share, _LEAST)
        solver = solver_for(left)
        status = solver.solve(built.model)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            self.best = built.values(solver)
        return status


def _near(task: Task, wanted: Wanted, reach: int) -> Task:
    """A task that may not start farther than so much from where it is wished."""
    if task.fixed is not None:
        return task
    at = wanted.starts[task.name]
    first, last = at - reach, at + reach + task.duration
    windows = task.windows if task.windows is not None else ((0, last),)
    near = [(max(b, first), min(e, last)) for b, e in windows]
    return replace(task, windows=tuple((b, e) for b, e in near if b + task.duration <= e))


def _nearest(built: Model, wanted: Wanted) -> list[cp_model.IntVar]:
    """Ask for the fewest moves, then the least moved; gives what tells of each move."""
    model, problem = built.model, built.problem
    away = {}
    for task in problem.tasks:
        by = model.new_int_var(0, problem.horizon, f"{task.name} moved by")
        model.add_abs_equality(by, built.start[task.name] - wanted.starts[task.name])
        away[task.name] = by
    moved = []
    for group in wanted.together:
        one = model.new_bool_var(f"{group[0]} moved")
        for name in group:
            model.add(away[name] == 0).only_enforce_if(one.negated())
        moved.append(one)
    # What is not in a group takes no time and is free to go with the rest.
    counted = [away[name] for group in wanted.together for name in group]
    weight = problem.horizon * max(len(counted), 1)
    model.minimize(weight * sum(moved) + sum(counted))
    return moved


def _ceil(bound: float) -> int:
    # The bound of a whole-numbered objective, against the last bits of its float.
    return -int(-(bound - 1e-6) // 1)


def _tidied(problem: Problem, starts: Mapping[str, int], seconds: float) -> Mapping[str, int]:
    """Starts as early as the finish lets them be, in all."""
    starts = justified(problem, starts)
    built = Model(problem, tightened(problem))
    built.hint(starts)
    built.model.minimize(sum(built.start.values()))
    solver = solver_for(seconds)
    solver.parameters.max_deterministic_time = _TIDYING_WORK
    if solver.solve(built.model) in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        starts = built.values(solver)
    return justified(problem, starts)
