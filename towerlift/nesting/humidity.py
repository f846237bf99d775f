"""The humidity calendar of a section: what is left to spare, day by day."""

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import isfinite
from pathlib import Path

import numpy as np

from towerlift.errors import PlanError
from towerlift.nesting.bench import Bench, Setting
from towerlift.nesting.curves import Floats
from towerlift.nesting.faces import face_gaps
from towerlift.nesting.movement import FACES, SectionGrowth, nest_growth, section_growth
from towerlift.nesting.shims import named
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
    """What is left day by day.

    Attributes
    ----------
    what : str
        What is left, in a few words.
    days : tuple of date
        Rising.
    moisture : mapping of str to (n,) float
        Of each species, share of the oven-dry mass.
    left : (n,) float
        What is left. [m]
    limit : float
        What must be. [m]
    lag : float
        Of the thinnest piece behind the air. [s]
    """

    what: str
    days: tuple[date, ...]
    moisture: Mapping[str, Floats]
    left: Floats
    limit: float
    lag: float

    @property
    def last_safe(self) -> date | None:
        """Last day before the first on which too little is left.

        None where the first day already falls short.
        """
        short = np.flatnonzero(~(self.left >= self.limit))
        if not len(short):
            return self.days[-1]
        return None if short[0] == 0 else self.days[int(short[0]) - 1]

    @property
    def falls_short(self) -> tuple[date, ...]:
        """Days on which too little is left."""
        short = np.flatnonzero(~(self.left >= self.limit))
        return tuple(self.days[int(k)] for k in short)


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Days of air, and how quickly wood follows them.

    Attributes
    ----------
    days : tuple of Air
        Two or more, rising.
    lag_100 : float
        Lag of a piece 100 mm thick; 0 lets the wood follow the air at once, which is
        quicker than any wood does. [s]
    """

    days: tuple[Air, ...]
    lag_100: float = 0.0


def masonry_calendar(bench: Bench, setting: Setting, weather: Weather) -> Calendar | str:
    """What a section leaves to spare to the masonry, day by day.

    Parameters
    ----------
    bench : Bench
        The section.
    setting : Setting
        What is turned; its moisture is not used.
    weather : Weather
        Days of air.

    Returns
    -------
    calendar : Calendar or str
        A reason where moisture or movement of the wood is not known.
    """
    moisture = _wood(bench, weather)
    if isinstance(moisture, str):
        return moisture
    line, met, reach = bench.line(setting), bench.met(setting), bench.reach(setting)
    dry = bench.allowances(replace(setting, moisture=None))
    bare = face_gaps(bench.walls, reach, met, line, replace(dry, swelling=np.zeros(4)))
    least = np.full(4, np.inf)
    for k, face in enumerate(FACES):
        worst = bare.worst(face)
        least[k] = np.inf if worst is None else float(bare.spare[worst])
    left = []
    for k in range(len(weather.days)):
        growth = _growth(bench, moisture, k)
        if growth.missing:
            return "; ".join(growth.missing)
        sides = np.roll([growth.sides[face] for face in FACES], -setting.quarter_turns)
        left.append(float((least - sides).min()))
    return Calendar(
        what=f"{bench.section.name}, least to spare to the masonry",
        days=tuple(d.day for d in weather.days),
        moisture=moisture,
        left=np.array(left),
        limit=0.0,
        lag=_lag(bench, weather),
    )


def nest_calendar(
    outer: Bench, inner: Bench, weather: Weather, *, limit: float
) -> Calendar | str:
    """What is left of the running gap of a section within another, day by day.

    Parameters
    ----------
    outer, inner : Bench
        The one around and the one within, that runs on it by its shoes.
    weather : Weather
        Days of air.
    limit : float
        Running gap that must be left when wet. [m]

    Returns
    -------
    calendar : Calendar or str
        A reason where it is not known.
    """
    running = [
        shoe.running
        for contact in inner.plan.contacts
        if contact.kind == "shoe on runner"
        and (contact.of, contact.on) == (inner.section.name, outer.section.name)
        for shoe in inner.section.shoes
        if named(contact.marks, shoe.member)
    ]
    if not running:
        return f"no shoe of {inner.section.name} runs on {outer.section.name}"
    around = _wood(outer, weather)
    if isinstance(around, str):
        return around
    within = _wood(inner, weather)
    if isinstance(within, str):
        return within
    left = []
    for k in range(len(weather.days)):
        grown = _growth(outer, around, k), _growth(inner, within, k)
        missing = [*grown[0].missing, *grown[1].missing]
        if missing or outer.chain is None:
            return "; ".join(dict.fromkeys(missing)) or "no wood is drawn"
        loss = max(nest_growth(*grown, outer.chain).values())
        left.append(min(running) - loss)
    return Calendar(
        what=f"{inner.section.name} in {outer.section.name}, running gap left",
        days=tuple(d.day for d in weather.days),
        moisture=within,
        left=np.array(left),
        limit=limit,
        lag=_lag(inner, weather),
    )


def _wood(bench: Bench, weather: Weather) -> dict[str, Floats] | str:
    """Moisture of each species of a section, day by day."""
    times = np.array([DAY * (d.day - weather.days[0].day).days for d in weather.days])
    target = equilibrium_moisture(
        np.array([d.temperature_c for d in weather.days]),
        np.array([d.humidity for d in weather.days]),
    )
    if bench.chain is None:
        return f"{bench.section.name} is not drawn by members"
    used = {member.species for member in bench.chain.members}
    dry = [s.name for s in bench.plan.species if s.name in used and s.moisture is None]
    if dry:
        return f"how wet it was when it was cut is not given of: {', '.join(dry)}"
    lag = _lag(bench, weather)
    return {
        s.name: lagged(times, target, float(s.moisture or 0.0), lag)
        for s in bench.plan.species
        if s.name in used
    }


def _lag(bench: Bench, weather: Weather) -> float:
    thickness = min((min(m.breadth, m.depth) for m in bench.section.members), default=0.1)
    return lag_for(thickness, weather.lag_100) if weather.lag_100 > 0 else 0.0


def _growth(bench: Bench, moisture: Mapping[str, Floats], day: int) -> SectionGrowth:
    starts = {s.name: float(s.moisture or 0.0) for s in bench.plan.species}
    change = {name: float(series[day]) - starts[name] for name, series in moisture.items()}
    return section_growth(bench.plan, bench.section, change=change, chain=bench.chain)
