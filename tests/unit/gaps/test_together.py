"""Stretches of a path searched together against steps searched one by one."""

import math

import numpy as np
import pytest

from tests.benchmarks.gap_meshes import (
    LEAN,
    SHAFT_HEIGHT,
    boarded_section,
    framed_section,
    raise_path,
    rotation,
    round_section,
    round_shaft,
    square_shaft,
)
from towerlift.gaps import Path, build_body, gap_series
from towerlift.gaps.body import piece_count_bound, reach
from towerlift.gaps.nearest import CONTACT
from towerlift.gaps.path import fine_path
from towerlift.gaps.runs import ANY_NUMBER, make_work, move_run, no_rows, swept_gap
from towerlift.gaps.search import axes_apart, cut_at, level_share, node_reach, rings_off
from towerlift.gaps.steps import _whole_step, search_steps
from towerlift.gaps.stretch import (
    DONE,
    GIVEN_UP,
    NO_CUT,
    NO_ROOM,
    _boxes_gap2,
    _moved_slab,
    _wall_gap,
    change_cut,
    make_spans,
    search_stretch,
)
from towerlift.gaps.tree import upright_axis

EPS = 1e-4
NONE_LEFT_OUT = np.empty(0, np.int64)
STEPS = 48


def body_of(mesh, **how):
    return build_body(mesh.vertices, mesh.faces, mesh.members, **how)


