"""The animated file, read by a reader of our own and by trimesh, and sampled in time."""

import io
import json
import struct

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation, Slerp

from tests.unit.what_if.made import tiny_outcome
from tests.views import made
from towerlift.scene import build_scene
from towerlift.scene.colours import OAK
from towerlift.scene.gltf import raise_gltf, write_gltf
from towerlift.scene.reel import reel_of, stretches

SHAPES = {"SCALAR": 1, "VEC3": 3, "VEC4": 4}
KINDS = {5126: "<f4", 5125: "<u4"}
LENGTH = 30.0


class Read:
    """A binary glTF file, checked as it is read."""

    def __init__(self, glb):
        magic, version, length = struct.unpack("<4sII", glb[:12])
        assert (magic, version, length) == (b"glTF", 2, len(glb))
        size, kind = struct.unpack("<I4s", glb[12:20])
        assert kind == b"JSON"
        assert size % 4 == 0
        self.head = json.loads(glb[20 : 20 + size])
        self.size, kind = struct.unpack("<I4s", glb[20 + size : 28 + size])
        assert kind == b"BIN\0"
        self.data = glb[28 + size :]
        assert len(self.data) == self.size == self.head["buffers"][0]["byteLength"]
        self.nodes = self.head["nodes"]
        self.names = {node["name"]: n for n, node in enumerate(self.nodes)}
        self.parents = {
            child: n for n, node in enumerate(self.nodes) for child in node.get("children", ())
        }
        (animation,) = self.head["animations"]
        self.channels = {
            (each["target"]["node"], each["target"]["path"]): animation["samplers"][
                each["sampler"]
            ]
            for each in animation["channels"]
        }
        assert len(self.channels) == len(animation["channels"])

    def array(self, number):
        accessor = self.head["accessors"][number]
        view = self.head["bufferViews"][accessor["bufferView"]]
        n = SHAPES[accessor["type"]]
        assert view["byteOffset"] % 4 == 0
        assert view["byteOffset"] + view["byteLength"] <= self.size
        values = np.frombuffer(
            self.data,
            KINDS[accessor["componentType"]],
            accessor["count"] * n,
            view["byteOffset"],
        ).reshape(-1, n)
        assert values.min(axis=0).tolist() == accessor["min"]
        assert values.max(axis=0).tolist() == accessor["max"]
        return values

    def at(self, node, path, time):
        """What a channel holds at a moment; the node's own value where there is none."""
        rest = {"translation": [0, 0, 0], "rotation": [0, 0, 0, 1], "scale": [1, 1, 1]}
        sampler = self.channels.get((node, path))
        if sampler is None:
            return np.array(self.nodes[node].get(path, rest[path]), float)
        times = self.array(sampler["input"])[:, 0].astype(float)
        values = self.array(sampler["output"]).astype(float)
        assert (np.diff(times) > 0).all()
        if sampler["interpolation"] == "STEP":
            return values[max(0, np.searchsorted(times, time, "right") - 1)]
        assert sampler["interpolation"] == "LINEAR"
        held = min(max(time, times[0]), times[-1])
        if path == "rotation":
            return Slerp(times, Rotation.from_quat(values))(held).as_quat()
        return np.array([np.interp(held, times, column) for column in values.T])

    def matrix(self, node, time):
        """World from node at a moment."""
        pose = np.eye(4)
        pose[:3, :3] = Rotation.from_quat(self.at(node, "rotation", time)).as_matrix()
        pose[:3, :3] *= self.at(node, "scale", time)
        pose[:3, 3] = self.at(node, "translation", time)
        return self.matrix(self.parents[node], time) @ pose if node in self.parents else pose


def y_up(points):
    """Shaft frame as the format has it: x east, y up, z south."""
    return np.column_stack([points[:, 0], points[:, 2], -points[:, 1]])


@pytest.fixture(scope="module", params=["made", "tiny"])
def both(request):
    outcome = made.made_outcome() if request.param == "made" else tiny_outcome()
    scene = build_scene(outcome)
    return outcome, scene, Read(raise_gltf(scene, length=LENGTH))


def test_every_section_is_where_the_raise_has_it_at_any_moment(both):
    outcome, scene, read = both
    n_seen = 0
    for passage, begins, ends in stretches(reel_of(outcome.raise_, LENGTH)):
        for share in (0.05, 0.5, 0.93):
            time = begins + (ends - begins) * share
            for name in scene.lengths:
                node = read.names[f"section {name}"]
                pose = read.matrix(node, time)
                if name not in passage.standing:
                    assert np.abs(pose[:3, :3]).max() == 0
                    continue
                n_seen += 1
                corners = np.array([[1, 0, 0], [0, 2, 0], [0.5, -1, 7]], float)
                true = outcome.raise_.shaft_from_section(passage.heel(name, share))
                expected = y_up(corners @ true[:3, :3].T + true[:3, 3])
                found = corners @ pose[:3, :3].T + pose[:3, 3]
                assert found == pytest.approx(expected, abs=2e-4)
    assert n_seen > 10


