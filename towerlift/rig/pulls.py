"""Pull along each rope of a lift: in its fall, at its barrel, and when it snatches."""

from dataclasses import dataclass
from math import pi

import numpy as np

from towerlift.mechanics.capstan import CapstanGear
from towerlift.mechanics.tackle import pull_after_leads, raising_advantage
from towerlift.plan.model import Plan
from towerlift.plan.rigging import Capstan, Coil, Lift, Line, Tackle
from towerlift.rig.curves import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class RopePath:
    """What one load on a tackle becomes on its way to the hands.

    Attributes
    ----------
    over : float
        Factor on the reckoned load: worst corner, guide friction and mass together.
    fall : float
        Pull in the fall where it leaves the tackle, for each newton of that load.
    barrel : float
        Pull at the barrel for each newton of that load.
    """

    over: float
    fall: float
    barrel: float


def rope_path(lift: Lift, pattern: Tackle, mass_factor: float) -> RopePath:
    """Factors from the load of a tackle to the pulls in its rope while hauling.

    Parameters
    ----------
    lift : Lift
        Gives worst corner and guide friction.
    pattern : Tackle
        Blocks and reeving.
    mass_factor : float
        Mass to be reckoned with over the mass reckoned.

    Returns
    -------
    path : RopePath
        The rope pulls hardest at the barrel: every lead block adds its friction.
    """
    fall = 1 / raising_advantage(pattern.parts, pattern.sheave_ratio)
    return RopePath(
        over=lift.worst_corner * (1 + lift.friction) * mass_factor,
        fall=fall,
        barrel=pull_after_leads(fall, pattern.leads, pattern.sheave_ratio),
    )


def line_coils(plan: Plan, lift: Lift) -> tuple[Coil, ...]:
    """Coil of each line of a lift, in order.

    Parameters
    ----------
    plan : Plan
        Its names have been checked.
    lift : Lift
        Which lines.

    Returns
    -------
    coils : tuple of Coil
        One for each line.
    """
    coils = {coil.tag: coil for coil in plan.coils}
    return tuple(coils[line.coil] for line in lift.lines)


def line_capstans(plan: Plan, lift: Lift) -> tuple[Capstan, ...]:
    """Capstan of each line of a lift, in order.

    Parameters
    ----------
    plan : Plan
        Its names have been checked.
    lift : Lift
        Which lines.

    Returns
    -------
    capstans : tuple of Capstan
        One for each line.
    """
    capstans = {capstan.mark: capstan for capstan in plan.capstans}
    return tuple(capstans[line.capstan] for line in lift.lines)


def capstan_gear(capstan: Capstan, coil: Coil) -> CapstanGear:
    """Radii of a capstan with a rope on it.

    Parameters
    ----------
    capstan : Capstan
        Barrel and bars.
    coil : Coil
        Rope.

    Returns
    -------
    gear : CapstanGear
        For the functions of capstans.
    """
    return CapstanGear(
        barrel_radius=capstan.barrel_diameter / 2,
        rope_diameter=coil.diameter,
        bar_radius=capstan.bar_radius,
    )


def pawl_drop(plan: Plan, line: Line, parts: int) -> float:
    """Fall of the load when a capstan runs back to its next pawl stop.

    Parameters
    ----------
    plan : Plan
        Holds capstan and coil.
    line : Line
        Which.
    parts : int
        Parts of rope at the moving block.

    Returns
    -------
    drop : float
        [m]
    """
    capstan = next(each for each in plan.capstans if each.mark == line.capstan)
    coil = next(each for each in plan.coils if each.tag == line.coil)
    turn = 2 * pi * capstan_gear(capstan, coil).rope_radius
    return turn / capstan.pawl_stops / parts


def snatched(stretch: Floats, drop: Floats) -> Floats:
    r"""Greatest load over resting load when tight ropes are caught by their pawls.

    .. math:: \varphi = 1 + \sqrt{2 h / \delta}

    Parameters
    ----------
    stretch : (k, n) float
        Of each tackle under its resting load. [m]
    drop : (n,) float
        Fall of the load to the next pawl stop. [m]

    Returns
    -------
    factor : (k, n) float
        Infinite where there is no stretch.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(1 + np.sqrt(2 * drop / np.maximum(stretch, 0.0)))
