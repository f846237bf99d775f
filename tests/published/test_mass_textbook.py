"""Centres of gravity against textbook answers.

Sources: Vector Mechanics for Engineers: Statics, problems 5.2, 5.3 and 5.130, and
Engineering Mechanics: Statics, problem 9-51, each as quoted by a second page; a
cylinder hollowed by a cone, printed as 5.0 cm. Answers are compared to half the last
digit printed.
"""

import numpy as np
import pytest

from towerlift.plan.bodies import LumpedMass, Member
from towerlift.shapes.masses import add_masses, enclosed_volume, point_mass
from towerlift.shapes.members import box_mass, place_members


def _lump(mass: float, x: float, y: float) -> LumpedMass:
    return LumpedMass(
        mark="area",
        mass=f"{mass} kg",
        centre=(f"{x} m", f"{y} m", "0 m"),
    )


def _prism(outline: list[tuple[float, float]]) -> tuple[np.ndarray, np.ndarray]:
    """A plate one thick on a convex outline, anticlockwise from above."""
    n = len(outline)
    flat = np.array(outline, dtype=float)
    vertices = np.vstack([np.c_[flat, np.zeros(n)], np.c_[flat, np.ones(n)]])
    faces = [(0, i + 1, i) for i in range(1, n - 1)]
    faces += [(n, n + i, n + i + 1) for i in range(1, n - 1)]
    for i in range(n):
        j = (i + 1) % n
        faces += [(i, j, n + j), (i, n + j, n + i)]
    return vertices, np.array(faces)


def _fan(n_sides: int, base: float, apex: float) -> tuple[np.ndarray, np.ndarray]:
    """A regular pyramid of base radius `base` and height `apex`, base at the bottom."""
    angle = 2 * np.pi * np.arange(n_sides) / n_sides
    ring = np.c_[base * np.cos(angle), base * np.sin(angle), np.zeros(n_sides)]
    vertices = np.vstack([ring, [[0, 0, 0], [0, 0, apex]]])
    foot, tip = n_sides, n_sides + 1
    faces = []
    for i in range(n_sides):
        j = (i + 1) % n_sides
        faces += [(i, j, tip), (j, i, foot)]
    return vertices, np.array(faces)


@pytest.mark.parametrize(
    ("areas", "x", "y", "half_digit"),
    [
        pytest.param(
            [(2250.0, 40.0, 25.0), (7875.0, 112.5, 37.5)], 96.4, 34.7, 0.05, id="problem-5.2"
        ),
        pytest.param([(120.0, 6.667, 0.0), (192.0, 15.333, 0.0)], 12.00, 0.0, 0.005, id="5.3"),
    ],
)
def test_composite_of_point_masses(areas, x, y, half_digit):
    together = add_masses([point_mass(_lump(*area), 0.0) for area in areas])
    assert together.centre[0] == pytest.approx(x, abs=half_digit)
    assert together.centre[1] == pytest.approx(y, abs=half_digit)


def test_composite_of_plates_by_their_triangles():
    # The areas and centres of problem 5.2 are those of a right triangle of 60 by 75
    # and a rectangle of 105 by 75 beside it.
    triangle, its_faces = _prism([(0, 0), (60, 0), (60, 75)])
    rectangle, other_faces = _prism([(60, 0), (165, 0), (165, 75), (60, 75)])
    assert enclosed_volume(triangle, its_faces).volume == pytest.approx(2250)
    assert enclosed_volume(rectangle, other_faces).volume == pytest.approx(7875)
    both = enclosed_volume(
        np.vstack([triangle, rectangle]), np.vstack([its_faces, other_faces + len(triangle)])
    )
    assert both.centre[0] == pytest.approx(96.4, abs=0.05)
    assert both.centre[1] == pytest.approx(34.7, abs=0.05)


@pytest.mark.parametrize("n_sides", [3, 4, 5, 6, 12, 100])
def test_pyramid_of_any_number_of_sides(n_sides):
    # Problem 5.130: the centroid of a regular pyramid lies a quarter of its height up.
    vertices, faces = _fan(n_sides, 2.0, 7.0)
    assert enclosed_volume(vertices, faces).centre[2] == pytest.approx(7.0 / 4, rel=1e-12)


def test_cylinder_hollowed_by_a_cone():
    # Radius 4 and height 8 cm; the cone stands on the same base.
    n = 4096
    cone, cone_faces = _fan(n, 4.0, 8.0)
    angle = 2 * np.pi * np.arange(n) / n
    cylinder, cylinder_faces = _prism(
        list(zip(4 * np.cos(angle), 4 * np.sin(angle), strict=True))
    )
    cylinder[:, 2] *= 8.0
    hollow = enclosed_volume(
        np.vstack([cylinder, cone]),
        np.vstack([cylinder_faces, cone_faces[:, ::-1] + len(cylinder)]),
    )
    assert hollow.centre[2] == pytest.approx(5.0, abs=0.05)


def test_truss_of_five_equal_members():
    # Problem 9-51: middles at 1 to 5 m along; it hangs level from d = 3 m.
    members = [
        Member(
            mark=f"bar {i}",
            part="bar",
            species="any",
            breadth="0.1 m",
            depth="0.1 m",
            start=(f"{i - 1} m", "0 m", "0 m"),
            end=(f"{i + 1} m", "0 m", f"{2 * (-1) ** i} m"),
        )
        for i in range(1, 6)
    ]
    mass = box_mass(place_members("truss", members, {"any": 500.0}), 0.0)
    assert mass.centre[0] == pytest.approx(3, abs=0.5e-9)
