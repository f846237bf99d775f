"""The roofer's work window sheet: which band, which day, how far to lean."""

from collections.abc import Iterator

from towerlift.documents.blocks import (
    Block,
    Column,
    Grid,
    Leaf,
    Paper,
    Signature,
    Signing,
    Weight,
    Words,
)
from towerlift.documents.edition import Edition
from towerlift.documents.say import Kind
from towerlift.documents.windows import roof_sheet, window_blocks
from towerlift.plan.bodies import FitOut
from towerlift.plan.work import Fit


def work_window_sheet(edition: Edition) -> Paper:
    """The work window sheet.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    paper : Paper
        Bands, dates, heels, reach, windows, laps, and the spire unrolled.
    """
    leaf = Leaf(title="Bands and windows", blocks=tuple(_blocks(edition)), wide=True)
    return Paper(name="work-windows", title="Work window sheet", leaves=(leaf,), letters=11.0)


def clad_items(edition: Edition) -> list[FitOut]:
    """Cladding of the plan, in the order in which it is laid.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    items : list of FitOut
        Those of kind "cladding".
    """
    order = [
        step.item
        for stage in edition.plan.stages
        for step in stage.steps
        if isinstance(step, Fit)
    ]
    places = {name: n for n, name in enumerate(order)}
    items = [item for item in edition.plan.fit_out if item.kind == "cladding"]
    return sorted(items, key=lambda item: places.get(item.name, len(places)))


def _blocks(edition: Edition) -> Iterator[Block]:
    items = clad_items(edition)
    if not items:
        yield Words(words="The plan holds no cladding.", weight=Weight.STRONG)
        return
    yield from window_blocks(edition)
    if isinstance(roof_sheet(edition), str):
        yield _plainly(edition, items)
    yield Signing(rows=(Signature(mark="H13", what="Tags counted off, before the next move"),))


def _plainly(edition: Edition, items: list[FitOut]) -> Grid:
    """What the plan says of its cladding, where no window can be worked out."""
    shapes = edition.outcome.shapes
    dated = {work.fits: edition.say.when(work.starts) for work in edition.plan.activities}
    return Grid(
        name="Cladding",
        columns=(Column(head="band", width=1), Column(head="planned", width=1),
                 Column(head="area", kind=Kind.AREA), Column(head="mass", kind=Kind.MASS)),
        rows=tuple(
            (i.name, dated.get(i.name, "NOT ANSWERED: no date"), i.area,
             shapes.fit_out[i.name].mass.mass)
            for i in items
        ),
    )  # fmt: skip
