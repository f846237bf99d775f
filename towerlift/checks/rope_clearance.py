"""Ropes clear of timber, needles and decks, over the whole of every haul.

A rope that bears on a piece chafes, is not where the sums put it, and may part. Every part
of every tackle and every fall is followed past every piece, through the openings that the
framer declares, and held against a clearance to which all that moves is added.
"""

from collections.abc import Iterable, Iterator
from dataclasses import replace

from towerlift.checks.case import Case, limit_for, overrule_for
from towerlift.findings import Bound, Finding, Limit, Overrule
from towerlift.nesting.needs import Allowed
from towerlift.plan.limits import UsualLimit
from towerlift.plan.rigging import Opening
from towerlift.rig.rope_search import NEAR, RopeGap
from towerlift.rig.rope_ways import RopeWay, rope_ways
from towerlift.shapes.unseen import UNSEEN
from towerlift.units import Dimension, rounded_down, rounded_up

CLEAR = UsualLimit(
    name="rope clearance",
    value=20.0,
    unit="mm",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="common practice, no source: a rope that never touches does not chafe",
)
LIMITS = (CLEAR,)
# Pieces named after the worst; the rest are counted.
NAMED_AT_MOST = 4


def check_rope_clearance(case: Case) -> Iterable[Finding]:
    """The least that every line leaves to what it passes, in every stage.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        One for each stage and tackle, its fall with it.
    """
    allowed = Allowed(running=limit_for(case, CLEAR).value / 1000.0, free=case.free)
    for way in rope_ways(case.workshop, allowed):
        yield _finding(case, way)


def _finding(case: Case, way: RopeWay) -> Finding:
    subject = f"{way.lift}, tackle {way.tackle}"
    clear = limit_for(case, CLEAR)
    hidden = _hidden(way, clear.value / 1000.0)
    worst = hidden or _worst(way)
    struck = bool(worst and worst.certified and not worst.gap > 0)
    certain = worst is None or worst.certified
    known = hidden is None and certain and (struck or not way.unknown)
    limit = _whole(clear, worst)
    value = None
    if known:
        value = NEAR * 1000.0 if worst is None else rounded_down(worst.gap * 1000.0, 2)
    failing = value is not None and value < limit.value
    return Finding(
        check="rope clearance",
        subject=subject,
        stage=way.stage,
        heel=None if worst is None else worst.heel,
        where=None if worst is None else worst.where,
        limit=limit,
        overrule=_overruled(case, subject, way.stage, worst),
        value=value,
        why=_why(way, worst, clear.value),
        remedy=_remedies(worst) if failing and worst is not None else (),
    )


def _worst(way: RopeWay) -> RopeGap | None:
    seen = [gap for gap in way.gaps if gap.body != UNSEEN]
    return next((gap for gap in seen if not gap.certified), seen[0] if seen else None)


def _hidden(way: RopeWay, clear: float) -> RopeGap | None:
    """The hole of the scan that the gap relies on, unless what was seen fails it already."""
    seen, worst = _worst(way), next((gap for gap in way.gaps if gap.body == UNSEEN), None)
    if worst is None or (seen is not None and seen.certified and seen.left < clear):
        return None
    nearer = seen is None or not seen.certified or worst.left <= seen.left
    return worst if nearer or worst.left < clear else None


def _whole(clear: Limit, gap: RopeGap | None) -> Limit:
    """The clearance itself, and all that moves or may be out of place."""
    if gap is None:
        return clear
    # To a hundredth, rounded up as gaps are rounded down: a sum's last bit decides nothing.
    value = rounded_up(clear.value + gap.moves * 1000.0, 2)
    source = f"{clear.value:g} mm by {clear.source}; the rest is play, sway and tolerances"
    return replace(clear, value=value, source=source)


def _overruled(case: Case, subject: str, stage: str, gap: RopeGap | None) -> Overrule | None:
    overrule = overrule_for(case, CLEAR, subject, stage)
    return None if overrule is None else replace(overrule, limit=_whole(overrule.limit, gap))


