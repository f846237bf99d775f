"""The highest gust that each joint of the tower survives, and what governs it."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf, nan

import numpy as np

from towerlift.mechanics.overturning import (
    SidePair,
    overturning_pressure,
    uplift_pressure,
)
from towerlift.mechanics.wind import gust_of
from towerlift.motion.passages import Passage
from towerlift.nesting.margins import Margin
from towerlift.plan.bodies import Section
from towerlift.plan.model import Plan
from towerlift.rig.curves import Floats, HangCurve
from towerlift.rig.pulls import line_coils, rope_path
from towerlift.rig.states import Joint, Sides

# Wedges are driven in pairs so long at the foot and at the head of what is buried. [m]
WEDGES = 0.3
# Legs on a face, each with its wedges.
LEGS = 2
# A gust beyond this is told as this: no wind on a site comes near it. [m/s]
LARGEST = 99.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a state must keep in hand.

    Attributes
    ----------
    overturning : float
        Moment that holds over moment that overturns.
    rope : float
        Rope factor in a gust.
    offset : float
        Distance of the weight from the middle that is reckoned with. [m]
    """

    overturning: float
    rope: float
    offset: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Survived:
    """One limit of one joint, and the gust that reaches it.

    Attributes
    ----------
    limit : str
        Name of what gives out.
    gust : float
        Told at the wall head; infinite where no wind reaches it. [m/s]
    towards : float
        Way the wind blows then, anticlockwise from east; not a number where any will
        do. [rad]
    why : str
        Forces behind it.
    """

    limit: str
    gust: float
    towards: float
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Hung:
    """Lines of a joint on tackles, at one height.

    Attributes
    ----------
    curve : HangCurve
        Loads along the passage.
    row : int
        Sample.
    mass_factor : float
        Mass to be reckoned with over the mass reckoned, for ropes.
    """

    curve: HangCurve
    row: int
    mass_factor: float


def curve_of(hangs: Iterable[HangCurve], passage: Passage, section: str) -> HangCurve | None:
    """Loads of a section that hangs in a lift, whether it moves or not.

    Parameters
    ----------
    hangs : iterable of HangCurve
        Of the raise.
    passage : Passage
        During which it hangs.
    section : str
        Which.

    Returns
    -------
    curve : HangCurve or None
        Of the nearest haul before or at the passage.
    """
    lift = passage.standing[section].carrier
    curves = [
        each
        for each in hangs
        if each.lift == lift and each.hauled[0] == section and each.passage <= passage.index
    ]
    return curves[-1] if curves else None


def _survived(limit: str, pressure: float, towards: float, why: str) -> Survived:
    gust = gust_of(pressure) if np.isfinite(pressure) else inf
    return Survived(limit=limit, gust=gust, towards=towards, why=why)


