"""How far a section on free lines hangs out of true, against closed forms."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from towerlift.rig.out_of_true import (
    FORCE_COEFFICIENT,
    GustOnLift,
    amplified_tilt,
    gust_pressure,
    silhouette,
    since_levelling,
)


@pytest.mark.parametrize(
    ("ratio", "tilt"),
    [(2.0, 0.010), (3.0, 0.0075), (1.25, 0.025), (math.inf, 0.005)],
)
def test_toppling_makes_a_tilt_larger(ratio, tilt):
    # 20 mm over 4 m is 5 mrad, times r/(r - 1).
    assert amplified_tilt(0.020, 4.0, ratio) == pytest.approx(tilt)


def test_amplified_tilt_is_the_balance_of_lines_and_weight():
    k, w_h, naive = 5.0e5, 2.0e5, 0.004
    theta = amplified_tilt(naive * 3.2, 3.2, k / w_h)
    assert k * (theta - naive) == pytest.approx(w_h * theta)


@pytest.mark.parametrize("ratio", [1.0, 0.5, 0.0, math.nan])
def test_what_topples_has_no_tilt(ratio):
    with pytest.raises(ValueError, match="above 1"):
        amplified_tilt(0.020, 4.0, ratio)


def gust(**changes):
    body = {
        "force": 1000.0,
        "arm": 5.0,
        "line": 10.0,
        "weight": 1.0e5,
        "tilt_stiffness": 8.0e5,
        "toppling": 3.0e5,
    }
    return GustOnLift(**(body | changes))


def test_sway_is_that_of_a_pendulum():
    # F L / W = 1000 x 10 / 100000.
    assert gust().sway == pytest.approx(0.1)


def test_lean_is_the_moment_over_the_stiffness_that_is_left():
    assert gust().lean == pytest.approx(1000.0 * 5.0 / 5.0e5)


def test_a_low_centre_of_gravity_stiffens():
    assert gust(toppling=-2.0e5).lean == pytest.approx(1000.0 * 5.0 / 1.0e6)


@pytest.mark.parametrize("toppling", [8.0e5, 9.0e5, math.nan])
def test_no_lean_where_it_topples(toppling):
    with pytest.raises(ValueError, match="topples"):
        _ = gust(toppling=toppling).lean


def test_pressure_of_a_gust():
    # EN 1991-1-4, 4.5: half of 1.25 kg/m3 times v squared; 11 m/s gives 75.6 Pa.
    assert gust_pressure(11.0) == pytest.approx(75.625)
    assert FORCE_COEFFICIENT == 1.5


@pytest.mark.parametrize(
    ("above", "area", "centre"),
    [
        (-1.0, 12.0, 3.0),  # the whole of a 2 by 6 rectangle
        (0.0, 12.0, 3.0),
        (4.0, 4.0, 5.0),
        (6.0, 0.0, 6.0),
        (9.0, 0.0, 9.0),
    ],
)
def test_outline_of_a_rectangle(above, area, centre):
    found = silhouette(np.array([0.0, 2.0, 6.0]), np.array([1.0, 1.0, 1.0]), above)
    assert found == pytest.approx((area, centre))


def test_outline_of_a_spire():
    # Triangle 4 wide and 6 high: 12 m2, its centre a third up; above 3 m, a quarter of it.
    spire = np.array([0.0, 6.0]), np.array([2.0, 0.0])
    assert silhouette(*spire, 0.0) == pytest.approx((12.0, 2.0))
    assert silhouette(*spire, 3.0) == pytest.approx((3.0, 4.0))


def course(tilts):
    """Heels every 0.2 m from 0, with the tilt at rest at each."""
    return SimpleNamespace(heels=np.arange(len(tilts)) * 0.2, tilt=np.array(tilts, dtype=float))


def test_a_lean_that_stays_is_levelled_out():
    hang = course([(0.03, -0.04)] * 6)
    assert since_levelling(hang, 0.5, None) == pytest.approx(np.zeros(6))


def test_what_changes_within_a_step_of_hauling_is_not():
    # 3 and 4 mrad more from one heel to the next: 5 mrad together.
    hang = course([(0.0, 0.0), (0.003, 0.004), (0.003, 0.004), (0.003, 0.004), (0.003, 0.004)])
    change = since_levelling(hang, 0.5, None)
    assert change == pytest.approx([0.005, 0.005, 0.005, 0.0, 0.0])


def test_a_pick_up_changes_the_lean_at_once():
    hang = course([(0.010, 0.0)] * 5)
    change = since_levelling(hang, 0.5, np.array([0.002, 0.0]))
    assert change == pytest.approx([0.008, 0.008, 0.008, 0.0, 0.0])


def test_a_lean_that_is_not_known_stays_unknown():
    assert math.isnan(since_levelling(course([(math.nan, 0.0)]), 0.5, None)[0])
