"""The roofer's windows against the rules applied minute by minute, and against brute force."""

from datetime import date, datetime, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.programme.test_weather_windows import hours_of
from towerlift.motion import follow_stages
from towerlift.motion.passages import State
from towerlift.motion.timeline import timeline
from towerlift.plan import read_plan
from towerlift.programme.daylight import daylight
from towerlift.programme.weather import CLEAR, SHUT, UNKNOWN
from towerlift.programme.weather_files import read_weather
from towerlift.programme.weather_height import Exposure
from towerlift.programme.windows import RoofBench
from towerlift.programme.windows_chance import DAYS_AROUND, Almanac, Chances
from towerlift.programme.windows_sheet import RoofAsk

FOLDER = Path(__file__).parents[3] / "meshes" / "tidewatch"
ZONE = timezone(timedelta(hours=-2))
SEA = Exposure(station="0", site="0")
FAST = {State.SECURED, State.LOCKED, State.TRANSFERRED}
HANGS = {State.SLUNG, State.FLOATED, State.MOVING, State.PARKED}


@pytest.fixture(scope="module")
def plan():
    return read_plan(FOLDER / "plan-corrected.toml")


@pytest.fixture(scope="module")
def raise_(plan):
    return follow_stages(plan)


@pytest.fixture(scope="module")
def bench(plan, raise_):
    return RoofBench(plan, raise_, read_weather(FOLDER / "hours.csv"), SEA)


@pytest.fixture(scope="module")
def ask(plan):
    return RoofAsk(day=plan.site.day_1, n_roofers=4)


def test_every_window_keeps_every_rule_at_every_moment(plan, raise_, bench, ask):
    """By states, light, hours and fixtures looked up afresh each quarter of an hour."""
    spans = timeline(plan, raise_)
    crew = next(each for each in plan.crews if each.name == "roofers")
    windows = [w for sheet in bench.show(ask).bands for w in sheet.windows]
    assert len(windows) > 30
    for window in {(w.opening.begins, w.off_by): w for w in windows}.values():
        light = daylight(plan.site, window.opening.begins.date())
        assert light.sunrise is not None
        assert light.sunset is not None
        moment = window.opening.begins
        while moment < window.off_by + timedelta(minutes=15):
            span = next(
                s for s in spans if s.overlap(moment, moment + timedelta(seconds=1)) > 0
            )
            place = span.standing["spire"]
            assert place.state in FAST
            assert place.heel_to == pytest.approx(window.opening.park.heel)
            assert not span.moving
            assert not any(each.state in HANGS for each in span.standing.values())
            assert "roofers' net" in span.fixtures
            assert window.opening.park.deck is not None
            assert window.opening.park.deck.name in span.fixtures
            assert light.sunrise + timedelta(minutes=30) <= moment
            assert moment < light.sunset - timedelta(minutes=30)
            assert crew.works_from is None or f"{moment:%H:%M}" >= crew.works_from
            assert f"{moment:%H:%M}" >= plan.site.works_from
            assert f"{moment:%a}" in plan.site.works
            moment += timedelta(minutes=15)


def test_a_whole_window_has_time_and_reach_for_its_band(bench, ask):
    for sheet in bench.show(ask).bands:
        for window in sheet.windows:
            deck = window.opening.park.deck
            if not window.whole:
                continue
            time = (window.off_by - window.opening.begins).total_seconds()
            assert time >= window.hours - 1e-6
            foot = window.opening.park.heel + sheet.band.low - deck.top
            head = window.opening.park.heel + sheet.band.high - deck.top
            assert foot >= bench.reach.lowest - 1e-9
            assert head <= bench.reach.highest + 1e-9


def test_the_plans_dates_lie_in_windows(bench, ask):
    sheets = bench.show(ask).bands
    assert [each.fault for each in sheets] == [""] * 7
    for each in sheets:
        inside = [
            w
            for w in each.windows
            if w.opening.begins <= each.planned.starts and each.planned.ends <= w.off_by
        ]
        assert inside
        assert inside[0].whole


def changed(plan, **changes):
    return plan.model_copy(update=changes)


def fixtures_with(plan, name, **changes):
    return tuple(
        each.model_copy(update=changes) if each.name == name else each for each in plan.fixtures
    )


