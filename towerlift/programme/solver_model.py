"""A problem as the constraint solver takes it: OR-Tools' CP-SAT."""

from collections.abc import Mapping

from ortools.sat.python import cp_model

from towerlift.programme.problem import Problem, Task
from towerlift.programme.tighten import Order, Tight

WORKERS = 2
SEED = 1


def solver_for(seconds: float) -> cp_model.CpSolver:
    """The solver, set to stop after so many seconds and to repeat itself."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = WORKERS
    solver.parameters.random_seed = SEED
    # The workers take turns, so that the same plan gives the same programme every time.
    solver.parameters.interleave_search = True
    solver.parameters.max_time_in_seconds = seconds
    return solver


class Model:
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
