"""Prints a paper as PDF: the same plan gives the same bytes."""

import json
import re
from collections.abc import Iterator
from functools import cache
from typing import Any

import typst

from towerlift.documents.blocks import (
    LOUD,
    Block,
    Column,
    Facts,
    Grid,
    GridCell,
    Heading,
    Leaf,
    Paper,
    Picture,
    Signing,
    Ticks,
    Weight,
    Words,
    cell_words,
    head_of,
)
from towerlift.documents.edition import CAUTION, Edition, PageSize
from towerlift.documents.fonts import families, printable
from towerlift.documents.template import TEMPLATE

MARGIN = 14.0
_SIDES = {PageSize.A4: (210.0, 297.0), PageSize.LETTER: (215.9, 279.4)}
_PAPERS = {PageSize.A4: "a4", PageSize.LETTER: "us-letter"}
_VIEW_BOX = re.compile(r'viewBox="0 0 ([0-9.]+) ([0-9.]+)"')
# A run of letters longer than this has no place to break in a narrow column.
_LONGEST = 22
# Columns beyond this make letters smaller, so that nothing runs off the sheet.
_MANY, _VERY_MANY = 8, 13


def press_pdf(paper: Paper, edition: Edition) -> bytes:
    """A paper as PDF.

    Parameters
    ----------
    paper : Paper
        What to print.
    edition : Edition
        Of which plan, on which paper, in which units.

    Returns
    -------
    pdf : bytes
        Without a date, so that the same plan gives the same bytes with the same fonts.
    """
    data = {
        "title": printable(paper.title),
        "plan": printable(edition.plan_words),
        "verdict": printable(edition.verdict_words),
        "identity": printable(edition.identity),
        "caution": CAUTION,
        "paper": _PAPERS[edition.page],
        "fonts": list(families()),
        "letters": paper.letters,
        "leaves": [_leaf(leaf, edition) for leaf in paper.leaves],
    }
    inputs = {"data": json.dumps(data, ensure_ascii=False)}
    pdf: bytes = _compiler().compile(input=TEMPLATE.encode(), sys_inputs=inputs, format="pdf")
    return pdf


@cache
def _compiler() -> Any:
    return typst.Compiler()


def _leaf(leaf: Leaf, edition: Edition) -> dict[str, Any]:
    sides = _SIDES[edition.page]
    width = (max(sides) if leaf.wide else min(sides)) - 2 * MARGIN
    return {
        "title": printable(leaf.title),
        "stamp": leaf.stamp,
        "because": [printable(each) for each in leaf.because],
        "wide": leaf.wide,
        "blocks": [_block(block, edition, width) for block in leaf.blocks],
    }


def _block(block: Block, edition: Edition, width: float) -> dict[str, Any]:
    found: dict[str, Any] = {"type": "turn"}
    match block:
        case Heading():
            found = {"type": "heading", "words": printable(block.words), "level": block.level}
        case Words():
            loud = any(block.words.startswith(start) for start in LOUD)
            weight = str(Weight.LOUD if loud else block.weight)
            found = {"type": "words", "words": printable(block.words), "weight": weight}
        case Facts():
            found = _facts(block)
        case Grid():
            found = _grid(block, edition)
        case Picture():
            found = _picture(block, width)
        case Ticks():
            found = {"type": "ticks", "items": [printable(item) for item in block.items]}
        case Signing():
            found = {"type": "signing", "rows": list(_signatures(block))}
    return found


def _facts(block: Facts) -> dict[str, Any]:
    rows = [[_loud(name), _loud(value)] for name, value in block.rows]
    while len(rows) % block.columns:
        rows.append(["", ""])
    return {"type": "facts", "rows": rows, "columns": block.columns, "long": block.long}


def _signatures(block: Signing) -> Iterator[dict[str, str]]:
    for row in block.rows:
        yield {
            key: printable(getattr(row, key))
            for key in ("mark", "what", "name", "time", "note")
        }


def _loud(words: str) -> str | dict[str, str]:
    shown = printable(words)
    return {"t": shown} if any(shown.startswith(start) for start in LOUD) else shown


def _grid(grid: Grid, edition: Edition) -> dict[str, Any]:
    many = len(grid.columns)
    return {
        "type": "grid",
        "name": printable(grid.name),
        "heads": [printable(head_of(column, edition.say)) for column in grid.columns],
        "widths": [column.width for column in grid.columns],
        "aligns": [column.kind is not None for column in grid.columns],
        "rows": [
            [_cell(c, v, edition) for c, v in zip(grid.columns, row, strict=True)]
            for row in grid.rows
        ],
        "notes": [printable(note) for note in grid.notes],
        "tall": grid.tall,
        "size": 0.7 if many > _VERY_MANY else 0.82 if many > _MANY else 0.92,
    }


def _cell(column: Column, cell: GridCell, edition: Edition) -> str | dict[str, str]:
    words = cell_words(column, cell, edition.say)
    shown = _loud(words)
    return shown if isinstance(shown, dict) else _with_breaks(shown)


def _with_breaks(words: str) -> str:
    """Long runs of letters with places to break at that cannot be seen."""
    return " ".join(
        "\u200b".join(run[n : n + _LONGEST] for n in range(0, len(run), _LONGEST))
        if len(run) > _LONGEST
        else run
        for run in words.split(" ")
    )


def _picture(picture: Picture, width: float) -> dict[str, Any]:
    found = _VIEW_BOX.search(picture.svg)
    across, down = (float(found[1]), float(found[2])) if found else (1.0, 1.0)
    wide = min(picture.share * width, picture.most * across / down)
    return {
        "type": "picture",
        "svg": printable(picture.svg),
        "caption": printable(picture.caption),
        "width": round(wide, 2),
    }
