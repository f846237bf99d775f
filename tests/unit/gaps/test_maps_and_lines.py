"""Maps, plumb line, lines and holes against closed forms and against the engine."""

import numpy as np
import pytest

from tests.benchmarks.gap_meshes import bar, framed_section, raise_path, square_shaft
from towerlift.gaps import (
    Cells,
    Hole,
    Lean,
    Line,
    PlumbLine,
    Reach,
    Shift,
    best_plumb_line,
    build_body,
    find_holes,
    fixed_map,
    hole_gaps,
    least_gap,
    line_gap,
    member_gaps,
    moving_map,
    open_ends,
    plumb_ceiling,
    seen_gap,
    straight_path,
    veil,
)

BORE = 2.0


def body_of(mesh):
    return build_body(mesh.vertices, mesh.faces, mesh.members)


def square_tube(low=-3.0, high=5.0, *, left_out=()):
    """Inner faces of a square shaft in rows of cells, each wall a member."""
    half, n = BORE / 2, 8
    vertices: list[np.ndarray] = []
    faces: list[list[int]] = []
    members: list[int] = []
    for wall in range(4):
        turn = wall * np.pi / 2
        out = np.array([np.cos(turn), np.sin(turn), 0.0])
        across = np.array([-out[1], out[0], 0.0])
        for i in range(n):
            for j in range(n):
                if (wall, i, j) in left_out:
                    continue
                u0, u1 = -half + 2 * half * np.array([i, i + 1]) / n
                z0, z1 = low + (high - low) * np.array([j, j + 1]) / n
                start = len(vertices)
                vertices += [
                    half * out + u * across + np.array([0.0, 0.0, z])
                    for u, z in ((u0, z0), (u1, z0), (u1, z1), (u0, z1))
                ]
                faces += [[start, start + 2, start + 1], [start, start + 3, start + 2]]
                members += [wall, wall]
    # Corners of neighbouring cells must be equal to the last digit to be joined.
    return build_body(np.round(vertices, 9), np.array(faces), np.array(members))


def block(half=0.9, height=1.0):
    ends = np.array([0.0, 0.0, 0.0]), np.array([0.0, 0.0, height])
    return body_of(bar(*ends, (2 * half, 2 * half)))


@pytest.fixture(scope="module")
def shaft():
    return body_of(square_shaft(20_000))


@pytest.fixture(scope="module")
def section():
    return body_of(framed_section(half=2.9))


def test_moving_map_of_a_block_off_centre():
    """Side k is nearest to wall k, by half the bore less the block and its shift."""
    x, y = 0.03, -0.02
    gap_map = moving_map(
        block(), square_tube(), straight_path(0.0, 1.0, lean=Lean(x=x, y=y), steps=10)
    )
    free = BORE / 2 - 0.9
    expected = np.array([free - x, free - y, free + x, free + y])
    for side in range(4):
        # Cells at the corners also hold the edge of the face around the corner.
        rows = (gap_map.sides == side) & (np.abs(gap_map.along) < 0.6)
        assert rows.any()
        assert gap_map.lower[rows].min() <= expected[side]
        assert gap_map.upper[rows].min() == pytest.approx(expected[side], abs=1e-3)
        middle = rows & (np.abs(gap_map.along) < 0.5) & (gap_map.up > 0.3) & (gap_map.up < 0.7)
        assert {gap_map.gaps[k].fixed_member for k in np.flatnonzero(middle)} == {side}


def test_maps_agree_with_the_least_of_the_path(section, shaft):
    path = raise_path(12, tilt_deg=0.2, drift=0.01)
    whole = least_gap(section, shaft, path)
    for one in (
        moving_map(section, shaft, path, cells=Cells(size=1.0)),
        fixed_map(section, shaft, path, cells=Cells(size=3.0)),
    ):
        assert one.lower.min() <= whole.upper
        assert whole.lower <= one.upper.min() <= whole.upper + 1e-3
        assert (one.upper - one.lower <= 1e-3).all()


