"""Tables of a plan kept as CSV, as spreadsheets write it."""

import csv
import io
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from pydantic import BaseModel

from towerlift.errors import UnitError
from towerlift.plan.fields import Field, Holds, fields_of, wanted
from towerlift.plan.files import FileProblemError, file_below, read_text
from towerlift.plan.places import Loc, TableRow, nearest
from towerlift.units import unit_factor, written_units

_HEADER = re.compile(
    r"(?P<key>[A-Za-z_][\w ]*?)(?: (?P<item>\d+))?(?: (?P<axis>[xyzs]))?"
    r"(?:\s*\[(?P<unit>[^\]]*)\])?"
)
_BARE = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?")
_WHOLE = re.compile(r"[+-]?\d{1,18}")
_AXES = {"x": 0, "y": 1, "z": 2, "s": 2}
_OWNER = "of"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Column:
    header: str
    field: Field | None  # None for the column of owners
    item: int | None = None
    axis: int | None = None
    unit: str | None = None

    @property
    def at(self) -> Loc:
        if self.field is None:
            return ()
        at: Loc = (self.field.key,)
        if self.item is not None:
            at += (self.item,)
        if self.axis is not None:
            at += (self.axis,)
        return at


@dataclass(slots=True, kw_only=True)
class _Row:
    number: int
    owner: str | None
    values: dict[str, object]
    taken: bool = False


@dataclass(slots=True, kw_only=True)
class Table:
    """One CSV file, read.

    Attributes
    ----------
    absent : frozenset of str
        Keys that the header lacks though every row needs them.
    unreadable : bool
        Whether so much is wrong that its rows are not known.
    """

    file: str
    columns: dict[Loc, str] = field(default_factory=dict)
    rows: list[_Row] = field(default_factory=list)
    absent: frozenset[str] = frozenset()
    has_owners: bool = False
    unreadable: bool = False
    owners: set[str] = field(default_factory=set)
    bare: set[str] = field(default_factory=set)


