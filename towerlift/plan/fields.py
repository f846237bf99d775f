"""What each key of a plan holds, read off the models themselves."""

import re
import types
from dataclasses import dataclass
from datetime import date, datetime
from enum import Enum, StrEnum
from functools import cache
from inspect import getdoc
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import AwareDatetime, BaseModel

from towerlift.units import Dimension, written_units


class Holds(StrEnum):
    """What one key holds."""

    QUANTITY = "quantity"
    TEXT = "text"
    WHOLE = "whole number"
    NUMBER = "number"
    FLAG = "true or false"
    CHOICE = "choice"
    INSTANT = "time"
    DAY = "day"
    POINT = "point"
    POINTS = "points"
    LIST = "list"
    TABLE = "table"
    ROWS = "rows"
    STEPS = "steps"


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One key of one kind of table.

    Attributes
    ----------
    key : str
        As the plan writes it.
    required : bool
        Whether it must be written.
    dimension : Dimension or None
        Of a quantity.
    choices : tuple of object
        Of a choice.
    element : Holds or None
        What each item of a list is.
    models : tuple of type
        Of a table or rows; several for steps, told apart by ``do``.
    """

    key: str
    holds: Holds
    required: bool
    dimension: Dimension | None = None
    choices: tuple[object, ...] = ()
    element: Holds | None = None
    models: tuple[type[BaseModel], ...] = ()


_PLAIN: dict[type, Holds] = {
    str: Holds.TEXT,
    int: Holds.WHOLE,
    float: Holds.NUMBER,
    bool: Holds.FLAG,
    datetime: Holds.INSTANT,
    AwareDatetime: Holds.INSTANT,
    date: Holds.DAY,
}
_PLAIN_EXAMPLES = {
    Holds.TEXT: "text between quotation marks",
    Holds.WHOLE: "a whole number, such as 4",
    Holds.NUMBER: "a plain number, such as 1.25",
    Holds.FLAG: "true or false",
    Holds.INSTANT: "a time with its offset, such as 2027-04-28T15:00:00-02:00",
    Holds.DAY: "a date, such as 2027-04-28",
    Holds.POINT: 'three lengths with their units, such as ["1.2 m", "0 m", "350 mm"]',
    Holds.POINTS: 'points, such as [["1 m", "0 m", "0 m"], ["-1 m", "0 m", "0 m"]]',
    Holds.LIST: 'a list of text, such as ["A", "B"]',
    Holds.STEPS: 'a list of steps, such as [{ do = "assemble", section = "base" }]',
}
_EXAMPLES = {
    Dimension.LENGTH: "320 mm",
    Dimension.MASS: "2.7 t",
    Dimension.FORCE: "9 kN",
    Dimension.ANGLE: "12 deg",
    Dimension.TIME: "90 s",
    Dimension.SPEED: "0.6 m/s",
    Dimension.AREA: "12 m^2",
    Dimension.DENSITY: "760 kg/m^3",
    Dimension.SURFACE_DENSITY: "25 kg/m^2",
    Dimension.SHARE: "8 %",
}


@cache
def fields_of(model: type[BaseModel]) -> dict[str, Field]:
    """Every key of a kind of table.

    Parameters
    ----------
    model : type
        One of the plan's models.

    Returns
    -------
    fields : dict of str to Field
        By key, in the order in which the model names them.
    """
    return {
        key: _field(key, info.annotation, tuple(info.metadata), required=info.is_required())
        for key, info in model.model_fields.items()
    }


@cache
def steps_by_name(field: Field) -> dict[str, type[BaseModel]]:
    """The models of a list of steps by what ``do`` says."""
    return {get_args(model.model_fields["do"].annotation)[0]: model for model in field.models}


def is_tabular(model: type[BaseModel]) -> bool:
    """Whether a spreadsheet can hold rows of this model: nothing in it is nested."""
    nested = {Holds.TABLE, Holds.STEPS}
    return all(field.holds not in nested for field in fields_of(model).values())


def wanted(field: Field) -> str:
    """What is right for a key, in words, with an example.

    Parameters
    ----------
    field : Field
        The key.

    Returns
    -------
    words : str
        To follow "write".
    """
    if field.dimension is not None and field.holds is Holds.QUANTITY:
        example = _EXAMPLES.get(field.dimension, f"1 {written_units(field.dimension)[0]}")
        return f'a {field.dimension} with its unit, such as "{example}"'
    if field.holds is Holds.CHOICE:
        return "one of " * (len(field.choices) > 1) + ", ".join(
            f'"{choice}"' if isinstance(choice, str) else str(choice)
            for choice in field.choices
        )
    if field.holds is Holds.LIST and field.choices:
        return "a list of " + ", ".join(f'"{choice}"' for choice in field.choices)
    if field.holds in (Holds.ROWS, Holds.TABLE):
        keys = ", ".join(k for k, f in fields_of(field.models[0]).items() if f.required)
        if field.holds is Holds.TABLE:
            return f"a table with {keys}"
        file = ", or the name of a CSV file" if is_tabular(field.models[0]) else ""
        return f"a list of tables, each with {keys}{file}"
    return _PLAIN_EXAMPLES[field.holds]


def described(model: type[BaseModel]) -> dict[str, str]:
    """Descriptions of a model's keys, from the Attributes part of its docstring."""
    text = getdoc(model) or ""
    _, _, attributes = text.partition("Attributes\n----------\n")
    found: dict[str, str] = {}
    for entry in re.split(r"\n(?=\S)", attributes):
        head, _, body = entry.partition("\n")
        names, _, _ = head.partition(":")
        words = " ".join(line.strip() for line in body.splitlines()).strip()
        if words:
            found.update({name.strip(): words for name in names.split(",")})
    return found


