"""Thousands of poses against the two collision libraries of test_witness.py.

Sources: FCL (python-fcl 0.7) and Coal 3, each built once per pair of meshes and
asked at the same poses; agreement asked for to 1e-9 m. A few hundred poses run
always, the thousands are marked slow.
"""

import coal
import fcl
import numpy as np
import pytest

from tests.benchmarks.gap_meshes import bar, framed_section, join, rotation, square_shaft
from tests.unit.gaps.test_witness import AGREEMENT, coal_model, soup
from towerlift.gaps import PoseGap, build_body, pose_gap

UP = np.array([0.0, 0.0, 1.0])


def fcl_model(vertices, faces):
    model = fcl.BVHModel()
    model.beginModel(len(vertices), len(faces))
    model.addSubModel(vertices, faces)
    model.endModel()
    return model


class Witnessed:
    """Two meshes, built once for the engine and for both witnesses."""

    def __init__(self, moving, fixed):
        meshes = [
            (np.ascontiguousarray(v), np.ascontiguousarray(f)) for v, f in (moving, fixed)
        ]
        self.moving, self.fixed = (build_body(v, f, np.zeros(len(f), int)) for v, f in meshes)
        self.fcl_models = [fcl_model(*mesh) for mesh in meshes]
        self.coal_models = [coal_model(*mesh) for mesh in meshes]
        self.gap: PoseGap | None = None

    def fcl_distance(self, pose):
        place = fcl.Transform(pose[:3, :3], pose[:3, 3])
        moving = fcl.CollisionObject(self.fcl_models[0], place)
        fixed = fcl.CollisionObject(self.fcl_models[1], fcl.Transform())
        return fcl.distance(moving, fixed, fcl.DistanceRequest(), fcl.DistanceResult())

    def coal_distance(self, pose):
        result = coal.DistanceResult()
        coal.distance(
            self.coal_models[0],
            coal.Transform3s(pose[:3, :3], pose[:3, 3]),
            self.coal_models[1],
            coal.Transform3s(),
            coal.DistanceRequest(),
            result,
        )
        return result.min_distance

    def agree(self, poses):
        """Hold every pose to both, cold and with the last answer as a guess."""
        apart = 0
        for pose in poses:
            cold = pose_gap(self.moving, self.fixed, pose)
            self.gap = pose_gap(self.moving, self.fixed, pose, guess=self.gap)
            assert cold.certified
            assert self.gap.value == pytest.approx(cold.value, abs=1e-12)
            for other in (self.fcl_distance(pose), self.coal_distance(pose)):
                assert max(cold.value, 0.0) == pytest.approx(max(other, 0.0), abs=AGREEMENT)
            apart += cold.value > 0
        return apart


def posed(turn, shift):
    pose = np.eye(4)
    pose[:3, :3], pose[:3, 3] = rotation(tuple(turn)), shift
    return pose


def loose_poses(rng, n, turn, reach):
    return [posed(rng.normal(size=3) * turn, rng.normal(size=3) * reach) for _ in range(n)]


def soups(rng, n):
    size = rng.choice([0.02, 0.1, 0.4])
    first, second = soup(rng, 50, size), soup(rng, 70, size)
    second = (second[0] + [rng.uniform(1.5, 3.5), 0.0, 0.0], second[1])
    return first, second, loose_poses(rng, n, 1.0, 0.2)


def slivers(rng, n):
    """Triangles a millionth to a ten-thousandth as wide as they are long."""
    vertices, faces = soup(rng, 20, 0.3)
    share, width = rng.uniform(0.2, 0.8, (20, 1)), 10.0 ** rng.uniform(-6, -4)
    corners = vertices.reshape(20, 3, 3)
    corners[:, 2] = corners[:, 0] * share + corners[:, 1] * (1 - share)
    corners[:, 2] += rng.normal(size=(20, 3)) * width
    second = soup(rng, 30, 0.2)
    second = (second[0] + [3.0, 0.0, 0.0], second[1])
    return (corners.reshape(-1, 3), faces), second, loose_poses(rng, n, 1.0, 0.1)


def near_parallel(rng, n):
    """Faces a micrometre to a decimetre apart, out of parallel by 1e-12 to 1e-2 rad."""
    first = bar(np.zeros(3), 2 * UP, (0.2, 0.2), piece=rng.choice([0.5, 5.0]))
    foot = np.array([0.2, rng.uniform(-0.15, 0.15), 0.3])
    second = bar(foot, foot + 2.2 * UP, (0.2, 0.2))
    poses = [
        posed(
            rng.normal(size=3) * 10.0 ** rng.uniform(-12, -2),
            [-(10.0 ** rng.uniform(-6, -1)), rng.normal() * 0.05, rng.normal() * 0.3],
        )
        for _ in range(n)
    ]
    return (first.vertices, first.faces), (second.vertices, second.faces), poses


