"""All papers of a plan, written into a folder."""

from collections.abc import Callable, Iterator
from pathlib import Path

from towerlift.documents.blocks import Block, Leaf, Paper, Weight, Words, grid_table
from towerlift.documents.check_in import check_in_lists
from towerlift.documents.crew_cards import crew_cards
from towerlift.documents.edition import Edition
from towerlift.documents.exclusion_papers import exclusion_chart
from towerlift.documents.findings_list import findings_grid
from towerlift.documents.fonts import printable, unprintable
from towerlift.documents.framer_papers import benches_of, cutting_paper, tolerance_paper
from towerlift.documents.framing import plain_name
from towerlift.documents.lift_plan import lift_plan
from towerlift.documents.lock_papers import lock_certificates
from towerlift.documents.page import paper_html
from towerlift.documents.pictures import drawings_of, sheet_of
from towerlift.documents.press import press_pdf
from towerlift.documents.raising_log import raising_log
from towerlift.documents.recovery import rehearsal_grid
from towerlift.documents.rigging_papers import rigging_list
from towerlift.documents.sheets import Table, xlsx_bytes
from towerlift.documents.stage_cards import stage_cards
from towerlift.documents.summary import client_summary
from towerlift.documents.work_windows import work_window_sheet
from towerlift.drawings import Block as TitleBlock
from towerlift.drawings import Drawing, to_dxf, to_svg
from towerlift.plan.saving import plan_as_toml

PAPERS: tuple[Callable[[Edition], Paper], ...] = (
    client_summary,
    lift_plan,
    stage_cards,
    crew_cards,
    tolerance_paper,
    cutting_paper,
    rigging_list,
    check_in_lists,
    work_window_sheet,
    exclusion_chart,
    lock_certificates,
    raising_log,
)
LISTS, DRAWINGS = "lists.xlsx", "drawings"


def all_papers(edition: Edition) -> tuple[Paper, ...]:
    """Every paper of a plan.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    papers : tuple of Paper
        The client's page first. Letters that no font at hand can print are named at the
        head of each.
    """
    papers = tuple(make(edition) for make in PAPERS)
    missing = unprintable([plan_as_toml(edition.plan)])
    if not missing:
        return papers
    words = (
        "NOT PRINTED: no font on this machine has these letters of the plan, which stand as "
        f"numbers: {', '.join(missing)}"
    )
    return tuple(_headed(paper, Words(words=words, weight=Weight.LOUD)) for paper in papers)


def _headed(paper: Paper, block: Block) -> Paper:
    leaves = tuple(
        Leaf(
            title=leaf.title,
            blocks=(block, *leaf.blocks),
            stamp=leaf.stamp,
            because=leaf.because,
            wide=leaf.wide,
        )
        for leaf in paper.leaves
    )
    return Paper(name=paper.name, title=paper.title, leaves=leaves, letters=paper.letters)


def paper_files(edition: Edition) -> Iterator[tuple[str, bytes]]:
    """Every file of an edition.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Yields
    ------
    name : str
        Of the file.
    content : bytes
        The same each time for the same plan and the same fonts.
    """
    papers = all_papers(edition)
    for paper in papers:
        yield f"{paper.name}.pdf", press_pdf(paper, edition)
        yield f"{paper.name}.html", paper_html(paper, edition).encode("utf-8")
    for name, drawing in drawings_of(edition, benches_of(edition)):
        for ending, content in drawing_files(edition, drawing):
            yield f"{DRAWINGS}/{'-'.join(plain_name(name).split())}.{ending}", content
    yield LISTS, xlsx_bytes(lists_of(papers, edition))


def drawing_files(edition: Edition, drawing: Drawing) -> Iterator[tuple[str, bytes]]:
    """A dimensioned drawing as files, with the block of words that names its plan.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    drawing : Drawing
        For a sheet of the edition's paper.

    Yields
    ------
    ending : str
        "dxf" or "svg".
    content : bytes
        Of the file.
    """
    sheet = sheet_of(edition)
    wide = drawing.width > sheet.width
    block = TitleBlock(
        paper=sheet.landscape if wide else sheet,
        plan=printable(edition.plan.name),
        version=edition.plan.revision or "not stated",
        fingerprint=edition.content,
        stamp="" if edition.outcome.passes else "DO NOT LIFT",
    )
    yield "dxf", to_dxf(drawing, block)
    yield "svg", printable(to_svg(drawing, block)).encode("utf-8")


def lists_of(papers: tuple[Paper, ...], edition: Edition) -> list[Table]:
    """Every list of some papers, for one workbook.

    Parameters
    ----------
    papers : tuple of Paper
        Whose lists.
    edition : Edition
        Of which plan.

    Returns
    -------
    tables : list of Table
        What the workbook is of first, then the findings.
    """
    about = Table(
        name="about",
        heads=("what", "value"),
        rows=(
            ("plan", edition.plan_words),
            ("content", edition.content),
            ("verdict", edition.verdict_words or "every finding passes"),
            ("caution", "see the lift plan; nobody lifts on these lists alone"),
        ),
    )
    more = (findings_grid(edition), rehearsal_grid(edition))
    grids = [*more, *(grid for paper in papers for grid in paper.grids)]
    return [about, *(grid_table(grid, edition.say) for grid in grids)]


def write_documents(
    edition: Edition, folder: Path, *, replace: bool = False
) -> tuple[Path, ...]:
    """Write every paper of a plan as PDF and HTML, and the lists as one workbook.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    folder : Path
        Made if it is not there.
    replace : bool
        Whether files of the same names may be replaced.

    Returns
    -------
    paths : tuple of Path
        What was written.

    Raises
    ------
    FileExistsError
        If a file of one of the names is there and `replace` is not set; nothing is
        written then.
    OSError
        If the folder cannot be written to.
    """
    files = list(paper_files(edition))
    there = [name for name, _ in files if (folder / name).exists()]
    if there and not replace:
        raise FileExistsError(
            0, f"already there: {', '.join(there[:4])}; name another folder, or --replace",
            str(folder),
        )  # fmt: skip
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    (folder / DRAWINGS).mkdir(exist_ok=True)
    for name, content in files:
        path = folder / name
        path.write_bytes(content)
        paths.append(path)
    return tuple(paths)
