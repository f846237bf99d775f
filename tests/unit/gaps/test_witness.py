"""Distances against two collision libraries that share no code with the engine.

Sources: FCL (python-fcl 0.7) and Coal 3, each asked for the distance of the
same two meshes at the same pose; agreement asked for to 1e-9 m.
"""

import coal
import fcl
import numpy as np
import pytest

from tests.benchmarks.gap_meshes import (
    bar,
    framed_section,
    join,
    raise_path,
    rotation,
    square_shaft,
)
from towerlift.gaps import build_body, pose_gap

AGREEMENT = 1e-9


def fcl_distance(first, second, pose):
    models = []
    for vertices, faces in (first, second):
        model = fcl.BVHModel()
        model.beginModel(len(vertices), len(faces))
        model.addSubModel(vertices, faces)
        model.endModel()
        models.append(model)
    moving = fcl.CollisionObject(models[0], fcl.Transform(pose[:3, :3], pose[:3, 3]))
    fixed = fcl.CollisionObject(models[1], fcl.Transform())
    return fcl.distance(moving, fixed, fcl.DistanceRequest(), fcl.DistanceResult())


def coal_model(vertices, faces):
    model = coal.BVHModelOBBRSS()
    model.beginModel(len(faces), len(vertices))
    points = coal.StdVec_Vec3s()
    for vertex in vertices:
        points.append(vertex)
    triangles = coal.StdVec_Triangle()
    for face in faces:
        triangles.append(coal.Triangle(*(int(k) for k in face)))
    model.addSubModel(points, triangles)
    model.endModel()
    return model


def coal_distance(first, second, pose):
    result = coal.DistanceResult()
    coal.distance(
        coal_model(*first),
        coal.Transform3s(pose[:3, :3], pose[:3, 3]),
        coal_model(*second),
        coal.Transform3s(),
        coal.DistanceRequest(),
        result,
    )
    return result.min_distance


def own_distance(first, second, pose):
    bodies = [build_body(v, f, np.zeros(len(f), int)) for v, f in (first, second)]
    gap = pose_gap(bodies[0], bodies[1], pose)
    if gap.value > 0:
        apart = np.subtract(gap.moving_point, gap.fixed_point)
        assert np.linalg.norm(apart) == pytest.approx(gap.value, abs=AGREEMENT)
    assert gap.certified
    return gap.value


def soup(rng, n_faces, size):
    middles = rng.uniform(-1, 1, (n_faces, 1, 3))
    vertices = (middles + rng.normal(size=(n_faces, 3, 3)) * size).reshape(-1, 3)
    return vertices, np.arange(3 * n_faces).reshape(-1, 3)


def random_pose(rng, reach):
    pose = np.eye(4)
    pose[:3, :3] = rotation(tuple(rng.normal(size=3)))
    pose[:3, 3] = rng.normal(size=3) * reach
    return pose


def both_agree(first, second, pose):
    own = own_distance(first, second, pose)
    for witness in (fcl_distance, coal_distance):
        other = witness(first, second, pose)
        assert max(own, 0.0) == pytest.approx(max(other, 0.0), abs=AGREEMENT)
    return own


@pytest.mark.parametrize("seed", range(120))
def test_random_soups(seed):
    rng = np.random.default_rng(seed)
    size = rng.choice([0.02, 0.1, 0.4])
    first, second = soup(rng, 60, size), soup(rng, 90, size)
    second = (second[0] + [rng.uniform(1.5, 3.5), 0.0, 0.0], second[1])
    both_agree(first, second, random_pose(rng, 0.2))


@pytest.mark.parametrize("seed", range(300))
def test_single_triangles(seed):
    rng = np.random.default_rng(1000 + seed)
    first, second = soup(rng, 1, 1.0), soup(rng, 1, 1.0)
    second = (second[0] + rng.normal(size=3) * 2.5, second[1])
    both_agree(first, second, random_pose(rng, 0.5))


@pytest.mark.parametrize("seed", range(100))
def test_slivers(seed):
    """Triangles a millionth to a ten-thousandth as wide as they are long."""
    rng = np.random.default_rng(2000 + seed)
    vertices, faces = soup(rng, 20, 0.3)
    share, width = rng.uniform(0.2, 0.8, (20, 1)), 10.0 ** rng.uniform(-6, -4)
    corners = vertices.reshape(20, 3, 3)
    corners[:, 2] = corners[:, 0] * share + corners[:, 1] * (1 - share)
    corners[:, 2] += rng.normal(size=(20, 3)) * width
    second = soup(rng, 40, 0.2)
    second = (second[0] + [3.0, 0.0, 0.0], second[1])
    both_agree((corners.reshape(-1, 3), faces), second, random_pose(rng, 0.1))


@pytest.mark.parametrize("tilt", [0.0, 1e-12, 1e-9, 1e-7, 1e-5, 1e-3])
@pytest.mark.parametrize("gap", [1e-6, 1e-3, 0.05])
def test_near_parallel_bars(tilt, gap):
    first = bar(np.zeros(3), np.array([0.0, 0.0, 2.0]), (0.2, 0.2), piece=5.0)
    second = bar(np.array([0.2 + gap, 0.05, 0.3]), np.array([0.2 + gap, 0.05, 2.5]), (0.2, 0.2))
    pose = np.eye(4)
    pose[:3, :3] = rotation((0.3 * tilt, -tilt, 0.5 * tilt))
    own = both_agree((first.vertices, first.faces), (second.vertices, second.faces), pose)
    # The far end of the bar moves by no more than its length times the tilt.
    assert own == pytest.approx(gap, abs=2.2 * tilt + 1e-12)


@pytest.mark.parametrize("offset", [0.0, 1e3, 1e5])
def test_far_from_the_origin(offset):
    rng = np.random.default_rng(7)
    first, second = soup(rng, 50, 0.1), soup(rng, 50, 0.1)
    away = np.array([offset, -0.7 * offset, 0.3 * offset])
    # Rounded to what coordinates so far out can hold, so that both libraries
    # are given the same triangles.
    first = (first[0] + away, first[1])
    second = (second[0] + away + [2.6, 0.0, 0.0], second[1])
    both_agree(first, second, np.eye(4))


def test_shared_edge_is_no_gap():
    vertices = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 0.3, 1.0]])
    own = own_distance(
        (vertices, np.array([[0, 1, 2]])), (vertices, np.array([[0, 1, 3]])), np.eye(4)
    )
    assert own == pytest.approx(0.0, abs=AGREEMENT)


@pytest.mark.parametrize("step", [0, 7, 20, 33, 40])
def test_section_in_shaft(step):
    section, shaft = framed_section(), square_shaft(20_000)
    pose = raise_path(40, tilt_deg=0.2, yaw_deg=0.2, drift=0.005).poses[step]
    both_agree((section.vertices, section.faces), (shaft.vertices, shaft.faces), pose)


@pytest.mark.parametrize("seed", range(8))
def test_nested_frames(seed):
    rng = np.random.default_rng(seed)
    inner, outer = framed_section(half=2.6), framed_section()
    pose = np.eye(4)
    pose[:3, :3] = rotation(tuple(rng.normal(size=3) * 1e-3))
    pose[:3, 3] = [*rng.normal(size=2) * 0.02, rng.uniform(-3, 3)]
    both_agree((inner.vertices, inner.faces), (outer.vertices, outer.faces), pose)


def test_bars_of_a_frame_joined_as_one():
    frame = join([bar(np.zeros(3), np.array([0.0, 0.0, 1.0]), (0.1, 0.1)) for _ in range(3)])
    assert sorted(set(frame.members.tolist())) == [0, 1, 2]
