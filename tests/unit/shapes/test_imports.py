"""Meshes from files: read as they are, or refused with the place of every fault."""

import json
import struct

import numpy as np
import pytest
import trimesh

from towerlift.errors import ShapeError
from towerlift.plan.bodies import MeshFile
from towerlift.shapes import enclosed_volume, read_scan, read_solid
from towerlift.shapes.faults import LISTED

FORMATS = ["stl", "obj", "ply", "glb", "3mf"]


def _box(size=(1.0, 2.0, 3.0), shift=(0.0, 0.0, 1.5)):
    box = trimesh.creation.box(size)
    box.apply_translation(shift)
    return box


def _write(folder, mesh, name="part.stl", **mesh_file):
    mesh.export(folder / name)
    return MeshFile(file=name, **{"unit": "mm", **mesh_file})


def _refusal(folder, mesh_file, read=read_solid):
    with pytest.raises(ShapeError) as refused:
        read("spire", mesh_file, folder)
    assert mesh_file.file in str(refused.value)
    return refused.value.problems


@pytest.mark.parametrize("kind", FORMATS)
def test_every_format_gives_the_same_solid(tmp_path, kind):
    solid = read_solid("spire", _write(tmp_path, _box(), f"part.{kind}"), tmp_path)
    assert solid.closed
    assert solid.name == "spire"
    assert len(solid.vertices) == 8
    assert len(solid.faces) == 12
    enclosed = enclosed_volume(solid.vertices, solid.faces)
    assert enclosed.volume == pytest.approx(6e-9)
    np.testing.assert_allclose(enclosed.centre, [0, 0, 1.5e-3], atol=1e-12)
    assert set(solid.members) == {0}
    assert solid.marks == (f"part.{kind}",)
    assert solid.parts == ("mesh",)


@pytest.mark.parametrize(
    ("unit", "size"), [("m", 1.0), ("mm", 1e-3), ("cm", 1e-2), ("ft", 0.3048), ("in", 0.0254)]
)
def test_the_unit_is_the_one_the_plan_says(tmp_path, unit, size):
    solid = read_solid("spire", _write(tmp_path, _box(), unit=unit), tmp_path)
    np.testing.assert_allclose(np.ptp(solid.vertices, axis=0), np.array([1, 2, 3]) * size)


def test_up_along_y_is_turned_upright_without_mirroring(tmp_path):
    # In the file: x 1, y (up) from 0 to 2, z (towards the viewer) from 0 to 3.
    box = trimesh.creation.box(bounds=([0, 0, 0], [1, 2, 3]))
    solid = read_solid("spire", _write(tmp_path, box, unit="m", up="y"), tmp_path)
    np.testing.assert_allclose(solid.vertices.min(axis=0), [0, -3, 0], atol=1e-12)
    np.testing.assert_allclose(solid.vertices.max(axis=0), [1, 0, 2], atol=1e-12)
    assert enclosed_volume(solid.vertices, solid.faces).volume == pytest.approx(6.0)


@pytest.mark.parametrize("kind", ["glb", "3mf"])
def test_bodies_of_a_scene_keep_their_names_and_places(tmp_path, kind):
    scene = trimesh.Scene()
    for name, x in (("leg A", 0.0), ("leg B", 1.0)):
        move = trimesh.transformations.translation_matrix((x, 0, 0))
        scene.add_geometry(_box(), node_name=name, geom_name="leg", transform=move)
    solid = read_solid("spire", _write(tmp_path, scene, f"legs.{kind}"), tmp_path)
    assert set(solid.marks) == {"leg A", "leg B"}
    middle = {
        mark: enclosed_volume(solid.vertices, solid.faces[solid.members == i]).centre[0]
        for i, mark in enumerate(solid.marks)
    }
    assert middle == pytest.approx({"leg A": 0.0, "leg B": 1e-3})


CUBE_OF_TWO_COLOURS = """
v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 0 0 1\nv 1 0 1\nv 1 1 1\nv 0 1 1
usemtl oak\nf 4 3 2 1\nf 5 6 7 8\nf 1 2 6 5
usemtl iron\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8
"""


