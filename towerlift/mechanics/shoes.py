"""Shoes and wind on a hung load: compression only, with clearance and friction."""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Cases = NDArray[np.bool_] | NDArray[np.int64]

# Greased oak on a packed runner, pressed square: it gives a tenth of a millimetre a kN.
SHOE_STIFFNESS = 1e7


@dataclass(frozen=True, slots=True, kw_only=True)
class Guides:
    """Shoes that keep a load from swinging, in many cases side by side.

    Attributes
    ----------
    at : (m, q, 3) float
        Middle of each shoe, where the true hang has it. [m]
    outward : (m, q, 3) float
        Unit normal from the shoe towards its rail.
    gap : (m, q) float
        Clearance in the true hang. [m]
    friction : (m,) float
        Coulomb's coefficient of shoe on rail.
    stiffness : float
        Of each contact. [N/m]
    """

    at: Floats
    outward: Floats
    gap: Floats
    friction: Floats
    stiffness: float = SHOE_STIFFNESS

    def __post_init__(self) -> None:
        m, q = self.gap.shape
        for name, shape in (("at", (m, q, 3)), ("outward", (m, q, 3)), ("friction", (m,))):
            array = getattr(self, name)
            if array.shape != shape or not np.all(np.isfinite(array)):
                raise ValueError(f"{name} must be finite and {shape}, got {array.shape}")
        if not np.allclose(np.linalg.norm(self.outward, axis=-1), 1.0):
            raise ValueError("outward must be unit normals")
        if not (np.all(self.gap >= 0) and np.all(self.friction >= 0)):
            raise ValueError("gap and friction must not be negative")
        if not self.stiffness > 0:
            raise ValueError(f"stiffness must be positive, got {self.stiffness} N/m")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wind:
    """A steady force on a load, in many cases side by side.

    Attributes
    ----------
    force : (m, 3) float
        [N]
    at : (m, 3) float
        Where it acts in the true hang. [m]
    """

    force: Floats
    at: Floats

    def __post_init__(self) -> None:
        for name in ("force", "at"):
            array = getattr(self, name)
            if array.ndim != 2 or array.shape[1] != 3 or not np.all(np.isfinite(array)):
                raise ValueError(f"{name} must be finite and (m, 3), got {array.shape}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """Shoes and wind about the middle of the lift points.

    Attributes
    ----------
    force, force_arm : (m, 3) float
        Steady force and where it acts, from the middle. [N], [m]
    arms, outward : (m, q, 3) float
        Shoes from the middle, and their normals. [m]
    gap, stiffness : (m, q) float
        Clearance, and stiffness once it is closed. [m], [N/m]
    """

    force: Floats
    force_arm: Floats
    arms: Floats
    outward: Floats
    gap: Floats
    stiffness: Floats

    def of(self, cases: Cases) -> "Held":
        """Some of the cases, in their order."""
        return Held(**{each.name: getattr(self, each.name)[cases] for each in fields(self)})


def held_about(middle: Floats, guides: Guides | None, wind: Wind | None) -> Held | None:
    """Shoes and wind about the middle of the lift points, or None without either.

    Parameters
    ----------
    middle : (m, 3) float
        Mean of the lift points in the true hang. [m]
    guides : Guides or None
        Shoes.
    wind : Wind or None
        Force.

    Returns
    -------
    held : Held or None
        For the energy.

    Raises
    ------
    ValueError
        If they are for another number of cases.
    """
    if guides is None and wind is None:
        return None
    return _held(middle, guides, wind)


def shoes_about(middle: Floats, guides: Guides) -> Held:
    """Shoes about the middle of the lift points, without wind.

    Parameters
    ----------
    middle : (m, 3) float
        Mean of the lift points in the true hang. [m]
    guides : Guides
        Shoes.

    Returns
    -------
    held : Held
        For the energy.
    """
    return _held(middle, guides, None)


def _held(middle: Floats, guides: Guides | None, wind: Wind | None) -> Held:
    m = len(middle)
    for each in (None if guides is None else guides.gap, None if wind is None else wind.force):
        if each is not None and len(each) != m:
            raise ValueError(f"guides and wind must be for {m} cases, got {len(each)}")
    none = np.zeros((m, 0))
    return Held(
        force=np.zeros((m, 3)) if wind is None else wind.force,
        force_arm=np.zeros((m, 3)) if wind is None else wind.at - middle,
        arms=np.zeros((m, 0, 3)) if guides is None else guides.at - middle[:, None],
        outward=np.zeros((m, 0, 3)) if guides is None else guides.outward,
        gap=none if guides is None else guides.gap,
        stiffness=none if guides is None else np.full(guides.gap.shape, guides.stiffness),
    )
