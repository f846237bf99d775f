"""Go, wait or come back, against sums by hand."""

from datetime import UTC, datetime, timedelta, timezone
from math import inf

import numpy as np
import pytest

from tests.unit.programme.test_weather_windows import hours_of
from towerlift.programme.weather import CLEAR, SHUT, UNKNOWN
from towerlift.programme.weather_call import (
    Reach,
    TimeLeft,
    Word,
    call_aloft,
    call_before,
    latest_start,
    minutes_left,
    minutes_needed,
    time_left,
)

NOW = datetime(2027, 5, 1, 12, 0, tzinfo=UTC)


def reach(heel, **changes):
    """500 s a metre both ways; a lock 1000 s beyond 10 m, and 500 s to seat at 0 m."""
    given_ = {"ahead": 6000.0 - 500.0 * heel, "back": 500.0 + 500.0 * heel}
    return Reach(**{**given_, **changes})


def left(minutes):
    return TimeLeft(until=NOW + timedelta(minutes=minutes), why="wind")


CALLS = [
    pytest.param(5.0, 80, Word.GO, 80 * 60 - 3500, id="time-to-go-on"),
    pytest.param(5.0, 55, Word.COME_BACK, 55 * 60 - 3000, id="only-back"),
    pytest.param(5.0, 30, Word.NEAREST, 30 * 60 - 3000, id="back-is-nearer-and-late"),
    pytest.param(9.0, 20, Word.NEAREST, 20 * 60 - 1500, id="ahead-is-nearer-and-late"),
    pytest.param(0.0, 60, Word.COME_BACK, 3600 - 500, id="at-the-foot"),
]


@pytest.mark.parametrize(("heel", "minutes", "word", "spare"), CALLS)
def test_call_aloft(heel, minutes, word, spare):
    call = call_aloft(reach(heel), left(minutes), NOW, 300.0)
    assert call.word is word
    assert call.spare == pytest.approx(spare)
    assert "wind" in call.why


def test_the_margin_is_kept_to_the_second():
    exactly = TimeLeft(until=NOW + timedelta(seconds=3500 + 300), why="wind")
    assert call_aloft(reach(5.0), exactly, NOW, 300.0).word is Word.GO
    less = TimeLeft(until=NOW + timedelta(seconds=3500 + 299), why="wind")
    assert call_aloft(reach(5.0), less, NOW, 300.0).word is Word.COME_BACK


def test_no_way_back_is_said():
    cut = reach(5.0, back=inf, no_way_back="the pendants are out")
    call = call_aloft(cut, left(30), NOW, 300.0)
    assert call.word is Word.NEAREST
    assert "no way back (the pendants are out)" in call.why
    assert "go on, late by" in call.why


def test_without_any_lock_it_is_held():
    call = call_aloft(Reach(ahead=inf, back=inf), left(30), NOW, 300.0)
    assert (call.word, call.spare) == (Word.NEAREST, -inf)
    assert "no lock ahead, no way back; " in call.why
    assert "hold on the pawls" in call.why


def test_minutes_needed_are_rounded_up_and_minutes_left_down():
    assert (minutes_needed(601.0), minutes_needed(600.0)) == ("11 min", "10 min")
    assert (minutes_left(659.0), minutes_left(660.0)) == ("10 min", "11 min")
    call = call_before(3600.0, left(70.5), NOW, 600.0)
    assert call.why.endswith("10 min to spare")


@pytest.mark.parametrize("wrong", [-0.1, float("nan")])
def test_a_time_that_is_none_is_refused(wrong):
    for changed in ({"ahead": wrong}, {"back": wrong}):
        with pytest.raises(ValueError, match="times must be"):
            call_aloft(reach(5.0, **changed), left(30), NOW, 300.0)


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
