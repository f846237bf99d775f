"""Triangles that pass through each other, against exact arithmetic and made cases."""

from itertools import combinations

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from towerlift.shapes.crossing import find_crossings
from towerlift.shapes.faults import touch_depth
from towerlift.shapes.masses import enclosed_volume

DEPTH = 1e-9
CORNERS = st.tuples(*[st.integers(-3, 3)] * 3)


def _side(triangle, point):
    """Side of a triangle's plane on which a point lies, in whole numbers: 1, 0 or -1."""
    a, b, c = triangle
    u, v, w = ([q - p for p, q in zip(a, x, strict=True)] for x in (b, c, point))
    volume = (
        w[0] * (u[1] * v[2] - u[2] * v[1])
        + w[1] * (u[2] * v[0] - u[0] * v[2])
        + w[2] * (u[0] * v[1] - u[1] * v[0])
    )
    return (volume > 0) - (volume < 0)


def _pierces(p, q, triangle, *, strictly):
    """Whether a segment passes a triangle from one side to the other, exactly."""
    if _side(triangle, p) * _side(triangle, q) >= 0:
        return False
    a, b, c = triangle
    turns = {_side((p, q, a), b), _side((p, q, b), c), _side((p, q, c), a)}
    return len(turns) == 1 and 0 not in turns if strictly else not {1, -1} <= turns


def _any_pierces(first, second, *, strictly):
    return any(
        _pierces(one[i], one[(i + 1) % 3], other, strictly=strictly)
        for one, other in ((first, second), (second, first))
        for i in range(3)
    )


def _pairs(vertices, faces, depth=DEPTH):
    found = find_crossings(np.array(vertices, dtype=float), np.array(faces), depth)
    return {tuple(pair) for pair in found.pairs.tolist()}


def _soup(triangles):
    return [corner for t in triangles for corner in t], np.arange(3 * len(triangles)).reshape(
        -1, 3
    )


def _has_area(triangle):
    a, b, c = np.array(triangle)
    return bool(np.any(np.cross(b - a, c - a)))


@given(triangles=st.lists(st.tuples(CORNERS, CORNERS, CORNERS), min_size=2, max_size=12))
def test_loose_triangles_against_exact_arithmetic(triangles):
    # Small whole numbers, so that corners on planes and edges on edges are common.
    triangles = [t for t in triangles if _has_area(t)]
    if len(triangles) < 2:
        return
    found = _pairs(*_soup(triangles))
    every = list(combinations(range(len(triangles)), 2))
    sure = {(i, j) for i, j in every if _any_pierces(triangles[i], triangles[j], strictly=True)}
    assert sure <= found
    for i, j in found:
        # What is found and not sure touches at least: a plane is met from both sides.
        for one, other in ((i, j), (j, i)):
            sides = {_side(triangles[one], corner) for corner in triangles[other]}
            assert -1 in sides
            assert sides != {-1}


@pytest.mark.parametrize("seed", range(5))
def test_many_scattered_triangles_against_exact_arithmetic(seed):
    rng = np.random.default_rng(seed)
    middles = rng.uniform(-1, 1, (60, 1, 3))
    scattered = middles + rng.normal(scale=0.3, size=(60, 3, 3))
    triangles = np.round(scattered * 2**20).astype(int).tolist()
    sure = {
        (i, j)
        for i, j in combinations(range(60), 2)
        if _any_pierces(triangles[i], triangles[j], strictly=True)
    }
    assert len(sure) > 5
    vertices, faces = _soup(triangles)
    assert _pairs(np.array(vertices) / 2**20, faces) == sure


@pytest.mark.parametrize("subdivisions", [2, 4])
def test_a_sphere_does_not_cross_itself(subdivisions):
    sphere = trimesh.creation.icosphere(subdivisions, 3.0)
    assert not _pairs(sphere.vertices, sphere.faces, touch_depth(sphere.vertices))


def _two_boxes(first, second):
    """Two boxes by their low and high corners, as one surface of separate corners."""
    boxes = [trimesh.creation.box(bounds=bounds) for bounds in (first, second)]
    vertices = np.vstack([box.vertices for box in boxes])
    return vertices, np.vstack([boxes[0].faces, boxes[1].faces + 8])


UNIT = ([0, 0, 0], [1, 1, 1])


