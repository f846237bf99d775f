"""Mass, centre and inertia: closed forms derived here, weighing, and sets of bodies."""

import numpy as np
import pytest
import trimesh

from towerlift.plan.bodies import LumpedMass, Weighed
from towerlift.shapes import (
    MassProperties,
    Piece,
    Shapes,
    Solid,
    enclosed_volume,
    mass_of,
    mesh_mass,
)
from towerlift.shapes.masses import add_masses, apply_weighing, point_mass


def _frustum(n_sides, foot, head, height):
    """Frustum with its flats facing x and y; `foot` and `head` reach to its corners."""
    angle = 2 * np.pi * (np.arange(n_sides) + 0.5) / n_sides
    ring = np.c_[np.cos(angle), np.sin(angle)]
    vertices = np.vstack(
        [
            np.c_[foot * ring, np.zeros(n_sides)],
            np.c_[head * ring, np.full(n_sides, height)],
            [[0, 0, 0], [0, 0, height]],
        ]
    )
    faces = []
    for i in range(n_sides):
        j = (i + 1) % n_sides
        faces += [(i, j, n_sides + j), (i, n_sides + j, n_sides + i)]
        faces += [(j, i, 2 * n_sides), (n_sides + i, n_sides + j, 2 * n_sides + 1)]
    return vertices, np.array(faces)


def _square(side_foot, side_head, height=3.0):
    return _frustum(4, side_foot / np.sqrt(2), side_head / np.sqrt(2), height)


def _solid(mesh, name="body", *, closed=True):
    return Solid(
        name=name,
        vertices=np.array(mesh.vertices, dtype=float),
        faces=np.array(mesh.faces, dtype=np.int64),
        members=np.zeros(len(mesh.faces), dtype=np.int64),
        marks=("body",),
        parts=("body",),
        closed=closed,
    )


# Closed forms, derived here: round bodies as polygons of 4096 sides.
@pytest.mark.parametrize(
    ("surface", "volume", "up", "spin", "rtol"),
    [
        pytest.param(_frustum(4096, 1, 0, 3), np.pi, 0.75, 0.3, 1e-5, id="cone"),
        pytest.param(_square(2, 0), 4.0, 0.75, 0.4, 1e-12, id="square-pyramid"),
        pytest.param(_square(2, 1), 7.0, 33 / 28, 31 / 70, 1e-12, id="square-frustum"),
        pytest.param(
            _frustum(4096, 2, 1, 3), 7 * np.pi, 33 / 28, 93 / 70, 1e-5, id="round-frustum"
        ),
    ],
)
def test_closed_forms(surface, volume, up, spin, rtol):
    found = enclosed_volume(*surface)
    assert found.volume == pytest.approx(volume, rel=rtol)
    np.testing.assert_allclose(found.centre, [0, 0, up], rtol=rtol, atol=1e-9)
    assert found.inertia[2, 2] / found.volume == pytest.approx(spin, rel=rtol)


def test_tilting_inertia_of_a_square_pyramid():
    # Side 2, height 3, about the centre: 2^2 / 20 + 3 * 3^2 / 80 per mass.
    found = enclosed_volume(*_square(2, 0))
    assert found.inertia[0, 0] / found.volume == pytest.approx(0.2 + 27 / 80)


def test_hollow_square_frustum():
    # Closed form, derived here: 7 less 5.32 leaves 1.68.
    (outer, faces), (inner, _) = _square(2, 1), _square(1.8, 0.8)
    both = enclosed_volume(
        np.vstack([outer, inner]), np.vstack([faces, faces[:, ::-1] + len(outer)])
    )
    assert both.volume == pytest.approx(1.68)
    assert both.centre[2] == pytest.approx(
        (7 * 33 / 28 - 3 / 12 * 3 * (3.24 + 2.88 + 1.92)) / 1.68
    )


@pytest.mark.parametrize("far", [0.0, 1e4])
def test_against_an_independent_reckoning(far):
    knot = trimesh.creation.torus(2.0, 0.5, major_sections=24, minor_sections=10)
    knot.apply_transform(trimesh.transformations.euler_matrix(0.3, -0.8, 1.1))
    ours = mesh_mass(_solid(knot), 1.0, 0.0)
    assert ours.mass == pytest.approx(knot.volume, rel=1e-12)
    np.testing.assert_allclose(ours.inertia, knot.moment_inertia, atol=1e-9)
    knot.apply_translation([far, -far, 0])
    moved = mesh_mass(_solid(knot), 1.0, 0.0)
    np.testing.assert_allclose(moved.inertia, ours.inertia, rtol=1e-8, atol=1e-8)
    np.testing.assert_allclose(moved.centre, np.add(ours.centre, [far, -far, 0]), atol=1e-9)


