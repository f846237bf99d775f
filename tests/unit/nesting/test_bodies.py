"""Boxes round the members of a body."""

import numpy as np

from towerlift.nesting.bodies import Assembly, Label, member_boxes

CORNERS = np.array([[0.0, 0, 0], [2, 0, 0], [0, 3, 1], [5, 5, 5], [6, 5, 5], [5, 7, 4]])
TWO = Assembly(
    name="frame",
    vertices=CORNERS,
    faces=np.array([[0, 1, 2], [3, 4, 5]]),
    members=np.array([0, 2]),
    labels=tuple(Label(body="frame", mark=mark, part="leg") for mark in "abc"),
)


def test_each_member_has_its_own_box_and_one_that_is_not_drawn_is_near_nothing():
    boxes = member_boxes(TWO)
    np.testing.assert_array_equal(boxes[0], [[0, 0, 0], [2, 3, 1]])
    np.testing.assert_array_equal(boxes[2], [[5, 5, 4], [6, 7, 5]])
    assert np.all(boxes[1, 0] == np.inf)
    assert np.all(boxes[1, 1] == -np.inf)


def test_a_quarter_turn_and_a_shift_carry_the_boxes_along():
    pose = np.array([[0.0, -1, 0, 10], [1, 0, 0, 20], [0, 0, 1, 30], [0, 0, 0, 1]])
    boxes = member_boxes(TWO, pose)
    np.testing.assert_allclose(boxes[0], [[7, 20, 30], [10, 22, 31]])
