"""The form of a plan file as a JSON Schema, for editors that complete and check."""

import re
from typing import Any

from pydantic import BaseModel

from towerlift.plan.fields import Holds, described, fields_of, is_tabular
from towerlift.plan.model import PLAN_VERSION, Plan

_DIALECT = "https://json-schema.org/draft/2020-12/schema"


def plan_schema() -> dict[str, Any]:
    """JSON Schema of a plan as written: quantities are text with a unit.

    Returns
    -------
    schema : dict
        Draft 2020-12. A list whose rows a spreadsheet can hold may be the name
        of a CSV file instead.
    """
    schema = Plan.model_json_schema(mode="validation")
    definitions = schema.get("$defs", {})
    for model in _models(Plan):
        _complete(schema if model is Plan else definitions[model.__name__], model)
    return {
        "$schema": _DIALECT,
        "title": f"towerlift plan, version {PLAN_VERSION}",
        **{key: value for key, value in schema.items() if key != "title"},
    }


def _models(model: type[BaseModel]) -> list[type[BaseModel]]:
    found = [model]
    for one in found:
        for field in fields_of(one).values():
            found.extend(inner for inner in field.models if inner not in found)
    return found


def _complete(schema: dict[str, Any], model: type[BaseModel]) -> None:
    schema["description"] = (model.__doc__ or "").partition("\n")[0]
    words = described(model)
    for key, field in fields_of(model).items():
        entry = schema["properties"][key]
        if field.holds is Holds.ROWS and is_tabular(field.models[0]):
            file = {
                "type": "string",
                "description": "name of a CSV file below the plan's folder",
            }
            outer = {k: entry.pop(k) for k in ("title", "description", "default") if k in entry}
            entry = schema["properties"][key] = {**outer, "anyOf": [entry, file]}
        if key in words:
            own = re.sub(
                r"\s*\[[^\]]*\]$", "", words[key]
            )  # any unit of that kind may be written
            entry["description"] = f"{own} {entry.get('description', '')}".strip()
