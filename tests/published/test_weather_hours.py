"""Hourly wind of two typical years, counted, and wind profiles by their printed answers.

Sources: TMY3 files of Sand Point, Alaska and Greensboro, North Carolina (US National
Renewable Energy Laboratory, public domain) as the pvlib package carries them; means to
four decimals, maxima and counts as published with them. Worked examples of EN 1991-1-4,
to half the last digit printed.
"""

from importlib import resources
from pathlib import Path

import numpy as np
import pytest

from towerlift.mechanics.wind import TERRAINS, roughness_factor
from towerlift.programme.weather_files import read_weather
from towerlift.programme.weather_height import Exposure, gust_factor, wind_factor

FOLDER = resources.files("pvlib") / "data"
COUNTS = [
    pytest.param("703165TY.csv", 5.0720, 23.7, 771, 6450, id="Sand-Point"),
    pytest.param("723170TYA.CSV", 3.0544, 15.4, 17, 8458, id="Greensboro"),
]


@pytest.mark.parametrize(("name", "mean", "most", "above_10", "to_7"), COUNTS)
def test_hourly_wind(name, mean, most, above_10, to_7):
    hours = read_weather(Path(str(FOLDER / name)))
    assert len(hours.begins) == 8760
    assert hours.wind.mean() == pytest.approx(mean, abs=5e-5)
    assert hours.wind.max() == most
    assert np.count_nonzero(hours.wind > 10.0) == above_10
    assert np.count_nonzero(hours.wind <= 7.0) == to_7


def peak_pressure(basic, height, terrain):
    """By way of the ratio to a station at 10 m in open country, as hours are raised."""
    exposure = Exposure(station="II", site=terrain)
    at_station = basic * float(roughness_factor(10.0, TERRAINS["II"]))
    mean = at_station * wind_factor(height, exposure, station_height=10.0)
    return 0.5 * 1.25 * (mean * gust_factor(height, exposure)) ** 2


def test_gust_over_the_sea():
    """Basic wind 25 m/s, terrain 0, height 77.36 m."""
    assert peak_pressure(25.0, 77.36, "0") == pytest.approx(1658.0, abs=0.5)


def test_gust_over_flat_land():
    """Basic wind 27 m/s, terrain I, height 3.5 m."""
    assert peak_pressure(27.0, 3.5, "I") == pytest.approx(989.0, abs=0.5)