FAULTS = [
    pytest.param({"fine_mesh": False}, "has no debris mesh", id="no-mesh"),
    pytest.param({"reach": 1.0}, "reaches 1.00 m out", id="short-net"),
    pytest.param({"kind": "other"}, "no net is in", id="no-net"),
]


@pytest.mark.parametrize(("change", "said"), FAULTS)
def test_without_its_net_nothing_is_open(plan, raise_, ask, change, said):
    other = changed(plan, fixtures=fixtures_with(plan, "roofers' net", **change))
    bench = RoofBench(other, raise_)
    assert bench.openings == ()
    assert all(said in each.fault for each in bench.show(ask).bands)


def works_with(plan, fits, **changes):
    return tuple(
        each.model_copy(update=changes) if each.fits == fits else each
        for each in plan.activities
    )


def moved(hours):
    return timedelta(hours=hours)


WORKS = [
    pytest.param({"way_off": ""}, "way off, rescue or its minutes", id="no-way-off"),
    pytest.param({"rescue_takes": None}, "way off, rescue or its minutes", id="no-minutes"),
    pytest.param({"takes": 3600.0}, "1.0 h are planned", id="too-short"),
]


@pytest.mark.parametrize(("change", "said"), WORKS)
def test_dates_that_will_not_do(plan, raise_, ask, change, said):
    bench = RoofBench(changed(plan, activities=works_with(plan, "band B3", **change)), raise_)
    faults = {each.band.name: each.fault for each in bench.show(ask).bands if each.fault}
    assert list(faults) == ["band B3"]
    assert said in faults["band B3"]


def test_dates_at_the_edges_of_a_window(plan, raise_, ask):
    """Off by a quarter of an hour before the lift is in time; a minute later is not."""
    starts = datetime(2027, 4, 21, 12, 0, tzinfo=ZONE)
    for ends, good in (
        (datetime(2027, 4, 21, 15, 45, tzinfo=ZONE), True),
        (datetime(2027, 4, 21, 15, 46, tzinfo=ZONE), False),
    ):
        works = works_with(plan, "band B1", starts=starts, ends=ends)
        bench = RoofBench(changed(plan, activities=works), raise_)
        fault = next(e.fault for e in bench.show(ask).bands if e.band.name == "band B1")
        assert (fault == "") is good, fault
    assert "they must be off 15 min before" in fault


def test_undated_and_moved_sections(plan, raise_, ask):
    none = tuple(each for each in plan.activities if each.fits != "band B3")
    sheet = RoofBench(changed(plan, activities=none), raise_).show(ask)
    b3 = next(each for each in sheet.bands if each.band.name == "band B3")
    assert b3.planned is None
    assert b3.first is None  # a window without a way off is none
    assert all(not each.complete for each in b3.windows)
    early = datetime(2027, 4, 10, 8, 0, tzinfo=ZONE)
    works = works_with(plan, "band B3", starts=early, ends=early + moved(6))
    sheet = RoofBench(changed(plan, activities=works), raise_).show(ask)
    b3 = next(each for each in sheet.bands if each.band.name == "band B3")
    assert b3.fault == "the spire does not stand locked or secured when it starts"


def test_work_broken_off_overnight_has_its_hours_in_all(plan, raise_, ask):
    """B6 stands from 6 May on: two afternoons will do for 7.7 h, one of them will not."""
    for ends, good in (
        (datetime(2027, 5, 8, 12, 0, tzinfo=ZONE), True),
        (datetime(2027, 5, 8, 9, 0, tzinfo=ZONE), False),
    ):
        works = works_with(
            plan, "band B6", starts=datetime(2027, 5, 7, 13, 0, tzinfo=ZONE), ends=ends,
            takes=7.7 * 3600,
        )  # fmt: skip
        sheet = RoofBench(changed(plan, activities=works), raise_).show(ask)
        fault = next(e.fault for e in sheet.bands if e.band.name == "band B6")
        assert (fault == "") is good, fault
    assert "7.7 h are needed" in fault


def test_no_bands_no_bench(plan, raise_):
    bare = changed(plan, fit_out=tuple(e for e in plan.fit_out if e.kind != "cladding"))
    with pytest.raises(ValueError, match="no band of cladding"):
        RoofBench(bare, raise_)
    with pytest.raises(ValueError, match="terrain about the station"):
        RoofBench(plan, raise_, hours_of([1.0]))


