"""Writes a paper as one HTML file that needs nothing else."""

import re
from collections.abc import Iterator
from html import escape

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
from towerlift.documents.edition import CAUTION, Edition

_STEERING = re.compile(
    r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\u202a-\u202e\u2066-\u2069\u200e\u200f\ufeff]"
)

_STYLE = """
body{font:16px/1.4 "DejaVu Sans",Verdana,sans-serif;color:#000;background:#fff;
max-width:60rem;margin:0 auto;padding:1rem}
table{border-collapse:collapse;margin:.4rem 0 1rem;width:100%}
th,td{border:1px solid #555;padding:.25rem .4rem;text-align:start;vertical-align:top}
th{background:#ddd}td.n{text-align:right;white-space:nowrap}
.loud,td.loud{background:#000;color:#fff;font-weight:bold}.loud{padding:.4rem .6rem}
.quiet,footer{font-size:.85em}.box{display:inline-block;width:1em;height:1em;
border:2px solid #000;margin-right:.6em;vertical-align:-.15em}
section{position:relative;border-top:3px solid #000;margin-top:2rem;padding-top:.5rem}
.stamp{position:absolute;inset:0;display:flex;align-items:center;justify-content:center;
font-size:5rem;font-weight:bold;opacity:.16;transform:rotate(-30deg);pointer-events:none}
svg{max-width:100%;height:auto}figure{margin:.5rem 0}td.pen{min-width:6rem;height:2.2em}
ul{list-style:none;padding:0}
@media print{section{break-before:page}}
"""


def written(words: str) -> str:
    """Words as HTML holds them.

    Parameters
    ----------
    words : str
        From a plan.

    Returns
    -------
    html : str
        Escaped, for text and attributes; what would steer the line is written as its
        number.
    """
    shown = _STEERING.sub(lambda found: f"[U+{ord(found[0]):04X}]", words)
    return escape(shown, quote=True)


def paper_html(paper: Paper, edition: Edition) -> str:
    """A paper as one HTML file.

    Parameters
    ----------
    paper : Paper
        What to write.
    edition : Edition
        Of which plan, in which units.

    Returns
    -------
    html : str
        Without scripts, and without anything to fetch.
    """
    verdict = edition.verdict_words
    loud = f'<p class="loud">{written(verdict)}</p>' if verdict else ""
    body = "".join(_leaf(leaf, edition) for leaf in paper.leaves)
    title = written(f"{paper.title}: {edition.plan_words}")
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{title}</title><style>{_STYLE}</style></head><body>"
        f'<header><h1 dir="auto">{title}</h1>{loud}<p class="quiet">{written(CAUTION)}</p>'
        f"</header>{body}<footer><p>{written(edition.identity)}</p></footer></body></html>\n"
    )


def _leaf(leaf: Leaf, edition: Edition) -> str:
    stamp = ""
    if leaf.stamp:
        because = written(f"{leaf.stamp}: {'; '.join(leaf.because)}")
        stamp = (
            f'<p class="loud">{because}</p>'
            f'<div class="stamp" aria-hidden="true">{written(leaf.stamp)}</div>'
        )
    blocks = "".join("".join(_block(block, edition)) for block in leaf.blocks)
    return f'<section><h2 dir="auto">{written(leaf.title)}</h2>{stamp}{blocks}</section>'


def _block(block: Block, edition: Edition) -> Iterator[str]:
    match block:
        case Heading():
            level = min(block.level + 2, 6)
            yield f'<h{level} dir="auto">{written(block.words)}</h{level}>'
        case Words():
            words = written(block.words)
            if block.weight is Weight.STRONG:
                words = f"<strong>{words}</strong>"
            kind = {Weight.LOUD: ' class="loud"', Weight.QUIET: ' class="quiet"'}
            weight = Weight.LOUD if _is_loud(block.words) else block.weight
            yield f'<p dir="auto"{kind.get(weight, "")}>{words}</p>'
        case Facts():
            yield "<table>"
            for name, value in block.rows:
                loud = ' class="loud"' if _is_loud(value) or _is_loud(name) else ""
                yield f'<tr><th dir="auto">{written(name)}</th>'
                yield f'<td dir="auto"{loud}>{written(value)}</td></tr>'
            yield "</table>"
        case Grid():
            yield from _grid(block, edition)
        case Picture():
            yield _figure(block)
        case Ticks():
            items = (f'<li dir="auto"><span class="box"></span>{written(i)}</li>'
                     for i in block.items)  # fmt: skip
            yield f"<ul>{''.join(items)}</ul>"
        case Signing():
            yield from _signing(block)


def _figure(picture: Picture) -> str:
    svg = _STEERING.sub("", picture.svg)
    said = written(picture.caption)
    return f'<figure>{svg}<figcaption dir="auto">{said}</figcaption></figure>'


def _is_loud(words: str) -> bool:
    return any(words.startswith(start) for start in LOUD)


def _grid(grid: Grid, edition: Edition) -> Iterator[str]:
    if grid.name:
        yield f'<h4 dir="auto">{written(grid.name)}</h4>'
    heads = "".join(
        f'<th dir="auto">{written(head_of(column, edition.say))}</th>'
        for column in grid.columns
    )
    yield f"<table><thead><tr>{heads}</tr></thead><tbody>"
    for row in grid.rows:
        cells = (_cell(c, v, edition) for c, v in zip(grid.columns, row, strict=True))
        yield f"<tr>{''.join(cells)}</tr>"
    yield "</tbody></table>"
    for note in grid.notes:
        yield f'<p class="quiet" dir="auto">{written(note)}</p>'


def _cell(column: Column, cell: GridCell, edition: Edition) -> str:
    words = cell_words(column, cell, edition.say)
    kind = "loud" if _is_loud(words) else "pen" if column.blank else ""
    if not kind and column.kind is not None:
        kind = "n"
    marked = f' class="{kind}"' if kind else ""
    return f'<td dir="auto"{marked}>{written(words)}</td>'


def _signing(block: Signing) -> Iterator[str]:
    yield "<table><thead><tr><th></th><th></th><th>name</th><th>time</th><th>signature</th>"
    yield "</tr></thead><tbody>"
    for row in block.rows:
        yield f"<tr><td><strong>{written(row.mark)}</strong></td>"
        for words in (row.what, row.name, row.time, row.note):
            yield f'<td dir="auto">{written(words)}</td>'
        yield "</tr>"
    yield "</tbody></table>"