def test_what_comes_and_goes_is_there_when_the_raise_has_it(both):
    outcome, scene, read = both
    for passage, begins, ends in stretches(reel_of(outcome.raise_, LENGTH)):
        time = (begins + ends) / 2
        for body in scene.bodies:
            shown = np.abs(read.matrix(read.names[body.name], time)[:3, :3]).max() > 0
            assert shown == body.is_seen(passage), (body.name, passage.index)
        for rope in scene.ropes:
            node = read.names.get(f"rope {rope.name}")
            if node is not None:
                shown = np.abs(read.matrix(node, time)[:3, :3]).max() > 0
                assert shown == (passage.lift == rope.lift)


def test_ropes_run_from_block_to_lift_point_at_any_moment():
    outcome = tiny_outcome()
    scene = build_scene(outcome)
    read = Read(raise_gltf(scene, length=LENGTH))
    n_tried = 0
    for passage, begins, ends in stretches(reel_of(outcome.raise_, LENGTH)):
        for rope in scene.ropes:
            if not passage.moving or rope.lift != passage.lift:
                continue
            poses = {
                name: outcome.raise_.shaft_from_section(passage.heel(name, 0.37))
                for name in passage.standing
            }
            corners = rope.points(poses)
            assert corners is not None
            bar = read.matrix(read.names[f"{rope.name} 1"], begins + 0.37 * (ends - begins))
            # The bar reaches from nothing to one along its own z.
            ends_of_bar = np.array([[0, 0, 0, 1], [0, 0, 1, 1]]) @ bar.T
            assert ends_of_bar[:, :3] == pytest.approx(y_up(corners[:2]), abs=5e-3)
            n_tried += 1
    assert n_tried >= 8


def test_capstans_turn_as_far_as_the_rope_runs_over_them():
    outcome = tiny_outcome()
    scene = build_scene(outcome)
    read = Read(raise_gltf(scene, length=LENGTH))
    passage, begins, ends = max(
        stretches(reel_of(outcome.raise_, LENGTH)), key=lambda each: abs(each[0].travel)
    )
    winder = next(each for each in scene.winders if passage.lift in each.turns)
    for share in np.linspace(0.01, 0.99, 23):
        pose = read.matrix(read.names[winder.name], begins + share * (ends - begins))
        true = winder.pose(passage, share)
        bar = np.array([[0, 0, 0], [1.5, 0, 0.5]]) @ true[:3, :3].T + true[:3, 3]
        found = np.array([[0, 0, 0, 1], [1.5, 0, 0.5, 1]]) @ pose.T
        assert found[:, :3] == pytest.approx(y_up(bar), abs=0.02)


def test_trimesh_reads_what_was_drawn(both):
    _, scene, read = both
    glb = raise_gltf(scene, length=LENGTH)
    loaded = trimesh.load(io.BytesIO(glb), file_type="glb")
    assert isinstance(loaded, trimesh.Scene)
    drawn = sum(len(body.faces) for body in scene.bodies)
    drawn += sum(len(gear.model.faces) for gear in scene.gear if gear.part != "wall")
    meshes = [
        node["mesh"]
        for node in read.nodes
        if "mesh" in node and not node["name"].startswith("fall") and node["mesh"] is not None
    ]
    by_mesh = [
        sum(read.head["accessors"][p["indices"]]["count"] // 3 for p in mesh["primitives"])
        for mesh in read.head["meshes"]
    ]
    ropes = {n for n, mesh in enumerate(read.head["meshes"]) if mesh["name"] == "rope"}
    assert sum(by_mesh[m] for m in meshes if m not in ropes) == drawn
    assert len(loaded.geometry) >= len(scene.bodies)


def test_colours_are_what_a_screen_shows(both):
    _, _, read = both
    shown = []
    for material in read.head["materials"]:
        light = np.array(material["pbrMetallicRoughness"]["baseColorFactor"][:3])
        # Back by the other branch of the transfer function.
        screen = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
        shown.append(tuple(np.round(255 * screen).astype(int).tolist()))
    assert OAK in shown


def test_walls_are_seen_from_inside_only(both):
    _, scene, read = both
    shaft = read.nodes[read.names[scene.bodies[0].name]]
    for primitive in read.head["meshes"][shaft["mesh"]]["primitives"]:
        assert read.head["materials"][primitive["material"]]["doubleSided"] is False


def test_numbers_are_put_in_once_and_every_name_is_one(both):
    _, scene, read = both
    views = [(v["byteOffset"], v["byteLength"]) for v in read.head["bufferViews"]]
    assert len(set(views)) == len(views)
    assert {body.name for body in scene.bodies} <= set(read.names)
    (root,) = read.head["scenes"][0]["nodes"]
    assert set(read.parents) | {root} == set(range(len(read.nodes)))


def test_the_file_is_written_and_its_ending_asked_for(tmp_path):
    scene = build_scene(made.made_outcome())
    path = write_gltf(scene, tmp_path / "raise.glb", length=5.0)
    read = Read(path.read_bytes())
    assert max(
        read.head["accessors"][sampler["input"]]["max"][0] for sampler in read.channels.values()
    ) == pytest.approx(5.0)
    with pytest.raises(ValueError, match="glb"):
        write_gltf(scene, tmp_path / "raise.gltf")
    for length in (0.0, float("nan"), -1.0):
        with pytest.raises(ValueError, match="length"):
            raise_gltf(scene, length=length)
