"""A whole plan built at once: what is drawn, what it weighs, and every fault of it."""

import numpy as np
import pytest
import trimesh

from towerlift import shapes as shapes_package
from towerlift.errors import ShapeError
from towerlift.plan.model import Plan
from towerlift.shapes import build_shapes

ROOM = {"west": "-3 m", "east": "3 m", "south": "-3 m", "north": "3 m"}


def _member(mark, start, end, species="oak"):
    return {
        "mark": mark,
        "part": "leg",
        "species": species,
        "breadth": "0.2 m",
        "depth": "0.2 m",
        "start": [f"{v} m" for v in start],
        "end": [f"{v} m" for v in end],
    }


def _section(name="spire", **more):
    section = {
        "name": name,
        "length": "5 m",
        "lift_points": [],
        "swelling": "2 mm",
        "fabrication": "3 mm",
        "members": [
            _member("leg W", (-1, 0, 0), (-1, 0, 5)),
            _member("leg E", (1, 0, 0), (1, 0, 5)),
        ],
    }
    return {k: v for k, v in (section | more).items() if v is not None}


def _plan(sections=None, fit_out=(), fixtures=(), shaft=None):
    return Plan.model_validate(
        {
            "version": 1,
            "name": "Watch of Quillhaven",
            "site": {
                "place": "Quillhaven",
                "latitude": "47 deg",
                "longitude": "-30 deg",
                "height": "10 m",
                "time_zone": "UTC-02:00",
                "day_1": "2027-04-05",
            },
            "people": [],
            "species": [{"name": "oak", "density": "760 kg/m^3", "source": "weighed"}],
            "shaft": shaft
            or {
                "survey": [{"z": "0 m", **ROOM}, {"z": "20 m", **ROOM}],
                "uncertainty": "5 mm",
                "wall_head": "20 m",
            },
            "plumb_line": {"x": "0 m", "y": "0 m"},
            "sections": [_section()] if sections is None else sections,
            "fit_out": list(fit_out),
            "fixtures": list(fixtures),
            "stages": [{"name": "S1", "title": "Begin", "in_charge": "A. Weigher"}],
        }
    )


LEGS = 2 * 760 * 0.2 * 0.2 * 5
SHELL = {
    "foot": "0 m",
    "head": "3 m",
    "half_foot": "1 m",
    "half_head": "0 m",
    "thickness": "20 mm",
    "surface_density": "25 kg/m^2",
}
IRON = {"mark": "iron", "mass": "96 kg", "centre": ["0 m", "0 m", "1 m"]}


def test_the_names_that_others_may_use():
    assert set(shapes_package.__all__) == {
        "REACH_COLUMNS",
        "MassProperties",
        "Piece",
        "Shapes",
        "Solid",
        "build_shaft",
        "build_shapes",
        "build_solid",
        "combine",
        "enclosed_volume",
        "half_widths",
        "join_solids",
        "mass_of",
        "mesh_mass",
        "read_scan",
        "read_solid",
    }
    assert all(hasattr(shapes_package, name) for name in shapes_package.__all__)


def test_a_section_of_members_and_masses(tmp_path):
    piece = build_shapes(_plan([_section(masses=[IRON])]), tmp_path).sections["spire"]
    assert piece.solid is not None
    assert piece.solid.marks == ("leg W", "leg E")
    assert len(piece.solid.faces) == 24
    assert piece.mass.mass == pytest.approx(LEGS + 96)
    assert piece.mass.centre[2] == pytest.approx((LEGS * 2.5 + 96) / (LEGS + 96))
    assert piece.mass.tolerance == pytest.approx(0.08)


def test_a_weighed_section_and_its_fit_out(tmp_path):
    weighed = {"mass": "500 kg", "tolerance": "1 %", "by": "A. Weigher"}
    item = {"name": "boards", "kind": "boarding", "on": "spire", "shell": SHELL}
    shapes = build_shapes(
        _plan([_section(weighed=weighed, masses=[IRON])], fit_out=[item]), tmp_path
    )
    assert shapes.sections["spire"].mass.mass == 500
    assert shapes.sections["spire"].mass.tolerance == pytest.approx(0.01)
    # The scale was read without the boards: they keep the tolerance of drawings.
    assert shapes.fit_out["boards"].mass.tolerance == pytest.approx(0.08)
    assert shapes.fit_out["boards"].mass.mass == pytest.approx(25 * 4 * np.sqrt(10))
    assert shapes.fitted_on == {"boards": "spire"}


