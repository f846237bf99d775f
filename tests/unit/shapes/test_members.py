"""Boxes of placed members: where they lie, which way they face, what they weigh."""

import numpy as np
import pytest
import trimesh

from towerlift.errors import ShapeError
from towerlift.plan.bodies import Member, Species
from towerlift.shapes import build_solid, enclosed_volume
from towerlift.shapes.members import box_mass, place_members

OAK = Species(name="oak", density="760 kg/m^3", source="weighed here")


def _member(start, end, *, mark="A1", roll="0 deg", species="oak"):
    return Member(
        mark=mark,
        part="girt",
        species=species,
        breadth="100 mm",
        depth="300 mm",
        start=tuple(f"{v} m" for v in start),
        end=tuple(f"{v} m" for v in end),
        roll=roll,
    )


def _spans(member):
    solid = build_solid("frame", [member], [OAK])
    return np.ptp(solid.vertices, axis=0)


@pytest.mark.parametrize(
    ("start", "end", "roll", "spans"),
    [
        pytest.param((0, 0, 1), (2, 0, 1), "0 deg", (2.0, 0.1, 0.3), id="level-east"),
        pytest.param((0, 0, 1), (0, 2, 1), "0 deg", (0.1, 2.0, 0.3), id="level-north"),
        pytest.param((0, 0, 1), (0, -2, 1), "0 deg", (0.1, 2.0, 0.3), id="level-south"),
        pytest.param((0, 0, 0), (0, 0, 2), "0 deg", (0.1, 0.3, 2.0), id="upright"),
        pytest.param((0, 0, 2), (0, 0, 0), "0 deg", (0.1, 0.3, 2.0), id="upright-downward"),
        pytest.param((0, 0, 1), (2, 0, 1), "90 deg", (2.0, 0.3, 0.1), id="level-rolled"),
        pytest.param((0, 0, 0), (0, 0, 2), "90 deg", (0.3, 0.1, 2.0), id="upright-rolled"),
    ],
)
def test_depth_is_upward_and_breadth_level(start, end, roll, spans):
    np.testing.assert_allclose(_spans(_member(start, end, roll=roll)), spans, atol=1e-12)


def test_a_leaning_piece_keeps_its_breadth_level():
    solid = build_solid("frame", [_member((0, 0, 0), (3, 0, 4))], [OAK])
    assert np.ptp(solid.vertices[:, 1]) == pytest.approx(0.1)
    # The depth of 0.3 lies square to the slope of 3 in 4.
    assert np.ptp(solid.vertices[:, 0]) == pytest.approx(3 + 0.3 * 0.8)
    assert np.ptp(solid.vertices[:, 2]) == pytest.approx(4 + 0.3 * 0.6)


def test_roll_is_right_handed_from_start_to_end():
    # Looking along the piece from its start, a right-handed turn is clockwise: the
    # top of a piece that runs east goes south.
    solid = build_solid("frame", [_member((0, 0, 0), (2, 0, 0), roll="30 deg")], [OAK])
    top = solid.vertices[np.argmax(solid.vertices[:, 2])]
    depth, breadth = np.array([-0.5, np.sqrt(3) / 2]), np.array([np.sqrt(3) / 2, 0.5])
    corner = 0.15 * depth + 0.05 * breadth
    np.testing.assert_allclose(top[1:], corner, atol=1e-12)


def test_a_piece_that_all_but_stands_upright_is_taken_as_leaning_only_beyond_the_limit():
    inside = _spans(_member((0, 0, 0), (0.9e-9, 0, 1)))
    outside = _spans(_member((0, 0, 0), (1.1e-9, 0, 1)))
    np.testing.assert_allclose(inside[:2], [0.1, 0.3], atol=1e-8)
    np.testing.assert_allclose(outside[:2], [0.3, 0.1], atol=1e-8)


def test_every_triangle_knows_its_member_and_faces_outward():
    members = [
        _member((0, 0, 0), (0, 0, 2), mark="leg"),
        _member((0, 0, 1), (1, 2, 3), mark="brace", roll="17 deg"),
        _member((5, 0, 0), (4, 4, 4), mark="rafter", roll="-80 deg"),
    ]
    solid = build_solid("frame", members, [OAK])
    assert solid.marks == ("leg", "brace", "rafter")
    assert solid.parts == ("girt",) * 3
    assert solid.closed
    lengths = [2.0, np.sqrt(9.0), np.sqrt(33.0)]
    for i, length in enumerate(lengths):
        faces = solid.faces[solid.members == i]
        box = trimesh.Trimesh(solid.vertices, faces, process=False)
        assert box.is_watertight
        assert box.is_winding_consistent
        assert enclosed_volume(solid.vertices, faces).volume == pytest.approx(
            0.1 * 0.3 * length, rel=1e-12
        )


def test_mass_of_one_piece():
    boxes = place_members("frame", [_member((1, 2, 3), (1, 2, 5))], {"oak": 760.0})
    mass = box_mass(boxes, 0.08)
    assert mass.mass == pytest.approx(760 * 0.1 * 0.3 * 2)
    np.testing.assert_allclose(mass.centre, [1, 2, 4])
    # Breadth along x, depth along y, length along z: m / 12 (sum of two squares).
    squares = np.array([0.3**2 + 4, 0.1**2 + 4, 0.1**2 + 0.3**2])
    np.testing.assert_allclose(mass.inertia, np.diag(mass.mass / 12 * squares), atol=1e-12)
    assert mass.tolerance == 0.08


def test_every_bad_piece_is_named_at_once():
    members = [
        _member((0, 0, 0), (0, 0, 0), mark="nothing long"),
        _member((0, 0, 0), (0, 0, 1), mark="of elm", species="elm"),
    ]
    with pytest.raises(ShapeError) as refused:
        build_solid("frame", members, [OAK])
    text = str(refused.value)
    assert len(refused.value.problems) == 2
    assert "nothing long" in text
    assert "of elm" in text
    assert "oak" in text


def test_a_body_without_members_is_refused():
    with pytest.raises(ShapeError, match="at least one"):
        build_solid("frame", [], [OAK])
