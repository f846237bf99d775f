"""Laws that every distance must obey, whatever the bodies."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.benchmarks.gap_meshes import rotation
from towerlift.gaps import Path, build_body, gap_series, least_gap, pose_gap
from towerlift.gaps.sweep import DEFAULT_EPS

few = settings(max_examples=25, deadline=None)
seeds = st.integers(0, 10_000)
vectors = st.tuples(*[st.floats(-3.0, 3.0)] * 3)


def soup(seed, *, shift=0.0):
    rng = np.random.default_rng(seed)
    corners = rng.uniform(-1, 1, (25, 1, 3)) + rng.normal(size=(25, 3, 3)) * 0.15
    return corners.reshape(-1, 3) + np.array([shift, 0.0, 0.0])


def body(vertices):
    faces = np.arange(len(vertices)).reshape(-1, 3)
    return build_body(vertices, faces, np.arange(len(faces)) % 3)


def rigid(turn, shift):
    pose = np.eye(4)
    pose[:3, :3] = rotation(turn)
    pose[:3, 3] = shift
    return pose


def short_path(seed, poses=3):
    rng = np.random.default_rng(seed)
    return Path(
        stations=np.arange(float(poses)),
        poses=np.stack(
            [
                rigid(tuple(rng.normal(size=3) * 0.2), rng.normal(size=3) * 0.2)
                for _ in range(poses)
            ]
        ),
    )


@few
@given(seed=seeds, turn=vectors, shift=vectors, apart=st.floats(0.5, 4.0))
def test_moving_both_changes_nothing(seed, turn, shift, apart):
    moving, fixed = soup(seed), soup(seed + 1, shift=apart)
    world = rigid(turn, shift)
    before = pose_gap(body(moving), body(fixed), np.eye(4))
    carried = fixed @ world[:3, :3].T + world[:3, 3]
    after = pose_gap(body(moving), body(carried), world)
    np.testing.assert_allclose(after.value, before.value, atol=1e-9)


@few
@given(seed=seeds, apart=st.floats(0.5, 4.0), turn=vectors)
def test_swapping_changes_nothing(seed, apart, turn):
    first, second = body(soup(seed)), body(soup(seed + 1))
    pose = rigid(turn, [apart, 0.1, -0.2])
    there = pose_gap(first, second, pose)
    back = pose_gap(second, first, np.linalg.inv(pose))
    np.testing.assert_allclose(back.value, there.value, atol=1e-9)


@few
@given(seed=seeds, turn=vectors, shift=vectors)
def test_a_guess_changes_nothing(seed, turn, shift):
    moving, fixed = body(soup(seed)), body(soup(seed + 1, shift=2.5))
    guess = pose_gap(moving, fixed, rigid(shift, turn))
    pose = rigid(turn, np.array(shift) * 0.1)
    cold, warm = pose_gap(moving, fixed, pose), pose_gap(moving, fixed, pose, guess=guess)
    np.testing.assert_allclose(warm.value, cold.value, atol=1e-12)


@few
@given(seed=seeds, at=st.floats(0.0, 2.0), apart=st.floats(2.0, 4.0))
def test_no_pose_of_a_path_is_below_its_certificate(seed, at, apart):
    moving, fixed, path = body(soup(seed)), body(soup(seed + 1, shift=apart)), short_path(seed)
    series, whole = gap_series(moving, fixed, path), least_gap(moving, fixed, path)
    here = pose_gap(moving, fixed, path.pose_at(at)).value
    step = min(int(at), 1)
    assert series.lower[step] <= here + 1e-12
    assert whole.lower <= here + 1e-12
    assert whole.lower <= series.upper.min()
    for gap in (whole.upper, *series.upper):
        assert np.isfinite(gap)
    assert not (series.certified & series.struck).any()
    # What is not certified is struck, or too near to tell.
    assert (series.upper[~series.certified] <= DEFAULT_EPS).all()
    assert whole.certified == (whole.lower > 0)


def test_two_bodies_that_only_just_cross_on_the_way():
    """Found by chance: they cross 8 mm deep, and the search ends within its tolerance of 0."""
    moving, fixed = body(soup(7330)), body(soup(7331, shift=2.0))
    whole = least_gap(moving, fixed, short_path(7330))
    assert not whole.certified
    assert whole.lower == -np.inf


@few
@given(seed=seeds, turn=vectors)
def test_cutting_faces_changes_nothing(seed, turn):
    vertices, faces = soup(seed), np.arange(75).reshape(-1, 3)
    fixed = body(soup(seed + 1, shift=2.5))
    pose = rigid(turn, [0.0, 0.0, 0.0])
    gaps = [
        pose_gap(
            build_body(vertices, faces, np.zeros(25, int), longest_piece=size), fixed, pose
        )
        for size in (0.05, 0.3, 99.0)
    ]
    np.testing.assert_allclose([gap.value for gap in gaps], gaps[0].value, atol=1e-9)
