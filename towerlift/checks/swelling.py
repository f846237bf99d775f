"""Whether the swelling that a plan allows for is what its timber will do.

Where the plan says what its wood is and how wet it gets, the growth of every side is
derived and the plan's own figure is held against it. Where it says nothing of moisture,
the figure stands, as the planner's own.
"""

from collections.abc import Iterable

from towerlift.checks.case import Case
from towerlift.findings import Bound, Finding, Limit
from towerlift.nesting.movement import SectionGrowth, section_growth
from towerlift.plan.bodies import Section
from towerlift.plan.limits import UsualLimit

LIMITS: tuple[UsualLimit, ...] = ()
"""The limit is derived for each section, so there is none to choose."""


def check_swelling(case: Case) -> Iterable[Finding]:
    """Swelling allowed for against swelling derived, section by section.

    Parameters
    ----------
    case : Case
        Its plan gives species and moisture.

    Yields
    ------
    finding : Finding
        For every section with a species whose moisture is given.
    """
    wetted = {row.name for row in case.plan.species if row.moisture is not None}
    for section in case.plan.sections:
        if wetted & {member.species for member in section.members}:
            yield _finding(section, section_growth(case.plan, section))


def _finding(section: Section, growth: SectionGrowth) -> Finding:
    needed = round(growth.worst * 1000.0, 2)
    sources = "; ".join(growth.sources) or "no movement of its wood was read"
    face = max(growth.sides, key=lambda side: growth.sides[side])
    why = f"the {face} side grows most, from the moisture at cutting to the wettest expected"
    if growth.estimated:
        why += "; outside 6 to 14 % the printed movement is an estimate"
    return Finding(
        check="swelling",
        subject=section.name,
        stage="",
        heel=None,
        where=None,
        limit=Limit(
            value=needed,
            unit="mm",
            bound=Bound.AT_LEAST,
            source=f"movement across the grain: {sources}",
        ),
        value=None if growth.missing else round(section.swelling * 1000.0, 2),
        why=f"not known: {'; '.join(growth.missing)}" if growth.missing else why,
        remedy=_remedy(section, growth, needed),
    )


def _remedy(section: Section, growth: SectionGrowth, needed: float) -> tuple[str, ...]:
    if growth.missing:
        return ("give what is missing, with its source", "weigh and measure a stick")
    if not section.swelling * 1000.0 < needed:
        return ()
    return (
        f"allow {needed:.1f} mm of swelling for {section.name}",
        "cut the pieces wetter, or keep them drier",
    )
