"""A small plan that passes every check, to start from."""

from importlib.resources import files
from pathlib import Path

from towerlift.errors import PlanError

_PLAN_FILE = "plan.toml"


def new_plan(folder: Path) -> Path:
    """Write a small complete plan into a folder.

    Parameters
    ----------
    folder : Path
        Made if it is not there; must not hold a plan yet.

    Returns
    -------
    path : Path
        Of the plan file.

    Raises
    ------
    PlanError
        If the folder is a file, or holds a plan or a table of the same name.
    """
    folder = Path(folder)
    texts = {
        entry.name: entry.read_bytes()
        for entry in files("towerlift.plan").joinpath("starter").iterdir()
        if entry.name.endswith((".toml", ".csv"))
    }
    path = folder / _PLAN_FILE
    if folder.exists() and not folder.is_dir():
        raise PlanError(path, (f"{folder.name} is a file; name a folder",))
    there = sorted(name for name in texts if (folder / name).exists())
    if there:
        listing = ", ".join(there)
        raise PlanError(path, (f"{folder.name} already holds {listing}; name an empty folder",))
    folder.mkdir(parents=True, exist_ok=True)
    # The plan goes last: a folder with a plan is a whole one.
    for name in sorted(texts, key=lambda name: name == _PLAN_FILE):
        with (folder / name).open("xb") as file:
            file.write(texts[name])
    return path