def test_an_item_of_members_shell_and_masses(tmp_path):
    item = {
        "name": "roof",
        "kind": "cladding",
        "on": "spire",
        "shell": SHELL,
        "members": [_member("batten", (0, 0, 0), (1, 0, 0))],
        "masses": [IRON],
    }
    piece = build_shapes(_plan(fit_out=[item]), tmp_path).fit_out["roof"]
    assert piece.solid is not None
    assert piece.solid.marks == ("batten", "north", "east", "south", "west")
    assert piece.solid.parts == ("leg", *("cladding",) * 4)
    assert piece.solid.closed
    assert piece.mass.mass == pytest.approx(760 * 0.04 + 25 * 4 * np.sqrt(10) + 96)
    used = np.unique(piece.solid.faces[piece.solid.members == 0])
    np.testing.assert_array_equal(used, np.arange(8))


def test_an_item_that_is_only_a_mass_has_no_solid(tmp_path):
    item = {"name": "bells", "kind": "bells", "on": "spire", "masses": [IRON]}
    piece = build_shapes(_plan(fit_out=[item]), tmp_path).fit_out["bells"]
    assert piece.solid is None
    assert piece.mass.mass == 96


def test_fixtures_are_in_the_shaft_frame(tmp_path):
    needle = {
        "name": "needle 1",
        "kind": "needle",
        "members": [_member("beam", (-3, 1, 9), (3, 1, 9))],
    }
    solid = build_shapes(_plan(fixtures=[needle]), tmp_path).fixtures["needle 1"]
    np.testing.assert_allclose(solid.vertices.mean(axis=0), [0, 1, 9])


def _mesh_section(folder, **more):
    trimesh.creation.box(bounds=([-500, -500, 0], [500, 500, 2000])).export(folder / "s.stl")
    return _section(members=None, mesh={"file": "s.stl", "unit": "mm"}, **more)


def test_a_section_from_a_mesh_with_a_density(tmp_path):
    section = _mesh_section(tmp_path, density="300 kg/m^3", masses=[IRON])
    mass = build_shapes(_plan([section]), tmp_path).sections["spire"].mass
    assert mass.mass == pytest.approx(600 + 96)
    assert mass.centre[2] == pytest.approx(1.0)


@pytest.mark.parametrize("density", [None, "300 kg/m^3"])
def test_a_section_from_a_mesh_that_was_weighed(tmp_path, density):
    weighed = {"mass": "796 kg", "tolerance": "2 %", "by": "A. Weigher"}
    iron = IRON | {"centre": ["0 m", "0 m", "0 m"]}
    section = _mesh_section(tmp_path, weighed=weighed, masses=[iron], density=density)
    mass = build_shapes(_plan([section]), tmp_path).sections["spire"].mass
    assert mass.mass == pytest.approx(796)
    # Without a density the mesh weighs what the iron leaves; with one, both are scaled.
    drawn = 700 if density is None else 796 * 600 / 696
    assert mass.centre[2] == pytest.approx(drawn / 796)


@pytest.mark.parametrize(
    ("section", "words"),
    [
        pytest.param({"members": None}, "got neither", id="no-members-no-mesh"),
        pytest.param({"mesh": {"file": "s.stl", "unit": "mm"}}, "got both", id="both"),
        pytest.param(
            {"members": None, "mesh": {"file": "s.stl", "unit": "mm"}},
            "density or a weighed mass",
            id="mesh-without-mass",
        ),
        pytest.param(
            {
                "members": None,
                "mesh": {"file": "s.stl", "unit": "mm"},
                "weighed": {"mass": "96 kg", "tolerance": "2 %", "by": "A. Weigher"},
                "masses": [IRON],
            },
            "leaves 0 kg",
            id="nothing-left-for-the-mesh",
        ),
    ],
)
def test_sections_that_cannot_be_built_are_refused(tmp_path, section, words):
    _mesh_section(tmp_path)
    with pytest.raises(ShapeError, match=words):
        build_shapes(_plan([_section(**section)]), tmp_path)


def test_every_fault_of_every_body_is_listed_at_once(tmp_path):
    plan = _plan(
        [
            _section("base", members=[_member("leg", (0, 0, 0), (0, 0, 0))]),
            _section("spire", members=None, mesh={"file": "gone.stl", "unit": "m"}),
        ],
        fit_out=[
            {"name": "boards", "kind": "boarding", "on": "belfry", "shell": SHELL},
            {"name": "bells", "kind": "bells", "on": "spire"},
        ],
        fixtures=[{"name": "needle", "kind": "needle", "members": []}],
        shaft={"survey": [], "uncertainty": "5 mm", "wall_head": "20 m"},
    )
    with pytest.raises(ShapeError) as refused:
        build_shapes(plan, tmp_path)
    subjects = [problem.split(":")[0] for problem in refused.value.problems]
    assert subjects == ["shaft", "base", "spire", "boards", "bells", "needle"]
