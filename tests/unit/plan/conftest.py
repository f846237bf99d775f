"""A good plan to break, one edit at a time."""

from collections.abc import Callable
from pathlib import Path

import pytest

from towerlift.errors import PlanError
from towerlift.plan import new_plan, read_plan

Edit = Callable[..., None]


@pytest.fixture
def plan_path(tmp_path: Path) -> Path:
    return new_plan(tmp_path / "practice")


@pytest.fixture
def edit(plan_path: Path) -> Edit:
    """Replace the one place where a text stands in one of the plan's files."""

    def change(old: str, new: str, file: str = "plan.toml") -> None:
        path = plan_path.parent / file
        text = path.read_text(encoding="utf-8")
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {file}"
        path.write_text(text.replace(old, new), encoding="utf-8")

    return change


@pytest.fixture
def problems(plan_path: Path) -> Callable[[], tuple[str, ...]]:
    """Problems that reading finds; the test fails if it finds none."""

    def read() -> tuple[str, ...]:
        with pytest.raises(PlanError) as caught:
            read_plan(plan_path)
        return caught.value.problems

    return read
