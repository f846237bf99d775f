"""Deadmen and pickets against the tables of two US service manuals.

Sources: TM 5-5420-278-10, table 9, holding power of deadmen in loam by mean depth and
slope of the pull; NAVEDTRA 14251 (Steelworker), page 6, picket holdfasts in undisturbed
loam. Both are works of the United States government.
"""

import math

import pytest

from towerlift.mechanics.anchors import (
    FOOT,
    POUND,
    PSF,
    deadman_length,
    deadman_pull,
    earth_coefficients,
    holding_power,
    picket_pull,
)

# Mean depth [ft]: holding power [lb/ft^2] at 1:1, 1:2, 1:3 and 1:4.
TABLE_9 = {
    3: (950, 1300, 1450, 1500),
    4: (1750, 2200, 2600, 2700),
    5: (2800, 3600, 4000, 4100),
    6: (3800, 5100, 5800, 6000),
    7: (5100, 7000, 8000, 8400),
}


@pytest.mark.parametrize("depth_ft", TABLE_9)
@pytest.mark.parametrize("column", range(4))
def test_holding_power(depth_ft, column):
    found = holding_power(depth_ft * FOOT, 1 / (column + 1)) / PSF
    assert found == pytest.approx(TABLE_9[depth_ft][column], abs=0.5)


@pytest.mark.parametrize(
    ("combination", "pounds"), [("1", 700), ("1-1-1", 1800), ("3-2-1", 4000)]
)
def test_pickets(combination, pounds):
    assert picket_pull(combination) / POUND == pytest.approx(pounds, abs=0.5)


def test_groups_of_pickets_hold_less_than_their_pickets_apart():
    assert picket_pull("1-1-1") < 3 * picket_pull("1")
    assert picket_pull("3-2-1") < 6 * picket_pull("1")


def test_a_pull_between_two_slopes_holds_between_their_values():
    assert 2700 > holding_power(4 * FOOT, 0.3) / PSF > 2200
    assert holding_power(4 * FOOT, 0.1) == holding_power(4 * FOOT, 0.25)


def test_length_of_a_log_by_the_manuals_rule():
    # 10 000 lb, 4 ft deep, 1:4, a log of 1 ft: the rule with the table's 2 700 lb/ft^2.
    found = deadman_length(10_000 * POUND, 4 * FOOT, 0.25, FOOT)
    assert found / FOOT == pytest.approx(10_000 / 2700 + 1, abs=1e-9)


def test_earth_pressure_at_thirty_degrees():
    # Rankine: (1 + sin) / (1 - sin), 3 and 1/3 at 30 degrees.
    passive, active = earth_coefficients(math.radians(30))
    assert passive == pytest.approx(3.0, abs=1e-12)
    assert active == pytest.approx(1 / 3, abs=1e-12)


def test_deadman_by_earth_pressure():
    # 18 kN/m^3, 1.5 m deep, 1 m long: half of 18 (3 - 1/3) 1.5^2, by hand 54 kN.
    found = deadman_pull(1.0, 1.5, 18_000 / 9.80665, math.radians(30))
    assert found == pytest.approx(54_000, rel=1e-9)


@pytest.mark.parametrize("depth_ft", [2.9, 7.1, math.nan])
def test_what_the_table_does_not_hold(depth_ft):
    with pytest.raises(ValueError, match="3 to 7 ft"):
        holding_power(depth_ft * FOOT, 0.25)


@pytest.mark.parametrize("rise", [1.1, -0.1, math.nan])
def test_steeper_pulls_are_refused(rise):
    with pytest.raises(ValueError, match="1:1"):
        holding_power(4 * FOOT, rise)


def test_unknown_pickets_are_refused():
    with pytest.raises(ValueError, match="1-1-1"):
        picket_pull("2-2")


@pytest.mark.parametrize("angle", [0.0, math.pi / 2, math.nan])
def test_no_ground_has_such_friction(angle):
    with pytest.raises(ValueError, match="acute"):
        earth_coefficients(angle)
