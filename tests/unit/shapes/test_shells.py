"""Boards and cladding on four faces: closed, mitred, and weighed by closed form."""

import numpy as np
import pytest
import trimesh

from towerlift.errors import ShapeError
from towerlift.plan.bodies import Shell
from towerlift.shapes.masses import enclosed_volume
from towerlift.shapes.shells import shell_mass, shell_solid


def _shell(half_foot, half_head, *, foot=3.0, head=13.0, thickness=0.03):
    return Shell(
        foot=f"{foot} m",
        head=f"{head} m",
        half_foot=f"{half_foot} m",
        half_head=f"{half_head} m",
        thickness=f"{thickness} m",
        surface_density="25 kg/m^2",
    )


TAPERS = [(1.75, 0.0), (1.75, 0.4), (1.0, 1.0), (0.5, 1.5)]


@pytest.mark.parametrize(("half_foot", "half_head"), TAPERS)
def test_each_slab_is_closed_and_faces_outward(half_foot, half_head):
    solid = shell_solid("boards", _shell(half_foot, half_head), "boarding")
    assert solid.marks == ("north", "east", "south", "west")
    assert solid.parts == ("boarding",) * 4
    for i in range(4):
        slab = trimesh.Trimesh(solid.vertices, solid.faces[solid.members == i], process=False)
        assert slab.is_watertight
        assert slab.is_winding_consistent
        assert slab.volume > 0


@pytest.mark.parametrize(("half_foot", "half_head"), TAPERS)
def test_the_slabs_fill_what_lies_between_the_two_pyramids_once(half_foot, half_head):
    # Closed form, derived here: frustum of the outside less frustum of the inside.
    def frustum(a, b, h):
        return 4 * h / 3 * (a * a + a * b + b * b)

    solid = shell_solid("boards", _shell(half_foot, half_head), "boarding")
    expected = frustum(half_foot + 0.03, half_head + 0.03, 10) - frustum(
        half_foot, half_head, 10
    )
    found = enclosed_volume(solid.vertices, solid.faces).volume
    assert found == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("mark", "axis", "sign"),
    [("north", 1, 1), ("east", 0, 1), ("south", 1, -1), ("west", 0, -1)],
)
def test_each_mark_is_on_its_face(mark, axis, sign):
    solid = shell_solid("boards", _shell(1.75, 0.4), "boarding")
    faces = solid.faces[solid.members == solid.marks.index(mark)]
    assert enclosed_volume(solid.vertices, faces).centre[axis] * sign > 0.9
    assert (sign * solid.vertices[np.unique(faces)][:, axis]).max() == pytest.approx(1.78)


@pytest.mark.parametrize(("half_foot", "half_head"), TAPERS)
def test_mass_is_that_of_four_thin_trapezoids(half_foot, half_head):
    # The same surface cut into thin slices, added up: nothing but areas and points.
    shell = _shell(half_foot, half_head)
    n = 4000
    u = (np.arange(n) + 0.5) / n
    half = half_foot + (half_head - half_foot) * u
    strip = 25 * 8 * half * np.hypot(10, half_head - half_foot) / n
    centre = (strip * (3 + 10 * u)).sum() / strip.sum()
    xx = (strip * 2 / 3 * half**2).sum()
    ss = (strip * (3 + 10 * u - centre) ** 2).sum()
    mass = shell_mass("boards", shell, 0.08)
    assert mass.mass == pytest.approx(strip.sum(), rel=1e-6)
    np.testing.assert_allclose(mass.centre, [0, 0, centre], rtol=1e-6)
    np.testing.assert_allclose(np.diag(mass.inertia), [xx + ss, xx + ss, 2 * xx], rtol=1e-5)
    assert mass.tolerance == 0.08


def test_a_pyramid_of_cladding():
    # Closed form, derived here: four triangles of base 2 and slope length sqrt(10).
    mass = shell_mass("roof", _shell(1.0, 0.0, foot=0.0, head=3.0), 0.08)
    assert mass.mass == pytest.approx(25 * 4 * np.sqrt(10))
    assert mass.centre[2] == pytest.approx(1.0)


@pytest.mark.parametrize("head", [3.0, 2.0])
def test_a_shell_without_height_is_refused(head):
    shell = _shell(1.0, 0.5, foot=3.0, head=head)
    with pytest.raises(ShapeError, match="above its foot"):
        shell_solid("boards", shell, "boarding")
    with pytest.raises(ShapeError, match="above its foot"):
        shell_mass("boards", shell, 0.08)
