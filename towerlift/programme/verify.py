"""A plain look at a schedule, rule by rule: which rules it breaks, and by how much.

It shares no code with the search that makes schedules, and takes nothing on trust from it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from towerlift.programme.problem import Edge, Exclusion, Link, Problem, Stretch, Task

_Span = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """A rule that a schedule breaks.

    Attributes
    ----------
    rule : str
        In words, as the problem has it.
    tasks : tuple of str
        The tasks that break it, the one that gives way first.
    short : int
        Least delay of the first of them that cures it, the rest staying where they are, in
        steps; 0 where no delay does.
    early : int
        By how little sooner the first may start to cure it instead; 0 where that does not.
    source : Link, Exclusion or None
        The rule itself; None for hours, resources, the horizon and fixed starts.
    """

    rule: str
    tasks: tuple[str, ...]
    short: int = 0
    early: int = 0
    source: Link | Exclusion | None = None


def broken_rules(
    problem: Problem, starts: Mapping[str, int], *, about: str | None = None
) -> Iterator[Broken]:
    """Every rule of a problem that a schedule breaks.

    Parameters
    ----------
    problem : Problem
        The tasks and the rules.
    starts : mapping of str to int
        Start of every task, in steps.
    about : str or None
        Only rules in which this task has a part; None is all.

    Yields
    ------
    broken : Broken
        None where the schedule keeps every rule. Rules among fixed tasks alone are not
        looked at: what is done is done.

    Raises
    ------
    ValueError
        If a task has no start.
    """
    tasks = {task.name: task for task in problem.tasks}
    missing = [name for name in tasks if name not in starts]
    if missing:
        raise ValueError(f"no start for {', '.join(missing)}")
    for name, task in tasks.items():
        if about in (None, name):
            yield from _alone(task, starts[name], problem)
    done = {name for name, task in tasks.items() if task.fixed is not None}
    for link in problem.links:
        open_ = not {link.before, link.after} <= done
        if open_ and about in (None, link.before, link.after):
            yield from _link(link, tasks, starts)
    for exclusion in problem.exclusions:
        named = _named(exclusion)
        if not named <= done and (about is None or about in named):
            yield from _exclusion(exclusion, tasks, starts)
    for resource in problem.capacities:
        if about is None or tasks[about].demands.get(resource, 0) > 0:
            yield from _resource(problem, resource, starts, about)


def _alone(task: Task, start: int, problem: Problem) -> Iterator[Broken]:
    end = start + task.duration
    if task.fixed is not None:
        if start != task.fixed:
            yield Broken(rule=f"{task.name} has begun already", tasks=(task.name,))
        return
    if start < 0 or end > problem.horizon:
        yield Broken(rule=f"all is done in {problem.horizon_because}", tasks=(task.name,))
    if task.windows is not None and not any(b <= start and end <= e for b, e in task.windows):
        later = [b - start for b, e in task.windows if b > start and b + task.duration <= e]
        last = [e - task.duration for b, e in task.windows if b + task.duration <= e]
        sooner = [start - each for each in last if each < start]
        yield Broken(
            rule=f"{task.name} keeps to {task.windows_because}",
            tasks=(task.name,),
            short=min(later, default=0),
            early=min(sooner, default=0),
        )


def _edge(name: str, edge: Edge, tasks: Mapping[str, Task], starts: Mapping[str, int]) -> int:
    return starts[name] + (tasks[name].duration if edge is Edge.END else 0)


def _link(link: Link, tasks: Mapping[str, Task], starts: Mapping[str, int]) -> Iterator[Broken]:
    early = _edge(link.before, link.from_edge, tasks, starts) + link.lag
    short = early - _edge(link.after, link.to_edge, tasks, starts)
    if short > 0:
        yield Broken(
            rule=link.reason, tasks=(link.after, link.before), short=short, source=link
        )


def _named(exclusion: Exclusion) -> set[str]:
    moments = [m for s in exclusion.stretches for m in (s.begins, s.ends) if m is not None]
    return {moment[0] for moment in moments}


def _span(stretch: Stretch, tasks: Mapping[str, Task], starts: Mapping[str, int]) -> _Span:
    begins, ends = float("-inf"), float("inf")
    if stretch.begins is not None:
        name, edge, offset = stretch.begins
        begins = _edge(name, edge, tasks, starts) + offset
    if stretch.ends is not None:
        name, edge, offset = stretch.ends
        ends = _edge(name, edge, tasks, starts) + offset
    return begins, ends


def _exclusion(
    exclusion: Exclusion, tasks: Mapping[str, Task], starts: Mapping[str, int]
) -> Iterator[Broken]:
    spans = [_span(stretch, tasks, starts) for stretch in exclusion.stretches]
    if any(ends <= begins for begins, ends in spans):
        return
    if min(ends for _, ends in spans) > max(begins for begins, _ in spans):
        others = [end for _, end in spans[1:] if end < float("inf")]
        delay = min(others, default=spans[0][0]) - spans[0][0]
        short = int(delay) if 0 < delay < float("inf") else 0
        yield Broken(
            rule=exclusion.reason, tasks=exclusion.tasks, short=short, source=exclusion
        )


def _resource(
    problem: Problem, resource: str, starts: Mapping[str, int], about: str | None
) -> Iterator[Broken]:
    capacity = problem.capacities[resource]
    users = [
        task
        for task in problem.tasks
        if task.demands.get(resource, 0) > 0 and task.duration > 0
    ]
    # The load only ever rises where something starts.
    for one in users:
        now = starts[one.name]
        at_work = [t for t in users if starts[t.name] <= now < starts[t.name] + t.duration]
        load = sum(task.demands[resource] for task in at_work)
        names = tuple(task.name for task in at_work)
        open_ = any(task.fixed is None for task in at_work)
        if load > capacity and open_ and (about is None or about in names):
            last = max(at_work, key=lambda task: starts[task.name])
            ends = [starts[t.name] + t.duration for t in at_work if t is not last]
            yield Broken(
                rule=f"{resource}: {load} are needed at once and there are {capacity}",
                tasks=(last.name, *(name for name in names if name != last.name)),
                short=max(min(ends, default=now) - now, 0),
            )
