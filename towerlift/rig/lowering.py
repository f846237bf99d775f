"""A haul let down again: what each rope carries at the barrel, and how it is held."""

from dataclasses import dataclass
from math import floor

import numpy as np

from towerlift.mechanics.lowering import barrel_hold, most_turns_that_surge, tail_to_hold
from towerlift.motion.pace import haul_duration, haul_speed
from towerlift.plan.model import Plan
from towerlift.plan.rigging import Lift
from towerlift.rig.curves import Floats, HangCurve
from towerlift.rig.pulls import line_coils, rope_path

# Rope on barrel: least, for what is to hold, and most, for what is to slide.
WET, DRY = 0.2, 0.3
# Rope between the barrel and the hands that feed it: its weight is the least pull on it. [m]
TAIL_LENGTH = 1.0
# The rope leaves the barrel at one side or across from it.
HALF_TURN = 0.5
# Nylon and polyester rope of a diameter d weighs so many times d squared. [kg/m^3]
ROPE_DENSITY = 700.0
GRAVITY = 9.80665


@dataclass(frozen=True, slots=True, kw_only=True)
class LettingDown:
    """One passage let down, line by line.

    Attributes
    ----------
    curve : HangCurve
        Loads at rest.
    most, least : (k, n) float
        Pull at the barrel with worst corner and mass on top and the friction of the
        shoes left out, and with the share that is left going down. [N]
    hauling : (k, n) float
        Pull at the barrel hauling, with the same on top. [N]
    turns : float
        Turns, to the half, with which the least pull still surges; one at least.
    tail : float
        Pull of the tailer that holds the most pull with them. [N]
    """

    curve: HangCurve
    most: Floats
    least: Floats
    hauling: Floats
    turns: float
    tail: float


def letting_down(
    plan: Plan, curve: HangCurve, mass_factor: float, carried: float
) -> LettingDown:
    """Pulls of one passage let down, and how a tailer holds them.

    Parameters
    ----------
    plan : Plan
        Lift, blocks and ropes.
    curve : HangCurve
        Loads at rest; at some height it must rest.
    mass_factor : float
        Mass to be reckoned with over the mass reckoned.
    carried : float
        Share of the weight that the ropes carry going down, at the least.

    Returns
    -------
    letting_down : LettingDown
        With the turns that surge at every height.
    """
    lift = next(each for each in plan.lifts if each.name == curve.lift)
    pattern = next(each for each in plan.tackles if each.name == lift.pattern)
    path = rope_path(lift, pattern, mass_factor)

    def hold(load: Floats) -> Floats:
        return barrel_hold(load, pattern.parts, pattern.sheave_ratio, pattern.leads)

    most = hold(curve.tensions * lift.worst_corner * mass_factor)
    least = hold(curve.tensions / lift.worst_corner * carried)
    slackest, tautest = float(np.nanmin(least)), float(np.nanmax(most))
    thickest = max(coil.diameter for coil in line_coils(plan, lift))
    hanging = TAIL_LENGTH * ROPE_DENSITY * thickest**2 * GRAVITY
    turns = 1.0
    if slackest > 0:
        most_turns = most_turns_that_surge(slackest, hanging, friction=DRY)
        turns = max(1.0, HALF_TURN * floor(most_turns / HALF_TURN))
    return LettingDown(
        curve=curve,
        most=most,
        least=least,
        hauling=curve.tensions * path.over * path.barrel,
        turns=turns,
        tail=tail_to_hold(tautest, turns, friction=WET),
    )


def lowering_speed(plan: Plan, lift: Lift, share: float) -> float:
    """Speed at which a lift lets its section down between checks.

    Parameters
    ----------
    plan : Plan
        Capstans, coils and tackles.
    lift : Lift
        May say the speed itself.
    share : float
        Of the hauling speed, where it does not.

    Returns
    -------
    speed : float
        Never above the hauling speed. [m/s]
    """
    up = haul_speed(plan, lift)
    return min(up, up * share if lift.lowering_speed is None else lift.lowering_speed)


def lowering_duration(plan: Plan, lift: Lift, travel: float, share: float) -> float:
    """Time to let a section down through a travel, checks of level and all.

    Parameters
    ----------
    plan : Plan
        Capstans, coils and tackles.
    lift : Lift
        Which.
    travel : float
        [m]
    share : float
        Of the hauling speed, where the lift does not say its speed.

    Returns
    -------
    duration : float
        [s]
    """
    return haul_duration(travel, lowering_speed(plan, lift, share), lift)
