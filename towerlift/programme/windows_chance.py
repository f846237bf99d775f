"""Chance of the weather a roofer needs, on a date, from hours of other years or a forecast."""

from datetime import date, datetime
from math import nan

import numpy as np
from numpy.typing import NDArray

from towerlift.programme.weather import CLEAR, Floats, Hours, States, WeatherHours
from towerlift.programme.weather_windows import hours_touched, windows_from

DAYS_AROUND = 15  # of the year, from which a chance is taken

Bools = NDArray[np.bool_]


class Almanac:
    """Hours by their dates, looked up again and again.

    Parameters
    ----------
    hours : WeatherHours
        A record, or a forecast that holds the days themselves.
    """

    def __init__(self, hours: WeatherHours) -> None:
        self.hours = hours
        self.day: Hours = hours.begins.astype("datetime64[D]")
        self.clock = hours.clock
        self._near: dict[date, Bools] = {}

    def near(self, day: date) -> Bools:
        """Hours of the day itself, or else of days within 15 of its date in any year.

        Parameters
        ----------
        day : date
            At the site.

        Returns
        -------
        near : (n,) bool
            One for each hour.
        """
        if day not in self._near:
            itself = self.day == np.datetime64(day, "D")
            self._near[day] = itself if itself.any() else _days_near(self.day, day)
        return self._near[day]

    def forecast(self, day: date) -> bool:
        """Whether the hours hold the day itself."""
        return bool((self.day == np.datetime64(day, "D")).any())


def _days_near(day: Hours, wanted: date) -> Bools:
    first = day.astype("datetime64[Y]").astype("datetime64[D]")
    number = (day - first).astype(np.int64)
    away = np.abs(number - (wanted.timetuple().tm_yday - 1))
    close: Bools = np.minimum(away, 365 - away) <= DAYS_AROUND
    return close


class Chances:
    """Chances of one need, from judged hours.

    Parameters
    ----------
    almanac : Almanac
        The hours.
    states : (n,) int8
        What each allows, as `judge_hours` says.
    """

    def __init__(self, almanac: Almanac, states: States) -> None:
        self.almanac, self.states = almanac, states
        self._begun: dict[int, Bools] = {}

    def window(self, between: tuple[datetime, datetime], length: float) -> float:
        """Chance that the weather holds for so long within a stretch of one day.

        Parameters
        ----------
        between : tuple of datetime
            The stretch, with its zone.
        length : float
            Time for which it must hold; no longer than the stretch. [s]

        Returns
        -------
        chance : float
            Where the hours hold the day itself, 1 or 0 by them. Else the share of days
            within 15 days of the date, in any year of the record, that gave such a window
            at these hours of standard time; what is not known counts as none. NaN where
            the record has no such day.

        Notes
        -----
        A record's clock is its own standard time; a site's summer time is taken off first.
        """
        begins, ends = (_standard(moment) for moment in between)
        midnight = begins.replace(hour=0, minute=0, second=0, microsecond=0)
        first, last = ((moment - midnight).total_seconds() for moment in (begins, ends))
        near = self.almanac.near(begins.date())
        days = np.unique(self.almanac.day[near])
        if not len(days):
            return nan
        good = near & self._can_begin((first, last), length)
        return len(np.unique(self.almanac.day[good])) / len(days)

    def _can_begin(self, between: tuple[float, float], length: float) -> Bools:
        """Hours of the record in which work may begin as early in the stretch as it can.

        Work that begins later within an hour touches no fewer hours than work that begins
        at the hour, or at the beginning of the stretch: so these are all to be tried.
        """
        first, last = between
        hour = int(first // 3600)
        clock = self.almanac.clock
        early = self._windows(hours_touched(length, begins=first - 3600 * hour))
        later = self._windows(hours_touched(length))
        moment = 3600.0 * clock
        fits = (moment >= first) & (moment + length <= last + 1e-6)
        begun: Bools = (early & (clock == hour)) | (later & fits)
        return begun

    def _windows(self, n_hours: int) -> Bools:
        if n_hours not in self._begun:
            found = windows_from(self.almanac.hours, self.states, n_hours)
            self._begun[n_hours] = found == CLEAR
        return self._begun[n_hours]

    def hourly(self, day: date) -> Floats:
        """Chance of each hour of a date to be clear, by itself.

        Parameters
        ----------
        day : date
            At the site.

        Returns
        -------
        chance : (24,) float
            As in `window`; NaN where nothing is known of the hour.
        """
        near = self.almanac.near(day)
        there = np.bincount(self.almanac.clock[near], minlength=24)
        clear = np.bincount(self.almanac.clock[near & (self.states == CLEAR)], minlength=24)
        with np.errstate(invalid="ignore"):
            return clear / np.where(there, there, np.nan)


def _standard(moment: datetime) -> datetime:
    summer = moment.dst()
    plain = moment.replace(tzinfo=None)
    return plain if summer is None else plain - summer
