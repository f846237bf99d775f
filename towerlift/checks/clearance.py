"""Clearance of everything that moves, at every height, and of what has just come.

A gap is held against the budget of its own height: running clearance, swelling,
workshop and survey errors, tilt and sway. What is meant to touch is checked by
itself: it may bed in a little, and a shoe must keep its running gap when wet.
"""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from math import ceil, floor, inf

from towerlift.checks.case import Case, limit_for, overrule_for
from towerlift.checks.remedies import clearance_remedies
from towerlift.findings import Bound, Finding, Limit, Overrule
from towerlift.nesting.margins import ContactGap, Margin, RestGap
from towerlift.plan.limits import UsualLimit
from towerlift.shapes.unseen import UNSEEN
from towerlift.units import Dimension

RUNNING = UsualLimit(
    name="running clearance",
    value=20.0,
    unit="mm",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="common practice: 20 mm running each side; the planner may choose another",
)
AT_REST = UsualLimit(
    name="clearance at rest",
    value=0.0,
    unit="mm",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="two bodies cannot be in one place",
)
WET_SHOE = UsualLimit(
    name="running gap when swollen",
    value=10.0,
    unit="mm",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="common practice: keep 10 mm after swelling",
)
BEDDING = UsualLimit(
    name="bedding of a contact",
    value=3.0,
    unit="mm",
    bound=Bound.AT_MOST,
    dimension=Dimension.LENGTH,
    source="common practice: timber beds in by 2 to 3 mm",
)
SEE_IT = (
    "scan the place again, from where it is seen",
    "where an opening is really there, name it among the wall openings of the shaft, and who "
    "has seen it",
)
# Pieces named after the worst; the rest are counted.
NAMED_AT_MOST = 6
LIMITS = (RUNNING, AT_REST, WET_SHOE, BEDDING)


def check_clearance(case: Case) -> Iterable[Finding]:
    """Gaps on the way, gaps at rest, and meant contacts.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        One for every moving body and what it passes, about the piece that leaves
        least; it names the others that fall short.
    """
    for margin in case.margins:
        yield _passing(case, margin)
    yield from _struck_elsewhere(case)
    yield from _at_rest(case)
    yield from _contacts(case)


def _passing(case: Case, margin: Margin) -> Finding:
    subject = _subject(margin)
    budget = margin.budget
    running = limit_for(case, RUNNING)
    need = running.value if budget is None else budget.total * 1000.0
    limit = _whole(running, need)
    known = margin.spare is not None
    return Finding(
        check="clearance",
        subject=subject,
        stage=margin.stage,
        heel=margin.heel,
        where=margin.where,
        limit=limit,
        overrule=_overruled(case, margin, subject),
        value=_mm(margin.gap) if known else None,
        why=_reason(margin),
        remedy=clearance_remedies(case, margin)
        if known and _short(margin)
        else _unknown(margin),
    )


def _whole(running: Limit, need: float) -> Limit:
    """The whole clearance that must be left, the running clearance being one part of it."""
    return Limit(
        # To a hundredth, rounded up as gaps are rounded down: a sum's last bit decides nothing.
        value=ceil(need * 100.0 - 1e-6) / 100.0,
        unit="mm",
        bound=Bound.AT_LEAST,
        source=f"budget of this height; running clearance by {running.source}",
    )


def _overruled(case: Case, margin: Margin, subject: str) -> Overrule | None:
    """An overrule of the running clearance changes that part of the budget and no other."""
    overrule = overrule_for(case, RUNNING, subject, margin.stage)
    if overrule is None or margin.budget is None:
        return overrule
    budget = replace(margin.budget, running=overrule.limit.value / 1000.0)
    return replace(overrule, limit=_whole(overrule.limit, budget.total * 1000.0))


def _mm(gap: float | None) -> float | None:
    # Never rounded up: what is printed must not pass where the gap itself does not.
    return None if gap is None else floor(gap * 1e5 + 1e-6) / 100.0


def _short(margin: Margin) -> bool:
    return margin.spare is not None and margin.spare < 0


def _subject(margin: Margin) -> str:
    mark = margin.label.within(margin.moving)
    across = margin.opposite.within(margin.against)
    against = margin.against if across == margin.against else f"{margin.against}: {across}"
    return f"{margin.moving}: {mark} ({margin.label.part}) against {against}"


def _reason(margin: Margin) -> str:
    if margin.why:
        return margin.why
    note = f"; {margin.note}" if margin.note else ""
    height = margin.where[2] - margin.heel
    side = margin.face if margin.face in ("above", "below") else f"on the {margin.face} side"
    place = f"{side}, {height:.2f} m above the heel, at z {margin.where[2]:.2f} m"
    need = f"must keep {margin.budget.in_words()}" if margin.budget else ""
    if not _short(margin):
        return f"least to spare {place}; {need}{note}"
    low, high = margin.heels
    stretch = f" from heel {low:.2f} to {high:.2f} m" if high > low else ""
    along = ", ".join(f"{gap * 1000:.0f} mm at {heel:.2f}" for heel, gap in margin.samples)
    shown = f"; gap {along}" if along else ""
    others = _others(margin)
    if margin.gap is not None and not margin.gap > 0:
        return f"they strike {place}{stretch}{shown}; {need}{others}{note}"
    return f"falls short {place}{stretch}{shown}; {need}{others}{note}"


