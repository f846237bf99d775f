"""Uneven hauling of a guided section: how far out of level, and whether it jams.

A section that runs on shoes may lean until they have taken up their play. The allowance
is largest where the shoes that bear are close together, which is also where they jam.
"""

from collections.abc import Iterable, Sequence

import numpy as np

from towerlift.checks.case import Case, limit_for
from towerlift.checks.hauls import (
    Haul,
    Said,
    Unreckoned,
    haul_finding,
    hauls,
    named,
    not_reckoned,
)
from towerlift.findings import Bound, Finding
from towerlift.mechanics.jam import jam_share
from towerlift.mechanics.levelling import ABORT, STOP, level_allowance, mark_mm
from towerlift.nesting.pairs import Workshop
from towerlift.plan.limits import UsualLimit
from towerlift.plan.model import Plan
from towerlift.rig.curves import Floats, HangCurve
from towerlift.rig.losses import Guiding, guiding
from towerlift.units import Dimension

CHECK = "uneven hauling"
# Two water-level marks, each read within 3 mm.
READING = 0.003 * 2**0.5
DRY = 0.5

LEVEL = UsualLimit(
    name="level tolerance",
    value=0.0,
    unit="mm",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="common practice, no published source: stop and level at half of what shoes allow, "
    "2 c b / a by geometry, abort at three quarters",
)
FRICTION = UsualLimit(
    name="friction of shoes",
    value=0.2,
    unit="1",
    bound=Bound.AT_MOST,
    dimension=None,
    source="common practice: tallow on planed oak 0.1 to 0.2, dry 0.4 to 0.5; grease before "
    "each lift",
)
JAM = UsualLimit(
    name="jam share with a corner lost",
    value=0.5,
    unit="1",
    bound=Bound.AT_MOST,
    dimension=None,
    source="statics: at 1 no pull moves it; half of that is kept in hand, no published source",
)
LIMITS = (LEVEL, FRICTION, JAM)


def check_uneven(case: Case) -> Iterable[Finding]:
    """Level tolerance and jam of every guided haul, at the worst height.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        For each guided section, lift and stage. What hangs free is held by its
        clearance, which takes the tolerance of its lift.
    """
    shop = case.workshop
    for haul in hauls(case):
        if isinstance(haul, Unreckoned):
            yield not_reckoned(case, CHECK, LEVEL, haul)
        elif haul.lift.guided:
            yield from _guided(case, haul, shop)


def shoe_friction(plan: Plan) -> float:
    """Friction of shoes on rails that the plan reckons with.

    Parameters
    ----------
    plan : Plan
        May choose it.

    Returns
    -------
    friction : float
        Coulomb's coefficient.
    """
    chosen = next((each for each in plan.limits if each.limit == FRICTION.name), None)
    return FRICTION.value if chosen is None else FRICTION.read(chosen.value)


def _finding(case: Case, haul: Haul, usual: UsualLimit, said: Said) -> Finding:
    return haul_finding(case, CHECK, haul, usual, said)


def _guided(case: Case, haul: Haul, shop: Workshop) -> Iterable[Finding]:
    passages = case.raise_.passages
    held = [guiding(shop, passages[each.passage], each.heels) for each in haul.curves]
    if not all(each.holds for each in held):
        why = f"no two shoes at different heights hold {haul.section} on every side"
        for usual in (LEVEL, JAM):
            yield _finding(case, haul, usual, Said(value=None, why=why))
        return
    yield _level(case, haul, held)
    yield _jam(case, haul, held)


def allowances(curve: HangCurve, guides: Guiding) -> Floats:
    """Difference of level that shoes allow at every sample, swelling taken off.

    Parameters
    ----------
    curve : HangCurve
        Gives the distance between opposite lift points.
    guides : Guiding
        Of the same passage; must hold everywhere.

    Returns
    -------
    allowance : (k,) float
        [m]
    """
    return level_allowance(guides.play - guides.swelling, curve.spacing, guides.span)


