"""Wind rules: laws and refusals."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from towerlift.mechanics.wind import (
    TERRAINS,
    american_pressure,
    beaufort,
    gust_of,
    log_law,
    peak_pressure,
    power_law,
    pressure_profile,
    probability_factor,
    roughness_factor,
    terrain_factor,
)


@given(low=st.floats(0, 100), rise=st.floats(0, 100), name=st.sampled_from(sorted(TERRAINS)))
def test_pressure_grows_with_height(low, rise, name):
    low_pressure, high_pressure = peak_pressure(25.0, [low, low + rise], TERRAINS[name])
    assert high_pressure >= low_pressure > 0


@given(height=st.floats(1, 100), told_at=st.floats(1, 100), basic=st.floats(5, 40))
def test_the_profile_is_free_of_the_basic_speed(height, told_at, basic):
    sea = TERRAINS["0"]
    ratio = peak_pressure(basic, height, sea) / peak_pressure(basic, told_at, sea)
    assert float(pressure_profile(height, told_at, sea)) == pytest.approx(float(ratio))


def test_below_the_least_height_nothing_more_is_taken_off():
    town = TERRAINS["IV"]
    assert roughness_factor(0.0, town) == roughness_factor(10.0, town)
    assert terrain_factor(TERRAINS["II"]) == pytest.approx(0.19)


@given(one=st.floats(1.5, 500), more=st.floats(1.01, 10))
def test_rarer_is_stronger(one, more):
    assert probability_factor(one * more) > probability_factor(one)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: peak_pressure(-1.0, 10.0, TERRAINS["0"]), "negative"),
        (lambda: peak_pressure(np.nan, 10.0, TERRAINS["0"]), "negative"),
        (lambda: peak_pressure(10.0, np.nan, TERRAINS["0"]), "finite"),
        (lambda: gust_of(-1.0), "negative"),
        (lambda: probability_factor(1.0), "above one"),
        (lambda: american_pressure(-1.0, exposure=1.0), "negative"),
        (lambda: power_law(0.0, 10.0, 0.2), "positive"),
        (lambda: log_law(0.01, 10.0, 0.05), "above the roughness"),
        (lambda: beaufort(-0.1), "negative"),
    ],
)
def test_refusals(call, says):
    with pytest.raises(ValueError, match=says):
        call()
