"""Pressure under an eccentric load against textbook examples.

Sources: the gravity dam of a textbook's chapter on dams (height 6 m, top 1.5 m, masonry
20 kN/m^3, water 9.81 kN/m^3, full uplift, base so wide that the resultant meets the edge
of the middle third: 4.94 m, greatest pressure 97.6 kN/m^2), and a footing of 6 by 14 ft
under 120 kip one foot off its middle.
"""

import pytest

from towerlift.mechanics.bearing import eccentric_pressure

WATER, MASONRY, HEIGHT, TOP = 9.81e3, 20e3, 6.0, 1.5


def dam(base):
    """Resultant on the base of the dam and its eccentricity, a metre of length."""
    block, slope = MASONRY * TOP * HEIGHT, MASONRY * (base - TOP) * HEIGHT / 2
    uplift, push = WATER * HEIGHT * base / 2, WATER * HEIGHT**2 / 2
    load = block + slope - uplift
    about_heel = (
        block * TOP / 2
        + slope * (TOP + (base - TOP) / 3)
        - uplift * base / 3
        + push * HEIGHT / 3
    )
    return load, about_heel / load - base / 2


def test_the_dam_of_the_textbook():
    load, off = dam(4.94)
    # The exact root is 4.950 m; the source goes on with 4.94.
    assert off == pytest.approx(4.94 / 6, rel=0.01)
    found = eccentric_pressure(load, 4.94, 1.0, 4.94 / 6)
    assert found.most / 1e3 == pytest.approx(97.6, abs=0.05)
    assert found.least == pytest.approx(0.0, abs=1.0)


def test_the_base_that_the_textbook_solves_for():
    load, off = dam(4.950)
    assert off == pytest.approx(4.950 / 6, abs=0.002)
    assert load > 0


def test_a_footing_loaded_at_the_edge_of_its_middle_third():
    # 2 P / A, in kip and feet.
    found = eccentric_pressure(120.0, 6.0, 14.0, 1.0)
    assert found.most == pytest.approx(2.857, abs=0.0005)
    assert found.least == pytest.approx(0.0, abs=1e-12)
    assert found.contact == pytest.approx(6.0)


def test_farther_off_it_lifts():
    # Contact 3 (B/2 - e) = 4.5 ft, and twice the mean of that: by hand 3.810 ksf.
    found = eccentric_pressure(120.0, 6.0, 14.0, 1.5)
    assert found.contact == pytest.approx(4.5)
    assert found.most == pytest.approx(2 * 120 / (14 * 4.5), abs=1e-12)
