"""From a programme to a network that can be drawn: its order kept, its times let vary.

Whatever comes first in the programme comes first in every draw: links with their lags,
what must not coincide, and crews that cannot be in two places. Nothing starts before its
date in the programme, since people come on the day they were asked for.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, permutations

import networkx as nx
import numpy as np

from towerlift.plan.work import Stage
from towerlift.programme.bookings import Programme
from towerlift.programme.posing import Posed
from towerlift.programme.problem import Edge, Exclusion, Link, Stretch, Task
from towerlift.programme.risk import RiskLink, RiskNetwork, RiskTask
from towerlift.programme.risk_spread import Spread, usual_spread
from towerlift.programme.risk_weather import HeldUp
from towerlift.programme.tasks import Job

MINUTE = 60.0
LIFTS, ALOFT = "lifts", "aloft"

Starts = Mapping[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Varies:
    """What varies from draw to draw.

    Attributes
    ----------
    spreads : mapping of str to Spread
        Three-point durations by stage or activity; the usual spread for the rest.
    weather : mapping of str to HeldUp
        What holds up "lifts" (stages that haul) and work "aloft" (on a section); nothing
        for what is not in it. Hours count from the beginning of the programme's clock.
    """

    spreads: Mapping[str, Spread]
    weather: Mapping[str, HeldUp]


def starts_of(posed: Posed, programme: Programme) -> dict[str, int]:
    """Start of every task of a programme.

    Parameters
    ----------
    posed : Posed
        The problem that the programme solves.
    programme : Programme
        Its bookings.

    Returns
    -------
    starts : dict of str to int
        On the programme's clock. [min]

    Raises
    ------
    ValueError
        If the programme has no booking of a stage or activity.
    """
    starts: dict[str, int] = {}
    for job in posed.jobs.values():
        pieces = programme.of(job.name)
        if not pieces:
            raise ValueError(f"the programme has no booking of {job.name}")
        left = iter(pieces)
        piece = next(left)
        at = posed.clock.minute(piece.starts)
        for task in job.tasks:
            # A piece that is full is followed by the next one; empty tasks stay in it.
            if at + task.duration > posed.clock.minute(piece.ends):
                piece = next(left, piece)
                at = posed.clock.minute(piece.starts)
            starts[task.name] = at
            at += task.duration
    return starts


def network_of(posed: Posed, starts: Starts, varies: Varies) -> RiskNetwork:
    """The network of a programme.

    Parameters
    ----------
    posed : Posed
        Tasks, links, exclusions and crews.
    starts : mapping of str to int
        Of every task in the programme. [min]
    varies : Varies
        Durations and weather.

    Returns
    -------
    network : RiskNetwork
        Seconds on the programme's clock.

    Notes
    -----
    A link that sets the most time between two tasks cannot be kept by starting later, and
    is left out. Where three works together want more of a crew than there is, but no two
    of them do, their order is not kept.
    """
    ends = {task.name: starts[task.name] + task.duration for task in posed.problem.tasks}
    links = [
        *_links(posed.problem.links, starts),
        *_apart(posed.problem.exclusions, starts, ends),
        *_crews(posed, starts, ends),
    ]
    return RiskNetwork(
        tasks=tuple(
            _task(job, task, starts, varies)
            for job in posed.jobs.values()
            for task in job.tasks
        ),
        links=_fewest(_without_rings(dict.fromkeys(links), starts)),
    )


def _without_rings(links: Iterable[RiskLink], starts: Starts) -> tuple[RiskLink, ...]:
    """Links that agree with the order of the programme, and so never form a ring.

    Work that goes with a stage starts with it and ends with it: both wait for each other.
    Of what starts together, starts are linked first, and a link that would close a ring is
    left out.
    """
    kept: list[RiskLink] = []
    together: list[RiskLink] = []
    for link in links:
        same = starts[link.before] == starts[link.after]
        (together if same else kept).append(link)
    graph: nx.DiGraph[str] = nx.DiGraph()
    for link in sorted(together, key=lambda each: each.to_edge is Edge.END):
        nodes = (link.after, link.before)
        if all(node in graph for node in nodes) and nx.has_path(graph, *nodes):
            continue
        graph.add_edge(link.before, link.after)
        kept.append(link)
    return tuple(kept)


def _fewest(links: Sequence[RiskLink]) -> tuple[RiskLink, ...]:
    """Links without those that follow from others: of what comes one after the other."""
    plain = [link for link in links if _one_after_other(link)]
    graph: nx.DiGraph[str] = nx.DiGraph((link.before, link.after) for link in plain)
    needed = set(nx.transitive_reduction(graph).edges)
    return tuple(
        link
        for link in links
        if not _one_after_other(link) or (link.before, link.after) in needed
    )


def _one_after_other(link: RiskLink) -> bool:
    return link == RiskLink(before=link.before, after=link.after)


def _task(job: Job, task: Task, starts: Starts, varies: Varies) -> RiskTask:
    stage = isinstance(job.of, Stage)
    held = varies.weather.get(LIFTS if stage else ALOFT) if _minds_weather(job) else None
    windows = None
    if task.windows is not None:
        windows = MINUTE * np.array(task.windows, dtype=np.float64).reshape(-1, 2)
    fixed = task.fixed is not None
    return RiskTask(
        name=task.name,
        spread=_spread(job, task, varies.spreads),
        earliest=MINUTE * (starts[task.name] if task.fixed is None else task.fixed),
        windows=None if fixed else windows,
        goes_on=not stage,
        begins_whole=True,
        held_up=None if fixed or not task.duration else held,
    )


def _minds_weather(job: Job) -> bool:
    if isinstance(job.of, Stage):
        return any(step.do in ("lift", "lower") for step in job.of.steps)
    return job.of.place == "on"


def _spread(job: Job, task: Task, spreads: Mapping[str, Spread]) -> Spread:
    if not task.duration:
        return Spread(least=0.0, likely=0.0, most=0.0, source="takes no time")
    given = spreads.get(job.name)
    if given is None:
        return usual_spread(MINUTE * task.duration)
    share = task.duration / sum(each.duration for each in job.tasks)
    return Spread(
        least=share * given.least,
        likely=share * given.likely,
        most=share * given.most,
        source=given.source,
    )


def _links(links: tuple[Link, ...], starts: Starts) -> Iterator[RiskLink]:
    for link in links:
        one, other = starts[link.before], starts[link.after]
        if one > other or (one == other and link.lag < 0):
            continue
        yield RiskLink(
            before=link.before,
            after=link.after,
            lag=MINUTE * link.lag,
            from_edge=link.from_edge,
            to_edge=link.to_edge,
        )


def _apart(
    exclusions: tuple[Exclusion, ...], starts: Starts, ends: Mapping[str, int]
) -> Iterator[RiskLink]:
    def moment(at: tuple[str, Edge, int]) -> int:
        return (starts if at[1] is Edge.START else ends)[at[0]] + at[2]

    def follows(one: Stretch, other: Stretch) -> RiskLink | None:
        if one.ends is None or other.begins is None:
            return None
        if moment(one.ends) > moment(other.begins) or one.ends[0] == other.begins[0]:
            return None
        return RiskLink(
            before=one.ends[0],
            after=other.begins[0],
            lag=MINUTE * (one.ends[2] - other.begins[2]),
            from_edge=one.ends[1],
            to_edge=other.begins[1],
        )

    for exclusion in exclusions:
        pairs = permutations(exclusion.stretches, 2)
        found = (link for link in (follows(*pair) for pair in pairs) if link is not None)
        link = next(found, None)
        if link is not None and starts[link.before] <= starts[link.after]:
            yield link


def _crews(posed: Posed, starts: Starts, ends: Mapping[str, int]) -> Iterator[RiskLink]:
    for crew, there_are in posed.problem.capacities.items():
        users = [
            task for task in posed.problem.tasks if task.demands.get(crew) and task.duration
        ]
        users.sort(key=lambda task: (starts[task.name], ends[task.name]))
        for one, other in combinations(users, 2):
            both = one.demands[crew] + other.demands[crew]
            if both > there_are and ends[one.name] <= starts[other.name]:
                yield RiskLink(before=one.name, after=other.name)