def test_a_body_of_two_colours_is_one_body_in_obj(tmp_path):
    (tmp_path / "part.obj").write_text(CUBE_OF_TWO_COLOURS)
    solid = read_solid("spire", MeshFile(file="part.obj", unit="m"), tmp_path)
    assert solid.marks == ("part.obj",)
    assert enclosed_volume(solid.vertices, solid.faces).volume == pytest.approx(1.0)


def _two_coloured_glb():
    """A box whose two parts are primitives of one mesh, as a colour apiece makes them."""
    box = _box()
    parts = [box.submesh([rows], append=True) for rows in (range(4), range(4, 12))]
    whole = trimesh.Scene(parts).export(file_type="glb")
    (length,) = struct.unpack("<I", whole[12:16])
    head, rest = json.loads(whole[20 : 20 + length]), whole[20 + length :]
    primitives = [mesh["primitives"][0] for mesh in head["meshes"]]
    head["meshes"] = [{"name": "leg", "primitives": primitives}]
    head["nodes"] = [{"name": "world", "children": [1]}, {"name": "leg", "mesh": 0}]
    head["scenes"] = [{"nodes": [0]}]
    text = json.dumps(head).encode()
    text += b" " * (-len(text) % 4)
    size = 12 + 8 + len(text) + len(rest)
    return (
        struct.pack("<4sII", b"glTF", 2, size)
        + struct.pack("<I4s", len(text), b"JSON")
        + text
        + rest
    )


def test_a_body_of_two_colours_is_one_body_in_glb(tmp_path):
    (tmp_path / "part.glb").write_bytes(_two_coloured_glb())
    solid = read_solid("spire", MeshFile(file="part.glb", unit="m"), tmp_path)
    assert solid.marks == ("part.glb",)
    assert enclosed_volume(solid.vertices, solid.faces).volume == pytest.approx(6.0)


def test_a_mirrored_placing_keeps_the_outside_outside(tmp_path):
    scene = trimesh.Scene()
    scene.add_geometry(_box(shift=(5, 0, 0)), transform=np.diag([-1.0, 1, 1, 1]))
    solid = read_solid("spire", _write(tmp_path, scene, "mirrored.glb", unit="m"), tmp_path)
    enclosed = enclosed_volume(solid.vertices, solid.faces)
    assert enclosed.volume == pytest.approx(6.0)
    assert enclosed.centre[0] == pytest.approx(-5.0)


def test_a_hole_is_placed_edge_by_edge(tmp_path):
    box = _box()
    gone = box.faces[3]
    edges = {
        tuple(np.round(box.vertices[[gone[i], gone[(i + 1) % 3]]].mean(axis=0), 6))
        for i in range(3)
    }
    box.update_faces(np.arange(12) != 3)
    problems = _refusal(tmp_path, _write(tmp_path, box))
    assert len(problems) == 3
    for x, y, z in edges:
        written = f"open edge: ({x:g}, {y:g}, {z:g}) mm in the file, ({x / 1e3:.4f}, "
        assert any(written in problem for problem in problems)


def test_the_place_in_the_file_is_in_its_own_axes(tmp_path):
    flap = trimesh.Trimesh([[0, 10, 0], [2, 10, 0], [0, 10, 4]], [[0, 1, 2]], process=False)
    problems = _refusal(tmp_path, _write(tmp_path, flap, up="y", unit="cm"))
    assert (
        "part.stl: open edge: (0, 10, 2) cm in the file, (0.0000, -0.0200, 0.1000) m here"
        in (problems)
    )


def test_a_long_list_of_faults_is_cut_and_counted(tmp_path):
    loose = np.arange(90).reshape(30, 3)
    rng = np.random.default_rng(5)
    vertices = rng.uniform(0, 1, (90, 3)) + 5 * np.repeat(np.arange(30), 3)[:, None]
    soup = trimesh.Trimesh(vertices, loose, process=False)
    problems = _refusal(tmp_path, _write(tmp_path, soup))
    assert len(problems) == LISTED + 1
    assert problems[-1] == "part.stl: open edge: 70 more, 90 in all"


