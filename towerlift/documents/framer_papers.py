"""The framer's papers: nesting tolerance, cutting and shims, from the framer's tables."""

from collections.abc import Iterator, Sequence

import numpy as np

from towerlift.checks.clearance import RUNNING
from towerlift.checks.wind import HAULING as GUST
from towerlift.documents.benches import passage_words
from towerlift.documents.blocks import (
    Block,
    Column,
    Grid,
    GridCell,
    Heading,
    Leaf,
    Paper,
    Picture,
    Weight,
    Words,
)
from towerlift.documents.edition import Edition
from towerlift.documents.framing import pare_sheet, price_sheet, shim_sheet, tolerance_sheet
from towerlift.documents.pictures import packing_wall, worst_cut
from towerlift.documents.rigging_papers import openings_grid
from towerlift.documents.say import Kind
from towerlift.documents.sheets import Cell, Table
from towerlift.drawings.gap_map import MapNames, MapSize, gap_map
from towerlift.nesting.answers import Rates, face_chances, pare_list, price_list
from towerlift.nesting.bench import Bench, Setting, build_bench
from towerlift.nesting.shims import guide_of, shim_list
from towerlift.plan.limits import limit_in_plan
from towerlift.rig.out_of_true import free_hang_curves

_KINDS = {"mm": (Kind.SIZE, 1e-3), "m": (Kind.HEIGHT, 1.0)}
SENTENCE = 16
FIGURES = ("face", "against", "verdict", "nominal reach [mm]", "as built [mm]",
           "swelling at +4 % [mm]", "swelling at +8 % [mm]", "budget [mm]",
           "least gap [mm]", "to spare [mm]")  # fmt: skip
PLACES = ("face", "against", "least gap [mm]", "heel [m]", "height z [m]", "stage", "member")
CHANCES = ("face", "left at worst [mm]", "left by root-sum-square [mm]",
           "left by sampling, 0.135 % [mm]", "chance of touching",
           "not above, 95 % [1]")  # fmt: skip


def benches_of(edition: Edition) -> tuple[Bench, ...]:
    """The framer's benches of a checked plan.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    benches : tuple of Bench
        Outermost section first, without reckoning again what the checks have reckoned.
    """
    return edition.once("benches", lambda: _benches(edition))


def _benches(edition: Edition) -> tuple[Bench, ...]:
    plan, outcome = edition.plan, edition.outcome
    gust = limit_in_plan(plan, GUST).value
    passages = outcome.raise_.passages
    free = free_hang_curves(plan, outcome.shapes, passages, outcome.hangs, gust)
    running = limit_in_plan(plan, RUNNING).value / 1000.0
    shop = outcome.nesting.workshop
    found = (build_bench(shop, s.name, running=running, free=free) for s in plan.sections)
    return tuple(bench for bench in found if bench is not None)


def grid_of(table: Table, heads: Sequence[str] = (), *, name: str = "") -> Grid:
    """A table of the framer as a grid, its units known.

    Parameters
    ----------
    table : Table
        Heads with units in brackets.
    heads : sequence of str
        Those wanted, in order; empty for all.
    name : str
        Of the grid; empty for the table's own.

    Returns
    -------
    grid : Grid
        Numbers in SI, so that they can be printed in any unit.
    """
    wanted = [table.heads.index(head) for head in heads or table.heads]
    said = [
        max((len(cell) for row in table.rows if isinstance(cell := row[p], str)), default=0)
        for p in wanted
    ]
    columns, scales = [], []
    for place, longest in zip(wanted, said, strict=True):
        head, _, unit = table.heads[place].partition(" [")
        kind, scale = _KINDS.get(unit.rstrip("]"), (None, 1.0))
        # Marks take what they need; beside sentences their heads are broken at blanks, so
        # that the sentences have room.
        width = 0.0
        if longest > SENTENCE:
            width = min(longest / 12, 4.0)
        elif max(said) > SENTENCE:
            width = max(longest, *(len(word) for word in table.heads[place].split())) / 6
        columns.append(
            Column(head=head if kind else table.heads[place], kind=kind, width=width)
        )
        scales.append(scale)
    rows = tuple(
        tuple(_cell(row[p], s) for p, s in zip(wanted, scales, strict=True))
        for row in table.rows
    )
    return Grid(name=name or table.name, columns=tuple(columns), rows=rows, notes=table.notes)


def _cell(cell: Cell, scale: float) -> GridCell:
    if isinstance(cell, str):
        return {"falls short": "FAIL, falls short", "not evaluated": "NOT EVALUATED"}.get(
            cell, cell
        )
    return None if cell is None else scale * float(cell)


def tolerance_paper(edition: Edition) -> Paper:
    """The nesting tolerance sheet.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    paper : Paper
        A leaf for each section.
    """
    leaves = [
        Leaf(
            title=f"Nesting of the {bench.section.name}",
            blocks=tuple(_tolerance(edition, bench)),
        )
        for bench in benches_of(edition)
    ]
    return Paper(
        name="nesting-tolerance",
        title="Nesting tolerance sheet",
        leaves=tuple(leaves) or (_nothing("no section passes a surveyed shaft"),),
        letters=10.0,
    )


