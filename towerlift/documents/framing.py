"""The framer's sheets: nesting tolerance, cutting, shims and prices."""

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from towerlift.documents.benches import Framing
from towerlift.documents.sheets import Cell, Table, write_csv, write_xlsx
from towerlift.nesting.answers import (
    FaceChance,
    Paring,
    Price,
    Rates,
    face_chances,
    pare_list,
    price_list,
)
from towerlift.nesting.bench import Bench, Setting
from towerlift.nesting.faces import FaceGaps
from towerlift.nesting.margins import Margin
from towerlift.nesting.movement import FACES
from towerlift.nesting.shims import Shim, guide_of, shim_list
from towerlift.plan.bodies import Face

CAUTION = (
    "An aid to planning. It does not replace a licensed engineer and a competent rigger; "
    "local codes govern."
)
SWELL_AT = (0.04, 0.08)
STEP_TAPER = 0.1
"""A change steeper than this is a step of the masonry, not a taper to plane. [1]"""


def _mm(value: float | None) -> float | None:
    return None if value is None or not np.isfinite(value) else round(1000.0 * value, 1)


TOLERANCE_HEADS = (
    "section", "face", "against", "verdict",
    "nominal reach [mm]", "as built [mm]",
    "swelling at +4 % [mm]", "swelling at +8 % [mm]",
    "budget [mm]", "least gap [mm]", "to spare [mm]",
    "heel [m]", "height z [m]", "stage", "member",
    "left at worst [mm]", "left by root-sum-square [mm]", "left by sampling, 0.135 % [mm]",
    "chance of touching", "not above, 95 % [1]",
)  # fmt: skip


def tolerance_sheet(
    bench: Bench,
    setting: Setting,
    chances: Sequence[FaceChance],
    *,
    margins: Sequence[Margin] = (),
) -> Table:
    """The nesting tolerance sheet of a section.

    Parameters
    ----------
    bench : Bench
        The section.
    setting : Setting
        What is turned on the bench.
    chances : sequence of FaceChance
        Three ways to add, by face.
    margins : sequence of Margin
        Certified gaps of the whole raise; those of this section to other bodies than
        the masonry are added.

    Returns
    -------
    table : Table
        A row for each face, then one for each other body.
    """
    gaps = bench.gaps(setting)
    by_face = {each.face: each for each in chances}
    rows = [
        _face_row(bench, setting, gaps, (k, by_face.get(face))) for k, face in enumerate(FACES)
    ]
    rows += [
        _margin_row(margin)
        for margin in margins
        if margin.moving == bench.section.name and margin.against != "shaft"
    ]
    notes = [
        "To spare is the gap beyond the budget; below nothing it falls short.",
        "Left at worst, by root-sum-square and by sampling is the gap itself once swelling, "
        "play, tilt, sway, workshop and survey have taken their part; the running clearance "
        "is not taken off.",
        *_swelling_notes(bench),
        CAUTION,
    ]
    if bench.unknown:
        notes.insert(0, f"Not evaluated: {bench.unknown}")
    return Table(
        name=f"tolerance {bench.section.name}",
        heads=TOLERANCE_HEADS,
        rows=tuple(rows),
        notes=tuple(notes),
    )


def _swelling_notes(bench: Bench) -> list[str]:
    growth = bench.growth(SWELL_AT[0])
    if growth.missing:
        return [f"Swelling by moisture is not known: {'; '.join(growth.missing)}"]
    return [
        "Swelling is from the moisture at cutting; above saturation, 30 %, nothing moves.",
        f"Movement across the grain: {'; '.join(growth.sources)}",
    ]


