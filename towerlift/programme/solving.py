"""Search for the shortest schedule by constraint programming, and for rules that clash.

The solver is OR-Tools' CP-SAT: it proves the least finish, or tells how much is left open.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from time import monotonic

from ortools.sat.python import cp_model

from towerlift.errors import NoProgrammeError
from towerlift.programme.problem import Problem, Task
from towerlift.programme.tighten import Order, Tight, chained, justified, tightened
from towerlift.programme.verify import broken_rules

WORKERS = 2
SEED = 1
# Share of the time kept for starting everything as soon as the shortest finish lets it,
# and the most work the solver puts into that, in its own measure.
_TIDYING = 0.3
_TIDYING_WORK = 0.2
# The first horizon looked into is this part of the least finish beyond it; each further
# one is twice as far, and gets a share of the time left, or so much. [s]
_STEPS = 40
_SHARE = 0.5
_LEAST = 1.0
# Time for each try at leaving a rule out of a clash, and for all of them. [s]
_TRY = 5.0
_CLASH = 60.0

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
        built = _Model(limited, tight)
        finish = built.model.new_int_var(least, horizon, "finish")
        for task in self.problem.tasks:
            built.model.add(finish >= built.start[task.name] + task.duration)
        built.hint(self.best)
        built.model.minimize(finish)
        left = max(self.ends - monotonic(), _LEAST)
        wide = horizon >= self.problem.horizon
        solver = _solver(left if wide else max(left * _SHARE, _LEAST))
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
        built = _Model(problem, tight)
        built.hint(self.best or self.wanted.starts)
        moved = _nearest(built, self.wanted)
        if at_most is not None:
            built.model.add(sum(moved) <= at_most)
        left = max((self.ends - monotonic()) * share, _LEAST)
        solver = _solver(left)
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


def _nearest(built: "_Model", wanted: Wanted) -> list[cp_model.IntVar]:
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


def clash(problem: Problem) -> tuple[str, ...]:
    """A smallest set of rules that no schedule keeps together.

    Parameters
    ----------
    problem : Problem
        Without a schedule.

    Returns
    -------
    rules : tuple of str
        In words. Left out any one of them, no clash is left that could be proved; where
        the time for a proof is up, the rules not yet tried are kept, and it says so.

    Notes
    -----
    Halves of the rules are left out by turns, as long as the rest still clash: the
    division of Junker's preferred explanations.

    References
    ----------
    .. [1] U. Junker, "QuickXplain: Preferred Explanations and Relaxations for
       Over-Constrained Problems", AAAI 2004.
    """
    return _Clash(problem).find()


class _Clash:
    """Takes rules out of a problem without a schedule, as long as it has none."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.ends = monotonic() + _CLASH
        self.by_search = tightened(problem).possible
        self.late = False

    def find(self) -> tuple[str, ...]:
        """The rules that are left."""
        kinds = _rules(self.problem)
        if not self._impossible(_all(kinds)):
            return ("all rules together: which of them clash could not be told in the time",)
        # Whole kinds of rules first: often a clash is of a few kinds only.
        for number in range(len(kinds)):
            rest = [each if k != number else [] for k, each in enumerate(kinds)]
            if self._impossible(_all(rest)):
                kinds = rest
        # Then rule by rule, one kind after another: what is needed beside more rules is
        # needed all the more beside fewer.
        for number, kind in enumerate(kinds):
            others = _all([each for k, each in enumerate(kinds) if k != number])
            kinds[number] = self._explain(others, kind, changed=False) if kind else []
        kept = _all(kinds)
        if self.late:
            kept.append("(there was no time to try every one of these)")
        return tuple(kept)

    def _explain(self, fixed: list[str], rules: list[str], *, changed: bool) -> list[str]:
        if changed and self._impossible(fixed):
            return []
        if len(rules) == 1:
            return rules
        if monotonic() > self.ends:
            self.late = True
            return rules
        middle = len(rules) // 2
        one, two = rules[:middle], rules[middle:]
        late = self._explain([*fixed, *one], two, changed=True)
        early = self._explain([*fixed, *late], one, changed=bool(late))
        return [*early, *late]

    def _impossible(self, rules: Sequence[str]) -> bool:
        left = _only(self.problem, frozenset(rules))
        if not left.exclusions and not self.by_search:
            return not chained(left)
        tight = tightened(left)
        if not tight.possible:
            return True
        if not self.by_search:
            return False
        solver = _solver(_TRY)
        return bool(solver.solve(_Model(left, tight).model) == cp_model.INFEASIBLE)


def _rules(problem: Problem) -> list[list[str]]:
    """Rules by kind; those that are least likely to be at fault first."""
    alike: dict[tuple[object, ...], str] = {}
    for link in problem.links:
        key = (link.before, link.after, link.from_edge, link.to_edge, link.lag)
        alike.setdefault(key, link.reason)
    kinds = [
        [exclusion.reason for exclusion in problem.exclusions],
        [_few(*each) for each in problem.capacities.items()],
        list(alike.values()),
        [_hours(task) for task in problem.tasks if task.windows is not None],
        [_in_time(problem)],
    ]
    return [list(dict.fromkeys(kind)) for kind in kinds]


