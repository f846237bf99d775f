"""Certificates against a conservative continuous collision test of swept pairs.

Source: ipctk 1.6, which shares no code with the engine. A pair is a corner and
a face or two edges, one of each body, its ends running straight and evenly from
one station to the next. Asked for a least separation, ipctk may call a pair
closer than it is, within what its settings allow, but never farther: so no pair
may be struck just inside the certified least gap, and some pair must be just
outside the gap said to be attained.
"""

import itertools

import ipctk
import numpy as np
import pytest

from tests.benchmarks.gap_meshes import bar, join, rotation
from towerlift.gaps import Path, build_body, gap_series

EPS = 1e-4
# The additive test stops short by (1 - rescaling) of the first distance, here under 8 m.
RESCALING = 1 - 1e-5
SLACK = 1e-4
ADDITIVE = ipctk.AdditiveCCD(conservative_rescaling=RESCALING)
# The tight-inclusion test takes its separation along each axis: a sphere's radius
# over the root of three is the cube within the sphere.
INCLUSION = ipctk.TightInclusionCCD(tolerance=1e-6, conservative_rescaling=RESCALING)
CUBE_IN_SPHERE = 1 / np.sqrt(3)


def edges_of(faces):
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    return np.unique(np.sort(edges, axis=1), axis=0)


def swept_pairs(moving, fixed, poses):
    """Question and corners at both ends, for each corner-face and edge-edge pair."""
    start, end = (moving.vertices @ pose[:3, :3].T + pose[:3, 3] for pose in poses)
    still = fixed.vertices
    for k, face in itertools.product(range(len(start)), fixed.faces):
        yield "point_triangle_ccd", (start[k], *still[face], end[k], *still[face])
    for k, face in itertools.product(range(len(still)), moving.faces):
        yield "point_triangle_ccd", (still[k], *start[face], still[k], *end[face])
    for own, other in itertools.product(edges_of(moving.faces), edges_of(fixed.faces)):
        yield "edge_edge_ccd", (*start[own], *still[other], *end[own], *still[other])


def bow(moving, poses):
    """Most by which a corner leaves its straight, even run between the poses. [m]

    Derived here: the two part nowhere at the ends, and their difference has a second
    derivative of at most r t^2, with radius r and turn t; so it is at most r t^2 / 8.
    """
    turn = poses[0][:3, :3].T @ poses[1][:3, :3]
    angle = np.arccos(np.clip((np.trace(turn) - 1) / 2, -1.0, 1.0))
    return np.linalg.norm(moving.vertices, axis=1).max() * angle**2 / 8


def post_and_girt():
    post = bar(np.array([0.3, 0.2, -0.8]), np.array([0.3, 0.2, 0.8]), (0.2, 0.15), piece=9.0)
    girt = bar(np.array([-0.6, 0.2, 0.1]), np.array([0.2, 0.25, 0.2]), (0.1, 0.1), piece=9.0)
    return join([post, girt])


def ledge_and_sill():
    ledge = bar(np.array([0.9, -0.7, 0.1]), np.array([0.9, 0.8, 0.0]), (0.2, 0.3), piece=9.0)
    sill = bar(np.array([-0.9, -0.8, 0.5]), np.array([0.7, -0.8, 0.6]), (0.3, 0.2), piece=9.0)
    return join([ledge, sill])


def swaying_path(rng, turn, steps=2):
    poses = np.tile(np.eye(4), (steps + 1, 1, 1))
    for k, pose in enumerate(poses):
        pose[:3, :3] = rotation(tuple(rng.normal(size=3) * turn))
        pose[:3, 3] = [*rng.uniform(-0.08, 0.08, 2), -0.6 + 1.2 * k / steps]
    return Path(stations=np.arange(steps + 1.0), poses=poses)


def struck(witness, pairs, least):
    """Pairs that come within `least` of each other, or may."""
    return [
        ends
        for question, ends in pairs
        if getattr(witness, question)(*ends, min_distance=max(least, 0.0))[0]
    ]


def hold_to_swept_pairs(seed, turn):
    """Both sides of every step's certificate; how many pairs were swept."""
    rng = np.random.default_rng(seed)
    meshes = (post_and_girt(), ledge_and_sill())
    moving, fixed = (build_body(m.vertices, m.faces, m.members) for m in meshes)
    path = swaying_path(rng, turn)
    series = gap_series(moving, fixed, path, eps=EPS)
    assert series.certified.all()
    assert (series.upper > 0.01).all(), "these bodies are laid out to pass each other"
    swept = 0
    for step, (lower, upper) in enumerate(zip(series.lower, series.upper, strict=True)):
        poses = path.poses[step : step + 2]
        pairs = list(swept_pairs(*meshes, poses))
        allowed = bow(meshes[0], poses) + SLACK
        assert not struck(ADDITIVE, pairs, lower - allowed)
        assert not struck(INCLUSION, pairs, (lower - allowed) * CUBE_IN_SPHERE)
        assert struck(ADDITIVE, pairs, upper + allowed)
        swept += len(pairs)
    return swept


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("turn", [0.0, 0.01])
def test_no_swept_pair_is_nearer_than_the_certificate(seed, turn):
    assert hold_to_swept_pairs(seed, turn) > 2_000


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 115))
@pytest.mark.parametrize("turn", [0.0, 0.003, 0.03])
def test_no_swept_pair_of_many_is_nearer_than_the_certificate(seed, turn):
    assert hold_to_swept_pairs(seed, turn) > 2_000


def test_the_witness_can_refuse():
    """A gap said to be a millimetre wider than it is would be found out."""
    meshes = (post_and_girt(), ledge_and_sill())
    moving, fixed = (build_body(m.vertices, m.faces, m.members) for m in meshes)
    path = swaying_path(np.random.default_rng(0), 0.0)
    series = gap_series(moving, fixed, path, eps=EPS)
    pairs = list(swept_pairs(*meshes, path.poses[:2]))
    assert struck(ADDITIVE, pairs, series.lower[0] + 1e-3 - SLACK)