def test_price_of_a_protrusion():
    """A lug 40 mm proud of a block costs 40 mm less what the block itself allows."""
    base = bar(np.zeros(3), np.array([0.0, 0.0, 1.0]), (1.8, 1.8))
    lug = bar(np.array([0.9, 0.0, 0.5]), np.array([0.94, 0.0, 0.5]), (0.1, 0.1))
    moving = build_body(
        np.concatenate([base.vertices, lug.vertices]),
        np.concatenate([base.faces, lug.faces + len(base.vertices)]),
        np.repeat([1, 2], [len(base.faces), len(lug.faces)]),
    )
    gaps = member_gaps(moving, square_tube(), straight_path(0.0, 1.0, steps=5))
    assert gaps.worst == 2
    assert gaps.gain_without(2) == pytest.approx(0.04, abs=1e-3)
    assert gaps.gain_without(1) == pytest.approx(0.0, abs=1e-3)


def test_plumb_line_of_a_block_is_the_middle():
    path = straight_path(0.0, 1.0, lean=Lean(x=0.03, y=-0.02, yaw=0.004), steps=20)
    line = best_plumb_line(block(), square_tube(), path)
    # Steered by distances that may each be a tenth of a millimetre too great.
    assert line.shift.x == pytest.approx(-0.03, abs=1e-3)
    assert line.shift.y == pytest.approx(0.02, abs=1e-3)
    assert line.shift.yaw == pytest.approx(-0.004, abs=1e-3)
    assert line.after.upper == pytest.approx(0.1, abs=1e-3)
    assert line.gain > 0.03


def test_plumb_line_beats_its_neighbours(section, shaft):
    path = raise_path(30, drift=0.003)
    line = best_plumb_line(section, shaft, path)
    assert line.after.upper >= line.before.upper
    for x, y, yaw in ((1e-3, 0, 0), (-1e-3, 0, 0), (0, 1e-3, 0), (0, -1e-3, 0), (0, 0, 5e-4)):
        beside = Shift(x=line.shift.x + x, y=line.shift.y + y, yaw=line.shift.yaw + yaw)
        assert least_gap(section, shaft, beside.applied(path)).upper <= line.after.upper + 3e-4


def test_plumb_line_keeps_within_reach():
    path = straight_path(0.0, 1.0, lean=Lean(x=0.05), steps=5)
    line = best_plumb_line(block(), square_tube(), path, reach=Reach(shift=0.01, yaw=0.001))
    assert line.shift.x == pytest.approx(-0.01, abs=1e-4)


def test_a_plumb_line_of_what_does_not_fit_is_measured_all_the_same():
    stout = body_of(bar(np.zeros(3), np.array([0.0, 0.0, 1.0]), (2.2, 2.2)))
    path = straight_path(0.0, 1.0, lean=Lean(x=0.0), steps=3)
    line = best_plumb_line(stout, square_tube(), path)
    assert line.after.upper >= line.before.upper
    assert not line.after.upper > 0


def test_no_plumb_line_leaves_more_than_the_ceiling(section, shaft):
    """Two hundred shifts anywhere within reach, by the engine; and near the best."""
    path = raise_path(30, drift=0.003)
    line = best_plumb_line(section, shaft, path)
    found = plumb_ceiling(section, shaft, path, line, close=1e-3)
    assert found.ceiling == pytest.approx(line.after.upper + found.left)
    assert 0 <= found.left < 2e-3
    rng = np.random.default_rng(3)
    spread = np.repeat([1.0, 0.1, 0.02], 20)[:, None] * [0.05, 0.05, 0.01]
    shifts = rng.uniform(-1, 1, (60, 3)) * spread
    shifts[20:] += [line.shift.x, line.shift.y, line.shift.yaw]
    for x, y, yaw in shifts:
        other = Shift(x=float(x), y=float(y), yaw=float(yaw)).applied(path)
        assert least_gap(section, shaft, other).lower <= found.ceiling


def test_a_line_that_is_not_the_best_has_room_above_it():
    """A block 30 mm off the middle of a tube that leaves 100 mm all round."""
    path = straight_path(0.0, 1.0, lean=Lean(x=0.03), steps=20)
    best = best_plumb_line(block(), square_tube(), path)
    poor = PlumbLine(shift=Shift(), before=best.before, after=best.before)
    found = plumb_ceiling(block(), square_tube(), path, poor)
    assert found.left >= 0.03 - 1e-4
    found = plumb_ceiling(block(), square_tube(), path, best)
    assert 0.1 - 1e-4 <= found.ceiling <= 0.1 + 2e-3
    near = Reach(shift=0.01, yaw=0.001)
    kept = best_plumb_line(block(), square_tube(), path, reach=near)
    found = plumb_ceiling(block(), square_tube(), path, kept, reach=near)
    assert 0.08 - 1e-4 <= found.ceiling <= 0.08 + 2e-3
    with pytest.raises(ValueError, match="close must be positive"):
        plumb_ceiling(block(), square_tube(), path, best, close=0.0)


