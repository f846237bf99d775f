"""Findings: each side of a limit, no value, overrules, order and the JSON record."""

import json
import math

import pytest

from towerlift.findings import Bound, Finding, Limit, Overrule, Verdict, worst_first

AT_LEAST = Limit(value=20.0, unit="mm", bound=Bound.AT_LEAST, source="running clearance")
AT_MOST = Limit(value=20.0, unit="mm", bound=Bound.AT_MOST, source="level of two corners")


def finding(value, limit=AT_LEAST, **other):
    return Finding(
        check="clearance",
        subject="base",
        stage="S1",
        heel=8.5,
        where=(0.0, 2.0, 9.1),
        limit=limit,
        value=value,
        why="as measured",
        **other,
    )


def overruled(value, limit=AT_LEAST):
    new = Limit(value=value, unit="mm", bound=limit.bound, source="overruled by T. Vale")
    return Overrule(limit=new, by="T. Vale, engineer", note="sum 4")


@pytest.mark.parametrize(
    ("limit", "value", "verdict"),
    [
        (AT_LEAST, math.nextafter(20.0, math.inf), Verdict.PASS),
        (AT_LEAST, 20.0, Verdict.PASS),
        (AT_LEAST, math.nextafter(20.0, 0.0), Verdict.FAIL),
        (AT_MOST, math.nextafter(20.0, 0.0), Verdict.PASS),
        (AT_MOST, 20.0, Verdict.PASS),
        (AT_MOST, math.nextafter(20.0, math.inf), Verdict.FAIL),
        (AT_LEAST, None, Verdict.NOT_EVALUATED),
        (AT_MOST, None, Verdict.NOT_EVALUATED),
    ],
)
def test_each_side_of_a_limit(limit, value, verdict):
    assert finding(value, limit).verdict is verdict


@pytest.mark.parametrize(
    ("limit", "value", "margin", "relative"),
    [
        (AT_LEAST, 25.0, 5.0, 0.25),
        (AT_LEAST, 15.0, -5.0, -0.25),
        (AT_MOST, 25.0, -5.0, -0.25),
        (AT_MOST, 15.0, 5.0, 0.25),
        (AT_LEAST, None, None, None),
    ],
)
def test_margins_are_positive_inside(limit, value, margin, relative):
    assert finding(value, limit).margin == margin
    assert finding(value, limit).relative_margin == relative


def test_at_a_limit_of_zero_the_margin_is_not_relative():
    none = Limit(value=0.0, unit="count", bound=Bound.AT_MOST, source="rule of order")
    assert finding(3.0, none).relative_margin == -1.0
    assert finding(0.5, none).relative_margin == -0.5


@pytest.mark.parametrize(
    ("value", "verdict"),
    [
        (11.0, Verdict.PASS),
        (10.0, Verdict.PASS),
        (math.nextafter(10.0, 0.0), Verdict.FAIL),
        (None, Verdict.NOT_EVALUATED),
    ],
)
def test_an_overrule_moves_the_limit_and_nothing_else(value, verdict):
    found = finding(value, overrule=overruled(10.0))
    assert found.verdict is verdict
    assert found.limit.value == 20.0
    assert found.limit_in_force.value == 10.0


def test_an_overrule_may_be_stricter():
    assert finding(25.0, overrule=overruled(30.0)).verdict is Verdict.FAIL


@pytest.mark.parametrize(("by", "note"), [("", "sum 4"), (" ", "sum 4"), ("T. Vale", "")])
def test_an_overrule_needs_a_name_and_a_note(by, note):
    with pytest.raises(ValueError, match="named person and a note"):
        Overrule(limit=AT_LEAST, by=by, note=note)


def test_an_overrule_in_another_unit_or_bound_is_refused():
    with pytest.raises(ValueError, match="overrule is at most in mm, limit is at least in mm"):
        finding(25.0, overrule=overruled(10.0, AT_MOST))
    metres = Limit(value=0.01, unit="m", bound=Bound.AT_LEAST, source="a sum")
    with pytest.raises(ValueError, match="at least in m, limit is at least in mm"):
        finding(25.0, overrule=Overrule(limit=metres, by="T. Vale", note="sum 4"))


def test_without_a_value_it_must_say_why():
    with pytest.raises(ValueError, match="must say why"):
        Finding(
            check="clearance",
            subject="base",
            stage="S1",
            heel=None,
            where=None,
            limit=AT_LEAST,
            value=None,
        )


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_value_is_finite(value):
    with pytest.raises(ValueError, match="finding value must be finite"):
        finding(value)
    with pytest.raises(ValueError, match="limit must be finite"):
        Limit(value=value, unit="mm", bound=Bound.AT_LEAST, source="a sum")


@pytest.mark.parametrize("source", ["", " "])
def test_a_limit_without_a_source_is_refused(source):
    with pytest.raises(ValueError, match="where it comes from"):
        Limit(value=1.0, unit="mm", bound=Bound.AT_LEAST, source=source)


def test_worst_first():
    fails, worse = finding(19.0), finding(5.0)
    unknown = finding(None)
    tight, wide = finding(20.5), finding(90.0)
    mixed = [wide, fails, unknown, tight, worse]
    assert worst_first(mixed) == (worse, fails, unknown, tight, wide)


def test_equal_margins_keep_their_order():
    first, second = finding(15.0, AT_LEAST), finding(25.0, AT_MOST)
    assert worst_first([first, second]) == (first, second)
    assert worst_first([second, first]) == (second, first)


def test_an_overrule_counts_in_the_order():
    cured, failing = finding(12.0, overrule=overruled(10.0)), finding(19.0)
    assert worst_first([cured, failing]) == (failing, cured)


def test_the_record_is_as_documented():
    record = finding(12.0, overrule=overruled(10.0), remedy=("pare the foot", "move the axis"))
    written = json.loads(json.dumps(record.as_record()))
    assert written == {
        "check": "clearance",
        "subject": "base",
        "stage": "S1",
        "heel_m": 8.5,
        "value": 12.0,
        "unit": "mm",
        "limit": 20.0,
        "bound": "at least",
        "margin": 2.0,
        "verdict": "pass",
        "where": [0.0, 2.0, 9.1],
        "why": "as measured",
        "remedy": ["pare the foot", "move the axis"],
        "source": "running clearance",
        "overrule": {"by": "T. Vale, engineer", "note": "sum 4", "limit": 10.0},
    }


def test_the_record_of_what_was_not_evaluated():
    record = finding(None).as_record()
    assert (record["value"], record["margin"]) == (None, None)
    assert record["verdict"] == "not evaluated"
    assert record["overrule"] is None
