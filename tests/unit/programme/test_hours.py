"""Hours of crews on the programme's clock: weekdays, holidays, moved clocks, closures."""

from datetime import date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from towerlift.plan.work import Crew, Site
from towerlift.programme.hours import (
    Clock,
    both,
    hours_of,
    joined,
    light_windows,
    without,
    working_days,
)

DAY = 24 * 60
windows = st.lists(st.tuples(st.integers(0, 60), st.integers(1, 12)), max_size=6).map(
    lambda pairs: [(begins, begins + length) for begins, length in pairs]
)


def clock(n_days=7, zone="UTC-02:00", **changes):
    body = {
        "place": "Quillhaven",
        "latitude": "47 deg",
        "longitude": "-30 deg",
        "height": "0 m",
        "time_zone": zone,
        "day_1": "2027-04-05",
    }
    return Clock(site=Site.model_validate(body | changes), n_days=n_days)


def crew(**changes):
    return Crew.model_validate({"name": "framers", "need": 4, "signed": 6} | changes)


def minutes(spans):
    return {minute for begins, ends in spans for minute in range(begins, ends)}


def test_a_week_of_a_site_and_a_crew():
    site = clock(
        works=["Mon", "Tue", "Wed", "Thu", "Fri", "Sat"],
        works_from="07:30",
        works_to="18:30",
        days_off=["2027-04-07"],
    )
    # Monday the 5th is day 0; Wednesday is a holiday, Sunday is not worked.
    assert [day.day for day in working_days(site)] == [5, 6, 8, 9, 10]
    both_hours = hours_of(site, [crew(works_from="08:00"), crew(works=["Mon", "Sat"])])
    assert both_hours == ((480, 1110), (5 * DAY + 480, 5 * DAY + 1110))
    assert hours_of(site, [])[0] == (450, 1110)


def test_hours_that_do_not_meet_leave_no_window():
    site = clock(works_to="12:00")
    assert hours_of(site, [crew(works_from="13:00", works_to="17:00")]) == ()


def test_round_the_clock_is_one_window():
    assert hours_of(clock(n_days=3), []) == ((0, 3 * DAY),)


def test_the_day_on_which_clocks_go_forward_has_an_hour_less():
    berlin = clock(n_days=3, zone="Europe/Berlin", day_1="2027-03-27")
    # Midnight before the 28th is 1440 minutes on; 08:00 of it comes 7 hours later.
    assert hours_of(berlin, [crew(works_from="08:00", works_to="10:00")]) == (
        (480, 600),
        (DAY + 420, DAY + 540),
        (DAY + 23 * 60 + 480, DAY + 23 * 60 + 600),
    )
    moment = datetime(2027, 3, 28, 8, 0, tzinfo=ZoneInfo("Europe/Berlin"))
    assert berlin.minute(moment) == DAY + 420
    assert berlin.moment(DAY + 420) == moment


def test_a_moment_within_a_minute_is_rounded_as_asked():
    site = clock()
    moment = site.moment(100) + timedelta(seconds=1)
    assert (site.minute(moment), site.minute_from(moment)) == (100, 101)
    assert site.minute_from(site.moment(100)) == 100


def test_light_is_rounded_inward_and_keeps_its_margin_and_reserve():
    site = clock(n_days=2)
    plain = light_windows(site, timedelta(0))
    kept = light_windows(site, timedelta(minutes=30), 45)
    for (begins, ends), (later, sooner) in zip(plain, kept, strict=True):
        assert later == begins + 30
        assert sooner == ends - 30 - 45
    assert site.moment(plain[0][0]).date() == date(2027, 4, 5)


@given(some=windows, others=windows)
def test_windows_are_sets_of_minutes(some, others):
    one, two = list(joined(some)), list(joined(others))
    assert minutes(one) == minutes(some)
    assert all(a[1] < b[0] for a, b in pairwise(one))
    assert minutes(both(one, two)) == minutes(some) & minutes(others)
    assert minutes(without(one, two)) == minutes(some) - minutes(others)


@pytest.mark.parametrize("written", ["7:30", "24:01", "0730", 730, "12:60"])
def test_a_time_of_day_is_written_with_two_figures(written):
    with pytest.raises(ValueError, match="time of day"):
        crew(works_from=written)
