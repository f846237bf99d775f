"""Laws that budgets, cuts, spans and overlaps must obey, whatever the figures."""

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from towerlift.nesting.budget import FreeHang, GapBudget, guided_shift
from towerlift.nesting.masonry import _holes
from towerlift.nesting.overlap import least_separation
from towerlift.nesting.slabs import cut_at_heights
from towerlift.rig.out_of_true import silhouette

lengths = st.floats(0.0, 0.2)
parts = st.fixed_dictionaries(
    dict.fromkeys(
        ("running", "play", "swelling", "fabrication", "survey", "tilt", "sway"), lengths
    )
)
seeds = st.integers(0, 10_000)
BOX = np.array(
    [
        [0, 2, 1], [0, 3, 2], [4, 5, 6], [4, 6, 7], [0, 1, 5], [0, 5, 4],
        [1, 2, 6], [1, 6, 5], [2, 3, 7], [2, 7, 6], [3, 0, 4], [3, 4, 7],
    ]
)  # fmt: skip
UNIT = np.array(
    [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [0, 0, 1], [1, 0, 1], [1, 1, 1], [0, 1, 1]]
)


def turned_box(rng):
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    turn *= np.sign(np.linalg.det(turn))
    corners = (UNIT - 0.5) * rng.uniform(0.1, 2.0, 3)
    return (corners @ turn.T + rng.uniform(-1.5, 1.5, 3))[BOX]


@given(parts=parts, name=st.sampled_from(["running", "swelling", "survey", "tilt"]))
def test_no_part_of_a_budget_lessens_it(parts, name):
    less = GapBudget(**parts).total
    assert GapBudget(**{**parts, name: parts[name] + 0.01}).total >= less
    assert less >= max(parts.values()) - 1e-15


@given(play=st.floats(0.001, 0.1), span=st.floats(0.1, 10.0), share=st.floats(-3.0, 4.0))
def test_a_shift_between_shoes_is_the_line_through_them(play, span, share):
    # The line from -play at the lower shoe to +play at the upper, and its mirror image.
    height = share * span
    line = -play + 2 * play * height / span
    assert guided_shift(play, span, height) >= abs(line) - 1e-12
    assert np.isclose(guided_shift(play, span, height), max(play, abs(line)))


@given(
    low=st.floats(-5.0, 15.0),
    rise=st.floats(0.0, 2.0),
    share=st.floats(0.0, 1.0),
    pivot=st.floats(0.0, 5.0),
)
def test_the_worse_end_of_a_slab_is_the_worst_of_it(low, rise, share, pivot):
    hang = FreeHang(tilt=0.004, sway=0.01, lean=0.002, pivot=pivot)

    def total(height):
        return hang.tilt_shift(height) + hang.sway_shift(height)

    assert total(low + share * rise) <= max(total(low), total(low + rise)) + 1e-12


@given(seed=seeds, n_edges=st.integers(2, 9))
def test_a_cut_neither_loses_nor_moves_any_surface(seed, n_edges):
    rng = np.random.default_rng(seed)
    vertices = rng.normal(size=(24, 3))
    faces = np.arange(24).reshape(-1, 3)
    inner = np.sort(rng.uniform(-3.0, 3.0, n_edges - 2))
    edges = np.concatenate([[-9.0], inner, [9.0]])
    cut = cut_at_heights(vertices, faces, np.arange(len(faces)), edges)
    for member, face in enumerate(faces):
        a, b, c = vertices[face]
        normal = np.cross(b - a, c - a)
        p, q, r = np.moveaxis(cut.vertices[cut.faces[cut.members == member]], 1, 0)
        pieces = np.cross(q - p, r - p)
        # Same sense, same plane, same area.
        np.testing.assert_allclose(pieces.sum(axis=0), normal, atol=1e-9)
        assert np.isclose(np.linalg.norm(pieces, axis=1).sum(), np.linalg.norm(normal))
        np.testing.assert_allclose((p - a) @ normal, 0.0, atol=1e-9)
    heights = cut.vertices[cut.faces][:, :, 2]
    assert (heights.min(axis=1) >= cut.edges[cut.slabs] - 1e-12).all()
    assert (heights.max(axis=1) <= cut.edges[cut.slabs + 1] + 1e-12).all()


