"""Light at the site: civil dawn and dusk, sunrise and sunset of any date.

The Sun's place is the astral library's; each moment is where its height crosses the
limit, found by bisection between noon and midnight, so that a date on which it does not
rise or does not set is known and nothing belongs to the wrong date.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from functools import lru_cache
from math import degrees

from astral import Observer
from astral.julian import julianday, julianday_to_juliancentury
from astral.sun import elevation, eq_of_time

from towerlift.motion.clock import zone_named
from towerlift.plan.work import Site

# Upper limb on a level horizon: 34' of refraction and 16' of half the Sun's width.
RISE_DEG = -(34.0 + 16.0) / 60.0
CIVIL_DEG = -6.0
_HALF_DAY = timedelta(hours=12)
_EXACT = timedelta(seconds=1)


class Polar(StrEnum):
    """Whether the Sun rises and sets on a date."""

    NEITHER = "rises and sets"
    DAY = "does not set"
    NIGHT = "does not rise"


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """Light of one date, in the site's time.

    Sunrise and dawn are the last before noon, sunset and dusk the first after it; in high
    summer these may be on the date before or after.

    Attributes
    ----------
    date : date
        At the site.
    noon : datetime
        When the Sun is highest.
    polar : Polar
        Whether it rises and sets.
    sunrise, sunset : datetime or None
        None where it does not.
    dawn, dusk : datetime or None
        Sun's centre 6 degrees below the horizon; None where it stays above or below that.
    """

    date: date
    noon: datetime
    polar: Polar
    sunrise: datetime | None
    sunset: datetime | None
    dawn: datetime | None
    dusk: datetime | None

    def span(self, margin: timedelta = timedelta(0)) -> tuple[datetime, datetime] | None:
        """Stretch of the date in which the Sun is up, less a margin at either end.

        Parameters
        ----------
        margin : timedelta
            After sunrise and before sunset.

        Returns
        -------
        span : tuple of datetime or None
            None where the Sun is not up for so long. Where it does not set, from midnight
            to midnight round noon.
        """
        zone = self.noon.tzinfo
        # In UTC: within one zone Python adds to what the clock shows, also when it is moved.
        if self.polar is Polar.DAY:
            noon = self.noon.astimezone(UTC)
            return (noon - _HALF_DAY).astimezone(zone), (noon + _HALF_DAY).astimezone(zone)
        if self.sunrise is None or self.sunset is None:
            return None
        begins = self.sunrise.astimezone(UTC) + margin
        ends = self.sunset.astimezone(UTC) - margin
        return (begins.astimezone(zone), ends.astimezone(zone)) if begins < ends else None


def daylight(site: Site, day: date) -> Light:
    """Light of one date at the site.

    Parameters
    ----------
    site : Site
        Its latitude, longitude and time zone; the horizon is taken level.
    day : date
        At the site.

    Returns
    -------
    light : Light
        Times in the site's zone, with its daylight-saving time on that date.

    Notes
    -----
    Within a minute of almanac times where the horizon is level; hills make the evening
    shorter, and are to be allowed for.
    """
    return _light(degrees(site.latitude), degrees(site.longitude), site.time_zone, day)


def daylights(site: Site, first: date, n_days: int) -> Iterator[Light]:
    """Light of consecutive dates.

    Parameters
    ----------
    site : Site
        As in `daylight`.
    first : date
        The first date.
    n_days : int
        How many.

    Yields
    ------
    light : Light
        In order.
    """
    for number in range(n_days):
        yield daylight(site, first + timedelta(days=number))


@lru_cache(maxsize=4096)
def _light(latitude: float, longitude: float, zone_name: str, day: date) -> Light:
    zone = zone_named(zone_name)
    noon = _noon(longitude, datetime.combine(day, time(12), zone).astimezone(UTC))
    sky = Observer(latitude=latitude, longitude=longitude, elevation=0.0)
    polar = Polar.NEITHER
    rise, fall = (_crossing(sky, noon, side, RISE_DEG) for side in (-1, 1))
    dawn, dusk = (_crossing(sky, noon, side, CIVIL_DEG) for side in (-1, 1))
    if rise is None or fall is None:
        polar = Polar.DAY if _height(sky, noon) > RISE_DEG else Polar.NIGHT
        rise = fall = None

    def local(moment: datetime | None) -> datetime | None:
        return None if moment is None else moment.astimezone(zone)

    return Light(
        date=day,
        noon=noon.astimezone(zone),
        polar=polar,
        sunrise=local(rise),
        sunset=local(fall),
        dawn=local(dawn),
        dusk=local(dusk),
    )


def _noon(longitude: float, near: datetime) -> datetime:
    """The solar noon closest to a moment: mean noon of the meridian less the Sun's lead."""
    candidates = []
    for days in (-1, 0, 1):
        mean = datetime.combine(near.date(), time(12), UTC) + timedelta(
            days=days, hours=-longitude / 15.0
        )
        lead = eq_of_time(julianday_to_juliancentury(julianday(mean)))
        candidates.append(mean - timedelta(minutes=lead))
    return min(candidates, key=lambda noon: abs(noon - near))


def _height(sky: Observer, moment: datetime) -> float:
    """True height of the Sun's centre. [deg]"""
    return elevation(sky, moment, with_refraction=False)


def _crossing(sky: Observer, noon: datetime, side: int, limit_deg: float) -> datetime | None:
    """When the Sun crosses a height between noon and the midnight on one side of it."""
    high, low = noon, noon + side * _HALF_DAY
    if not (_height(sky, high) > limit_deg >= _height(sky, low)):
        return None
    while abs(low - high) > _EXACT:
        middle = high + (low - high) / 2
        if _height(sky, middle) > limit_deg:
            high = middle
        else:
            low = middle
    return high