def test_an_inward_or_open_surface_has_no_mass():
    box = trimesh.creation.box()
    with pytest.raises(ValueError, match="outward"):
        enclosed_volume(box.vertices, box.faces[:, ::-1])
    with pytest.raises(ValueError, match="open"):
        mesh_mass(_solid(box, closed=False), 500.0, 0.0)


@pytest.mark.parametrize("density", [0.0, -1.0, np.nan])
def test_a_density_that_is_not_above_zero_is_refused(density):
    with pytest.raises(ValueError, match="density"):
        mesh_mass(_solid(trimesh.creation.box()), density, 0.0)


def test_a_lumped_mass_has_no_inertia_of_its_own():
    lump = LumpedMass(mark="iron", mass="850 kg", centre=("1 m", "2 m", "3 m"))
    mass = point_mass(lump, 0.08)
    assert mass.mass == 850
    np.testing.assert_array_equal(mass.centre, [1, 2, 3])
    np.testing.assert_array_equal(mass.inertia, np.zeros((3, 3)))


def test_two_lumps_swing_about_their_common_centre():
    lumps = [
        LumpedMass(mark="a", mass="1 kg", centre=("0 m", "0 m", "0 m")),
        LumpedMass(mark="b", mass="3 kg", centre=("4 m", "0 m", "0 m")),
    ]
    both = add_masses([point_mass(lump, 0.1) for lump in lumps])
    np.testing.assert_allclose(both.centre, [3, 0, 0])
    np.testing.assert_allclose(both.inertia, np.diag([0.0, 12.0, 12.0]))
    assert both.tolerance == pytest.approx(0.1)


def test_a_scale_reading_replaces_the_mass_and_keeps_the_centre():
    computed = MassProperties(
        mass=1000.0, centre=np.array([0.1, 0.2, 3.0]), inertia=np.eye(3) * 50, tolerance=0.08
    )
    weighed = apply_weighing(computed, Weighed(mass="1.1 t", tolerance="1 %", by="A. Weigher"))
    assert weighed.mass == pytest.approx(1100)
    assert weighed.tolerance == pytest.approx(0.01)
    np.testing.assert_array_equal(weighed.centre, computed.centre)
    np.testing.assert_allclose(weighed.inertia, np.eye(3) * 55)


def _point(mass, s):
    return Piece(
        solid=None,
        mass=MassProperties(
            mass=mass, centre=np.array([0.0, 0.0, s]), inertia=np.zeros((3, 3)), tolerance=0.08
        ),
    )


SHAPES = Shapes(
    shaft=_solid(trimesh.creation.box()),
    unseen=(),
    sections={"base": _point(300.0, 6.0), "spire": _point(100.0, 4.0)},
    fit_out={"boards": _point(50.0, 5.0)},
    fixtures={},
    fitted_on={"boards": "spire"},
)


def test_a_set_of_sections_and_fit_out_where_each_hangs():
    origins = {"base": np.array([0.0, 0.0, 0.0]), "spire": np.array([0.0, 0.1, 10.0])}
    together = mass_of(SHAPES, ["base", "spire", "boards"], origins)
    assert together.mass == 450
    np.testing.assert_allclose(
        together.centre, [0, 15 / 450, (300 * 6 + 100 * 14 + 50 * 15) / 450]
    )


def test_an_item_may_lie_apart_from_its_section():
    origins = {"boards": np.array([9.0, 0.0, 0.0])}
    np.testing.assert_allclose(mass_of(SHAPES, ["boards"], origins).centre, [9, 0, 5])


def test_without_places_all_share_one_frame():
    assert mass_of(SHAPES, ["spire", "boards"]).centre[2] == pytest.approx(650 / 150)


@pytest.mark.parametrize(
    ("names", "origins", "words"),
    [
        pytest.param([], None, "nothing", id="no-names"),
        pytest.param(["base", "base"], None, "once", id="twice"),
        pytest.param(["belfry"], None, "belfry", id="unknown"),
        pytest.param(["base"], {"spire": np.zeros(3)}, "no place", id="no-place"),
    ],
)
def test_a_set_that_cannot_be_weighed_is_refused(names, origins, words):
    with pytest.raises(ValueError, match=words):
        mass_of(SHAPES, names, origins)