def still(start, end, radius):
    return Line(stations=np.array([0.0, 1.0]), ends=np.array([[start, end]] * 2), radius=radius)


def test_rope_beside_a_wall():
    rope = still([0.6, 0.0, -2.0], [0.7, 0.0, 4.0], 0.012)
    gap = line_gap(rope, square_tube())
    expected = 0.3 - 0.012
    assert gap.lower <= expected <= gap.upper + 1e-12
    assert gap.upper == pytest.approx(expected, abs=1e-4)
    assert gap.fixed_member == 0
    assert gap.certified


def test_line_between_stations_is_followed():
    """A bar swings past a post while both its stations are clear of it."""
    post = body_of(bar(np.array([0.5, 0, -1.0]), np.array([0.5, 0, 1.0]), (0.1, 0.1)))
    ends = np.array([[[0.0, 0.5, 0.0], [0.0, 1.0, 0.0]], [[1.0, 0.5, 0.0], [1.0, 1.0, 0.0]]])
    gap = line_gap(Line(stations=np.array([2.0, 3.0]), ends=ends, radius=0.05), post)
    assert gap.upper == pytest.approx(0.5 - 0.05 - 0.05, abs=1e-4)
    assert gap.at == pytest.approx(2.5, abs=0.06)


def test_line_through_a_wall_is_struck():
    gap = line_gap(still([0.0, 0.0, 0.0], [1.5, 0.0, 0.0], 0.01), square_tube())
    assert gap.struck
    assert not gap.certified
    assert gap.lower == -np.inf
    free = line_gap(
        still([0.0, 0.0, 0.0], [1.5, 0.0, 0.0], 0.01), square_tube(), skip_members=[0]
    )
    assert not free.struck
    assert free.upper == pytest.approx(0.99, abs=1e-4)


@pytest.mark.parametrize(
    ("ends", "radius", "message"),
    [
        (np.zeros((2, 2, 2)), 0.1, "ends must be"),
        (np.full((2, 2, 3), np.nan), 0.1, "ends must be"),
        (np.zeros((2, 2, 3)), -0.1, "radius"),
        (np.zeros((2, 2, 3)), np.nan, "radius"),
    ],
)
def test_bad_lines_are_refused(ends, radius, message):
    with pytest.raises(ValueError, match=message):
        Line(stations=np.array([0.0, 1.0]), ends=ends, radius=radius)


def test_unknown_members_of_a_line_are_refused():
    rope = still([0.0, 0.0, 0.0], [0.0, 0.0, 1.0], 0.01)
    with pytest.raises(ValueError, match="member 9"):
        line_gap(rope, square_tube(), skip_members=[9])
    with pytest.raises(ValueError, match="nothing to measure"):
        line_gap(rope, square_tube(), skip_members=[0, 1, 2, 3])


def test_holes_of_a_tube():
    holes = find_holes(square_tube(left_out={(0, 3, 4)}))
    assert [hole.goes_round(0.0, 0.0) for hole in holes] == [True, True, False]
    assert [hole.outline for hole in holes] == [True, False, False]
    assert open_ends(holes, (0.0, 0.0)) == {0, 1}
    assert open_ends(holes, (5.0, 0.0)) == frozenset()
    scan = holes[2]
    assert scan.length == pytest.approx(2 * (BORE / 8 + 1.0))
    np.testing.assert_allclose(np.abs(scan.facing), [1.0, 0.0, 0.0], atol=1e-9)
    assert len(veil(holes).member_ids) == 3


def test_holes_that_share_a_corner_are_told_apart():
    holes = find_holes(square_tube(left_out={(0, 3, 3), (0, 4, 4)}))
    assert len(holes) == 4
    assert all(hole.length < 2 * (BORE / 8 + 1.0) + 1e-9 for hole in holes[2:])


