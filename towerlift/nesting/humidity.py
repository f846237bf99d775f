"""The humidity calendar of a section: what is left to spare, day by day."""

import csv
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import isfinite
from pathlib import Path

import numpy as np

from towerlift.errors import PlanError
from towerlift.nesting.bench import Bench, Setting
from towerlift.nesting.curves import Floats
from towerlift.timber import equilibrium_moisture, lag_for, lagged

DAY = 86400.0
COLUMNS = ("date", "temperature [degC]", "humidity [%]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """Mean air of one day.

    Attributes
    ----------
    day : date
        Which.
    temperature_c : float
        [deg C]
    humidity : float
        Relative, 0 to 1.
    """

    day: date
    temperature_c: float
    humidity: float


def read_climate(path: Path) -> tuple[Air, ...]:
    """Read a climate file or a forecast.

    Parameters
    ----------
    path : Path
        CSV with the columns date, temperature [degC] and humidity [%].

    Returns
    -------
    days : tuple of Air
        Earliest first.

    Raises
    ------
    PlanError
        If it cannot be read; every row that is wrong is named.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.reader(file))
    except (OSError, UnicodeDecodeError) as error:
        raise PlanError(path, [f"{path.name} cannot be read: {error}"]) from None
    if not rows or tuple(cell.strip() for cell in rows[0]) != COLUMNS:
        got = ",".join(rows[0]) if rows else "nothing"
        raise PlanError(path, [f'first row is "{got}"; write "{",".join(COLUMNS)}"'])
    days: list[Air] = []
    problems: list[str] = []
    for number, row in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in row):
            continue
        try:
            days.append(_air(row))
        except ValueError as error:
            problems.append(f"row {number}: {error}")
            continue
        if len(days) > 1 and not days[-1].day > days[-2].day:
            problems.append(f"row {number}: {days[-1].day} is not after {days[-2].day}")
    if not problems and len(days) < 2:
        problems.append("fewer than two days; a calendar needs two or more")
    if problems:
        raise PlanError(path, problems)
    return tuple(days)


def _air(row: Sequence[str]) -> Air:
    if len(row) != len(COLUMNS):
        raise ValueError(f"{len(row)} cells; write {len(COLUMNS)}: {', '.join(COLUMNS)}")
    day = date.fromisoformat(row[0].strip())
    temperature, humidity = float(row[1]), float(row[2]) / 100.0
    if not (isfinite(temperature) and -40 <= temperature <= 60):
        raise ValueError(f"temperature {row[1]} degC; write one from -40 to 60")
    if not 0 <= humidity <= 1:
        raise ValueError(f"humidity {row[2]} %; write one from 0 to 100")
    return Air(day=day, temperature_c=temperature, humidity=humidity)


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """What is left to spare day by day.

    Attributes
    ----------
    days : tuple of date
        Rising.
    moisture : (n,) float
        Of the wood of the width chain, share of the oven-dry mass.
    swelling, spare : (n,) float
        Most that a side has grown since it was cut, and least to spare. [m]
    lag : float
        With which the wood was taken to follow the air. [s]
    """

    days: tuple[date, ...]
    moisture: Floats
    swelling: Floats
    spare: Floats
    lag: float

    @property
    def last_safe(self) -> date | None:
        """Last day before the first on which something falls short.

        None where the first day already does.
        """
        short = np.flatnonzero(~(self.spare >= 0))
        if not len(short):
            return self.days[-1]
        return None if short[0] == 0 else self.days[int(short[0]) - 1]

    @property
    def falls_short(self) -> tuple[date, ...]:
        """Days on which something falls short."""
        return tuple(self.days[int(k)] for k in np.flatnonzero(~(self.spare >= 0)))


def humidity_calendar(
    bench: Bench,
    setting: Setting,
    days: Sequence[Air],
    *,
    moisture_cut: float,
    lag_100: float = 0.0,
) -> Calendar | str:
    """What a section leaves to spare, day by day.

    Parameters
    ----------
    bench : Bench
        The section.
    setting : Setting
        What is turned; its moisture is not used.
    days : sequence of Air
        Two or more, rising.
    moisture_cut : float
        Moisture at which the pieces were cut to size, and from which they start.
    lag_100 : float
        Lag of a piece 100 mm thick; 0 lets the wood follow the air at once, which
        is quicker than any wood does. [s]

    Returns
    -------
    calendar : Calendar or str
        A reason where the movement of the wood is not known.
    """
    growth = bench.growth(0.01)
    if growth.missing:
        return "; ".join(growth.missing)
    times = np.array([DAY * (d.day - days[0].day).days for d in days])
    target = equilibrium_moisture(
        np.array([d.temperature_c for d in days]), np.array([d.humidity for d in days])
    )
    thickness = min(min(m.breadth, m.depth) for m in bench.section.members)
    lag = lag_for(thickness, lag_100) if lag_100 > 0 else 0.0
    moisture = lagged(times, target, moisture_cut, lag)
    dry = _least(bench, replace(setting, moisture=0.0))
    swollen = _least(bench, replace(setting, moisture=0.01))
    # Growth is linear in moisture up to fibre saturation, beyond which air cannot wet it.
    change = (moisture - moisture_cut) / 0.01
    return Calendar(
        days=tuple(d.day for d in days),
        moisture=moisture,
        swelling=np.asarray(growth.worst * change),
        spare=np.asarray(dry - (dry - swollen) * change),
        lag=lag,
    )


def _least(bench: Bench, setting: Setting) -> float:
    gaps = bench.gaps(setting)
    worst = gaps.worst()
    return float("nan") if worst is None else float(gaps.spare[worst])
