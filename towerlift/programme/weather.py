"""Hours of weather, measured, typical or forecast, and which of them allow work."""

from dataclasses import dataclass
from datetime import timedelta, timezone

import numpy as np
from numpy.typing import NDArray

from towerlift.programme.weather_height import Exposure, gust_factor, wind_factor

Floats = NDArray[np.float64]
Hours = NDArray[np.datetime64]
States = NDArray[np.int8]

HOUR = np.timedelta64(1, "h")
CLEAR, SHUT, UNKNOWN = 1, 0, -1


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherHours:
    """Weather hour by hour at one place.

    Attributes
    ----------
    place : str
        As the file names it.
    source : str
        File and what kind it is.
    offset : timedelta
        Of its clock from UTC; it never changes to summer time.
    height : float
        Above ground at which wind was measured. [m]
    begins : (n,) datetime64
        When each hour begins, on its own clock; typical years keep the year that each
        month was taken from.
    wind, gust, rain, temperature : (n,) float
        Mean wind [m/s], strongest gust [m/s], rain in the hour [mm], air temperature
        [deg C]; NaN where the file does not say.
    lightning : (n,) float
        Chance of it in the hour, 0 to 1; NaN where the file does not say.

    Raises
    ------
    ValueError
        If the columns differ in length or there is no hour.
    """

    place: str
    source: str
    offset: timedelta
    height: float
    begins: Hours
    wind: Floats
    gust: Floats
    rain: Floats
    temperature: Floats
    lightning: Floats

    def __post_init__(self) -> None:
        columns = (self.wind, self.gust, self.rain, self.temperature, self.lightning)
        if not len(self.begins) or any(each.shape != self.begins.shape for each in columns):
            raise ValueError(f"{self.source}: needs hours, and every column for each of them")

    @property
    def months(self) -> NDArray[np.int64]:
        """Month of each hour, 1 to 12. (n,)"""
        months: NDArray[np.int64] = self.begins.astype("datetime64[M]").astype(np.int64) % 12
        return months + 1

    @property
    def clock(self) -> NDArray[np.int64]:
        """Hour of the day at which each hour begins, 0 to 23. (n,)"""
        hours: NDArray[np.int64] = self.begins.astype("datetime64[h]").astype(np.int64) % 24
        return hours

    @property
    def run(self) -> NDArray[np.int64]:
        """Number of the unbroken run each hour is in. (n,)

        A run ends where an hour is left out, and where a typical year goes from a month
        of one year to a month of another: what lies on both sides did not follow.
        """
        joined = np.diff(self.begins) == HOUR
        return np.concatenate([[0], np.cumsum(~joined)])

    @property
    def zone(self) -> timezone:
        """Its clock."""
        return timezone(self.offset)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherNeed:
    """What a piece of work needs of an hour.

    Attributes
    ----------
    mean, gust : float
        Most wind where the work is. [m/s]
    dry : bool
        Whether no rain may fall.
    warmest_ice : float or None
        Temperature that must be exceeded; None where frost does not matter. [deg C]
    lightning : float
        Chance of lightning that must not be exceeded.
    source : str
        Who sets it.
    """

    mean: float
    gust: float
    dry: bool = False
    warmest_ice: float | None = None
    lightning: float = 0.05
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Aloft:
    """Where the wind matters.

    Attributes
    ----------
    height : float
        Above the ground. [m]
    exposure : Exposure
        Land about the station and about the tower.
    """

    height: float
    exposure: Exposure


def wind_aloft(hours: WeatherHours, aloft: Aloft) -> tuple[Floats, Floats]:
    """Mean wind and gust at a height.

    Parameters
    ----------
    hours : WeatherHours
        Wind at the station's height.
    aloft : Aloft
        Where it is wanted.

    Returns
    -------
    mean : (n,) float
        [m/s]
    gust : (n,) float
        The file's own gust raised as the mean is, or the mean times the gust factor of
        the place, whichever is more. [m/s]

    Notes
    -----
    Gusts grow less with height than the mean does, so raising the file's gust as the
    mean is raised stays on the safe side.
    """
    factor = wind_factor(aloft.height, aloft.exposure, station_height=hours.height)
    mean = hours.wind * factor
    gust: Floats = np.fmax(
        hours.gust * factor, mean * gust_factor(aloft.height, aloft.exposure)
    )
    return mean, gust


def judge_hours(hours: WeatherHours, need: WeatherNeed, aloft: Aloft) -> States:
    """Whether each hour allows the work.

    Parameters
    ----------
    hours : WeatherHours
        Hours to judge.
    need : WeatherNeed
        What is asked of them.
    aloft : Aloft
        Where the work is.

    Returns
    -------
    states : (n,) int8
        `CLEAR` (1), `SHUT` (0), or `UNKNOWN` (-1) where nothing forbids it but something
        that is asked for is not in the file. On the limit is clear.

    Notes
    -----
    A file that says nothing of lightning in any hour is a record, and lightning is then
    not asked of it: it is watched for on the day.
    """
    mean, gust = wind_aloft(hours, aloft)
    tests = [(mean, mean <= need.mean), (gust, gust <= need.gust)]
    if need.dry:
        tests.append((hours.rain, hours.rain <= 0.0))
    if need.warmest_ice is not None:
        tests.append((hours.temperature, hours.temperature > need.warmest_ice))
    if not np.isnan(hours.lightning).all():
        tests.append((hours.lightning, hours.lightning <= need.lightning))
    shut = np.zeros(len(hours.begins), dtype=bool)
    unknown = np.zeros(len(hours.begins), dtype=bool)
    for value, met in tests:
        missing = np.isnan(value)
        unknown |= missing
        shut |= ~missing & ~met
    return np.where(shut, SHUT, np.where(unknown, UNKNOWN, CLEAR)).astype(np.int8)
