"""Field types of the plan: SI numbers that are written as text with a unit."""

import math
import re
from datetime import date, datetime
from typing import Annotated, Literal

from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    PlainSerializer,
    Strict,
    WithJsonSchema,
)

from towerlift.errors import UnitError
from towerlift.units import Dimension, parse_quantity, write_quantity, written_units


class PlanModel(BaseModel):
    """Base of everything in a plan: frozen, and no key is ignored."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


def _reader(dimension: Dimension) -> BeforeValidator:
    def read(value: object) -> float:
        try:
            return parse_quantity(value, dimension)
        except UnitError as error:
            raise ValueError(str(error)) from None

    return BeforeValidator(read)


def _writer(dimension: Dimension) -> PlainSerializer:
    def write(value: float) -> str:
        return write_quantity(value, dimension)

    return PlainSerializer(write, return_type=str)


def _schema(dimension: Dimension) -> WithJsonSchema:
    units = ", ".join(written_units(dimension))
    return WithJsonSchema(
        {"type": "string", "description": f"{dimension} with its unit: {units}"}
    )


def _positive(value: float) -> float:
    if not value > 0:
        raise ValueError("must be greater than zero")
    return value


def _not_negative(value: float) -> float:
    if not value >= 0:
        raise ValueError("must not be negative")
    return value


def _within_one(value: float) -> float:
    if not 0 < value <= 1:
        raise ValueError("must be above 0 and not above 1 (100 %)")
    return value


def _name(value: str) -> str:
    if not value.strip() or value != value.strip():
        raise ValueError(
            f"a name must not be blank or begin or end with a space, got {value!r}"
        )
    return value


def _written_as(pattern: str, example: str) -> BeforeValidator:
    # Without this, a bare number would pass for seconds since 1970.
    form = re.compile(pattern)

    def check(value: object) -> object:
        if isinstance(value, date | datetime):
            return value
        if not (isinstance(value, str) and form.fullmatch(value)):
            raise ValueError(f"must be written as {example}")
        return value

    return BeforeValidator(check)


_L, _M, _F = Dimension.LENGTH, Dimension.MASS, Dimension.FORCE
_above_zero = AfterValidator(_positive)
_from_zero = AfterValidator(_not_negative)

# The dimension is put first in each, so that tables and messages can find it.
Coordinate = Annotated[float, _L, _reader(_L), _writer(_L), _schema(_L)]
_E = Dimension.ENERGY
Energy = Annotated[float, _E, _reader(_E), _above_zero, _writer(_E), _schema(_E)]
Length = Annotated[float, _L, _reader(_L), _above_zero, _writer(_L), _schema(_L)]
Allowance = Annotated[float, _L, _reader(_L), _from_zero, _writer(_L), _schema(_L)]
Mass = Annotated[float, _M, _reader(_M), _above_zero, _writer(_M), _schema(_M)]
Force = Annotated[float, _F, _reader(_F), _above_zero, _writer(_F), _schema(_F)]
Angle = Annotated[
    float,
    Dimension.ANGLE,
    _reader(Dimension.ANGLE),
    _writer(Dimension.ANGLE),
    _schema(Dimension.ANGLE),
]
Duration = Annotated[
    float,
    Dimension.TIME,
    _reader(Dimension.TIME),
    _from_zero,
    _writer(Dimension.TIME),
    _schema(Dimension.TIME),
]
Speed = Annotated[
    float,
    Dimension.SPEED,
    _reader(Dimension.SPEED),
    _above_zero,
    _writer(Dimension.SPEED),
    _schema(Dimension.SPEED),
]
Area = Annotated[
    float,
    Dimension.AREA,
    _reader(Dimension.AREA),
    _above_zero,
    _writer(Dimension.AREA),
    _schema(Dimension.AREA),
]
Density = Annotated[
    float,
    Dimension.DENSITY,
    _reader(Dimension.DENSITY),
    _above_zero,
    _writer(Dimension.DENSITY),
    _schema(Dimension.DENSITY),
]
SurfaceDensity = Annotated[
    float,
    Dimension.SURFACE_DENSITY,
    _reader(Dimension.SURFACE_DENSITY),
    _above_zero,
    _writer(Dimension.SURFACE_DENSITY),
    _schema(Dimension.SURFACE_DENSITY),
]
Pressure = Annotated[
    float,
    Dimension.PRESSURE,
    _reader(Dimension.PRESSURE),
    _above_zero,
    _writer(Dimension.PRESSURE),
    _schema(Dimension.PRESSURE),
]
Stiffness = Annotated[
    float,
    Dimension.STIFFNESS,
    _reader(Dimension.STIFFNESS),
    _above_zero,
    _writer(Dimension.STIFFNESS),
    _schema(Dimension.STIFFNESS),
]
Share = Annotated[
    float,
    Dimension.SHARE,
    _reader(Dimension.SHARE),
    AfterValidator(_within_one),
    _writer(Dimension.SHARE),
    _schema(Dimension.SHARE),
]
AnyShare = Annotated[
    float,
    Dimension.SHARE,
    _reader(Dimension.SHARE),
    _from_zero,
    _writer(Dimension.SHARE),
    _schema(Dimension.SHARE),
]
Point = tuple[Coordinate, Coordinate, Coordinate]
Name = Annotated[str, AfterValidator(_name)]
# Strict: "8", 8.5 and true are not whole numbers, whatever could be made of them.
Whole = Annotated[int, Strict()]
Ratio = Annotated[float, Strict()]
Flag = Annotated[bool, Strict()]
Instant = Annotated[
    AwareDatetime,
    _written_as(
        r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:\d\d)?",
        "a date, a time and an offset from UTC, such as 2027-04-28T15:00:00-02:00",
    ),
]
Day = Annotated[date, _written_as(r"\d{4}-\d\d-\d\d", "a date, such as 2027-04-28")]
Weekday = Literal["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
ClockTime = Annotated[
    str,
    _written_as(r"([01]\d|2[0-3]):[0-5]\d|24:00", 'a time of day, such as "07:30"'),
]
StateName = Literal[
    "ground",
    "assembling",
    "complete",
    "slung",
    "floated",
    "moving",
    "parked",
    "secured",
    "locked",
    "transferred",
]


def distance(start: Point, end: Point) -> float:
    """Distance between two points. [m]"""
    return math.dist(start, end)
