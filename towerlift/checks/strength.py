"""Rope of every tackle against its breaking force: hauling, snatched, and after a loss.

Each line is held against the rope that it is rove with, as the certificate of its coil
gives it and as age, wear and splice have left it.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from towerlift.checks.case import Case, limit_for, overrule_for
from towerlift.checks.hauls import Haul, Unreckoned, hauls, named, not_reckoned
from towerlift.findings import Bound, Finding
from towerlift.mechanics.tackle import snatch_slack
from towerlift.motion.masses import moving_mass
from towerlift.nesting.pairs import Workshop
from towerlift.plan.limits import UsualLimit
from towerlift.plan.model import Plan
from towerlift.rig.curves import Floats, HangCurve
from towerlift.rig.losses import guided_losses, guiding
from towerlift.rig.pulls import RopePath, line_coils, pawl_drop, rope_path, snatched
from towerlift.rig.sudden import sudden_loads
from towerlift.rig.sudden_guided import guided_sudden_loads
from towerlift.shapes.solids import MassProperties

CHECK = "rope strength"
# A factor without bound, or above this, is shown as this.
LARGEST = 999.0

MASS = UsualLimit(
    name="mass factor",
    value=1.1,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice, no published source: ropes and crews for a tenth more than is "
    "reckoned, or for the tolerance of the mass where that is more",
)
FALL = UsualLimit(
    name="rope factor",
    value=10.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice for hand-hauled lifts over people, no published source; "
    "rope makers give 5 to 12 by risk",
)
BARREL = UsualLimit(
    name="rope factor at the barrel",
    value=8.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="no published source: where rope pulls hardest, but has neither splice nor sheave, "
    "less is asked than in the fall",
)
SNATCH = UsualLimit(
    name="rope factor with snatch",
    value=7.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice for hand-hauled lifts over people, no published source",
)
LOST = UsualLimit(
    name="rope factor with a tackle lost",
    value=5.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice after a loss, no published source; US 29 CFR 1926.1431(g) asks 5 "
    "of hardware that lifts people",
)
SUDDENLY = replace(LOST, name="rope factor with a tackle lost suddenly")
CORNER = replace(LOST, name="rope factor with a corner lost")
SHEAVE = UsualLimit(
    name="sheave over rope diameter",
    value=8.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice for fibre rope; US 29 CFR 1910.184 draws 8 as a contact radius",
)
DRUM = replace(SHEAVE, name="barrel over rope diameter")
LIMITS = (MASS, FALL, BARREL, SNATCH, LOST, SUDDENLY, CORNER, SHEAVE, DRUM)


def mass_factor(plan: Plan, mass: MassProperties) -> float:
    """Mass to be reckoned with, over the mass reckoned.

    Parameters
    ----------
    plan : Plan
        May choose the factor.
    mass : MassProperties
        Of what hangs.

    Returns
    -------
    factor : float
        The factor in force, or the tolerance of the mass where that is more.
    """
    chosen = next((each for each in plan.limits if each.limit == MASS.name), None)
    factor = MASS.value if chosen is None else MASS.read(chosen.value)
    return max(factor, 1 + mass.tolerance)


@dataclass(frozen=True, slots=True, kw_only=True)
class Loads:
    """Loads on the tackles of one curve, with all that is reckoned on top.

    Attributes
    ----------
    curve : HangCurve
        Reckoned loads.
    path : RopePath
        From load to pull.
    drop : (n,) float
        Fall of the load to the next pawl stop of each line. [m]
    lost, lost_suddenly : (k, n) float
        Greatest load on each tackle when another is lost, at rest after it and at the
        peak if it goes all at once, without anything on top. [N]
    """

    curve: HangCurve
    path: RopePath
    drop: Floats
    lost: Floats
    lost_suddenly: Floats

    @property
    def hauling(self) -> Floats:
        """Load on each tackle, worst corner, friction and mass on top, (k, n). [N]"""
        return self.curve.tensions * self.path.over

    @property
    def snatch(self) -> Floats:
        """Factor by which a caught drop raises that load, (k, n)."""
        return snatched(self.curve.stretch * self.path.over, self.drop)


def haul_loads(case: Case, haul: Haul, shop: Workshop) -> list[Loads]:
    """Loads of every curve of a haul.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.
    haul : Haul
        Which.
    shop : Workshop
        Of the same plan, to find the shoes of guided lifts.

    Returns
    -------
    loads : list of Loads
        In the order of the curves.
    """
    drop = np.array(
        [pawl_drop(case.plan, line, haul.pattern.parts) for line in haul.lift.lines]
    )
    found = []
    for curve in haul.curves:
        passage = case.raise_.passages[curve.passage]
        factor = mass_factor(case.plan, moving_mass(case.shapes, passage))
        lost, peak = _lost(shop, haul, curve)
        path = rope_path(haul.lift, haul.pattern, factor)
        found.append(Loads(curve=curve, path=path, drop=drop, lost=lost, lost_suddenly=peak))
    return found


def _lost(shop: Workshop, haul: Haul, curve: HangCurve) -> tuple[Floats, Floats]:
    if haul.lift.guided:
        guides = guiding(shop, shop.raise_.passages[curve.passage], curve.heels)
        if guides.holds:
            return guided_losses(curve, guides), guided_sudden_loads(shop, curve, guides)
    return curve.lost_tensions, sudden_loads(shop, curve)


def check_strength(case: Case) -> Iterable[Finding]:
    """Factor of every rope at its worst height, in each way of loading.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        For each section, lift and stage, each limit for the line that is worst.
    """
    shop = case.workshop
    for haul in hauls(case):
        if isinstance(haul, Unreckoned):
            yield not_reckoned(case, CHECK, FALL, haul)
            continue
        loads = haul_loads(case, haul, shop)
        yield _fall(case, haul, loads)
        yield _barrel(case, haul, loads)
        yield _snatch(case, haul, loads)
        yield from _losses(case, haul, loads)
        yield from _diameters(case, haul)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Worst:
    """Line and height at which a factor is least; `value` None where there is none."""

    load: Loads
    sample: int
    line: int
    value: float | None

    @property
    def heel(self) -> float:
        return float(self.load.curve.heels[self.sample])

    def of(self, values: Floats) -> float:
        return float(values[self.sample, self.line])


def _worst(case: Case, haul: Haul, loads: list[Loads], pulls: list[Floats]) -> _Worst:
    coils = line_coils(case.plan, haul.lift)
    kept = np.array([coil.breaking_force * coil.derating for coil in coils])
    with np.errstate(divide="ignore"):
        factors = [kept / np.maximum(each, 0.0) for each in pulls]
    which, sample = haul.worst([each.min(axis=1) for each in factors])
    row = factors[which][sample]
    row = np.where(np.isnan(row), -np.inf, row)
    line = int(row.argmin())
    value = min(float(row[line]), LARGEST) if row[line] >= 0 else None
    return _Worst(load=loads[which], sample=sample, line=line, value=value)


def _finding(case: Case, haul: Haul, usual: UsualLimit, worst: _Worst, why: str) -> Finding:
    limit = limit_for(case, usual)
    short = worst.value is not None and worst.value < limit.value
    place = worst.load.curve.upper[worst.sample, worst.line].tolist()
    known = bool(np.all(np.isfinite(place)))
    if worst.value is None:
        why = f"{named(worst.load.curve.hauled)} finds no rest near true, so no rope has a load"
    return Finding(
        check=CHECK,
        subject=haul.section,
        stage=haul.stage,
        heel=worst.heel,
        where=(place[0], place[1], place[2]) if known else None,
        limit=limit,
        overrule=overrule_for(case, usual, haul.section, haul.stage),
        value=worst.value,
        why=f"{usual.name}: {why}",
        remedy=_stronger(case, haul, worst, limit.value) if short else (),
    )


def _rope(case: Case, haul: Haul, line: int) -> str:
    coil = line_coils(case.plan, haul.lift)[line]
    kept = coil.breaking_force * coil.derating / 1e3
    return (
        f"coil {coil.tag} in tackle {haul.lift.lines[line].tackle} "
        f"({coil.diameter * 1e3:.0f} mm {coil.material}) keeps {coil.derating:.0%} of "
        f"{coil.breaking_force / 1e3:.0f} kN, {kept:.1f} kN ({coil.source})"
    )


def _on_top(haul: Haul, path: RopePath) -> str:
    mass = path.over / haul.lift.worst_corner / (1 + haul.lift.friction)
    return (
        f"worst corner {haul.lift.worst_corner:g}, guide friction {haul.lift.friction:.0%} and "
        f"mass {mass:.3g} on top"
    )


def _stronger(case: Case, haul: Haul, worst: _Worst, asked: float) -> tuple[str, ...]:
    coil = line_coils(case.plan, haul.lift)[worst.line]
    if not worst.value:
        return ("two tackles a corner, on capstans of their own", "guides that keep it upright")
    wanted = coil.breaking_force * asked / worst.value
    rove = {line.coil for each in case.plan.lifts for line in each.lines}
    spare = [
        each
        for each in case.plan.coils
        if each.tag not in rove
        and each.length >= coil.length
        and each.breaking_force * each.derating >= wanted * coil.derating
    ]
    cures = [f"rove coil {each.tag} in its place" for each in spare[:1]]
    cures.append(f"rope of at least {wanted / 1e3:.0f} kN breaking force, derated alike")
    parts = haul.pattern.parts
    return (*cures, f"more than {parts} parts, or a second tackle beside it")


def _fall(case: Case, haul: Haul, loads: list[Loads]) -> Finding:
    worst = _worst(case, haul, loads, [each.hauling * each.path.fall for each in loads])
    path = worst.load.path
    pull = worst.of(worst.load.hauling) * path.fall / 1e3
    why = (
        f"{pull:.2f} kN in the fall where it leaves the tackle, from "
        f"{worst.of(worst.load.curve.tensions) / 1e3:.1f} kN on the tackle with "
        f"{_on_top(haul, path)}; {_rope(case, haul, worst.line)}"
    )
    return _finding(case, haul, FALL, worst, why)


def _barrel(case: Case, haul: Haul, loads: list[Loads]) -> Finding:
    worst = _worst(case, haul, loads, [each.hauling * each.path.barrel for each in loads])
    pull = worst.of(worst.load.hauling) * worst.load.path.barrel / 1e3
    why = (
        f"{pull:.2f} kN where it comes onto the barrel, {haul.pattern.leads} lead blocks after "
        f"the fall; {_rope(case, haul, worst.line)}"
    )
    return _finding(case, haul, BARREL, worst, why)


def _snatch(case: Case, haul: Haul, loads: list[Loads]) -> Finding:
    pulls = [each.hauling * each.path.fall * each.snatch for each in loads]
    worst = _worst(case, haul, loads, pulls)
    load, factor = worst.load, worst.of(worst.load.snatch)
    stretch = worst.of(load.curve.stretch) * load.path.over
    drop = float(load.drop[worst.line])
    why = "no stretch is known"
    if stretch > 0 and np.isfinite(factor):
        slack = snatch_slack(drop, stretch)
        if_slack = (worst.value or 0.0) * factor / slack
        why = (
            f"run back by one pawl stop the load drops {drop * 1e3:.0f} mm on ropes stretched "
            f"{stretch * 1e3:.0f} mm and pulls {factor:.2f} times; the rope must be tight: "
            f"falling on a slack one it pulls {slack:.2f} times, never under 2, factor "
            f"{if_slack:.1f}; {_rope(case, haul, worst.line)}"
        )
    finding = _finding(case, haul, SNATCH, worst, why)
    return (
        replace(finding, remedy=("more pawl stops a turn", *finding.remedy)[:3])
        if (finding.remedy)
        else finding
    )


def _losses(case: Case, haul: Haul, loads: list[Loads]) -> Iterator[Finding]:
    for usual, values in (
        (LOST, [each.lost for each in loads]),
        (SUDDENLY, [each.lost_suddenly for each in loads]),
    ):
        pulls = [
            np.where(np.isnan(load.curve.tensions), np.nan, value) * load.path.over
            * load.path.fall
            for load, value in zip(loads, values, strict=True)
        ]  # fmt: skip
        worst = _worst(case, haul, loads, pulls)
        which = next(n for n, each in enumerate(loads) if each is worst.load)
        yield _finding(
            case, haul, usual, worst, _loss_in_words(case, haul, worst, values[which])
        )
    if haul.lift.guided:
        yield _corner(case, haul, loads)


def _loss_in_words(case: Case, haul: Haul, worst: _Worst, values: Floats) -> str:
    curve = worst.load.curve
    tackle = curve.lines[worst.line]
    if not np.isfinite(worst.of(values)):
        lost = curve.lines[int(curve.lost_line[worst.sample])]
        who = named(curve.hauled)
        if np.isfinite(curve.lost_tensions[worst.sample]).all():
            return (
                f"{who} topples if tackle {lost} is lost suddenly: at rest the other ropes "
                "would hold it, but it swings so far that they go slack"
            )
        return f"{who} topples if tackle {lost} is lost: no rope holds it"
    times = worst.of(values) * len(curve.lines) / float(curve.weight[worst.sample])
    held = "kept upright by its shoes" if haul.lift.guided else "hanging free"
    return (
        f"{named(curve.hauled)} {held}: tackle {tackle} takes {worst.of(values) / 1e3:.1f} kN, "
        f"{times:.2f} times the mean load, and {_on_top(haul, worst.load.path)}; "
        f"{_rope(case, haul, worst.line)}"
    )


def _corner(case: Case, haul: Haul, loads: list[Loads]) -> Finding:
    # Statics of a rigid square: the neighbours of the lost corner take half the weight each,
    # and the one across goes slack. Shoes only make it milder.
    points = [line.lift_point for line in haul.lift.lines]
    shared = np.array([points.count(point) for point in points], dtype=float)
    pulls = [
        (each.curve.weight[:, None] / 2 / shared)
        * np.where(np.isnan(each.curve.tensions), np.nan, 1.0)
        * each.path.over
        * each.path.fall
        for each in loads
    ]
    worst = _worst(case, haul, loads, pulls)
    each = float(worst.load.curve.weight[worst.sample]) / 2e3
    why = (
        f"with every tackle of one corner lost, its two neighbours carry {each:.1f} kN each "
        f"and the corner across goes slack, {_on_top(haul, worst.load.path)}; "
        f"{_rope(case, haul, worst.line)}"
    )
    return _finding(case, haul, CORNER, worst, why)


def _diameters(case: Case, haul: Haul) -> Iterator[Finding]:
    coils = line_coils(case.plan, haul.lift)
    thickest = max(coils, key=lambda coil: coil.diameter)
    barrels = {each.mark: each.barrel_diameter for each in case.plan.capstans}
    ratios = [
        (barrels[line.capstan] / coil.diameter, line.capstan, coil)
        for line, coil in zip(haul.lift.lines, coils, strict=True)
    ]
    ratio, mark, coil = min(ratios, key=lambda each: each[0])
    sheave = haul.pattern.sheave
    for usual, value, why, tight in (
        (
            SHEAVE,
            None if sheave is None else sheave / thickest.diameter,
            f"the plan gives no diameter of the sheaves of {haul.pattern.name}"
            if sheave is None
            else f"sheaves of {sheave * 1e3:.0f} mm, rope {thickest.tag} of "
            f"{thickest.diameter * 1e3:.0f} mm",
            "larger sheaves, or thinner and stronger rope",
        ),
        (
            DRUM,
            ratio,
            f"barrel of capstan {mark} is {barrels[mark] * 1e3:.0f} mm, rope {coil.tag} "
            f"{coil.diameter * 1e3:.0f} mm",
            "whelps on the barrel, or thinner and stronger rope",
        ),
    ):
        limit = limit_for(case, usual)
        yield Finding(
            check=CHECK,
            subject=haul.section,
            stage=haul.stage,
            heel=None,
            where=None,
            limit=limit,
            overrule=overrule_for(case, usual, haul.section, haul.stage),
            value=value,
            why=f"{usual.name}: {why}",
            remedy=(tight,) if value is not None and value < limit.value else (),
        )