def test_an_inverted_solid_is_refused(tmp_path):
    box = _box()
    box.invert()
    (problem,) = _refusal(tmp_path, _write(tmp_path, box))
    assert "inside out" in problem
    assert " mm in the file" in problem


def test_one_triangle_turned_over_is_placed_by_its_edges(tmp_path):
    box = _box()
    faces = box.faces.copy()
    faces[0] = faces[0][::-1]
    turned = trimesh.Trimesh(box.vertices, faces, process=False)
    problems = _refusal(tmp_path, _write(tmp_path, turned, "part.ply"))
    assert len(problems) == 3
    assert all("face opposite ways" in problem for problem in problems)


def test_bodies_that_cross_are_refused_where_they_cross(tmp_path):
    pair = trimesh.util.concatenate([_box(), _box(shift=(0.5, 0.3, 1.7))])
    problems = _refusal(tmp_path, _write(tmp_path, pair, unit="m"))
    assert all("pass through each other" in problem for problem in problems)
    # The top of the first is at 3: some of what crosses lies in it.
    assert any(", 3) m in the file" in problem for problem in problems)


def test_a_body_within_another_is_refused(tmp_path):
    nested = trimesh.util.concatenate([_box(), _box((0.2, 0.2, 0.2))])
    (problem,) = _refusal(tmp_path, _write(tmp_path, nested))
    assert "within another body" in problem


def test_a_room_within_a_solid_is_a_room(tmp_path):
    room = _box((0.5, 0.5, 0.5))
    room.invert()
    hollow = trimesh.util.concatenate([_box(), room])
    solid = read_solid("spire", _write(tmp_path, hollow, unit="m"), tmp_path)
    assert enclosed_volume(solid.vertices, solid.faces).volume == pytest.approx(6 - 0.125)


def test_bodies_that_touch_are_two_bodies(tmp_path):
    pair = trimesh.util.concatenate([_box(), _box(shift=(1.0, 0.5, 2.0))])
    solid = read_solid("spire", _write(tmp_path, pair, unit="m"), tmp_path)
    assert enclosed_volume(solid.vertices, solid.faces).volume == pytest.approx(12)


def test_an_inverted_body_that_touches_another_is_refused(tmp_path):
    second = _box(shift=(1.0, 0.5, 2.0))
    second.invert()
    pair = trimesh.util.concatenate([_box(), second])
    # Faced inward, it holds the other in what it says is solid.
    problems = _refusal(tmp_path, _write(tmp_path, pair, unit="m"))
    assert all("pass through each other" in problem for problem in problems)


@pytest.mark.parametrize("read", [read_solid, read_scan])
@pytest.mark.parametrize("value", ["nan", "inf"])
def test_a_corner_that_is_not_finite_is_refused(tmp_path, read, value):
    (tmp_path / "part.obj").write_text(f"v 0 0 0\nv 1 0 {value}\nv 0 1 0\nf 1 2 3\n")
    (problem,) = _refusal(tmp_path, MeshFile(file="part.obj", unit="m"), read)
    assert "not a finite number" in problem
    assert value in problem


def test_triangles_without_area_are_refused(tmp_path):
    (tmp_path / "part.obj").write_text("v 0 0 0\nv 1 0 0\nv 2 0 0\nv 0 0 5\nf 1 2 3\nf 1 1 4\n")
    problems = _refusal(tmp_path, MeshFile(file="part.obj", unit="m"))
    assert len(problems) == 2
    assert all("without area" in problem for problem in problems)
    assert "(1, 0, 0) m in the file" in problems[0]


EMPTY_STL = b"\0" * 80 + struct.pack("<I", 0)


