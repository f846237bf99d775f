"""Certificates against dense poses and exhaustive search; refusals."""

from typing import Any

import numpy as np
import pytest

from tests.benchmarks.gap_meshes import (
    bar,
    framed_section,
    raise_path,
    rotation,
    square_shaft,
)
from towerlift.gaps import (
    Lean,
    Path,
    PoseGap,
    UnsearchedError,
    build_body,
    gap_series,
    least_gap,
    member_gaps,
    pose_gap,
    straight_path,
)
from towerlift.gaps.path import between

EPS = 1e-4


def body_of(mesh):
    return build_body(mesh.vertices, mesh.faces, mesh.members)


@pytest.fixture(scope="module")
def shaft():
    return body_of(square_shaft(20_000))


@pytest.fixture(scope="module")
def section():
    return body_of(framed_section(half=2.90))


@pytest.fixture(scope="module")
def harsh_path():
    return raise_path(20, tilt_deg=0.3, yaw_deg=0.3, drift=0.01)


def dense_least(moving, fixed, path, step, n=201):
    """Least exact distance over many true poses within one step."""
    gap, least = None, np.inf
    for pose in between(path.poses[step], path.poses[step + 1], np.linspace(0, 1, n)):
        gap = pose_gap(moving, fixed, pose, guess=gap)
        least = min(least, gap.value)
    return least


@pytest.mark.parametrize("eps", [1e-3, 1e-4])
def test_series_bounds_hold_at_dense_poses(section, shaft, harsh_path, eps):
    series = gap_series(section, shaft, harsh_path, eps=eps)
    assert series.certified.all()
    assert (series.upper - series.lower <= eps).all()
    for step in range(len(series.upper)):
        dense = dense_least(section, shaft, harsh_path, step)
        assert series.lower[step] <= dense + 1e-12
        # What is attained at one pose can be above the least of no more than
        # the poses looked at, plus how far the body moves between two of them.
        assert series.upper[step] <= dense + eps


def test_upper_is_attained(section, shaft, harsh_path):
    series = gap_series(section, shaft, harsh_path)
    for step in range(len(series.upper)):
        pose = harsh_path.pose_at(series.at[step])
        assert pose_gap(section, shaft, pose).value <= series.upper[step] + 1e-12
        apart = series.moving_points[step] - series.fixed_points[step]
        assert np.linalg.norm(apart) == pytest.approx(series.upper[step], abs=1e-9)


def test_whole_path_is_the_least_of_its_steps(section, shaft, harsh_path):
    series = gap_series(section, shaft, harsh_path, eps=EPS)
    whole = least_gap(section, shaft, harsh_path, eps=EPS)
    assert whole.certified
    assert whole.upper - whole.lower <= EPS
    assert whole.lower <= series.upper.min()
    assert series.lower.min() <= whole.upper


def test_members_against_bodies_of_one_member(section, shaft, harsh_path):
    """Each member measured alone, as a body of its own."""
    gaps = member_gaps(section, shaft, harsh_path, eps=EPS)
    assert gaps.members == tuple(section.member_ids.tolist())
    for member in gaps.members[::9]:
        rows = section.members == member
        alone = build_body(section.vertices, section.faces[rows], section.members[rows])
        expected = least_gap(alone, shaft, harsh_path, eps=EPS)
        found = gaps.of(member)
        assert found is not None
        assert found.moving_member == member
        assert found.certified
        assert found.lower <= expected.upper
        assert expected.lower <= found.upper
    whole = least_gap(section, shaft, harsh_path, eps=EPS)
    worst = gaps.of(gaps.worst)
    assert worst is not None
    assert worst.lower <= whole.upper <= worst.upper + EPS


def test_workers_change_nothing_certified(section, shaft, harsh_path):
    alone = gap_series(section, shaft, harsh_path, workers=1)
    shared = gap_series(section, shaft, harsh_path, workers=3)
    np.testing.assert_array_less(alone.lower, shared.upper + 1e-15)
    np.testing.assert_array_less(shared.lower, alone.upper + 1e-15)


