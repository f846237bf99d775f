"""Bury: how deep a section still stands in the one round it, and its nest ledge."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

import numpy as np

from towerlift.checks.case import Case, UsualLimit, limit_for, overrule_for
from towerlift.findings import Bound, Finding
from towerlift.motion.passages import Passage, Rest
from towerlift.plan.bodies import Section
from towerlift.units import Dimension

CHECK = "bury"

# Common practice, no source: a first guess until shoes, legs and overturning are summed.
WIDTHS_BURIED = 1.5
SHARE_OF_PART_OUT = 0.25

BURY = UsualLimit(
    name="bury",
    value=0.0,  # of each section by the two rules; see `usual_bury`
    unit="m",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="common practice, no source: a first guess until shoes, legs and overturning "
    "are summed",
)
NEST = UsualLimit(
    name="height above the nest ledge",
    value=0.0,
    unit="m",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="geometry: a heel cannot pass the ledge that is to carry it",
)
LIMITS = (BURY, NEST)

# Heights are sums of the plan's figures: what differs by less is rounding. [m]
ROUNDING_DIGITS = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class _Held:
    # A child that stands or hangs in its parent, where its bury is least in a stage.
    child: Section
    parent: Section
    stage: str
    bury: float
    heel: float
    stack: float
    how: str


def check_bury(case: Case) -> Iterable[Finding]:
    """Bury of every section that stands in another, or is hoisted out of it.

    Parameters
    ----------
    case : Case
        Plan, shapes and raise.

    Yields
    ------
    finding : Finding
        Least bury of each section in each stage, told once where it stays as it is,
        and its least height above the nest ledge in the whole raise; none where no
        section stands in another. [m]

    Notes
    -----
    Bury counts where the parent carries the child, or carries the top blocks that the
    child hangs in; a child on needles or pendants of its own needs none.
    """
    for parent, child in pairwise(case.plan.sections):
        held = _least_by_stage(case, child, parent)
        yield from _told_once([_bury_finding(case, each) for each in held])
    yield from _nest_findings(case)


def usual_bury(width: float, stack: float) -> tuple[float, str]:
    """Bury that common practice asks for, and which of its two rules governs.

    Parameters
    ----------
    width : float
        Outer width of the inner section. [m]
    stack : float
        Height of the inner section with all that it carries, from its heel. [m]

    Returns
    -------
    least : float
        The greater of 1.5 widths and a quarter of the part standing out. [m]
    governs : str
        Both rules, the one that governs named first.

    Notes
    -----
    Bury b leaves stack - b standing out, and b = (stack - b) / 4 where b = stack / 5.
    """
    by_width = WIDTHS_BURIED * width
    by_part_out = SHARE_OF_PART_OUT / (1.0 + SHARE_OF_PART_OUT) * stack
    width_rule = f"{WIDTHS_BURIED:g} × width {width:.2f} m = {by_width:.2f} m"
    out_rule = f"1/4 of what then stands out of {stack:.2f} m = {by_part_out:.2f} m"
    if by_part_out > by_width:
        return by_part_out, f"{out_rule} governs over {width_rule}"
    return by_width, f"{width_rule} governs over {out_rule}"


def _least_by_stage(case: Case, child: Section, parent: Section) -> list[_Held]:
    least: dict[str, _Held] = {}
    for moment in _moments(case):
        held = _held(case, moment, child, parent)
        if held is None:
            continue
        known = least.get(held.stage)
        if known is None or held.bury < known.bury:
            least[held.stage] = held
    return [least[stage.name] for stage in case.plan.stages if stage.name in least]


def _told_once(findings: list[Finding]) -> Iterator[Finding]:
    def told(finding: Finding) -> tuple[object, ...]:
        return finding.value, finding.limit, finding.overrule

    for _, alike in groupby(findings, key=told):
        first, *later = alike
        stages = ", ".join(finding.stage for finding in later)
        yield replace(first, why=f"{first.why}; so also in {stages}") if stages else first


def _rounded(height: float) -> float:
    return round(height, ROUNDING_DIGITS) + 0.0  # never -0.0


def _moments(case: Case) -> tuple[Passage | Rest, ...]:
    # What the last step of a stage leads to stands in no passage, only in the rest after it.
    return (*case.raise_.passages, *case.raise_.rests)


def _held(case: Case, moment: Passage | Rest, child: Section, parent: Section) -> _Held | None:
    how = _how_held(case, moment, child.name, parent.name)
    if how is None:
        return None
    # Heels change linearly with the travel, so the least bury is at one end of it.
    inner, outer = moment.standing[child.name], moment.standing[parent.name]
    ends = ((inner.heel_from, outer.heel_from), (inner.heel_to, outer.heel_to))
    heel, base = max(ends, key=lambda end: end[0] - end[1])
    return _Held(
        child=child,
        parent=parent,
        stage=moment.stage,
        bury=_rounded(parent.length - (heel - base)),
        heel=heel,
        stack=_stack(case, moment, child),
        how=how,
    )


def _how_held(case: Case, moment: Passage | Rest, child: str, parent: str) -> str | None:
    if child not in moment.standing or parent not in moment.standing:
        return None
    place = moment.standing[child]
    if place.carrier == parent:
        return f"{place.state} on the {parent}"
    lift = next((each for each in case.plan.lifts if each.name == place.carrier), None)
    if lift is not None and lift.hung_from == parent:
        return f"{place.state} in lift {lift.name} from the {parent}"
    return None


def _stack(case: Case, moment: Passage | Rest, child: Section) -> float:
    # What a section carries stands out with it.
    foot = moment.standing[child.name].heel_from
    tops = [child.length]
    for section in case.plan.sections:
        place = moment.standing.get(section.name)
        if place is not None and _carried(moment, section.name, child.name):
            tops.append(place.heel_from + section.length - foot)
    return max(tops)


def _carried(moment: Passage | Rest, name: str, by: str) -> bool:
    while name in moment.standing:
        name = moment.standing[name].carrier
        if name == by:
            return True
    return False


def _width(case: Case, section: Section) -> float | None:
    # Legs, girts and all else but the shoes, which stand off by their running gap.
    solid = case.shapes.sections[section.name].solid
    if solid is None:
        return None
    shoes = {shoe.member for shoe in section.shoes}
    kept = [number for number, mark in enumerate(solid.marks) if mark not in shoes]
    corners = solid.vertices[solid.faces[np.isin(solid.members, kept)]].reshape(-1, 3)
    if not len(corners):
        return None
    return float(np.ptp(corners[:, :2], axis=0).max())


def _bury_finding(case: Case, held: _Held) -> Finding:
    child = held.child
    width = _width(case, child)
    if width is None:
        least, why = 0.0, f"the {child.name} has no solid, so its width is not known"
    else:
        least, governs = usual_bury(width, held.stack)
        why = (
            f"the {child.name}, {held.how}, stands {held.bury:.2f} m deep in the "
            f"{held.parent.name}; {governs}"
        )
    usual = replace(BURY, value=_rounded(least))
    limit = limit_for(case, usual)
    deeper = limit.value - held.bury
    return Finding(
        check=CHECK,
        subject=child.name,
        stage=held.stage,
        heel=held.heel,
        where=None,
        limit=limit,
        overrule=overrule_for(case, usual, child.name, held.stage),
        value=None if width is None else held.bury,
        why=why,
        remedy=_remedy(held, deeper) if width is not None and deeper > 0 else (),
    )


def _remedy(held: _Held, deeper: float) -> tuple[str, ...]:
    return (
        f"stop the {held.child.name} {deeper:.2f} m lower in the {held.parent.name}, at heel "
        f"{held.heel - deeper:.2f} m",
        "let a named engineer set another limit, with the sum of shoes, legs and overturning "
        "beside it",
        f"make the {held.parent.name} {deeper:.2f} m longer above the ledge",
    )


def _nest_findings(case: Case) -> Iterator[Finding]:
    sections = case.plan.sections
    limit = limit_for(case, NEST)
    for parent, child in pairwise(sections):
        heights = list(_heights_above_ledge(case, child, parent))
        if not heights:
            continue
        height, heel, stage = min(heights)
        yield Finding(
            check=CHECK,
            subject=child.name,
            stage=stage,
            heel=heel,
            where=None,
            limit=limit,
            overrule=overrule_for(case, NEST, child.name, stage),
            value=height,
            why=f"the heel of the {child.name} comes as near as {height:.3f} m to the ledge of "
            f"the {parent.name}",
            remedy=() if height >= 0 else (f"stop the {child.name} {-height:.3f} m higher",),
        )


def _heights_above_ledge(
    case: Case, child: Section, parent: Section
) -> Iterator[tuple[float, float, str]]:
    if parent.nest_height is None:
        return
    for moment in _moments(case):
        if child.name not in moment.standing or parent.name not in moment.standing:
            continue
        inner, outer = moment.standing[child.name], moment.standing[parent.name]
        ends = ((inner.heel_from, outer.heel_from), (inner.heel_to, outer.heel_to))
        for heel, base in ends:
            if base < heel + child.length and heel < base + parent.length:
                yield _rounded(heel - base - parent.nest_height), heel, moment.stage
