"""The roofer's work window sheet: which band, which day, how far to lean."""

from collections.abc import Iterator

import numpy as np

from towerlift.documents.blocks import (
    Block,
    Column,
    Grid,
    GridCell,
    Leaf,
    Paper,
    Picture,
    Signature,
    Signing,
    Weight,
    Words,
)
from towerlift.documents.edition import Edition
from towerlift.documents.pictures import ON_CARDS
from towerlift.documents.say import NOTHING, Kind
from towerlift.documents.windows import window_blocks
from towerlift.drawings.spire_roll import Band, spire_roll
from towerlift.motion.passages import Passage
from towerlift.motion.timeline import timeline
from towerlift.plan.bodies import FitOut
from towerlift.plan.work import Activity, Fit

LEAF_BOARD = 0.30
"""What is left between leaf board and work, common practice. [m]"""
LOWEST, HIGHEST = 0.2, 2.0
"""Reach above the deck, common practice. [m]"""


def work_window_sheet(edition: Edition) -> Paper:
    """The work window sheet.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    paper : Paper
        Bands, dates, heels, reach, and the spire unrolled.
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
    yield Grid(
        name="Bands, in the order in which they are laid",
        columns=(
            Column(head="band"), Column(head="date and hours", width=1.6),
            Column(head="heel", kind=Kind.HEIGHT), Column(head="s from", kind=Kind.HEIGHT),
            Column(head="to", kind=Kind.HEIGHT), Column(head="area", kind=Kind.AREA),
            Column(head="mass", kind=Kind.MASS), Column(head="half width", kind=Kind.HEIGHT),
            Column(head="reach from deck edge", kind=Kind.HEIGHT),
            Column(head="leaf board", kind=Kind.HEIGHT),
            Column(head="above deck", width=1.2), Column(head="off by", width=0.8),
            Column(head="tags off", blank=True),
        ),
        rows=tuple(_band_row(edition, item) for item in items),
        notes=(
            "Heel: of the section while the band is laid. Half width: at the foot of the band. "
            f"Reach: from the edge of the deck that is in to the face; leaf board: the reach "
            f"less {edition.say.size(LEAF_BOARD)}. Above deck: the band should lie between "
            f"{edition.say.size(LOWEST)} and {edition.say.size(HIGHEST)} above it. Common "
            "practice, no published source. Bundles of shingles: by the roofer, from the area.",
            "Leave the lowest two courses of each band nailed at the head only, so that the "
            "next band's top course slides under; close each band for weather before leaving.",
        ),
    )  # fmt: skip
    yield from window_blocks(edition)
    yield from _rolled(edition, items)
    yield Signing(rows=(Signature(mark="H13", what="Tags counted off, before the next move"),))


def _activity(edition: Edition, item: FitOut) -> Activity | None:
    return next((a for a in edition.plan.activities if a.fits == item.name), None)


def _passage(edition: Edition, item: FitOut) -> Passage | None:
    return next(
        (
            p
            for p in edition.outcome.raise_.passages
            if p.step == "fit" and p.subject == item.name
        ),
        None,
    )


def _band_row(edition: Edition, item: FitOut) -> tuple[GridCell, ...]:
    say, work, passage = edition.say, _activity(edition, item), _passage(edition, item)
    heel = None if passage is None else passage.standing[item.on].heel_to
    shell = item.shell
    foot = None if shell is None else shell.foot
    head = None if shell is None else shell.head
    half = None if shell is None else shell.half_foot + shell.thickness
    deck = _deck(edition, passage)
    reach = None if deck is None or half is None else deck[1] - half
    board = None if reach is None else max(reach - LEAF_BOARD, 0.0)
    when = "NOT ANSWERED: no activity fits it"
    if work is not None:
        when = f"{say.when(work.starts)} to {say.clock(work.ends)}"
    off = _off_by(edition, item, work)
    return (item.name, when, heel, foot, head, item.area,
            edition.outcome.shapes.fit_out[item.name].mass.mass, half,
            "NOT EVALUATED" if reach is None else reach,
            "NOT EVALUATED" if board is None else board,
            _above(edition, deck, heel, (foot, head)), off, "")  # fmt: skip


def _deck(edition: Edition, passage: Passage | None) -> tuple[float, float] | None:
    """Top of the highest deck that is in, and the least distance of it from the axis. [m]"""
    if passage is None:
        return None
    found = []
    line = edition.plan.plumb_line
    for fixture in edition.plan.fixtures:
        if fixture.kind == "deck" and fixture.name in passage.fixtures and fixture.members:
            solid = edition.outcome.shapes.fixtures[fixture.name]
            corners = solid.vertices[solid.faces]
            top = float(corners[..., 2].max())
            away = np.abs(corners[..., :2] - np.array([line.x, line.y]))
            # Square distance from the axis of the nearest corner of any board.
            found.append((top, float(away.max(axis=-1).min())))
    decks = [each for each in found if each[1] > 0]
    return max(decks, default=None)


def _above(
    edition: Edition,
    deck: tuple[float, float] | None,
    heel: float | None,
    band: tuple[float | None, float | None],
) -> str:
    if deck is None or heel is None or band[0] is None or band[1] is None:
        return "NOT EVALUATED"
    low, high = heel + band[0] - deck[0], heel + band[1] - deck[0]
    said = f"{edition.say.size(low)} to {edition.say.size(high)}"
    within = low >= LOWEST - 0.005 and high <= HIGHEST + 0.005
    return said if within else f"{said}: OUT OF REACH"


def _off_by(edition: Edition, item: FitOut, work: Activity | None) -> str:
    """Start of the next span in which the section, or what picks it up, moves."""
    if work is None:
        return NOTHING
    for span in timeline(edition.plan, edition.outcome.raise_):
        if span.begins is None or span.begins < work.ends:
            continue
        if span.unknown:
            return "NOT EVALUATED"
        if item.on in (*span.moving, *span.coming) or (
            span.passage is not None and span.passage.step == "clear the column"
        ):
            return edition.say.when(span.begins)
    return "nothing moves after it"


def _rolled(edition: Edition, items: list[FitOut]) -> Iterator[Block]:
    bands = []
    for item in items:
        work, shell = _activity(edition, item), item.shell
        if shell is not None:
            date = "no date" if work is None else edition.say.day(work.starts)
            bands.append(
                Band(
                    name=item.name, when=date, foot=shell.foot, head=shell.head,
                    half_foot=shell.half_foot, half_head=shell.half_head,
                )
            )  # fmt: skip
    if bands:
        svg = spire_roll(tuple(bands), text=ON_CARDS)
        yield Picture(
            svg=svg, caption="The spire unrolled, with the day of each band", most=120
        )