def test_exhaustive_search_of_small_meshes():
    """All pairs, at many poses, by the distance of single faces."""
    rng = np.random.default_rng(3)
    first = bar(np.zeros(3), np.array([0.3, 0.1, 0.8]), (0.2, 0.1), piece=9.0)
    second = bar(np.array([0.6, 0.3, -0.2]), np.array([0.5, 0.6, 1.0]), (0.15, 0.15), piece=9.0)
    poses = np.tile(np.eye(4), (4, 1, 1))
    for pose in poses:
        pose[:3, :3] = rotation(tuple(rng.normal(size=3) * 0.2))
        pose[:3, 3] = rng.normal(size=3) * 0.05
    path = Path(stations=np.arange(4.0), poses=poses)
    series = gap_series(body_of(first), body_of(second), path, eps=1e-5)
    singles = [
        [
            build_body(m.vertices, m.faces[k : k + 1], [0], longest_piece=99.0)
            for k in range(len(m.faces))
        ]
        for m in (first, second)
    ]
    for step in range(3):
        between_poses = between(poses[step], poses[step + 1], np.linspace(0, 1, 41))
        exhaustive = min(
            pose_gap(a, b, pose).value
            for pose in between_poses
            for a in singles[0]
            for b in singles[1]
        )
        assert series.lower[step] <= exhaustive + 1e-12
        assert series.upper[step] <= exhaustive + 1e-3


def test_skipped_pair_is_left_out():
    post = bar(np.zeros(3), np.array([0.0, 0.0, 1.0]), (0.2, 0.2))
    needle = bar(np.array([-1.0, 0.0, -0.1]), np.array([1.0, 0.0, -0.1]), (0.2, 0.2))
    wall = bar(np.array([0.5, -1.0, 0.5]), np.array([0.5, 1.0, 0.5]), (0.2, 0.2))
    fixed = build_body(
        np.concatenate([needle.vertices, wall.vertices]),
        np.concatenate([needle.faces, wall.faces + len(needle.vertices)]),
        np.repeat([10, 20], [len(needle.faces), len(wall.faces)]),
    )
    moving = build_body(post.vertices, post.faces, np.full(len(post.faces), 5))
    path = straight_path(0.0, 0.4, steps=4)
    meant = [[5, 10]]
    assert pose_gap(moving, fixed, np.eye(4)).value <= 1e-12
    apart = pose_gap(moving, fixed, np.eye(4), skip_pairs=meant)
    assert apart.value == pytest.approx(0.3, abs=1e-9)
    assert apart.fixed_member == 20
    assert gap_series(moving, fixed, path, skip_pairs=meant).upper.min() == pytest.approx(
        0.3, abs=1e-4
    )
    assert least_gap(moving, fixed, path, skip_pairs=meant).upper == pytest.approx(
        0.3, abs=1e-4
    )
    alone = member_gaps(moving, fixed, path, skip_pairs=meant).of(5)
    assert alone is not None
    assert alone.fixed_member == 20
    everything = [[5, 10], [5, 20]]
    for query in (gap_series, least_gap):
        with pytest.raises(ValueError, match="nothing to measure"):
            query(moving, fixed, path, skip_pairs=everything)
    assert member_gaps(moving, fixed, path, skip_pairs=everything).of(5) is None
    with pytest.raises(ValueError, match="names member 6, which the moving body has not"):
        least_gap(moving, fixed, path, skip_pairs=[[6, 10]])


def test_a_strike_between_stations_is_found():
    """Both stations are clear; the body passes through a lug on the way."""
    post = body_of(bar(np.zeros(3), np.array([0.0, 0.0, 0.2]), (0.2, 0.2)))
    lug = body_of(bar(np.array([-1.0, 0.0, 1.0]), np.array([1.0, 0.0, 1.0]), (0.1, 0.1)))
    path = straight_path(0.0, 2.0, steps=1)
    for pose in path.poses:
        assert pose_gap(post, lug, pose).value > 0.5
    series = gap_series(post, lug, path)
    assert series.struck.all()
    assert series.upper[0] < -0.05
    assert not series.certified[0]
    assert series.lower[0] == -np.inf
    whole = least_gap(post, lug, path)
    assert whole.struck
    assert 0.75 < whole.at < 1.1
    alone = member_gaps(post, lug, path).gaps[0]
    assert alone is not None
    assert alone.struck


