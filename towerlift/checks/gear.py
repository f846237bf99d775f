"""Papers and iron of a tackle: rope examined, its end made fast, blocks within rating."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from towerlift.checks.case import Case, limit_for
from towerlift.checks.hauls import Haul, Said, Unreckoned, haul_finding, hauls, not_reckoned
from towerlift.checks.strength import mass_factor
from towerlift.findings import Bound, Finding
from towerlift.mechanics.tackle import top_block_load
from towerlift.motion.masses import moving_mass
from towerlift.plan.limits import UsualLimit
from towerlift.plan.rigging import Coil, Hardware
from towerlift.rig.curves import HangCurve
from towerlift.rig.pulls import line_coils, rope_path
from towerlift.units import Dimension

CHECK = "hoisting gear"

EXAMINED = UsualLimit(
    name="time since a rope was examined",
    value=365.0,
    unit="d",
    bound=Bound.AT_MOST,
    dimension=Dimension.TIME,
    source="common practice, no published source: thoroughly examined or certified within a "
    "year of the lift; local codes may ask for less",
)
SPLICED = UsualLimit(
    name="derating with an eye splice",
    value=90.0,
    unit="%",
    bound=Bound.AT_MOST,
    dimension=Dimension.SHARE,
    source="common practice, no published source: a good eye splice keeps nine tenths of the "
    "rope, before age and wear",
)
KNOTTED = replace(
    SPLICED,
    name="derating with a knot",
    value=40.0,
    source="a US Coast Guard study has knots cut strength by as much as 50 to 60 per cent, "
    "before age and wear",
)
RATED = UsualLimit(
    name="load over the rating of a block or shackle",
    value=1.0,
    unit="1",
    bound=Bound.AT_MOST,
    dimension=None,
    source="the maker's rated load, which has its own factor in it",
)
LIMITS = (EXAMINED, SPLICED, KNOTTED, RATED)
_ENDS = {"eye splice": SPLICED, "knot": KNOTTED}


def check_gear(case: Case) -> Iterable[Finding]:
    """Examination and end of every rope, and the rating of what its tackle hangs by.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        For each section, lift and stage: the rope longest unexamined, the rope derated
        least for its end, and the block or shackle nearest its rating.
    """
    for haul in hauls(case):
        if isinstance(haul, Unreckoned):
            yield not_reckoned(case, CHECK, RATED, haul)
            continue
        yield _examined(case, haul)
        yield from _ends(case, haul)
        yield _rated(case, haul)


def _day(case: Case, haul: Haul) -> tuple[date, str]:
    """Day of a haul; where it has none, the first day of the work."""
    begins = case.raise_.passages[haul.curves[0].passage].begins
    if begins is None:
        return case.plan.site.day_1, f"day 1 ({haul.stage} has no date)"
    return begins.date(), haul.stage


def _examined(case: Case, haul: Haul) -> Finding:
    coils = line_coils(case.plan, haul.lift)
    day, when = _day(case, haul)
    known = [coil for coil in coils if coil.examined is not None]
    if len(known) < len(coils):
        tags = ", ".join(sorted({coil.tag for coil in coils if coil.examined is None}))
        why = f"the plan does not say when coil {tags} was last examined"
        remedy = ("write in its row the day it was examined or certified",)
        return haul_finding(
            case, CHECK, haul, EXAMINED, Said(value=None, why=why, remedy=remedy)
        )
    oldest = min(known, key=lambda coil: coil.examined or day)
    age = (day - (oldest.examined or day)).days
    if age < 0:
        why = f"coil {oldest.tag} is said to be examined on {oldest.examined}, after {when}"
        return haul_finding(case, CHECK, haul, EXAMINED, Said(value=None, why=why))
    why = f"coil {oldest.tag} was examined on {oldest.examined}, {age} days before {when}"
    late = age > limit_for(case, EXAMINED).value
    cure = f"have coil {oldest.tag} examined, and write down the day"
    return haul_finding(
        case,
        CHECK,
        haul,
        EXAMINED,
        Said(value=float(age), why=why, remedy=(cure,) if late else ()),
    )


def _ends(case: Case, haul: Haul) -> Iterator[Finding]:
    coils = line_coils(case.plan, haul.lift)
    unknown = sorted({coil.tag for coil in coils if coil.end is None})
    if unknown:
        why = f"the plan does not say how the end of coil {', '.join(unknown)} is made fast"
        remedy = ('write "eye splice" or "knot" as its end',)
        said = Said(value=None, why=why, remedy=remedy)
        yield haul_finding(case, CHECK, haul, SPLICED, said)
    for end in _ENDS:
        made = [coil for coil in coils if coil.end == end]
        if made:
            yield _end(case, haul, max(made, key=lambda coil: coil.derating))


def _end(case: Case, haul: Haul, coil: Coil) -> Finding:
    usual = _ENDS[coil.end or ""]
    limit = limit_for(case, usual)
    value = round(100 * coil.derating, 9)
    why = (
        f"coil {coil.tag} is reckoned with {value:.0f} % of its breaking force left; its end "
        f"is made fast by {'an' if coil.end == 'eye splice' else 'a'} {coil.end}, and age and "
        "wear come on top"
    )
    remedy = (
        (f"reckon coil {coil.tag} with {limit.value:g} % at most", "an eye splice")
        if value > limit.value
        else ()
    )
    return haul_finding(case, CHECK, haul, usual, Said(value=value, why=why, remedy=remedy))


def _rated(case: Case, haul: Haul) -> Finding:
    hardware = haul.pattern.hardware
    lacking = [
        place for place in ("top", "moving") if not any(h.place == place for h in hardware)
    ]
    if lacking:
        why = (
            f"tackle pattern {haul.pattern.name} names no block or shackle at its "
            f"{' and its '.join(lacking)} block, so that nothing is rated there"
        )
        remedy = ("list every block, shackle and strop that the load goes through",)
        return haul_finding(case, CHECK, haul, RATED, Said(value=None, why=why, remedy=remedy))
    loads = [each for curve in haul.curves for each in _loads(case, haul, curve)]
    if not all(np.isfinite(each.load) for each in loads):
        why = "it finds no rest near true on its lines, so that no block has a load"
        return haul_finding(case, CHECK, haul, RATED, Said(value=None, why=why))
    heaviest = {
        place: max((x for x in loads if x.place == place), key=lambda x: x.load)
        for place in ("top", "moving")
    }
    worst = max(hardware, key=lambda each: heaviest[each.place].load / each.rated)
    return _against(case, haul, worst, heaviest[worst.place])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Load:
    """Greatest load at one end of a tackle, all that is reckoned on top. [N]"""

    place: str
    tackle: str
    heel: float
    load: float


def _loads(case: Case, haul: Haul, curve: HangCurve) -> Iterator[_Load]:
    passage = case.raise_.passages[curve.passage]
    factor = mass_factor(case.plan, moving_mass(case.shapes, passage))
    path = rope_path(haul.lift, haul.pattern, factor)
    hung = curve.tensions * path.over
    for n, line in enumerate(haul.lift.lines):
        sample = int(np.where(np.isnan(hung[:, n]), np.inf, hung[:, n]).argmax())
        load, heel = float(hung[sample, n]), float(curve.heels[sample])
        top = top_block_load(load, load * path.fall)
        yield _Load(place="moving", tackle=line.tackle, heel=heel, load=load)
        yield _Load(place="top", tackle=line.tackle, heel=heel, load=top)


def _against(case: Case, haul: Haul, iron: Hardware, at: _Load) -> Finding:
    over = round(at.load / iron.rated, 9)
    why = (
        f"{iron.name} at the {at.place} block of tackle {at.tackle} takes "
        f"{at.load / 1e3:.1f} kN, worst corner, friction and mass on "
        f"top{', and the pull of the fall' if at.place == 'top' else ''}; it is rated "
        f"{iron.rated / 1e3:.1f} kN ({iron.source})"
    )
    short = over > limit_for(case, RATED).value
    remedy = (f"a {iron.name} rated {at.load / 1e3:.0f} kN or more",) if short else ()
    said = Said(value=over, why=why, heel=at.heel, remedy=remedy)
    return haul_finding(case, CHECK, haul, RATED, said)
