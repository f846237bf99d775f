"""Files that stay beside a plan count by their bytes, wherever the plan's folder lies."""

import hashlib
import shutil

import pytest
import trimesh

from tests.plans.factory import section, tiny_plan
from towerlift import workflow
from towerlift.documents.comparing import compare
from towerlift.documents.edition import Edition, content_hash
from towerlift.errors import PlanError, ShapeError
from towerlift.plan.file_marks import FileMark, file_marks
from towerlift.shapes import build_shapes
from towerlift.workflow import check_plan

MESHED = {"members": [], "density": "500 kg/m^3"}


def drawn(name, half, length, file, **changes):
    """A section given as a mesh file."""
    return section(name, half, length, **MESHED, mesh={"file": file, "unit": "m"}, **changes)


def meshed_plan(*, spire="spire.stl", belfry=None):
    """The small plan with its spire, and its belfry if told, from files."""
    middle = section("belfry", 2.25, 12.5, nest_height="6.8 m")
    if belfry is not None:
        middle = drawn("belfry", 2.25, 12.5, belfry, nest_height="6.8 m")
    base = section("base", 2.8, 13.0, nest_height="0.34 m")
    return tiny_plan(sections=[base, middle, drawn("spire", 1.75, 13.5, spire)])


def mark_of(plan, folder):
    """As it stands at the foot of a page."""
    return content_hash(plan, file_marks(plan, folder))


def test_the_same_bytes_have_the_same_mark_and_one_byte_another(tmp_path):
    plan, mesh = meshed_plan(), tmp_path / "spire.stl"
    mesh.write_bytes(b"solid spire" + bytes(3_000_000))
    first = mark_of(plan, tmp_path)
    mesh.write_bytes(b"solid spire" + bytes(3_000_000))
    assert mark_of(plan, tmp_path) == first
    mesh.write_bytes(b"solid spire" + bytes(2_999_999) + b"\1")
    assert mark_of(plan, tmp_path) != first


def test_the_mark_of_a_file_is_its_sha256(tmp_path):
    (tmp_path / "spire.stl").write_bytes(b"abc")
    # The digest that FIPS 180-4's own example gives for "abc".
    digest = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert file_marks(meshed_plan(), tmp_path) == (FileMark(file="spire.stl", mark=digest),)


def test_another_folder_has_the_same_mark(tmp_path):
    plan, here = meshed_plan(spire="drawn/spire.stl"), tmp_path / "here"
    (here / "drawn").mkdir(parents=True)
    (here / "drawn" / "spire.stl").write_bytes(b"some mesh")
    shutil.copytree(here, tmp_path / "there")
    assert mark_of(plan, here) == mark_of(plan, tmp_path / "there")


def test_two_files_that_change_places_change_the_mark(tmp_path):
    plan = meshed_plan(belfry="belfry.stl")
    for names in (("spire.stl", "belfry.stl"), ("belfry.stl", "spire.stl")):
        for name, content in zip(names, (b"one", b"other"), strict=True):
            (tmp_path / name).write_bytes(content)
        if names[0] == "spire.stl":
            before = mark_of(plan, tmp_path)
    assert mark_of(plan, tmp_path) != before


def test_a_file_named_twice_is_marked_once_and_a_plan_without_files_has_none(tmp_path):
    (tmp_path / "box.stl").write_bytes(b"box")
    twice = meshed_plan(spire="box.stl", belfry="box.stl")
    assert [each.file for each in file_marks(twice, tmp_path)] == ["box.stl"]
    assert file_marks(tiny_plan(), tmp_path) == ()


def test_every_missing_file_is_named_with_its_key(tmp_path):
    plan = meshed_plan(belfry="../belfry.stl")
    with pytest.raises(PlanError) as refused:
        file_marks(plan, tmp_path)
    assert refused.value.problems == (
        'sections[1].mesh.file: "../belfry.stl" leads out of the plan\'s folder; keep every '
        "file of a plan below it",
        'sections[2].mesh.file: no file "spire.stl" in the plan\'s folder; check its name',
    )
    with pytest.raises(PlanError, match="check its name"):
        check_plan(plan, tmp_path)


def test_a_mesh_that_changes_while_it_is_read_is_refused(tmp_path, monkeypatch):
    mesh = tmp_path / "spire.stl"
    trimesh.creation.box(bounds=[(-1.0, -1.0, 0.0), (1.0, 1.0, 13.5)]).export(mesh)

    def build_and_write(plan, folder):
        shapes = build_shapes(plan, folder)
        mesh.write_bytes(mesh.read_bytes() + b"\0")
        return shapes

    monkeypatch.setattr(workflow, "build_shapes", build_and_write)
    with pytest.raises(ShapeError, match=r"spire\.stl: changed while it was read"):
        check_plan(meshed_plan(), tmp_path)


def test_a_checked_mesh_counts_in_the_mark_and_in_what_changed(tmp_path):
    mesh = tmp_path / "spire.stl"
    outcomes = []
    for top in (13.5, 13.4):
        trimesh.creation.box(bounds=[(-1.0, -1.0, 0.0), (1.0, 1.0, top)]).export(mesh)
        outcomes.append(check_plan(meshed_plan(), tmp_path))
    before, after = outcomes
    digest = hashlib.sha256(mesh.read_bytes()).hexdigest()
    assert after.files == (FileMark(file="spire.stl", mark=digest),)
    assert Edition(outcome=before).content != Edition(outcome=after).content
    told = [each for each in compare(before, after).keys if each.where == "file spire.stl"]
    assert [(each.key, each.after) for each in told] == [("content", digest[:12])]
    assert not compare(after, after).keys
