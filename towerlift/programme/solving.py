"""Search for the shortest schedule by constraint programming, and for rules that clash.

The solver is OR-Tools' CP-SAT: it proves the least finish, or tells how much is left open.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from time import monotonic

from ortools.sat.python import cp_model

from towerlift.errors import NoProgrammeError
from towerlift.programme.problem import Problem, Task
from towerlift.programme.tighten import Order, Tight, order_of, tightened, ways_of
from towerlift.programme.verify import broken_rules

WORKERS = 2
SEED = 1
# Share of the time kept for starting everything as soon as the shortest finish lets it.
_TIDYING = 0.3
# Time for each try at leaving a rule out of a clash. [s]
_TRY = 5.0

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
    """

    starts: Mapping[str, int]
    together: tuple[tuple[str, ...], ...]


def shortest(
    problem: Problem, *, seconds: float, known: Mapping[str, int] | None = None
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
    limited = problem
    if start is not None:
        limited = replace(problem, horizon=min(problem.horizon, _finish(problem, start)))
    tight = tightened(limited)
    if not tight.possible:
        raise NoProgrammeError(clash(problem))
    built = _Model(limited, tight)
    finish = built.model.new_int_var(_finish(problem, tight.earliest), limited.horizon, "end")
    for task in problem.tasks:
        built.model.add(finish >= built.start[task.name] + task.duration)
    built.hint(start)
    built.model.minimize(finish)
    solver = _solver(max(seconds * (1 - _TIDYING) - (monotonic() - began), 1.0))
    status = solver.solve(built.model)
    if status == cp_model.INFEASIBLE:
        raise NoProgrammeError(clash(problem))
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        start = built.values(solver)
    elif start is None:
        raise NoProgrammeError([_NONE_FOUND.format(seconds)])
    best = _finish(problem, start)
    bound = best if status == cp_model.OPTIMAL else _ceil(solver.best_objective_bound)
    bound = max(bound, _finish(problem, tight.earliest))
    left = max(seconds - (monotonic() - began), 1.0)
    start = _tidied(replace(problem, horizon=best), start, left)
    return Solution(starts=start, finish=best, bound=bound, seconds=monotonic() - began)


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
        Its `bound` is its finish: the change is least, the finish is not asked for.

    Raises
    ------
    NoProgrammeError
        As for `shortest`.
    """
    began = monotonic()
    tight = tightened(problem)
    if not tight.possible:
        raise NoProgrammeError(clash(problem))
    built = _Model(problem, tight)
    built.hint(wanted.starts)
    model = built.model
    away = []
    for task in problem.tasks:
        by = model.new_int_var(0, problem.horizon, f"{task.name} moved by")
        model.add_abs_equality(by, built.start[task.name] - wanted.starts[task.name])
        away.append((task.name, by))
    by_name = dict(away)
    moved = []
    for group in wanted.together:
        one = model.new_bool_var(f"{group[0]} moved")
        for name in group:
            model.add(by_name[name] == 0).only_enforce_if(one.negated())
        moved.append(one)
    weight = problem.horizon * max(len(problem.tasks), 1)
    model.minimize(weight * sum(moved) + sum(by for _, by in away))
    solver = _solver(seconds)
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        raise NoProgrammeError(clash(problem))
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        raise NoProgrammeError([_NONE_FOUND.format(seconds)])
    starts = built.values(solver)
    finish = _finish(problem, starts)
    return Solution(starts=starts, finish=finish, bound=finish, seconds=monotonic() - began)


def clash(problem: Problem) -> tuple[str, ...]:
    """A smallest set of rules that no schedule keeps together.

    Parameters
    ----------
    problem : Problem
        Without a schedule.

    Returns
    -------
    rules : tuple of str
        In words. Left out any one of them, there is a schedule; where that could not be
        decided in the time, the rule is kept and may be one too many.

    Notes
    -----
    The solver gives a set from its assumptions; then each rule is tried without.
    """
    built = _Model(problem, None)
    solver = _solver(4 * _TRY)
    built.model.add_assumptions(list(built.rules.values()))
    status = solver.solve(built.model)
    if status != cp_model.INFEASIBLE:
        return ("the rules together: which of them could not be told in the time",)
    names = {literal.index: rule for rule, literal in built.rules.items()}
    core = [names[i] for i in solver.sufficient_assumptions_for_infeasibility() if i in names]
    kept = core or list(built.rules)
    if core and not _impossible(problem, core):
        kept = list(built.rules)
    for rule in list(kept):
        rest = [each for each in kept if each != rule]
        if _impossible(problem, rest):
            kept = rest
    return tuple(kept)


def _impossible(problem: Problem, rules: Sequence[str]) -> bool:
    built = _Model(problem, None)
    for rule, literal in built.rules.items():
        built.model.add(literal == (1 if rule in rules else 0))
    return bool(_solver(_TRY).solve(built.model) == cp_model.INFEASIBLE)


def _solver(seconds: float) -> cp_model.CpSolver:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = WORKERS
    solver.parameters.random_seed = SEED
    solver.parameters.max_time_in_seconds = seconds
    return solver


def _ceil(bound: float) -> int:
    # The bound of a whole-numbered objective, against the last bits of its float.
    return -int(-(bound - 1e-6) // 1)


def _tidied(problem: Problem, starts: Mapping[str, int], seconds: float) -> Mapping[str, int]:
    """Starts as early as the finish lets them be, in all."""
    built = _Model(problem, tightened(problem))
    built.hint(starts)
    built.model.minimize(sum(built.start.values()))
    solver = _solver(seconds)
    status = solver.solve(built.model)
    return built.values(solver) if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) else starts


class _Model:
    """A problem as the solver takes it.

    With what is already forced, only what is left to choose goes in; without, each rule
    stands behind a literal of its own, so that clashing ones can be told.
    """

    def __init__(self, problem: Problem, tight: Tight | None) -> None:
        self.model = cp_model.CpModel()
        self.problem = problem
        self.tight = tight
        self.rules: dict[str, cp_model.IntVar] = {}
        self.tasks = {task.name: task for task in problem.tasks}
        self.start = {task.name: self._start(task) for task in problem.tasks}
        self._order: dict[Order, cp_model.IntVar] = {}
        if tight is None:
            self._all_rules()
        else:
            for after, before, difference in tight.orders:
                self._add(self.start[after] - self.start[before] >= difference, "")
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

    def _all_rules(self) -> None:
        fixed = {task.name for task in self.problem.tasks if task.fixed is not None}
        for link in self.problem.links:
            if not {link.before, link.after} <= fixed:
                way = order_of(
                    self.tasks,
                    (link.before, link.from_edge, link.lag),
                    (link.after, link.to_edge, 0),
                )
                self._add(self.start[way[0]] - self.start[way[1]] >= way[2], link.reason)
        for exclusion in self.problem.exclusions:
            if not set(exclusion.tasks) <= fixed:
                ways = [self._literal(way) for way in ways_of(self.tasks, exclusion)]
                self.model.add_bool_or(*ways, self._rule(exclusion.reason).negated())

    def _rule(self, words: str) -> cp_model.IntVar:
        if words not in self.rules:
            self.rules[words] = self.model.new_bool_var(words)
        return self.rules[words]

    def _add(self, constraint: cp_model.BoundedLinearExpression | bool, words: str) -> None:
        added = self.model.add(constraint)
        if words:
            added.only_enforce_if(self._rule(words))

    def _start(self, task: Task) -> cp_model.IntVar:
        if task.fixed is not None:
            return self.model.new_constant(task.fixed)
        if self.tight is not None:
            first, last = self.tight.earliest[task.name], self.tight.latest[task.name]
            return self.model.new_int_var_from_domain(_domain(task, first, last), task.name)
        # Far beyond the horizon, so that what is left out can be seen to be at fault.
        far = self._far()
        start = self.model.new_int_var(0, far, task.name)
        latest = self.problem.horizon - task.duration
        self._add(start <= latest, f"all is done in {self.problem.horizon_because}")
        if task.windows is not None:
            words = f"{task.name} keeps to {task.windows_because}"
            self.model.add_linear_expression_in_domain(
                start, _domain(task, 0, far)
            ).only_enforce_if(self._rule(words))
        return start

    def _far(self) -> int:
        ends = [e for task in self.problem.tasks for _, e in task.windows or ()]
        work = sum(task.duration for task in self.problem.tasks)
        lags = sum(max(link.lag, 0) for link in self.problem.links)
        return max([2 * self.problem.horizon, work + lags, *ends])

    def _literal(self, way: Order) -> cp_model.IntVar:
        if way not in self._order:
            after, before, difference = way
            literal = self.model.new_bool_var("")
            apart = self.start[after] - self.start[before] >= difference
            self.model.add(apart).only_enforce_if(literal)
            self._order[way] = literal
        return self._order[way]

    def _resource(self, resource: str, capacity: int) -> None:
        users = [t for t in self.problem.tasks if t.demands.get(resource, 0) and t.duration]
        if sum(task.demands[resource] for task in users) <= capacity:
            return
        intervals = []
        for task in users:
            start = self.start[task.name]
            if self.tight is None:
                rule = self._rule(f"there are only {capacity} {resource}")
                interval = self.model.new_optional_fixed_size_interval_var(
                    start, task.duration, rule, task.name
                )
            else:
                interval = self.model.new_fixed_size_interval_var(
                    start, task.duration, task.name
                )
            intervals.append(interval)
        self.model.add_cumulative(intervals, [t.demands[resource] for t in users], capacity)


def _domain(task: Task, first: int, last: int) -> cp_model.Domain:
    windows = task.windows or ((first, last + task.duration),)
    fits = [(max(b, first), min(e - task.duration, last)) for b, e in windows]
    return cp_model.Domain.from_intervals([[b, e] for b, e in fits if b <= e])
