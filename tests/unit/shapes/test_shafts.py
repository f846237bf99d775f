"""The shaft joined from its survey: linear between stations, and nothing else."""

import numpy as np
import pytest

from towerlift.errors import ShapeError
from towerlift.plan.bodies import Ledge, MeshFile, Shaft, Station
from towerlift.shapes import build_shaft

ROWS = [
    (0.0, -3.0, 3.1, -3.2, 3.3),
    (17.8, -2.9, 3.2, -3.1, 3.2),
    (17.9, -2.9, 3.2, -3.1, 3.0),
    (18.5, -2.9, 3.2, -3.1, 3.0),
    (18.6, -2.9, 3.2, -3.1, 3.2),
    (28.0, -2.8, 3.3, -3.0, 3.1),
]


def _shaft(rows=ROWS, ledges=(), mesh=None):
    keys = ("z", "west", "east", "south", "north")
    survey = tuple(
        Station(**{key: f"{value} m" for key, value in zip(keys, row, strict=True)})
        for row in rows
    )
    return Shaft(survey=survey, ledges=ledges, mesh=mesh, uncertainty="5 mm", wall_head="28 m")


def _ledge(foot, head, face="north"):
    return Ledge(mark=f"{face} string course", face=face, foot=f"{foot} m", head=f"{head} m")


def _marked(solid, mark):
    return solid.vertices[solid.faces[solid.members == solid.marks.index(mark)]]


def test_the_corners_are_those_of_the_survey_and_no_others(tmp_path):
    solid = build_shaft(_shaft(), tmp_path)
    expected = {
        (x, y, z)
        for z, west, east, south, north in ROWS
        for x in (west, east)
        for y in (south, north)
    }
    assert {tuple(v) for v in solid.vertices} == expected
    assert not solid.closed
    assert solid.name == "shaft"


def test_each_face_is_two_triangles_between_stations(tmp_path):
    solid = build_shaft(_shaft(), tmp_path)
    assert len(solid.faces) == 4 * 2 * (len(ROWS) - 1)
    assert solid.marks[0] == "north wall z 0.00-17.80"
    assert "west wall z 18.60-28.00" in solid.marks
    assert set(solid.parts) == {"wall"}


@pytest.mark.parametrize(
    ("face", "axis", "sign"),
    [("north", 1, -1), ("east", 0, -1), ("south", 1, 1), ("west", 0, 1)],
)
def test_normals_point_into_the_room(tmp_path, face, axis, sign):
    solid = build_shaft(_shaft(), tmp_path)
    for mark in solid.marks:
        if mark.startswith(face):
            corners = _marked(solid, mark)
            normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
            assert (normals[:, axis] * sign > 0).all()


@pytest.mark.parametrize("z", [0.0, 5.0, 17.85, 18.2, 18.55, 27.9])
def test_faces_lie_on_the_line_between_stations(tmp_path, z):
    solid = build_shaft(_shaft(), tmp_path)
    table = np.array(ROWS)
    for face, column, axis in (
        ("west", 1, 0),
        ("east", 2, 0),
        ("south", 3, 1),
        ("north", 4, 1),
    ):
        expected = np.interp(z, table[:, 0], table[:, column])
        for mark in solid.marks:
            if not mark.startswith(face):
                continue
            corners = _marked(solid, mark)
            low, high = corners[..., 2].min(), corners[..., 2].max()
            if low <= z <= high:
                share = (z - low) / (high - low)
                at_low = corners[corners[..., 2] == low][0, axis]
                at_high = corners[corners[..., 2] == high][0, axis]
                assert at_low + share * (at_high - at_low) == pytest.approx(expected, abs=1e-12)


def test_a_ledge_has_its_own_mark(tmp_path):
    solid = build_shaft(_shaft(ledges=(_ledge(17.8, 18.6),)), tmp_path)
    ledge = _marked(solid, "ledge: north string course")
    assert len(ledge) == 6
    assert ledge[..., 2].min() == 17.8
    assert ledge[..., 2].max() == 18.6
    assert solid.parts[solid.marks.index("ledge: north string course")] == "ledge"
    assert "north wall z 17.90-18.50" not in solid.marks
    assert "east wall z 17.90-18.50" in solid.marks


def test_a_ledge_that_begins_between_stations_cuts_its_own_face_only(tmp_path):
    solid = build_shaft(_shaft(ledges=(_ledge(18.0, 18.55),)), tmp_path)
    ledge = _marked(solid, "ledge: north string course")
    assert ledge[..., 2].min() == 18.0
    assert ledge[..., 2].max() == 18.55
    assert ledge[..., 1][ledge[..., 2] == 18.55] == pytest.approx(3.1)
    assert "north wall z 17.90-18.00" in solid.marks
    assert "east wall z 17.90-18.50" in solid.marks


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        pytest.param([], "no survey and no mesh", id="nothing"),
        pytest.param(ROWS[:1], "one station only", id="one-station"),
        pytest.param([ROWS[1], ROWS[0]], "above the row before", id="falling"),
        pytest.param([ROWS[0], ROWS[0]], "above the row before", id="twice-the-same"),
        pytest.param([ROWS[0], (5, 3, -3, -3, 3)], "less than east", id="crossed-east-west"),
        pytest.param([ROWS[0], (5, -3, 3, 3, 3)], "less than north", id="no-room-north-south"),
    ],
)
def test_a_survey_that_cannot_be_joined_is_refused(tmp_path, rows, words):
    with pytest.raises(ShapeError, match=words):
        build_shaft(_shaft(rows), tmp_path)


@pytest.mark.parametrize(("foot", "head"), [(27.5, 28.5), (18.0, 18.0), (18.5, 18.0)])
def test_a_ledge_outside_the_survey_or_without_height_is_refused(tmp_path, foot, head):
    with pytest.raises(ShapeError, match="north string course"):
        build_shaft(_shaft(ledges=(_ledge(foot, head),)), tmp_path)


def test_every_fault_is_listed_with_that_of_the_mesh(tmp_path):
    mesh = MeshFile(file="missing.stl", unit="m")
    with pytest.raises(ShapeError) as refused:
        build_shaft(_shaft([ROWS[0], (5, 3, -3, 3, -3)], mesh=mesh), tmp_path)
    assert len(refused.value.problems) == 3


def test_survey_and_mesh_are_both_kept(tmp_path):
    (tmp_path / "scan.obj").write_text("v 0 3 1\nv 1 3 1\nv 0 3 2\nf 1 2 3\n")
    mesh = MeshFile(file="scan.obj", unit="m")
    both = build_shaft(_shaft(mesh=mesh, ledges=(_ledge(0.5, 2.0),)), tmp_path)
    survey = build_shaft(_shaft(ledges=(_ledge(0.5, 2.0),)), tmp_path)
    assert len(both.faces) == len(survey.faces) + 1
    np.testing.assert_array_equal(both.vertices[: len(survey.vertices)], survey.vertices)
    assert both.marks[both.members[-1]] == "ledge: north string course"
    assert both.parts[both.members[-1]] == "ledge"


@pytest.mark.parametrize("face", ["east", "south", "west"])
def test_a_scanned_triangle_carries_no_mark_of_a_ledge_on_another_face(tmp_path, face):
    (tmp_path / "scan.obj").write_text("v 0 3 1\nv 1 3 1\nv 0 3 2\nf 1 2 3\n")
    mesh = MeshFile(file="scan.obj", unit="m")
    scan = build_shaft(_shaft([], mesh=mesh, ledges=(_ledge(0.5, 2.5, face),)), tmp_path)
    assert scan.marks == ("scan.obj",)
    assert scan.parts == ("wall",)
