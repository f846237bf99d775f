"""The raise against the clock: what is known, from when to when."""

from datetime import timedelta, timezone

import pytest

from tests.plans.factory import assemble, at, hoist, install, lift, stage, tiny_plan
from towerlift.motion.clock import clock, day, site_zone
from towerlift.motion.follow import follow_stages
from towerlift.motion.timeline import timeline

HOUR = {"do": "install", "fixture": "gantry", "takes": "1 h"}


def spans_of(*stages, **changes):
    plan = tiny_plan(stages=list(stages), **changes)
    return timeline(plan, follow_stages(plan))


def told(spans, zone=timezone(-timedelta(hours=2))):
    return [
        (
            span.stage,
            span.begins and clock(span.begins, zone),
            span.ends and clock(span.ends, zone),
            bool(span.unknown),
        )
        for span in spans
    ]


def test_a_dated_stage_then_rest():
    assert told(spans_of(stage("a", [HOUR], starts=at("08:00")))) == [
        ("", None, "08:00", False),
        ("a", "08:00", "09:00", False),
        ("a", "09:00", None, False),
    ]


def test_nothing_is_known_of_an_undated_stage():
    spans = spans_of(
        stage("a", [HOUR], starts=at("08:00")),
        stage("b", install("deck")),
        stage("c", install("pendants")),
        stage("d", install("low needles"), starts=at("12:00")),
    )
    assert told(spans) == [
        ("", None, "08:00", False),
        ("a", "08:00", "09:00", False),
        ("b", "09:00", "12:00", True),
        ("d", "12:00", "12:00", False),
        ("d", "12:00", None, False),
    ]
    assert "stage b" in spans[2].unknown


def test_nothing_is_known_before_a_first_stage_without_date():
    spans = spans_of(stage("a", [HOUR]), stage("b", install("deck"), starts=at("12:00")))
    assert told(spans)[0] == ("a", None, "12:00", True)


def test_a_stage_without_steps_changes_nothing():
    spans = spans_of(stage("a", [HOUR], starts=at("08:00")), stage("b", []))
    assert told(spans)[-1] == ("a", "09:00", None, False)


def test_a_haul_whose_time_is_not_known_makes_its_stage_unknown():
    steps = [*install("gantry"), assemble("spire"), *hoist("spire", "spire lift", 15.3)]
    broken = lift("spire lift", "spire", "gantry", (1, 2, 3, 4), pattern="six parts")
    spans = spans_of(
        stage("a", steps, starts=at("08:00")),
        stage("b", install("deck"), starts=at("12:00")),
        lifts=[broken],
    )
    assert told(spans)[:2] == [("", None, "08:00", False), ("a", "08:00", "12:00", True)]


@pytest.mark.parametrize(
    ("first", "second", "seconds"),
    [("07:00", "07:30", -1800), ("08:30", "10:00", 1800), ("09:00", "10:00", 0)],
)
def test_overlap(first, second, seconds):
    work = spans_of(stage("a", [HOUR], starts=at("08:00")))[1]
    shared = [timedelta(hours=int(each[:2]), minutes=int(each[3:])) for each in (first, second)]
    assert work.begins is not None
    midnight = work.begins - timedelta(hours=8)
    assert work.overlap(midnight + shared[0], midnight + shared[1]) == seconds


@pytest.mark.parametrize(
    ("written", "hours"), [("UTC-02:00", -2), ("UTC+05:30", 5.5), ("Etc/GMT+2", -2)]
)
def test_zone_of_the_site(written, hours):
    site = tiny_plan().site.model_copy(update={"time_zone": written})
    begins = spans_of(stage("a", [HOUR], starts=at("08:00")))[1].begins
    assert begins is not None
    assert begins.astimezone(site_zone(site)).utcoffset() == timedelta(hours=hours)


def test_a_zone_that_does_not_exist():
    site = tiny_plan().site.model_copy(update={"time_zone": "Nowhere/Land"})
    with pytest.raises(ValueError, match="Nowhere/Land"):
        site_zone(site)


def test_clock_times_are_those_of_the_site_to_the_nearest_minute():
    begins = spans_of(stage("a", [HOUR], starts=at("08:00")))[1].begins
    assert begins is not None
    zone = timezone(-timedelta(hours=2))
    assert clock(begins + timedelta(seconds=29), zone) == "08:00"
    assert clock(begins + timedelta(seconds=30), zone) == "08:01"
    assert day(begins, zone) == "2027-04-24"