def _others(margin: Margin) -> str:
    """The other pieces that fall short, the worst by name."""
    if not margin.also:
        return ""
    named = ", ".join(
        mark if spare == -inf else f"{mark} (by {-spare * 1000:.0f} mm)"
        for mark, spare in margin.also[:NAMED_AT_MOST]
    )
    more = len(margin.also) - NAMED_AT_MOST
    return f"; also short: {named}" + (f" and {more} more pieces" if more > 0 else "")


def _unknown(margin: Margin) -> tuple[str, ...]:
    if margin.opposite.part == UNSEEN:
        return SEE_IT
    return () if margin.spare is not None else (f"give what is missing: {margin.why}",)


def _struck_elsewhere(case: Case) -> Iterator[Finding]:
    """A whole body inside another has no near surface, so margins alone could miss it."""
    known = {(m.passage, m.moving, m.against) for m in case.margins if _short(m)}
    for curve in case.gaps:
        worst = int(curve.least.argmin())
        if curve.least[worst] > 0 or (curve.passage, curve.moving, curve.against) in known:
            continue
        subject = f"{curve.moving}: {curve.marks[worst]} against {curve.against}"
        x, y, z = curve.where[worst].tolist()
        yield Finding(
            check="clearance",
            subject=subject,
            stage=curve.stage,
            heel=float(curve.at[worst]),
            where=(x, y, z),
            limit=limit_for(case, RUNNING),
            value=round(float(curve.least[worst]) * 1000.0, 2),
            why=f"they are in one place; the other piece is {curve.opposite_marks[worst]}",
            remedy=("move one of them, or say so if they are meant to touch",),
        )


def _at_rest(case: Case) -> Iterator[Finding]:
    limit = limit_for(case, AT_REST)
    worst: dict[tuple[str, str, str], RestGap] = {}
    for gap in case.rests:
        key = gap.stage, gap.subject, gap.against
        if key not in worst or _order(gap.gap) < _order(worst[key].gap):
            worst[key] = gap
    for gap in worst.values():
        mark, other = gap.label.within(gap.subject), gap.opposite.within(gap.against)
        value = _mm(gap.gap)
        failing = value is not None and value < limit.value
        yield Finding(
            check="clearance at rest",
            subject=f"{gap.subject} beside {gap.against}",
            stage=gap.stage,
            heel=gap.heel,
            where=gap.where,
            limit=limit,
            overrule=None,
            value=value,
            why=gap.why if value is None else f"{mark} {_to(value)} {other} ({gap.step})",
            remedy=_at_rest_remedies(gap, failing=failing),
        )


def _at_rest_remedies(gap: RestGap, *, failing: bool) -> tuple[str, ...]:
    if gap.opposite.part == UNSEEN:
        return SEE_IT
    return ("move one of them, or list the contact if it is meant",) if failing else ()


def _order(gap: float | None) -> tuple[int, float]:
    """Overlaps first, then what is not known, then gaps."""
    if gap is None:
        return 1, 0.0
    return (0 if gap < 0 else 2), gap


def _to(value: float) -> str:
    return "is nearest to" if value >= 0 else "is in one place with"


def _contacts(case: Case) -> Iterator[Finding]:
    swelling = {section.name: section.swelling for section in case.plan.sections}
    worst: dict[tuple[str, str, str, str], ContactGap] = {}
    for gap in case.contacts:
        key = gap.kind, gap.stage, gap.moving, gap.against
        if key not in worst or _order(gap.gap) < _order(worst[key].gap):
            worst[key] = gap
    for gap in worst.values():
        wet = gap.kind == "shoe on runner"
        value = None
        if gap.gap is not None:
            swell = swelling[gap.moving] + swelling.get(gap.against, 0.0)
            value = _mm(gap.gap - swell) if wet else _bedded(gap.gap)
        yield _contact(case, gap, value, wet)


def _bedded(gap: float) -> float:
    """Overlap in mm, never rounded down."""
    return max(0.0, ceil(-gap * 1e5 - 1e-6) / 100.0)


def _contact(case: Case, gap: ContactGap, value: float | None, wet: bool) -> Finding:
    usual = WET_SHOE if wet else BEDDING
    subject = f"{gap.moving} on {gap.against}, {gap.kind}"
    pieces = f"{gap.label.within(gap.moving)} on {gap.opposite.within(gap.against)}"
    why = f"least gap of {pieces}" if wet else f"deepest overlap of {pieces}"
    if value is None:
        why = "the engine could not certify the gap of " + pieces
    limit = limit_for(case, usual)
    failing = value is not None and (value < limit.value if wet else value > limit.value)
    cure = (
        "pare the shoe, or wait for drier weather" if wet else "draw the contact where it bears"
    )
    return Finding(
        check="running gap" if wet else "meant contact",
        subject=subject,
        stage=gap.stage,
        heel=gap.heel,
        where=gap.where,
        limit=limit,
        overrule=overrule_for(case, usual, subject, gap.stage),
        value=value,
        why=why,
        remedy=(cure,) if failing else (),
    )
