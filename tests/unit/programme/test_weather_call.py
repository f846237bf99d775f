"""Go, wait or come back, and the turning point, against sums by hand."""

from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plans.factory import tiny_plan
from tests.unit.programme.test_weather_windows import hours_of
from towerlift.motion import follow_stages
from towerlift.plan import read_plan
from towerlift.programme.weather import CLEAR, SHUT, UNKNOWN
from towerlift.programme.weather_call import (
    SEAT_TIME,
    GoingBack,
    Leg,
    TimeLeft,
    Word,
    call_aloft,
    call_before,
    latest_start,
    lift_legs,
    time_left,
)

FOLDER = Path(__file__).parents[3] / "meshes" / "tidewatch"
NOW = datetime(2027, 5, 1, 12, 0, tzinfo=UTC)


def leg(**changes):
    given_ = {
        "stage": "L",
        "section": "base",
        "low": 0.0,
        "high": 10.0,
        "up_low": 6000.0,
        "up_high": 1000.0,
        "down_low": 500.0,
        "down_high": 5500.0,
    }
    return Leg(**{**given_, **changes})


def left(minutes):
    return TimeLeft(until=NOW + timedelta(minutes=minutes), why="wind")


def test_turning_point_by_hand():
    """6000 - 500 h = 500 + 500 h at h = 5.5 m."""
    assert leg().turning_point == pytest.approx(5.5)
    assert leg(up_high=5600.0).turning_point is None
    assert leg(no_way_back="cut").turning_point is None


@given(
    up=st.floats(10, 1e4),
    down=st.floats(10, 1e4),
    top=st.floats(0, 1e4),
    seat=st.floats(0, 1e4),
)
def test_both_ways_take_as_long_at_the_turning_point(up, down, top, seat):
    """And going on is quicker above it, coming back below it."""
    one = leg(up_low=top + up, up_high=top, down_low=seat, down_high=seat + down)
    point = one.turning_point
    if point is None:
        assert (one.ahead(0) < one.back(0)) == (one.ahead(10) < one.back(10))
        return
    assert one.ahead(point) == pytest.approx(one.back(point), abs=1e-6)
    assert one.ahead(10) <= one.back(10) + 1e-9
    assert one.ahead(0) >= one.back(0) - 1e-9


CALLS = [
    pytest.param(5.0, 80, Word.GO, 80 * 60 - 3500, id="time-to-go-on"),
    pytest.param(5.0, 55, Word.COME_BACK, 55 * 60 - 3000, id="only-back"),
    pytest.param(5.0, 30, Word.NEAREST, 30 * 60 - 3000, id="back-is-nearer-and-late"),
    pytest.param(9.0, 20, Word.NEAREST, 20 * 60 - 1500, id="ahead-is-nearer-and-late"),
    pytest.param(0.0, 60, Word.COME_BACK, 3600 - 500, id="at-the-foot"),
]


@pytest.mark.parametrize(("heel", "minutes", "word", "spare"), CALLS)
def test_call_aloft(heel, minutes, word, spare):
    call = call_aloft(leg(), heel, left(minutes), NOW, 300.0)
    assert call.word is word
    assert call.spare == pytest.approx(spare)
    assert "wind" in call.why


def test_the_margin_is_kept_to_the_second():
    exactly = TimeLeft(until=NOW + timedelta(seconds=3500 + 300), why="wind")
    assert call_aloft(leg(), 5.0, exactly, NOW, 300.0).word is Word.GO
    less = TimeLeft(until=NOW + timedelta(seconds=3500 + 299), why="wind")
    assert call_aloft(leg(), 5.0, less, NOW, 300.0).word is Word.COME_BACK


def test_no_way_back_is_said():
    call = call_aloft(leg(no_way_back="the pendants are out"), 5.0, left(30), NOW, 300.0)
    assert call.word is Word.NEAREST
    assert "no way back (the pendants are out)" in call.why
    assert "go on, late by" in call.why


@pytest.mark.parametrize("heel", [-0.1, 10.1, float("nan")])
def test_a_heel_outside_the_haul_is_refused(heel):
    with pytest.raises(ValueError, match="is not between"):
        call_aloft(leg(), heel, left(30), NOW, 300.0)