@pytest.mark.parametrize(
    "other",
    [
        pytest.param(([0.5, 0.5, 0.5], [2, 2, 2]), id="corner-in-corner"),
        pytest.param(([0.25, 0.25, -1], [0.75, 0.75, 2]), id="post-through-beam"),
        pytest.param(([0.25, -1, 0], [0.75, 2, 1]), id="halved-flush-top-and-bottom"),
        pytest.param(([0.5, 0, 0], [1.5, 1, 1]), id="slid-along-itself"),
        pytest.param(([0.25, 0.25, 0.5], [0.75, 0.75, 1]), id="within-flush-at-the-top"),
        pytest.param(([0, 0, 0.5], [1, 1, 1.5]), id="stacked-and-sunk"),
    ],
)
def test_boxes_that_share_room_cross(other):
    assert _pairs(*_two_boxes(UNIT, other))


@pytest.mark.parametrize(
    "other",
    [
        pytest.param(([1, 0, 0], [2, 1, 1]), id="face-on-face"),
        pytest.param(([1, 0.5, 0.5], [2, 1.5, 1.5]), id="part-of-a-face"),
        pytest.param(([0.25, 0.25, 1], [0.75, 0.75, 2]), id="post-on-a-sill"),
        pytest.param(([1, 1, 0], [2, 2, 1]), id="edge-on-edge"),
        pytest.param(([1, 1, 1], [2, 2, 2]), id="corner-on-corner"),
        pytest.param(([1.001, 0, 0], [2, 1, 1]), id="apart"),
    ],
)
def test_boxes_that_touch_or_stand_apart_do_not_cross(other):
    assert not _pairs(*_two_boxes(UNIT, other))


@pytest.mark.parametrize(("sunk", "crosses"), [(0.9, False), (1.1, True)])
def test_the_depth_is_what_parts_touching_from_crossing(sunk, crosses):
    depth = 1e-3
    post = ([0.25, 0.25, 1 - sunk * depth], [0.75, 0.75, 2])
    vertices, faces = _two_boxes(UNIT, post)
    assert bool(_pairs(vertices, faces, depth)) is crosses


def test_a_cut_through_edges_that_meet_a_plane_exactly_is_found():
    # The post is ringed by corners at the very height of the sill's top and bottom.
    ring = np.array([[0.25, 0.25], [0.75, 0.25], [0.75, 0.75], [0.25, 0.75]])
    post = np.vstack([np.c_[ring, np.full(4, height)] for height in (-1.0, 0.0, 1.0, 2.0)])
    faces = [(2, 1, 0), (3, 2, 0), (12, 13, 14), (12, 14, 15)]
    for low in (0, 4, 8):
        for i in range(4):
            j = (i + 1) % 4
            faces += [(low + i, low + j, low + 4 + j), (low + i, low + 4 + j, low + 4 + i)]
    assert enclosed_volume(post, np.array(faces)).volume == pytest.approx(0.75)
    sill = trimesh.creation.box(bounds=UNIT)
    assert _pairs(np.vstack([post, sill.vertices]), np.vstack([faces, sill.faces + len(post)]))


def test_the_place_is_on_both_triangles():
    vertices = [(-10, -1, 0), (10, -1, 0), (0, 2, 0), (0, 0, -1), (0, 0, 1), (0.5, 0, 0)]
    found = find_crossings(
        np.array(vertices, dtype=float), np.array([[0, 1, 2], [3, 4, 5]]), DEPTH
    )
    np.testing.assert_array_equal(found.pairs, [[0, 1]])
    np.testing.assert_allclose(found.places, [[0.25, 0, 0]], atol=1e-12)


def test_a_leaf_folded_flat_on_its_neighbour_is_found():
    flat = [(0, 0, 0), (1, 0, 0), (0.2, 1, 0), (0.7, 0.5, 0)]
    assert _pairs(flat, [[0, 1, 2], [1, 0, 3]]) == {(0, 1)}
    opened = [*flat[:3], (0.7, -0.5, 0)]
    assert not _pairs(opened, [[0, 1, 2], [1, 0, 3]])
    leaning = [*flat[:3], (0.7, 0.5, 0.01)]
    assert not _pairs(leaning, [[0, 1, 2], [1, 0, 3]])


def test_triangles_with_one_corner_in_common_cross_along_a_line_from_it():
    apex = (0, 0, 0)
    through = [apex, (2, -1, 0), (2, 1, 0), (1, 0, -1), (1, 0, 1)]
    assert _pairs(through, [[0, 1, 2], [0, 3, 4]]) == {(0, 1)}
    beside = [apex, (2, -1, 0), (2, 1, 0), (-1, 0, -1), (-1, 0, 1)]
    assert not _pairs(beside, [[0, 1, 2], [0, 3, 4]])
