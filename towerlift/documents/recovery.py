"""What can be done when a haul must stop: nearest locks, turning point, what it survives."""

from collections.abc import Iterator
from math import isfinite

from towerlift.checks.recovery import rehearsal
from towerlift.checks.recovery_card import (
    AT_ONCE,
    FALLS,
    CardLine,
    WayOut,
    card_lines,
    ways_out,
)
from towerlift.documents.blocks import Block, Column, Facts, Grid, GridCell, Words
from towerlift.documents.edition import Edition, hauling_stages
from towerlift.documents.say import NOTHING, Kind
from towerlift.plan.work import Stage
from towerlift.rig.recovery import Rehearsed
from towerlift.rig.recovery_ways import SafePlace
from towerlift.units import rounded_down, rounded_up

NOT_REHEARSED = "NOT EVALUATED: no recovery could be rehearsed"


def first_ways(edition: Edition, stage: Stage) -> list[Block]:
    """What must be known at once: ways out of a stage, and its worst single failure.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    stage : Stage
        Which.

    Returns
    -------
    blocks : list of Block
        Loudly not evaluated where nothing gives them, and loud where it does not stand.
    """
    lines = _lines(edition, stage)
    if not lines:
        return [Words(words=NOT_REHEARSED)]
    falls = [
        Words(words=f"{each.topic}: {each.words}") for each in lines if each.topic == FALLS
    ]
    rows = tuple((each.topic, each.words) for each in lines if each.topic in AT_ONCE)
    return [*falls, Facts(rows=rows, long=True)] if rows else list(falls)


def other_ways(edition: Edition, stage: Stage) -> list[Block]:
    """What never to do in a stage, what to watch, and the gusts that it survives.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    stage : Stage
        Which.

    Returns
    -------
    blocks : list of Block
        All that `first_ways` leaves out.
    """
    lines = _lines(edition, stage)
    rows = tuple(
        (each.topic, each.words) for each in lines if each.topic not in (FALLS, *AT_ONCE)
    )
    return [Facts(rows=rows, long=True)] if rows else [Words(words=NOT_REHEARSED)]


def _lines(edition: Edition, stage: Stage) -> tuple[CardLine, ...]:
    return card_lines(edition.case, stage.name) if edition.outcome.hangs else ()


def recovery_grid(edition: Edition) -> Grid:
    """What can be done in each stage when a haul must stop.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    grid : Grid
        A row for each haul.
    """
    rows = [row for stage in hauling_stages(edition) for row in _rows(edition, stage.name)]
    return Grid(
        name="If a haul must stop",
        columns=(Column(head="stage"), Column(head="section"),
                 Column(head="lock behind", width=1), Column(head="lock ahead", width=1),
                 Column(head="turning point", kind=Kind.HEIGHT),
                 Column(head="worst single failure that it stands", width=2),
                 Column(head="what it does not stand", width=1)),
        rows=tuple(rows) or (("–", "nothing moves", *[NOTHING] * 2, None, "", ""),),
        notes=("Below the turning point going back is quicker, above it going on.",),
    )  # fmt: skip


def _rows(edition: Edition, stage: str) -> Iterator[tuple[GridCell, ...]]:
    found = ways_out(edition.case, stage) if edition.outcome.hangs else ()
    if not found:
        yield (stage, NOTHING, "NOT EVALUATED", "NOT EVALUATED", None, NOT_REHEARSED, "")
    for out in found:
        yield (stage, out.section, _place(edition, out.ways.back),
               _place(edition, out.ways.on), out.ways.turning_point,
               _failure(edition, out), _topples(out))  # fmt: skip


def _place(edition: Edition, place: SafePlace | None) -> str:
    if place is None:
        return "none"
    return f"{place.carrier}, heel {edition.say.height(place.heel)}"


def _failure(edition: Edition, out: WayOut) -> str:
    worst = out.worst
    if worst is None:
        return "NOT EVALUATED"
    when = f"{rounded_up(worst.minutes):.0f} min" if isfinite(worst.minutes) else "never"
    return (
        f"{worst.failure} ({worst.what}) at heel {edition.say.height(worst.heel)}: "
        f"{edition.say.force(worst.load)} on a tackle, "
        f"rope factor {rounded_down(worst.factor, 1):.1f}; "
        f"{worst.do}; then {worst.safe}, {when}; {worst.who}"
    )


def _topples(out: WayOut) -> str:
    if out.topples is None:
        return "nothing that was rehearsed"
    return f"FAIL: {out.topples.failure} ({out.topples.what}) topples it"


def rehearsal_grid(edition: Edition) -> Grid:
    """Every failure rehearsed, for the workbook of lists.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    grid : Grid
        At every half metre.
    """
    told: tuple[Rehearsed, ...] = ()
    if edition.outcome.hangs:
        told = rehearsal(edition.case)
    return Grid(
        name="recovery rehearsed",
        columns=(Column(head="stage"), Column(head="section"), Column(head="failure"),
                 Column(head="of"), Column(head="heel", kind=Kind.HEIGHT),
                 Column(head="most on a tackle", kind=Kind.FORCE),
                 Column(head="rope factor", kind=Kind.NUMBER), Column(head="stands"),
                 Column(head="safe state"), Column(head="minutes", kind=Kind.NUMBER),
                 Column(head="who"), Column(head="do")),
        rows=tuple(
            (r.stage, r.section, r.failure, r.what, r.heel,
             r.load if isfinite(r.load) else "no limit", r.factor,
             "yes" if r.stands else "FAIL, it does not", r.safe,
             r.minutes if isfinite(r.minutes) else "never", r.who, r.do)
            for r in told
        ) or ((NOT_REHEARSED, *[NOTHING] * 3, None, None, None, NOTHING, NOTHING, None,
               NOTHING, NOTHING),),
    )  # fmt: skip
