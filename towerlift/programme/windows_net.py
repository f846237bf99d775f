"""Nets under roofers: how far out they reach, how far down they hang, and the mesh in them.

Source: US 29 CFR 1926.502(c), nets; identical in WAC 296-880-40055.
"""

from collections.abc import Collection

from towerlift.motion.walk import heights
from towerlift.plan.bodies import Fixture

FOOT = 0.3048  # [m]
# Net no farther below than this: outer edge at least so far out from the work edge. [ft]
REACH_TABLE = ((5.0, 8.0), (10.0, 10.0), (30.0, 13.0))
NET_SOURCE = "US 29 CFR 1926.502(c)(1) and (2)"
# Fall of no more than this: catching width at least so much. Shown, and never decided by. [m]
_CATCHING = ((1.0, 2.0), (3.0, 2.5), (6.0, 3.0))
SECOND_HAND = "unverified: read second-hand, shown beside the limit and never in its place"
CATCHING_SOURCE = f"EN 1263-1 and -2, catching width by height of fall; {SECOND_HAND}"
PLATFORM_SOURCE = (
    "EN 12811-1, working platforms: load class 3 (2 kN/m²) for cladding, 4 to 5 for framing; "
    f"{SECOND_HAND}"
)


def net_reach_needed(below: float) -> float | None:
    """How far a net must reach out from the edge that is worked at.

    Parameters
    ----------
    below : float
        From the edge down to the net. [m]

    Returns
    -------
    reach : float or None
        None where a net so far below is not allowed, or is not below. [m]
    """
    if not below >= 0:
        return None
    for most, reach in REACH_TABLE:
        if below <= most * FOOT + 1e-9:
            return reach * FOOT
    return None


def catching_width_told(below: float) -> float | None:
    """Catching width by the European figures, for comparison alone.

    Parameters
    ----------
    below : float
        From the edge down to the net. [m]

    Returns
    -------
    width : float or None
        None where they give none. [m]

    Notes
    -----
    The standard itself has not been read: see `CATCHING_SOURCE`. What decides is
    `net_reach_needed`.
    """
    if not below >= 0:
        return None
    return next((width for most, width in _CATCHING if below <= most + 1e-9), None)


def net_fault(fixtures: Collection[Fixture], deck_top: float) -> tuple[str | None, str]:
    """The net under a deck, or what is wrong with what there is.

    Parameters
    ----------
    fixtures : collection of Fixture
        Those in place.
    deck_top : float
        What the roofers stand on, shaft frame. [m]

    Returns
    -------
    net : str or None
        Name of a net that will do; None where there is none.
    fault : str
        Why there is none; empty where there is one.
    """
    faults = []
    for net in (each for each in fixtures if each.kind == "net"):
        fault = _fault_of(net, deck_top)
        if not fault:
            return net.name, ""
        faults.append(f"{net.name} {fault}")
    return None, "; ".join(faults) or "no net is in"


def _fault_of(net: Fixture, deck_top: float) -> str:
    if not net.fine_mesh:
        return "has no debris mesh"
    below = deck_top - heights(net)[0]
    needed = net_reach_needed(below)
    if needed is None:
        return f"hangs {below:.1f} m below the deck, and must hang 0 to 9.1 m below"
    if net.reach is None:
        return "does not say how far out it reaches"
    if not net.reach >= needed - 1e-9:
        return f"reaches {net.reach:.2f} m out, and {needed:.2f} m is asked {below:.1f} m below"
    return ""
