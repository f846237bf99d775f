"""Laws that wood obeys whatever its species."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from towerlift.timber import equilibrium_moisture, lagged, size_change
from towerlift.timber.density import density_at, shrinkage_to

shares = st.floats(0.0, 0.6)
coefficients = st.floats(0.05, 0.5)


@given(size=st.floats(0.01, 1.0), coefficient=coefficients, start=shares, end=shares)
def test_there_and_back_is_nothing(size, coefficient, start, end):
    there = size_change(size, coefficient, start, end).amount
    back = size_change(size, coefficient, end, start).amount
    assert np.isclose(there + back, 0.0, atol=1e-15)
    assert (there >= 0) == (min(end, 0.3) >= min(start, 0.3))


@given(size=st.floats(0.01, 1.0), factor=st.floats(0.1, 10.0), end=st.floats(0.1, 0.3))
def test_twice_the_size_moves_twice_as_far(size, factor, end):
    one = size_change(size, 0.3, 0.1, end).amount
    assert np.isclose(size_change(factor * size, 0.3, 0.1, end).amount, factor * one)


@given(total=st.floats(0.05, 0.2), drier=shares, wetter=shares)
def test_wood_is_heavier_the_wetter(total, drier, wetter):
    low, high = sorted((drier, wetter))
    assert density_at(0.5, total, low) <= density_at(0.5, total, high) * (1 + 1e-12)
    assert shrinkage_to(total, low) >= shrinkage_to(total, high)


@given(
    temperature=st.floats(-10.0, 40.0), humidity=st.floats(0.05, 0.94), more=st.floats(0, 0.05)
)
def test_damper_air_makes_wetter_wood(temperature, humidity, more):
    assert equilibrium_moisture(temperature, humidity + more) >= equilibrium_moisture(
        temperature, humidity
    )


@given(
    targets=st.lists(st.floats(0.05, 0.3), min_size=2, max_size=20),
    start=st.floats(0.05, 0.3),
    lag=st.floats(0.01, 100.0),
)
def test_a_lagging_piece_stays_within_what_it_was_given(targets, start, lag):
    values = np.array(targets)
    moisture = lagged(np.arange(len(values), dtype=float), values, start, lag)
    assert moisture.min() >= min(start, values.min()) - 1e-12
    assert moisture.max() <= max(start, values.max()) + 1e-12
