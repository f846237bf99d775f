"""Centre of gravity of all that hangs against the points that lift it.

A section lifted below its centre of gravity stands on its ropes only while their
tilting stiffness beats its own weight's wish to topple: the stability ratio says by
how much, at every height, whole and with any one line lost.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from towerlift.checks.case import Case, limit_for, overrule_for
from towerlift.checks.hauls import Haul, Unreckoned, hauls, named, not_reckoned
from towerlift.findings import Bound, Finding
from towerlift.mechanics.capstan import CapstanGear, level_time, rope_speed
from towerlift.mechanics.polygon import margin_inside
from towerlift.motion.masses import moving_mass
from towerlift.plan.limits import UsualLimit
from towerlift.rig.curves import Floats, HangCurve
from towerlift.units import Dimension

CHECK = "centre of gravity"
# A ratio without bound, or above this, is shown as this.
LARGEST_RATIO = 99.0
# Remedies below these are not worth a rigger's time.
ODD_ROPE = 0.05
WORTH_MOVING = 0.005

UNGUIDED = UsualLimit(
    name="stability ratio unguided",
    value=2.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice hanging free, no published source; below 1 it topples by statics",
)
GUIDED = UsualLimit(
    name="stability ratio guided",
    value=1.5,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice on shoes, no published source; below 1 it topples by statics",
)
ONE_LOST = UsualLimit(
    name="stability with one line lost",
    value=1.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="statics: below 1 it topples; 0 is written where it finds no rest",
)
CORNER_SHARE = UsualLimit(
    name="corner share",
    value=15.0,
    unit="%",
    bound=Bound.AT_MOST,
    dimension=Dimension.SHARE,
    source="common practice for a float test: each corner within 15 % of the mean",
)
INSIDE = UsualLimit(
    name="centre inside lift points",
    value=0.0,
    unit="m",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="statics: ropes pull and do not push",
)
LIMITS = (UNGUIDED, GUIDED, ONE_LOST, CORNER_SHARE, INSIDE)


def check_centre_of_gravity(case: Case) -> Iterable[Finding]:
    """Stability, corner shares and place of the centre of gravity of every haul.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        For each section, lift and stage, each limit at its worst height.
    """
    for haul in hauls(case):
        if isinstance(haul, Unreckoned):
            yield not_reckoned(case, CHECK, UNGUIDED, haul)
            continue
        yield _stability(case, haul)
        if not haul.lift.guided:
            yield _one_lost(case, haul)
        yield _shares(case, haul)
        yield _inside(case, haul)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Worst:
    curve: HangCurve
    sample: int

    @property
    def toppling(self) -> float:
        return float(self.curve.weight[self.sample] * self.curve.height[self.sample])

    @property
    def height(self) -> float:
        return float(self.curve.height[self.sample])

    @property
    def heel(self) -> float:
        return float(self.curve.heels[self.sample])

    def centre(self, case: Case) -> Floats:
        pose = case.raise_.shaft_from_section(self.heel)
        return np.asarray((pose @ np.append(self.curve.centre[self.sample], 1.0))[:3])


def _at_worst(haul: Haul, values: list[Floats]) -> _Worst:
    which, sample = haul.worst(values)
    return _Worst(curve=haul.curves[which], sample=sample)


def _finding(
    case: Case, haul: Haul, usual: UsualLimit, worst: _Worst, *, said: "_Said"
) -> Finding:
    x, y, z = worst.centre(case).tolist()
    return Finding(
        check=CHECK,
        subject=haul.section,
        stage=haul.stage,
        heel=worst.heel,
        where=(x, y, z),
        limit=limit_for(case, usual),
        overrule=overrule_for(case, usual, haul.section, haul.stage),
        value=said.value,
        why=f"{usual.name}: {said.why}",
        remedy=said.remedy,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    value: float | None
    why: str
    remedy: tuple[str, ...] = ()


def _stability(case: Case, haul: Haul) -> Finding:
    usual = GUIDED if haul.lift.guided else UNGUIDED
    worst = _at_worst(haul, [each.ratio for each in haul.curves])
    curve, sample = worst.curve, worst.sample
    value = min(float(curve.ratio[sample]), LARGEST_RATIO)
    short = value < limit_for(case, usual).value
    why = f"{named(curve.hauled)}: {_stiffness_in_words(case, haul, worst)}"
    heavier = moving_mass(case.shapes, case.raise_.passages[curve.passage]).tolerance
    if 0 < value < LARGEST_RATIO and heavier > 0:
        why = f"{why}; {value / (1 + heavier):.2f} if it weighs {heavier * 100:.2g} % more"
    remedy = _stiffen(case, haul, worst, usual) if short else ()
    return _finding(case, haul, usual, worst, said=_Said(value=value, why=why, remedy=remedy))


def _stiffness_in_words(case: Case, haul: Haul, worst: _Worst) -> str:
    curve, sample = worst.curve, worst.sample
    if not worst.height > 0:
        return (
            f"the centre of gravity hangs {-worst.height:.2f} m below the lift points "
            "and cannot topple"
        )
    stiffness = float(curve.tilt_stiffness[sample])
    sums = (
        f"ropes resist tilt with {stiffness / 1e3:.0f} kN m/rad, the weight of "
        f"{curve.weight[sample] / 1e3:.1f} kN with its centre {worst.height:.2f} m above "
        f"the lift points topples with {worst.toppling / 1e3:.0f}"
    )
    if haul.lift.paced == "feel":
        return (
            "crews push by feel, so that the ropes resist no tilt while hauling; "
            f"{_lost_level(case, haul, worst)}; held on their pawls {sums}"
        )
    if haul.lift.equalised == "all":
        return f"the falls share one tension through an equaliser: {sums}"
    if haul.lift.equalised == "one side":
        return f"one side shares its tension through an equaliser: {sums}"
    if not curve.rests[sample]:
        return f"it finds no rest near true on its lines: {sums}"
    return sums


def _lost_level(case: Case, haul: Haul, worst: _Worst) -> str:
    """How soon crews that push by feel lose level."""
    ratio = float(worst.curve.tilt_stiffness[worst.sample]) / worst.toppling
    if not ratio > 1:
        return "level is lost at once"
    line = haul.lift.lines[0]
    capstan = next(each for each in case.plan.capstans if each.mark == line.capstan)
    coil = next(each for each in case.plan.coils if each.tag == line.coil)
    gear = CapstanGear(
        barrel_radius=capstan.barrel_diameter / 2,
        rope_diameter=coil.diameter,
        bar_radius=capstan.bar_radius,
    )
    speed = rope_speed(gear, capstan.walk) / haul.pattern.parts
    seconds = level_time(worst.curve.spacing, worst.height, speed, ratio=ratio)
    return f"an error of level grows e-fold in about {seconds:.0f} s"


def _stiffen(case: Case, haul: Haul, worst: _Worst, usual: UsualLimit) -> tuple[str, ...]:
    wanted = limit_for(case, usual).value
    remedies = []
    if haul.lift.paced == "feel":
        remedies.append("pace the crews by pawl count, so that the ropes are held")
    if haul.lift.equalised != "none":
        remedies.append("take the equaliser out: each fall to a capstan of its own")
    if remedies:
        return tuple(remedies)
    remedies += _odd_ropes(case, haul)
    stiffness = float(worst.curve.tilt_stiffness[worst.sample])
    height = stiffness / (wanted * float(worst.curve.weight[worst.sample]))
    if height > 0:
        remedies.append(
            f"lift it {worst.height - height:.2f} m farther up, no more than {height:.2f} m "
            "below its centre of gravity"
        )
        share = wanted * worst.toppling / stiffness - 1
        remedies.append(f"stiffen the tackles by {share:.0%}: stiffer rope, or more parts")
    else:
        remedies.append("lift it above its centre of gravity")
    if not haul.lift.guided:
        remedies.append("run it on guides that hold it from tilting")
    return tuple(remedies)


def _one_lost(case: Case, haul: Haul) -> Finding:
    worst = _at_worst(haul, [each.lost_ratio for each in haul.curves])
    curve, sample = worst.curve, worst.sample
    value = min(float(curve.lost_ratio[sample]), LARGEST_RATIO)
    lost = curve.lines[int(curve.lost_line[sample])]
    overload = float(curve.lost_tension[sample])
    stands = value >= limit_for(case, ONE_LOST).value
    if value > 0:
        mean = float(curve.weight[sample]) / len(curve.lines)
        why = (
            f"{named(curve.hauled)} after the loss of tackle {lost}: at rest the fullest "
            f"tackle carries {overload / 1e3:.1f} kN, {overload / mean:.2f} times the mean; "
            "a sudden loss gives more"
        )
    else:
        why = f"{named(curve.hauled)} topples if tackle {lost} is lost"
    corners = len({line.lift_point for line in haul.lift.lines})
    paired = len(haul.lift.lines) >= 2 * corners
    remedy = (
        *([] if paired else ["two tackles a corner, on capstans of their own"]),
        *_odd_ropes(case, haul),
        "run it on guides that hold it from tilting",
        *(["stiffer rope, or higher lift points"] if paired else []),
    )
    said = _Said(value=value, why=why, remedy=() if stands else remedy)
    return _finding(case, haul, ONE_LOST, worst, said=said)


def _shares(case: Case, haul: Haul) -> Finding:
    points = [line.lift_point for line in haul.lift.lines]
    marks = list(dict.fromkeys(points))
    member = np.array([[point == mark for point in points] for mark in marks], dtype=float)
    away = [_away(each.tensions @ member.T) for each in haul.curves]
    worst = _at_worst(haul, [-np.abs(each).max(axis=1) for each in away])
    curve, sample = worst.curve, worst.sample
    corners = curve.tensions[sample] @ member.T
    if not np.all(np.isfinite(corners)):
        why = f"{named(curve.hauled)} finds no rest near true, so that no corner has a load"
        return _finding(case, haul, CORNER_SHARE, worst, said=_Said(value=None, why=why))
    listed = ", ".join(
        f"{mark} {load / 1e3:.1f} kN" for mark, load in zip(marks, corners, strict=True)
    )
    # Rounded so that a share that is exactly on the limit is not thrown over it.
    value = round(float(np.abs(_away(corners[None])).max()) * 100, 9)
    said = _Said(
        value=value,
        why=f"{named(curve.hauled)} at rest: {listed}",
        remedy=_even_out(case, haul, worst)
        if value > limit_for(case, CORNER_SHARE).value
        else (),
    )
    return _finding(case, haul, CORNER_SHARE, worst, said=said)


def _odd_ropes(case: Case, haul: Haul) -> list[str]:
    remedies = []
    coils = {coil.tag: coil for coil in case.plan.coils}
    rove = [coils[line.coil] for line in haul.lift.lines]
    usual = float(np.median([coil.axial_stiffness for coil in rove]))
    for coil in dict.fromkeys(rove):
        if abs(coil.axial_stiffness / usual - 1) > ODD_ROPE:
            remedies.append(
                f"take out coil {coil.tag} ({coil.diameter * 1000:.0f} mm {coil.material}, EA "
                f"{coil.axial_stiffness / 1e3:.0f} kN): the others have {usual / 1e3:.0f} kN"
            )
    return remedies


def _even_out(case: Case, haul: Haul, worst: _Worst) -> tuple[str, ...]:
    remedies = _odd_ropes(case, haul)
    centre = worst.centre(case)
    east, north = (centre - worst.curve.lower[worst.sample].mean(axis=0))[:2]
    if np.hypot(east, north) > WORTH_MOVING:
        remedies.append(
            f"move the lift points by ({east * 1000:.0f}, {north * 1000:.0f}) mm east and "
            "north, so that they centre on the load"
        )
    remedies.append("level by rod at each corner, never by turns of the capstan")
    return tuple(remedies)


def _away(corners: Floats) -> Floats:
    mean = corners.mean(axis=1, keepdims=True)
    return np.asarray(corners / mean - 1)


def _inside(case: Case, haul: Haul) -> Finding:
    margins = [_margins(case, each) for each in haul.curves]
    worst = _at_worst(haul, margins)
    curve = worst.curve
    value = float(margins[haul.worst(margins)[0]][worst.sample])
    if not np.isfinite(value):
        why = f"{haul.lift.name} has no lift points on the {haul.section}"
        return _finding(case, haul, INSIDE, worst, said=_Said(value=None, why=why))
    why = (
        f"{named(curve.hauled)}: the centre of gravity is {abs(value):.3f} m "
        f"{'inside' if value >= 0 else 'outside'} the lift points"
    )
    remedy = ("move the lift points round the centre of gravity",) if value < 0 else ()
    said = _Said(value=value, why=why, remedy=remedy)
    return _finding(case, haul, INSIDE, worst, said=said)


def _margins(case: Case, curve: HangCurve) -> Floats:
    # Load and lift points move as one along a passage.
    pose = case.raise_.shaft_from_section(float(curve.heels[0]))
    centre = (pose @ np.append(curve.centre[0], 1.0))[:2]
    if not np.all(np.isfinite(curve.lower[0])):
        return np.full(len(curve.heels), np.nan)
    return np.full(len(curve.heels), margin_inside(centre, curve.lower[0, :, :2]))
