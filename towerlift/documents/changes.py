"""What changed since an earlier version of a plan, as a page and as a workbook."""

from html import escape
from pathlib import Path

from towerlift.documents.comparing import Comparison, compare
from towerlift.documents.comparison_sheets import (
    comparison_tables,
    comparison_words,
    table_html,
)
from towerlift.documents.framing import CAUTION
from towerlift.documents.sheets import xlsx_bytes
from towerlift.workflow import Outcome

NAMES = ("what-changed.html", "what-changed.xlsx")

_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{title}</title>
<style>
body {{font: 15px/1.4 sans-serif; max-width: 1100px; margin: 1.5em auto; padding: 0 1em}}
table {{border-collapse: collapse; font-size: 13px; margin: 0 0 1.5em}}
th, td {{border: 1px solid #888; padding: 3px 6px; text-align: left; vertical-align: top}}
caption {{font-weight: bold; text-align: left; padding: 4px 0}}
</style></head><body>
<h1>{title}</h1>
<p><b>{caution}</b></p>
{words}
{tables}
</body></html>
"""


def changes_page(comparison: Comparison) -> str:
    """What changed between two checked versions of a plan, as one HTML page.

    Parameters
    ----------
    comparison : Comparison
        Of the earlier with the later.

    Returns
    -------
    page : str
        Sentences first, then every change in numbers and in findings.
    """
    tables = comparison_tables(comparison)
    return _PAGE.format(
        title=f"What changed in {escape(comparison.after.name)}",
        caution=escape(CAUTION),
        words="\n".join(f"<p>{escape(each)}</p>" for each in comparison_words(comparison)),
        tables="\n".join(
            f"<h2>{escape(table.name)}</h2>\n{table_html(table)}" for table in tables
        ),
    )


def write_changes(
    before: Outcome, after: Outcome, folder: Path, *, replace: bool = False
) -> tuple[Path, ...]:
    """Write what changed between two checked versions of a plan.

    Parameters
    ----------
    before, after : Outcome
        The earlier and the later.
    folder : Path
        Made if it is not there.
    replace : bool
        Whether files of the same names may be replaced.

    Returns
    -------
    paths : tuple of Path
        A page and a workbook, named by `NAMES`.

    Raises
    ------
    FileExistsError
        If a file of one of the names is there and `replace` is not set; nothing is
        written then.
    OSError
        If the folder cannot be written to.
    """
    paths = tuple(folder / name for name in NAMES)
    there = [path.name for path in paths if path.exists()]
    if there and not replace:
        raise FileExistsError(0, f"already there: {', '.join(there)}", str(folder))
    comparison = compare(before, after)
    folder.mkdir(parents=True, exist_ok=True)
    paths[0].write_text(changes_page(comparison), encoding="utf-8")
    paths[1].write_bytes(xlsx_bytes(comparison_tables(comparison)))
    return paths
