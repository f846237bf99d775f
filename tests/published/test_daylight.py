"""Light of a date against printed rise and set, and against another reckoning of the Sun.

Sources: I. Reda and A. Andreas, Solar Position Algorithm for Solar Radiation
Applications, NREL/TP-560-34302: the worked example of 17 October 2003 (zenith 50.11162,
azimuth 194.34024 deg), which shows that the witness, the algorithm as pvlib has it, is
to be trusted; and rise, transit and set of 2 January and 2 August 2015 at the same place
from the calculator of the same laboratory, with the set of 2 August by the US Naval
Observatory, 19:13. The calculator's own set of that day, 19:13:58, is that of the day
before: it counts days at Greenwich, where a western evening is the next day's.
"""

from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pvlib import spa

from towerlift.plan.work import Site
from towerlift.programme.daylight import CIVIL_DEG, RISE_DEG, Polar, daylight

MINUTE = timedelta(seconds=60)


def site(latitude, longitude, zone):
    return Site(
        place="a place",
        latitude=f"{latitude} deg",
        longitude=f"{longitude} deg",
        height="0 m",
        time_zone=zone,
        day_1="2015-01-01",
    )


GOLDEN = site(39.742476, -105.1786, "UTC-07:00")


def witness(moments, latitude, longitude, height=0.0, pressure=0.0):
    """Zenith, true zenith and azimuth by the solar position algorithm. [deg]"""
    unix = pd.DatetimeIndex(moments).tz_convert("UTC").tz_localize(None)
    seconds = unix.to_numpy().astype("datetime64[ns]").astype(np.int64) / 1e9
    seen, true, _, _, azimuth, _ = spa.solar_position(
        seconds, latitude, longitude, height, pressure, 11.0, 67.0, 0.5667, numthreads=1
    )
    return seen, true, azimuth


def test_the_witness_gives_the_printed_example():
    moment = [datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(timedelta(hours=-7)))]
    seen, true, azimuth = witness(moment, 39.742476, -105.1786, 1830.14, 820.0)
    assert seen[0] == pytest.approx(50.11162, abs=5e-6)
    assert azimuth[0] == pytest.approx(194.34024, abs=5e-6)
    assert 90 - true[0] == pytest.approx(39.872046, abs=1e-6)


@pytest.mark.parametrize(
    ("day", "rise", "noon", "fall"),
    [
        pytest.param("2015-01-02", "07:21:55", "12:04:45", "16:47:43", id="january"),
        # The set by the Naval Observatory, to the minute: not the calculator's.
        pytest.param("2015-08-02", "05:00:27", "12:06:58", "19:13:00", id="august"),
    ],
)
def test_printed_rise_and_set(day, rise, noon, fall):
    light = daylight(GOLDEN, date.fromisoformat(day))
    for found, printed in ((light.sunrise, rise), (light.noon, noon), (light.sunset, fall)):
        assert abs(found - datetime.fromisoformat(f"{day}T{printed}-07:00")) <= MINUTE


def test_the_evening_is_not_taken_from_the_day_before():
    light = daylight(GOLDEN, date(2015, 8, 2))
    wrong = datetime.fromisoformat("2015-08-02T19:13:58-07:00")
    assert light.sunset < wrong - timedelta(seconds=50)
    before = daylight(GOLDEN, date(2015, 8, 1)).sunset
    assert abs(before + timedelta(days=1) - wrong) <= timedelta(seconds=5)


@given(
    latitude=st.floats(-65.0, 65.0),
    longitude=st.floats(-179.0, 179.0),
    day=st.dates(date(2000, 1, 1), date(2049, 12, 31)),
)
@settings(max_examples=40)
def test_the_other_reckoning_sees_the_sun_at_the_limit(latitude, longitude, day):
    hours = round(longitude / 15.0)
    light = daylight(site(latitude, longitude, f"UTC{hours:+03d}:00"), day)
    pairs = [
        (light.sunrise, RISE_DEG),
        (light.sunset, RISE_DEG),
        (light.dawn, CIVIL_DEG),
        (light.dusk, CIVIL_DEG),
    ]
    for moment, limit in pairs:
        if moment is not None:
            around = [moment - MINUTE, moment + MINUTE]
            heights = 90 - witness(around, latitude, longitude)[1]
            assert min(heights) <= limit <= max(heights)
    assert light.noon.date() == day


@pytest.mark.parametrize(
    ("day", "polar"), [("2027-06-21", Polar.DAY), ("2027-12-21", Polar.NIGHT)]
)
def test_where_the_sun_does_not_set_or_rise(day, polar):
    light = daylight(site(78.0, 15.0, "Europe/Oslo"), date.fromisoformat(day))
    assert light.polar is polar
    assert light.sunrise is None
    assert light.sunset is None
    span = light.span()
    assert (span is None) == (polar is Polar.NIGHT)
    assert span is None or span[1] - span[0] == timedelta(days=1)


def test_clocks_put_forward_move_the_clock_time_and_not_the_sun():
    place = site(50.0, 10.0, "Europe/Berlin")
    before, after = (daylight(place, date(2027, 3, d)).sunrise for d in (27, 28))
    assert before.utcoffset() == timedelta(hours=1)
    assert after.utcoffset() == timedelta(hours=2)
    # In one zone Python subtracts what the clocks show.
    passed = after.astimezone(UTC) - before.astimezone(UTC)
    assert abs(passed - timedelta(days=1)) < timedelta(minutes=3)
    # The day is as long as the Sun says, less the margins, on the day of the change too.
    span = daylight(place, date(2027, 3, 28)).span(timedelta(minutes=30))
    light = daylight(place, date(2027, 3, 28))
    whole = light.sunset.astimezone(UTC) - light.sunrise.astimezone(UTC)
    assert span[1].astimezone(UTC) - span[0].astimezone(UTC) == (whole - timedelta(hours=1))