@dataclass(slots=True, kw_only=True)
class TableReader:
    """Reads each table of a plan once, and hands its rows to their owners.

    Attributes
    ----------
    folder : Path
        Folder of the plan.
    report : callable
        Takes each problem found, with file and row.
    """

    folder: Path
    report: Callable[[str], None]
    tables: dict[tuple[str, type[BaseModel]], Table] = field(default_factory=dict)

    def table(self, name: str, model: type[BaseModel]) -> Table:
        """The table of a file, read on first use.

        Parameters
        ----------
        name : str
            As the plan writes it.
        model : type
            What each row is.

        Returns
        -------
        table : Table
            Empty and marked unreadable where it cannot be read.

        Raises
        ------
        FileProblemError
            If the file is not there or not below the plan's folder.
        """
        if (name, model) not in self.tables:
            path = file_below(self.folder, name)
            self.tables[name, model] = self._read(path, name, model)
        return self.tables[name, model]

    def rows_for(
        self, table: Table, owner: str | None
    ) -> Iterator[tuple[TableRow, dict[str, object]]]:
        """Rows that belong to an owner, each with the place it came from.

        Parameters
        ----------
        table : Table
            From `table`.
        owner : str or None
            Name of the owner; None where it has none.

        Yields
        ------
        place : TableRow
            Where the row stands.
        values : dict
            The row as TOML would have written it.
        """
        if owner is not None:
            table.owners.add(owner)
        for row in table.rows:
            if table.has_owners and row.owner != owner:
                continue
            row.taken = True
            place = TableRow(file=table.file, number=row.number, columns=table.columns)
            yield place, dict(row.values)

    def report_untaken(self) -> None:
        """Report every row whose owner is not in the plan."""
        for table in self.tables.values():
            untaken: dict[str, list[int]] = {}
            for row in table.rows:
                if not row.taken:
                    untaken.setdefault(row.owner or "", []).append(row.number)
            for owner, numbers in untaken.items():
                more = f" (and {len(numbers) - 1} more rows)" if len(numbers) > 1 else ""
                hint = nearest(owner, sorted(table.owners))
                self.report(
                    f'{table.file}: row {numbers[0]}{more}, column "{_OWNER}": nothing called '
                    f'"{owner}" takes rows from this file; {hint}'
                )

    def _read(self, path: Path, name: str, model: type[BaseModel]) -> Table:
        table = Table(file=name)
        try:
            (_, header), *below = _records(read_text(path))
            _check_separator(header)
        except FileProblemError as error:
            self.report(f"{name}: {error}")
            table.unreadable = True
            return table
        rows = [(number, cells) for number, cells in below if any(cells)]
        columns = [self._column(table, text, model) for text in header]
        columns = self._without_bare(table, columns, [cells for _, cells in rows])
        columns = self._registered(table, columns)
        self._report_absent(table, model)
        counts = {len(cells) for _, cells in rows}
        amiss = ""
        if not rows:
            amiss = "no rows below the header; write at least one"
        elif len(rows) > 1 and len(counts) == 1 and counts != {len(columns)}:
            amiss = f"every row has {counts.pop()} cells and the header {len(columns)}; "
            amiss += "write a header for every column"
        if amiss:
            self.report(f"{name}: {amiss}")
            table.unreadable = True
        elif not table.unreadable:
            for number, cells in rows:
                self._take(table, columns, number, cells)
        return table

    def _without_bare(
        self, table: Table, columns: list[_Column | None], rows: list[list[str]]
    ) -> list[_Column | None]:
        # Said once of the column, not once for every row.
        kept: list[_Column | None] = []
        for index, column in enumerate(columns):
            kept.append(column)
            if column is None or column.unit or not column.field or not column.field.dimension:
                continue
            cells = [cells[index] for cells in rows if len(cells) > index and cells[index]]
            if len(cells) > 1 and all(_BARE.fullmatch(cell) for cell in cells):
                unit = written_units(column.field.dimension)[0]
                self.report(
                    f'{table.file}: row 1: column "{column.header}": unit missing; write it in '
                    f'the header, such as "{column.header} [{unit}]"'
                )
                table.bare.add(column.field.key)
                kept[-1] = None
        return kept

    def _registered(self, table: Table, columns: list[_Column | None]) -> list[_Column | None]:
        kept: list[_Column | None] = []
        for column in columns:
            kept.append(column)
            if column is None:
                continue
            if column.at in table.columns:
                self.report(
                    f'{table.file}: row 1: column "{column.header}" says the same as '
                    f'"{table.columns[column.at]}"; keep one of them'
                )
                kept[-1] = None
                continue
            if column.field is None:
                table.has_owners = True
            table.columns[column.at] = column.header
        return kept

    def _report_absent(self, table: Table, model: type[BaseModel]) -> None:
        absent = set(table.bare)
        for key, known in fields_of(model).items():
            if key in table.bare:
                continue
            expected: list[Loc] = [(key,)]
            names = [key]
            if known.holds is Holds.POINT:
                expected = [(key, axis) for axis in range(3)]
                names = [f"{key} {axis} [m]" for axis in ("x", "y", "z or s")]
            elif known.holds is Holds.POINTS:
                expected = [(key, 0, axis) for axis in range(3)]
                names = [f"{key} 1 {axis} [m]" for axis in ("x", "y", "z or s")]
            missing = [
                n for at, n in zip(expected, names, strict=True) if at not in table.columns
            ]
            if missing and (known.required or len(missing) < len(expected)):
                absent.add(key)
                listing = ", ".join(f'"{name}"' for name in missing)
                what = "" if len(expected) > 1 else f" for {wanted(known)}"
                self.report(f"{table.file}: row 1: column {listing} missing; add it{what}")
        table.absent = frozenset(absent)

    def _column(self, table: Table, text: str, model: type[BaseModel]) -> _Column | None:
        fields = fields_of(model)
        match = _HEADER.fullmatch(text)
        key = match["key"].replace(" ", "_") if match else text
        if key == _OWNER and _OWNER not in fields:
            return _Column(header=text, field=None)
        known = fields.get(key)
        if match is None or known is None:
            hint = nearest(key, [*fields, _OWNER])
            self.report(f'{table.file}: row 1: unknown column "{text}"; {hint}')
            # Without its owners a table would give every row to each.
            table.unreadable = table.unreadable or hint == nearest(_OWNER, [_OWNER])
            return None
        complaint = _header_complaint(match, known)
        if complaint:
            self.report(f'{table.file}: row 1: column "{text}": {complaint}')
            return None
        return _Column(
            header=text,
            field=known,
            item=int(match["item"]) - 1 if match["item"] else None,
            axis=_AXES[match["axis"]] if match["axis"] else None,
            unit=match["unit"],
        )

    def _take(
        self, table: Table, columns: list[_Column | None], number: int, cells: list[str]
    ) -> None:
        if len(cells) != len(columns):
            comma = " (a decimal comma adds one)" if len(cells) > len(columns) else ""
            self.report(
                f"{table.file}: row {number}: {len(cells)} cells{comma}; the header has "
                f"{len(columns)} columns, so write {len(columns)} cells"
            )
            return
        row = _Row(number=number, owner=None, values={})
        for column, cell in zip(columns, cells, strict=True):
            if column is None:
                continue
            if column.field is None:
                row.owner = cell
                continue
            if cell == "":
                continue
            _put(row.values, column.at, self._cell(table, column, row, cell))
        table.rows.append(row)

    def _cell(self, table: Table, column: _Column, row: _Row, cell: str) -> object:
        known = column.field
        if known is None:
            return cell
        if column.unit is not None:
            if _BARE.fullmatch(cell):
                return f"{cell} {column.unit}"
            if "," not in cell:
                self.report(
                    f'{table.file}: row {row.number}, column "{column.header}": got "{cell}"; '
                    f"the header gives the unit, so write a bare number of {column.unit}"
                )
                return Unread(cell)
        return _typed(known, cell)


