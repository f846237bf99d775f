"""Field types of the plan: SI numbers that are written as text with a unit."""

import math
from typing import Annotated

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    PlainSerializer,
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
        raise ValueError(f"must be greater than zero, got {value:g} (SI)")
    return value


def _not_negative(value: float) -> float:
    if not value >= 0:
        raise ValueError(f"must not be negative, got {value:g} (SI)")
    return value


def _within_one(value: float) -> float:
    if not 0 < value <= 1:
        raise ValueError(f"must be above 0 and not above 1 (100 %), got {value:g}")
    return value


def _name(value: str) -> str:
    if not value.strip() or value != value.strip():
        raise ValueError(
            f"a name must not be blank or begin or end with a space, got {value!r}"
        )
    return value


_L, _M, _F = Dimension.LENGTH, Dimension.MASS, Dimension.FORCE

Coordinate = Annotated[float, _reader(_L), _writer(_L), _schema(_L)]
Length = Annotated[float, _reader(_L), AfterValidator(_positive), _writer(_L), _schema(_L)]
Allowance = Annotated[
    float, _reader(_L), AfterValidator(_not_negative), _writer(_L), _schema(_L)
]
Mass = Annotated[float, _reader(_M), AfterValidator(_positive), _writer(_M), _schema(_M)]
Force = Annotated[float, _reader(_F), AfterValidator(_positive), _writer(_F), _schema(_F)]
Angle = Annotated[
    float, _reader(Dimension.ANGLE), _writer(Dimension.ANGLE), _schema(Dimension.ANGLE)
]
Duration = Annotated[
    float,
    _reader(Dimension.TIME),
    AfterValidator(_not_negative),
    _writer(Dimension.TIME),
    _schema(Dimension.TIME),
]
Speed = Annotated[
    float,
    _reader(Dimension.SPEED),
    AfterValidator(_positive),
    _writer(Dimension.SPEED),
    _schema(Dimension.SPEED),
]
Area = Annotated[
    float,
    _reader(Dimension.AREA),
    AfterValidator(_positive),
    _writer(Dimension.AREA),
    _schema(Dimension.AREA),
]
Density = Annotated[
    float,
    _reader(Dimension.DENSITY),
    AfterValidator(_positive),
    _writer(Dimension.DENSITY),
    _schema(Dimension.DENSITY),
]
SurfaceDensity = Annotated[
    float,
    _reader(Dimension.SURFACE_DENSITY),
    AfterValidator(_positive),
    _writer(Dimension.SURFACE_DENSITY),
    _schema(Dimension.SURFACE_DENSITY),
]
Share = Annotated[
    float,
    _reader(Dimension.SHARE),
    AfterValidator(_within_one),
    _writer(Dimension.SHARE),
    _schema(Dimension.SHARE),
]
AnyShare = Annotated[
    float,
    _reader(Dimension.SHARE),
    AfterValidator(_not_negative),
    _writer(Dimension.SHARE),
    _schema(Dimension.SHARE),
]
Point = tuple[Coordinate, Coordinate, Coordinate]
Name = Annotated[str, AfterValidator(_name)]


def distance(start: Point, end: Point) -> float:
    """Distance between two points. [m]"""
    return math.dist(start, end)
