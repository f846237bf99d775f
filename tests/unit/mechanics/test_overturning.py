"""Overturning, uplift and side reactions: hand sums, laws and refusals."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from towerlift.mechanics.overturning import (
    Push,
    SidePair,
    Stand,
    edges_of,
    overturning_factor,
    overturning_pressure,
    side_reactions,
    support_forces,
    uplift_pressure,
)
from towerlift.rig.wind import by_direction

DIRECTIONS = np.arange(16) * np.pi / 8
SQUARE = np.array([[1, 1], [1, -1], [-1, -1], [-1, 1]], dtype=float)


def push(moment, force=None, directions=DIRECTIONS):
    moment = np.broadcast_to(np.asarray(moment, dtype=float), directions.shape)
    force = moment / 5 if force is None else np.broadcast_to(force, directions.shape)
    return Push(directions=directions, force=np.array(force), moment=np.array(moment))


def square(weight=100e3, half=2.0, centre=(0.0, 0.0)):
    return Stand(weight=weight, centre=np.array(centre), supports=half * SQUARE)


def test_hand_sum_of_the_belfry():
    # By hand: 207 kN on ledges 2.05 m from the axis hold 424 kN m; at 28 m/s, 490 Pa,
    # 23.5 kN at 7.75 m and 13.5 kN at 16.1 m overturn with 399.5: 1.06. Half as much again
    # is left up to 23.6 m/s.
    stand = square(207e3, 2.05)
    wind = push((23.5e3 * 7.75 + 13.5e3 * 16.1) / 490)
    factor, way = overturning_factor(stand, wind, 490.0)
    assert factor == pytest.approx(1.06, abs=0.005)
    assert way % 4 == 0, "square to a face, not on the corner"
    pressure, _ = overturning_pressure(stand, wind, 1.5)
    assert np.sqrt(pressure / 0.625) == pytest.approx(23.6, abs=0.05)


def test_square_wind_tips_first_and_quartering_wind_lifts_first():
    stand, wind = square(), push(1.0)
    assert overturning_factor(stand, wind, 1.0)[1] % 4 == 0
    lifts, way = uplift_pressure(stand, wind)
    assert way % 4 == 2
    # W / 4 = M / (sqrt 2 b), b = 4 m.
    assert lifts == pytest.approx(100e3 / 4 * np.sqrt(2) * 4, rel=1e-9)


def test_the_weight_outside_its_supports_tips_without_wind():
    stand = square(centre=(2.5, 0.0))
    assert overturning_factor(stand, push(0.0), 1.0)[0] == 0.0
    assert overturning_pressure(stand, push(1.0), 1.5)[0] == 0.0
    assert uplift_pressure(stand, push(1.0))[0] == 0.0


def test_no_wind_never_tips():
    assert overturning_factor(square(), push(0.0), 1.0)[0] == np.inf
    assert uplift_pressure(square(), push(0.0))[0] == np.inf


@given(
    moment=st.floats(1.0, 1e6),
    factor=st.floats(1.0, 3.0),
    cx=st.floats(-1.5, 1.5),
    cy=st.floats(-1.5, 1.5),
)
def test_the_pressure_found_has_the_factor_asked(moment, factor, cx, cy):
    stand, wind = square(centre=(cx, cy)), push(moment)
    pressure, _ = overturning_pressure(stand, wind, factor)
    assert overturning_factor(stand, wind, pressure)[0] == pytest.approx(factor, rel=1e-9)


@given(turn=st.floats(0, 2 * np.pi), cx=st.floats(-1, 1), cy=st.floats(-1, 1))
def test_turning_all_together_changes_nothing(turn, cx, cy):
    c, s = np.cos(turn), np.sin(turn)
    about = np.array([[c, s], [-s, c]])
    moments = 1e5 * (1 + 0.3 * np.sin(DIRECTIONS))
    one = Push(directions=DIRECTIONS, force=moments / 5, moment=moments)
    two = Push(directions=DIRECTIONS + turn, force=moments / 5, moment=moments)
    stand = square(centre=(cx, cy))
    turned = Stand(
        weight=stand.weight, centre=stand.centre @ about, supports=stand.supports @ about
    )
    before, after = overturning_factor(stand, one, 1.0), overturning_factor(turned, two, 1.0)
    assert after[0] == pytest.approx(before[0], rel=1e-9)
    assert uplift_pressure(turned, two)[0] == pytest.approx(
        uplift_pressure(stand, one)[0], rel=1e-9
    )


@given(
    mx=st.floats(-1e5, 1e5),
    my=st.floats(-1e5, 1e5),
    cx=st.floats(-1, 1),
    cy=st.floats(-1, 1),
)
def test_supports_carry_weight_and_moment(mx, my, cx, cy):
    stand = square(centre=(cx, cy))
    forces = support_forces(stand, np.array([mx, my]))
    assert forces.sum() == pytest.approx(stand.weight, rel=1e-12)
    about = forces @ stand.supports
    np.testing.assert_allclose(
        about, np.array([mx, my]) + stand.weight * stand.centre, rtol=1e-9, atol=1e-6
    )


def test_corner_shares_of_a_square():
    # R = W (1/4 + e_x / 2 b_x + e_y / 2 b_y)
    forces = support_forces(square(centre=(0.4, -0.2)), np.zeros(2))
    expected = 100e3 * (
        0.25 + np.array([1, 1, -1, -1]) * 0.05 + np.array([1, -1, -1, 1]) * -0.025
    )
    np.testing.assert_allclose(forces, expected, rtol=1e-12)


def test_side_reactions_by_moments():
    # 10 kN at 9 m over shoes at 0.5 and 3.0 m, 100 kN half a hundred millimetres out.
    upper, lower = side_reactions(
        SidePair(foot=0.5, spacing=2.5), np.array([10e3]), np.array([90e3]), twist=5e3
    )
    assert upper[0] == pytest.approx((90e3 - 5e3) / 2.5 + 2e3)
    assert lower[0] == pytest.approx((90e3 - 5e3) / 2.5 - 10e3 + 2e3)


def test_wind_on_the_corner():
    factor = by_direction(4.0 / 3.6, DIRECTIONS)
    assert factor[[0, 4, 8, 12]] == pytest.approx(1.0)
    assert factor[[2, 6, 10, 14]] == pytest.approx(4.0 / 3.6)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"weight": 0.0}, "weight"),
        ({"weight": float("nan")}, "weight"),
        ({"centre": np.array([np.nan, 0.0])}, "finite"),
        ({"centre": np.zeros(3)}, "centre"),
    ],
)
def test_stands_that_are_none(change, says):
    with pytest.raises(ValueError, match=says):
        Stand(**({"weight": 1.0, "centre": np.zeros(2), "supports": SQUARE} | change))


def test_supports_in_a_line_are_refused():
    line = Stand(weight=1.0, centre=np.zeros(2), supports=np.array([[0, 0], [1, 1], [2, 2.0]]))
    with pytest.raises(ValueError, match="in a line"):
        edges_of(line)
    with pytest.raises(ValueError, match="in a line"):
        support_forces(line, np.zeros(2))


@pytest.mark.parametrize("value", [-1.0, np.nan])
def test_winds_that_are_none(value):
    with pytest.raises(ValueError, match=r"finite|negative"):
        push(np.full(16, value))


def test_a_pair_without_spacing_and_a_factor_of_nothing():
    with pytest.raises(ValueError, match="spacing"):
        SidePair(foot=0.0, spacing=0.0)
    with pytest.raises(ValueError, match="factor"):
        overturning_pressure(square(), push(1.0), 0.0)