def _face_row(
    bench: Bench,
    setting: Setting,
    gaps: FaceGaps,
    which: tuple[int, FaceChance | None],
) -> tuple[Cell, ...]:
    k, chance = which
    face = FACES[k]
    worst = gaps.worst(face)
    nominal = bench.reach(setting, as_drawn=True).farthest[:, k].max()
    built = bench.reach(setting).farthest[:, k].max()
    swell = [_swell(bench, face, change) for change in SWELL_AT]
    if worst is None:
        return (bench.section.name, str(face), "shaft", "not evaluated", _mm(nominal),
                _mm(built), *swell, *([None] * (len(TOLERANCE_HEADS) - 8)))  # fmt: skip
    row = worst[0]
    spare = float(gaps.spare[worst])
    verdict = "passes" if spare >= 0 else "falls short"
    stages = {travel.passage: travel.stage for travel in bench.travels}
    return (
        bench.section.name,
        str(face),
        "shaft",
        "not evaluated" if bench.unknown else verdict,
        _mm(nominal),
        _mm(built),
        *swell,
        _mm(float(gaps.need[worst])),
        _mm(float(gaps.gap[worst])),
        _mm(spare),
        round(float(gaps.heel[worst]), 2),
        round(float(gaps.edges[row : row + 2].mean()), 2),
        stages[int(gaps.passage[worst])],
        bench.drawn.marks[int(gaps.member[worst])],
        *_three_ways(chance),
    )


def _swell(bench: Bench, face: Face, change: float) -> Cell:
    growth = bench.growth(change)
    return "not known" if growth.missing else _mm(growth.sides[face])


def _three_ways(chance: FaceChance | None) -> tuple[Cell, ...]:
    if chance is None:
        return (None,) * 5
    touching = chance.sampled.touching
    return (
        _mm(chance.stack.worst_case),
        _mm(chance.stack.root_sum_square),
        _mm(chance.sampled.low),
        touching.share,
        touching.high,
    )


def _margin_row(margin: Margin) -> tuple[Cell, ...]:
    spare = margin.spare
    verdict = "not evaluated" if spare is None else "passes" if spare >= 0 else "falls short"
    across = margin.opposite.within(margin.against)
    other = margin.against if across == margin.against else f"{margin.against}: {across}"
    return (
        margin.moving,
        margin.face,
        other,
        verdict,
        *([None] * 4),
        None if margin.budget is None else _mm(margin.budget.total),
        _mm(margin.gap),
        _mm(spare),
        round(margin.heel, 2),
        round(margin.where[2], 2),
        margin.stage,
        margin.label.within(margin.moving),
        *([None] * 5),
    )


def pare_sheet(section: str, parings: Sequence[Paring], *, short: bool) -> Table:
    """The cutting list: what comes off which piece.

    Parameters
    ----------
    section : str
        Which section.
    parings : sequence of Paring
        From the bench.
    short : bool
        Whether the section falls short somewhere.

    Returns
    -------
    table : Table
        Deepest first.
    """
    rows = tuple(
        (p.mark, p.part, str(p.face), _mm(p.depth), _mm(p.gap), _mm(p.need),
         round(p.height, 2), round(p.heel, 2), p.stage)
        for p in parings
    )  # fmt: skip
    notes = [CAUTION]
    if not parings:
        notes.insert(
            0,
            "No paring that a piece can bear cures what falls short: see the price list."
            if short
            else "Nothing need be pared.",
        )
    return Table(
        name=f"pare {section}",
        heads=("piece", "kind", "side", "off [mm]", "gap now [mm]", "budget [mm]",
               "height z [m]", "heel [m]", "stage"),
        rows=rows,
        notes=tuple(notes),
    )  # fmt: skip


