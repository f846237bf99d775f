"""Marks of the files that stay beside a plan: what tells their content from any other."""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pydantic import BaseModel

from towerlift.errors import PlanError
from towerlift.plan.bodies import MeshFile
from towerlift.plan.files import FileProblemError, file_below
from towerlift.plan.model import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class FileMark:
    """A file that a plan names, and what tells its content from any other.

    Attributes
    ----------
    file : str
        As the plan names it.
    mark : str
        SHA-256 of its bytes, in hexadecimal.
    """

    file: str
    mark: str


def file_marks(plan: Plan, folder: Path) -> tuple[FileMark, ...]:
    """Mark every file whose content the plan takes but does not hold.

    Parameters
    ----------
    plan : Plan
        As read.
    folder : Path
        The plan's folder, below which its files lie.

    Returns
    -------
    marks : tuple of FileMark
        Each file once, by name; empty where the plan names none.

    Raises
    ------
    PlanError
        If one of them is not there, lies outside the folder or cannot be read; all such
        are named, each with its key.

    Notes
    -----
    Rows of tables are part of the plan once it is read, so a table has no mark of its own.
    """
    marks: dict[str, str] = {}
    problems = []
    for key, name in _named(plan, ""):
        try:
            if name not in marks:
                marks[name] = _digest(file_below(folder, name))
        except FileProblemError as error:
            problems.append(f"{key}: {error}")
        except OSError as error:
            problems.append(f'{key}: "{name}" cannot be read: {error.strerror or error}')
    if problems:
        raise PlanError(folder / "plan.toml", problems)
    return tuple(FileMark(file=name, mark=marks[name]) for name in sorted(marks))


def _named(value: object, key: str) -> Iterator[tuple[str, str]]:
    """Key and name of every file, wherever in the plan it is named."""
    if isinstance(value, MeshFile):
        yield f"{key}.file", value.file
    elif isinstance(value, BaseModel):
        for name in type(value).model_fields:
            yield from _named(getattr(value, name), f"{key}.{name}" if key else name)
    elif isinstance(value, tuple):
        for row, each in enumerate(value):
            yield from _named(each, f"{key}[{row}]")


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