def test_masses_go_up_with_the_next_haul(bench, ask):
    """620 kg of cladding is on before the belfry comes up round the spire, by hand."""
    masses = bench.show(ask).masses
    before = [each for each in masses if each.when.date() < date(2027, 5, 1)]
    assert before[-1].total == pytest.approx(620, abs=1)
    assert before[-1].next_haul in ("P2", "L2")
    assert masses[-1].total == pytest.approx(1828, abs=2)
    totals = np.cumsum([each.mass for each in masses])
    np.testing.assert_allclose([each.total for each in masses], totals)


def minute_by_minute(hours, states, between, length):
    """Share of near days with a start at which every hour touched is clear."""
    begins, ends = between
    day = hours.begins.astype("datetime64[D]")
    first = begins.hour * 60 + begins.minute
    last = first + round((ends - begins).total_seconds() / 60)
    near, good = [], 0
    for each in np.unique(day):
        number = date.fromisoformat(str(each)).timetuple().tm_yday
        away = abs(number - begins.timetuple().tm_yday)
        if min(away, 365 - away) <= DAYS_AROUND:
            near.append(each)
    if begins.date().isoformat() in np.unique(day).astype(str):
        near = [np.datetime64(begins.date().isoformat(), "D")]
    at = {str(moment): state for moment, state in zip(hours.begins, states, strict=True)}
    for each in near:
        good += any(
            all(
                at.get(str(np.datetime64(each, "h") + np.timedelta64(hour, "h"))) == CLEAR
                for hour in range(start // 60, -(-(start + length) // 60))
            )
            for start in range(first, last - length + 1)
        )
    return good / len(near) if near else float("nan")


@settings(max_examples=40)
@given(data=st.data())
def test_chance_of_a_window_is_that_found_minute_by_minute(data):
    n = data.draw(st.integers(24, 120))
    states = np.array(
        data.draw(
            st.lists(
                st.sampled_from([CLEAR, CLEAR, CLEAR, SHUT, UNKNOWN]), min_size=n, max_size=n
            )
        ),
        dtype=np.int8,
    )
    hours = hours_of(np.zeros(n), first="2024-04-28T00")
    chances = Chances(Almanac(hours), states)
    first = data.draw(st.integers(0, 20 * 60))
    lasts = data.draw(st.integers(1, 24 * 60 - first - 1))
    length = data.draw(st.integers(1, lasts))
    year = data.draw(st.sampled_from([2024, 2027]))
    midnight = datetime(year, 4, 29, tzinfo=ZONE)
    between = (midnight + timedelta(minutes=first), midnight + timedelta(minutes=first + lasts))
    got = chances.window(between, 60.0 * length)
    want = minute_by_minute(hours, states, between, length)
    assert got == pytest.approx(want, nan_ok=True)


def test_a_forecast_of_the_day_itself_decides():
    """A record says nine in ten; the forecast says not this time."""
    hours = hours_of(np.zeros(24), first="2027-05-01T00")
    states = np.full(24, CLEAR, dtype=np.int8)
    states[10] = SHUT
    chances = Chances(Almanac(hours), states)
    begins = datetime(2027, 5, 1, 8, 0, tzinfo=ZONE)
    assert chances.window((begins, begins + moved(4)), 3 * 3600.0) == 0.0
    assert chances.window((begins, begins + moved(4)), 2 * 3600.0) == 1.0
    assert np.isnan(
        chances.window((begins.replace(month=9), begins.replace(month=9, hour=12)), 3600.0)
    )
    hourly = chances.hourly(date(2027, 5, 1))
    assert hourly[10] == 0.0
    assert hourly[9] == 1.0


def test_summer_time_is_taken_off_the_sites_clock():
    """Ten in the morning of summer time is nine on the station's clock."""
    hours = hours_of(np.zeros(24), first="2024-06-15T00")
    states = np.full(24, SHUT, dtype=np.int8)
    states[9] = CLEAR
    chances = Chances(Almanac(hours), states)
    summer = datetime(2027, 6, 15, 10, 0, tzinfo=ZoneInfo("Atlantic/Azores"))
    assert summer.dst() == timedelta(hours=1)
    assert chances.window((summer, summer + moved(1)), 3600.0) == 1.0
    plain = datetime(2027, 6, 15, 10, 0, tzinfo=ZONE)
    assert chances.window((plain, plain + moved(1)), 3600.0) == 0.0
