"""Two plans compared, as tables for paper and spreadsheet, as text and as HTML."""

from collections.abc import Sequence
from html import escape

from towerlift.documents.comparing import Became, Comparison, FindingChange
from towerlift.documents.sheets import Cell, Table
from towerlift.findings import Finding, Verdict

_LOUD = {
    Verdict.FAIL: "FAIL",
    Verdict.NOT_EVALUATED: "NOT EVALUATED",
    Verdict.PASS: "pass",
}
FINDING_HEADS = (
    "became",
    "check",
    "subject",
    "stage",
    "verdict before",
    "verdict after",
    "value before",
    "value after",
    "limit before",
    "limit after",
    "margin before",
    "margin after",
    "margin grew by",
    "unit",
    "why",
    "overruled by",
)


def comparison_words(comparison: Comparison) -> tuple[str, ...]:
    """What changed, in a few sentences.

    Parameters
    ----------
    comparison : Comparison
        Of two plans.

    Returns
    -------
    sentences : tuple of str
        The later plan's verdict first.
    """
    said = []
    for side, word in ((comparison.after, "Now"), (comparison.before, "Before")):
        failed, left_open, passed = side.counts
        said.append(
            f"{word}: {side.name}, content {side.content}, {side.verdict}: {failed} fail, "
            f"{left_open} not evaluated, {passed} pass."
        )
    added = sum(row.added for row in comparison.rows)
    said.append(
        f"{len(comparison.keys)} keys changed, {added} rows added, "
        f"{len(comparison.rows) - added} taken out."
    )
    counts = [f"{comparison.count(b)} {b}" for b in Became if comparison.count(b)]
    said.append(
        f"Findings: {', '.join(counts) or 'none changed'}; {comparison.n_same} as they were."
    )
    return tuple(said)


def comparison_tables(comparison: Comparison) -> tuple[Table, ...]:
    """Findings, keys and rows that changed.

    Parameters
    ----------
    comparison : Comparison
        Of two plans.

    Returns
    -------
    tables : tuple of Table
        Three, for `write_xlsx`, `write_csv`, `table_text` or `table_html`.
    """
    notes = comparison_words(comparison)
    keys: list[tuple[Cell, ...]] = [
        (c.where or "the plan", c.key, c.before, c.after, c.difference, c.unit)
        for c in comparison.keys
    ]
    rows: list[tuple[Cell, ...]] = [
        ("added" if row.added else "taken out", row.where, row.name) for row in comparison.rows
    ]
    return (
        Table(
            name="findings changed",
            heads=FINDING_HEADS,
            rows=tuple(_finding_row(change) for change in comparison.findings),
            notes=notes,
        ),
        Table(
            name="keys changed",
            heads=("where", "key", "before", "after", "difference", "unit"),
            rows=tuple(keys),
            notes=notes,
        ),
        Table(
            name="rows changed",
            heads=("change", "where", "row"),
            rows=tuple(rows),
            notes=notes,
        ),
    )


def _finding_row(change: FindingChange) -> tuple[Cell, ...]:
    finding, old, new = change.finding, change.before, change.after
    overrule = finding.overrule
    return (
        str(change.became),
        finding.check,
        finding.subject,
        finding.stage or "whole raise",
        _verdict(old),
        _verdict(new),
        None if old is None else old.value,
        None if new is None else new.value,
        None if old is None else old.limit_in_force.value,
        None if new is None else new.limit_in_force.value,
        None if old is None else old.margin,
        None if new is None else new.margin,
        change.gain,
        "" if finding.limit.unit == "1" else finding.limit.unit,
        finding.why,
        None if overrule is None else f"{overrule.by}: {overrule.note}",
    )


def _verdict(finding: Finding | None) -> str:
    return "none" if finding is None else _LOUD[finding.verdict]


def _cell(cell: Cell) -> str:
    if cell is None:
        return ""
    return f"{cell:.6g}" if isinstance(cell, float) else str(cell)


def table_text(table: Table) -> str:
    """A table as lines of text, columns apart by two spaces.

    Parameters
    ----------
    table : Table
        What to write.

    Returns
    -------
    text : str
        Name, notes, heads and rows; control characters become spaces.
    """
    grid = [list(table.heads), *([_plain(_cell(c)) for c in row] for row in table.rows)]
    widths = [max(len(row[k]) for row in grid) for k in range(len(table.heads))]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in grid
    ]
    return "\n".join([table.name, *(_plain(note) for note in table.notes), *lines]) + "\n"


def _plain(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text)


def table_html(table: Table) -> str:
    """A table as HTML.

    Parameters
    ----------
    table : Table
        What to write.

    Returns
    -------
    html : str
        One table element, everything in it escaped.
    """
    heads = "".join(f'<th scope="col">{escape(head)}</th>' for head in table.heads)
    rows = "".join(f"<tr>{_html_cells(row)}</tr>" for row in table.rows)
    notes = "<br>".join(escape(_plain(note)) for note in table.notes)
    return (
        f"<table><caption>{escape(table.name)}<br>{notes}</caption>"
        f"<thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>"
    )


def _html_cells(row: Sequence[Cell]) -> str:
    return "".join(f"<td>{escape(_plain(_cell(cell)))}</td>" for cell in row)
