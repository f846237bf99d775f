"""Hourly weather files as weather services give them: TMY3 and EPW.

Both are read here and not by a library, so that every row that is wrong is named and no
missing-value code is taken for a number. The tests hold them against pvlib's readers.
"""

import csv
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from math import isfinite, isnan, nan
from pathlib import Path

import numpy as np

from towerlift.errors import PlanError
from towerlift.programme.weather import HOUR, Floats, Hours, WeatherHours
from towerlift.programme.weather_table import TIME_COLUMN, read_hours

STATION_HEIGHT = 10.0  # height to which both forms bring the wind [m]
MOST_WIND = 80.0  # more is a slip: no hourly mean near the ground has reached it [m/s]
# Hours over which rain may have been gathered; a longer time says nothing of an hour.
MOST_GATHERED = 24
_EPW_HEADS = 8
_EPW = {"temperature": (6, 99.9), "wind": (21, 999.0), "rain": (33, 999.0), "over": (34, 99.0)}
_EPW_LEAST = 22  # columns up to the wind speed
_TMY3 = {
    "date": "Date (MM/DD/YYYY)",
    "time": "Time (HH:MM)",
    "temperature": "Dry-bulb (C)",
    "wind": "Wspd (m/s)",
    "rain": "Lprecip depth (mm)",
    "over": "Lprecip quantity (hr)",
}
_TMY3_MISSING = -9900.0


@dataclass(slots=True, kw_only=True)
class _Reading:
    """Rows read so far, and everything that is wrong with them."""

    path: Path
    ends: list[np.datetime64] = field(default_factory=list)
    columns: dict[str, list[float]] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)

    def take(self, number: int, end: np.datetime64, values: dict[str, float]) -> None:
        if self.ends:
            self._follows(number, end)
        self.ends.append(end)
        for key, value in values.items():
            self.columns.setdefault(key, []).append(value)

    def _follows(self, number: int, end: np.datetime64) -> None:
        before = self.ends[-1]
        # A typical year goes from the last hour of a month to the first of the next one,
        # whatever years they are from; within a month every hour must be there.
        last, now = before - HOUR, end - HOUR
        same = last.astype("datetime64[M]") == now.astype("datetime64[M]")
        if same and end - before != HOUR:
            self.problems.append(f"row {number}: the hour that ends at {end} follows {before}")
        if not same and (_month(now) - _month(last)) % 12 != 1:
            self.problems.append(f"row {number}: month {_month(now)} follows {_month(last)}")


def read_weather(path: Path) -> WeatherHours:
    """Read an hourly weather file, TMY3, EPW or this package's own table.

    Parameters
    ----------
    path : Path
        Ending in .epw, or in .csv for TMY3 and for the table that begins with
        "time" (`towerlift.programme.weather_table`).

    Returns
    -------
    hours : WeatherHours
        On the clock of the station, without summer time.

    Raises
    ------
    PlanError
        If it cannot be read; every row that is wrong is named.

    Notes
    -----
    What is given for the hour that ends at a time stamp, or was observed at it, is taken
    to hold for that hour.
    """
    try:
        with path.open(encoding="utf-8-sig", errors="strict", newline="") as file:
            rows = list(csv.reader(file))
    except UnicodeDecodeError:
        raise PlanError(path, [f"{path.name} is not UTF-8 text"]) from None
    except (OSError, csv.Error) as error:
        raise PlanError(path, [f"{path.name} cannot be read: {error}"]) from None
    if rows and rows[0] and rows[0][0].strip() == TIME_COLUMN:
        return read_hours(path)
    if rows and rows[0] and rows[0][0].strip().upper() == "LOCATION":
        return _read_epw(path, rows)
    if len(rows) > 1 and rows[1] and rows[1][0].strip() == _TMY3["date"]:
        return _read_tmy3(path, rows)
    first = ",".join(rows[0])[:60] if rows else "nothing"
    raise PlanError(
        path,
        [
            f'begins with "{first}"; write an EPW file (first cell LOCATION), a TMY3 file '
            f'(second row begins "{_TMY3["date"]}") or a table that begins with "time"'
        ],
    )


def _read_tmy3(path: Path, rows: list[list[str]]) -> WeatherHours:
    heads = [cell.strip() for cell in rows[1]]
    missing = [name for name in _TMY3.values() if name not in heads]
    if missing:
        raise PlanError(path, [f'no column "{name}"' for name in missing])
    at = {key: heads.index(name) for key, name in _TMY3.items()}
    reading = _Reading(path=path)
    place, offset = _station(reading, rows[0], 1, (3, 4, 5))

    def read(row: Sequence[str]) -> tuple[np.datetime64, dict[str, float]]:
        month, day, year = (int(part) for part in row[at["date"]].split("/"))
        hour, minute = (int(part) for part in row[at["time"]].split(":"))
        if minute:
            raise ValueError(f"time {row[at['time']]}; write whole hours")
        wanted = ("temperature", "wind", "rain", "over")
        values = {key: _number(row[at[key]], (_TMY3_MISSING,)) for key in wanted}
        return _end(year, month, day, hour), values

    _read_rows(reading, rows[2:], 3, read)
    return _finish(reading, place, offset, "TMY3, hour ending at its time")