def test_call_before_it_leaves():
    assert call_before(3600.0, left(70), NOW, 600.0).word is Word.GO
    wait = call_before(3600.0, left(69), NOW, 600.0)
    assert wait.word is Word.WAIT
    assert "1 min short of 10 min to spare" in wait.why
    with pytest.raises(ValueError, match="times must be"):
        call_before(float("nan"), left(60), NOW, 0.0)
    assert latest_start(left(70), 3600.0, 600.0) == NOW


def test_time_left_ends_with_the_first_hour_that_is_not_clear():
    zone = timezone(timedelta(hours=-2))
    forecast = hours_of(np.zeros(6), first="2027-05-01T09")
    states = np.array([CLEAR, CLEAR, SHUT, CLEAR, CLEAR, CLEAR], dtype=np.int8)
    now = datetime(2027, 5, 1, 9, 20, tzinfo=zone)
    dusk = datetime(2027, 5, 1, 18, 0, tzinfo=zone)
    got = time_left(forecast, states, now, dusk)
    assert got.until == datetime(2027, 5, 1, 11, 0, tzinfo=zone)
    assert "breaks a limit from 11:00" in got.why
    states[2] = UNKNOWN
    assert "leaves out a value" in time_left(forecast, states, now, dusk).why
    states[2] = CLEAR
    ends = time_left(forecast, states, now, dusk)
    assert ends.until == datetime(2027, 5, 1, 15, 0, tzinfo=zone)
    assert "says nothing" in ends.why
    early = datetime(2027, 5, 1, 10, 30, tzinfo=zone)
    light = time_left(forecast, states, now, early)
    assert (light.until, light.why) == (early, "the light ends")
    # Another clock, the same moment.
    assert time_left(forecast, states, now.astimezone(UTC), dusk).until == ends.until
    states[0] = SHUT
    assert time_left(forecast, states, now, dusk).until == now


def legs_of(plan, raise_, back):
    stages = dict.fromkeys(each.stage for each in raise_.passages)
    return [each for stage in stages for each in lift_legs(plan, raise_, stage, back)]


def test_legs_of_a_raise_add_up():
    """By its own passages: the rest of the haul, and each step till it is locked."""
    plan = tiny_plan()
    raise_ = follow_stages(plan)
    legs = legs_of(plan, raise_, GoingBack(lowering=1.0))
    assert legs
    for each in legs:
        inside = [p for p in raise_.passages if p.stage == each.stage]
        haul = next(
            k
            for k, p in enumerate(inside)
            if p.step == "lift"
            and p.moving
            and p.moving[0] == each.section
            and p.standing[each.section].heel_from == each.low
        )
        locked = next(
            k
            for k, p in enumerate(inside)
            if k > haul and p.step in ("lock", "secure") and p.subject == each.section
        )
        rest = sum(p.duration for p in inside[haul + 1 : locked + 1])
        assert each.up_high == pytest.approx(rest)
        assert each.up_low == pytest.approx(rest + inside[haul].duration)
        assert each.down_low >= SEAT_TIME
        # Let down as fast as it is hauled, it takes as long.
        assert each.down_high - each.down_low == pytest.approx(inside[haul].duration)


def test_letting_down_more_slowly_lowers_the_turning_point_time():
    plan = tiny_plan()
    raise_ = follow_stages(plan)
    pairs = zip(
        legs_of(plan, raise_, GoingBack(lowering=1.0)),
        legs_of(plan, raise_, GoingBack(lowering=0.5)),
        strict=True,
    )
    for fast, slow in pairs:
        assert slow.down_high > fast.down_high
        assert slow.up_high == fast.up_high
        if fast.turning_point is not None and slow.turning_point is not None:
            assert slow.turning_point < fast.turning_point


def test_what_lies_between_two_hauls_counts_on_the_way_ahead():
    """In L2 the haul stops for the slack pendants: 30 min, and then there is no way back."""
    plan = read_plan(FOLDER / "plan-corrected.toml")
    raise_ = follow_stages(plan)
    legs = lift_legs(plan, raise_, "L2", GoingBack(lowering=1.0))
    last = next(each for each in legs if each.low == pytest.approx(13.95))
    before = next(each for each in legs if each.high == pytest.approx(13.95))
    assert before.ahead(13.95) - last.ahead(13.95) == pytest.approx(30 * 60.0)
    assert "spire pendants" in last.no_way_back
    assert last.back(14.0) == float("inf")
    assert before.no_way_back == ""
