"""How long a haul takes: capstans, tackle parts and the checks of level."""

from towerlift.mechanics.capstan import CapstanGear, rope_speed
from towerlift.plan.model import Plan
from towerlift.plan.rigging import Lift, Line


def haul_speed(plan: Plan, lift: Lift) -> float:
    """Speed at which a lift raises its section between checks.

    Parameters
    ----------
    plan : Plan
        Holds the capstans, coils and tackles.
    lift : Lift
        Its slowest line sets the pace, since all corners are kept level.

    Returns
    -------
    speed : float
        Rope speed over the parts at the moving block. [m/s]

    Raises
    ------
    ValueError
        If the lift names a tackle, coil or capstan that the plan does not hold.
    """
    parts = {tackle.name: tackle.parts for tackle in plan.tackles}.get(lift.pattern)
    if parts is None:
        raise ValueError(f'lift "{lift.name}": no tackle pattern "{lift.pattern}"')
    return min(_line_speed(plan, line) for line in lift.lines) / parts


def _line_speed(plan: Plan, line: Line) -> float:
    capstan = next((each for each in plan.capstans if each.mark == line.capstan), None)
    coil = next((each for each in plan.coils if each.tag == line.coil), None)
    if capstan is None or coil is None:
        raise ValueError(
            f'tackle "{line.tackle}": no capstan "{line.capstan}" or no coil "{line.coil}"'
        )
    gear = CapstanGear(
        barrel_radius=capstan.barrel_diameter / 2,
        rope_diameter=coil.diameter,
        bar_radius=capstan.bar_radius,
    )
    return rope_speed(gear, capstan.walk)


def haul_duration(travel: float, speed: float, lift: Lift) -> float:
    """Time to haul a section through a travel, with the checks of level on the way.

    Parameters
    ----------
    travel : float
        Height gained or lost; its sign does not matter. [m]
    speed : float
        Between checks. [m/s]
    lift : Lift
        Gives the haul between two checks and the time of a check.

    Returns
    -------
    duration : float
        Checks are spread evenly, so that a part of a step takes its share of one. [s]
    """
    return abs(travel) / speed + abs(travel) / lift.step * lift.check_time