def shim_sheet(section: str, shims: Sequence[Shim]) -> Table:
    """The shim list: packing behind the runners by face and height.

    Parameters
    ----------
    section : str
        Which section runs on them.
    shims : sequence of Shim
        By face, lowest first.

    Returns
    -------
    table : Table
        With the taper to the next height, and what must be cut where there is no room.
    """
    rows = []
    for shim in shims:
        taper: Cell = None
        if shim.taper is not None:
            step = abs(shim.taper) > STEP_TAPER
            taper = "step" if step else round(1000.0 * shim.taper, 1)
        cut = None if shim.packing >= 0 else _mm(-shim.packing)
        packing = _mm(shim.packing) if shim.packing >= 0 else None
        rows.append((str(shim.face), shim.height, _mm(shim.gap), packing, taper, cut))
    return Table(
        name=f"shims {section}",
        heads=("face", "height z [m]", "gap [mm]", "packing [mm]",
               "taper to the next height [mm/m]", "masonry to cut [mm]"),
        rows=tuple(rows),
        notes=("A step is an edge of the masonry: pack either side of it by itself.", CAUTION),
    )  # fmt: skip


def price_sheet(section: str, prices: Sequence[Price], rates: Rates) -> Table:
    """What each change costs and buys.

    Parameters
    ----------
    section : str
        Which section.
    prices : sequence of Price
        Best first.
    rates : Rates
        Hours they were reckoned with.

    Returns
    -------
    table : Table
        In the order given.
    """
    rows = tuple(
        (p.what, "yes" if p.enough else "no", _mm(p.buys), _mm(p.spare), round(p.hours, 1),
         round(p.hours_per_mm, 2), p.takes)
        for p in prices
    )  # fmt: skip
    return Table(
        name=f"prices {section}",
        heads=("change", "enough by itself", "buys [mm]", "to spare after [mm]", "work [h]",
               "work for each mm [h]", "costs elsewhere"),
        rows=rows,
        notes=(f"Hours: {rates.source}.", CAUTION),
    )  # fmt: skip


def framing_tables(
    framing: Framing, *, margins: Sequence[Margin] = (), rates: Rates | None = None
) -> Iterator[Table]:
    """Every sheet of a framer, section by section, as planned.

    Parameters
    ----------
    framing : Framing
        Benches of a plan.
    margins : sequence of Margin
        Certified gaps of the whole raise, where it was checked.
    rates : Rates or None
        Hours of work.

    Yields
    ------
    table : Table
        Tolerance, cutting, shims and prices of each section.
    """
    rates = rates or Rates()
    planned = Setting()
    for bench in framing.benches:
        name = bench.section.name
        chances = face_chances(bench, planned)
        yield tolerance_sheet(bench, planned, chances, margins=margins)
        gaps = bench.gaps(planned)
        worst = gaps.worst()
        short = worst is not None and bool(gaps.spare[worst] < 0)
        yield pare_sheet(name, pare_list(bench, planned), short=short)
        guide = guide_of(framing.plan, name)
        if guide is not None:
            heights = bench.walls.heights.tolist()
            shims = shim_list(bench.walls, guide, bench.line(planned), heights)
            yield shim_sheet(name, shims)
        yield price_sheet(name, price_list(bench, planned, rates=rates), rates)


def write_framing(
    framing: Framing, folder: Path, *, margins: Sequence[Margin] = ()
) -> tuple[Path, ...]:
    """Write a framer's sheets as one workbook and as CSV.

    Parameters
    ----------
    framing : Framing
        Benches of a plan.
    folder : Path
        Where to; nothing in it is written over.
    margins : sequence of Margin
        Certified gaps of the whole raise, where it was checked.

    Returns
    -------
    paths : tuple of Path
        The workbook first.

    Raises
    ------
    FileExistsError
        If a file of the same name is there.
    """
    tables = tuple(framing_tables(framing, margins=margins))
    book = folder / "framing.xlsx"
    write_xlsx(tables, book)
    paths = [book]
    for table in tables:
        path = folder / f"{'-'.join(plain_name(table.name).split())}.csv"
        write_csv(table, path)
        paths.append(path)
    return tuple(paths)


def plain_name(name: str) -> str:
    """A name that any file system takes."""
    return "".join(c if c.isalnum() or c in " -_" else " " for c in name)
