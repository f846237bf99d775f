"""Saving: an equal plan comes back, and a crash leaves the old file or the new one."""

import os
import stat

import pytest

from towerlift.errors import PlanError
from towerlift.plan import read_plan, save_plan
from towerlift.plan.saving import plan_as_toml


@pytest.fixture
def plan(plan_path):
    return read_plan(plan_path)


@pytest.fixture
def other(plan):
    return plan.model_copy(update={"note": "changed"})


def test_what_is_saved_reads_back_equal(plan, tmp_path):
    save_plan(plan, tmp_path / "saved.toml")
    assert read_plan(tmp_path / "saved.toml") == plan


def test_saving_twice_writes_the_same_text(plan, tmp_path):
    save_plan(plan, tmp_path / "a.toml")
    save_plan(read_plan(tmp_path / "a.toml"), tmp_path / "b.toml")
    assert (tmp_path / "a.toml").read_bytes() == (tmp_path / "b.toml").read_bytes()


def test_no_file_but_the_plan_is_left(plan, tmp_path):
    folder = tmp_path / "new"
    folder.mkdir()
    save_plan(plan, folder / "plan.toml")
    assert [path.name for path in folder.iterdir()] == ["plan.toml"]


def test_a_different_file_is_not_overwritten(plan, other, tmp_path):
    path = tmp_path / "plan.toml"
    save_plan(plan, path)
    before = path.read_bytes()
    with pytest.raises(FileExistsError, match=r"plan\.toml is there"):
        save_plan(other, path)
    assert path.read_bytes() == before
    save_plan(plan, path)
    assert path.read_bytes() == before


def test_a_different_file_is_replaced_when_asked(plan, other, tmp_path):
    path = tmp_path / "plan.toml"
    save_plan(plan, path)
    path.chmod(0o640)
    save_plan(other, path, replace=True)
    assert read_plan(path) == other
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_what_would_not_read_back_is_not_saved(plan, tmp_path):
    path = tmp_path / "plan.toml"
    for bad in ({"name": " "}, {"version": 7}, {"name": 3}, {"site": None}, {"stages": ()}):
        with pytest.raises(PlanError, match="cannot be saved"):
            save_plan(plan.model_copy(update=bad), path)
    heavy = plan.sections[0].model_copy(update={"length": "tall"})
    with pytest.raises(PlanError, match="cannot be saved"):
        save_plan(plan.model_copy(update={"sections": (heavy,)}), path)
    assert not path.exists()


@pytest.fixture
def plans(plan, other):
    return plan, other


class DiskError(OSError):
    """Stands for a crash."""


def failing(*_args, **_kwargs):
    raise DiskError("the disk is gone")


@pytest.mark.parametrize("step", ["fsync", "chmod", "replace"])
@pytest.mark.parametrize("there", [True, False])
def test_a_crash_before_the_change_leaves_what_was(plans, tmp_path, monkeypatch, step, there):
    plan, other = plans
    folder = tmp_path / "plans"
    folder.mkdir()
    path = folder / "plan.toml"
    if there:
        save_plan(plan, path)
    before = sorted((p.name, p.read_bytes()) for p in folder.iterdir())
    if step == "chmod":
        monkeypatch.setattr("pathlib.Path.chmod", failing)
    else:
        monkeypatch.setattr(os, step, failing)
    with pytest.raises(DiskError):
        save_plan(other, path, replace=True)
    monkeypatch.undo()
    assert sorted((p.name, p.read_bytes()) for p in folder.iterdir()) == before


def test_half_a_write_leaves_the_old_file(plan, other, tmp_path, monkeypatch):
    folder = tmp_path / "plans"
    folder.mkdir()
    path = folder / "plan.toml"
    save_plan(plan, path)
    before = path.read_bytes()
    opened = os.fdopen

    class Half:
        def __init__(self, handle, mode):
            self.file = opened(handle, mode)

        def __enter__(self):
            return self

        def __exit__(self, *_):
            self.file.close()

        def write(self, content):
            self.file.write(content[: len(content) // 2])
            raise DiskError("the disk is full")

    monkeypatch.setattr(os, "fdopen", Half)
    with pytest.raises(DiskError, match="full"):
        save_plan(other, path, replace=True)
    assert path.read_bytes() == before
    assert [p.name for p in folder.iterdir()] == ["plan.toml"]


def test_a_crash_after_the_change_leaves_the_new_file(plan, other, tmp_path, monkeypatch):
    folder = tmp_path / "plans"
    folder.mkdir()
    path = folder / "plan.toml"
    save_plan(plan, path)
    forced = []
    fsync = os.fsync

    def second_fails(handle):
        forced.append(stat.S_ISDIR(os.fstat(handle).st_mode))
        if len(forced) == 2:
            raise DiskError("the disk is gone")
        fsync(handle)

    monkeypatch.setattr(os, "fsync", second_fails)
    with pytest.raises(DiskError):
        save_plan(other, path, replace=True)
    assert forced == [False, True]
    assert path.read_text(encoding="utf-8") == plan_as_toml(other)
    assert [p.name for p in folder.iterdir()] == ["plan.toml"]
