"""Beams on two supports and bars as pins: bending, shear and deflection of one piece.

Derived from statics; the bar as a pin spreads its load evenly over the leg and over the
two ledges.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
# Places between the supports at which a deflection is read.
PLACES = 401


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """What point loads do to a beam on two supports.

    Attributes
    ----------
    reactions : (2,) float
        At the left and the right support; below nothing where it must be held down. [N]
    moment : float
        Greatest bending moment, sagging or hogging. [N m]
    shear : float
        Greatest shear force. [N]
    deflection : float
        Greatest deflection between the supports times E I, up or down. [N m^3]
    """

    reactions: Floats
    moment: float
    shear: float
    deflection: float


def bend_beam(supports: Floats, places: Floats, loads: Floats) -> Bend:
    """Reactions, moment, shear and deflection of a straight beam under point loads.

    Parameters
    ----------
    supports : (2,) float
        Where it is held, along the beam, left first. [m]
    places, loads : (n,) float
        Where loads act, and how much, downward; loads may act beyond a support. [m], [N]

    Returns
    -------
    bend : Bend
        By statics, and by integrating the curvature twice.

    Raises
    ------
    ValueError
        If the supports are not apart, or shapes or numbers are wrong.

    Notes
    -----
    The moment is piecewise linear, so its greatest is at a load or a support. The
    deflection is read at 401 places between the supports.
    """
    left, right = (float(x) for x in supports)
    if not (right - left > 0 and np.all(np.isfinite(places)) and np.all(np.isfinite(loads))):
        raise ValueError(f"supports must be apart and loads finite, got {supports.tolist()} m")
    if places.shape != loads.shape or places.ndim != 1:
        raise ValueError(f"one place for each load, got {places.shape} and {loads.shape}")
    span = right - left
    far = float(loads @ (places - left)) / span
    near = float(loads.sum()) - far
    where = np.concatenate([[left, right], places])
    force = np.concatenate([[-near, -far], loads])
    moments = _moments(where, where, force)
    order = np.argsort(where, kind="stable")
    shears = np.cumsum(force[order])
    grid = np.linspace(left, right, PLACES)
    return Bend(
        reactions=np.array([near, far]),
        moment=float(np.abs(moments).max(initial=0.0)),
        shear=float(np.abs(shears).max(initial=0.0)),
        deflection=_deflection(grid, _moments(grid, where, force)),
    )


def _moments(at: Floats, where: Floats, force: Floats) -> Floats:
    """Sagging moment at some places from what acts to the left of each."""
    arms = np.maximum(at[:, None] - where[None, :], 0.0)
    return np.asarray(-(arms @ force))


def _deflection(grid: Floats, moments: Floats) -> float:
    # E I w'' = -M with no deflection at either support.
    step = np.diff(grid)
    slope = np.concatenate([[0.0], np.cumsum((moments[1:] + moments[:-1]) / 2 * step)])
    sag = np.concatenate([[0.0], np.cumsum((slope[1:] + slope[:-1]) / 2 * step)])
    sag = sag - sag[-1] * (grid - grid[0]) / (grid[-1] - grid[0])
    return float(np.abs(sag).max())


def bending_stress(moment: float, breadth: float, depth: float) -> float:
    """Stress at the edge of a rectangular piece, 6 M / (b d^2). [Pa]

    Parameters
    ----------
    moment : float
        [N m]
    breadth, depth : float
        Across and in the plane of bending. [m]

    Returns
    -------
    stress : float
        [Pa]
    """
    return 6.0 * moment / (breadth * depth**2)


def shear_stress(shear: float, breadth: float, depth: float) -> float:
    """Greatest shear stress in a rectangular piece, 1.5 V / (b d). [Pa]

    Parameters
    ----------
    shear : float
        [N]
    breadth, depth : float
        Across and in the plane of bending; of timber the breadth that is not
        cracked. [m]

    Returns
    -------
    stress : float
        [Pa]
    """
    return 1.5 * shear / (breadth * depth)


def second_moment(breadth: float, depth: float) -> float:
    """Second moment of area of a rectangle, b d^3 / 12. [m^4]"""
    return breadth * depth**3 / 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PinGeometry:
    """A locking bar through a leg, with a ledge on either side.

    Attributes
    ----------
    leg : float
        Width of the leg along the bar. [m]
    gap : float
        Between leg and ledge, on either side. [m]
    ledges : tuple of float
        Length of the bar that lies on each of the two ledges. [m]
    breadth, depth : float
        Of the bar, level and upright. [m]
    """

    leg: float
    gap: float
    ledges: tuple[float, float]
    breadth: float
    depth: float

    def __post_init__(self) -> None:
        sizes = (self.leg, *self.ledges, self.breadth, self.depth)
        if not (all(size > 0 for size in sizes) and self.gap >= 0):
            raise ValueError(f"sizes of bar, leg and ledges must be positive, got {self}")


@dataclass(frozen=True, slots=True, kw_only=True)
class PinLoads:
    """What a leg's load does to its bar, the leg and the two ledges.

    Attributes
    ----------
    reactions : (2,) float
        On each ledge. [N]
    moment, shear : float
        Greatest in the bar. [N m], [N]
    bending, shearing : float
        Stresses in the bar. [Pa]
    leg_bearing : float
        Of the leg on the bar. [Pa]
    ledge_bearing : (2,) float
        Of the bar on each ledge. [Pa]
    """

    reactions: Floats
    moment: float
    shear: float
    bending: float
    shearing: float
    leg_bearing: float
    ledge_bearing: Floats


def pin_loads(load: float, pin: PinGeometry) -> PinLoads:
    r"""Bending, shear and bearing of a bar that carries one leg on two ledges.

    Parameters
    ----------
    load : float
        Of the leg. [N]
    pin : PinGeometry
        Sizes.

    Returns
    -------
    loads : PinLoads
        With the leg's load spread over its width, and each reaction at the middle of
        its ledge; with equal ledges l the moment is
        :math:`F/2 (w + 2j + l)/2 - F/2 \; w/4`.

    Raises
    ------
    ValueError
        If the load is below nothing or not a number.
    """
    if not load >= 0:
        raise ValueError(f"load must not be below nothing, got {load} N")
    arms = [pin.leg / 2 + pin.gap + each / 2 for each in pin.ledges]
    first = load * arms[1] / (arms[0] + arms[1])
    reactions = np.array([first, load - first])
    # Shear is nil under the leg where the load met so far equals the first reaction.
    met = pin.leg * first / load if load > 0 else 0.0
    moment = first * (arms[0] - pin.leg / 2 + met) - (
        load * met**2 / (2 * pin.leg) if load > 0 else 0.0
    )
    shear = float(reactions.max())
    return PinLoads(
        reactions=reactions,
        moment=moment,
        shear=shear,
        bending=bending_stress(moment, pin.breadth, pin.depth),
        shearing=shear_stress(shear, pin.breadth, pin.depth),
        leg_bearing=load / (pin.leg * pin.breadth),
        ledge_bearing=reactions / (pin.breadth * np.array(pin.ledges)),
    )