GOOD: tuple[Any, Any, Any] = (np.eye(3), [[0, 1, 2]], [0])


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ((0, [[0, 0, np.nan], [1, 0, 0], [0, 1, 0]]), r"vertices\[0\]"),
        ((0, [[0, 0, 0], [1, np.inf, 0], [0, 1, 0]]), r"vertices\[1\]"),
        ((0, np.zeros((3, 2))), "vertices must be"),
        ((1, [[0, 1, 3]]), r"faces\[0\] = \[0, 1, 3\]"),
        ((1, [[0, 1, -1]]), r"faces\[0\]"),
        ((1, np.zeros((0, 3), int)), "at least 1"),
        ((1, [[0.0, 1.0, 2.0]]), "whole numbers"),
        ((2, [0, 1]), "members must be"),
    ],
)
def test_bad_meshes_are_refused(change, message):
    vertices, faces, members = (
        change[1] if change[0] == k else good for k, good in enumerate(GOOD)
    )
    with pytest.raises(ValueError, match=message):
        build_body(vertices, faces, members)


def test_open_mesh_is_not_closed():
    with pytest.raises(ValueError, match="open edge: 3 are open"):
        build_body(*GOOD, closed=True)


@pytest.mark.parametrize("eps", [0.0, -1.0, np.nan, np.inf, 1e-8])
def test_bad_tolerance_is_refused(eps):
    body = build_body(*GOOD)
    path = straight_path(1.0, 2.0, steps=2)
    for query in (gap_series, least_gap, member_gaps):
        with pytest.raises(ValueError, match="eps"):
            query(body, body, path, eps=eps)


@pytest.mark.parametrize(
    ("stations", "change", "message"),
    [
        ([0.0, 0.0], None, "rise"),
        ([0.0, np.nan], None, "rise"),
        ([0.0], None, "at least 2"),
        ([0.0, 1.0], (0, 0, 1.1), r"poses\[1\] must be rigid"),
        ([0.0, 1.0], (0, 0, np.nan), r"poses\[1\] must be a finite"),
        ([0.0, 1.0], (0, 0, -1.0), r"poses\[1\] must be rigid"),
        ([0.0, 1.0], (3, 3, 2.0), r"poses\[1\] must be rigid"),
    ],
)
def test_bad_paths_are_refused(stations, change, message):
    poses = np.tile(np.eye(4), (max(2, len(stations)), 1, 1))
    if change is not None:
        poses[1][change[0], change[1]] = change[2]
    with pytest.raises(ValueError, match=message):
        Path(stations=stations, poses=poses)


def test_half_a_turn_in_one_step_is_refused():
    poses = np.stack([np.eye(4), np.diag([-1.0, -1.0, 1.0, 1.0])])
    with pytest.raises(ValueError, match="add a station"):
        Path(stations=np.array([0.0, 1.0]), poses=poses)


def test_lean_turns_about_the_fixed_axes():
    pose = Lean(x=1.0, y=2.0, yaw=np.pi / 2, tilt_x=0.1).pose(3.0)
    np.testing.assert_allclose(pose[:3, 3], [1.0, 2.0, 3.0])
    np.testing.assert_allclose(pose[:3, 0], [0.0, 1.0, 0.0], atol=1e-12)
    np.testing.assert_allclose(pose[:3, 2], [np.sin(0.1), 0.0, np.cos(0.1)], atol=1e-12)


def test_a_stack_that_is_too_short_proves_nothing(monkeypatch, section, shaft, harsh_path):
    for module in ("sweep", "minimum", "pose"):
        monkeypatch.setattr(f"towerlift.gaps.{module}.piece_count_bound", lambda _: 5)
    for query in (gap_series, least_gap):
        with pytest.raises(UnsearchedError, match="not certified"):
            query(section, shaft, harsh_path)
    with pytest.raises(UnsearchedError, match="not certified"):
        pose_gap(section, shaft, harsh_path.poses[0])
    guess_pieces = (0, 0)
    guess = PoseGap(
        value=1.0,
        moving_point=(0.0, 0.0, 0.0),
        fixed_point=(0.0, 0.0, 0.0),
        moving_triangle=0,
        fixed_triangle=0,
        moving_member=0,
        fixed_member=0,
        certified=True,
        pieces=guess_pieces,
    )
    started = pose_gap(section, shaft, harsh_path.poses[0], guess=guess)
    assert not started.certified
