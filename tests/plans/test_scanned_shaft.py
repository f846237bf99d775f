"""The plan to start from with a scan beside its survey: whole, with a hole, and broken."""

import numpy as np
import pytest

from tests.unit.nesting.scanned import room, write_obj
from towerlift.cli import main
from towerlift.plan import new_plan

# Where the base is nearest to the walls: its plumb line hangs 2 mm to the east.
BY_A_LEG = {("east", i, j) for i in (0, 1) for j in (8, 9)}


def scanned(folder, vertices, faces, *, unit="m"):
    """The plan to start from, its shaft surveyed and scanned."""
    path = new_plan(folder)
    text = path.read_text(encoding="utf-8")
    line = 'survey = "survey.csv"'
    assert line in text
    mesh = f'mesh = {{ file = "shaft.obj", unit = "{unit}" }}'
    path.write_text(text.replace(line, f"{line}\n{mesh}"), encoding="utf-8")
    write_obj(path.parent / "shaft.obj", vertices, faces)
    return str(path)


def test_a_gap_that_relies_on_a_hole_of_the_scan_is_not_evaluated(tmp_path, capsys):
    path = scanned(tmp_path / "mine", *room(2.0, 10.0, without=BY_A_LEG))
    assert main(["check", path]) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "0 fail, 4 not evaluated" in told
    hole = "hole 1 in the scan, east wall, z 4.00 to 5.00 m"
    assert f"clearance, stage S1: base: BSE (corner leg) against shaft: {hole}" in told
    assert f"the gap relies on what the scan did not see: {hole}, 1.00 by 1.00 m" in told
    assert f"not seen, stage S1: shaft: {hole}" in told
    assert "scan the place again, from where it is seen" in told


def turned_over(vertices, faces):
    faces[40] = faces[40, ::-1]
    return vertices, faces


def no_number(vertices, faces):
    vertices[40, 2] = np.nan
    return vertices, faces


def without_area(vertices, faces):
    faces[40, 1] = faces[40, 0]
    return vertices, faces


@pytest.mark.parametrize(
    ("broken", "unit", "told"),
    [
        pytest.param(turned_over, "m", "two triangles face opposite ways", id="turned over"),
        pytest.param(no_number, "m", "not a finite number", id="no number"),
        pytest.param(without_area, "m", "triangle without area", id="without area"),
        pytest.param(None, "mm", "in the middle of the room", id="m as mm"),
        pytest.param(None, "ft", "in the middle of the room", id="m as ft"),
    ],
)
def test_a_broken_scan_is_refused(tmp_path, capsys, broken, unit, told):
    mesh = room(2.0, 10.0)
    path = scanned(tmp_path / "mine", *(broken(*mesh) if broken else mesh), unit=unit)
    assert main(["check", path]) == 2
    assert told in capsys.readouterr().err
