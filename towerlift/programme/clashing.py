"""A smallest set of rules that clash, where no schedule keeps them all."""

from collections.abc import Sequence
from dataclasses import replace
from time import monotonic

from ortools.sat.python import cp_model

from towerlift.programme.problem import Problem, Task
from towerlift.programme.solver_model import Model, solver_for
from towerlift.programme.tighten import chained, tightened

# Time for each try at leaving a rule out of a clash, and for all of them. [s]
_TRY = 5.0
_CLASH = 60.0


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
        solver = solver_for(_TRY)
        return bool(solver.solve(Model(left, tight).model) == cp_model.INFEASIBLE)


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
