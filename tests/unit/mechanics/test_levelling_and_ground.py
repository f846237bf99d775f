"""Level marks, the call after a level, and distances on the ground."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from towerlift.mechanics.capstan import level_time
from towerlift.mechanics.ground import (
    distance_to_box,
    distance_to_run,
    distance_to_sector,
    runs_cross,
    turning_load,
)
from towerlift.mechanics.levelling import ABORT, STOP, level_allowance, level_call, mark_mm
from towerlift.mechanics.tackle import block_resultant

CORNERS = np.array([[2.0, 2.0], [2.0, -2.0], [-2.0, -2.0], [-2.0, 2.0]])


# Hand arithmetic from before this package: play, swelling, spacing, span, allowance [mm].
@pytest.mark.parametrize(
    ("play", "swelling", "spacing", "span", "printed"),
    [(20, 0, 5.2, 12.0, 17.3), (20, 0, 4.1, 12.1, 13.5), (20, 7.6, 4.1, 12.1, 8.4)],
)
def test_allowance(play, swelling, spacing, span, printed):
    found = float(level_allowance((play - swelling) / 1e3, spacing, span)) * 1e3
    # Printed cut off, not rounded: a limit is never rounded up.
    assert found == pytest.approx(printed, abs=0.06)


def test_marks_are_never_rounded_up():
    assert mark_mm(0.0135, STOP) == 6
    assert mark_mm(0.0135, ABORT) == 10
    assert mark_mm(0.0084, STOP) == 4
    assert mark_mm(0.0080, STOP) == 4


@given(play=st.floats(-0.01, 0.05), span=st.floats(0.5, 15))
def test_no_play_no_allowance(play, span):
    found = float(level_allowance(play, 4.0, span))
    assert found >= 0
    assert (found == 0) is (play <= 0)


@pytest.mark.parametrize("ratio", [2.0, np.inf])
def test_low_side_heaves_and_high_side_holds(ratio):
    # The west side 20 mm low; 5 mm for each pawl stop.
    heights = np.array([0.0, 0.0, -0.02, -0.02])
    call = level_call(CORNERS, heights, 0.005, ratio=ratio)
    share = 1.0 if np.isinf(ratio) else 0.5
    assert call.pawls.tolist() == [0, 0, round(4 * share), round(4 * share)]
    assert call.holds.tolist() == [True, True, False, False]
    assert call.level == pytest.approx(0.02)
    assert call.twist == pytest.approx(0, abs=1e-12)


def test_what_is_off_the_plane_is_not_hauled_at():
    call = level_call(CORNERS, np.array([0.008, -0.008, 0.008, -0.008]), 0.004, ratio=3.0)
    assert call.pawls.tolist() == [0, 0, 0, 0]
    assert call.twist == pytest.approx(0.008)
    assert call.level == pytest.approx(0, abs=1e-12)


@settings(max_examples=60)
@given(
    slope=st.tuples(st.floats(-0.01, 0.01), st.floats(-0.01, 0.01)),
    ratio=st.floats(1.2, 20),
)
def test_a_call_leaves_less_than_two_pawls(slope, ratio):
    heights = CORNERS @ np.array(slope)
    rise = 0.002
    call = level_call(CORNERS, heights, rise, ratio=ratio)
    assert call.pawls.min() == 0
    # Half a pawl either way at each corner, as toppling magnifies it.
    assert call.left <= 2.0 * rise * ratio / (ratio - 1) + 1e-12


@pytest.mark.parametrize(
    ("corners", "heights", "rise", "ratio"),
    [
        (CORNERS[:2], np.zeros(2), 0.01, 2.0),
        (CORNERS[[0, 0, 0]], np.zeros(3), 0.01, 2.0),
        (CORNERS, np.array([0, 0, 0, np.nan]), 0.01, 2.0),
        (CORNERS, np.zeros(4), 0.0, 2.0),
        (CORNERS, np.zeros(4), 0.01, 1.0),
        (CORNERS, np.zeros(4), 0.01, np.nan),
    ],
)
def test_a_level_that_has_no_answer(corners, heights, rise, ratio):
    with pytest.raises(ValueError, match=r"corners|heights"):
        level_call(corners, heights, rise, ratio=ratio)


# Hand arithmetic, and a simulation of our own that gave 25 s for the second: spacing,
# height of the centre, ratio of stiffness, time [s]; 0.0127 m/s.
@pytest.mark.parametrize(
    ("spacing", "height", "ratio", "seconds"), [(4.1, 9.32, 2.07, 18), (4.1, 8.17, 2.35, 23)]
)
def test_time_in_which_crews_by_feel_lose_level(spacing, height, ratio, seconds):
    speed = 0.55 * 0.166 / 1.8 / 4
    assert level_time(spacing, height, speed, ratio=ratio) == pytest.approx(seconds, abs=1)
    assert level_time(spacing, height, speed, ratio=0.9) == 0.0
    with pytest.raises(ValueError, match="positive"):
        level_time(spacing, float("nan"), speed, ratio=ratio)


points = st.tuples(st.floats(-20, 20), st.floats(-20, 20)).map(np.array)


@given(point=points, start=points, end=points)
def test_distance_to_a_run_is_the_least_along_it(point, start, end):
    along = start + np.linspace(0, 1, 400)[:, None] * (end - start)
    sampled = np.linalg.norm(along - point, axis=1).min()
    found = distance_to_run(point, start, end)
    assert found <= sampled + 1e-9
    assert sampled - found < np.linalg.norm(end - start) / 399 + 1e-9


@given(point=points, apex=points, turn=st.floats(0, 6.28))
def test_distance_to_a_sector_is_the_least_to_its_edges(point, apex, turn):
    half = np.radians(15)
    found = distance_to_sector(point, apex, np.array([np.cos(turn), np.sin(turn)]), half)
    edges = [turn - half, turn + half]
    far = np.linspace(0, 120, 6001)[:, None]
    sampled = min(
        np.linalg.norm(apex + far * [np.cos(a), np.sin(a)] - point, axis=1).min() for a in edges
    )
    assert abs(found) == pytest.approx(sampled, abs=0.03)
    away = point - apex
    angle = np.arctan2(away[1], away[0]) - turn
    inside = abs((angle + np.pi) % (2 * np.pi) - np.pi) < half - 1e-6
    if inside and np.linalg.norm(away) > 1e-6:
        assert found < 0


@given(point=points)
def test_distance_to_a_box(point):
    low, high = np.array([-3.0, -2.0]), np.array([4.0, 5.0])
    found = distance_to_box(point, low, high)
    outside = np.linalg.norm(np.clip(point, low, high) - point)
    if outside > 0:
        assert found == pytest.approx(outside)
    else:
        assert found == pytest.approx(-min(*(point - low), *(high - point)))


def test_runs_that_cross_and_runs_that_meet():
    a, b, c, d = (np.array(p, dtype=float) for p in ((0, 0), (2, 2), (0, 2), (2, 0)))
    assert runs_cross((a, b), (c, d))
    assert not runs_cross((a, c), (b, d))
    assert not runs_cross((a, b), (b, d))


@given(angle=st.floats(0.01, np.pi), pull=st.floats(1, 1e5))
def test_a_block_carries_the_resultant(angle, pull):
    # The rule for turning blocks, which is held to print elsewhere.
    before = np.array([3.0, 0.0, 0.0])
    after = 5.0 * np.array([np.cos(angle), np.sin(angle), 0.0])
    load = turning_load((before, np.zeros(3), after), pull)
    assert np.linalg.norm(load) == pytest.approx(block_resultant(pull, angle), abs=1e-6 * pull)


def test_what_has_no_direction_is_refused():
    with pytest.raises(ValueError, match="no distance"):
        turning_load((np.zeros(3), np.zeros(3), np.ones(3)), 1.0)
    with pytest.raises(ValueError, match="sector"):
        distance_to_sector(np.zeros(2), np.zeros(2), np.zeros(2), 0.1)