def _field(key: str, annotation: Any, metadata: tuple[Any, ...], *, required: bool) -> Field:
    annotation, metadata = _unwrapped(annotation, metadata)
    dimension = next((m for m in metadata if isinstance(m, Dimension)), None)
    if dimension is not None:
        return Field(key=key, holds=Holds.QUANTITY, required=required, dimension=dimension)
    origin, args = get_origin(annotation), get_args(annotation)
    if origin is Literal:
        return Field(key=key, holds=Holds.CHOICE, required=required, choices=args)
    if origin is tuple:
        return _collection(key, args, required=required)
    if issubclass(annotation, BaseModel):
        return Field(key=key, holds=Holds.TABLE, required=required, models=(annotation,))
    if issubclass(annotation, Enum):
        choices = tuple(member.value for member in annotation)
        return Field(key=key, holds=Holds.CHOICE, required=required, choices=choices)
    return Field(key=key, holds=_PLAIN[annotation], required=required)


def _collection(key: str, args: tuple[Any, ...], *, required: bool) -> Field:
    if Ellipsis not in args:
        length = Dimension.LENGTH
        return Field(key=key, holds=Holds.POINT, required=required, dimension=length)
    item, _ = _unwrapped(args[0], ())
    if get_origin(item) in (types.UnionType, Union):
        return Field(key=key, holds=Holds.STEPS, required=required, models=get_args(item))
    inner = _field(key, args[0], (), required=True)
    if inner.holds is Holds.TABLE:
        return Field(key=key, holds=Holds.ROWS, required=required, models=inner.models)
    if inner.holds is Holds.POINT:
        length = Dimension.LENGTH
        return Field(key=key, holds=Holds.POINTS, required=required, dimension=length)
    return Field(
        key=key,
        holds=Holds.LIST,
        required=required,
        choices=inner.choices,
        element=inner.holds,
    )


def _unwrapped(annotation: Any, metadata: tuple[Any, ...]) -> tuple[Any, tuple[Any, ...]]:
    while True:
        origin, args = get_origin(annotation), get_args(annotation)
        if origin is Annotated:
            annotation, metadata = args[0], (*metadata, *args[1:])
        elif origin in (types.UnionType, Union) and type(None) in args:
            rest = [arg for arg in args if arg is not type(None)]
            annotation = Union[tuple(rest)]  # noqa: UP007 - built from a list
        else:
            return annotation, metadata
