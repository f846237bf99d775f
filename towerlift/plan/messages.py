"""What is wrong with one value of a plan, in plain English."""

from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from towerlift.plan.fields import Field, Holds, fields_of, steps_by_name, wanted
from towerlift.plan.model import Plan
from towerlift.plan.places import Loc, nearest, shown


def plain_place(model: type[BaseModel], loc: Loc) -> tuple[Loc, Field | None, type[BaseModel]]:
    """Where a validation error stands, as the plan writes it.

    Parameters
    ----------
    model : type
        What was validated.
    loc : tuple of str or int
        Place by pydantic, which puts the name of a step among the keys.

    Returns
    -------
    at : tuple of str or int
        Place without it.
    field : Field or None
        The key it is at or in; None where the key is not known.
    model : type
        The model that key belongs to.
    """
    at: Loc = ()
    field: Field | None = None
    inner: type[BaseModel] | None = model
    steps: Mapping[str, type[BaseModel]] = {}
    for part in loc:
        if isinstance(part, str) and part in steps and inner is None:
            inner = model = steps[part]
            continue
        at += (part,)
        if isinstance(part, int):
            if field is not None and field.holds is Holds.ROWS:
                inner = model = field.models[0]
            elif field is not None and field.holds is Holds.STEPS:
                inner, steps = None, steps_by_name(field)
            continue
        if inner is None:
            continue
        model = inner
        field = fields_of(inner).get(part)
        inner = field.models[0] if field is not None and field.holds is Holds.TABLE else None
    return at, field, model


def in_words(error: ErrorDetails, field: Field | None, model: type[BaseModel]) -> str:
    """One validation error: what was found, and what would be right.

    Parameters
    ----------
    error : ErrorDetails
        From pydantic.
    field : Field or None
        The key it is at.
    model : type
        The model that key belongs to.

    Returns
    -------
    words : str
        Without the place.
    """
    kind, got, context = error["type"], error["input"], error.get("ctx", {})
    if kind == "missing" or got is None:
        return f"missing; write {_wanted_at(error, field)}"
    if kind == "extra_forbidden":
        return _unknown_key(error, model)
    if kind in ("union_tag_not_found", "union_tag_invalid"):
        return _wrong_step(got, field)
    if kind == "value_error":
        text = error["msg"].removeprefix("Value error, ")
        return text if "got" in text or str(got) in text else f"got {shown(got)}; {text}"
    if kind == "timezone_aware":
        return (
            f"got {shown(got)}, which has no offset from UTC; write {_wanted_at(error, field)}"
        )
    return f"got {shown(got)}; {_bound(kind, context) or 'write ' + _wanted_at(error, field)}"


def _unknown_key(error: ErrorDetails, model: type[BaseModel]) -> str:
    key = str(error["loc"][-1])
    if key in fields_of(Plan) and len(error["loc"]) > 1:
        return (
            f"unknown key; {key} belongs to the plan itself: write it above the first "
            "[table] of the file"
        )
    return f"unknown key; {nearest(key, list(fields_of(model)))}"


def _wanted_at(error: ErrorDetails, field: Field | None) -> str:
    last = error["loc"][-1] if error["loc"] else ""
    if field is None:
        return "a table with the keys of a plan"
    if isinstance(last, int):
        if field.holds in (Holds.ROWS, Holds.STEPS):
            return wanted(field).replace("a list of tables, each with", "a table with")
        if field.holds is Holds.POINT or (
            field.holds is Holds.POINTS and len(error["loc"]) > 1 and _two_deep(error)
        ):
            return 'a length with its unit, such as "320 mm"'
        if field.holds is Holds.LIST:
            return wanted(field).replace("a list of", "one of" if field.choices else "", 1)
    return wanted(field)


def _two_deep(error: ErrorDetails) -> bool:
    return all(isinstance(part, int) for part in error["loc"][-2:])


def _wrong_step(got: object, field: Field | None) -> str:
    names = list(steps_by_name(field)) if field is not None else []
    listing = ", ".join(f'"{name}"' for name in names)
    if isinstance(got, dict) and isinstance(got.get("do"), str):
        return f'unknown step "{got["do"]}"; {nearest(got["do"], names)} (steps are {listing})'
    return f"got {shown(got)}, which does not say what to do; write do = one of {listing}"


def _bound(kind: str, context: Mapping[str, Any]) -> str:
    bounds = {
        "greater_than_equal": ("ge", "write {} or more"),
        "less_than_equal": ("le", "write {} or less"),
        "greater_than": ("gt", "write more than {}"),
        "less_than": ("lt", "write less than {}"),
        "too_short": ("min_length", "write at least {}"),
        "too_long": ("max_length", "write at most {}"),
    }
    if kind == "finite_number":
        return "write a finite number"
    if kind not in bounds:
        return ""
    key, words = bounds[kind]
    return words.format(context[key])