def shared_edges(rng, n):
    """Two parts of one fan, met along edges, then parted by as little as a nanometre."""
    turns = np.sort(rng.uniform(0.0, 2 * np.pi, 12))
    rim = np.stack([np.cos(turns), np.sin(turns), rng.normal(size=12) * 0.3], axis=1)
    vertices = np.concatenate([np.zeros((1, 3)), rim])
    faces = np.array([[0, k, k + 1] for k in range(1, 12)])
    away = vertices[faces[:5]].mean(axis=(0, 1)) - vertices[faces[5:]].mean(axis=(0, 1))
    poses = [posed(np.zeros(3), np.zeros(3))]
    for _ in range(n - 1):
        shift = away + 0.3 * rng.normal(size=3)
        poses.append(posed(np.zeros(3), shift * 10.0 ** rng.uniform(-9, 0)))
    return (vertices, faces[:5]), (vertices, faces[5:]), poses


def nested_frames(rng, n):
    inner, outer = framed_section(half=2.6), framed_section()
    poses = [
        posed(rng.normal(size=3) * 1e-3, [*rng.normal(size=2) * 0.02, rng.uniform(-3, 3)])
        for _ in range(n)
    ]
    return (inner.vertices, inner.faces), (outer.vertices, outer.faces), poses


def nested_small_frames(rng, n):
    """One ring of four bars in another, at every height and a little askew."""

    def ring(half, depth):
        corners = [
            half * np.array([x, y, 0.0]) for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        ]
        sides = zip(corners, corners[1:] + corners[:1], strict=True)
        return join([bar(start, end, (depth, depth), piece=0.5) for start, end in sides])

    inner, outer = ring(0.85, 0.1), ring(1.0, 0.12)
    poses = [
        posed(rng.normal(size=3) * 5e-3, [*rng.normal(size=2) * 0.008, rng.uniform(-0.5, 0.5)])
        for _ in range(n)
    ]
    return (inner.vertices, inner.faces), (outer.vertices, outer.faces), poses


def far_out(rng, n):
    """Both bodies up to 100 km from the origin, the moving one in its own frame too."""
    away = rng.normal(size=3) * 10.0 ** rng.uniform(2, 5)
    first, second = soup(rng, 40, 0.1), soup(rng, 40, 0.1)
    # Rounded to what coordinates so far out can hold, so that all are given the same.
    first = (first[0] + away, first[1])
    second = (second[0] + away + [2.6, 0.0, 0.0], second[1])
    # No turn: a turn about an origin so far away is not held to 1e-9 m by any of the three.
    return first, second, [posed(np.zeros(3), rng.normal(size=3) * 0.2) for _ in range(n)]


def in_the_shaft(rng, n):
    section, shaft = framed_section(), square_shaft(20_000)
    poses = [
        posed(
            rng.normal(size=3) * 5e-4,
            [0.05 * z / 18.0 + rng.normal() * 0.004, rng.normal() * 0.004, z],
        )
        for z in rng.uniform(0.3, 13.7, n)
    ]
    return (section.vertices, section.faces), (shaft.vertices, shaft.faces), poses


# Kind, pairs of meshes and poses of each: run always, and run when there is time.
KINDS = [
    pytest.param(soups, 4, 10, 40, 25, id="soups"),
    pytest.param(slivers, 4, 10, 40, 25, id="slivers"),
    pytest.param(near_parallel, 4, 10, 40, 25, id="near-parallel"),
    pytest.param(shared_edges, 4, 10, 40, 25, id="shared-edges"),
    pytest.param(nested_small_frames, 1, 40, 1, 1000, id="nested-small-frames"),
    pytest.param(far_out, 4, 10, 40, 25, id="far-out"),
    pytest.param(nested_frames, 1, 3, 1, 60, id="nested-frames"),
    pytest.param(in_the_shaft, 1, 3, 1, 60, id="in-the-shaft"),
]


def hold(kind, seeds, n_poses):
    apart = 0
    for seed in seeds:
        first, second, poses = kind(np.random.default_rng(seed), n_poses)
        apart += Witnessed(first, second).agree(poses)
    # Bodies that always meet would agree on nothing but zero.
    assert apart >= len(seeds) * n_poses // 4


@pytest.mark.parametrize(("kind", "pairs", "poses", "many_pairs", "many_poses"), KINDS)
def test_hundreds_of_poses(kind, pairs, poses, many_pairs, many_poses):
    hold(kind, range(pairs), poses)


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "pairs", "poses", "many_pairs", "many_poses"), KINDS)
def test_thousands_of_poses(kind, pairs, poses, many_pairs, many_poses):
    hold(kind, range(500, 500 + many_pairs), many_poses)
