"""The budget of every slab of a moving section, for every bit of its travel."""

from collections.abc import Mapping
from dataclasses import dataclass

from towerlift.nesting.budget import FreeHangCurve, GapBudget
from towerlift.nesting.built import built_outward
from towerlift.nesting.guides import Play, free_play, guided_play, section_guides
from towerlift.nesting.pairs import Pair


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowed:
    """What every budget of a plan starts from.

    Attributes
    ----------
    running : float
        Running clearance to be left. [m]
    free : mapping of int to FreeHangCurve
        How sections on free lines hang, by passage.
    """

    running: float
    free: Mapping[int, FreeHangCurve]


def play_between(pair: Pair, allowed: Allowed, low: float, high: float) -> Play:
    """Shift of what is hauled while the moving section's heel is between two heights.

    Parameters
    ----------
    pair : Pair
        What moves.
    allowed : Allowed
        How free sections hang.
    low, high : float
        Heel heights of the moving section of the pair. [m]

    Returns
    -------
    play : Play
        As a function of height in the hauled section.
    """
    passage, plan = pair.passage, pair.shop.plan
    lift = next((lift for lift in plan.lifts if lift.name == passage.lift), None)
    hauled = passage.moving[0]
    offset = passage.standing[hauled].heel_from - passage.standing[pair.moving].heel_from
    low, high = low + offset, high + offset
    if lift is None:
        return _unknown(f"no lift is named for what moves in {passage.stage}")
    if lift.guided:
        guides = pair.shop.kept(
            ("guides", passage.index), lambda: section_guides(pair.shop, passage)
        )
        return guided_play(passage, guides, low, high)
    if passage.index not in allowed.free:
        return _unknown(f"the loads of lift {lift.name} could not be found")
    return free_play(allowed.free[passage.index], low, high)


def _unknown(why: str) -> Play:
    return Play(running=0.0, shift=lambda _: (0.0, 0.0), unknown=why)


def budget_at(
    pair: Pair, allowed: Allowed, play: Play, heights: tuple[float, float]
) -> GapBudget:
    """Worst budget between two heights of the moving section.

    Parameters
    ----------
    pair : Pair
        What moves past what.
    allowed : Allowed
        Running clearance.
    play : Play
        Shift of what is hauled.
    heights : tuple of float
        Heights s in the moving section. [m]

    Returns
    -------
    budget : GapBudget
        Tilt and sway are convex in height, so the worse end is the worst.
    """
    passage, sections = pair.passage, {s.name: s for s in pair.shop.plan.sections}
    moving, other = sections[pair.moving], sections.get(pair.against)
    hauled = passage.standing[passage.moving[0]].heel_from
    offset = passage.standing[pair.moving].heel_from - hauled
    tilt, sway = max((play.shift(height + offset) for height in heights), key=sum)
    if other is not None:
        survey, swelling = other.fabrication, moving.swelling + other.swelling
    else:
        survey, swelling = pair.shop.plan.shaft.uncertainty, moving.swelling
    return GapBudget(
        running=allowed.running,
        play=play.running,
        swelling=swelling,
        fabrication=moving.fabrication,
        survey=survey,
        tilt=tilt,
        sway=sway,
        built=built_outward(moving, heights) + (built_outward(other) if other else 0.0),
    )
