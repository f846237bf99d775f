"""The panel of raising day, its callbacks called as the browser would call them."""

from datetime import timedelta
from pathlib import Path

import pytest

from towerlift.motion import follow_stages
from towerlift.panels import DayPanel
from towerlift.panels.words import CAUTION
from towerlift.plan import read_plan
from towerlift.programme.weather_files import read_weather
from towerlift.what_if.calling import Asked, Sky

FOLDER = Path(__file__).parents[2] / "meshes" / "tidewatch"


@pytest.fixture(scope="module")
def panel():
    plan = read_plan(FOLDER / "plan-corrected.toml")
    sky = Sky(forecast=read_weather(FOLDER / "forecast.csv"))
    return DayPanel(plan, follow_stages(plan), sky, read_weather(FOLDER / "hours.csv"))


@pytest.fixture
def fresh(panel):
    """L2 on its lock at its planned start, wind measured."""
    panel.forecast.value = True
    panel.haul.value = "L1"
    panel.haul.value = "L2"
    panel.hangs.value = False
    panel.measured.value, panel.mean.value, panel.gust.value = True, 3.0, 4.5
    return panel


def test_it_opens_on_the_haul_that_the_forecast_is_for(panel):
    again = DayPanel(panel.plan, panel.raise_, panel.sky, panel.record)
    assert again.haul.value == "L2"
    assert again.made is not None
    assert DayPanel(panel.plan, panel.raise_, Sky()).haul.value == "L1"


def test_a_haul_opens_at_its_planned_start(fresh):
    assert f"{fresh.day.value}" == "2027-05-01"
    assert fresh.hour.value == timedelta(hours=8)
    assert (fresh.heel.min, fresh.heel.max) == (0.0, 15.2)
    assert "GO: fast on the belfry needles by 11:49" in fresh.call.value
    assert CAUTION in fresh.caution.value
    fresh.haul.value = "S4"
    assert (fresh.heel.min, fresh.heel.max) == (22.0, 22.3)
    assert f"{fresh.day.value}" == "2027-05-04"


def test_hour_height_and_wind_change_the_call(fresh):
    fresh.hour.value = timedelta(hours=13)
    assert "WAIT until 07:30 on 03 May" in fresh.call.value
    fresh.hangs.value = True
    fresh.heel.value = 5.0
    fresh.hour.value = timedelta(hours=14)
    assert "COME BACK: the nearest lock is below, 62 min" in fresh.call.value
    assert "heel 12.07 m" in fresh.lines.value
    fresh.gust.value = 9.0
    assert "over its limit" in fresh.call.value


def test_without_forecast_or_measured_wind_it_is_not_evaluated(fresh):
    fresh.measured.value = False
    assert "NOT EVALUATED: no mean wind was measured" in fresh.call.value
    assert fresh.mean.disabled
    fresh.measured.value = True
    fresh.forecast.value = False
    assert "NOT EVALUATED: there is no forecast" in fresh.call.value
    assert 'class="call go"' not in fresh.call.value
    fresh.gust.value = 1.0
    assert "less than the mean wind" in fresh.call.value
    assert (fresh.made, fresh.lines.value) == (None, "")


def test_what_is_asked_in_words_moves_every_control(fresh):
    at = fresh.bench.zone
    asked = Asked(
        haul="L4", at=fresh.asked.at.replace(hour=9, minute=5), heel=18.0, mean=4.0, gust=5.0
    )
    fresh.show(asked)
    assert fresh.asked == asked
    assert fresh.asked.at.tzinfo == at
    assert fresh.made is not None
    assert fresh.made.ways.section == "belfry"


def test_the_chances_are_shown(fresh):
    assert fresh.chances.value.count("<svg") == 1
    assert "4 whole hours between 06:00 and 18:00" in fresh.chances.value