@given(seed=seeds)
def test_the_least_separation_is_that_of_no_place_looked_up(seed):
    rng = np.random.default_rng(seed)
    piece, other = turned_box(rng), turned_box(rng)
    rise, reach = np.array([0.0, 0.0, 1.0]), (-1.0, 1.5)
    least, at = least_separation(piece, other, rise, reach)
    assert reach[0] <= at <= reach[1]
    for place in np.linspace(*reach, 23):
        here, _ = least_separation(piece + place * rise, other, rise, (0.0, 0.0))
        assert here >= least - 1e-9
    found, _ = least_separation(piece + at * rise, other, rise, (0.0, 0.0))
    assert np.isclose(found, least, atol=1e-9)


@given(seed=seeds)
def test_turning_both_pieces_changes_no_overlap(seed):
    rng = np.random.default_rng(seed)
    piece, other = turned_box(rng), turned_box(rng)
    rise = np.array([0.0, 0.0, 1.0])
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    before, _ = least_separation(piece, other, rise, (0.0, 1.0))
    after, _ = least_separation(piece @ turn.T, other @ turn.T, turn @ rise, (0.0, 1.0))
    assert np.isclose(before, after, atol=1e-8)


@given(seed=seeds)
def test_no_shift_shorter_than_the_overlap_parts_two_boxes(seed):
    rng = np.random.default_rng(seed)
    piece, other = turned_box(rng), turned_box(rng)
    # Put nearly in one place, so that they overlap.
    other = other + (piece.reshape(-1, 3).mean(axis=0) - other.reshape(-1, 3).mean(axis=0))
    other = other + rng.normal(size=3) * 0.1
    least, _ = least_separation(piece, other, np.array([0.0, 0.0, 1.0]), (0.0, 0.0))
    assume(least < 0)
    directions = rng.normal(size=(40, 3))
    directions /= np.linalg.norm(directions, axis=1, keepdims=True)
    for way in directions:
        needed = (piece.reshape(-1, 3) @ way).max() - (other.reshape(-1, 3) @ way).min()
        # Along any direction at all it takes at least the depth to part them.
        assert needed >= -least - 1e-9


@given(
    stretches=st.lists(
        st.tuples(st.floats(0.0, 20.0), st.floats(0.1, 6.0)), min_size=1, max_size=8
    ),
    low=st.floats(0.0, 10.0),
    length=st.floats(0.1, 10.0),
)
def test_a_height_is_surveyed_or_in_a_hole_and_never_both(stretches, low, length):
    known = np.array([(foot, foot + rise) for foot, rise in stretches])
    holes = _holes(known, low, low + length)
    for z in np.linspace(low, low + length, 41)[1:-1]:
        surveyed = ((known[:, 0] <= z) & (known[:, 1] >= z)).any()
        in_hole = any(foot - 1e-5 <= z <= head + 1e-5 for foot, head in holes)
        assert surveyed or in_hole
        if any(foot + 1e-5 < z < head - 1e-5 for foot, head in holes):
            assert not surveyed


@given(seed=seeds, above=st.floats(-1.0, 12.0))
def test_an_outline_cut_in_two_has_the_area_and_moment_of_both(seed, above):
    rng = np.random.default_rng(seed)
    heights = np.cumsum(rng.uniform(0.1, 2.0, 6))
    half = rng.uniform(0.0, 3.0, 6)
    area, centre = silhouette(heights, half, above)
    z = np.linspace(heights[0], heights[-1], 40_001)
    wide = 2 * np.interp(z, heights, half) * (z >= above)
    assert np.isclose(area, np.trapezoid(wide, z), rtol=1e-3, atol=1e-3)
    if area > 0.01:
        assert np.isclose(area * centre, np.trapezoid(wide * z, z), rtol=2e-3, atol=1e-2)