def standing_gusts(joint: Joint, asked: Asked) -> tuple[Survived, ...]:
    """Gusts at which a section that stands unwedged overturns, or leaves a support.

    Parameters
    ----------
    joint : Joint
        On the ground, needles, pendants or a ledge.
    asked : Asked
        What must be kept in hand.

    Returns
    -------
    survived : tuple of Survived
        Overturning about any edge of the supports, and the first support without load.
    """
    stand, push = joint.stand, joint.push
    pressure, way = overturning_pressure(stand, push, asked.overturning)
    lifts, corner = uplift_pressure(stand, push)
    reach = float(np.abs(stand.supports - stand.supports.mean(axis=0)).max())
    on = "pendants" if joint.kind == "pendant" else "supports"
    return (
        _survived(
            "overturning",
            pressure,
            float(push.directions[way]),
            f"{stand.weight / 1e3:.0f} kN on {on} {reach:.2f} m from the axis, factor "
            f"{asked.overturning:g}",
        ),
        _survived(
            "a chain goes slack" if joint.kind == "pendant" else "a support lifts",
            lifts,
            float(push.directions[corner]),
            f"{stand.weight / 1e3:.0f} kN on {len(stand.supports)} {on} of one stiffness",
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SideHold:
    """Two levels that hold a section sideways along one axis, and what each bears.

    Attributes
    ----------
    name : str
        "shoes" or "wedges".
    pair : SidePair
        The two levels above the heel.
    n_upper, n_lower : int
        Shoes or wedges at either.
    rating : float
        Of one of them. [N]
    """

    name: str
    pair: SidePair
    n_upper: int
    n_lower: int
    rating: float


def shoe_hold(sides: Sides, rating: float) -> SideHold:
    """Shoes as they bear along one axis.

    Parameters
    ----------
    sides : Sides
        Where they bear.
    rating : float
        Of one shoe. [N]

    Returns
    -------
    hold : SideHold
        Both levels.
    """
    return SideHold(
        name="shoes",
        pair=SidePair(foot=sides.foot, spacing=sides.spacing),
        n_upper=sides.n_upper,
        n_lower=sides.n_lower,
        rating=rating,
    )


def wedge_hold(bury: float, rating: float) -> SideHold | None:
    """Wedges at the foot and at the head of what is buried.

    Parameters
    ----------
    bury : float
        Length buried. [m]
    rating : float
        Of the wedges of one leg on one face. [N]

    Returns
    -------
    hold : SideHold or None
        None where there is no room for two pairs of wedges.
    """
    if not bury > 2 * WEDGES:
        return None
    return SideHold(
        name="wedges",
        pair=SidePair(foot=WEDGES / 2, spacing=bury - WEDGES),
        n_upper=LEGS,
        n_lower=LEGS,
        rating=rating,
    )


def side_gust(joint: Joint, hold: SideHold, axis: int, offset: float) -> Survived:
    """Gust at which shoes or wedges along one axis reach their rating.

    Parameters
    ----------
    joint : Joint
        Section and wind.
    hold : SideHold
        What holds it.
    axis : int
        0 along x, 1 along y.
    offset : float
        Distance of the weight from the middle. [m]

    Returns
    -------
    survived : Survived
        0 where the offset alone is too much.
    """
    share = np.abs(joint.push.along @ joint.axes[axis])
    spacing = hold.pair.spacing
    about_foot = joint.push.moment - joint.push.force * hold.pair.foot
    twist = joint.stand.weight * offset / spacing
    upper = np.abs(about_foot) / spacing * share
    lower = np.abs(about_foot / spacing - joint.push.force) * share
    left = np.array([hold.n_upper, hold.n_lower]) * hold.rating - twist
    with np.errstate(divide="ignore"):
        limits = np.where(
            np.stack([upper, lower]) > 0,
            np.maximum(left, 0.0)[:, None] / np.stack([upper, lower]),
            np.where(left >= 0, np.inf, 0.0)[:, None],
        )
    level, way = (int(n) for n in np.unravel_index(int(limits.argmin()), limits.shape))
    n = (hold.n_upper, hold.n_lower)[level]
    return _survived(
        hold.name,
        float(limits[level, way]),
        float(joint.push.directions[way]),
        f"{('upper', 'lower')[level]} {hold.name}, {n} of {hold.rating / 1e3:.0f} kN, "
        f"{spacing:.2f} m apart, {twist / 1e3:.1f} kN of it for a weight {offset * 1e3:.0f} mm "
        "out",
    )


def rope_gusts(plan: Plan, joint: Joint, hung: Hung, asked: Asked) -> tuple[Survived, ...]:
    """Gusts at which a rope goes slack or takes too much while a section hangs.

    Parameters
    ----------
    plan : Plan
        Coils and capstans.
    joint : Joint
        On tackles.
    hung : Hung
        Its lines.
    asked : Asked
        Rope factor.

    Returns
    -------
    survived : tuple of Survived
        Both; 0 where it does not rest.

    Notes
    -----
    Wind leans the section by its moment about the lift points over what the lines have
    beyond toppling. Shoes end the lean where they have taken up their play; what they
    leave of it to the ropes is reckoned as if they were free up to there.
    """
    curve, row = hung.curve, hung.row
    names = ("a rope goes slack", "a rope is overloaded")
    stiff = float(curve.tilt_stiffness[row] - curve.weight[row] * curve.height[row])
    if not (curve.rests[row] and stiff > 0):
        return tuple(
            _survived(name, 0.0, 0.0, "it finds no rest on its lines") for name in names
        )
    tension = curve.tensions[row]
    rate = tension / curve.stretch[row]
    lower = curve.lower[row]
    arms = (lower - lower.mean(axis=0))[:, :2]
    above = float(lower[:, 2].mean()) - joint.heel
    lean = np.maximum(joint.push.moment - joint.push.force * above, 0.0) / stiff
    change = rate[None] * (joint.push.along @ arms.T)
    ends = np.inf
    if all(joint.sides):
        ends = max(2 * side.play / side.spacing for side in joint.sides if side is not None)
    lift = next(each for each in plan.lifts if each.name == curve.lift)
    pattern = next(each for each in plan.tackles if each.name == lift.pattern)
    path = rope_path(lift, pattern, hung.mass_factor)
    coils = line_coils(plan, lift)
    kept = np.array([coil.breaking_force * coil.derating for coil in coils])
    room = kept / asked.rope / (path.over * path.fall)
    return (
        _lean_gust(names[0], (lean, -change), tension, ends, joint),
        _lean_gust(names[1], (lean, change), room - tension, ends, joint),
    )


def _lean_gust(
    name: str, leaning: tuple[Floats, Floats], left: Floats, ends: float, joint: Joint
) -> Survived:
    lean, change = leaning
    if not left.min() > 0:
        return _survived(name, 0.0, 0.0, "without wind already")
    with np.errstate(divide="ignore", invalid="ignore"):
        angle = np.where(change > 0, left / np.maximum(change, 1e-300), np.inf).min(axis=1)
        # A lean that shoes end before the rope is slack does no harm.
        pressure = np.where((lean > 0) & (angle < ends), angle / lean, np.inf)
    way = int(pressure.argmin())
    return _survived(
        name,
        float(pressure[way]),
        float(joint.push.directions[way]),
        f"leaning {float(angle[way]) * 1e3:.1f} mrad"
        if np.isfinite(angle[way])
        else "no line is unloaded by a lean",
    )


def clearance_gust(margins: Iterable[Margin], gust: float) -> Survived:
    """Gust at which a section that hangs free has used up what its gaps leave for sway.

    Parameters
    ----------
    margins : iterable of Margin
        Gaps and their budgets, reckoned at `gust`, of the haul at whose height it hangs.
    gust : float
        Gust for which the budgets hold. [m/s]

    Returns
    -------
    survived : Survived
        Sway and lean grow with the square of the gust; all else of a budget does not.
    """
    least, why = inf, "it passes nothing that sway counts for"
    for margin in margins:
        if margin.budget is None or margin.spare is None:
            continue
        if margin.budget.sway > 0:
            room = max(0.0, margin.budget.sway + margin.spare) / margin.budget.sway
            if gust * room**0.5 < least:
                least = gust * room**0.5
                why = (
                    f"{margin.label.mark} to {margin.opposite.mark} of the {margin.against}, "
                    f"{margin.budget.sway * 1e3:.0f} mm of sway at {gust:g} m/s and "
                    f"{margin.spare * 1e3:.0f} mm to spare"
                )
    return Survived(limit="clearance", gust=least, towards=nan, why=why)


def bury_of(
    joint: Joint, sections: dict[str, Section], heels: dict[str, float], wall: float
) -> float:
    """Length of a section that stands within what is round it.

    Parameters
    ----------
    joint : Joint
        Section and carrier.
    sections : dict of str to Section
        By name.
    heels : dict of str to float
        Heel heights, shaft frame. [m]
    wall : float
        Height of the wall head. [m]

    Returns
    -------
    bury : float
        In the section that carries it, else in the shaft; never negative. [m]
    """
    head = joint.heel + sections[joint.section].length
    round_it = wall
    if joint.carrier in heels:
        round_it = heels[joint.carrier] + sections[joint.carrier].length
    return max(0.0, min(head, round_it) - joint.heel)
