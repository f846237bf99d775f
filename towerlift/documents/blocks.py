"""What a paper is made of, before it is printed as PDF, HTML or spreadsheet."""

from dataclasses import dataclass
from enum import StrEnum

from towerlift.documents.say import Kind, Say, plain_number
from towerlift.documents.sheets import Cell, Table

LOUD = frozenset(
    {"FAIL", "NOT EVALUATED", "NOT SIGNED", "NOT ANSWERED", "DOES NOT FIT", "DOES NOT STAND"}
)
"""Cells that begin so are printed white on black."""


class Weight(StrEnum):
    """How loudly words are printed."""

    PLAIN = "plain"
    STRONG = "strong"
    LOUD = "loud"
    QUIET = "quiet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """The name of a part of a paper."""

    words: str
    level: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """A paragraph."""

    words: str
    weight: Weight = Weight.PLAIN


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Named values, one below the other.

    Attributes
    ----------
    rows : tuple of (str, str)
        Name and value.
    columns : int
        How many stand beside each other.
    long : bool
        Whether values are sentences, and not printed in heavy letters.
    """

    rows: tuple[tuple[str, str], ...]
    columns: int = 1
    long: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column of a grid.

    Attributes
    ----------
    head : str
        Its name, without unit.
    kind : Kind or None
        What its numbers measure; None for words.
    width : float
        Share of the width that it takes; 0 for as much as it needs.
    blank : bool
        Whether it is left for a pen.
    """

    head: str
    kind: Kind | None = None
    width: float = 0.0
    blank: bool = False


GridCell = str | float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Rows under heads.

    Attributes
    ----------
    name : str
        Of the list, and of its sheet in the workbook.
    columns : tuple of Column
        From the left.
    rows : tuple of tuple
        SI numbers in columns that have a kind, words in the others.
    notes : tuple of str
        Below the rows.
    tall : bool
        Whether rows leave room for handwriting.
    listed : bool
        Whether it goes into the workbook of lists.
    """

    name: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[GridCell, ...], ...]
    notes: tuple[str, ...] = ()
    tall: bool = False
    listed: bool = True

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(
                    f"{self.name}: a row has {len(row)} cells under {len(self.columns)} heads"
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A drawing.

    Attributes
    ----------
    svg : str
        One SVG element.
    caption : str
        What it shows.
    share : float
        Share of the width of the page.
    most : float
        Greatest height. [mm]
    """

    svg: str
    caption: str
    share: float = 1.0
    most: float = 190.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ticks:
    """Boxes to tick, each with what it stands for."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """A line to sign on, or what has been signed.

    Attributes
    ----------
    mark, what : str
        Hold point or office, and what is signed for.
    name, time : str
        Who signed and when; empty where nobody has.
    note : str
        What the reader must know of it.
    """

    mark: str
    what: str
    name: str = ""
    time: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Signing:
    """Lines to sign on."""

    rows: tuple[Signature, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A new page."""


Block = Heading | Words | Facts | Grid | Picture | Ticks | Signing | Turn


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf:
    """A part of a paper that begins on a page of its own.

    Attributes
    ----------
    title : str
        At the head of each of its pages.
    blocks : tuple of Block
        From the top.
    stamp : str
        Across each of its pages; empty for none.
    because : tuple of str
        Why it is stamped.
    wide : bool
        Whether the long side of the paper lies level.
    """

    title: str
    blocks: tuple[Block, ...]
    stamp: str = ""
    because: tuple[str, ...] = ()
    wide: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """One document.

    Attributes
    ----------
    name : str
        Of its file, without ending.
    title : str
        As it is called.
    leaves : tuple of Leaf
        In order.
    letters : float
        Height of its letters. [pt]
    """

    name: str
    title: str
    leaves: tuple[Leaf, ...]
    letters: float = 9.5

    @property
    def grids(self) -> tuple[Grid, ...]:
        """Its lists, in order."""
        return tuple(
            block
            for leaf in self.leaves
            for block in leaf.blocks
            if isinstance(block, Grid) and block.listed
        )


def head_of(column: Column, say: Say, *, spreadsheet: bool = False) -> str:
    """Head of a column with its unit.

    Parameters
    ----------
    column : Column
        Which.
    say : Say
        How quantities are written.
    spreadsheet : bool
        Whether cells are bare numbers.

    Returns
    -------
    head : str
        Such as "mass [kg]".
    """
    unit = "" if column.kind is None else say.unit(column.kind, spreadsheet=spreadsheet)
    return f"{column.head} [{unit}]" if unit else column.head


def cell_words(column: Column, cell: GridCell, say: Say) -> str:
    """A cell as paper prints it.

    Parameters
    ----------
    column : Column
        Its column.
    cell : str, float or None
        What it holds.
    say : Say
        How quantities are written.

    Returns
    -------
    words : str
        Empty only where the cell is left for a pen.
    """
    if isinstance(cell, str):
        return cell
    if cell is None:
        return "" if column.blank else "–"
    # Without a kind a number keeps its digits: a chance of one in a million is not none.
    return plain_number(cell) if column.kind is None else say.cell(column.kind, cell)


def grid_table(grid: Grid, say: Say) -> Table:
    """A grid as a sheet of a workbook: numbers stay numbers.

    Parameters
    ----------
    grid : Grid
        What to write.
    say : Say
        How quantities are written.

    Returns
    -------
    table : Table
        With units in the heads.
    """

    def cell(column: Column, value: GridCell) -> Cell:
        if isinstance(value, str) or value is None:
            return value
        return value if column.kind is None else say.number(column.kind, value)

    return Table(
        name=grid.name,
        heads=tuple(head_of(column, say, spreadsheet=True) for column in grid.columns),
        rows=tuple(
            tuple(cell(c, v) for c, v in zip(grid.columns, row, strict=True))
            for row in grid.rows
        ),
        notes=grid.notes,
    )
