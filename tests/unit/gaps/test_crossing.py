"""Two lines that go up and down past each other, against geometry known by hand."""

import numpy as np
import pytest

from towerlift.gaps.crossing import crossing_gap


def still(start, end):
    return np.array([[start, end], [start, end]], dtype=float)


@pytest.mark.parametrize("apart", [0.05, 0.4])
def test_two_plumb_lines_leave_what_lies_between_them(apart):
    one = np.array([[[0, 0, 0], [0, 0, 10]], [[0, 0, 6], [0, 0, 10]]], dtype=float)
    other = one + np.array([apart, 0, 0])
    found = crossing_gap(one, other, (0.02, 0.01))
    assert found.gap == pytest.approx(apart - 0.03, abs=1e-12)


def test_crossed_lines_at_rest_leave_the_height_between_them():
    one, other = still([-1, 0, 1], [1, 0, 1]), still([0, -1, 1.25], [0, 1, 1.25])
    found = crossing_gap(one, other, (0.05, 0.05))
    assert found.gap == pytest.approx(0.15, abs=1e-12)
    assert found.shares == pytest.approx((0.5, 0.5))
    assert found.point == pytest.approx((0, 0, 1))


def test_a_line_that_goes_up_through_another_touches_it_half_way():
    # It is never there at first or at last.
    one = np.array([[[-1, 0, 0], [1, 0, 0]], [[-1, 0, 4], [1, 0, 4]]], dtype=float)
    found = crossing_gap(one, still([0, -1, 1], [0, 1, 1]), (0.01, 0.01))
    assert found.gap == pytest.approx(-0.02, abs=1e-12)
    assert found.at == pytest.approx(0.25)
    assert found.point == pytest.approx((0, 0, 1))


def test_a_line_that_goes_up_beside_the_end_of_another_leaves_what_is_level():
    one = np.array([[[-1, 0, 0], [1, 0, 0]], [[-1, 0, 4], [1, 0, 4]]], dtype=float)
    found = crossing_gap(one, still([0, 0.3, 1], [0, 2, 1]), (0.0, 0.0))
    assert found.gap == pytest.approx(0.3, abs=1e-12)


def test_the_lower_end_of_a_tackle_passes_a_fall_that_its_upper_end_does_not():
    # Slanting: at the top 1 m aside of the fall, at the foot right under it.
    one = np.array([[[0, 0, 0], [1, 0, 10]], [[0, 0, 8], [1, 0, 10]]], dtype=float)
    fall = still([0.0, -1, 9.5], [0.0, 1, 9.5])
    # The foot stops 1.5 m short of it, and the line is then (1, 0, 2) long.
    square_to = abs(1.5 * 1.0) / np.hypot(1.0, 2.0)
    assert crossing_gap(one, fall, (0.0, 0.0)).gap == pytest.approx(square_to, abs=1e-12)


@pytest.mark.parametrize("seed", range(40))
def test_no_place_or_time_is_nearer_and_one_is_as_near(seed):
    rng = np.random.default_rng(seed)
    ends = rng.normal(size=(2, 2, 3))
    pair = [np.stack([e, e + rng.normal(0, 2, (2, 1)) * [0, 0, 1]]) for e in ends]
    found = crossing_gap(pair[0], pair[1], (0.0, 0.0))
    t, s, u = np.meshgrid(*[np.linspace(0, 1, 61)] * 3, indexing="ij")

    def points(line, share, time):
        a = line[0, 0] + time[..., None] * (line[1, 0] - line[0, 0])
        b = line[0, 1] + time[..., None] * (line[1, 1] - line[0, 1])
        return a + share[..., None] * (b - a)

    tried = np.linalg.norm(points(pair[0], s, t) - points(pair[1], u, t), axis=-1)
    assert found.gap <= tried.min() + 1e-12
    here = [np.array(each) for each in (*found.shares, found.at)]
    apart = points(pair[0], here[0], here[2]) - points(pair[1], here[1], here[2])
    assert np.linalg.norm(apart) == pytest.approx(found.gap, abs=1e-9)


def test_an_end_that_goes_aside_is_refused():
    one = np.array([[[0, 0, 0], [0, 0, 1]], [[0.1, 0, 0], [0, 0, 1]]], dtype=float)
    with pytest.raises(ValueError, match="straight up"):
        crossing_gap(one, still([1, 0, 0], [1, 0, 1]), (0.0, 0.0))
    one[1, 0] = np.nan
    with pytest.raises(ValueError, match="finite"):
        crossing_gap(one, still([1, 0, 0], [1, 0, 1]), (0.0, 0.0))


def test_lines_that_meet_at_no_level_are_held_apart_by_their_heights():
    # The upper line starts where the lower one ends, as a fall leaves a block beside it.
    one = np.array(
        [[[1.8, 2.0, 0], [1.865, 2.035, 28.2]], [[1.8, 2, 15], [1.865, 2.035, 28.2]]]
    )
    found = crossing_gap(one, still([1.23, 2.07, 28.2], [2.6, 4.75, 28.4]), (0.02, 0.02))
    assert all(0 <= share <= 1 for share in found.shares)
    assert found.gap > 0.3
