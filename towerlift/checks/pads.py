"""Needles as beams and the pads that they press on the masonry, all patterns of load."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from towerlift.checks.case import Case
from towerlift.checks.judged import NOT_READ, Judged, judge, stress_limit
from towerlift.checks.wind import compass, held_states, rules_of
from towerlift.findings import Bound, Finding
from towerlift.plan.limits import UsualLimit, limit_in_plan
from towerlift.rig.out_of_true import gust_pressure
from towerlift.rig.pads import NeedleUse, PadUse, SidePush, needles_under
from towerlift.rig.stands import Stand, stands
from towerlift.timber import Sourced
from towerlift.units import Dimension

CHECK = "needles and pads"
# Load factor of wind: EN 1990, annex A1.
WIND = 1.5

BENDING = stress_limit("needle in bending")
SHEAR = stress_limit("needle in shear")
ON_PAD = stress_limit("needle on its pad")
MASONRY = UsualLimit(
    name="pressure on the masonry",
    value=0.0,  # what the plan says the masonry bears
    unit="MPa",
    bound=Bound.AT_MOST,
    dimension=Dimension.PRESSURE,
    source="EN 1996-1-1: design strength of the masonry, as the plan gives it",
)
LIFT = UsualLimit(
    name="uplift at a pad",
    value=0.0,
    unit="kN",
    bound=Bound.AT_LEAST,
    dimension=Dimension.FORCE,
    source="statics: what presses the pad, or what its tie holds over the lift",
)
LIMITS = (BENDING, SHEAR, ON_PAD, MASONRY, LIFT)


def check_pads(case: Case) -> Iterable[Finding]:
    """Every fixture that a section stands on by its heel.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        The hardest used needle and pad under each section on each fixture.
    """
    fixtures = {each.name for each in case.plan.fixtures}
    for stand in stands(case.plan, case.shapes, case.raise_):
        if stand.carrier not in fixtures or stand.how != "heel":
            continue
        pushes = side_pushes(case, stand)
        yield from _stand(case, stand, needles_under(case.plan, stand, pushes), pushes)


def side_pushes(case: Case, stand: Stand) -> tuple[SidePush, ...]:
    """What may push a section from the side while it stands.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.
    stand : Stand
        What stands on what.

    Returns
    -------
    pushes : tuple of SidePush
        Wind of each direction at the gust that the state must survive, where it stands
        unwedged: the strongest, and the strongest for its weight; none where the plan
        does not say what the wind is like.
    """
    if rules_of(case.plan) is None:
        return ()
    worst: dict[tuple[int, bool], tuple[float, SidePush]] = {}
    for held in held_states(case):
        joint = held.joint
        here = (joint.section, joint.carrier) == (stand.section, stand.carrier)
        if not here or joint.kind != "needle" or held.wedged:
            continue
        gust = limit_in_plan(case.plan, held.demand).value
        moments = WIND * gust_pressure(gust) * joint.push.moment[:, None] * joint.push.along
        for way, moment in enumerate(moments):
            push = SidePush(
                weight=joint.stand.weight,
                moment=moment,
                says=f"{gust:g} m/s towards {compass(float(joint.push.directions[way]))}",
            )
            size = float(np.linalg.norm(moment))
            for light, measure in ((False, size), (True, size / joint.stand.weight)):
                known = worst.get((way, light))
                if known is None or measure > known[0]:
                    worst[way, light] = measure, push
    return tuple(push for _, push in worst.values())


def _stand(
    case: Case, stand: Stand, needles: tuple[NeedleUse, ...], pushes: tuple[SidePush, ...]
) -> Iterator[Finding]:
    if not needles:
        why = f"no contact says what of {stand.section} bears on {stand.carrier}"
        for usual in (BENDING, SHEAR, MASONRY):
            yield _said(case, stand, usual, value=None, why=why, by_strength=True)
        return
    for needle in needles:
        if needle.missing:
            for usual in (BENDING, SHEAR):
                yield _said(
                    case, stand, usual, value=None, why=needle.missing, by_strength=True
                )
            return
    yield from _beams(case, stand, needles)
    pads = [pad for needle in needles for pad in needle.pads]
    if pads:
        yield _on_pad(case, stand, max(pads, key=lambda each: each.across))
        yield _masonry(case, stand, max(pads, key=lambda each: each.pressure.most))
    if pads and pushes:
        yield _lift(
            case, stand, min(pads, key=lambda each: each.least + (each.pad.tied or 0.0))
        )


def _said(  # noqa: PLR0913
    case: Case,
    stand: Stand,
    usual: UsualLimit,
    *,
    value: float | None,
    why: str,
    strength: Sourced | None = None,
    by_strength: bool = False,
    where: tuple[float, float, float] | None = None,
    remedy: tuple[str, ...] = (),
) -> Finding:
    return judge(
        case,
        CHECK,
        Judged(
            usual=usual,
            subject=stand.subject,
            stage=stand.stages[0],
            heel=stand.heel,
            value=value,
            why=why,
            strength=strength,
            by_strength=by_strength,
            where=where,
            remedy=remedy,
        ),
    )


def _beams(case: Case, stand: Stand, needles: tuple[NeedleUse, ...]) -> Iterator[Finding]:
    beams = [needle.beam for needle in needles if needle.beam is not None]
    for usual, stress, strength in (
        (BENDING, [b.bending for b in beams], [b.bending_strength for b in beams]),
        (SHEAR, [b.shear for b in beams], [b.shear_strength for b in beams]),
    ):
        n = max(range(len(beams)), key=lambda k: stress[k])
        beam = beams[n]
        size = f"{beam.piece.width * 1e3:.0f} by {beam.piece.height * 1e3:.0f} mm"
        span = beam.supports[1].along - beam.supports[0].along
        why = beam.missing or (
            f"{beam.piece.mark} of {beam.material}, {size}, {span:.2f} m between "
            f"{beam.supports[0].what} and {beam.supports[1].what}, carries "
            f"{beam.load / 1e3:.1f} kN, two legs carrying all or wind on all, whichever is "
            f"worse; {stand.duration} load; so in "
            f"{', '.join(stand.stages)}"
        )
        yield _said(
            case,
            stand,
            usual,
            value=stress[n] / 1e6,
            why=why,
            strength=strength[n],
            by_strength=True,
            where=tuple(((beam.piece.start + beam.piece.end) / 2).tolist()),
            remedy=("a deeper needle", "an iron needle", "pockets nearer to the legs"),
        )


def _on_pad(case: Case, stand: Stand, use: PadUse) -> Finding:
    material = use.material
    strength = None if isinstance(material, str) else material.across
    named = material if isinstance(material, str) else material.name
    return _said(
        case,
        stand,
        ON_PAD,
        value=use.across / 1e6,
        why=f"{use.piece.mark}, {named}, presses {use.most / 1e3:.1f} kN over "
        f"{use.pad.bearing * 1e3:.0f} by {use.piece.width * 1e3:.0f} mm of its pad",
        strength=strength,
        by_strength=True,
        where=use.where,
        remedy=("let it bear farther into the wall", "a broader needle"),
    )


def _masonry(case: Case, stand: Stand, use: PadUse) -> Finding:
    shaft = case.plan.shaft
    strength = None
    if shaft.bearing_strength is not None:
        strength = Sourced(value=shaft.bearing_strength, source=shaft.bearing_source)
    usual = MASONRY if strength is not None else replace(MASONRY, source=NOT_READ)
    mean = use.most / (use.length * use.breadth)
    why = (
        f"pad of {use.pad.length * 1e3:.0f} by {use.pad.breadth * 1e3:.0f} by "
        f"{use.pad.thickness * 1e3:.0f} mm under {use.piece.mark}: {use.most / 1e3:.1f} kN "
        f"spread over {use.length * 1e3:.0f} by {use.breadth * 1e3:.0f} mm, {mean / 1e6:.2f} "
        "MPa on the mean; two legs carrying all or wind on all"
    )
    if strength is None:
        why = f"the plan does not say what the masonry bears; {why}"
    wider = "a larger padstone, thick enough to spread at 45 degrees"
    return _said(
        case,
        stand,
        usual,
        value=use.pressure.most / 1e6,
        why=why,
        strength=strength,
        by_strength=True,
        where=use.where,
        remedy=(wider, "set the needle back on its pad", "measure and pack all four legs"),
    )


def _lift(case: Case, stand: Stand, use: PadUse) -> Finding:
    tied = use.pad.tied or 0.0
    return _said(
        case,
        stand,
        LIFT,
        value=(use.least + tied) / 1e3,
        why=f"{use.piece.mark} presses its pad by {use.least / 1e3:.1f} kN at least, with a "
        f"tie of {tied / 1e3:.1f} kN",
        where=use.where,
        remedy=(f"tie the needle down for {-use.least / 1e3:.1f} kN",),
    )
