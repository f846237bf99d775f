"""Locking bars that can be pushed in: room past their leg and beside what stands by it."""

from collections.abc import Iterable

from towerlift.checks.case import Case
from towerlift.checks.judged import Judged, judge
from towerlift.findings import Bound, Finding
from towerlift.plan.limits import UsualLimit
from towerlift.rig.bar_ways import BarWay, bar_ways
from towerlift.rig.rope_search import NEAR
from towerlift.shapes.unseen import UNSEEN
from towerlift.units import Dimension, rounded_down

CHECK = "locks"
ROOM = UsualLimit(
    name="room to push a bar in",
    value=10.0,
    unit="mm",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="common practice, no source: what a bar needs beside its corners to be driven",
)
LIMITS = (ROOM,)


def check_bars(case: Case) -> Iterable[Finding]:
    """The room of the tightest bar of every lock, at every height at which it locks.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        One for each lock by bars and height; all stands true and as drawn.
    """
    for way in bar_ways(case.workshop):
        yield _finding(case, way)


def _finding(case: Case, way: BarWay) -> Finding:
    gap, stand = way.gap, way.stand
    value: float | None = NEAR * 1e3
    why = f"nothing is nearer to its bars than {NEAR * 1e3:.0f} mm"
    if way.missing:
        value, why = None, f"the plan does not say, {way.missing}"
    elif gap is not None:
        value = rounded_down(gap.gap * 1e3, 2) if gap.certified else None
        what = f"bar {gap.bar}, pushed in {gap.side}"
        why = f"the engine could not certify the gap of {what} to {gap.body}: {gap.member}"
        if gap.body == UNSEEN:
            why = f"the way of {what} relies on what the scan did not see: {gap.member}"
        elif gap.certified:
            meets = "comes nearest to" if gap.gap > 0 else "strikes"
            why = f"{what}, {meets} {gap.body}: {gap.member}"
    return judge(
        case,
        CHECK,
        Judged(
            usual=ROOM,
            subject=stand.subject,
            stage=stand.stages[0],
            heel=stand.heel,
            where=None if gap is None else gap.where,
            value=value,
            why=why,
            remedy=("a bar in two halves", "lay the bars the other way", "move what is there"),
        ),
    )
