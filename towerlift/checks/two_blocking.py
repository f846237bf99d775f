"""Two-blocking: rise that is left before the blocks of a tackle meet."""

from collections.abc import Iterable

import numpy as np

from towerlift.checks.case import Case, limit_for, overrule_for
from towerlift.checks.hauls import Haul, Unreckoned, hauls, not_reckoned
from towerlift.findings import Bound, Finding
from towerlift.mechanics.tackle import two_block_margin
from towerlift.plan.limits import UsualLimit
from towerlift.units import Dimension

CHECK = "two-blocking"
MARGIN = UsualLimit(
    name="two-block margin",
    value=0.8,
    unit="m",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="common practice, no published source: 0.8 m of lift left",
)
LIMITS = (MARGIN,)


def check_two_blocking(case: Case) -> Iterable[Finding]:
    """Least distance from top block to lift point of every haul, blocks taken off.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        For each section, lift and stage.
    """
    for haul in hauls(case):
        if isinstance(haul, Unreckoned):
            yield not_reckoned(case, CHECK, MARGIN, haul)
        else:
            yield _margin(case, haul)


def _margin(case: Case, haul: Haul) -> Finding:
    # A block below its lift point has no rise left: its distance counts as less than none.
    signed = [
        np.copysign(each.lengths, (each.upper - each.lower)[..., 2]) for each in haul.curves
    ]
    which, sample = haul.worst([each.min(axis=1) for each in signed])
    curve, row = haul.curves[which], signed[which][sample]
    known = bool(np.all(np.isfinite(row)))
    line = int(np.argmin(row)) if known else 0
    value = two_block_margin(float(row[line]), haul.pattern.shortest) if known else None
    limit = limit_for(case, MARGIN)
    x, y, z = curve.upper[sample, line].tolist()
    carrier = haul.lift.hung_from
    missing = limit.value - (value or 0.0)
    return Finding(
        check=CHECK,
        subject=haul.section,
        stage=haul.stage,
        heel=float(curve.heels[sample]),
        where=(x, y, z) if known else None,
        limit=limit,
        overrule=overrule_for(case, MARGIN, haul.section, haul.stage),
        value=value,
        why=(
            f"{MARGIN.name}: tackle {curve.lines[line]} is {row[line]:.2f} m from top block "
            f"to lift point; its blocks meet at {haul.pattern.shortest:.2f} m"
            if known
            else f"{MARGIN.name}: {carrier}, which carries the top blocks, is not on the site"
        ),
        remedy=(
            f"stop the lift {missing:.2f} m lower",
            f"hang the top blocks {missing:.2f} m higher on {carrier}, or use shorter blocks",
        )
        if value is not None and missing > 0
        else (),
    )