def _all(kinds: list[list[str]]) -> list[str]:
    return list(dict.fromkeys(rule for each in kinds for rule in each))


def _few(resource: str, capacity: int) -> str:
    return f"there are only {capacity} {resource}"


def _hours(task: Task) -> str:
    return f"work keeps to {task.windows_because}"


def _in_time(problem: Problem) -> str:
    return f"all is done in {problem.horizon_because}"


def _only(problem: Problem, rules: frozenset[str]) -> Problem:
    """A problem with some of its rules only."""
    ends = [e for task in problem.tasks for _, e in task.windows or ()]
    work = sum(task.duration + max(task.fixed or 0, 0) for task in problem.tasks)
    lags = sum(abs(link.lag) for link in problem.links)
    far = max([2 * problem.horizon, work + lags, *ends])
    return Problem(
        tasks=tuple(
            task if _hours(task) in rules else replace(task, windows=None)
            for task in problem.tasks
        ),
        links=tuple(link for link in problem.links if link.reason in rules),
        capacities={k: v for k, v in problem.capacities.items() if _few(k, v) in rules},
        exclusions=tuple(each for each in problem.exclusions if each.reason in rules),
        horizon=problem.horizon if _in_time(problem) in rules else far,
        horizon_because=problem.horizon_because,
    )


def _solver(seconds: float) -> cp_model.CpSolver:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = WORKERS
    solver.parameters.random_seed = SEED
    # The workers take turns, so that the same plan gives the same programme every time.
    solver.parameters.interleave_search = True
    solver.parameters.max_time_in_seconds = seconds
    return solver


def _ceil(bound: float) -> int:
    # The bound of a whole-numbered objective, against the last bits of its float.
    return -int(-(bound - 1e-6) // 1)


def _tidied(problem: Problem, starts: Mapping[str, int], seconds: float) -> Mapping[str, int]:
    """Starts as early as the finish lets them be, in all."""
    starts = justified(problem, starts)
    built = _Model(problem, tightened(problem))
    built.hint(starts)
    built.model.minimize(sum(built.start.values()))
    solver = _solver(seconds)
    solver.parameters.max_deterministic_time = _TIDYING_WORK
    if solver.solve(built.model) in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        starts = built.values(solver)
    return justified(problem, starts)


class _Model:
    """What is left to choose in a problem, as the solver takes it."""

    def __init__(self, problem: Problem, tight: Tight) -> None:
        self.model = cp_model.CpModel()
        self.problem = problem
        self.start = {
            task.name: self.model.new_int_var_from_domain(_domain(task, tight), task.name)
            for task in problem.tasks
        }
        self._order: dict[Order, cp_model.IntVar] = {}
        for order in tight.orders:
            self.model.add(self._apart(order))
        for ways in tight.choices:
            self.model.add_bool_or([self._literal(way) for way in ways])
        for resource, capacity in problem.capacities.items():
            self._resource(resource, capacity)

    def values(self, solver: cp_model.CpSolver) -> dict[str, int]:
        """Starts found."""
        return {name: solver.value(variable) for name, variable in self.start.items()}

    def hint(self, starts: Mapping[str, int] | None) -> None:
        """Begin the search from a schedule, whole or not, and from the orders in it."""
        if starts is None:
            return
        for name, start in starts.items():
            self.model.add_hint(self.start[name], start)
        for (after, before, difference), literal in self._order.items():
            self.model.add_hint(literal, int(starts[after] - starts[before] >= difference))

    def _apart(self, order: Order) -> cp_model.BoundedLinearExpression | bool:
        after, before, difference = order
        return self.start[after] - self.start[before] >= difference

    def _literal(self, way: Order) -> cp_model.IntVar:
        if way not in self._order:
            literal = self.model.new_bool_var("")
            self.model.add(self._apart(way)).only_enforce_if(literal)
            self._order[way] = literal
        return self._order[way]

    def _resource(self, resource: str, capacity: int) -> None:
        users = [t for t in self.problem.tasks if t.demands.get(resource, 0) and t.duration]
        if sum(task.demands[resource] for task in users) <= capacity:
            return
        intervals = [
            self.model.new_fixed_size_interval_var(self.start[t.name], t.duration, t.name)
            for t in users
        ]
        self.model.add_cumulative(intervals, [t.demands[resource] for t in users], capacity)


def _domain(task: Task, tight: Tight) -> cp_model.Domain:
    first, last = tight.earliest[task.name], tight.latest[task.name]
    if task.fixed is not None or task.windows is None:
        return cp_model.Domain(first, last)
    fits = [(max(b, first), min(e - task.duration, last)) for b, e in task.windows]
    return cp_model.Domain.from_intervals([[b, e] for b, e in fits if b <= e])
