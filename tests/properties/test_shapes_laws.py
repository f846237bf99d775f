"""Laws that mass, centre and inertia of any solid must obey."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from towerlift.shapes.envelopes import half_widths
from towerlift.shapes.masses import enclosed_volume, mesh_mass
from towerlift.shapes.members import Boxes, box_mass, box_solid, member_axes
from towerlift.shapes.solids import MassProperties, Solid, combine

PLACES = st.tuples(*[st.floats(-10, 10).map(lambda v: round(v, 3))] * 3)
SIDES = st.floats(0.02, 0.6)
ANGLES = st.floats(-np.pi, np.pi)


@st.composite
def boxes(draw, most=6):
    """Some placed pieces as arrays, none shorter than a hand."""
    rows = draw(
        st.lists(st.tuples(PLACES, PLACES, SIDES, SIDES, ANGLES), min_size=1, max_size=most)
    )
    starts = np.array([row[0] for row in rows])
    ends = np.array([row[1] for row in rows])
    short = np.linalg.norm(ends - starts, axis=1) < 0.1
    ends[short] = starts[short] + [0.3, 0.4, 1.2]
    along = (ends - starts) / np.linalg.norm(ends - starts, axis=1, keepdims=True)
    return Boxes(
        starts=starts,
        ends=ends,
        sides=np.array([row[2:4] for row in rows]),
        axes=member_axes(along, np.array([row[4] for row in rows])),
        densities=np.full(len(rows), 500.0),
    )


class _Marked:
    mark = "piece"
    part = "piece"


def _solid(pieces: Boxes) -> Solid:
    return box_solid("body", [_Marked()] * len(pieces.starts), pieces)  # type: ignore[list-item]


def _turn(a: float, b: float, c: float) -> np.ndarray:
    def about(axis: int, angle: float) -> np.ndarray:
        i, j = [(1, 2), (2, 0), (0, 1)][axis]
        turn = np.eye(3)
        turn[i, i] = turn[j, j] = np.cos(angle)
        turn[j, i] = np.sin(angle)
        turn[i, j] = -np.sin(angle)
        return turn

    turned: np.ndarray = about(2, a) @ about(1, b) @ about(0, c)
    return turned


@given(pieces=boxes(), angles=st.tuples(ANGLES, ANGLES, ANGLES), shift=PLACES)
def test_turning_and_shifting_leaves_mass_and_principal_inertia(pieces, angles, shift):
    solid, turn = _solid(pieces), _turn(*angles)
    before = enclosed_volume(solid.vertices, solid.faces)
    after = enclosed_volume(solid.vertices @ turn.T + shift, solid.faces)
    np.testing.assert_allclose(after.volume, before.volume, rtol=1e-9)
    np.testing.assert_allclose(after.centre, turn @ before.centre + shift, atol=1e-9)
    scale = np.abs(before.inertia).max()
    np.testing.assert_allclose(
        np.linalg.eigvalsh(after.inertia), np.linalg.eigvalsh(before.inertia), atol=1e-9 * scale
    )


@given(pieces=boxes())
def test_closed_form_of_boxes_equals_that_of_their_triangles(pieces):
    closed_form, by_triangles = box_mass(pieces, 0.08), mesh_mass(_solid(pieces), 500.0, 0.08)
    np.testing.assert_allclose(closed_form.mass, by_triangles.mass, rtol=1e-9)
    np.testing.assert_allclose(closed_form.centre, by_triangles.centre, atol=1e-9)
    scale = np.abs(closed_form.inertia).max()
    np.testing.assert_allclose(closed_form.inertia, by_triangles.inertia, atol=1e-9 * scale)


@given(pieces=boxes(), seed=st.randoms(use_true_random=False))
def test_order_of_members_does_not_matter(pieces, seed):
    order = list(range(len(pieces.starts)))
    seed.shuffle(order)
    shuffled = Boxes(
        starts=pieces.starts[order],
        ends=pieces.ends[order],
        sides=pieces.sides[order],
        axes=pieces.axes[order],
        densities=pieces.densities[order],
    )
    before, after = box_mass(pieces, 0.08), box_mass(shuffled, 0.08)
    np.testing.assert_allclose(after.mass, before.mass, rtol=1e-12)
    np.testing.assert_allclose(after.centre, before.centre, atol=1e-11)
    scale = np.abs(before.inertia).max()
    np.testing.assert_allclose(after.inertia, before.inertia, atol=1e-11 * scale)


@given(pieces=boxes(), mass=st.floats(1.0, 1e5), drop=st.floats(0.01, 50.0))
def test_mass_added_below_the_centre_lowers_it(pieces, mass, drop):
    body = box_mass(pieces, 0.08)
    below = MassProperties(
        mass=mass,
        centre=body.centre - [0.0, 0.0, drop],
        inertia=np.zeros((3, 3)),
        tolerance=0.0,
    )
    together = combine([(body, np.zeros(3)), (below, np.zeros(3))])
    assert together.centre[2] < body.centre[2]
    assert together.centre[2] > below.centre[2]


@given(pieces=boxes(), angle=ANGLES)
def test_turning_level_pieces_with_the_frame_turns_their_axes(pieces, angle):
    along = pieces.axes[:, 2]
    leaning = np.hypot(along[:, 0], along[:, 1]) > 1e-6
    rolls = np.linspace(-1, 1, len(along))
    turn = _turn(angle, 0.0, 0.0)
    before = member_axes(along, rolls)[leaning]
    after = member_axes(along @ turn.T, rolls)[leaning]
    np.testing.assert_allclose(after, before @ turn.T, atol=1e-7)


@given(
    pieces=boxes(), cuts=st.lists(st.floats(0.01, 0.99), min_size=0, max_size=6, unique=True)
)
def test_the_farthest_band_reaches_as_far_as_the_farthest_corner(pieces, cuts):
    solid = _solid(pieces)
    x, y, s = solid.vertices.T
    heights = np.unique(s.min() + np.ptp(s) * np.array([0.0, *cuts, 1.0]))
    heights[-1] = s.max()
    reach = half_widths(solid, heights)
    farthest = [y.max(), x.max(), -y.min(), -x.min()]
    np.testing.assert_array_equal(np.nanmax(reach, axis=0), farthest)