class Unread(str):
    """A cell already complained of: it is not to be complained of twice."""

    __slots__ = ()


def _check_separator(header: list[str]) -> None:
    if len(header) == 1 and re.search(r"[;\t]", header[0]):
        mark = "semicolons" if ";" in header[0] else "tabs"
        raise FileProblemError(
            f"row 1: the columns are separated by {mark}; save it with commas between the "
            "columns and points in the decimals"
        )


def _header_complaint(match: re.Match[str], known: Field) -> str:
    quantity = known.dimension
    axis, item, unit = match["axis"], match["item"], match["unit"]
    if quantity is None and unit is not None:
        return f'takes no unit; name it "{known.key}"'
    if quantity is not None and unit is not None:
        try:
            unit_factor(unit, quantity)
        except UnitError as error:
            return str(error)
    if known.holds is Holds.POINTS and not (axis and item and int(item) > 0):
        return f'name its columns "{known.key} 1 x [m]", "{known.key} 1 y [m]" and so on'
    if known.holds is Holds.POINT and (not axis or item):
        return f'name its columns "{known.key} x [m]", "{known.key} y [m]", "{known.key} s [m]"'
    if known.holds not in (Holds.POINT, Holds.POINTS) and (axis or item):
        return f'is one column; name it "{known.key}"'
    return ""


def _typed(known: Field, cell: str) -> object:
    if known.holds is Holds.LIST:
        return [part.strip() for part in cell.split(";") if part.strip()]
    whole_choice = any(isinstance(choice, int) for choice in known.choices)
    if (known.holds is Holds.WHOLE or whole_choice) and _WHOLE.fullmatch(cell):
        return int(cell)
    if known.holds is Holds.NUMBER and _BARE.fullmatch(cell):
        return float(cell)
    if known.holds is Holds.FLAG and cell.casefold() in ("true", "false"):
        return cell.casefold() == "true"
    return cell


def _put(values: dict[str, object], at: Loc, value: object) -> None:
    key = str(at[0])
    if len(at) == 1:
        values[key] = value
        return
    parts = values.setdefault(key, [])
    if isinstance(parts, list):
        for index in at[1:-1]:
            while len(parts) <= int(index):
                parts.append([])
            parts = parts[int(index)]
        while len(parts) <= int(at[-1]):
            parts.append(None)
        parts[int(at[-1])] = value


def _records(text: str) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    number = 0
    while True:
        number += 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise FileProblemError(
                f"row {number}: {error}; check the quotation marks"
            ) from None
        yield number, [cell.strip() for cell in cells]