def _level(case: Case, haul: Haul, held: list[Guiding]) -> Finding:
    every = [allowances(curve, each) for curve, each in zip(haul.curves, held, strict=True)]
    which, sample = haul.worst(every)
    least, most = float(every[which][sample]), max(float(each.max()) for each in every)
    guides = held[which]
    spare = STOP * least - haul.lift.level_tolerance
    stop = mark_mm(least, STOP)
    why = (
        f"shoes {guides.span[sample]:.2f} m apart with {guides.play * 1e3:.0f} mm of play, "
        "less "
        f"{guides.swelling * 1e3:.1f} mm of swelling, allow {least * 1e3:.1f} mm over "
        f"{haul.curves[which].spacing:.2f} m (up to {most * 1e3:.1f} mm elsewhere): stop and "
        f"level at {stop} mm, abort at {mark_mm(least, ABORT)} mm; the lift stops at "
        f"{haul.lift.level_tolerance * 1e3:.0f} mm"
    )
    if stop < READING * 1e3:
        why += f"; two marks read to 3 mm each cannot tell {stop} mm: mark to 1 mm"
    remedy: tuple[str, ...] = ()
    if spare < 0:
        remedy = (
            f"set the tolerance of lift {haul.lift.name} to {stop} mm",
            "more play at the shoes, if gaps and wind allow it",
        )
    return _finding(
        case,
        haul,
        LEVEL,
        Said(
            value=round(spare * 1e3, 6),
            why=why,
            heel=float(haul.curves[which].heels[sample]),
            remedy=remedy,
        ),
    )


def _jam(case: Case, haul: Haul, held: list[Guiding]) -> Finding:
    friction = shoe_friction(case.plan)
    shares, offsets = [], []
    for curve, guides in zip(haul.curves, held, strict=True):
        offset = corner_lost_offset(curve, [line.lift_point for line in haul.lift.lines])
        offsets.append(offset)
        shares.append(jam_share(friction, offset[:, 0], offset[:, 1], guides.span))
    which, sample = haul.worst([-each for each in shares])
    value = float(shares[which][sample])
    if not np.isfinite(value):
        why = "it finds no rest near true, so that no line has a place in it"
        return _finding(case, haul, JAM, Said(value=None, why=why))
    east, north = offsets[which][sample]
    curve, span = haul.curves[which], float(held[which].span[sample])
    dry = value * DRY / friction if friction > 0 else 0.0
    width = curve.spacing
    why = (
        f"{named(curve.hauled)} with all tackles of a corner lost is pulled {east:.2f} m east "
        "or "
        f"west and {north:.2f} m north or south of its weight, between shoes {span:.2f} m "
        "apart; "
        f"at friction {friction:g} it takes {_times(value)}, dry at {DRY:g} {_times(dry)}; "
        f"past friction {span / width:.2f} shoes across from each other can lock by themselves"
    )
    remedy: tuple[str, ...] = ()
    if value > limit_for(case, JAM).value:
        apart = span * value / limit_for(case, JAM).value
        remedy = ("grease the shoes and rails", f"shoes {apart:.2f} m apart")
    return _finding(
        case,
        haul,
        JAM,
        Said(value=value, why=why, heel=float(curve.heels[sample]), remedy=remedy),
    )


def _times(share: float) -> str:
    return (
        f"{1 / (1 - share):.2f} times its weight to move" if share < 1 else "no pull moves it"
    )


def corner_lost_offset(curve: HangCurve, corners: Sequence[str]) -> Floats:
    """Where the lines pull when every tackle of the worst corner is lost, shoes upright.

    Parameters
    ----------
    curve : HangCurve
        Loads before the loss.
    corners : sequence of str
        Lift point of each line: tackles of one corner share it.

    Returns
    -------
    offset : (k, 2) float
        Distance east or west, north or south, of the resultant from the weight. [m]

    Notes
    -----
    Kept upright all lines stretch alike by what the others take up, so that the
    resultant of what is left stays at the centre of the stiffness that is left.
    """
    stiffness = curve.tensions / curve.stretch
    points = curve.lower[..., :2]
    worst = np.zeros((len(curve.heels), 2))
    centre = (curve.tensions[..., None] * points).sum(axis=1)
    centre = centre / curve.tensions.sum(axis=1, keepdims=True)
    for corner in dict.fromkeys(corners):
        left = stiffness * np.array([each != corner for each in corners])
        pulled = (left[..., None] * points).sum(axis=1) / left.sum(axis=1, keepdims=True)
        off = np.abs(pulled - centre)
        farther = ~(off.sum(axis=1) <= worst.sum(axis=1))
        worst[farther] = off[farther]
    return worst
