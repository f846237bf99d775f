"""Files of a plan: found only below its folder, read only as UTF-8."""

import codecs
from pathlib import Path, PurePosixPath, PureWindowsPath

_LARGEST_BYTES = 50_000_000
_OTHER_ENCODINGS = {
    codecs.BOM_UTF16_LE: "UTF-16",
    codecs.BOM_UTF16_BE: "UTF-16",
    codecs.BOM_UTF32_BE: "UTF-32",
}


class FileProblemError(Exception):
    """A file of the plan cannot be used; the text says why and what would be right."""


def file_below(folder: Path, name: str) -> Path:
    """The file that a plan names, if it lies below the plan's folder.

    Parameters
    ----------
    folder : Path
        Folder of the plan.
    name : str
        Relative path, as the plan writes it.

    Returns
    -------
    path : Path
        Of a file that exists.

    Raises
    ------
    FileProblemError
        If the path is absolute, leads out of the folder (by ``..`` or by a
        link), or there is no such file.
    """
    if "\0" in name or not name.strip():
        raise FileProblemError(f"{name!r} is not a file name; write a path such as base.csv")
    if PurePosixPath(name).is_absolute() or PureWindowsPath(name).anchor:
        raise FileProblemError(
            f'"{name}" is an absolute path; write the path from the plan\'s own folder'
        )
    if "\\" in name:
        raise FileProblemError(f'"{name}" has a backslash; separate folders with "/"')
    path = folder / name
    try:
        inside = path.resolve().is_relative_to(folder.resolve())
        there = path.is_file()
    except (OSError, RuntimeError) as error:
        raise FileProblemError(f'"{name}" cannot be opened: {error}') from None
    if not inside:
        raise FileProblemError(
            f'"{name}" leads out of the plan\'s folder; keep every file of a plan below it'
        )
    if not there:
        raise FileProblemError(f'no file "{name}" in the plan\'s folder; check its name')
    return path


def read_text(path: Path) -> str:
    """Text of a UTF-8 file, with or without a byte-order mark.

    Parameters
    ----------
    path : Path
        Of the file.

    Returns
    -------
    text : str
        Without the mark.

    Raises
    ------
    FileProblemError
        If it cannot be read, is empty, too large, or is not UTF-8.
    """
    try:
        if not path.is_file():
            raise FileProblemError("no such file; check the path")
        if path.stat().st_size > _LARGEST_BYTES:
            raise FileProblemError(
                f"{path.stat().st_size} bytes; a plan's file holds at most {_LARGEST_BYTES}"
            )
        raw = path.read_bytes()
    except (OSError, ValueError) as error:
        raise FileProblemError(f"cannot be read: {error}") from None
    if not raw.strip():
        raise FileProblemError("the file is empty")
    for mark, name in _OTHER_ENCODINGS.items():
        if raw.startswith(mark):
            raise FileProblemError(f"written as {name}; save it as UTF-8")
    if b"\0" in raw:
        raise FileProblemError("holds zero bytes (UTF-16, or not text); save it as UTF-8 text")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise FileProblemError(
            f"line {line}: byte 0x{raw[error.start]:02X} is not UTF-8 (perhaps Latin-1 or "
            "Windows-1252); save it as UTF-8"
        ) from None
