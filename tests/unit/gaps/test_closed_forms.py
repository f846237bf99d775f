"""Distances that geometry gives in closed form."""

import numpy as np
import pytest

from tests.benchmarks.gap_meshes import bar, rotation
from towerlift.gaps import (
    Lean,
    Path,
    build_body,
    gap_series,
    least_gap,
    member_gaps,
    pose_gap,
    straight_path,
)


def body_of(mesh, *, closed=False):
    return build_body(mesh.vertices, mesh.faces, mesh.members, closed=closed)


def plate(half=1.0):
    vertices = np.array([[-1.0, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]]) * half
    return build_body(vertices, [[0, 1, 2], [0, 2, 3]], [0, 0])


def cube(side, *, closed=False):
    half = side / 2
    ends = np.array([0.0, 0.0, -half]), np.array([0.0, 0.0, half])
    return body_of(bar(*ends, (side, side), piece=10.0), closed=closed)


def square_hole(side, height):
    half = side / 2
    corners = np.array([[-half, -half], [half, -half], [half, half], [-half, half]])
    vertices = np.array([[*xy, z] for z in (-height / 2, height / 2) for xy in corners])
    faces = []
    for k in range(4):
        m = (k + 1) % 4
        faces += [[k, 4 + k, m], [m, 4 + k, 4 + m]]
    return build_body(vertices, faces, np.repeat(np.arange(4), 2))


def sphere(radius, n):
    turn, fall = np.meshgrid(
        np.linspace(0, 2 * np.pi, n, endpoint=False), np.linspace(0, np.pi, n // 2 + 1)[1:-1]
    )
    ring = np.stack(
        [np.sin(fall) * np.cos(turn), np.sin(fall) * np.sin(turn), np.cos(fall)], axis=2
    )
    rows = ring.shape[0]
    faces = [
        [i * n + j, (i + 1) * n + j, (i + 1) * n + (j + 1) % n]
        for i in range(rows - 1)
        for j in range(n)
    ] + [
        [i * n + j, (i + 1) * n + (j + 1) % n, i * n + (j + 1) % n]
        for i in range(rows - 1)
        for j in range(n)
    ]
    return build_body(ring.reshape(-1, 3) * radius, faces, np.zeros(len(faces), int))


def cylinder(radius, height, n):
    turn = np.linspace(0, 2 * np.pi, n, endpoint=False)
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=1) * radius
    vertices = np.concatenate([np.c_[ring, np.full(n, z)] for z in (-height / 2, height / 2)])
    faces = [[k, n + k, (k + 1) % n] for k in range(n)]
    faces += [[(k + 1) % n, n + k, n + (k + 1) % n] for k in range(n)]
    return build_body(vertices, faces, np.zeros(2 * n, int))


@pytest.mark.parametrize("gap", [1e-6, 1e-3, 0.4])
def test_parallel_plates(gap):
    pose = np.eye(4)
    pose[2, 3] = gap
    assert pose_gap(plate(), plate(), pose).value == pytest.approx(gap, abs=1e-12)


@pytest.mark.parametrize("gap", [1e-3, 0.1])
def test_plate_passing_a_plate_is_nearest_all_the_way(gap):
    upright = rotation((0.0, np.pi / 2, 0.0))
    poses = np.tile(np.eye(4), (11, 1, 1))
    poses[:, :3, :3] = upright
    poses[:, 0, 3] = 1.0 + gap
    poses[:, 2, 3] = np.linspace(-0.5, 0.5, 11)
    path = Path(stations=np.arange(11.0), poses=poses)
    series = gap_series(plate(), plate(), path)
    assert (series.lower <= gap).all()
    assert (series.upper >= gap - 1e-12).all()
    assert (series.upper <= gap + 1e-4).all()
    assert series.certified.all()


def test_sphere_in_cylinder():
    """Gap R - r - e, to what the facets of both can hide."""
    radius, bore, off, n = 0.9, 1.0, 0.03, 256
    facets = (radius + bore) * (1 - np.cos(np.pi / n)) + radius * (1 - np.cos(np.pi / n))
    path = straight_path(-0.5, 0.5, lean=Lean(x=off), steps=20)
    gap = least_gap(sphere(radius, n), cylinder(bore, 4.0, n), path)
    expected = bore - radius - off
    assert expected - facets - 1e-4 <= gap.upper <= expected + facets