def soup(rng, *, n=80, spread=1.0, size=0.3):
    """Triangles anywhere, some of them without area, some only a point."""
    corners = rng.normal(size=(n, 1, 3)) * spread + rng.normal(size=(n, 3, 3)) * size
    corners[:: n // 8, 2] = corners[:: n // 8, 1]
    corners[1 :: n // 5, 1:] = corners[1 :: n // 5, :1]
    corners[2 :: n // 5, 2] = 0.25 * corners[2 :: n // 5, 0] + 0.75 * corners[2 :: n // 5, 1]
    faces = np.arange(3 * n).reshape(n, 3)
    return build_body(corners.reshape(-1, 3), faces, np.arange(n) % 3, longest_piece=9.0)


def wandering_path(rng, offset, *, steps=STEPS, turn=0.02, shift=0.05):
    """A body that goes and turns any way, a little in each step."""
    pose = np.eye(4)
    pose[:3, 3] = offset
    poses = [pose]
    for _ in range(steps):
        pose = pose.copy()
        pose[:3, :3] = rotation(tuple(rng.normal(size=3) * turn)) @ pose[:3, :3]
        pose[:3, 3] += rng.normal(size=3) * shift
        poses.append(pose)
    return Path(stations=np.arange(steps + 1.0), poses=np.stack(poses))


def both_ways(moving, fixed, path, *, entries=None, skip=NONE_LEFT_OUT):
    """What is known of every fine step, found together and one by one."""
    motion = fine_path(moving, fixed, path, EPS / 8).motion
    spans = make_spans(motion, reach(moving))
    n = len(motion.angles)
    plenty = piece_count_bound(moving) + piece_count_bound(fixed) + 40
    together, single = no_rows(n), no_rows(n)
    search_steps(
        moving.tree,
        fixed.tree,
        motion,
        spans,
        (0, n),
        EPS,
        skip,
        entries or plenty,
        together,
    )
    work = make_work(len(moving.tree.child), len(moving.sources), plenty)
    for k in range(n):
        _whole_step(moving.tree, fixed.tree, motion, k, 0, EPS, skip, work, single)
    return together, single


def assert_same(together, single):
    assert together.proved.all()
    assert single.proved.all()
    np.testing.assert_array_less(together.chord, single.chord + EPS + 1e-12)
    np.testing.assert_array_less(single.chord, together.chord + EPS + 1e-12)
    np.testing.assert_array_equal(together.chord <= CONTACT, single.chord <= CONTACT)


def test_what_another_thread_is_writing_is_not_read():
    rng = np.random.default_rng(5)
    moving, fixed = soup(rng), soup(rng)
    path = wandering_path(rng, [0.0, 0.0, 6.0])
    motion = fine_path(moving, fixed, path, EPS / 8).motion
    rest = 16, len(motion.angles)
    entries = piece_count_bound(moving) + piece_count_bound(fixed) + 40
    nearest = both_ways(moving, fixed, path)[1].pairs[rest[0]]
    meant = np.array(
        [
            int(moving.tree.members[nearest[0]]) << 32 | int(fixed.tree.members[nearest[1]]),
        ]
    )
    found = []
    # A pair that is just being written may read as two that are meant to touch.
    for written in ((-1, -1), nearest):
        rows = no_rows(rest[1])
        rows.pairs[rest[0] - 1] = written
        spans = make_spans(motion, reach(moving))
        search_steps(moving.tree, fixed.tree, motion, spans, rest, EPS, meant, entries, rows)
        found.append((rows.chord[rest[0] :], rows.pairs[rest[0] :]))
    np.testing.assert_array_equal(found[0][0], found[1][0])
    np.testing.assert_array_equal(found[0][1], found[1][1])


@pytest.mark.parametrize("seed", range(12))
def test_soups_that_pass_one_another(seed):
    rng = np.random.default_rng(seed)
    # From well apart to wholly mixed up, where most steps strike.
    offset = rng.normal(size=3) * [0.2, 1.0, 3.0][seed % 3] + [0.0, 0.0, seed % 4]
    path = wandering_path(rng, offset, shift=[0.01, 0.1][seed % 2])
    assert_same(*both_ways(soup(rng), soup(rng), path))


def test_soups_that_only_just_strike():
    rng = np.random.default_rng(40)
    moving, fixed = soup(rng, spread=0.3), soup(rng, spread=0.3)
    poses = np.tile(np.eye(4), (STEPS + 1, 1, 1))
    poses[:, 0, 3] = np.linspace(3.5, 0.0, STEPS + 1)
    together, single = both_ways(moving, fixed, Path(stations=np.arange(49.0), poses=poses))
    assert_same(together, single)
    assert 0 < (together.chord <= CONTACT).sum() < STEPS


@pytest.mark.parametrize("section", [framed_section, boarded_section])
def test_a_section_in_its_shaft(section):
    moving, fixed = body_of(section(half=2.92)), body_of(square_shaft(20_000))
    together, single = both_ways(moving, fixed, raise_path(STEPS, tilt_deg=0.2, yaw_deg=0.2))
    assert_same(together, single)


def test_a_round_section_in_its_shaft():
    moving, fixed = body_of(round_section(half=2.93)), body_of(round_shaft(20_000))
    assert_same(*both_ways(moving, fixed, raise_path(STEPS, tilt_deg=0.2, yaw_deg=0.2)))


def test_members_left_out_stay_left_out():
    rng = np.random.default_rng(41)
    moving, fixed = soup(rng), soup(rng)
    skip = np.array([0, 1, (1 << 32) + 2], np.int64)
    together, single = both_ways(moving, fixed, wandering_path(rng, [0.0, 0.0, 2.0]), skip=skip)
    assert_same(together, single)
    ranks = moving.tree.members[together.pairs[:, 0]].astype(np.int64) << 32
    keys = ranks + fixed.tree.members[together.pairs[:, 1]]
    assert not np.isin(keys, skip).any()


def test_a_fast_approach_is_searched_step_by_step():
    """Half a metre a step: the stretch smears far more than the gap is wide."""
    rng = np.random.default_rng(42)
    moving, fixed = soup(rng, n=400), soup(rng, n=400)
    poses = np.tile(np.eye(4), (STEPS + 1, 1, 1))
    poses[:, 2, 3] = np.linspace(24.0, -24.0, STEPS + 1)
    path = Path(stations=np.arange(STEPS + 1.0), poses=poses)
    assert_same(*both_ways(moving, fixed, path))


def test_too_little_room_is_never_proved_wrongly():
    rng = np.random.default_rng(43)
    moving, fixed = soup(rng), soup(rng)
    path = wandering_path(rng, [0.5, 0.0, 2.5], shift=0.02)
    _, single = both_ways(moving, fixed, path)
    proofs = []
    for entries in range(2, 40):
        together, _ = both_ways(moving, fixed, path, entries=entries)
        sure = together.proved
        assert (together.chord[sure] <= single.chord[sure] + EPS + 1e-12).all()
        proofs.append(int(sure.sum()))
    assert proofs[0] == 0
    assert max(proofs) > 0


def ask_stretch(moving, fixed, path, *, entries, left):
    """The search of the whole path as one stretch, from a first pair in every step."""
    motion = fine_path(moving, fixed, path, EPS / 8).motion
    spans = make_spans(motion, reach(moving))
    n = len(motion.angles)
    rows = no_rows(n)
    rows.proved[:] = True
    rows.pairs[:] = 0
    cuts = np.full(len(spans.smear), NO_CUT)
    work = make_work(len(moving.tree.child), len(moving.sources), entries)
    for k in range(n):
        rows.chord[k] = 50.0
        change_cut(cuts, len(cuts) // 2 + k, cut_at(50.0, EPS))
    ended = search_stretch(
        moving.tree,
        fixed.tree,
        motion,
        spans,
        (0, 0, 1),
        (EPS, left),
        NONE_LEFT_OUT,
        work,
        cuts,
        rows,
        np.empty(0),
        np.empty(0, np.int64),
    )
    return ended, rows, cuts


def test_how_a_stretch_ends():
    rng = np.random.default_rng(44)
    moving, fixed = soup(rng), soup(rng)
    path = wandering_path(rng, [0.5, 0.0, 2.5], shift=0.02)
    _, single = both_ways(moving, fixed, path)
    ended, rows, cuts = ask_stretch(moving, fixed, path, entries=200, left=ANY_NUMBER)
    assert ended == DONE
    assert_same(rows, single)
    # Every cut is that of its step, and every stretch has the greatest of its own.
    half = len(cuts) // 2
    steps = np.array([cut_at(gap, EPS) for gap in rows.chord])
    np.testing.assert_array_equal(cuts[half : half + len(steps)], steps)
    np.testing.assert_array_equal(cuts[1:half], cuts[2:].reshape(-1, 2).max(axis=1))
    assert ask_stretch(moving, fixed, path, entries=3, left=ANY_NUMBER)[0] == NO_ROOM
    for left in (0, 10, 300):
        ended, rows, _ = ask_stretch(moving, fixed, path, entries=200, left=left)
        assert ended == GIVEN_UP
        # What was found until then is a distance that is there.
        assert (rows.chord >= single.chord - EPS - 1e-12).all()


@pytest.mark.parametrize("shape", ["soup", "other soup", "square", "round"])
def test_bounds_over_a_stretch_hold_in_every_step(shape):
    rng = np.random.default_rng(50 + len(shape))
    path = raise_path(16, tilt_deg=2.0, yaw_deg=2.0, drift=0.1)
    if shape == "square":
        moving, fixed = body_of(framed_section()), body_of(square_shaft(2_000))
    elif shape == "round":
        moving, fixed = body_of(round_section()), body_of(round_shaft(2_000))
    else:
        moving, fixed = soup(rng, n=40), soup(rng, n=40)
        path = wandering_path(rng, [0.0, 0.0, 3.0], steps=16, turn=0.1)
    motion = fine_path(moving, fixed, path, EPS / 8).motion
    spans = make_spans(motion, reach(moving))
    leaves = len(spans.smear) // 2
    work = make_work(1, len(moving.sources), 9)
    a_side, b_side = moving.tree, fixed.tree
    nodes = [np.flatnonzero(tree.size <= 12) for tree in (a_side, b_side)]
    tried = ringed = 0
    for _ in range(250):
        a, b = (int(rng.choice(some)) for some in nodes)
        q = int(rng.choice(np.flatnonzero(spans.smear[1:] >= 0))) + 1
        below = q
        while below < leaves:
            below = 2 * below + int(rng.integers(2))
            if spans.smear[below] < 0:
                below -= 1
        k = below - leaves
        least = math.inf
        for i in range(a_side.first[a], a_side.first[a] + a_side.size[a]):
            move_run(a_side.triangles, i, motion.turns, motion.shifts, k, work.start, work.end)
            for j in range(b_side.first[b], b_side.first[b] + b_side.size[b]):
                least = min(
                    least,
                    swept_gap(
                        work.start,
                        work.end,
                        i,
                        b_side.triangles,
                        j,
                        math.inf,
                        1e-6,
                        work.probe,
                        work.trial,
                        work.spans,
                        np.empty(9),
                    )[0],
                )
        parts = (
            spans.turn_mid,
            spans.turn_run,
            spans.turn_rest,
            spans.shift_mid,
            spans.shift_run,
            spans.shift_rest,
        )
        x, y, z, lowest, highest = _moved_slab(
            a_side.walls, a, q, spans.turn, spans.swing, *parts[3:]
        )
        low, high = node_reach(b_side.boxes, b_side.walls, b, x, y, z)
        apart = max(
            axes_apart(a_side, a, b_side, motion.turns, motion.shifts, end)
            for end in (k, k + 1)
        )
        rings = (b_side.radii[b, 0] - apart) * level_share(b_side) - a_side.radii[a, 1]
        assert rings_off(
            a_side.radii, a, b_side.radii, b, apart, level_share(b_side), 1e-12
        ) == (rings > 1e-6)
        ringed += rings > 0
        bounds = (
            rings,
            math.sqrt(_boxes_gap2(a_side.boxes, a, b_side.boxes, b, q, *parts)),
            _wall_gap(a_side.boxes, a_side.walls, a, b_side.walls, b, q, *parts),
            max(low - highest, lowest - high),
        )
        assert max(bounds) <= least + 1e-9
        tried += max(bounds) > 0
    assert tried > 50
    assert shape != "round" or ringed > 25


def test_rings_hold_every_point_of_their_node():
    rng = np.random.default_rng(62)
    for body in (soup(rng), body_of(round_shaft(2_000)), body_of(framed_section())):
        tree = body.tree
        weights = rng.dirichlet(np.ones(3), size=(len(tree.triangles), 20))
        points = weights @ tree.triangles.reshape(-1, 3, 3)
        level = points[..., :2] - tree.axis[:2] - points[..., 2:] * tree.axis[2:]
        away = np.linalg.norm(level, axis=-1)
        for node in range(len(tree.child)):
            mine = away[tree.first[node] : tree.first[node] + tree.size[node]]
            assert tree.radii[node, 0] <= mine.min()
            assert mine.max() <= tree.radii[node, 1]


def test_the_axis_of_a_leaning_round_shaft_is_found():
    """It leans by 50 mm in 18 m, and its wall wanders by 30 mm about the ring."""
    body = body_of(round_shaft(20_000))
    assert body.tree.axis[2] == pytest.approx(LEAN / SHAFT_HEIGHT, abs=5e-4)
    assert body.tree.radii[0].tolist() == pytest.approx([3.0, 3.0], abs=0.05)
    # Of a slender leaning ring that is exact, the axis is exact too.
    turns = np.linspace(0.0, 2.0 * np.pi, 60, endpoint=False)
    z = np.repeat(np.arange(5.0), 60)
    ring = np.stack([np.tile(np.cos(turns), 5), np.tile(np.sin(turns), 5), z], axis=1)
    ring[:, :2] += [0.3, -0.2] + z[:, None] * [0.02, 0.05]
    np.testing.assert_allclose(upright_axis(ring), [0.3, -0.2, 0.02, 0.05], atol=1e-9)


def test_no_tree_is_deeper_than_its_bound():
    rng = np.random.default_rng(60)
    # Needles that fan out: each faces its own way, and all share one box.
    turns = np.linspace(0.0, 2.0 * np.pi, 64, endpoint=False)
    fan = np.zeros((64, 3, 3))
    fan[:, 1] = np.stack([np.cos(turns), np.sin(turns), 0 * turns], axis=1)
    fan[:, 2, 2] = 0.01
    for body in (
        build_body(fan.reshape(-1, 3), np.arange(192).reshape(-1, 3), np.zeros(64, int)),
        soup(rng, n=500, spread=0.0),
        body_of(framed_section()),
    ):
        depth = np.zeros(len(body.tree.child), int)
        for node, left in enumerate(body.tree.child):
            if left > 0:
                depth[left : left + 2] = depth[node] + 1
        assert depth.max() < piece_count_bound(body)
        leaves = body.tree.child == 0
        assert (body.tree.size[leaves] > 0).all()
        assert body.tree.size[leaves].sum() == len(body.sources)


def test_workers_and_short_paths_change_nothing():
    rng = np.random.default_rng(61)
    moving, fixed = soup(rng), soup(rng)
    for steps in (1, 3, 5, 17, 40):
        path = wandering_path(rng, [0.0, 0.0, 5.0], steps=steps)
        one, two = (gap_series(moving, fixed, path, workers=n) for n in (1, 2))
        for mine, other in ((one, two), (two, one)):
            assert (mine.lower <= other.upper + 1e-12).all()
        assert one.certified.all()
        assert two.certified.all()
