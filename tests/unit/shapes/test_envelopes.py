"""Reach of a body band by band of height, against what is plain to see."""

import numpy as np
import pytest
import trimesh

from towerlift.shapes import REACH_COLUMNS, Solid, half_widths


def _solid(mesh):
    return Solid(
        name="body",
        vertices=np.array(mesh.vertices, dtype=float),
        faces=np.array(mesh.faces, dtype=np.int64),
        members=np.zeros(len(mesh.faces), dtype=np.int64),
        marks=("body",),
        parts=("body",),
        closed=True,
    )


def test_columns_are_the_faces():
    box = trimesh.creation.box(bounds=([-1, -2, 0], [3, 4, 5]))
    assert REACH_COLUMNS == ("north", "east", "south", "west")
    np.testing.assert_allclose(half_widths(_solid(box), np.array([1.0, 2.0])), [[4, 3, 2, 1]])


def test_a_pyramid_is_cut_at_the_heights():
    # Half width 2 at the foot, a point at 4: at height s it reaches 2 - s / 2.
    vertices = [[-2, -2, 0], [2, -2, 0], [2, 2, 0], [-2, 2, 0], [0, 0, 4]]
    faces = [[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4], [0, 2, 1], [0, 3, 2]]
    solid = _solid(trimesh.Trimesh(vertices, faces, process=False))
    heights = np.array([0.0, 0.7, 1.0, 2.5, 3.9, 4.0])
    expected = np.repeat(2 - heights[:-1, None] / 2, 4, axis=1)
    np.testing.assert_allclose(half_widths(solid, heights), expected, atol=1e-12)


def test_a_foot_is_felt_in_its_own_bands_only():
    leg = trimesh.creation.box(bounds=([-1, -1, 0], [1, 1, 10]))
    foot = trimesh.creation.box(bounds=([-1, 1, 9.2], [1, 1.12, 9.4]))
    solid = _solid(trimesh.util.concatenate([leg, foot]))
    north = half_widths(solid, np.array([9.0, 9.1, 9.2, 9.3, 9.4, 9.5, 9.6]))[:, 0]
    # Bands have both their edges, so those that end or begin at the foot feel it too.
    np.testing.assert_allclose(north, [1, 1.12, 1.12, 1.12, 1.12, 1])


def test_bands_with_nothing_in_them_are_not_a_number():
    box = trimesh.creation.box(bounds=([-1, -1, 1], [1, 1, 2]))
    reach = half_widths(_solid(box), np.array([-1.0, 0.5, 1.5, 2.5, 3.0]))
    assert np.isnan(reach[[0, 3]]).all()
    np.testing.assert_allclose(reach[1:3], 1.0)


@pytest.mark.parametrize(
    "heights", [[1.0], [1.0, 1.0], [2.0, 1.0], [0.0, np.nan], [[0.0, 1.0]]], ids=str
)
def test_heights_that_do_not_rise_are_refused(heights):
    box = trimesh.creation.box()
    with pytest.raises(ValueError, match="rise"):
        half_widths(_solid(box), np.array(heights))
