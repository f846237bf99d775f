"""Wind at a height, from wind at a weather station."""

from dataclasses import dataclass
from math import log, sqrt

# Terrain: roughness length and the height below which the profile is cut off [m].
# EN 1991-1-4:2005, table 4.1.
TERRAINS: dict[str, tuple[float, float]] = {
    "0": (0.003, 1.0),
    "I": (0.01, 1.0),
    "II": (0.05, 2.0),
    "III": (0.3, 5.0),
    "IV": (1.0, 10.0),
}
_OPEN = 0.05  # roughness of the terrain to which the factor below is tied [m]
PROFILE_SOURCE = (
    "logarithmic profile and terrains of EN 1991-1-4:2005, 4.3.2 and table 4.1; "
    "orography not counted"
)
GUST_SOURCE = "gust 1 + 7 I in pressure, EN 1991-1-4:2005, 4.4 and 4.5"


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposure:
    """Land over which the wind comes.

    Attributes
    ----------
    station, site : str
        Terrain about the weather station and about the tower: "0" open sea, "I" flat
        without obstacles, "II" low vegetation, "III" villages and woods, "IV" town.

    Raises
    ------
    ValueError
        If there is no such terrain.
    """

    station: str = "II"
    site: str = "0"

    def __post_init__(self) -> None:
        for name in (self.station, self.site):
            if name not in TERRAINS:
                raise ValueError(
                    f'there is no terrain "{name}"; write one of {", ".join(TERRAINS)}'
                )


def roughness_factor(height: float, terrain: str) -> float:
    r"""Mean wind at a height over the basic wind.

    Parameters
    ----------
    height : float
        Above ground; below the terrain's least height that one is taken. [m]
    terrain : str
        A key of `TERRAINS`.

    Returns
    -------
    factor : float
        :math:`c_r = k_r \ln(z / z_0)`, :math:`k_r = 0.19 (z_0 / 0.05)^{0.07}`.

    Raises
    ------
    ValueError
        If the height is not above nothing.

    References
    ----------
    .. [1] EN 1991-1-4:2005, equations 4.4 and 4.5.
    """
    if not height > 0:
        raise ValueError(f"wind needs a height above ground, got {height} m")
    roughness, least = TERRAINS[terrain]
    k_r = 0.19 * (roughness / _OPEN) ** 0.07
    factor: float = k_r * log(max(height, least) / roughness)
    return factor


def wind_factor(height: float, exposure: Exposure, *, station_height: float) -> float:
    """Mean wind at the tower over mean wind at the station.

    Parameters
    ----------
    height : float
        At the tower, above ground. [m]
    exposure : Exposure
        Terrain at both.
    station_height : float
        Of the anemometer. [m]

    Returns
    -------
    factor : float
        Ratio of the two roughness factors: the wind far above both is taken as one.
    """
    station = roughness_factor(station_height, exposure.station)
    return roughness_factor(height, exposure.site) / station


def turbulence(height: float, terrain: str) -> float:
    """Turbulence intensity, by EN 1991-1-4:2005 equation 4.7 with factors of 1."""
    roughness, least = TERRAINS[terrain]
    return 1.0 / log(max(height, least) / roughness)


def gust_factor(height: float, exposure: Exposure) -> float:
    """Gust over mean wind at the tower.

    Parameters
    ----------
    height : float
        Above ground. [m]
    exposure : Exposure
        Terrain at the tower.

    Returns
    -------
    factor : float
        Square root of the peak over the mean pressure.
    """
    return sqrt(1.0 + 7.0 * turbulence(height, exposure.site))