def _nothing(why: str) -> Leaf:
    words = Words(words=f"NOT EVALUATED: {why}", weight=Weight.LOUD)
    return Leaf(title="Not evaluated", blocks=(words,))


def _tolerance(edition: Edition, bench: Bench) -> Iterator[Block]:
    setting, name = Setting(), bench.section.name
    chances = face_chances(bench, setting)
    margins = edition.outcome.nesting.margins
    table = tolerance_sheet(bench, setting, chances, margins=margins)
    shaft = Table(
        name=table.name,
        heads=table.heads,
        rows=tuple(row for row in table.rows if row[2] == "shaft"),
        notes=table.notes,
    )
    bare = Table(name=table.name, heads=table.heads, rows=shaft.rows)
    yield grid_of(bare, FIGURES, name=f"{name} against the masonry, face by face")
    yield grid_of(bare, PLACES, name="Where it is nearest, and by which member")
    yield grid_of(shaft, CHANCES, name="What is left of the gap, three ways")
    gaps = bench.gaps(setting)
    names = MapNames(marks=bench.drawn.marks, when=passage_words(edition.outcome.raise_))
    svg = gap_map(gaps, names, MapSize(width=620.0, height=560.0, text=13.0))
    yield Picture(
        svg=svg, caption=f"Gap map of the {name}: shaft unrolled", share=0.85, most=150
    )
    yield from worst_cut(edition, bench)
    yield from _other_bodies(table)


def _other_bodies(table: Table) -> Iterator[Block]:
    """Of everything else that the section passes, where it leaves least."""
    spare, against = table.heads.index("to spare [mm]"), table.heads.index("against")
    worst: dict[str, tuple[Cell, ...]] = {}
    for row in table.rows:
        if row[2] == "shaft":
            continue
        other = str(row[against]).partition(":")[0]
        kept = worst.get(other)
        if kept is None or _less(row[spare], kept[spare]):
            worst[other] = row
    if worst:
        rows = tuple(sorted(worst.values(), key=lambda row: _rank(row[spare])))
        short = Table(name=table.name, heads=table.heads, rows=rows)
        heads = ("against", "member", "face", "verdict", "budget [mm]", "least gap [mm]",
                 "to spare [mm]", "heel [m]", "stage")  # fmt: skip
        yield grid_of(
            short, heads, name="Against everything else it passes, the tightest of each"
        )


def _rank(cell: Cell) -> float:
    return float(cell) if isinstance(cell, float | int) else -np.inf


def _less(one: Cell, other: Cell) -> bool:
    return _rank(one) < _rank(other)


def cutting_paper(edition: Edition) -> Paper:
    """The cutting and shim list.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    paper : Paper
        What comes off, what goes behind the runners, and what each change would buy.
    """
    leaves = [
        Leaf(
            title=f"Cutting and shims for the {bench.section.name}",
            blocks=tuple(_cutting(edition, bench)),
        )
        for bench in benches_of(edition)
    ]
    if edition.plan.openings:
        blocks = (openings_grid(edition.plan),)
        leaves.append(Leaf(title="Openings for ropes", blocks=blocks))
    return Paper(
        name="cutting-and-shims",
        title="Cutting and shim list",
        leaves=tuple(leaves) or (_nothing("no section passes a surveyed shaft"),),
        letters=10.0,
    )


def _cutting(edition: Edition, bench: Bench) -> Iterator[Block]:
    setting, name = Setting(), bench.section.name
    worst = bench.gaps(setting).worst()
    short = worst is not None and bool(bench.gaps(setting).spare[worst] < 0)
    table = pare_sheet(name, pare_list(bench, setting), short=short)
    if table.rows:
        yield grid_of(table, name=f"To pare: {name}")
    else:
        yield Words(words=f"{name}: {table.notes[0]}", weight=Weight.STRONG)
    guide = guide_of(edition.plan, name)
    if guide is None:
        yield Words(words=f"No runner guides the {name} on the masonry: nothing to pack.")
    else:
        heights = bench.walls.heights.tolist()
        shims = shim_list(bench.walls, guide, bench.line(setting), heights)
        for face in dict.fromkeys(str(shim.face) for shim in shims):
            own = [shim for shim in shims if str(shim.face) == face]
            table = shim_sheet(name, own)
            last = face == str(shims[-1].face)
            notes = table.notes if last else ()
            bare = Table(name=table.name, heads=table.heads, rows=table.rows, notes=notes)
            yield _marked(grid_of(bare, table.heads[1:], name=f"Packing, {face} wall"), face)
        yield from packing_wall(edition, bench)
    yield Heading(words="What each change costs and buys")
    rates = Rates()
    yield grid_of(price_sheet(name, price_list(bench, setting, rates=rates), rates))


def _marked(grid: Grid, face: str) -> Grid:
    """With the mark that is written on each pack, and a box to tick."""
    letter = face[:1].upper()
    return Grid(
        name=grid.name,
        columns=(
            Column(head="mark"),
            *grid.columns,
            Column(head="two a height, in", blank=True),
        ),
        rows=tuple(
            (f"{letter}{number}", *row, "") for number, row in enumerate(grid.rows, start=1)
        ),
        notes=grid.notes,
    )