def _why(way: RopeWay, worst: RopeGap | None, clear: float) -> str:
    if worst is None:
        return way.unknown or f"nothing comes nearer to it than {NEAR * 1000:.0f} mm"
    what = f"{worst.body}: {worst.member}"
    line = f"the {'fall' if worst.run == 'fall' else 'tackle'}"
    if worst.body == UNSEEN:
        return (
            f"the gap of {line} relies on what the scan did not see: {worst.member}; what it "
            f"hides may leave {max(worst.gap, 0.0) * 1000:.0f} mm"
        )
    if not worst.certified:
        return f"the engine could not certify the gap of {line} to {what}"
    place = f"{what} at z {worst.where[2]:.2f} m"
    if worst.opening is not None:
        place = f"the side of {opening_words(worst.opening)} at z {worst.where[2]:.2f} m"
    if not worst.gap > 0:
        words = f"{line} bears on {place} and chafes"
    else:
        words = f"{line} comes nearest to {place}"
    need = f"must keep {clear:g} clear + {worst.moves * 1000:.1f} by play, sway and tolerances"
    unknown = f"; how far it moves is not known: {way.unknown}" if way.unknown else ""
    return f"{words}; {need}{unknown}{_others(way, worst, clear)}"


def _others(way: RopeWay, worst: RopeGap, clear: float) -> str:
    """The other pieces that it comes too near to, the worst by name."""
    told = dict.fromkeys(
        f"{gap.body}: {gap.member}"
        for gap in way.gaps
        if gap.left * 1000.0 < clear and (gap.body, gap.member) != (worst.body, worst.member)
    )
    if not told:
        return ""
    named, more = list(told)[:NAMED_AT_MOST], len(told) - NAMED_AT_MOST
    return f"; also too near: {', '.join(named)}" + (f" and {more} more" if more > 0 else "")


def _remedies(worst: RopeGap) -> tuple[str, ...]:
    if worst.opening is not None:
        return ("widen the opening, or move it under the line", "move the blocks")
    return (
        "move the moving block or the top block so that the line hangs clear",
        "cut a slot or notch, and declare it among the openings",
    )


def opening_words(opening: Opening) -> str:
    """An opening as a sheet says it.

    Parameters
    ----------
    opening : Opening
        In the plan.

    Returns
    -------
    words : str
        Kind, clear width and piece, such as "slot 420 by 120 mm in ring deck: planks
        north".
    """
    wide = " by ".join(f"{clear * 1e3:.0f}" for clear in opening.clear if clear is not None)
    return f"{opening.kind} {wide} mm in {opening.of}: {opening.member}"


def opening_rows(openings: Iterable[Opening]) -> Iterator[tuple[str, str, str, str]]:
    """What the framer's and the rigger's sheets say of every opening.

    Parameters
    ----------
    openings : iterable of Opening
        Of the plan.

    Yields
    ------
    name, what, lines, left : str
        The opening, the lines that pass it, and what is known of the piece it weakens.
    """
    for each in openings:
        lines = ", ".join(each.tackles) or "every tackle"
        lifts = f" of {', '.join(each.lifts)}" if each.lifts else ""
        yield each.name, opening_words(each), f"{lines}{lifts}", _left(each)


def _left(opening: Opening) -> str:
    note = f": {opening.note}" if opening.note else ""
    if opening.passed_by is not None:
        return f"passed by {opening.passed_by}{note}"
    if opening.kind == "bay":
        return f"nothing is cut{note}"
    return f"NOT EVALUATED: for the framer to reckon and sign{note}"


def opening_card(case: Case, stage: str) -> Iterator[tuple[str, str]]:
    """Lines for the card of a stage: the openings that its ropes pass.

    Parameters
    ----------
    case : Case
        Plan and raise.
    stage : str
        Which stage.

    Yields
    ------
    topic, words : str
        One for each opening in something that is there.
    """
    passages = [p for p in case.raise_.moving_passages if p.stage == stage and p.lift]
    lifts = {passage.lift for passage in passages}
    there = {name for p in passages for name in (*p.standing, *p.fixtures, *p.fitted)}
    for each in case.plan.openings:
        if each.of in there and (not each.lifts or lifts & set(each.lifts)):
            tackles = {
                line.tackle
                for lift in case.plan.lifts
                if lift.name in lifts
                for line in lift.lines
                if not each.tackles or line.tackle in each.tackles
            }
            if tackles:
                lines = ", ".join(sorted(tackles))
                yield each.name, f"{opening_words(each)}, for {lines}; {_left(each)}"
