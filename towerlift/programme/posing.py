"""A plan as a bare problem of scheduling: tasks, links and what excludes what."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations
from math import ceil

import networkx as nx

from towerlift.motion.raises import Raise
from towerlift.plan.model import Plan
from towerlift.plan.work import Activity
from towerlift.programme.apart import Apart, pieces_of
from towerlift.programme.graph import HOLD, Wait, long, precedence
from towerlift.programme.hours import Clock
from towerlift.programme.problem import Edge, Exclusion, Link, Problem
from towerlift.programme.tasks import ROOM_DAYS, Job, clock_of, stage_jobs, work_jobs
from towerlift.programme.wishes import NO_WISHES, Wishes


@dataclass(frozen=True, slots=True, kw_only=True)
class Posed:
    """A plan's problem, and what its tasks stand for.

    Attributes
    ----------
    plan : Plan
        As written.
    problem : Problem
        In minutes of the clock.
    clock : Clock
        Of the site.
    jobs : mapping of str to Job
        Stages and activities by name.
    graph : networkx.DiGraph
        What waits for what.
    """

    plan: Plan
    problem: Problem
    clock: Clock
    jobs: Mapping[str, Job]
    graph: "nx.DiGraph[str]"

    @property
    def dated(self) -> dict[str, int]:
        """Where the plan's own dates put each task; -1 where it has none. [min]"""
        return {
            task.name: start
            for job in self.jobs.values()
            for task, start in zip(job.tasks, job.dated, strict=True)
        }


def pose(
    plan: Plan, raise_: Raise, wishes: Wishes = NO_WISHES, *, room_days: int = ROOM_DAYS
) -> Posed:
    """The problem of scheduling a plan.

    Parameters
    ----------
    plan : Plan
        As read.
    raise_ : Raise
        The same plan's.
    wishes : Wishes
        What is asked besides.
    room_days : int
        Days beyond the plan's last date that are looked at.

    Returns
    -------
    posed : Posed
        The problem, its clock and what its tasks are.

    Raises
    ------
    PrecedenceError
        If something waits for itself, or for what the plan does not hold.
    NoProgrammeError
        If the time of a haul is not known.
    """
    graph = precedence(plan, raise_)
    clock = clock_of(plan, room_days=room_days)
    stages = list(stage_jobs(plan, raise_, clock, wishes))
    works = list(work_jobs(plan, clock, wishes))
    jobs = {job.name: job for job in (*stages, *works)}
    horizon, because = clock.horizon, f"{clock.n_days} days"
    if wishes.finish_by is not None:
        horizon = min(horizon, clock.minute(wishes.finish_by))
        because = f"the time till {wishes.finish_by:%Y-%m-%d %H:%M}"
    apart = Apart(plan=plan, pieces=pieces_of(plan), graph=graph)
    problem = Problem(
        tasks=tuple(task for job in jobs.values() for task in job.tasks),
        links=tuple(_links(graph, jobs)),
        # Whether as many come as have signed is for the check of crews to say.
        capacities={crew.name: crew.signed for crew in plan.crews},
        exclusions=tuple(_exclusions(apart, works)),
        horizon=horizon,
        horizon_because=because,
    )
    return Posed(plan=plan, problem=problem, clock=clock, jobs=jobs, graph=graph)


def _links(graph: "nx.DiGraph[str]", jobs: Mapping[str, Job]) -> Iterator[Link]:
    for before, after in graph.edges:
        if HOLD in (graph.nodes[before]["kind"], graph.nodes[after]["kind"]):
            continue
        for wait in graph.edges[before, after]["waits"]:
            yield _link(jobs[before], jobs[after], wait, wait.reason)
    for node in graph.nodes:
        if graph.nodes[node]["kind"] == HOLD:
            for before in graph.predecessors(node):
                for after in graph.successors(node):
                    signed = graph.edges[before, node]["waits"][0]
                    reason = f"{after} waits: {signed.reason}"
                    yield _link(jobs[before], jobs[after], signed, reason)
    for job in jobs.values():
        yield from _inside(job)
        yield from _beside(job, jobs)


def _link(before: Job, after: Job, wait: Wait, reason: str) -> Link:
    one = before.tasks[-1] if wait.from_edge is Edge.END else before.tasks[0]
    return Link(
        before=one.name,
        after=after.tasks[0].name,
        from_edge=wait.from_edge,
        to_edge=wait.to_edge,
        lag=ceil(wait.lag / 60.0),
        reason=reason,
    )


def _inside(job: Job) -> Iterator[Link]:
    for one, two in zip(job.tasks, job.tasks[1:], strict=False):
        yield Link(before=one.name, after=two.name, reason=f"{job.name} goes on in order")


def _beside(job: Job, jobs: Mapping[str, Job]) -> Iterator[Link]:
    activity = job.of
    if not isinstance(activity, Activity):
        return
    first, last = job.tasks[0].name, job.tasks[-1].name
    if activity.during is not None:
        stage = jobs[activity.during].tasks[0].name
        reason = f"{job.name} starts with {activity.during}"
        for one, two in ((stage, first), (first, stage)):
            yield Link(before=one, after=two, from_edge=Edge.START, reason=reason)
    if activity.within is not None:
        for name in activity.after:
            yield Link(
                before=last,
                after=jobs[name].tasks[-1].name,
                to_edge=Edge.END,
                lag=-ceil(activity.within / 60.0),
                reason=f"{job.name} is done within {long(activity.within)} of {name}",
            )


def _exclusions(apart: Apart, works: list[Job]) -> Iterator[Exclusion]:
    for job in works:
        yield from apart.from_raise(job)
    for one, other in combinations(works, 2):
        yield from apart.between(one, other)
