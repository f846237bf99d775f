"""Wind: how its speed and pressure grow with height, and how strong it is called.

Two families of rules are here, so that one can be held against the other: the European
profile of mean speed and turbulence by terrain, and the American velocity pressure.
"""

from bisect import bisect_right
from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

AIR_DENSITY = 1.25  # EN 1991-1-4, 4.5, recommended value. [kg/m^3]
PEAK = 7.0  # EN 1991-1-4, 4.5: peak factor 3.5, twice.
OPEN_COUNTRY = 0.05  # roughness length of the terrain in which the basic speed is told. [m]
PSF = 47.880258980336  # pound-force on a square foot. [Pa]
MILE_PER_HOUR = 0.44704  # [m/s]
# Shape and exponent of the yearly extremes, EN 1991-1-4, 4.2, recommended values.
SHAPE, EXPONENT = 0.2, 0.5
USUAL_RETURN = 50.0  # years, of the basic speed
# Least speed of each force of the Beaufort scale, from 1. [m/s]
BEAUFORT = (0.3, 1.6, 3.4, 5.5, 8.0, 10.8, 13.9, 17.2, 20.8, 24.5, 28.5, 32.7)


@dataclass(frozen=True, slots=True, kw_only=True)
class Terrain:
    """Roughness of the ground upwind, a category of EN 1991-1-4.

    Attributes
    ----------
    name : str
        Of the category.
    roughness : float
        Roughness length z_0. [m]
    least : float
        Height below which speed is no longer taken off. [m]
    """

    name: str
    roughness: float
    least: float


TERRAINS = {
    name: Terrain(name=name, roughness=roughness, least=least)
    for name, roughness, least in (
        ("0", 0.003, 1.0),
        ("I", 0.01, 1.0),
        ("II", 0.05, 2.0),
        ("III", 0.3, 5.0),
        ("IV", 1.0, 10.0),
    )
}


def terrain_factor(terrain: Terrain) -> float:
    r"""Factor k_r of a terrain, :math:`0.19 (z_0 / 0.05)^{0.07}`.

    Parameters
    ----------
    terrain : Terrain
        Which.

    Returns
    -------
    factor : float
        EN 1991-1-4, equation 4.5.
    """
    return float(0.19 * (terrain.roughness / OPEN_COUNTRY) ** 0.07)


def _log_height(heights: ArrayLike, terrain: Terrain) -> Floats:
    z = np.maximum(np.asarray(heights, dtype=float), terrain.least)
    if not np.all(np.isfinite(z)):
        raise ValueError(f"heights must be finite, got {np.asarray(heights)} m")
    return np.asarray(np.log(z / terrain.roughness))


def roughness_factor(heights: ArrayLike, terrain: Terrain) -> Floats:
    """Mean speed at a height over the basic speed.

    Parameters
    ----------
    heights : float or array
        Above the ground. [m]
    terrain : Terrain
        Upwind.

    Returns
    -------
    factor : array
        c_r of EN 1991-1-4, equation 4.4, on flat ground.

    Raises
    ------
    ValueError
        If a height is not finite.
    """
    return np.asarray(terrain_factor(terrain) * _log_height(heights, terrain))


def turbulence(heights: ArrayLike, terrain: Terrain) -> Floats:
    """Turbulence intensity at a height.

    Parameters
    ----------
    heights : float or array
        Above the ground. [m]
    terrain : Terrain
        Upwind.

    Returns
    -------
    intensity : array
        I_v of EN 1991-1-4, equation 4.7, on flat ground.

    Raises
    ------
    ValueError
        If a height is not finite.
    """
    return np.asarray(1 / _log_height(heights, terrain))


def peak_pressure(basic: float, heights: ArrayLike, terrain: Terrain) -> Floats:
    r"""Velocity pressure of the peak gust at a height.

    .. math:: q_p = (1 + 7 I_v) \tfrac12 \rho (c_r v_b)^2

    Parameters
    ----------
    basic : float
        Basic speed v_b: ten-minute mean at 10 m in open country. [m/s]
    heights : float or array
        Above the ground. [m]
    terrain : Terrain
        Upwind.

    Returns
    -------
    pressure : array
        EN 1991-1-4, equation 4.8, on flat ground. [Pa]

    Raises
    ------
    ValueError
        If the speed is negative or a height is not finite.
    """
    if not basic >= 0:
        raise ValueError(f"basic speed must not be negative, got {basic} m/s")
    mean = roughness_factor(heights, terrain) * basic
    return np.asarray((1 + PEAK * turbulence(heights, terrain)) * 0.5 * AIR_DENSITY * mean**2)


