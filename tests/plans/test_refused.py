"""Plans that read well and are still wrong: each is told what, where and by how much."""

from pathlib import Path

import numpy as np
import pytest
import trimesh

from tests.plans.factory import section, tiny_plan
from towerlift.cli import main
from towerlift.errors import ShapeError
from towerlift.plan import new_plan
from towerlift.workflow import check_plan


def starter_with(folder: Path, old: str, new: str) -> Path:
    """The plan to start from, with every `old` in it made `new`."""
    path = new_plan(folder)
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    return path


def test_two_bodies_in_one_place_at_rest_fail(tmp_path, capsys):
    # The deck is raised from under the base's needles to the height of its first girts.
    path = starter_with(tmp_path / "deck", '"4.12 m"', '"4.80 m"')
    assert main(["check", str(path)]) == 1
    told = capsys.readouterr().out
    assert "clearance at rest, stage S1: base beside deck" in told
    assert "move one of them" in told


def test_a_needle_drawn_into_what_it_carries_fails(tmp_path, capsys):
    path = starter_with(tmp_path / "needle", '"4.35 m"', '"4.40 m"')
    assert main(["check", str(path)]) == 1
    told = capsys.readouterr().out
    assert "base on needles, heel on needle" in told
    assert "50 mm" in told


def test_an_open_section_mesh_is_refused_with_the_place_of_the_hole(tmp_path):
    box = trimesh.creation.box(extents=(1.0, 1.0, 4.0))
    box.apply_translation((0.0, 0.0, 2.0))
    box.update_faces(np.arange(len(box.faces)) > 0)
    box.export(tmp_path / "open.stl")
    bodies = [
        section("base", 2.8, 13.0, nest_height="0.34 m"),
        section("belfry", 2.25, 12.5, nest_height="6.8 m"),
        section(
            "spire",
            1.75,
            13.5,
            members=[],
            mesh={"file": "open.stl", "unit": "m"},
            density="500 kg/m^3",
        ),
    ]
    with pytest.raises(ShapeError) as refused:
        check_plan(tiny_plan(sections=bodies), tmp_path)
    told = str(refused.value)
    assert "spire" in told
    assert "open.stl" in told
    assert " m" in told
    assert refused.value.problems
