"""How deep square timbers overlap on the way past each other, by hand."""

import numpy as np
import pytest

from tests.views.made import _BOX, box
from towerlift.nesting.overlap import least_separation

UP = np.array([0.0, 0.0, 1.0])
POST = box((0.0, 0.0, 0.0), (1.0, 1.0, 1.0))[_BOX]
BEAM = box((0.2, 0.3, 3.0), (2.0, 2.0, 4.0))[_BOX]


@pytest.mark.parametrize(
    ("top", "separation", "at"),
    [
        (1.9, 0.1, 1.9),  # 0.1 m below the beam
        (2.0, 0.0, 2.0),  # touching
        (2.003, -0.003, 2.003),  # 3 mm into it
        # Right through: least shift out of it is 0.7 to the south, from heel 2.7 on.
        (10.0, -0.7, 2.7),
    ],
)
def test_a_post_that_rises_under_a_beam(top, separation, at):
    found = least_separation(POST, BEAM, UP, (0.0, top))
    assert found == pytest.approx((separation, at), abs=1e-9)


def test_a_first_touch_says_nothing_of_what_follows():
    # It stands on the beam below at the start, and ends deep in it.
    below = box((0.0, 0.0, -1.0), (1.0, 1.0, 0.0))[_BOX]
    found, at = least_separation(POST, below, UP, (-0.5, 0.0))
    assert (found, at) == pytest.approx((-0.5, -0.5), abs=1e-9)


def test_a_turned_post_needs_the_edges_too():
    # Two posts a quarter turned about level axes meet edge to edge.
    c = np.sqrt(0.5)
    about_x = np.array([[1, 0, 0], [0, c, -c], [0, c, c]])
    about_y = np.array([[c, 0, c], [0, 1, 0], [-c, 0, c]])
    long_x = box((-2.0, -0.5, -0.5), (2.0, 0.5, 0.5))[_BOX] @ about_x.T
    long_y = box((-0.5, -2.0, -0.5), (0.5, 2.0, 0.5))[_BOX] @ about_y.T
    gap, _ = least_separation(long_x, long_y + 1.5 * UP, UP, (0.0, 0.0))
    assert gap == pytest.approx(1.5 - np.sqrt(2.0), abs=1e-9)


def test_pieces_that_miss_each_other_are_apart_all_the_way():
    beside = BEAM + np.array([1.0, 0.0, 0.0])
    found, _ = least_separation(POST, beside, UP, (0.0, 10.0))
    assert found == pytest.approx(0.2, abs=1e-9)
