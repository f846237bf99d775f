"""The schema describes the written form: text with units, lists or file names."""

import json

from towerlift.plan import Plan, plan_schema
from towerlift.plan.fields import Holds, fields_of, is_tabular

PLAN_LISTS = (
    *("coils", "capstans", "activities", "contacts", "crews", "slings", "fixtures"),
    *("species", "people", "limits", "overrules"),
)
TABULAR = {
    ("Shaft", "survey"),
    *((owner, "members") for owner in ("Section", "Fixture", "FitOut")),
    *((owner, "masses") for owner in ("Section", "FitOut")),
    *(("Section", key) for key in ("lift_points", "shoes", "fids")),
    ("Lift", "lines"),
    *(("Plan", key) for key in PLAN_LISTS),
}


def entry(owner, key):
    schema = plan_schema()
    return (schema if owner == "Plan" else schema["$defs"][owner])["properties"][key]


def test_it_is_json():
    assert json.loads(json.dumps(plan_schema()))["$schema"].startswith(
        "https://json-schema.org"
    )


def test_quantities_are_text_that_says_which_units():
    length = entry("Section", "length")
    assert length["type"] == "string"
    assert length["description"] == "Heel to head. length with its unit: m, mm, cm, ft, in, yd"


def test_lists_that_may_be_tables_say_so():
    for owner, key in TABULAR:
        kinds = {choice["type"] for choice in entry(owner, key)["anyOf"]}
        assert kinds == {"array", "string"}, (owner, key)


def test_lists_of_lists_may_not_be_tables():
    for key in ("sections", "stages", "fit_out"):
        assert entry("Plan", key)["type"] == "array"
        assert not is_tabular(fields_of(Plan)[key].models[0])


def test_every_key_of_the_plan_is_in_it():
    assert set(plan_schema()["properties"]) == set(fields_of(Plan))
    assert all(isinstance(field.holds, Holds) for field in fields_of(Plan).values())


def test_unknown_keys_are_refused_by_it_too():
    schema = plan_schema()
    assert schema["additionalProperties"] is False
    assert all(
        definition.get("additionalProperties") is False
        for definition in schema["$defs"].values()
        if definition["type"] == "object"
    )
