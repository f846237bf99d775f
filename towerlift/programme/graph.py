"""What waits for what, and why: stages, work and hold points as a graph."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import networkx as nx

from towerlift.errors import PrecedenceError
from towerlift.motion.raises import Raise
from towerlift.plan.model import Plan
from towerlift.plan.work import Activity, Stage
from towerlift.programme.holds import HOLD_POINTS
from towerlift.programme.problem import Edge

STAGE, WORK, HOLD = "stage", "work", "hold point"
_DAY, _HOUR = 86400.0, 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """Why one thing waits for another.

    Attributes
    ----------
    reason : str
        A sentence.
    lag : float
        Time that must pass between. [s]
    from_edge, to_edge : Edge
        Edge of the one waited for, and of the one that waits.
    """

    reason: str
    lag: float = 0.0
    from_edge: Edge = Edge.END
    to_edge: Edge = Edge.START


def precedence(plan: Plan, raise_: Raise) -> "nx.DiGraph[str]":
    """Everything that waits, with the reasons.

    Parameters
    ----------
    plan : Plan
        Its stages and activities, with what each says it comes before and after.
    raise_ : Raise
        The same plan's: gives the order in which the tower changes.

    Returns
    -------
    graph : networkx.DiGraph
        Nodes are stages and activities by name, and hold points as "H3 for L1"; each has
        a `kind`. Each edge goes from what is waited for, and has `waits`: a tuple of Wait.

    Raises
    ------
    PrecedenceError
        If something waits for itself, or for what the plan does not hold.
    """
    graph: nx.DiGraph[str] = nx.DiGraph()
    for stage in plan.stages:
        graph.add_node(stage.name, kind=STAGE)
    for activity in plan.activities:
        graph.add_node(activity.name, kind=WORK)
    missing = list(_missing(plan))
    if missing:
        raise PrecedenceError("; ".join(missing))
    for edges in (
        _stages(plan),
        _fitting(plan),
        _floor(plan),
        _written(plan),
        _holds(plan, graph),
    ):
        for before, after, wait in edges:
            waits = graph.edges[before, after]["waits"] if graph.has_edge(before, after) else ()
            graph.add_edge(before, after, waits=(*waits, wait))
    _refuse_rings(graph)
    return graph


def _missing(plan: Plan) -> Iterator[str]:
    stages = {stage.name for stage in plan.stages}
    known = stages | {activity.name for activity in plan.activities}
    for stage in plan.stages:
        for name in stage.after:
            if name not in stages:
                yield f'stage "{stage.name}" waits for "{name}", which is no stage'
    for activity in plan.activities:
        for name in (*activity.after, *activity.before):
            if name not in known:
                yield (
                    f'activity "{activity.name}" names "{name}", which is no stage and no '
                    "activity of the plan"
                )
        if activity.during is not None and activity.during not in stages:
            yield f'activity "{activity.name}" goes with "{activity.during}", which is no stage'


def _refuse_rings(graph: "nx.DiGraph[str]") -> None:
    try:
        ring = nx.find_cycle(graph)
    except nx.NetworkXNoCycle:
        return
    told = "; ".join(graph.edges[edge[0], edge[1]]["waits"][0].reason for edge in ring)
    names = " before ".join([edge[0] for edge in ring] + [ring[0][0]])
    raise PrecedenceError(f"they wait for each other: {names} ({told})")


def _subjects(stage: Stage) -> Iterator[str]:
    for step in stage.steps:
        for key in ("section", "fixture", "item", "on"):
            name = getattr(step, key, None)
            if name is not None:
                yield name


def _stages(plan: Plan) -> Iterator[tuple[str, str, Wait]]:
    order = [stage for stage in plan.stages if stage.steps]
    touched: dict[str, str] = {}
    for number, stage in enumerate(order):
        for subject in dict.fromkeys(_subjects(stage)):
            if subject in touched:
                reason = f"{stage.name} needs the {subject} as {touched[subject]} leaves it"
                yield touched[subject], stage.name, Wait(reason=reason)
        for name in stage.after:
            yield name, stage.name, Wait(reason=f"the plan puts {stage.name} after {name}")
        if number:
            earlier = order[number - 1].name
            reason = f"{stage.name} takes the tower as {earlier} leaves it"
            yield earlier, stage.name, Wait(reason=reason)
        touched.update(dict.fromkeys(_subjects(stage), stage.name))
    for stage in plan.stages:
        if not stage.steps:
            for name in stage.after:
                yield name, stage.name, Wait(reason=f"the plan puts {stage.name} after {name}")


def fitted_in(plan: Plan, activity: Activity) -> Stage | None:
    """Stage in which the item that an activity fits goes in, or None."""
    if activity.fits is None:
        return None
    for stage in plan.stages:
        if any(step.do == "fit" and step.item == activity.fits for step in stage.steps):
            return stage
    return None


def _fitting(plan: Plan) -> Iterator[tuple[str, str, Wait]]:
    order = [stage for stage in plan.stages if stage.steps]
    for activity in plan.activities:
        stage = fitted_in(plan, activity)
        if stage is None:
            continue
        number = order.index(stage)
        reason = f"{activity.name} is the work of {stage.name}"
        yield stage.name, activity.name, Wait(reason=reason, from_edge=Edge.START)
        if number + 1 < len(order):
            later = order[number + 1].name
            reason = f"{later} waits until {activity.fits} is on: {activity.name} is done"
            yield activity.name, later, Wait(reason=reason)


def _floor(plan: Plan) -> Iterator[tuple[str, str, Wait]]:
    """A section is built where the last one stood, so it waits until that is up."""
    order = [stage for stage in plan.stages if stage.steps]
    for number, stage in enumerate(order):
        if not any(step.do == "assemble" for step in stage.steps):
            continue
        works = [each.name for each in plan.activities if stage.name in each.before]
        for earlier, lifted in _off_the_floor(order[:number]):
            for name in works:
                reason = f"{name} waits until {lifted} takes the {earlier} off the shaft floor"
                yield lifted, name, Wait(reason=reason)


def _off_the_floor(order: Sequence[Stage]) -> Iterator[tuple[str, str]]:
    built: set[str] = set()
    for stage in order:
        for step in stage.steps:
            if step.do == "assemble":
                built.add(step.section)
            elif step.do == "lift" and step.section in built:
                built.remove(step.section)
                yield step.section, stage.name


def _written(plan: Plan) -> Iterator[tuple[str, str, Wait]]:
    work = {activity.name: activity for activity in plan.activities}
    for activity in plan.activities:
        for name in activity.after:
            yield name, activity.name, _after(name, activity.name, work)
        for name in activity.before:
            yield activity.name, name, _after(activity.name, name, work)


def _after(before: str, after: str, work: dict[str, Activity]) -> Wait:
    cures = work[before].cures if before in work else 0.0
    if cures > 0:
        reason = f"{after} waits {long(cures)} for {before} to cure"
        return Wait(reason=reason, lag=cures)
    return Wait(reason=f"{after} waits until {before} is done")


def _holds(plan: Plan, graph: "nx.DiGraph[str]") -> Iterator[tuple[str, str, Wait]]:
    order = [stage for stage in plan.stages if stage.steps]
    for number, stage in enumerate(order):
        for mark in stage.hold_points:
            node = f"{mark} for {stage.name}"
            words = HOLD_POINTS.get(mark, "a hold point of the plan's own")
            graph.add_node(node, kind=HOLD)
            yield node, stage.name, Wait(reason=f"{stage.name} waits for {mark}: {words}")
            signing = [each for each in plan.activities if mark in each.signs]
            for each in signing:
                reason = f"{mark} ({words}) is signed when {each.name} is done"
                yield each.name, node, Wait(reason=reason, lag=each.cures)
            if number and not signing:
                reason = f"{mark} ({words}) is signed after {order[number - 1].name}"
                yield order[number - 1].name, node, Wait(reason=reason)


def long(seconds: float) -> str:
    """A time in words, such as "16 d", "2 h 30 min"."""
    days, rest = divmod(round(seconds / 60.0) * 60.0, _DAY)
    hours, rest = divmod(rest, _HOUR)
    parts = [(days, "d"), (hours, "h"), (rest / 60.0, "min")]
    return " ".join(f"{value:.0f} {unit}" for value, unit in parts if value) or "0 min"
