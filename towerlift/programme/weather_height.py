"""Wind at a height at the tower, from wind at a weather station."""

from dataclasses import dataclass
from math import sqrt

from towerlift.mechanics.wind import PEAK, TERRAINS, roughness_factor, turbulence

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

    station: str
    site: str

    def __post_init__(self) -> None:
        for name in (self.station, self.site):
            if name not in TERRAINS:
                raise ValueError(
                    f'there is no terrain "{name}"; write one of {", ".join(TERRAINS)}'
                )


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

    Raises
    ------
    ValueError
        If a height is not above nothing.

    References
    ----------
    .. [1] EN 1991-1-4:2005, equations 4.4 and 4.5.
    """
    for value in (height, station_height):
        if not value > 0:
            raise ValueError(f"wind needs a height above ground, got {value} m")
    station = roughness_factor(station_height, TERRAINS[exposure.station])
    return float(roughness_factor(height, TERRAINS[exposure.site]) / station)


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

    References
    ----------
    .. [1] EN 1991-1-4:2005, equations 4.7 and 4.8.
    """
    return sqrt(1.0 + PEAK * float(turbulence(height, TERRAINS[exposure.site])))
