"""Whether a section that hangs free strikes something when a tackle is lost.

It leans towards the lost corner, and on the way there twice as far as it then rests, or
more. Where that uses up a gap, side ropes at head and heel must be made fast for the pull
that holds it.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from towerlift.checks.case import Case, limit_for
from towerlift.checks.hauls import Haul, Said, haul_finding, hauls
from towerlift.findings import Bound, Finding
from towerlift.nesting.margins import Margin
from towerlift.plan.limits import UsualLimit
from towerlift.rig.curves import HangCurve
from towerlift.rig.recovery_swing import side_pull
from towerlift.rig.sudden import Ints, leans_after_loss

CHECK = "recovery"
# Heights along a haul at which the loss is tried, besides its worst. [m]
APART = 1.0

ROPES = UsualLimit(
    name="side rope against a lost tackle",
    value=1.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="statics: the pull at head and heel that stands in for the moment of the lost "
    "tackle, twice for its suddenness",
)
LIMITS = (ROPES,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Struck:
    """The nearest that a swing after a loss comes to something.

    Attributes
    ----------
    left : float
        Gap left; below nothing it strikes. [m]
    margin : Margin
        Where.
    swing : float
        How far that piece swings. [m]
    curve : HangCurve
        Loads of the haul.
    row : int
        Sample.
    """

    left: float
    margin: Margin
    swing: float
    curve: HangCurve
    row: int


def struck_after_loss(case: Case, haul: Haul) -> Struck | None:
    """The piece that comes nearest to something when a tackle is lost in a free haul.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.
    haul : Haul
        One that hangs free.

    Returns
    -------
    struck : Struck or None
        None where no gap along it was reckoned, or it topples.
    """
    worst = None
    for curve in haul.curves:
        passage = case.raise_.passages[curve.passage]
        foot = passage.standing[haul.section].heel_from
        rows = _rows(curve)
        if not rows.size:
            continue
        _, leans = leans_after_loss(case.workshop, curve, rows)
        for margin in case.margins:
            if margin.passage != curve.passage or margin.gap is None:
                continue
            # A section that stands on the hauled one swings with it about its lift points.
            heel = margin.heel - (passage.standing[margin.moving].heel_from - foot)
            for row, lean in zip(rows.tolist(), leans.tolist(), strict=True):
                if not (abs(heel - curve.heels[row]) <= APART and np.isfinite(lean)):
                    continue
                level = float(curve.lower[row, :, 2].mean() - curve.heels[row])
                moved = lean * abs(margin.where[2] - heel - level)
                left = margin.gap - moved
                if worst is None or left < worst.left:
                    worst = Struck(left=left, margin=margin, swing=moved, curve=curve, row=row)
    return worst


def _rows(curve: HangCurve) -> Ints:
    """Samples to try: a metre apart, and that at which the loss is worst; it must stand."""
    n = max(1, int(np.ceil(np.ptp(curve.heels) / APART)))
    rows = np.linspace(0, len(curve.heels) - 1, n + 1).round().astype(np.int64)
    rows = np.unique(np.append(rows, curve.lost_ratio.argmin()))
    return np.asarray(rows[(curve.lost_ratio[rows] > 1) & curve.rests[rows]])


def swing_findings(case: Case) -> Iterator[Finding]:
    """Side ropes of every free haul whose section would strike after a loss.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        None for a haul that shoes hold, that topples, which is told elsewhere, or that
        swings clear.
    """
    for haul in hauls(case):
        if not isinstance(haul, Haul) or haul.lift.guided:
            continue
        struck = struck_after_loss(case, haul)
        if struck is not None and not struck.left > 0:
            yield _finding(case, haul, struck)


def _finding(case: Case, haul: Haul, struck: Struck) -> Finding:
    curve, row, margin = struck.curve, struck.row, struck.margin
    length = next(each.length for each in case.plan.sections if each.name == haul.section)
    needed = side_pull(curve, row, length)
    why = (
        f"with tackle {curve.lines[int(curve.lost_line[row])]} lost at heel "
        f"{curve.heels[row]:.2f} m, {margin.label.mark} swings {struck.swing * 1e3:.0f} mm "
        f"and strikes {margin.opposite.mark} of the {margin.against}, "
        f"{(margin.gap or 0) * 1e3:.0f} mm off; side ropes at head and heel must hold "
        f"{needed / 1e3:.1f} kN to keep it, "
    )
    ropes = haul.lift.side_ropes
    if ropes is None:
        said = Said(
            value=None,
            why=f"{why}and lift {haul.lift.name} gives no side_ropes",
            heel=float(curve.heels[row]),
            remedy=(
                "four side ropes at the head and four at the heel, made fast for that pull",
                "side shoes",
            ),
        )
        return haul_finding(case, CHECK, haul, ROPES, said)
    value = ropes / needed
    said = Said(
        value=value,
        why=f"{why}and each is made fast for {ropes / 1e3:.0f} kN",
        heel=float(curve.heels[row]),
        remedy=("stronger side ropes",) if value < limit_for(case, ROPES).value else (),
    )
    return haul_finding(case, CHECK, haul, ROPES, said)
