"""Anchors of capstans and lead blocks: what the ground holds, and tests above the pull."""

from collections.abc import Iterable, Iterator

import numpy as np

from towerlift.checks.capstan_ground import worst_leads
from towerlift.checks.case import Case, limit_for
from towerlift.checks.hauls import Haul, Unreckoned, hauls
from towerlift.checks.judged import Judged, judge
from towerlift.findings import Bound, Finding
from towerlift.plan.limits import UsualLimit
from towerlift.rig.anchors import GROUND_FACTOR, AnchorUse, anchor_uses

CHECK = "anchors"

GROUND = UsualLimit(
    name="ground before an anchor",
    value=GROUND_FACTOR,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice, no published source: what the ground gives, by Rankine's earth "
    "pressure or by NAVEDTRA 14251 for pickets, over the worst pull",
)
TESTED = UsualLimit(
    name="test of an anchor",
    value=1.25,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice for temporary gear: tested to 1.25 of the worst pull",
)
BURST = UsualLimit(
    name="test of an anchor under a burst",
    value=1.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice: tested for all that the hands at the bars can give for a few "
    "seconds, 300 N each",
)
UPLIFT = UsualLimit(
    name="rise of the pull on an anchor in the ground",
    value=14.0,
    unit="deg",
    bound=Bound.AT_MOST,
    dimension=None,
    source="TM 5-5420-278-10, table 9: its flattest pull is 1:4, 14 degrees; a steeper one "
    "lifts the ground that should hold",
)
LIMITS = (GROUND, TESTED, BURST, UPLIFT)


def check_anchors(case: Case) -> Iterable[Finding]:
    """Every anchor in the lift that pulls on it hardest.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        For each lift the worst capstan anchor and the worst lead block; not evaluated
        where the plan does not say what holds one of them.
    """
    hardest: dict[str, tuple[float, Haul]] = {}
    for haul in hauls(case):
        if isinstance(haul, Unreckoned):
            continue
        pull = max(float(np.nan_to_num(each.weight).max()) for each in haul.curves)
        if haul.lift.name not in hardest or pull > hardest[haul.lift.name][0]:
            hardest[haul.lift.name] = pull, haul
    for _, haul in hardest.values():
        leads = worst_leads(case, haul)
        subject = f"lift {haul.lift.name}"
        if isinstance(leads, str):
            for usual in LIMITS:
                said = Judged(
                    usual=usual, subject=subject, stage=haul.stage, value=None, why=leads
                )
                yield judge(case, CHECK, said)
            continue
        uses = anchor_uses(case.plan, leads)
        for kind in ("capstan", "lead block"):
            some = [each for each in uses if each.what.startswith(kind)]
            if some:
                yield from _of_kind(case, haul, kind, some)


def _of_kind(case: Case, haul: Haul, kind: str, uses: list[AnchorUse]) -> Iterator[Finding]:
    subject = f"lift {haul.lift.name}, {kind}s"
    unheld = [each.what for each in uses if each.anchor is None]
    untested = [
        each.what for each in uses if each.anchor is not None and each.anchor.tested is None
    ]
    why = ""
    if unheld:
        why = f"the plan does not say what holds {unheld[0]}: give its anchor"
    elif untested:
        why = f"the anchor of {untested[0]} has not been tested"
    for usual, pulls in (
        (TESTED, [each.working for each in uses]),
        (BURST, [each.burst for each in uses]),
    ):
        yield _tested(case, haul, usual, (subject, uses, pulls, why))
    grounded = [each for each in uses if each.holds is not None]
    if grounded and not unheld:
        yield _ground(case, haul, subject, grounded)
        yield _rise(case, haul, subject, grounded)


def _tested(
    case: Case,
    haul: Haul,
    usual: UsualLimit,
    of: tuple[str, list[AnchorUse], list[float], str],
) -> Finding:
    subject, uses, pulls, missing = of
    if missing:
        said = Judged(usual=usual, subject=subject, stage=haul.stage, value=None, why=missing)
        return judge(case, CHECK, said)
    factors = [
        (each.anchor.tested or 0.0) / pull if each.anchor is not None else 0.0
        for each, pull in zip(uses, pulls, strict=True)
    ]
    n = int(np.argmin(factors))
    use, pull = uses[n], pulls[n]
    tested = 0.0 if use.anchor is None else use.anchor.tested or 0.0
    named = "" if use.anchor is None else f"{use.anchor.name} ({use.anchor.source})"
    asked = limit_for(case, usual).value * pull / 1e3
    return judge(
        case,
        CHECK,
        Judged(
            usual=usual,
            subject=subject,
            stage=haul.stage,
            value=factors[n],
            where=use.where,
            why=f"{use.what} pulls {pull / 1e3:.1f} kN on its anchor, tested to "
            f"{tested / 1e3:.1f} kN: {named}",
            remedy=(f"test it to {asked:.1f} kN", "a second anchor beside it"),
        ),
    )


def _ground(case: Case, haul: Haul, subject: str, uses: list[AnchorUse]) -> Finding:
    use = min(uses, key=lambda each: (each.holds or 0.0) / max(each.working, each.burst))
    pull = max(use.working, use.burst)
    holds = use.holds or 0.0
    kind = "" if use.anchor is None else f"{use.anchor.name}, {use.anchor.kind}"
    return judge(
        case,
        CHECK,
        Judged(
            usual=GROUND,
            subject=subject,
            stage=haul.stage,
            value=holds / pull,
            where=use.where,
            why=f"the ground holds {holds / 1e3:.1f} kN before {kind}; {use.what} pulls "
            f"{pull / 1e3:.1f} kN in a burst",
            remedy=("a longer or deeper deadman", "better ground, or rock"),
        ),
    )


def _rise(case: Case, haul: Haul, subject: str, uses: list[AnchorUse]) -> Finding:
    use = max(uses, key=lambda each: each.rise)
    return judge(
        case,
        CHECK,
        Judged(
            usual=UPLIFT,
            subject=subject,
            stage=haul.stage,
            value=float(np.degrees(use.rise)),
            where=use.where,
            why=f"the pull on {use.what} rises {np.degrees(use.rise):.1f} deg",
            remedy=("lead the rope lower", "weigh the deadman down against the lift"),
        ),
    )
