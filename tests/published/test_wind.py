"""Wind pressure against printed values, both standards, and the Beaufort scale.

Sources: worked pages of EN 1991-1-4 (peak velocity pressure at a bridge pylon 77.36 m high
over the sea, and at 3.5 m over flat land); worked page of ASCE 7 velocity pressure (115 mph;
its prose prints 31.72 and 37.55 for the last two, which its own formula does not give); a
coastal national annex of EN 1991-1-4; the probability factor of the European Commission's
worked examples of bridge design to Eurocodes (2012), pier of example 3.3.1; Beaufort scale
as printed in m/s. Compared to half the last digit printed.
"""

import pytest

from towerlift.mechanics.wind import (
    BEAUFORT,
    MILE_PER_HOUR,
    PSF,
    TERRAINS,
    american_pressure,
    beaufort,
    gust_of,
    log_law,
    peak_pressure,
    power_law,
    probability_factor,
    roughness_factor,
    terrain_factor,
    turbulence,
)


def test_peak_pressure_high_over_the_sea():
    sea, height, basic = TERRAINS["0"], 77.36, 25.0
    assert terrain_factor(sea) == pytest.approx(0.156, abs=0.0005)
    assert float(roughness_factor(height, sea)) == pytest.approx(1.585, abs=0.0005)
    assert basic * float(roughness_factor(height, sea)) == pytest.approx(39.624, abs=0.0125)
    assert float(turbulence(height, sea)) == pytest.approx(0.098, abs=0.0005)
    assert float(peak_pressure(basic, height, sea)) / 1e3 == pytest.approx(1.658, abs=0.0005)


def test_peak_pressure_low_over_flat_land():
    pressure = float(peak_pressure(27.0, 3.5, TERRAINS["I"]))
    assert pressure / 1e3 == pytest.approx(0.989, abs=0.0005)


AMERICAN = [
    pytest.param(0.85, 24.46, id="exposure C, 15 ft"),
    pytest.param(0.98, 28.20, id="exposure C, 30 ft"),
    pytest.param(1.16, 33.38, id="exposure D, 30 ft"),
]


@pytest.mark.parametrize(("exposure", "printed_psf"), AMERICAN)
def test_american_velocity_pressure(exposure, printed_psf):
    pressure = american_pressure(115 * MILE_PER_HOUR, exposure=exposure)
    assert pressure / PSF == pytest.approx(printed_psf, abs=0.005)


def test_pressure_by_a_power_of_the_height():
    assert 1.7 * 0.39 * power_law(7.5, 10.0, 0.37) == pytest.approx(0.596, abs=0.0005)


def test_a_longer_return_period():
    assert probability_factor(100.0) == pytest.approx(1.0384765, abs=5e-8)
    assert probability_factor(50.0) == pytest.approx(1.0, abs=1e-12)


# First and last speed printed of each force, m/s.
PRINTED = [
    (0, 0.0, 0.2),
    (1, 0.3, 1.5),
    (2, 1.6, 3.3),
    (3, 3.4, 5.4),
    (4, 5.5, 7.9),
    (5, 8.0, 10.7),
    (6, 10.8, 13.8),
    (7, 13.9, 17.1),
    (8, 17.2, 20.7),
    (9, 20.8, 24.4),
    (10, 24.5, 28.4),
    (11, 28.5, 32.6),
    (12, 32.7, 60.0),
]


@pytest.mark.parametrize(("force", "first", "last"), PRINTED)
def test_beaufort(force, first, last):
    assert beaufort(first) == beaufort(last) == force


def test_beaufort_bands_meet():
    assert list(BEAUFORT) == [first for _, first, _ in PRINTED[1:]]


# Arithmetic of the formulas alone.
def test_ten_metres_a_second():
    assert gust_of(62.5) == pytest.approx(10.0, abs=1e-12)


def test_ten_to_forty_metres():
    assert power_law(40.0, 10.0, 1 / 7) == pytest.approx(1.219, abs=0.0005)
    assert log_law(40.0, 10.0, 0.05) == pytest.approx(1.262, abs=0.0005)
    # Half as much again at 20 m as near the ground, at most: a guide's bound.
    assert power_law(20.0, 2.0, 1 / 7) < 1.5