def _read_epw(path: Path, rows: list[list[str]]) -> WeatherHours:
    reading = _Reading(path=path)
    place, offset = _station(reading, rows[0], 1, (8, 6, 7))
    periods = rows[7] if len(rows) > 7 else []
    if not periods or periods[0].strip().upper() != "DATA PERIODS":
        reading.problems.append('row 8: does not begin with "DATA PERIODS"')
    elif len(periods) < 3 or [cell.strip() for cell in periods[1:3]] != ["1", "1"]:
        reading.problems.append("row 8: write one data period with 1 interval an hour")

    def read(row: Sequence[str]) -> tuple[np.datetime64, dict[str, float]]:
        if len(row) < _EPW_LEAST:
            raise ValueError(f"{len(row)} cells; an EPW row has 35")
        year, month, day, hour = (int(cell) for cell in row[:4])
        values = {
            key: _number(row[place], (code,)) if place < len(row) else nan
            for key, (place, code) in _EPW.items()
        }
        if not values["over"] > 0:
            values["over"] = 1.0 if values["rain"] >= 0 else nan
        return _end(year, month, day, hour), values

    _read_rows(reading, rows[_EPW_HEADS:], _EPW_HEADS + 1, read)
    return _finish(reading, place, offset, "EPW, hour ending at its number")


def _read_rows(
    reading: _Reading,
    rows: Sequence[Sequence[str]],
    first: int,
    read: Callable[[Sequence[str]], tuple[np.datetime64, dict[str, float]]],
) -> None:
    for number, row in enumerate(rows, start=first):
        if not any(cell.strip() for cell in row):
            continue
        try:
            end, values = read(row)
            _plausible(values)
        except (ValueError, IndexError) as error:
            reading.problems.append(f"row {number}: {error}")
            continue
        reading.take(number, end, values)


def _plausible(values: dict[str, float]) -> None:
    wind, temperature, rain = values["wind"], values["temperature"], values["rain"]
    if not isnan(wind) and not 0 <= wind <= MOST_WIND:
        raise ValueError(f"wind {wind:g} m/s; write one from 0 to {MOST_WIND:g}")
    if not isnan(temperature) and not -90 <= temperature <= 60:
        raise ValueError(f"temperature {temperature:g} deg C; write one from -90 to 60")
    if not isnan(rain) and not 0 <= rain <= 2000:
        raise ValueError(f"rain {rain:g} mm; write one from 0 to 2000")


def _number(cell: str, missing: Sequence[float]) -> float:
    if not cell.strip():
        return nan
    value = float(cell)
    if not isfinite(value):
        raise ValueError(f'"{cell}" is not a number')
    return nan if value in missing else value


def _end(year: int, month: int, day: int, hour: int) -> np.datetime64:
    if not 1 <= hour <= 24:
        raise ValueError(f"hour {hour}; write 1 to 24")
    return np.datetime64(f"{year:04d}-{month:02d}-{day:02d}T00", "h") + np.timedelta64(
        hour, "h"
    )


def _month(moment: np.datetime64) -> int:
    return int(moment.astype("datetime64[M]").astype(int)) % 12 + 1


def _station(
    reading: _Reading, row: Sequence[str], name: int, at: tuple[int, int, int]
) -> tuple[str, timedelta]:
    """Name and clock of the station; its place on the globe is only looked over."""
    try:
        zone, latitude, longitude = (float(row[number]) for number in at)
    except (ValueError, IndexError):
        reading.problems.append("row 1: time zone, latitude or longitude is not a number")
        return "", timedelta()
    if not -12 <= zone <= 14:
        reading.problems.append(f"row 1: time zone {zone:g} h; write one from -12 to 14")
        return "", timedelta()
    if not (abs(latitude) <= 90 and abs(longitude) <= 180):
        reading.problems.append(f"row 1: latitude {latitude:g}, longitude {longitude:g} deg")
    # A clock far from the sun's would put every hour of the day in the wrong place.
    elif abs(zone - longitude / 15.0) > 3.5:
        reading.problems.append(
            f"row 1: time zone {zone:g} h at longitude {longitude:g} deg; is west negative?"
        )
    return row[name].strip(), timedelta(hours=zone)


def _finish(reading: _Reading, place: str, offset: timedelta, form: str) -> WeatherHours:
    if not reading.problems and not reading.ends:
        reading.problems.append("no hours below the heads")
    if reading.problems:
        raise PlanError(reading.path, reading.problems)
    columns = {key: np.array(values) for key, values in reading.columns.items()}
    begins: Hours = np.array([end - HOUR for end in reading.ends], dtype="datetime64[h]")
    blank = np.full(len(begins), np.nan)
    return WeatherHours(
        place=place,
        source=f"{reading.path.name} ({form})",
        offset=offset,
        height=STATION_HEIGHT,
        begins=begins,
        wind=columns["wind"],
        gust=blank,
        rain=_hourly_rain(begins, columns["rain"], columns["over"]),
        temperature=columns["temperature"],
        lightning=blank,
    )


def _hourly_rain(begins: Hours, depth: Floats, over: Floats) -> Floats:
    """Rain in each hour, from depths gathered over one or more hours.

    A depth gathered over several hours is spread over them, so that none of them counts
    as dry; no rain over several hours makes each of them dry. An hour's own value wins.
    """
    known = np.isfinite(depth) & (over >= 1) & (over <= MOST_GATHERED)
    rain = np.where(known & (over == 1), depth, np.nan)
    follows = np.concatenate([[False], np.diff(begins) == HOUR])
    for row in np.flatnonzero(known & (over > 1)):
        n = int(over[row])
        for back in range(n):
            if back and not follows[row - back + 1]:
                break
            if np.isnan(rain[row - back]):
                rain[row - back] = depth[row] / n
    return rain
