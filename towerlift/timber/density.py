"""How heavy wood is at any moisture content."""

from towerlift.timber.movement import FIBRE_SATURATION
from towerlift.timber.species import TimberSpecies

WATER = 1000.0
"""Density of water. [kg/m^3]"""
_AT_12 = 0.12


def shrinkage_to(total: float, moisture: float) -> float:
    """Shrinkage of the volume from green to a moisture content.

    Parameters
    ----------
    total : float
        Volumetric shrinkage from green to oven-dry, share of the green volume.
    moisture : float
        Share of the oven-dry mass.

    Returns
    -------
    shrinkage : float
        Share of the green volume; none above fibre saturation.

    References
    ----------
    .. [1] Wood Handbook, FPL-GTR-190 (2010), equation 4-7.
    """
    _refuse_moisture(moisture)
    return total * max(0.0, 1.0 - moisture / FIBRE_SATURATION)


def density_at(basic: float, total: float, moisture: float, *, water: float = WATER) -> float:
    """Density of wood with the water in it.

    Parameters
    ----------
    basic : float
        Basic specific gravity: oven-dry mass over green volume, relative to water.
    total : float
        Volumetric shrinkage from green to oven-dry, share of the green volume.
    moisture : float
        Share of the oven-dry mass.
    water : float
        Density of water. [kg/m^3]

    Returns
    -------
    density : float
        [kg/m^3]

    Raises
    ------
    ValueError
        If gravity or moisture cannot be those of wood.

    References
    ----------
    .. [1] Wood Handbook, FPL-GTR-190 (2010), equations 4-7 and 4-9.
    """
    if not 0 < basic < 1.5:
        raise ValueError(f"specific gravity must be above 0 and below 1.5, got {basic}")
    gravity = basic / (1.0 - shrinkage_to(total, moisture))
    return water * gravity * (1.0 + moisture)


def basic_gravity(gravity_12: float, total: float) -> float:
    """Basic specific gravity from that at 12 % moisture, by the same equations.

    Parameters
    ----------
    gravity_12 : float
        Oven-dry mass over the volume at 12 % moisture, relative to water.
    total : float
        Volumetric shrinkage from green to oven-dry, share of the green volume.

    Returns
    -------
    basic : float
        Oven-dry mass over green volume, relative to water.
    """
    return gravity_12 * (1.0 - shrinkage_to(total, _AT_12))


def species_density(species: TimberSpecies, moisture: float) -> float | None:
    """Density of a species at a moisture content, or None where too little was read.

    Parameters
    ----------
    species : TimberSpecies
        What was read of it.
    moisture : float
        Share of the oven-dry mass.

    Returns
    -------
    density : float or None
        A mean of the species: the stick on the site is weighed. [kg/m^3]
    """
    if species.gravity_12 is None or species.volumetric is None:
        return None
    total = species.volumetric.value
    return density_at(basic_gravity(species.gravity_12.value, total), total, moisture)


def density_from_dry(gravity: float, moisture: float) -> float:
    """Density from the specific gravity of oven-dry wood.

    Parameters
    ----------
    gravity : float
        Oven-dry mass over oven-dry volume, relative to water.
    moisture : float
        Share of the oven-dry mass.

    Returns
    -------
    density : float
        [kg/m^3]

    Raises
    ------
    ValueError
        If gravity or moisture cannot be those of wood.

    References
    ----------
    .. [1] National Design Specification for Wood Construction, supplement: density
       62.4 G / (1 + 0.009 G m) (1 + m / 100) in lb/ft^3, m in per cent.
    """
    if not 0 < gravity < 1.5:
        raise ValueError(f"specific gravity must be above 0 and below 1.5, got {gravity}")
    _refuse_moisture(moisture)
    return WATER * gravity / (1.0 + 0.9 * gravity * moisture) * (1.0 + moisture)


def _refuse_moisture(moisture: float) -> None:
    if not 0 <= moisture <= 3:
        raise ValueError(f"moisture must be from 0 to 3 (300 %), got {moisture}")