def test_cube_turning_in_a_square_hole():
    """Corner gap s/2 - (c/2) sqrt 2 cos(45 deg - turn), least with the corner at mid-wall."""
    side, hole = 1.0, 1.6
    turns = np.radians(np.arange(0.0, 91.0, 15.0))
    poses = np.tile(np.eye(4), (len(turns), 1, 1))
    for k, turn in enumerate(turns):
        poses[k, :3, :3] = rotation((0.0, 0.0, float(turn)))
    path = Path(stations=turns, poses=poses)

    def corner_gap(turn):
        return hole / 2 - side / 2 * np.sqrt(2) * np.cos(np.pi / 4 - turn)

    series = gap_series(cube(side), square_hole(hole, 3.0), path, eps=1e-5)
    nearest = np.clip(np.pi / 4, turns[:-1], turns[1:])
    np.testing.assert_allclose(series.upper, corner_gap(nearest), atol=1e-5)
    assert (series.lower <= corner_gap(nearest) + 1e-9).all()
    assert series.certified.all()
    whole = least_gap(cube(side), square_hole(hole, 3.0), path, eps=1e-5)
    assert whole.upper == pytest.approx(hole / 2 - side / np.sqrt(2), abs=1e-5)
    assert whole.at == pytest.approx(np.pi / 4, abs=5e-3)


@pytest.mark.parametrize("sunk", [1e-4, 0.02, 0.3])
def test_cube_sunk_into_a_cube(sunk):
    pose = np.eye(4)
    pose[:3, 3] = [1.0 - sunk, 0.2, 0.1]
    gap = pose_gap(cube(1.0), cube(1.0), pose)
    assert gap.struck
    # Shifting back by what the cubes overlap frees them, so no pair of faces
    # can need more; and where they barely overlap, one needs all of it.
    assert -gap.value <= sunk + 1e-9
    if sunk <= 0.02:
        assert gap.value == pytest.approx(-sunk, abs=1e-9)


def test_body_inside_a_closed_body_is_no_gap():
    pose = np.eye(4)
    pose[0, 3] = 0.1
    for pair in (
        (cube(0.4), cube(1.0, closed=True)),
        (cube(1.0, closed=True), cube(0.4)),
    ):
        assert pose_gap(*pair, pose).value == pytest.approx(-0.2, abs=1e-9)
        path = Path(stations=np.array([0.0, 1.0]), poses=np.stack([pose, pose]))
        assert least_gap(*pair, path).upper == pytest.approx(-0.2, abs=1e-9)
        series = gap_series(*pair, path)
        assert series.struck.all()
        assert not series.certified.any()
        alone = member_gaps(*pair, path).gaps[0]
        assert alone is not None
        assert alone.upper == pytest.approx(-0.2, abs=1e-9)
    assert pose_gap(cube(0.4), cube(1.0), pose).value == pytest.approx(0.2, abs=1e-9)


def test_body_inside_the_box_but_outside_the_solid_is_a_gap():
    """A cube in the notch between two closed cubes."""
    aside = np.array([1.0, 0.0, 0.0])
    left, right = cube(1.0).vertices - aside, cube(1.0).vertices + aside
    faces = cube(1.0).faces
    fixed = build_body(
        np.concatenate([left, right]),
        np.concatenate([faces, faces + len(left)]),
        np.repeat([4, 9], len(faces)),
        closed=True,
    )
    gap = pose_gap(cube(0.6), fixed, np.eye(4))
    assert gap.value == pytest.approx(0.2, abs=1e-9)
    assert gap.fixed_member in (4, 9)


def test_vertex_distances_would_pass_what_strikes():
    """A bar's edge between two corners meets a sharp edge that no corner is near."""
    across = body_of(bar(np.array([-1.0, 0, 0]), np.array([1.0, 0, 0]), (0.1, 0.1), piece=9.0))
    nose = build_body(
        [[0.0, -1, 0], [0.0, 1, 0], [0.3, 1, 1.0], [0.3, -1, 1.0]],
        [[0, 1, 2], [0, 2, 3]],
        [0, 0],
    )
    pose = np.eye(4)
    pose[2, 3] = -0.051
    gap = pose_gap(across, nose, pose).value
    assert gap == pytest.approx(0.001, abs=1e-9)
    corners = across.vertices + pose[:3, 3]
    to_corners = np.linalg.norm(corners[:, None] - nose.vertices[None], axis=2).min()
    assert to_corners > 1.0
