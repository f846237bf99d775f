"""Ropes clear of each other and of blocks, and blocks clear of timber, over every haul."""

from collections.abc import Iterable
from dataclasses import replace

from towerlift.checks.case import Case, limit_for, overrule_for
from towerlift.checks.rope_clearance import CLEAR
from towerlift.findings import Finding, Limit
from towerlift.nesting.needs import Allowed
from towerlift.plan.limits import UsualLimit
from towerlift.rig.block_ways import block_ways
from towerlift.rig.line_ways import GearGap, HaulGear, gear_ways
from towerlift.rig.rope_search import NEAR
from towerlift.units import rounded_down, rounded_up

CHECK = "rope clearance"
PAST = replace(
    CLEAR,
    name="ropes past ropes and blocks",
    source="common practice, no source: gear that never touches does not chafe or foul",
)
BLOCKS = replace(PAST, name="blocks past timber")
LIMITS = (PAST, BLOCKS)
CURES = {
    PAST.name: (
        "hang the tackles farther apart",
        "turn the block, so that its fall leaves on the other side",
        "move the lead block",
    ),
    BLOCKS.name: ("move the block, or turn it", "widen the opening"),
}


def check_gear_clearance(case: Case) -> Iterable[Finding]:
    """The least that the gear of each haul leaves to itself, and its blocks to timber.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        For each stage and lift one of its ropes past each other, where it has two, and one
        of its blocks past timber.
    """
    shop = case.workshop
    allowed = Allowed(running=limit_for(case, CLEAR).value / 1000.0, free=case.free)
    for gear in gear_ways(shop, allowed):
        yield _finding(case, PAST, gear)
    for gear in block_ways(shop, allowed):
        yield _finding(case, BLOCKS, gear)


def _finding(case: Case, usual: UsualLimit, gear: HaulGear) -> Finding:
    clear = limit_for(case, usual)
    hidden = _hidden(gear, clear.value / 1000.0)
    gap = hidden or gear.gap
    limit = _whole(clear, gap)
    overrule = overrule_for(case, usual, gear.lift, gear.stage)
    if overrule is not None:
        overrule = replace(overrule, limit=_whole(overrule.limit, gap))
    fouls = gap is not None and gap.certified and not gap.gap > 0
    sure = fouls or (not gear.unknown and (gap is None or gap.certified))
    known = sure and hidden is None
    value = None
    if known:
        value = NEAR * 1000.0 if gap is None else rounded_down(gap.gap * 1000.0, 2)
    failing = value is not None and value < limit.value
    return Finding(
        check=CHECK,
        subject=gear.lift,
        stage=gear.stage,
        heel=None if gap is None else gap.heel,
        where=None if gap is None else gap.where,
        limit=limit,
        overrule=overrule,
        value=value,
        why=f"{usual.name}: {_why(gear, gap, clear.value)}",
        remedy=CURES[usual.name] if failing else (),
    )


def _whole(clear: Limit, gap: GearGap | None) -> Limit:
    """The clearance itself, and all that moves or may be out of place."""
    if gap is None:
        return clear
    value = rounded_up(clear.value + gap.moves * 1000.0, 2)
    source = f"{clear.value:g} mm by {clear.source}; the rest is play, sway and tolerances"
    return replace(clear, value=value, source=source)


def _hidden(gear: HaulGear, clear: float) -> GearGap | None:
    """What the scan did not see and the gap relies on, unless it fails without it."""
    seen, hidden = gear.gap, gear.hidden
    if hidden is None or (seen is not None and seen.certified and seen.left < clear):
        return None
    nearer = seen is None or not seen.certified or hidden.left <= seen.left
    return hidden if nearer or hidden.left < clear else None


def _why(gear: HaulGear, gap: GearGap | None, clear: float) -> str:
    if gap is not None and gap is gear.hidden:
        return (
            f"the gap of {gap.one} relies on what the scan did not see: {gap.other}; what it "
            f"hides may leave {max(gap.gap, 0.0) * 1000:.0f} mm"
        )
    if gap is None:
        return gear.unknown or f"nothing comes nearer than {NEAR * 1000:.0f} mm"
    if not gap.certified:
        return f"the engine could not certify the gap of {gap.one} to {gap.other}"
    meets = "comes nearest to" if gap.gap > 0 else "fouls"
    unknown = f"; how far they move is not known: {gear.unknown}" if gear.unknown else ""
    return (
        f"{gap.one} {meets} {gap.other} at z {gap.where[2]:.2f} m; must keep {clear:g} clear + "
        f"{gap.moves * 1000:.1f} by play, sway and tolerances{unknown}"
    )
