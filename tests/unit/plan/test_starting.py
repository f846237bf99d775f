"""The plan to start from: whole, commented, and never written over another."""

import pytest

from towerlift.errors import PlanError
from towerlift.plan import new_plan, read_plan


def test_it_makes_the_folder_and_names_the_plan(tmp_path):
    path = new_plan(tmp_path / "towers" / "mine")
    assert path == tmp_path / "towers" / "mine" / "plan.toml"
    assert [section.name for section in read_plan(path).sections] == ["base", "cap"]


def test_it_tells_a_newcomer_what_to_change(tmp_path):
    lines = new_plan(tmp_path).read_text(encoding="utf-8").splitlines()
    assert sum(line.startswith("#") for line in lines) >= 15


@pytest.mark.parametrize("name", ["plan.toml", "members.csv"])
def test_it_writes_over_nothing(tmp_path, name):
    (tmp_path / name).write_text("mine", encoding="utf-8")
    with pytest.raises(PlanError, match=name):
        new_plan(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text(encoding="utf-8") == "mine"


def test_a_file_is_not_a_folder(tmp_path):
    (tmp_path / "mine").write_text("mine", encoding="utf-8")
    with pytest.raises(PlanError, match="is a file; name a folder"):
        new_plan(tmp_path / "mine")
