"""Cutting a body at level planes: nothing of its surface is lost, moved or added."""

import numpy as np
import pytest

from towerlift.nesting.slabs import cut_at_heights

TRIANGLE = np.array([[0.0, 0.0, 0.0], [4.0, 0.0, 0.0], [0.0, 0.0, 4.0]])
ONE = np.array([[0, 1, 2]])


def areas(slabs):
    a, b, c = np.moveaxis(slabs.vertices[slabs.faces], 1, 0)
    return 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)


def test_strips_of_a_right_triangle():
    # Half of 4 by 4 = 8; strips of 1 m are 3.5, 2.5, 1.5 and 0.5 of it.
    slabs = cut_at_heights(TRIANGLE, ONE, np.array([7]), np.arange(5.0))
    by_slab = np.bincount(slabs.slabs, areas(slabs))
    np.testing.assert_allclose(by_slab, [3.5, 2.5, 1.5, 0.5], atol=1e-12)
    assert set(slabs.members.tolist()) == {7}


def test_every_piece_lies_within_its_slab():
    slabs = cut_at_heights(TRIANGLE, ONE, np.array([0]), np.array([-1.0, 0.3, 2.9, 5.0]))
    heights = slabs.vertices[slabs.faces][:, :, 2]
    assert (heights.min(axis=1) >= slabs.edges[slabs.slabs]).all()
    assert (heights.max(axis=1) <= slabs.edges[slabs.slabs + 1]).all()


def test_a_level_face_on_a_plane_is_kept_once():
    level = np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 1.0], [0.0, 1.0, 1.0]])
    slabs = cut_at_heights(level, ONE, np.array([0]), np.array([0.0, 1.0, 2.0]))
    assert areas(slabs).sum() == pytest.approx(0.5)


@pytest.mark.parametrize(
    "edges", [[0.0, 0.0, 4.0], [0.0], [4.0, 0.0], [0.0, np.nan, 4.0]], ids=str
)
def test_planes_that_do_not_rise(edges):
    with pytest.raises(ValueError, match="rise"):
        cut_at_heights(TRIANGLE, ONE, np.array([0]), np.array(edges))


@pytest.mark.parametrize("edges", [[0.0, 3.9], [0.1, 4.0]], ids=str)
def test_planes_that_leave_part_of_the_body_out(edges):
    with pytest.raises(ValueError, match="enclose"):
        cut_at_heights(TRIANGLE, ONE, np.array([0]), np.array(edges))
