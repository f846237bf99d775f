"""What the framer's panel says: the verdict, and the answers of each tab, as HTML."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from html import escape

from towerlift.documents.framing import pare_sheet, price_sheet, shim_sheet, tolerance_sheet
from towerlift.documents.sheets import Cell, Table
from towerlift.errors import NotEvaluatedError
from towerlift.nesting.answers import (
    FaceChance,
    Rates,
    face_chances,
    pare_list,
    price_list,
    room_to_grow,
)
from towerlift.nesting.asbuilt import as_built_cost
from towerlift.nesting.bench import Bench, Setting
from towerlift.nesting.faces import FaceGaps
from towerlift.nesting.movement import FACES
from towerlift.nesting.shims import guide_of, shim_list
from towerlift.nesting.whole_raise import whole_raise_chance
from towerlift.panels.framing_choice import FramerChoice

SURE = (0.95, 0.99, 0.999)
"""Chances at which the room to grow is told."""


def verdict_html(choice: FramerChoice, gaps: FaceGaps) -> str:
    """What the bench says, in a sentence.

    Parameters
    ----------
    choice : FramerChoice
        Section and setting.
    gaps : FaceGaps
        Of that choice.

    Returns
    -------
    html : str
        Verdict in words, with the member, the place and the numbers.
    """
    bench = choice.bench
    if bench.unknown:
        return f'<span class="short">NOT EVALUATED: {escape(bench.unknown)}</span>'
    worst = gaps.worst()
    if worst is None:
        return "Nothing of the section comes by the surveyed shaft."
    spare, gap = 1000 * float(gaps.spare[worst]), 1000 * float(gaps.gap[worst])
    mark = bench.drawn.marks[int(gaps.member[worst])]
    place = (
        f"{mark}, {FACES[worst[1]]} face, heel {float(gaps.heel[worst]):.2f} m: gap "
        f"{gap:.1f} mm of {1000 * float(gaps.need[worst]):.1f} mm"
    )
    missing = _missing(bench, choice.setting)
    if spare < 0:
        head = f'<span class="short">FALLS SHORT by {-spare:.1f} mm</span>'
        return f"{head}: {escape(place)}{missing}"
    return f"<b>passes with {spare:.1f} mm to spare</b>: {escape(place)}{missing}"


def _missing(bench: Bench, setting: Setting) -> str:
    if setting.moisture is None:
        return ""
    missing = bench.growth(setting.moisture).missing
    if not missing:
        return ""
    return (
        '. <span class="short">Movement NOT EVALUATED, the plan\'s own swelling stands: '
        f"{escape('; '.join(missing))}</span>"
    )


def table_html(table: Table, columns: Sequence[str] = ()) -> str:
    """A table as HTML.

    Parameters
    ----------
    table : Table
        What to show.
    columns : sequence of str
        Heads of the columns to show, in their order; empty for all.

    Returns
    -------
    html : str
        With its notes below.
    """
    chosen = [table.heads.index(head) for head in columns or table.heads]
    heads = "".join(f"<th>{escape(table.heads[n])}</th>" for n in chosen)
    rows = "".join(
        f"<tr>{''.join(_cell_html(row[n]) for n in chosen)}</tr>" for row in table.rows
    )
    notes = "".join(f"<p>{escape(note)}</p>" for note in table.notes)
    return f"<table><tr>{heads}</tr>{rows}</table>{notes}"


def _cell_html(cell: Cell) -> str:
    if cell is None:
        return "<td></td>"
    if isinstance(cell, str):
        short = ' class="short"' if cell in ("falls short", "not evaluated") else ""
        return f"<td{short}>{escape(cell)}</td>"
    return f'<td class="number">{cell:.6g}</td>'.replace("-", "−")


def tolerance_html(choice: FramerChoice) -> str:
    """The tolerance sheet of the section, and what the trial assembly costs.

    Parameters
    ----------
    choice : FramerChoice
        Section and setting.

    Returns
    -------
    html : str
        For the panel.
    """
    table = tolerance_sheet(choice.bench, choice.setting, ())
    # Two tables, since the panel is too narrow for all columns beside one another.
    gaps = (
        "face", "verdict", "to spare [mm]", "least gap [mm]", "budget [mm]", "member",
        "heel [m]",
    )  # fmt: skip
    sizes = (
        "face", "swelling at +4 % [mm]", "swelling at +8 % [mm]",
        *(["nominal reach [mm]", "as built [mm]"] if choice.bench.section.as_built else []),
    )  # fmt: skip
    first = table_html(replace(table, notes=()), gaps)
    return _as_built(choice) + first + table_html(table, sizes)


def _as_built(choice: FramerChoice) -> str:
    """What the trial assembly changed, face by face."""
    bench, setting = choice.bench, choice.setting
    if not bench.section.as_built:
        return "<p>As drawn: no trial assembly is measured yet.</p>"
    costs = as_built_cost(bench.gaps(setting, as_drawn=True), bench.gaps(setting))
    said = ", ".join(f"{1000 * -cost.lost:+.1f} mm {cost.face}" for cost in costs)
    return f"<p>As built, against the drawing: {escape(said.replace('-', '−'))}.</p>"


def prices_html(choice: FramerChoice) -> str:
    """What each change costs and buys.

    Parameters
    ----------
    choice : FramerChoice
        Section and setting.

    Returns
    -------
    html : str
        For the panel.
    """
    rates = Rates()
    prices = price_list(choice.bench, choice.setting, rates=rates)
    if not prices:
        return "<p>No change on the bench buys anything.</p>"
    return table_html(price_sheet(choice.bench.section.name, prices, rates))


def pare_html(choice: FramerChoice) -> str:
    """What comes off which piece.

    Parameters
    ----------
    choice : FramerChoice
        Section and setting.

    Returns
    -------
    html : str
        For the panel.
    """
    gaps = choice.gaps
    worst = gaps.worst()
    short = worst is not None and bool(gaps.spare[worst] < 0)
    parings = pare_list(choice.bench, choice.setting)
    return table_html(pare_sheet(choice.bench.section.name, parings, short=short))


def shims_html(choice: FramerChoice) -> str:
    """Packing behind the runners.

    Parameters
    ----------
    choice : FramerChoice
        Section and setting.

    Returns
    -------
    html : str
        For the panel.
    """
    bench = choice.bench
    guide = guide_of(bench.plan, bench.section.name)
    if guide is None:
        return "<p>No shoe of this section runs on runners fixed to the masonry.</p>"
    heights = bench.walls.heights.tolist()
    shims = shim_list(bench.walls, guide, bench.line(choice.setting), heights)
    return table_html(shim_sheet(bench.section.name, shims))


def _room(choice: FramerChoice, chances: Sequence[FaceChance]) -> str:
    """How much larger a section may be, at a few chances."""
    rows = []
    for sure in SURE:
        room = room_to_grow(tuple(chances), choice.bench.running, sure)
        cells = "".join(
            f'<td class="number">{1000 * room[face]:+.0f}</td>'.replace("-", "−")
            for face in room
        )
        rows.append(f"<tr><td>with {100 * sure:g} %</td>{cells}</tr>")
    heads = "".join(f"<th>{each.face}</th>" for each in chances)
    return (
        "<p>Each side may stand so much farther out, and the running clearance is still "
        f"left, mm:</p><table><tr><th></th>{heads}</tr>{''.join(rows)}</table>"
    )


def _mm(value: float) -> str:
    return f"{1000 * value:.1f} mm".replace("-", "−")


def chance_html(choice: FramerChoice) -> str:
    """Three ways to add, room to grow, and who owns the spread.

    Parameters
    ----------
    choice : FramerChoice
        Section and setting.

    Returns
    -------
    html : str
        For the panel.
    """
    chances = face_chances(choice.bench, choice.setting)
    parts = [_room(choice, chances)] if chances else []
    for each in chances:
        touching = each.sampled.touching
        bars = "".join(
            f'<tr><td>{escape(name)}</td><td class="number">{100 * share:.1f} %</td>'
            f'<td><div style="background:#8fb2d3;height:9px;width:{120 * share:.0f}px"></div>'
            "</td></tr>"
            for name, share in sorted(each.sampled.shares.items(), key=lambda item: -item[1])
        )
        parts.append(
            f"<p><b>{each.face}</b>: left at worst {_mm(each.stack.worst_case)}, by "
            f"root-sum-square {_mm(each.stack.root_sum_square)}, by sampling "
            f"(all but 0.135 %) {_mm(each.sampled.low)}. Chance of touching "
            f"{touching.share:.2g}, with 95 % between {touching.low:.2g} and "
            f"{touching.high:.2g}, of {touching.samples:,} samples. Share of the variance:</p>"
            f"<table>{bars}</table>"
        )
    return "".join(parts) or "<p>Nothing of the section comes by the shaft.</p>"


def proven_html(choice: FramerChoice, told: Callable[[str], None]) -> str:
    """A million samples of the whole section over its whole raise, held by the engine.

    Parameters
    ----------
    choice : FramerChoice
        Section and setting.
    told : callable
        Told in words what is looked at.

    Returns
    -------
    html : str
        For the panel.
    """
    try:
        found = whole_raise_chance(choice.framing.shop, choice.bench, choice.setting, told=told)
    except NotEvaluatedError as error:
        return f'<p><span class="short">NOT EVALUATED</span>: {escape(str(error))}.</p>'
    most, least = found.most, found.least
    left = (
        f", {found.undecided:,} not settled and counted as touching" if found.undecided else ""
    )
    return (
        f"<p><b>All sides at once, by the clearance engine</b>: of {found.samples:,} samples "
        f"of the whole section over its whole raise {found.kept:,} are proved to keep off the "
        f"stone, {found.broken:,} touch it{left}. Chance of touching: with 95 % at most "
        f"{most.high:.2g}, at least {least.low:.2g}. Every stretch of travel leans on its own; "
        "lean, play and sway anywhere within what the budget allows, workshop and survey "
        "within three standard deviations of their tolerance.</p>"
    )
