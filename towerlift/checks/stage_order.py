"""Stage order: every rule of order, with what breaks it."""

from collections.abc import Iterable
from itertools import pairwise

from towerlift.checks.case import Case, UsualLimit, limit_for, overrule_for
from towerlift.findings import Bound, Finding
from towerlift.motion.masses import moving_mass
from towerlift.motion.passages import Breach, Passage
from towerlift.motion.rules import Rule

CHECK = "stage order"

_SOURCES = {
    Rule.NEST: "geometry: a heel cannot pass the ledge that is to carry it",
    Rule.PICK_UP: "statics: where ledge and heel meet, the load steps to both sections' weight",
    Rule.TRAVEL: "geometry: the heel heights written in the steps",
    Rule.TIMES: "the dates in the plan and the time each step takes",
}


def order_limit(rule: Rule) -> UsualLimit:
    """The limit of a rule of order: no breach at all.

    Parameters
    ----------
    rule : Rule
        The rule.

    Returns
    -------
    usual : UsualLimit
        Named as the rule is.
    """
    return UsualLimit(
        name=str(rule),
        value=0.0,
        unit="count",
        bound=Bound.AT_MOST,
        dimension=None,
        source=_SOURCES.get(rule, "common practice in hoisting, no source"),
    )


LIMITS = tuple(order_limit(rule) for rule in Rule)


def check_stage_order(case: Case) -> Iterable[Finding]:
    """Each rule of order: one finding for each breach, or one that it is kept.

    Parameters
    ----------
    case : Case
        Its raise holds the breaches.

    Yields
    ------
    finding : Finding
        Number of breaches against none.
    """
    for rule, usual in zip(Rule, LIMITS, strict=True):
        limit = limit_for(case, usual)
        broken = [breach for breach in case.breaches if breach.rule == str(rule)]
        for breach in broken:
            yield Finding(
                check=CHECK,
                subject=breach.subject,
                stage=breach.stage,
                heel=breach.heel,
                where=None,
                limit=limit,
                overrule=overrule_for(case, usual, breach.subject, breach.stage),
                value=1.0,
                why=f"{rule}: {breach.why}{_load_step(case, breach)}",
                remedy=breach.remedy,
            )
        if not broken:
            undated = _undated(case) if rule is Rule.TIMES else ""
            yield Finding(
                check=CHECK,
                subject="the whole raise",
                stage="",
                heel=None,
                where=None,
                limit=limit,
                value=None if undated else 0.0,
                why=f"{rule}: {undated or f'kept in all {len(case.plan.stages)} stages'}",
            )


def _undated(case: Case) -> str:
    undated = [stage.name for stage in case.plan.stages if stage.starts is None]
    return f'no "starts" in {", ".join(undated)}' if undated else ""


def _load_step(case: Case, breach: Breach) -> str:
    if breach.rule != str(Rule.PICK_UP):
        return ""
    passages = case.raise_.passages
    for before, after in pairwise(passages):
        if _steps_at(before, after, breach):
            light = moving_mass(case.shapes, before).mass
            heavy = moving_mass(case.shapes, after).mass
            return f" (from {light:,.0f} to {heavy:,.0f} kg)".replace(",", " ")
    return ""


def _steps_at(before: Passage, after: Passage, breach: Breach) -> bool:
    joins = breach.subject in after.moving and breach.subject not in before.moving
    return joins and bool(before.moving) and after.stage == breach.stage == before.stage