def pressure_profile(heights: ArrayLike, told_at: float, terrain: Terrain) -> Floats:
    """Peak pressure at a height over that where the gust is told.

    Parameters
    ----------
    heights : float or array
        Above the ground. [m]
    told_at : float
        Height at which the gust is read or forecast. [m]
    terrain : Terrain
        Upwind.

    Returns
    -------
    profile : array
        1 at the height where it is told; the basic speed cancels.

    Raises
    ------
    ValueError
        If a height is not finite.
    """
    return np.asarray(
        peak_pressure(1.0, heights, terrain) / peak_pressure(1.0, told_at, terrain)
    )


def gust_of(pressure: float) -> float:
    """Speed of the gust that has a velocity pressure.

    Parameters
    ----------
    pressure : float
        [Pa]

    Returns
    -------
    gust : float
        [m/s]

    Raises
    ------
    ValueError
        If the pressure is negative.
    """
    if not pressure >= 0:
        raise ValueError(f"pressure must not be negative, got {pressure} Pa")
    return float((2 * pressure / AIR_DENSITY) ** 0.5)


def probability_factor(return_years: float) -> float:
    r"""Basic speed of another return period over that of fifty years.

    .. math:: c = \left(\frac{1 - K \ln(-\ln(1 - 1/T))}{1 - K \ln(-\ln 0.98)}\right)^n

    Parameters
    ----------
    return_years : float
        Mean return period T. [years]

    Returns
    -------
    factor : float
        EN 1991-1-4, equation 4.2, with K = 0.2 and n = 0.5.

    Raises
    ------
    ValueError
        If the return period is not above one year: a yearly chance must be below 1.
    """
    if not return_years > 1:
        raise ValueError(f"return period must be above one year, got {return_years}")

    def reduced(years: float) -> float:
        return 1 - SHAPE * log(-log(1 - 1 / years))

    return float((reduced(return_years) / reduced(USUAL_RETURN)) ** EXPONENT)


def american_pressure(
    speed: float, *, exposure: float, direction: float = 0.85, topography: float = 1.0
) -> float:
    """Velocity pressure by the American rule, q = 0.00256 K_z K_zt K_d V^2 in lb/ft^2.

    Parameters
    ----------
    speed : float
        Three-second gust at 10 m. [m/s]
    exposure : float
        K_z, by height and terrain.
    direction, topography : float
        K_d and K_zt.

    Returns
    -------
    pressure : float
        ASCE 7, velocity pressure. [Pa]

    Raises
    ------
    ValueError
        If anything is negative.
    """
    if not (speed >= 0 and exposure >= 0 and direction >= 0 and topography >= 0):
        raise ValueError(
            f"nothing may be negative, got {speed} m/s, {exposure}, {direction}, {topography}"
        )
    miles = speed / MILE_PER_HOUR
    return 0.00256 * exposure * topography * direction * miles**2 * PSF


def power_law(height: float, told_at: float, exponent: float) -> float:
    """Speed at a height over that at another, by a power of the height.

    Parameters
    ----------
    height, told_at : float
        Above the ground. [m]
    exponent : float
        Such as 1/7.

    Returns
    -------
    ratio : float
        Of the two speeds.

    Raises
    ------
    ValueError
        If a height is not positive.
    """
    if not (height > 0 and told_at > 0):
        raise ValueError(f"heights must be positive, got {height}, {told_at} m")
    return float((height / told_at) ** exponent)


def log_law(height: float, told_at: float, roughness: float) -> float:
    """Speed at a height over that at another, by the logarithm of the height.

    Parameters
    ----------
    height, told_at : float
        Above the ground, both above the roughness length. [m]
    roughness : float
        Roughness length. [m]

    Returns
    -------
    ratio : float
        Of the two speeds.

    Raises
    ------
    ValueError
        If a height is not above the roughness length, or that is not positive.
    """
    if not (roughness > 0 and height > roughness and told_at > roughness):
        raise ValueError(
            f"heights must be above the roughness length, got {height}, {told_at}, "
            f"{roughness} m"
        )
    return log(height / roughness) / log(told_at / roughness)


def beaufort(speed: float) -> int:
    """Force of a wind by the Beaufort scale.

    Parameters
    ----------
    speed : float
        Mean speed at 10 m. [m/s]

    Returns
    -------
    force : int
        From 0 to 12.

    Raises
    ------
    ValueError
        If the speed is negative.

    Notes
    -----
    The printed scale tells speeds to a tenth; one between two bands is the lower.
    """
    if not speed >= 0:
        raise ValueError(f"speed must not be negative, got {speed} m/s")
    return bisect_right(BEAUFORT, speed)
