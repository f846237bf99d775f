"""Dates: hours and light, orders and cures, crews, and nobody under what others may drop.

What people on or under a section may do while it moves or hangs, the check of occupancy
says, and the order of the stages that of the stages; neither is told again here.
"""

from collections.abc import Iterable, Iterator

from towerlift.checks.case import Case, UsualLimit, limit_for, overrule_for
from towerlift.errors import NoProgrammeError, PrecedenceError
from towerlift.findings import Bound, Finding
from towerlift.programme.dates import Crossing, crossings, undated
from towerlift.programme.tasks import LIMITS as PROGRAMME_LIMITS

CHECK = "dates"

BROKEN = UsualLimit(
    name="rules of the programme that a date breaks",
    value=0.0,
    unit="count",
    bound=Bound.AT_MOST,
    dimension=None,
    source="hours, crews, cures and orders as the plan writes them; light and decks by common "
    "practice, no source",
)
LIMITS = (BROKEN, *PROGRAMME_LIMITS)


def check_dates(case: Case) -> Iterable[Finding]:
    """Each stage and activity whose date breaks a rule of the programme.

    Parameters
    ----------
    case : Case
        Plan and raise.

    Yields
    ------
    finding : Finding
        The number of rules that its date breaks; one of 0 where every date keeps them
        all; not evaluated where a stage has no date or the order is a ring.
    """
    missing = undated(case.plan)
    if missing:
        yield _finding(case, "programme", None, f"no date for stage {', '.join(missing)}")
        return
    try:
        found = [each for each in crossings(case.plan, case.raise_) if _ours(case, each)]
    except (NoProgrammeError, PrecedenceError) as error:
        yield _finding(case, "programme", None, str(error))
        return
    if not found:
        yield _finding(case, "programme", 0.0, "the dates keep every rule of the programme")
    for name in dict.fromkeys(each.names[0] for each in found):
        yield from _of(case, name, [each for each in found if each.names[0] == name])


def _ours(case: Case, crossing: Crossing) -> bool:
    stages = {stage.name for stage in case.plan.stages}
    if crossing.of_raise:
        return False
    return len(crossing.names) == 1 or not set(crossing.names) <= stages


def _of(case: Case, name: str, found: list[Crossing]) -> Iterator[Finding]:
    why = "; ".join(each.why for each in found)
    cures = sorted(cure for each in found for cure in each.cures)
    words = tuple(dict.fromkeys(text for _, text in cures))
    yield _finding(case, name, float(len(found)), why, words)


def _finding(
    case: Case, subject: str, value: float | None, why: str, remedy: tuple[str, ...] = ()
) -> Finding:
    stages = {stage.name for stage in case.plan.stages}
    stage = subject if subject in stages else ""
    return Finding(
        check=CHECK,
        subject=subject,
        stage=stage,
        heel=None,
        where=None,
        limit=limit_for(case, BROKEN),
        overrule=overrule_for(case, BROKEN, subject, stage),
        value=value,
        why=why,
        remedy=remedy,
    )