@pytest.mark.parametrize("read", [read_solid, read_scan])
@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        pytest.param("part.stl", b"", "no triangles", id="no-bytes"),
        pytest.param("part.stl", EMPTY_STL, "no triangles", id="no-triangles"),
        pytest.param("part.obj", b"v 0 0 0\nv 1 0 0\n", "not made of triangles", id="points"),
        pytest.param(
            "part.obj", b"v 0 0 0\nf 1 2 9\n", "cannot be read as OBJ", id="no-corner"
        ),
        pytest.param("part.ply", b"hello", "cannot be read as PLY", id="not-ply"),
        pytest.param("part.glb", b"\xff\xfe", "cannot be read as GLB", id="not-glb"),
        pytest.param("part.3mf", b"PK", "cannot be read as 3MF", id="not-3mf"),
        pytest.param("part.dwg", b"", "is not read; give one of stl", id="other-form"),
        pytest.param("part", b"", "is not read; give one of stl", id="no-ending"),
    ],
)
def test_files_that_hold_no_mesh_are_refused(tmp_path, read, name, content, words):
    (tmp_path / name).write_bytes(content)
    (problem,) = _refusal(tmp_path, MeshFile(file=name, unit="m"), read)
    assert words in problem


@pytest.mark.parametrize("file", ["../part.stl", "/etc/part.stl", "a/../../part.stl"])
def test_a_path_outside_the_folder_is_refused(tmp_path, file):
    (problem,) = _refusal(tmp_path, MeshFile(file=file, unit="m"))
    assert "outside the plan's folder" in problem


def test_a_file_that_is_not_there_is_named(tmp_path):
    (problem,) = _refusal(tmp_path, MeshFile(file="gone.stl", unit="m"))
    assert "No such file" in problem


def test_a_unit_that_the_file_itself_contradicts_is_refused(tmp_path):
    # 3MF carries a unit; the exporter writes millimetres.
    (problem,) = _refusal(tmp_path, _write(tmp_path, _box(), "part.3mf", unit="m"))
    assert 'says its unit is "millimeter", the plan says "m"' in problem


def test_a_scan_may_be_open_and_of_several_bodies_that_cross(tmp_path):
    first, second = _box(), _box(shift=(0.5, 0.3, 1.7))
    first.update_faces(np.arange(12) != 3)
    pair = trimesh.util.concatenate([first, second])
    scan = read_scan("shaft", _write(tmp_path, pair, unit="m"), tmp_path)
    assert len(scan.faces) == 23
    assert not scan.closed
    assert scan.parts == ("wall",)


def test_corners_that_are_merely_near_are_left_apart(tmp_path):
    (tmp_path / "part.obj").write_text(
        "v 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1e-12\nv -0 0 0\nf 1 2 3\nf 4 3 2\nf 5 3 2\n"
    )
    scan = read_scan("shaft", MeshFile(file="part.obj", unit="m"), tmp_path)
    assert len(scan.vertices) == 4


def test_faces_of_four_and_five_corners_lose_nothing(tmp_path):
    (tmp_path / "part.obj").write_text(
        "v 0 0 0\nv 2 0 0\nv 3 1 0\nv 1 2 0\nv -1 1 0\nv 0 0 3\nv 2 0 3\n"
        "f 1 2 3 4 5\nf 2 1 6 7\n"
    )
    scan = read_scan("shaft", MeshFile(file="part.obj", unit="m"), tmp_path)
    corners = scan.vertices[scan.faces]
    doubled = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    # A pentagon of 5 (a trapezoid of 3 and a triangle of 2) and a rectangle of 6.
    assert np.linalg.norm(doubled, axis=1).sum() / 2 == pytest.approx(5 + 6)


@pytest.mark.parametrize("kind", ["stl", "ply", "glb", "3mf"])
@pytest.mark.parametrize("read", [read_solid, read_scan])
def test_a_file_that_was_cut_short_is_refused(tmp_path, kind, read):
    mesh_file = _write(tmp_path, trimesh.creation.icosphere(2), f"part.{kind}")
    path = tmp_path / mesh_file.file
    path.write_bytes(path.read_bytes()[: path.stat().st_size * 3 // 4])
    (problem,) = _refusal(tmp_path, mesh_file, read)
    assert "no triangles" in problem or "cannot be read" in problem
