"""Laws of reading and saving: nothing is lost, and nothing crashes."""

import tempfile
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from towerlift.errors import PlanError, UnitError
from towerlift.plan import Plan, new_plan, read_plan, save_plan
from towerlift.units import (
    Dimension,
    parse_quantity,
    unit_factor,
    write_quantity,
    written_units,
)

MEASURED = [dimension for dimension in Dimension if dimension is not Dimension.COUNT]
dimensions = st.sampled_from(MEASURED)
finite = st.floats(-99.0, 99.0)


@given(value=finite, dimension=dimensions)
def test_what_is_written_reads_back_to_the_very_same_number(value, dimension):
    assert parse_quantity(write_quantity(value, dimension), dimension) == value


@given(value=st.floats(0.01, 9.0), dimension=dimensions, data=st.data())
def test_every_unit_scales_as_it_says(value, dimension, data):
    unit = data.draw(st.sampled_from(written_units(dimension)))
    read = parse_quantity(f"{value!r} {unit}", dimension)
    assert read == pytest.approx(value * unit_factor(unit, dimension), rel=1e-15)


@given(text=st.text(max_size=40), dimension=dimensions)
def test_any_text_is_a_quantity_or_a_unit_error(text, dimension):
    try:
        value = parse_quantity(text, dimension)
    except UnitError:
        return
    assert abs(value) < float("inf")


names = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=12).filter(
    lambda name: name == name.strip() and name not in ("shaft", "ground")
)
lengths = st.floats(0.01, 50.0)
texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
moments = st.datetimes(
    datetime(2000, 1, 1),  # noqa: DTZ001 - the zone is drawn beside it
    datetime(2100, 1, 1),  # noqa: DTZ001
    timezones=st.integers(-14 * 60, 14 * 60).map(lambda m: timezone(timedelta(minutes=m))),
)


@st.composite
def plans(draw):
    """Plans that read: any names, any sizes, within what makes sense."""
    section, fixture, person, crew = draw(st.lists(names, min_size=4, max_size=4, unique=True))
    length = draw(st.floats(1.0, 50.0))
    half = draw(st.floats(0.5, 5.0))
    starts = draw(moments)
    member = {"part": draw(names), "species": "oak", "breadth": f"{draw(lengths)!r} m"}
    point = [f"{half!r} m", "0 m", "0 m"]
    top = [f"{half!r} m", "0 m", f"{length!r} m"]
    body = {**member, "depth": f"{draw(lengths)!r} m", "start": point, "end": top}
    z = sorted(draw(st.lists(st.floats(0.0, 90.0), min_size=2, max_size=6, unique=True)))
    wall = {"west": "-9 m", "east": "9 m", "south": "-9 m", "north": "9.5 m"}
    return Plan.model_validate(
        {
            "version": 1,
            "name": draw(names),
            "note": draw(texts),
            "site": {
                "place": draw(names),
                "latitude": f"{draw(st.floats(-90, 90))!r} deg",
                "longitude": f"{draw(st.floats(-180, 180))!r} deg",
                "height": "5 m",
                "time_zone": "UTC+12:00",
                "day_1": draw(st.dates()),
            },
            "people": [{"name": person, "role": draw(names)}],
            "species": [{"name": "oak", "density": "760 kg/m^3", "source": draw(texts)}],
            "shaft": {
                "survey": [{"z": f"{height!r} m", **wall} for height in z],
                "uncertainty": "5 mm",
                "wall_head": f"{z[-1]!r} m",
            },
            "plumb_line": {"x": f"{draw(finite)!r} mm", "y": "0 m", "turn": "1 mrad"},
            "sections": [
                {
                    "name": section,
                    "length": f"{length!r} m",
                    "members": [{"mark": "A", **body}],
                    "lift_points": [{"mark": draw(names), "at": top}],
                    "swelling": f"{draw(lengths)!r} mm",
                    "fabrication": "0 m",
                    "mass_tolerance": f"{draw(st.floats(0.001, 100.0))!r} %",
                }
            ],
            "fixtures": [{"name": fixture, "kind": "deck", "members": [{"mark": "D", **body}]}],
            "crews": [{"name": crew, "need": draw(st.integers(1, 2000)), "signed": 0}],
            "activities": [
                {
                    "name": draw(names),
                    "crew": crew,
                    "count": draw(st.integers(1, 2000)),
                    "place": "on",
                    "section": section,
                    "starts": starts,
                    "ends": starts + timedelta(seconds=draw(st.integers(1, 10**6))),
                    "needs": ["locked"],
                }
            ],
            "stages": [
                {
                    "name": "S1",
                    "title": draw(names),
                    "in_charge": person,
                    "steps": [
                        {"do": "assemble", "section": section, "at": f"{draw(finite)!r} ft"},
                        {"do": "install", "fixture": fixture, "takes": "2 h 5 min"},
                    ],
                }
            ],
        }
    )


@settings(max_examples=60, deadline=None)
@given(plan=plans())
def test_a_saved_plan_reads_back_equal(plan):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plan.toml"
        save_plan(plan, path)
        again = read_plan(path)
        assert again == plan
        assert again.activities[0].starts.utcoffset() == plan.activities[0].starts.utcoffset()


def read_or_refuse(content, name="plan.toml"):
    """Read the good plan with one file's bytes replaced."""
    with tempfile.TemporaryDirectory() as folder:
        path = new_plan(Path(folder) / "p")
        (path.parent / name).write_bytes(content)
        try:
            return read_plan(path)
        except PlanError as error:
            told = error.problems
    assert told
    return None


FILES = st.sampled_from(["plan.toml", "members.csv", "survey.csv", "coils.csv"])
fuzz = settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@fuzz
@given(content=st.binary(max_size=300), name=FILES)
def test_any_bytes_are_a_plan_error(content, name):
    assert read_or_refuse(content, name) is None


scalars = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"]), max_size=10),
    st.integers(-(2**70), 2**70),
    st.floats(),
    st.booleans(),
    st.datetimes(),
    st.dates(),
    st.just(datetime(2027, 5, 3, tzinfo=UTC)),
)
tables = st.recursive(
    scalars,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["name", "do", "members", "of", "file"]), inner),
    ),
    max_leaves=8,
)


@fuzz
@given(whole=st.dictionaries(st.sampled_from(list(Plan.model_fields)), tables, max_size=8))
def test_any_toml_is_a_plan_error(whole):
    assert read_or_refuse(tomli_w.dumps(whole).encode()) is None


@fuzz
@given(data=st.data())
def test_a_good_plan_with_one_byte_changed_reads_or_is_refused(data):
    with tempfile.TemporaryDirectory() as folder:
        path = new_plan(Path(folder) / "p")
        name = data.draw(FILES)
        content = bytearray((path.parent / name).read_bytes())
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    read_or_refuse(bytes(content), name)


@fuzz
@given(
    rows=st.lists(st.lists(st.text("az,;\"'\n .-1eE[]", max_size=6), max_size=12), max_size=6)
)
def test_any_table_is_a_plan_error(rows):
    content = "\n".join(",".join(cells) for cells in rows)
    assert read_or_refuse(content.encode(), "members.csv") is None
