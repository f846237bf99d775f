"""What each anchor of a lift has to hold, what the ground gives, and how far it is tested."""

from dataclasses import dataclass

import numpy as np

from towerlift.mechanics.anchors import deadman_pull, picket_pull
from towerlift.plan.holding import Anchor
from towerlift.plan.model import Plan
from towerlift.rig.leads import Lead

# Taken off what the ground gives by reckoning or table.
GROUND_FACTOR = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class AnchorUse:
    """One anchor in one lift.

    Attributes
    ----------
    what : str
        Capstan or lead block, in words.
    anchor : Anchor or None
        Row of the plan that holds it.
    working, burst : float
        Worst pull hauling, and if every hand gives all it can. [N]
    rise : float
        Angle of the pull above level. [rad]
    holds : float or None
        What the ground gives before it gives way; None where it is not reckoned. [N]
    where : tuple of float
        Place. [m]
    """

    what: str
    anchor: Anchor | None
    working: float
    burst: float
    rise: float
    holds: float | None
    where: tuple[float, float, float]


def ground_holds(anchor: Anchor) -> float | None:
    """Pull at which the ground before an anchor gives way.

    Parameters
    ----------
    anchor : Anchor
        As planned.

    Returns
    -------
    pull : float or None
        Earth pressure before a deadman, or the manual's value for pickets; None for
        masonry, which is held against its test alone. [N]
    """
    if anchor.kind == "pickets" and anchor.pickets is not None:
        return picket_pull(anchor.pickets)
    sizes = (anchor.length, anchor.depth, anchor.soil_density, anchor.friction_angle)
    if anchor.kind == "deadman" and None not in sizes:
        length, depth, density, angle = (float(each or 0.0) for each in sizes)
        return deadman_pull(length, depth, density, angle)
    return None


def anchor_uses(plan: Plan, leads: tuple[Lead, ...]) -> tuple[AnchorUse, ...]:
    """Every capstan and every lead block of the falls of one lift.

    Parameters
    ----------
    plan : Plan
        Holds the anchors.
    leads : tuple of Lead
        Falls at their hardest pull.

    Returns
    -------
    uses : tuple of AnchorUse
        Capstans by their pull at the barrel, blocks by the resultant of both parts.
    """
    found = []
    for lead in leads:
        mark = lead.capstan.mark
        anchor = _held(plan, "capstan", mark, None)
        found.append(
            AnchorUse(
                what=f"capstan {mark}",
                anchor=anchor,
                working=float(lead.pulls[-1]),
                burst=lead.burst,
                rise=lead.rise,
                holds=None if anchor is None else ground_holds(anchor),
                where=(float(lead.points[-1, 0]), float(lead.points[-1, 1]), 0.0),
            )
        )
        found += _blocks(plan, lead)
    return tuple(found)


def _blocks(plan: Plan, lead: Lead) -> list[AnchorUse]:
    found = []
    # A burst at the barrel comes back along the fall, less by each block's friction.
    burst = lead.burst / float(lead.pulls[-1])
    for n, load in enumerate(lead.blocks):
        anchor = _held(plan, "lead block", lead.capstan.mark, n + 1)
        size = float(np.linalg.norm(load))
        x, y, z = (float(each) for each in lead.points[n + 1])
        found.append(
            AnchorUse(
                what=f"lead block {n + 1} of {lead.line.tackle}",
                anchor=anchor,
                working=size,
                burst=size * max(1.0, burst),
                rise=float(np.arctan2(load[2], np.hypot(load[0], load[1]))),
                holds=None if anchor is None else ground_holds(anchor),
                where=(x, y, z),
            )
        )
    return found


def _held(plan: Plan, holds: str, capstan: str, block: int | None) -> Anchor | None:
    return next(
        (
            each
            for each in plan.anchors
            if each.holds == holds and capstan in each.capstans and each.block in (block, None)
        ),
        None,
    )
