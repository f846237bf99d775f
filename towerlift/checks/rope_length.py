"""Rope length: what a coil leaves when its tackle is at its longest."""

from collections.abc import Iterable

import numpy as np

from towerlift.checks.case import Case, limit_for, overrule_for
from towerlift.checks.hauls import Haul, Unreckoned, hauls, not_reckoned
from towerlift.findings import Bound, Finding
from towerlift.mechanics.rope import rope_needed
from towerlift.plan.limits import UsualLimit
from towerlift.units import Dimension

CHECK = "rope length"
SPARE = UsualLimit(
    name="rope length",
    value=10.0,
    unit="m",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="common practice, no published source: 10 m for barrel turns, tail and hands",
)
LIMITS = (SPARE,)


def check_rope_length(case: Case) -> Iterable[Finding]:
    """Rope left over in the shortest coil of every haul.

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
            yield not_reckoned(case, CHECK, SPARE, haul)
        else:
            yield _left_over(case, haul)


def _left_over(case: Case, haul: Haul) -> Finding:
    coils = {coil.tag: coil for coil in case.plan.coils}
    parts, fall = haul.pattern.parts, haul.pattern.fall_length
    longest = np.max([each.lengths.max(axis=0) for each in haul.curves], axis=0)
    needed = [rope_needed(float(each), fall, parts=parts, spare=0.0) for each in longest]
    left = np.array(
        [
            coils[line.coil].length - each
            for line, each in zip(haul.lift.lines, needed, strict=True)
        ]
    )
    known = bool(np.all(np.isfinite(left)))
    line = int(left.argmin()) if known else 0
    coil = coils[haul.lift.lines[line].coil]
    which, sample = haul.worst([-each.lengths[:, line] for each in haul.curves])
    limit = limit_for(case, SPARE)
    value = float(left[line]) if known else None
    missing = 0.0 if value is None else limit.value - value
    return Finding(
        check=CHECK,
        subject=haul.section,
        stage=haul.stage,
        heel=float(haul.curves[which].heels[sample]),
        where=None,
        limit=limit,
        overrule=overrule_for(case, SPARE, haul.section, haul.stage),
        value=value,
        why=(
            f"{SPARE.name}: coil {coil.tag} has {coil.length:.0f} m; tackle "
            f"{haul.lift.lines[line].tackle} takes {parts} parts of {longest[line]:.2f} m and "
            f"{fall:.0f} m of fall"
            if known
            else f"{SPARE.name}: {haul.lift.hung_from}, which carries the top blocks, "
            "is not on the site"
        ),
        remedy=(f"rove a coil {missing:.0f} m longer",) if missing > 0 else (),
    )
