"""The package's own table of hours: a record, or a forecast."""

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isfinite, nan
from pathlib import Path

import numpy as np

from towerlift.errors import PlanError, UnitError
from towerlift.programme.weather import WeatherHours
from towerlift.units import Dimension, unit_factor, written_units

TIME_COLUMN = "time"
_WIND = re.compile(r"(?P<what>wind|gust) at (?P<height>\d+(?:\.\d+)?) m \[(?P<unit>[^\]]+)\]")
_PLAIN = {
    "rain [mm]": ("rain", 1.0, (0.0, 500.0)),
    "temperature [degC]": ("temperature", 1.0, (-90.0, 60.0)),
    "lightning [%]": ("lightning", 0.01, (0.0, 1.0)),
}
_COLUMNS = "wind at 10 m [m/s], gust at 10 m [m/s], " + ", ".join(_PLAIN)
_MOST_WIND = 120.0  # gusts included [m/s]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Column:
    key: str
    factor: float
    least: float
    most: float
    head: str


def read_hours(path: Path) -> WeatherHours:
    """Read a table of hours.

    Parameters
    ----------
    path : Path
        CSV with the columns "time" (beginning of the hour, with its offset from UTC) and
        "wind at 10 m [m/s]"; "gust at 10 m [m/s]", "rain [mm]", "temperature [degC]" and
        "lightning [%]" where they are known. Any height and any unit of speed will do; an
        empty cell is not known.

    Returns
    -------
    hours : WeatherHours
        Earliest first; hours may be left out.

    Raises
    ------
    PlanError
        If it cannot be read; every column and row that is wrong is named.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.reader(file))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise PlanError(path, [f"{path.name} cannot be read: {error}"]) from None
    problems: list[str] = []
    height, columns = _heads([cell.strip() for cell in rows[0]] if rows else [], problems)
    if problems:
        raise PlanError(path, problems)
    times: list[datetime] = []
    values: dict[str, list[float]] = {}
    for number, row in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in row):
            continue
        try:
            when, read = _row(row, columns)
        except ValueError as error:
            problems.append(f"row {number}: {error}")
            continue
        problems += _misplaced(number, when, times)
        times.append(when)
        for key, value in read.items():
            values.setdefault(key, []).append(value)
    if not problems and not times:
        problems.append("no hours below the heads")
    if problems:
        raise PlanError(path, problems)
    return _hours(path, times, values, height)


def _heads(heads: Sequence[str], problems: list[str]) -> tuple[float, list[_Column | None]]:
    columns: list[_Column | None] = []
    heights: dict[float, str] = {}
    if not heads or heads[0] != TIME_COLUMN:
        problems.append(f'first row begins "{heads[0] if heads else ""}"; write "time"')
    for head in heads[1:]:
        column = None
        if head in _PLAIN:
            key, factor, (least, most) = _PLAIN[head]
            column = _Column(key=key, factor=factor, least=least, most=most, head=head)
        elif match := _WIND.fullmatch(head):
            column = _wind_column(head, match, problems)
            heights[float(match["height"])] = head
        else:
            problems.append(f'column "{head}" is not known; write any of: {_COLUMNS}')
        if column is not None and column.key in [each.key for each in columns if each]:
            problems.append(f'column "{head}" gives {column.key} a second time')
        columns.append(column)
    if not any(each is not None and each.key == "wind" for each in columns):
        problems.append('no column of wind; write "wind at 10 m [m/s]"')
    if len(heights) > 1:
        problems.append(
            f"wind and gust are at different heights: {', '.join(heights.values())}"
        )
    if any(not height > 0 for height in heights):
        problems.append("wind at 0 m; write the height of the anemometer above ground")
    return next(iter(heights), 0.0), columns


def _wind_column(head: str, match: re.Match[str], problems: list[str]) -> _Column | None:
    try:
        factor = unit_factor(match["unit"], Dimension.SPEED)
    except UnitError:
        units = ", ".join(written_units(Dimension.SPEED))
        problems.append(f'column "{head}": unit "{match["unit"]}"; write one of {units}')
        return None
    return _Column(key=match["what"], factor=factor, least=0.0, most=_MOST_WIND, head=head)


def _row(
    row: Sequence[str], columns: Sequence[_Column | None]
) -> tuple[datetime, dict[str, float]]:
    if len(row) != len(columns) + 1:
        raise ValueError(f"{len(row)} cells under {len(columns) + 1} heads")
    when = datetime.fromisoformat(row[0].strip())
    if when.tzinfo is None:
        raise ValueError(f"time {row[0]} has no offset; write 2027-05-01T08:00:00-02:00")
    if when.minute or when.second or when.microsecond:
        raise ValueError(f"time {row[0]} is not a whole hour")
    values = {}
    for cell, column in zip(row[1:], columns, strict=True):
        if column is None:
            continue
        value = nan
        if cell.strip():
            value = float(cell) * column.factor
            if not (isfinite(value) and column.least <= value <= column.most):
                raise ValueError(f"{column.head}: {cell} cannot be meant")
        values[column.key] = value
    if values.get("gust", nan) < values["wind"]:
        raise ValueError("the gust is less than the mean wind")
    return when, values


def _misplaced(number: int, when: datetime, times: Sequence[datetime]) -> list[str]:
    if not times:
        return []
    found = []
    if not when > times[-1]:
        found.append(f"row {number}: {when} is not after {times[-1]}")
    if when.utcoffset() != times[0].utcoffset():
        found.append(f"row {number}: its offset is not that of the first row; keep one offset")
    return found


def _hours(
    path: Path, times: Sequence[datetime], values: dict[str, list[float]], height: float
) -> WeatherHours:
    offset = times[0].utcoffset() or timedelta()
    plain = [when.replace(tzinfo=None) for when in times]
    blank = np.full(len(times), np.nan)
    columns = {key: np.array(column) for key, column in values.items()}
    return WeatherHours(
        place=path.stem,
        source=f"{path.name} (table of hours, each from its time on)",
        offset=offset,
        height=height,
        begins=np.array(plain, dtype="datetime64[h]"),
        wind=columns["wind"],
        gust=columns.get("gust", blank),
        rain=columns.get("rain", blank),
        temperature=columns.get("temperature", blank),
        lightning=columns.get("lightning", blank),
    )
