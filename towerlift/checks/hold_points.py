"""Hold points: each stage lists those that what it does cannot go without."""

from collections.abc import Iterable

from towerlift.checks.case import Case, UsualLimit, limit_for, overrule_for
from towerlift.findings import Bound, Finding
from towerlift.programme.holds import HOLD_POINTS, needed_holds

CHECK = "hold points"

SKIPPED = UsualLimit(
    name="hold points that a stage skips",
    value=0.0,
    unit="count",
    bound=Bound.AT_MOST,
    dimension=None,
    source="common practice in hoisting, no source: signed before work goes on, never skipped",
)
LIMITS = (SKIPPED,)


def check_hold_points(case: Case) -> Iterable[Finding]:
    """The hold points of each stage, against those that its steps call for.

    Parameters
    ----------
    case : Case
        Plan and raise.

    Yields
    ------
    finding : Finding
        How many are missing, with what calls for each.
    """
    for stage in case.plan.stages:
        needed = list(needed_holds(case.plan, case.raise_, stage))
        if not needed:
            continue
        missing = [(mark, why) for mark, why in needed if mark not in stage.hold_points]
        told = "; ".join(f"{mark} ({HOLD_POINTS[mark]}): {why}" for mark, why in missing)
        marks = ", ".join(f'"{mark}"' for mark, _ in missing)
        yield Finding(
            check=CHECK,
            subject=stage.name,
            stage=stage.name,
            heel=None,
            where=None,
            limit=limit_for(case, SKIPPED),
            overrule=overrule_for(case, SKIPPED, stage.name, stage.name),
            value=float(len(missing)),
            why=f"not listed: {told}" if missing else "every hold point it needs is listed",
            remedy=(f"add {marks} to the hold_points of {stage.name}",) if missing else (),
        )
