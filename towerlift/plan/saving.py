"""Saves a plan so that a crash leaves the old file or the new one, whole."""

import os
import tempfile
import tomllib
from contextlib import suppress
from pathlib import Path

import tomli_w
from pydantic import ValidationError
from pydantic_core import PydanticSerializationError

from towerlift.errors import PlanError
from towerlift.plan.model import Plan

_NEW_FILE_MODE = 0o644


def save_plan(plan: Plan, path: Path, *, replace: bool = False) -> None:
    """Write a plan as one TOML file, tables and all.

    Parameters
    ----------
    plan : Plan
        What to save.
    path : Path
        Where to; mesh files that the plan names are looked for below its folder.
    replace : bool
        Whether a file that is there and says something else may be replaced.

    Raises
    ------
    FileExistsError
        If there is such a file and `replace` is not set.
    PlanError
        If the plan holds values that could not be read back.
    OSError
        If it cannot be written; what was there is untouched.

    Notes
    -----
    The text goes to a new file in the same folder, is forced to the disk, and
    takes the name in one step; the folder is then forced to the disk too.
    """
    path = Path(path)
    try:
        text = plan_as_toml(plan)
    except (PydanticSerializationError, TypeError, AttributeError) as error:
        raise PlanError(path, (f"cannot be saved: {error}",)) from None
    _check_reads_back(plan, text, path)
    content = text.encode("utf-8")
    mode = _NEW_FILE_MODE
    if path.exists():
        if path.read_bytes() == content:
            return
        if not replace:
            raise FileExistsError(
                f"{path.name} is there and says something else; choose another name, or say "
                "that it is to be replaced"
            )
        mode = path.stat().st_mode & 0o777
    _write_whole(path, content, mode)


def plan_as_toml(plan: Plan) -> str:
    """A plan in its canonical form: every key written, quantities in SI.

    Parameters
    ----------
    plan : Plan
        What to write.

    Returns
    -------
    text : str
        TOML that reads back to an equal plan.
    """
    return tomli_w.dumps(plan.model_dump(exclude_none=True, warnings="none"))


def _check_reads_back(plan: Plan, text: str, path: Path) -> None:
    # A plan changed by hand in Python may hold what a plan cannot.
    try:
        again = Plan.model_validate(tomllib.loads(text))
    except (ValidationError, tomllib.TOMLDecodeError) as error:
        raise PlanError(path, (f"cannot be saved, it would not read back: {error}",)) from None
    if again != plan:
        changed = [
            key for key in Plan.model_fields if getattr(again, key) != getattr(plan, key)
        ]
        keys = ", ".join(changed)
        raise PlanError(path, (f"cannot be saved, it would read back differently: {keys}",))


def _write_whole(path: Path, content: bytes, mode: int) -> None:
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".tmp", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        temporary = Path(name)
        temporary.chmod(mode)
        os.replace(temporary, path)  # noqa: PTH105 - the tests break this very call
    except BaseException:
        with suppress(FileNotFoundError):
            Path(name).unlink()
        raise
    _force_folder(path.parent)


def _force_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
