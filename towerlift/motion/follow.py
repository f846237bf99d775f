"""Follow the stages of a plan through the table of states."""

from typing import assert_never

from towerlift.errors import RaiseError
from towerlift.motion import steps, works
from towerlift.motion.hauls import follow_haul
from towerlift.motion.raises import Raise
from towerlift.motion.rules import Rule
from towerlift.motion.walk import SAME_HEIGHT, Walk
from towerlift.plan.model import Plan
from towerlift.plan.work import (
    Assemble,
    Clear,
    Fit,
    Float,
    Haul,
    Install,
    Lock,
    Lower,
    Secure,
    Sling,
    Stage,
    Step,
    Strike,
    Transfer,
)


def follow_stages(plan: Plan) -> Raise:
    """Follow the steps of every stage in order, and say where each section is.

    Parameters
    ----------
    plan : Plan
        A plan whose names have been checked.

    Returns
    -------
    raise_ : Raise
        A rule of order that is broken is recorded as a breach, and the step is
        then followed as it is written.

    Raises
    ------
    RaiseError
        If no step of any stage can be followed.
    """
    walk = Walk(plan=plan)
    for stage in plan.stages:
        _enter(walk, stage)
        for step in stage.steps:
            _follow(walk, step)
            _check_nests(walk)
        walk.record_rest()
    if not walk.passages:
        why = "; ".join(breach.why for breach in walk.breaches) or "the stages have no steps"
        raise RaiseError(f"{plan.name}: no step can be followed: {why}")
    return Raise(
        passages=tuple(walk.passages),
        breaches=tuple(walk.breaches),
        plumb_line=plan.plumb_line,
        rests=tuple(walk.rests),
    )


def _enter(walk: Walk, stage: Stage) -> None:
    ended, before = walk.now, walk.stage
    walk.stage = stage.name
    walk.now = stage.starts
    walk.cleared = False
    listed = [each.name for each in walk.plan.stages]
    done = listed[: listed.index(stage.name)]
    for name in stage.after:
        if name not in done:
            walk.breach(
                Rule.PRECEDENCE,
                stage.name,
                f"{stage.name} comes before {name}, which must be finished first",
                (f"move {stage.name} behind {name}", f'strike {name} from its "after"'),
            )
    if stage.starts is not None and ended is not None and stage.starts < ended:
        short = (ended - stage.starts).total_seconds() / 3600
        walk.breach(
            Rule.TIMES,
            stage.name,
            f"{stage.name} is to start at {stage.starts:%Y-%m-%d %H:%M}, but {before} ends at "
            f"{ended:%Y-%m-%d %H:%M}",
            (f"start {stage.name} {short:.1f} h later", f"start {before} as much earlier"),
        )
    if stage.in_charge not in {person.name for person in walk.plan.people}:
        walk.breach(
            Rule.IN_CHARGE,
            stage.name,
            f'"{stage.in_charge}" is in charge of {stage.name}, but is not among the people',
            ("name one of the people, or add the person to the plan",),
        )


def _follow(walk: Walk, step: Step) -> None:
    match step:
        case Assemble():
            steps.follow_assemble(walk, step)
        case Sling():
            steps.follow_sling(walk, step)
        case Float() | Haul() | Lower():
            follow_haul(walk, step)
        case Secure() | Lock():
            steps.follow_secure(walk, step)
        case Transfer():
            steps.follow_transfer(walk, step)
        case Fit():
            works.follow_fit(walk, step)
        case Install():
            works.follow_install(walk, step)
        case Strike():
            works.follow_strike(walk, step)
        case Clear():
            works.follow_clear(walk, step)
        case _:
            assert_never(step)


def _check_nests(walk: Walk) -> None:
    for section in walk.plan.sections:
        child = walk.inner(section.name) if section.name in walk.places else None
        if child is None or section.nest_height is None:
            continue
        inner = walk.section(child)
        ledge = walk.places[section.name].heel + section.nest_height
        heel = walk.places[child].heel
        head = heel + (0.0 if inner is None else inner.length)
        if head > walk.places[section.name].heel and heel < ledge - SAME_HEIGHT:
            walk.breach(
                Rule.NEST,
                child,
                f"the {child}, at heel {heel:.3f} m, is below the ledge of the {section.name} "
                f"at {ledge:.3f} m, which it cannot pass",
                (f"stop the {child} at heel {ledge:.3f} m", "correct the nest height"),
                heel=ledge,
            )
