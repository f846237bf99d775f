"""Windows of weather against a plain search hour by hour."""

from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from towerlift.programme.weather import (
    CLEAR,
    SHUT,
    UNKNOWN,
    Aloft,
    WeatherHours,
    WeatherNeed,
    judge_hours,
    wind_aloft,
)
from towerlift.programme.weather_height import Exposure, gust_factor, wind_factor
from towerlift.programme.weather_windows import (
    DayPart,
    chance_within_days,
    days_with_window,
    hours_touched,
    record_days,
    window_chances,
    windows_from,
)

SEA = Aloft(height=28.0, exposure=Exposure(station="II", site="0"))
NEED = WeatherNeed(mean=8.0, gust=11.0, source="a test")


def hours_of(wind, *, first="2027-04-29T05", skip=(), **columns):
    begins = np.datetime64(first, "h") + np.arange(len(wind) + len(skip))
    begins = np.delete(begins, list(skip))
    blank = np.full(len(wind), np.nan)
    names = ("gust", "rain", "temperature", "lightning")
    return WeatherHours(
        place="made",
        source="made",
        offset=timedelta(hours=-2),
        height=10.0,
        begins=begins,
        wind=np.asarray(wind, dtype=float),
        **{name: np.asarray(columns.get(name, blank), dtype=float) for name in names},
    )


def plainly(hours, states, n_hours):
    """Each beginning, looked at alone."""
    found = []
    for k in range(len(states)):
        stretch = range(k, k + n_hours)
        whole = k + n_hours <= len(states) and all(
            hours.begins[j + 1] - hours.begins[j] == np.timedelta64(1, "h")
            for j in stretch[:-1]
        )
        if not whole:
            found.append(-2)
        elif any(states[j] == SHUT for j in stretch):
            found.append(0)
        else:
            found.append(1 if all(states[j] == CLEAR for j in stretch) else -1)
    return found


states_of = st.lists(
    st.sampled_from([CLEAR, CLEAR, CLEAR, SHUT, UNKNOWN]), min_size=1, max_size=90
)


@given(states=states_of, n_hours=st.integers(1, 8), gap=st.integers(0, 80))
def test_windows_are_those_found_one_by_one(states, n_hours, gap):
    skip = (gap,) if 0 < gap < len(states) else ()
    hours = hours_of(np.zeros(len(states)), skip=skip)
    states = np.array(states, dtype=np.int8)
    assert windows_from(hours, states, n_hours).tolist() == plainly(hours, states, n_hours)


@given(states=states_of, n_hours=st.integers(1, 6))
def test_chances_count_every_beginning_once(states, n_hours):
    hours = hours_of(np.zeros(len(states)))
    states = np.array(states, dtype=np.int8)
    chances = window_chances(hours, states, n_hours)
    plain = plainly(hours, states, n_hours)
    for month in range(1, 13):
        for hour in range(24):
            here = [
                plain[k]
                for k in range(len(states))
                if (hours.months[k], hours.clock[k]) == (month, hour) and plain[k] > -2
            ]
            got = (chances.clear, chances.shut, chances.unknown)
            want = [here.count(each) for each in (1, 0, -1)]
            assert [int(each[month - 1, hour]) for each in got] == want
            if here:
                share = here.count(1) / len(here)
                assert chances.chance[month - 1, hour] == pytest.approx(share)
            else:
                assert np.isnan(chances.chance[month - 1, hour])


@given(states=st.lists(st.sampled_from([CLEAR, SHUT, UNKNOWN]), min_size=30, max_size=200))
def test_days_with_a_window_are_those_found_one_by_one(states):
    hours = hours_of(np.zeros(len(states)))
    states = np.array(states, dtype=np.int8)
    part, n_hours = DayPart(first=8, last=14), 3
    begun = windows_from(hours, states, n_hours)
    got = days_with_window(begun, hours, part, n_hours)
    plain = plainly(hours, states, n_hours)
    for number, day in enumerate(record_days(hours)):
        here = [
            plain[k]
            for k in range(len(states))
            if hours.begins[k].astype("datetime64[D]") == day
            and hours.clock[k] >= 8
            and hours.clock[k] + n_hours <= 14
        ]
        want = 1 if 1 in here else 0 if here.count(0) == 4 else -1
        assert got[number] == want


