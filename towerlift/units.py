"""Quantities as people write them, turned into SI numbers.

A number without a unit is refused: one pound read as one kilogram can kill.
Only the units listed here are accepted, so that a slip of the pen (``M`` for
``m``) is an error and not another quantity.
"""

import re
from contextlib import suppress
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from math import ceil, isfinite
from typing import Any

import pint

from towerlift.errors import UnitError


class Dimension(StrEnum):
    """What a quantity measures."""

    LENGTH = "length"
    MASS = "mass"
    FORCE = "force"
    ANGLE = "angle"
    TIME = "time"
    SPEED = "speed"
    AREA = "area"
    DENSITY = "density"
    SURFACE_DENSITY = "mass per area"
    STIFFNESS = "stiffness"
    PRESSURE = "pressure"
    ENERGY = "energy"
    SHARE = "share"
    COUNT = "count"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Accepted:
    si: str
    written: dict[str, str]


# What may be written, and the name pint knows it by. The first is SI.
_ACCEPTED: dict[Dimension, _Accepted] = {
    Dimension.LENGTH: _Accepted(
        si="m",
        written={
            "m": "m",
            "mm": "mm",
            "cm": "cm",
            "ft": "foot",
            "in": "inch",
            "yd": "yard",
        },
    ),
    Dimension.MASS: _Accepted(
        si="kg", written={"kg": "kg", "g": "gram", "t": "metric_ton", "lb": "pound"}
    ),
    Dimension.FORCE: _Accepted(
        si="N",
        written={
            "N": "newton",
            "kN": "kilonewton",
            "lbf": "pound_force",
            "kgf": "kilogram_force",
        },
    ),
    Dimension.ANGLE: _Accepted(
        si="rad", written={"rad": "radian", "deg": "degree", "mrad": "mrad"}
    ),
    Dimension.TIME: _Accepted(
        si="s", written={"s": "second", "min": "minute", "h": "hour", "d": "day"}
    ),
    Dimension.SPEED: _Accepted(
        si="m/s",
        written={
            "m/s": "m/s",
            "m/min": "m/minute",
            "km/h": "km/hour",
            "mph": "mile/hour",
            "kn": "knot",
            "ft/min": "foot/minute",
        },
    ),
    Dimension.AREA: _Accepted(
        si="m^2", written={"m^2": "m**2", "m²": "m**2", "ft^2": "foot**2", "mm^2": "mm**2"}
    ),
    Dimension.DENSITY: _Accepted(
        si="kg/m^3",
        written={"kg/m^3": "kg/m**3", "kg/m³": "kg/m**3", "lb/ft^3": "pound/foot**3"},
    ),
    Dimension.SURFACE_DENSITY: _Accepted(
        si="kg/m^2",
        written={"kg/m^2": "kg/m**2", "kg/m²": "kg/m**2", "lb/ft^2": "pound/foot**2"},
    ),
    Dimension.STIFFNESS: _Accepted(
        si="N/m",
        written={
            "N/m": "N/m",
            "kN/m": "kN/m",
            "N/mm": "N/mm",
            "lbf/in": "pound_force/inch",
        },
    ),
    Dimension.PRESSURE: _Accepted(
        si="Pa",
        written={"Pa": "Pa", "kPa": "kPa", "MPa": "MPa", "N/mm^2": "N/mm**2", "psi": "psi"},
    ),
    Dimension.ENERGY: _Accepted(
        si="J", written={"J": "joule", "kJ": "kilojoule", "ft*lbf": "foot*pound_force"}
    ),
    Dimension.SHARE: _Accepted(si="1", written={"1": "dimensionless", "%": "percent"}),
    Dimension.COUNT: _Accepted(si="count", written={"count": "dimensionless"}),
}

# A plan holds nothing above these, in SI; a slipped decimal point is likelier.
_LARGEST: dict[Dimension, float] = {
    Dimension.LENGTH: 1e4,
    Dimension.MASS: 1e7,
    Dimension.FORCE: 1e9,
    Dimension.ANGLE: 100.0,
    Dimension.TIME: 1e9,
    Dimension.SPEED: 1e3,
    Dimension.AREA: 1e7,
    Dimension.DENSITY: 3e4,
    Dimension.SURFACE_DENSITY: 1e5,
    Dimension.STIFFNESS: 1e12,
    Dimension.PRESSURE: 1e12,
    Dimension.ENERGY: 1e9,
    Dimension.SHARE: 1e3,
    Dimension.COUNT: 1e9,
}

_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
# A share in SI is written "0.08 1", its unit being one.
_PART = re.compile(rf"\s*({_NUMBER})(?:\s*([^\s\d+\-.][^\s]*)|\s+(1)(?=\s*$))")


