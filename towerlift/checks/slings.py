"""Slings: load, slant and steadiness of every bridle, for sections and for fit-out."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from towerlift.checks.case import Case, limit_for, overrule_for
from towerlift.errors import NoEquilibriumError
from towerlift.findings import Bound, Finding
from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.mechanics.polygon import margin_between, margin_inside
from towerlift.mechanics.slings import Bridle, rated_tension, swung_level
from towerlift.motion.masses import hanging_mass
from towerlift.motion.passages import Passage
from towerlift.plan.limits import UsualLimit
from towerlift.plan.rigging import SlingSet
from towerlift.shapes.solids import MassProperties, combine
from towerlift.units import Dimension

CHECK = "slings"
RATING = UsualLimit(
    name="sling rating",
    value=1.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="rated load of one leg, as its certificate or tag gives it, over its tension",
)
ANGLE = UsualLimit(
    name="sling angle",
    value=45.0,
    unit="deg",
    bound=Bound.AT_MOST,
    dimension=Dimension.ANGLE,
    source="common practice; US Navy, NAVEDTRA 14081, advises so for chokers",
)
FLATTEST = UsualLimit(
    name="flattest sling angle",
    value=60.0,
    unit="deg",
    bound=Bound.AT_MOST,
    dimension=Dimension.ANGLE,
    source="common practice: no leg ever beyond 60 degrees from the vertical",
)
HOOK = UsualLimit(
    name="hook above centre",
    value=0.0,
    unit="m",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="statics: a load turns over in its bridle when its centre is above what holds it",
)
INSIDE = UsualLimit(
    name="centre inside lugs",
    value=0.0,
    unit="m",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="statics: slings pull and do not push",
)
LIMITS = (RATING, ANGLE, FLATTEST, HOOK, INSIDE)
_WORDS = {2: "two", 3: "three", 4: "four"}


def check_slings(case: Case) -> Iterable[Finding]:
    """Every sling set: tension of the worst leg, its angle, and how the load sits.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        For each sling set, each limit.
    """
    for slings in case.plan.slings:
        try:
            bridle = Bridle(
                hook=np.array(slings.hook),
                lugs=np.array(slings.lugs),
                centre=np.array(slings.centre),
            )
        except ValueError as error:
            yield _finding(case, slings, RATING, said=_Said(value=None, why=str(error)))
            continue
        yield _rating(case, slings, bridle)
        yield from _angles(case, slings, _as_hung(bridle))
        yield _hook(case, slings, bridle)
        yield _inside(case, slings, bridle)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    value: float | None
    why: str
    remedy: tuple[str, ...] = ()


def _finding(case: Case, slings: SlingSet, usual: UsualLimit, *, said: _Said) -> Finding:
    subject = f"{slings.carries} in {slings.name}"
    return Finding(
        check=CHECK,
        subject=subject,
        stage=slings.stage,
        heel=None,
        where=None,
        limit=limit_for(case, usual),
        overrule=overrule_for(case, usual, subject, slings.stage),
        value=said.value,
        why=f"{usual.name}: {said.why}",
        remedy=said.remedy,
    )


def carried_mass(case: Case, slings: SlingSet) -> MassProperties | str:
    """Mass of what a sling set carries, the greatest in its stage, or why there is none.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.
    slings : SlingSet
        Names a fit-out item or a section.

    Returns
    -------
    mass : MassProperties or str
        The item's, or the section's with all that is fitted to it and rests on it; else
        what is missing.
    """
    name = slings.carries
    if name in case.shapes.fit_out:
        return case.shapes.fit_out[name].mass
    if name not in case.shapes.sections:
        return f"nothing is drawn or weighed that is called {name}"
    passages = [each for each in case.raise_.passages if each.stage == slings.stage]
    if not any(name in each.standing for each in passages):
        return f"{name} is not on the site in stage {slings.stage}"
    # What is fitted last in the stage is in place when the next passage begins.
    after = case.raise_.passages[passages[-1].index + 1 : passages[-1].index + 2]
    masses = [
        _with_all_it_carries(case, each, name)
        for each in (*passages, *after)
        if name in each.standing
    ]
    return max(masses, key=lambda each: each.mass * (1 + each.tolerance))


def _with_all_it_carries(case: Case, passage: Passage, section: str) -> MassProperties:
    """Mass of a section and of every section that rests on it; places do not matter."""
    carried = [section]
    for name in carried:
        carried += [
            other
            for other, place in passage.standing.items()
            if place.carrier == name and other not in carried
        ]
    origin = np.zeros(3)
    return combine([(hanging_mass(case.shapes, passage, name), origin) for name in carried])


def _rating(case: Case, slings: SlingSet, bridle: Bridle) -> Finding:
    found = carried_mass(case, slings)
    if isinstance(found, str):
        why = f"mass unknown: {found}"
        return _finding(case, slings, RATING, said=_Said(value=None, why=why))
    whole = found.mass if slings.load is None else slings.load
    mass = whole * slings.share * (1 + found.tolerance)
    try:
        tension = rated_tension(mass * STANDARD_GRAVITY, bridle, carrying=slings.carrying_legs)
    except (NoEquilibriumError, ValueError) as error:
        return _finding(case, slings, RATING, said=_Said(value=None, why=str(error)))
    value = slings.rated / tension
    part = "" if slings.share == 1 else f"{slings.share * 100:g} % of "
    tonnes = f"{part}{whole:,.0f} kg and {found.tolerance * 100:g} % over".replace(",", " ")
    why = (
        f"worst leg {tension / 1e3:.1f} kN of {slings.rated / 1e3:.1f} kN rated "
        f"({slings.source}); {_carrying(slings)}; {tonnes}"
    )
    short = value < limit_for(case, RATING).value
    wanted = limit_for(case, RATING).value * tension / 1e3
    remedy = (f"legs rated {wanted:.1f} kN or more", "a higher hook, for steeper legs")
    return _finding(
        case, slings, RATING, said=_Said(value=value, why=why, remedy=remedy if short else ())
    )


def _as_hung(bridle: Bridle) -> Bridle:
    """Two legs swung level about their lugs; one that would turn over as it is drawn."""
    try:
        return swung_level(bridle) if len(bridle.lugs) == 2 else bridle
    except NoEquilibriumError:
        return bridle


def _carrying(slings: SlingSet) -> str:
    n_legs = len(slings.lugs)
    if n_legs == 2:
        return "two legs"
    carrying = _WORDS[min(slings.carrying_legs, n_legs)]
    return f"{_WORDS[n_legs]} legs, {carrying} reckoned to carry, as flat as the flattest"


def _angles(case: Case, slings: SlingSet, bridle: Bridle) -> Iterator[Finding]:
    leg = int(bridle.angles.argmax())
    value = float(np.degrees(bridle.angles[leg]))
    why = f"leg {leg + 1} of {len(bridle.lugs)} is the flattest, from the vertical as it hangs"
    usual = limit_for(case, ANGLE)
    remedy = (_higher_hook(bridle, usual.value),) if value > usual.value else ()
    yield _finding(case, slings, ANGLE, said=_Said(value=value, why=why, remedy=remedy))
    if value > ANGLE.value:
        # Beyond the usual angle, whoever allows it, the last limit is told as well.
        yield _finding(case, slings, FLATTEST, said=_Said(value=value, why=why, remedy=remedy))


def _higher_hook(bridle: Bridle, angle_deg: float) -> str:
    legs = bridle.hook - bridle.lugs
    rise = legs @ bridle.up
    reach = np.sqrt(np.maximum((legs**2).sum(axis=1) - rise**2, 0.0))
    wanted = float((reach / np.tan(np.radians(angle_deg)) - rise).max())
    return f"longer legs: the hook {wanted:.2f} m higher"


def _hook(case: Case, slings: SlingSet, bridle: Bridle) -> Finding:
    above = float(bridle.hook[2] - bridle.centre[2])
    if len(bridle.lugs) == 2:
        # Two legs let the load turn about the line of its lugs.
        lugs = float(bridle.lugs[:, 2].min() - bridle.centre[2])
        value = min(above, lugs)
        why = f"hook {above:.2f} m and lugs {lugs:.2f} m above the centre of gravity"
    else:
        value, why = above, f"hook {above:.2f} m above the centre of gravity"
    offset = float(np.linalg.norm(bridle.hook[:2] - bridle.centre[:2]))
    if offset > 0 and above > 0:
        lean = np.degrees(np.arctan2(offset, above))
        why = f"{why}, {offset * 1000:.0f} mm to its side: the load hangs {lean:.1f} deg askew"
    remedy = ("lugs above the centre of gravity, or tied so that it cannot turn over",)
    low = value < limit_for(case, HOOK).value
    return _finding(
        case, slings, HOOK, said=_Said(value=value, why=why, remedy=remedy if low else ())
    )


def _inside(case: Case, slings: SlingSet, bridle: Bridle) -> Finding:
    centre, lugs = bridle.centre[:2], bridle.lugs[:, :2]
    try:
        value = margin_between(centre, lugs) if len(lugs) == 2 else margin_inside(centre, lugs)
    except ValueError as error:
        return _finding(case, slings, INSIDE, said=_Said(value=None, why=str(error)))
    place = "inside" if value >= 0 else "outside"
    why = f"the centre of gravity is {abs(value):.3f} m {place} the lugs, seen from above"
    remedy = ("move the lugs round the centre of gravity",) if value < 0 else ()
    return _finding(case, slings, INSIDE, said=_Said(value=value, why=why, remedy=remedy))
