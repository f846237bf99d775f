"""The raising-day log: what is planned, with room for what happens."""

from collections.abc import Iterator

from towerlift.documents.blocks import (
    Block,
    Column,
    Facts,
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
from towerlift.documents.crew_cards import natural
from towerlift.documents.edition import Edition, hauling_stages
from towerlift.documents.hauling import Hauling, haulings
from towerlift.documents.say import Kind
from towerlift.documents.stage_cards import step_words
from towerlift.drawings.planned import Planned, planned_curves
from towerlift.plan.work import Stage


def raising_log(edition: Edition) -> Paper:
    """The raising-day log.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    paper : Paper
        A leaf for each stage in which something moves.
    """
    leaves = tuple(_leaf(edition, stage) for stage in hauling_stages(edition))
    if not leaves:
        words = Words(words="NOT EVALUATED: nothing moves in this plan", weight=Weight.LOUD)
        leaves = (Leaf(title="Nothing moves", blocks=(words,)),)
    return Paper(name="raising-log", title="Raising-day log", leaves=leaves, letters=10.5)


def _leaf(edition: Edition, stage: Stage) -> Leaf:
    return Leaf(
        title=f"Log of stage {stage.name}: {stage.title}",
        blocks=tuple(_blocks(edition, stage)),
        wide=True,
    )


def _blocks(edition: Edition, stage: Stage) -> Iterator[Block]:
    say = edition.say
    yield Facts(
        columns=2,
        rows=(
            ("in charge", edition.role(stage.in_charge)),
            ("planned", say.when(stage.starts)),
            ("date and place", ""),
            ("written by", ""),
            ("wind before the start, mean and gust", ""),
            ("hands at the bars, by capstan", ""),
        ),
    )
    found = haulings(edition, stage)
    if not found:
        yield Words(words="NOT EVALUATED: no loads were reckoned", weight=Weight.LOUD)
    for hauling in found:
        capstans = sorted({s.capstan.mark for s in hauling.stations}, key=natural)
        corners = list(dict.fromkeys(line.lift_point for line in hauling.haul.lift.lines))
        yield _table(edition, hauling, corners, capstans)
    yield _steps(edition, stage)
    yield Signing(rows=(Signature(mark="", what="Log closed by the person in charge"),))
    for hauling in found:
        yield from _curves(edition, hauling)


def _table(edition: Edition, hauling: Hauling, corners: list[str], capstans: list[str]) -> Grid:
    columns = [
        Column(head="planned"),
        Column(head="heel", kind=Kind.HEIGHT),
        Column(head="pull, most", kind=Kind.FORCE),
        Column(head="clock", blank=True, width=0.9),
        *(Column(head=_short(c), blank=True, width=1) for c in corners),
        *(Column(head=c, blank=True, width=0.8) for c in capstans),
        Column(head="wind", blank=True, width=0.9),
        Column(head="gap", blank=True, width=0.9),
        Column(head="order, who", blank=True, width=1.8),
    ]
    blanks = len(columns) - 3
    rows: list[tuple[GridCell, ...]] = []
    for mark in hauling.marks:
        when = "" if mark.when is None else edition.say.clock(mark.when)
        row: list[GridCell] = [when, mark.heel, mark.pull, *[""] * blanks]
        if mark.event:
            row[-1] = mark.event
        rows.append(tuple(row))
    return Grid(
        name=f"{hauling.haul.section} on lift {hauling.haul.lift.name}: height at each corner, "
        "pull at each capstan",
        columns=tuple(columns),
        rows=tuple(rows),
        tall=True,
        notes=("Pull: the most expected at any capstan. Write heights above the mark, pulls as "
               "read, wind mean and gust; a dash where nothing was read, never a guess.",),
    )  # fmt: skip


def _short(corner: str) -> str:
    return corner if len(corner) <= 9 else corner.rsplit(maxsplit=1)[-1]


def _steps(edition: Edition, stage: Stage) -> Grid:
    say = edition.say
    return Grid(
        name="Events",
        columns=(Column(head="planned"), Column(head="what", width=2),
                 Column(head="clock", width=0.7, blank=True),
                 Column(head="what happened, orders given, by whom", width=3, blank=True)),
        rows=tuple(
            (say.clock(p.begins), step_words(edition, p), "", "")
            for p in edition.passages(stage.name)
        ) + (("", "", "", ""),) * 4,
        tall=True,
        listed=False,
    )  # fmt: skip


def _curves(edition: Edition, hauling: Hauling) -> Iterator[Block]:
    marks = hauling.marks
    if len(marks) < 2:
        return
    dated = [m for m in marks if m.when is not None]
    start = dated[0].when if dated else None
    minutes = tuple(
        0.0 if m.when is None or start is None else (m.when - start).total_seconds() / 60.0
        for m in marks
    )
    svg = planned_curves(
        Planned(
            minutes=minutes if dated else (),
            heels=tuple(m.heel for m in marks),
            pulls=tuple(m.pull / 1e3 for m in marks),
        )
    )
    caption = (
        f"{hauling.haul.section}: planned height against time, and planned pull against "
        "height; draw what happens over it"
    )
    yield Picture(svg=svg, caption=caption, most=70.0)