def test_a_rim_never_breaks_off():
    """A flap on an edge of two faces, and a face turned over: what is left over closes."""
    corners = np.array([[0.0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [0.5, 0.5, 1]])
    flapped = find_holes(build_body(corners, [[0, 1, 2], [0, 2, 3], [0, 2, 4]], [0, 0, 0]))
    assert sum(len(hole.rim) for hole in flapped) == 7
    turned = find_holes(build_body(corners, [[0, 1, 2], [0, 3, 2]], [0, 0]))
    assert sum(len(hole.rim) for hole in turned) == 6


def test_the_sheet_over_a_bent_rim_is_the_hull():
    """A rim round the corner of a room: what was not seen may fill the corner."""
    rim = np.array([[1.0, 0, 0], [0, 0, 0], [0, 1, 0], [0, 1, 1], [0, 0, 1], [1, 0, 1]])
    hole = Hole(rim=rim, outline=False)
    assert hole.holds(np.array([[0.3, 0.3, 0.5]]))
    assert not hole.holds(np.array([[0.6, 0.6, 0.5]]))
    flat = Hole(rim=rim[[0, 1, 4, 5]], outline=False)
    np.testing.assert_allclose(flat.sizes, [1, 1, 0], atol=1e-12)
    assert not flat.holds(np.array([[0.3, 0.0, 0.5]]))
    probe = build_body(np.array([0.7, 0.7, 0.3]) + np.eye(3) * 1e-3, [[0, 1, 2]], [0])
    path = straight_path(0.0, 0.2, lean=Lean(x=0.0), steps=1)
    bent, level = hole_gaps(probe, [hole, flat], path)
    # From (0.7, 0.7) to the line x + y = 1, and to the wall y = 0.
    assert bent.upper == pytest.approx(0.4 / np.sqrt(2), abs=2e-3)
    assert level.upper == pytest.approx(0.7, abs=2e-3)
    within = build_body(np.array([0.2, 0.2, 0.3]) + np.eye(3) * 1e-3, [[0, 1, 2]], [0])
    bent, level = hole_gaps(within, [hole, flat], path)
    assert bent.lower == -np.inf
    assert level.upper == pytest.approx(0.2, abs=2e-3)


def test_cracks_are_welded_only_when_asked():
    corners = np.zeros((6, 3))
    corners[:, 0] = 0.0, 1.0, 0.0, 1.0, 1e-5, 1.0
    corners[:, 1] = 0.0, 0.0, 1.0, 1e-5, 1.0, 1.0
    body = build_body(corners, [[0, 1, 2], [3, 5, 4]], [0, 0])
    assert len(find_holes(body)) == 2
    (hole,) = find_holes(body, weld=1e-4)
    assert hole.length == pytest.approx(4.0, abs=1e-4)


def test_closed_body_has_no_holes():
    vertices = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    solid = build_body(vertices, [[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]], [0, 0, 0, 0])
    assert find_holes(solid) == ()


def test_gap_that_rests_on_a_hole_is_not_evaluated():
    """The cell the block passes nearest to was not seen."""
    missing = {(0, i, j) for i in range(8) for j in range(8)} - {(0, 0, 0), (0, 7, 7)}
    path = straight_path(0.0, 1.0, lean=Lean(x=0.06), steps=5)
    seen = seen_gap(block(), square_tube(left_out=missing), path, 0.02)
    assert seen.gap.upper > 0.04
    assert seen.relies_on_hole
    assert seen.verdict_lower == -np.inf
    whole = seen_gap(block(), square_tube(), path, 0.02)
    assert not whole.relies_on_hole
    assert whole.unseen == ()
    assert whole.verdict_lower == whole.gap.lower


def test_known_opening_is_trusted():
    path = straight_path(0.0, 1.0, lean=Lean(x=0.02), steps=5)
    tube = square_tube(left_out={(0, 3, 3), (0, 4, 3), (0, 3, 4), (0, 4, 4)})
    doubted = seen_gap(block(), tube, path, 0.02)
    assert doubted.relies_on_hole
    number = next(k for k, hole in enumerate(find_holes(tube)) if not hole.goes_round(0.0, 0.0))
    trusted = seen_gap(block(), tube, path, 0.02, known=[number])
    assert not trusted.relies_on_hole
    with pytest.raises(ValueError, match="known must name holes"):
        seen_gap(block(), tube, path, 0.02, known=[99])