@cache
def _registry() -> Any:
    return pint.UnitRegistry(cache_folder=None)


def si_unit(dimension: Dimension) -> str:
    """SI unit in which a dimension is kept, as a plan writes it."""
    return _ACCEPTED[dimension].si


def written_units(dimension: Dimension) -> tuple[str, ...]:
    """Every unit a plan may use for a dimension."""
    return tuple(_ACCEPTED[dimension].written)


@cache
def unit_factor(unit: str, dimension: Dimension) -> float:
    """SI size of one of a unit.

    Parameters
    ----------
    unit : str
        As written in the plan, such as ``"mm"``.
    dimension : Dimension
        What it is meant to measure.

    Returns
    -------
    factor : float
        SI value of one of `unit`.

    Raises
    ------
    UnitError
        If the unit is not one of those accepted for the dimension.
    """
    accepted = _ACCEPTED[dimension]
    name = accepted.written.get(unit)
    if name is None:
        raise UnitError(
            f'"{unit}" is not a unit of {dimension} here; use one of '
            f"{', '.join(accepted.written)}"
        )
    si_name = accepted.written.get(accepted.si, "dimensionless")
    registry = _registry()
    return float(registry.Quantity(1.0, name).to(si_name).magnitude)


def parse_quantity(text: object, dimension: Dimension) -> float:
    """SI value of a quantity written with its unit.

    Parameters
    ----------
    text : object
        A string such as ``"4.66 m"``, ``"15 ft 3 in"`` or ``"8 %"``.
    dimension : Dimension
        What it must measure.

    Returns
    -------
    value : float
        In SI.

    Raises
    ------
    UnitError
        If it is not a string, has no unit, a unit of another dimension, a
        decimal comma, parts of opposite sign, or is not a finite number that a
        plan could hold.
    """
    if not isinstance(text, str):
        raise UnitError(
            f"unit missing: got {text!r}; write the {dimension} with its unit, "
            f'such as "{_example(str(text), dimension)}"'
        )
    if re.search(r"\d,", text):
        raise UnitError(
            f'"{text}" has a comma; write the {dimension} with a decimal point and no commas'
        )
    total, end, parts = 0.0, 0, 0
    for part in _PART.finditer(text):
        if part.start() != end:
            break
        value = float(part.group(1))
        if parts and value < 0:
            break
        sign = -1.0 if parts and text.lstrip().startswith("-") else 1.0
        unit = part.group(2) or part.group(3)
        total += sign * value * unit_factor(unit, dimension)
        end, parts = part.end(), parts + 1
    if not parts or text[end:].strip():
        raise UnitError(_unreadable(text, dimension))
    if not isfinite(total) or abs(total) > _LARGEST[dimension]:
        raise UnitError(
            f'"{text}" is beyond any {dimension} a plan can hold '
            f"({_LARGEST[dimension]:g} {si_unit(dimension)})"
        )
    return total


def _example(text: str, dimension: Dimension) -> str:
    if dimension is Dimension.SHARE:  # 0.9 may be meant as 0.9 % or as 90 %
        return "75 %"
    return f"{text} {next(iter(_ACCEPTED[dimension].written))}"


def _unreadable(text: str, dimension: Dimension) -> str:
    if re.fullmatch(rf"\s*{_NUMBER}\s*", text):
        example = _example(text.strip(), dimension)
        return (
            f'unit missing: got "{text}"; write the {dimension} with its unit, such as '
            f'"{example}"'
        )
    units = ", ".join(written_units(dimension))
    return f'"{text}" is not a {dimension}; write a number and a unit ({units})'


# Angles and shares are read more easily so, where nothing is lost by it.
_FRIENDLY = {Dimension.ANGLE: "deg", Dimension.SHARE: "%"}


def write_quantity(value: float, dimension: Dimension) -> str:
    """A quantity as a plan writes it, read back to the very same number."""
    friendly = _FRIENDLY.get(dimension)
    if friendly is not None and isfinite(value):
        text = f"{round(value / unit_factor(friendly, dimension), 9)!r} {friendly}"
        with suppress(UnitError):
            if parse_quantity(text, dimension) == value:
                return text
    return f"{float(value)!r} {si_unit(dimension)}"


def rounded_up(value: float, digits: int = 0) -> float:
    """A number that must be borne or met, to so many places, never told smaller than it is.

    What is over by less than a millionth of the last place is taken for a sum's last bit.
    """
    return ceil(value * 10**digits - 1e-6) / 10**digits if isfinite(value) else value


def rounded_down(value: float, digits: int = 0) -> float:
    """A number that holds or is left, to so many places, never told greater than it is."""
    return -rounded_up(-value, digits)
