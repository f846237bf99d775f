"""Where in the plan's files a value stands, in words a person can follow."""

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

Loc = tuple[str | int, ...]

_SHOWN = 60
_NAMING_KEYS = ("name", "mark", "tag", "member", "tackle")


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRow:
    """A row of a CSV file.

    Attributes
    ----------
    number : int
        As a spreadsheet counts it: the header is row 1.
    columns : mapping of tuple to str
        Header of the column that holds each key, or part of a point.
    """

    file: str
    number: int
    columns: Mapping[Loc, str]


@dataclass(slots=True, kw_only=True)
class Places:
    """Tells where each value of a plan was written.

    Attributes
    ----------
    file : str
        Name of the plan file.
    written : object
        The plan's tables as read, tables from CSV put in their places.
    rows : dict of tuple to TableRow
        Where the rows that came from CSV stand, by place in `written`.
    """

    file: str
    written: object = None
    rows: dict[Loc, TableRow] = field(default_factory=dict)

    def row_at(self, at: Loc) -> tuple[TableRow, Loc] | None:
        """The CSV row that a value came from, and its place within that row; or None."""
        for length in range(len(at), 0, -1):
            row = self.rows.get(at[:length])
            if row is not None:
                return row, at[length:]
        return None

    def describe(self, at: Loc) -> str:
        """Where a value stands: file and key path, or CSV file, row and column."""
        found = self.row_at(at)
        if found is None:
            return f"{self.file}: {self._path(at)}" if at else self.file
        row, rest = found
        where = f"{row.file}: row {row.number}"
        for length in range(len(rest), 0, -1):
            header = row.columns.get(rest[:length])
            if header is not None:
                return f'{where}, column "{header}"'
        return f"{where}, {_dotted(rest)}" if rest else where

    def _path(self, at: Loc) -> str:
        text, here = "", self.written
        for step in at:
            here = _inside(here, step)
            if isinstance(step, str):
                text += f".{step}" if text else step
            else:
                text += f'["{_own_name(here)}"]' if _own_name(here) else f"[#{step + 1}]"
        return text


def _inside(here: object, step: str | int) -> object:
    if isinstance(here, dict) and isinstance(step, str):
        return here.get(step)
    if isinstance(here, list) and isinstance(step, int) and step < len(here):
        return here[step]
    return None


def _own_name(here: object) -> str:
    if isinstance(here, dict) and "do" not in here:
        for key in _NAMING_KEYS:
            name = here.get(key)
            if isinstance(name, str) and name.strip():
                return _plain(name if len(name) <= _SHOWN else name[:_SHOWN] + "…")
    return ""


def _dotted(at: Loc) -> str:
    return ".".join(step if isinstance(step, str) else f"#{step + 1}" for step in at)


def shown(value: object) -> str:
    """A value as it was written, cut short where it is long.

    Parameters
    ----------
    value : object
        As read from TOML or CSV.

    Returns
    -------
    text : str
        For a message.
    """
    if isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, dict):
        text = f"a table ({', '.join(str(key) for key in value) or 'empty'})"
    elif isinstance(value, list | tuple):
        text = f"[{', '.join(shown(item) for item in value[:4])}{', …' * (len(value) > 4)}]"
    elif isinstance(value, int) and abs(value).bit_length() > 1024:
        text = "a whole number of more than 300 digits"
    else:
        text = str(value)
    text = _plain(text)
    return text if len(text) <= 2 * _SHOWN else text[: 2 * _SHOWN] + "…"


def _plain(text: str) -> str:
    # A message stays on its line whatever was written.
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def nearest(name: str, known: Iterable[str]) -> str:
    """A hint at what an unknown name may have meant.

    Parameters
    ----------
    name : str
        The unknown name.
    known : iterable of str
        Names there are.

    Returns
    -------
    hint : str
        The nearest name, or the names there are.
    """
    names = list(dict.fromkeys(known))
    folded = {candidate.casefold(): candidate for candidate in names}
    close = difflib.get_close_matches(name.casefold(), list(folded), n=1, cutoff=0.6)
    if close:
        return f'did you mean "{folded[close[0]]}"?'
    if not names:
        return "there is none"
    listing = ", ".join(f'"{candidate}"' for candidate in names[:12])
    return f"there is {listing}{', …' if len(names) > 12 else ''}"
