"""The framer's benches of a plan: every section that passes a surveyed shaft."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from towerlift.checks.clearance import RUNNING
from towerlift.checks.wind import HAULING as GUST
from towerlift.motion import follow_stages
from towerlift.motion.raises import Raise
from towerlift.nesting.bench import Bench, build_bench
from towerlift.nesting.pairs import Workshop
from towerlift.plan.limits import limit_in_plan
from towerlift.plan.model import Plan
from towerlift.rig import hang_curves
from towerlift.rig.out_of_true import free_hang_curves
from towerlift.shapes import build_shapes


@dataclass(frozen=True, slots=True, kw_only=True)
class Framing:
    """What a framer asks of a plan.

    Attributes
    ----------
    plan : Plan
        As written.
    shop : Workshop
        Plan, shapes and raise, with the engine's bodies made so far.
    benches : tuple of Bench
        Outermost section first; those that never move, and all where the shaft is only
        a mesh, are left out.
    when : mapping of int to str
        Stage and day of every passage that moves something.
    lifts : mapping of str to tuple of (date, str)
        Days on which each section moves, with the stage.
    """

    plan: Plan
    shop: Workshop
    benches: tuple[Bench, ...]
    when: Mapping[int, str]
    lifts: Mapping[str, tuple[tuple[date, str], ...]]


def open_framing(plan: Plan, folder: Path) -> Framing:
    """Put every section of a plan on the framer's bench, without running the checks.

    Parameters
    ----------
    plan : Plan
        As read.
    folder : Path
        Folder of the plan, where its meshes are.

    Returns
    -------
    framing : Framing
        Benches, and when each section moves.

    Raises
    ------
    ShapeError
        If a mesh cannot be used.
    """
    shapes = build_shapes(plan, folder)
    raise_ = follow_stages(plan)
    hangs = hang_curves(plan, shapes, raise_)
    gust = limit_in_plan(plan, GUST).value
    free = free_hang_curves(plan, shapes, raise_.passages, hangs, gust)
    shop = Workshop(plan=plan, shapes=shapes, raise_=raise_)
    running = limit_in_plan(plan, RUNNING).value / 1000.0
    found = (
        build_bench(shop, section.name, running=running, free=free) for section in plan.sections
    )
    return Framing(
        plan=plan,
        shop=shop,
        benches=tuple(bench for bench in found if bench is not None),
        when=passage_words(raise_),
        lifts={section.name: _lifts(raise_, section.name) for section in plan.sections},
    )


def _lifts(raise_: Raise, section: str) -> tuple[tuple[date, str], ...]:
    moving = [p for p in raise_.moving_passages if section in p.moving]
    days = ((p.begins.date(), p.stage) for p in moving if p.begins is not None)
    return tuple(dict.fromkeys(days))


def passage_words(raise_: Raise) -> Mapping[int, str]:
    """Stage and day of every passage that moves something.

    Parameters
    ----------
    raise_ : Raise
        The raise.

    Returns
    -------
    words : mapping of int to str
        Such as "stage L3, 14 May 2027".
    """
    words = {}
    for passage in raise_.moving_passages:
        day = "" if passage.begins is None else f", {passage.begins:%d %b %Y}"
        words[passage.index] = f"stage {passage.stage}{day}"
    return words
