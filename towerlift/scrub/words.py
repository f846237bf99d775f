"""What the view says of findings, and where in the raise each is worst."""

from collections import Counter
from collections.abc import Iterable
from math import inf, isfinite

from towerlift.findings import Bound, Finding, Verdict
from towerlift.motion.passages import Passage
from towerlift.motion.raises import Raise
from towerlift.workflow import Outcome

CAUTION = (
    "A planning aid: does not replace a licensed engineer and a competent rigger; "
    "local codes govern."
)
VERDICTS = {
    Verdict.FAIL: "FAILS",
    Verdict.NOT_EVALUATED: "NOT EVALUATED",
    Verdict.PASS: "passes",
}


def summary(findings: Iterable[Finding]) -> str:
    """How many findings fail, were not evaluated and pass, in words."""
    counts = Counter(finding.verdict for finding in findings)
    return (
        f"{counts[Verdict.FAIL]} fail, {counts[Verdict.NOT_EVALUATED]} not evaluated, "
        f"{counts[Verdict.PASS]} pass"
    )


def quantity(value: float, unit: str) -> str:
    """A finding's number with its unit; "1" and "count" are plain numbers."""
    number = f"{value:.4g}" if abs(value) < 1e4 else f"{value:.0f}"
    return number if unit in ("1", "count") else f"{number} {unit}"


def said(finding: Finding) -> dict[str, object]:
    """A finding in words, for the browser to lay out.

    Parameters
    ----------
    finding : Finding
        Any.

    Returns
    -------
    words : dict
        Verdict, value against limit, place, reason, remedies, and who set the limit;
        the numbers again as numbers, in the limit's unit, for a reader in feet.
    """
    limit = finding.limit_in_force
    asked = f"{limit.bound} {quantity(limit.value, limit.unit)}"
    words: dict[str, object] = {
        "verdict": str(finding.verdict),
        "word": VERDICTS[finding.verdict],
        "check": finding.check,
        "subject": finding.subject,
        "stage": finding.stage,
        "heel": finding.heel,
        "where": None if finding.where is None else list(finding.where),
        "asked": asked,
        "found": "not evaluated",
        "spare": "",
        "why": finding.why,
        "remedy": list(finding.remedy),
        "source": limit.source,
        "overrule": "",
        "unit": limit.unit,
        "bound": str(limit.bound),
        "value": finding.value,
        "limit": limit.value,
        "margin": finding.margin,
    }
    if finding.value is not None:
        margin = finding.margin or 0.0
        lacking = "short" if limit.bound is Bound.AT_LEAST else "too much"
        words["found"] = quantity(finding.value, limit.unit)
        words["spare"] = (
            f"{quantity(abs(margin), limit.unit)} {lacking if margin < 0 else 'to spare'}"
        )
    if finding.overrule is not None:
        usual = f"{finding.limit.bound} {quantity(finding.limit.value, finding.limit.unit)}"
        words["overrule"] = (
            f"Overruled by {finding.overrule.by}, in place of {usual} "
            f"({finding.limit.source}): {finding.overrule.note}"
        )
    return words


def position_of(raise_: Raise, finding: Finding) -> float | None:
    """Place in the raise at which a finding is worst.

    Parameters
    ----------
    raise_ : Raise
        The whole raise.
    finding : Finding
        Any.

    Returns
    -------
    position : float or None
        Number of passages done, the last one in part; None where the finding holds
        for the whole raise. In its stage, the passage in which a section that it names
        moves through its heel height comes first, then any that does, then the nearest.
    """
    passages = [p for p in raise_.passages if p.stage == finding.stage]
    if not passages:
        return None
    if finding.heel is None:
        moving = next((p for p in passages if p.moving), passages[0])
        return float(moving.index)
    places = [place for p in passages for place in _places(p, finding.heel, finding.subject)]
    return min(places)[-1] if places else float(passages[0].index)


def opening_position(outcome: Outcome) -> float:
    """Where a view opens: at the worst finding that has a place, else at the beginning."""
    found = (
        position_of(outcome.raise_, finding)
        for finding in outcome.findings
        if finding.where is not None
    )
    return next((position for position in found if position is not None), 0.0)


def _places(passage: Passage, heel: float, subject: str) -> list[tuple[float, int, float]]:
    """How far off, whether unnamed, and position, for each section that moves."""
    found = []
    for name in passage.moving:
        place = passage.standing[name]
        travel = place.heel_to - place.heel_from
        share = (heel - place.heel_from) / travel if travel else inf
        within = min(max(share, 0.0), 1.0) if isfinite(share) else 0.0
        off = abs(passage.heel(name, within) - heel)
        found.append((round(off, 6), int(name not in subject), passage.index + within))
    return found
