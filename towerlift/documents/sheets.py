"""Tables that open in a spreadsheet, as XLSX and as CSV.

Names come from plans that others wrote. A cell that begins as a formula would be run by
the spreadsheet that opens it, so text is always written as text.
"""

import csv
import io
import re
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

Cell = str | float | int | None

# What spreadsheets take for the beginning of a formula, in any width of letter.
_FORMULA = re.compile(r"\s*[=+\-@\t\r\n＝＋－＠|%]")
# What no sheet may hold: control characters, which XML has no way to write.
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
_TAB = re.compile(r"[\[\]:*?/\\]")
_WIDEST = 60
_NO_CLOCK = datetime(1980, 1, 1, tzinfo=UTC)
_STAMPED = re.compile(rb"(?<=>)\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ(?=<)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under heads.

    Attributes
    ----------
    name : str
        Of the sheet.
    heads : tuple of str
        Of the columns, with their units.
    rows : tuple of tuple
        Words, numbers or None for nothing; as many as there are heads.
    notes : tuple of str
        What the reader must know, below the rows.
    """

    name: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(self.heads):
                raise ValueError(
                    f"{self.name}: a row has {len(row)} cells under {len(self.heads)} heads"
                )


def as_text(cell: Cell) -> str:
    """A cell as CSV writes it.

    Parameters
    ----------
    cell : str, float, int or None
        What it holds.

    Returns
    -------
    text : str
        Words that a spreadsheet would take for a formula have an apostrophe before
        them; numbers stay numbers.
    """
    if cell is None:
        return ""
    if isinstance(cell, str):
        words = _CONTROL.sub(" ", cell)
        return f"'{words}" if _FORMULA.match(words) else words
    return f"{cell:.10g}"


def table_csv(table: Table) -> str:
    """A table as CSV.

    Parameters
    ----------
    table : Table
        What to write.

    Returns
    -------
    text : str
        Heads, rows, an empty line and the notes; lines end as CSV asks.
    """
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow([as_text(head) for head in table.heads])
    writer.writerows([as_text(cell) for cell in row] for row in table.rows)
    if table.notes:
        writer.writerow([])
        writer.writerows([as_text(note)] for note in table.notes)
    return out.getvalue()


def write_csv(table: Table, path: Path) -> None:
    """Write a table as CSV, in UTF-8 that spreadsheets know for it.

    Parameters
    ----------
    table : Table
        What to write.
    path : Path
        Where to; must not be there yet.

    Raises
    ------
    FileExistsError
        If there is such a file.
    """
    with path.open("x", encoding="utf-8-sig", newline="") as file:
        file.write(table_csv(table))


def write_xlsx(tables: Sequence[Table], path: Path) -> None:
    """Write tables as the sheets of one workbook.

    Parameters
    ----------
    tables : sequence of Table
        One sheet each.
    path : Path
        Where to; must not be there yet.

    Raises
    ------
    FileExistsError
        If there is such a file.
    ValueError
        If there is no table.
    """
    content = xlsx_bytes(tables)
    with path.open("xb") as file:
        file.write(content)


def xlsx_bytes(tables: Sequence[Table]) -> bytes:
    """Tables as the sheets of one workbook.

    Parameters
    ----------
    tables : sequence of Table
        One sheet each.

    Returns
    -------
    content : bytes
        The same for the same tables: no clock is in them.

    Raises
    ------
    ValueError
        If there is no table.
    """
    if not tables:
        raise ValueError("no table to write")
    book = Workbook()
    book.remove(book.worksheets[0])
    book.properties.created = book.properties.modified = _NO_CLOCK
    for table in tables:
        _sheet(book.create_sheet(_tab_name(table.name, book.sheetnames)), table)
    made = io.BytesIO()
    book.save(made)
    return _without_clock(made.getvalue())


def _without_clock(content: bytes) -> bytes:
    """The same archive with every date in it the earliest there is."""
    plain = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(plain, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            data = old.read(name)
            if name == "docProps/core.xml":
                # The library writes the time of saving over any that it is given.
                data = _STAMPED.sub(_NO_CLOCK.strftime("%Y-%m-%dT%H:%M:%SZ").encode(), data)
            new.writestr(zipfile.ZipInfo(name), data, zipfile.ZIP_DEFLATED)
    return plain.getvalue()


def _tab_name(name: str, taken: Sequence[str]) -> str:
    plain = _TAB.sub(" ", _CONTROL.sub(" ", name)).strip("' ")[:28] or "sheet"
    if plain not in taken:
        return plain
    return next(f"{plain} {n}" for n in range(2, 100) if f"{plain} {n}" not in taken)


def _sheet(sheet: Worksheet, table: Table) -> None:
    for column, head in enumerate(table.heads, start=1):
        _put(sheet, (1, column), head)
        cell = sheet.cell(row=1, column=column)
        cell.font = Font(bold=True)
        cell.alignment = Alignment(wrap_text=True, vertical="top")
    for number, row in enumerate(table.rows, start=2):
        for column, value in enumerate(row, start=1):
            _put(sheet, (number, column), value)
    for number, note in enumerate(table.notes, start=len(table.rows) + 3):
        _put(sheet, (number, 1), note)
    for column in range(1, len(table.heads) + 1):
        cells = [str(row[column - 1] or "") for row in table.rows]
        longest = max([*(len(cell) for cell in cells), len(table.heads[column - 1]) // 2, 8])
        sheet.column_dimensions[get_column_letter(column)].width = min(longest + 2, _WIDEST)
    sheet.freeze_panes = "A2"


def _put(sheet: Worksheet, at: tuple[int, int], value: Cell) -> None:
    cell = sheet.cell(row=at[0], column=at[1])
    if isinstance(value, str):
        cell.value = _CONTROL.sub(" ", value)
        # As words, whatever they begin with, and when the cell is edited too.
        cell.data_type = "s"
        if _FORMULA.match(value):
            cell.quotePrefix = True
    else:
        cell.value = value