def test_bad_hours_that_come_together_leave_more_windows_than_chance_would():
    """Three clear days, then one shut: 3 in 4 hours are clear, and nearly as many windows."""
    states = np.tile(np.repeat([CLEAR, CLEAR, CLEAR, SHUT], 24), 90).astype(np.int8)
    hours = hours_of(np.zeros(len(states)), first="2027-01-01T00")
    chances = window_chances(hours, states, 6)
    june, morning = 5, 8
    assert chances.chance[june, morning] > 0.7
    assert chances.as_if_independent[june, morning] < 0.25


def test_chance_within_days():
    days = np.datetime64("2027-05-01") + np.arange(10)
    given_ = np.array([0, 0, 1, 0, 0, 0, -1, 1, 0, 0], dtype=np.int8)
    chance, n = chance_within_days(days, given_, 3)
    assert n[4] == 8
    # From days 1, 2, 3 and 6, 7, 8: what is not known is no window.
    assert chance[4] == 6 / 8
    assert np.isnan(chance[0])
    gap = np.concatenate([days[:5], days[5:] + np.timedelta64(1, "D")])
    assert chance_within_days(gap, given_, 3)[1][4] == 6


@pytest.mark.parametrize(
    ("length", "begins", "n"),
    [(3600, 0, 1), (3601, 0, 2), (3600, 1, 2), (11160, 0, 4), (1, 3599, 1), (5400, 1800, 2)],
)
def test_hours_touched(length, begins, n):
    assert hours_touched(length, begins=begins) == n


@pytest.mark.parametrize("length", [0.0, -1.0, float("nan")])
def test_no_length_no_window(length):
    with pytest.raises(ValueError, match="needs a length"):
        hours_touched(length)


def limit_wind(aloft, need):
    """Mean at the station that is just allowed aloft."""
    factor = wind_factor(aloft.height, aloft.exposure, station_height=10.0)
    return min(need.mean, need.gust / gust_factor(aloft.height, aloft.exposure)) / factor


def test_each_limit_inside_on_outside_and_without_a_value():
    just = limit_wind(SEA, NEED)
    hours = hours_of([just * 0.999, just * (1 - 1e-12), just * 1.001, np.nan])
    assert judge_hours(hours, NEED, SEA).tolist() == [CLEAR, CLEAR, SHUT, UNKNOWN]


def test_on_the_limit_is_clear():
    low = Aloft(height=10.0, exposure=Exposure(station="II", site="II"))
    need = WeatherNeed(mean=8.0, gust=100.0, dry=True, warmest_ice=2.0, source="a test")
    calm = {"rain": [0, 0, 0.1, 0, np.nan], "temperature": [5, 5, 5, 2, 5]}
    hours = hours_of([8.0, 8.0001, 1.0, 1.0, 1.0], **calm)
    assert judge_hours(hours, need, low).tolist() == [CLEAR, SHUT, SHUT, SHUT, UNKNOWN]


def test_what_is_known_to_be_shut_is_shut_whatever_else_is_missing():
    need = WeatherNeed(mean=8.0, gust=100.0, dry=True, source="a test")
    hours = hours_of([np.nan, 30.0], rain=[1.0, np.nan])
    assert judge_hours(hours, need, SEA).tolist() == [SHUT, SHUT]


def test_lightning_is_asked_of_a_forecast_only():
    wind = [1.0, 1.0, 1.0]
    assert judge_hours(hours_of(wind), NEED, SEA).tolist() == [CLEAR] * 3
    told = hours_of(wind, lightning=[0.0, 0.2, np.nan])
    assert judge_hours(told, NEED, SEA).tolist() == [CLEAR, SHUT, UNKNOWN]


def test_a_gust_in_the_file_counts_where_it_is_more():
    hours = hours_of([5.0, 5.0], gust=[20.0, 5.1])
    mean, gust = wind_aloft(hours, SEA)
    factor = mean[0] / 5.0
    assert gust[0] == pytest.approx(20.0 * factor)
    assert gust[1] == pytest.approx(mean[1] * gust_factor(28.0, SEA.exposure))


@given(low=st.floats(2.0, 60.0), more=st.floats(0.1, 60.0))
def test_wind_grows_with_height(low, more):
    exposure = Exposure(station="II", site="II")
    assert wind_factor(low + more, exposure, station_height=10.0) > wind_factor(
        low, exposure, station_height=10.0
    )
    assert wind_factor(10.0, exposure, station_height=10.0) == pytest.approx(1.0)


def test_no_such_terrain():
    with pytest.raises(ValueError, match="no terrain"):
        Exposure(station="0", site="V")
