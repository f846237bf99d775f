"""Drawings put into papers."""

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta

from towerlift.checks.wind import LOCKED, states_of
from towerlift.documents.blocks import Block, Picture, Weight, Words
from towerlift.documents.edition import Edition, PageSize, hauling_stages
from towerlift.documents.hauling import Hauling
from towerlift.drawings import (
    A4,
    LETTER,
    Drawing,
    Room,
    Strip,
    gap_drawing,
    gap_strip,
    leads_drawing,
    least_margin,
    reeving_drawing,
    resting_stages,
    stage_elevation,
    to_svg,
    wall_drawing,
    whole_strip,
)
from towerlift.drawings import Paper as Sheet
from towerlift.drawings.free_body import FreeBodyPicture, free_body
from towerlift.drawings.watch import WatchSheet, watch_sheet
from towerlift.nesting.bench import Bench
from towerlift.nesting.margins import Margin
from towerlift.plan.limits import limit_in_plan
from towerlift.plan.work import Stage
from towerlift.programme.watch import watch

ON_CARDS = 14.0
# A drawing with a page nearly to itself. [mm]
FULL = 215.0
# States of the tower beside each other.
IN_A_ROW = 8
# Elevations leave room for the signals on the back of a card. [mm]
ON_BACK = 100.0
# Capital letters of drawings, and of those on cards. [mm]
LETTERS, LARGE = 2.3, 2.6


def sheet_of(edition: Edition) -> Sheet:
    """The paper that drawings are made for."""
    return A4 if edition.page is PageSize.A4 else LETTER


def room_of(edition: Edition, *, wide: bool = False, text: float = LETTERS) -> Room:
    """Room on a sheet of its own.

    Parameters
    ----------
    edition : Edition
        Says which paper.
    wide : bool
        Whether its long side lies level.
    text : float
        Height of capital letters. [mm]

    Returns
    -------
    room : Room
        Above the block of words.
    """
    sheet = sheet_of(edition)
    return (sheet.landscape if wide else sheet).room(text=text, measure=edition.measure)


def part_of(edition: Edition, width: float, height: float, text: float = LETTERS) -> Room:
    """Room within a page. [mm]"""
    return Room(width=width, height=height, text=text, measure=edition.measure)


def drawn(what: str, make: Callable[[], Drawing], *, most: float = 190.0) -> list[Block]:
    """A drawing as a picture, or loudly why there is none.

    Parameters
    ----------
    what : str
        What it shows; also its caption.
    make : callable
        Draws it.
    most : float
        Greatest height on the page. [mm]

    Returns
    -------
    blocks : list of Block
        One.
    """
    try:
        drawing = make()
    except ValueError as error:
        return [Words(words=f"NOT EVALUATED: {what}: {error}", weight=Weight.LOUD)]
    return [Picture(svg=to_svg(drawing), caption=what, most=most)]


def elevation(edition: Edition, stage: str) -> Drawing:
    """Elevation of a stage, before, hauled and after, made once.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    stage : str
        Its name.

    Returns
    -------
    drawing : Drawing
        For a sheet of its own.

    Raises
    ------
    ValueError
        If the stage has no steps.
    """
    room = part_of(edition, room_of(edition, wide=True).width, 122.0, LARGE)
    return edition.once(
        f"elevation {stage}", lambda: stage_elevation(edition.outcome, stage, room)
    )


def elevations(edition: Edition, stage: Stage) -> list[Block]:
    """Elevation before and after a stage in which something moves.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    stage : Stage
        Which.

    Returns
    -------
    blocks : list of Block
        One; none where nothing moves.
    """
    if stage.name not in {each.name for each in hauling_stages(edition)}:
        return []
    what = f"Stage {stage.name}, seen from the south"
    return drawn(what, lambda: elevation(edition, stage.name), most=ON_BACK)


def haul_strip(edition: Edition, hauling: Hauling) -> list[Block]:
    """Gaps along the haul.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    hauling : Hauling
        Which haul.

    Returns
    -------
    blocks : list of Block
        One picture.
    """
    longest = max(hauling.passages, key=lambda each: abs(each.travel))
    strip = Strip(width=762.0, height=330.0, text=ON_CARDS, plot=0.42)
    svg = gap_strip(edition.outcome, longest, strip)
    return [Picture(svg=svg, caption="Gap to everything passed, along this haul, in metric")]


def whole_tower(edition: Edition) -> list[Block]:
    """The tower after each stage that moves something, side by side.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    blocks : list of Block
        One picture.
    """
    room = part_of(edition, room_of(edition, wide=True).width, 136.0, 2.3)
    names = resting_stages(edition.outcome)
    rows = [names[first : first + IN_A_ROW] for first in range(0, len(names), IN_A_ROW)]
    if not rows:
        return [Words(words="NOT EVALUATED: no stage has steps", weight=Weight.LOUD)]
    # All rows at one scale: that of the one whose tower stands highest.
    made = [whole_strip(edition.outcome, room, stages=some) for some in rows]
    top = max(view.high[1] for drawing in made for view in drawing.views)
    blocks: list[Block] = []
    for some in rows:
        what = f"The tower after {some[0]} to {some[-1]}, each stage that moves something, "
        what += "seen from the south"
        drawing = whole_strip(edition.outcome, room, stages=some, top=top)
        blocks.append(Picture(svg=to_svg(drawing), caption=what))
    return blocks


def three_states(edition: Edition) -> list[Block]:
    """The tower at the beginning, half way and when it is done.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    blocks : list of Block
        One picture.
    """
    hauls = [stage.name for stage in hauling_stages(edition)]
    if not hauls:
        return []
    last = [stage.name for stage in edition.plan.stages if stage.steps][-1]
    stages = list(dict.fromkeys((hauls[0], hauls[len(hauls) // 2], last)))
    room = part_of(edition, 182.0, 105.0, 2.4)
    what = f"After stages {', '.join(stages)}"
    return drawn(what, lambda: whole_strip(edition.outcome, room, stages=stages), most=105.0)


def load_path(edition: Edition) -> list[Block]:
    """Every section cut free when the raise is done, with what it passes down.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    blocks : list of Block
        One picture, in the gust that what stands must survive; loudly not evaluated
        where the plan does not say what the wind is like.
    """
    states = states_of(edition.case)
    if not states:
        words = "NOT EVALUATED: load path: the plan does not say what the wind is like"
        return [Words(words=words, weight=Weight.LOUD)]
    gust = limit_in_plan(edition.plan, LOCKED).value
    options = FreeBodyPicture(gust=gust, wedged=True, width=1000.0, height=560.0, text=12.0)
    svg = free_body(edition.case.workshop, states[-1], options)
    what = (
        f"Load path from the top section to the ground when all is done, wedged, in a gust "
        f"of {edition.say.speed(gust)}; forces in kN"
    )
    return [Picture(svg=svg, caption=what, most=150.0)]


def site_plan(edition: Edition) -> list[Block]:
    """The capstan ground with the falls of each lift.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    blocks : list of Block
        A picture for each lift, at its hardest pull.
    """
    blocks: list[Block] = []
    for lift in edition.plan.lifts:
        what = f"Lift {lift.name} at its hardest pull: falls, lead blocks and capstans"
        blocks += drawn(what, lambda name=lift.name: leads(edition, name), most=FULL)  # type: ignore[misc]
    return blocks or [Words(words="NOT EVALUATED: no lift to draw", weight=Weight.LOUD)]


def hardest_leads(edition: Edition) -> list[Block]:
    """The capstan ground under the lift that pulls hardest.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    blocks : list of Block
        One picture.
    """
    pulls = {
        haul.lift.name: max(float(curve.pull.max()) for curve in haul.curves)
        for haul in edition.hauls
    }
    if not pulls:
        return [Words(words="NOT EVALUATED: no lift to draw", weight=Weight.LOUD)]
    name = max(pulls, key=lambda each: pulls[each])
    what = f"Lift {name}, which pulls hardest: falls, lead blocks and capstans"
    return drawn(what, lambda: leads(edition, name), most=FULL)


def leads(edition: Edition, lift: str) -> Drawing:
    """Plan of the leads of a lift, made once.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    lift : str
        Its name.

    Returns
    -------
    drawing : Drawing
        For a sheet of its own.

    Raises
    ------
    ValueError
        If the plan does not place its blocks.
    """
    room = room_of(edition)
    return edition.once(f"leads {lift}", lambda: leads_drawing(edition.outcome, lift, room))


def least_gap(edition: Edition, margin: Margin) -> Drawing:
    """Cut through a gap.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    margin : Margin
        The gap.

    Returns
    -------
    drawing : Drawing
        All of it, and the gap itself at 1:10 or so.
    """
    return gap_drawing(edition.outcome, margin, room_of(edition, wide=True))


def worst_cut(edition: Edition, bench: Bench) -> list[Block]:
    """Cut where a section leaves least to spare.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    bench : Bench
        Of one section.

    Returns
    -------
    blocks : list of Block
        Empty where it passes nothing.
    """
    name = bench.section.name
    margins = edition.outcome.nesting.margins
    own = [m for m in margins if m.moving == name and m.spare is not None]
    worst = min(own, key=lambda m: m.spare or 0.0, default=None)
    if worst is None:
        return []
    room = part_of(edition, 182.0, 105.0)
    what = f"Section where the {name} leaves least to spare"
    return drawn(what, lambda: gap_drawing(edition.outcome, worst, room), most=105.0)


def packing_wall(edition: Edition, bench: Bench) -> list[Block]:
    """The wall unrolled with the marks of its packing.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    bench : Bench
        Of the section that runs on it.

    Returns
    -------
    blocks : list of Block
        One picture.
    """
    room = part_of(edition, 182.0, 165.0)
    what = f"Wall unrolled for the {bench.section.name}: packing and paring"
    return drawn(what, lambda: wall_drawing(bench, room), most=165.0)


def reeving(edition: Edition) -> list[Block]:
    """How the tackles of each lift are rove.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    blocks : list of Block
        A picture for each lift, whose tackles are all of one pattern: that of its first.
    """
    made: list[Block] = []
    for lift in edition.plan.lifts:
        for line in lift.lines[:1]:
            others = ", ".join(each.tackle for each in lift.lines[1:])
            what = f"Lift {lift.name}, tackle {line.tackle}"
            what += f"; {others} are rove alike, coils and leads as listed" if others else ""
            made += drawn(what, lambda pair=(lift.name, line.tackle): _in_list(edition, *pair))  # type: ignore[misc]
    if not made:
        return [Words(words="NOT EVALUATED: the plan has no tackle", weight=Weight.LOUD)]
    return made


def _in_list(edition: Edition, lift: str, tackle: str) -> Drawing:
    room = part_of(edition, room_of(edition).width, 104.0, 2.1)
    return reeving_drawing(edition.outcome, lift, tackle, room)


def _reeved(edition: Edition, lift: str, tackle: str) -> Drawing:
    return reeving_drawing(edition.outcome, lift, tackle, room_of(edition))


def height_time(edition: Edition) -> list[Block]:
    """People as bands and sections as lines, height against time.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    blocks : list of Block
        A picture for each day on which something moves; loudly not evaluated where the
        plan has no dates.
    """
    blocks: list[Block] = []
    for begins, ends, words in _days(edition):
        seen = watch(edition.plan, edition.outcome.raise_, begins, ends)
        options = WatchSheet(width=960.0, height=430.0, text=13.0)
        blocks.append(Picture(svg=watch_sheet(seen, options), caption=words, most=150.0))
    if not blocks:
        words = "NOT EVALUATED: no stage in which something moves has a date"
        blocks.append(Words(words=words, weight=Weight.LOUD))
    return blocks


def _days(edition: Edition) -> Iterator[tuple[datetime, datetime, str]]:
    days: dict[str, tuple[datetime, datetime, list[str]]] = {}
    hour = timedelta(hours=1)
    for stage in hauling_stages(edition):
        dated = [p for p in edition.passages(stage.name) if p.begins is not None]
        if not dated or stage.starts is None:
            continue
        first = stage.starts
        ends = first + timedelta(seconds=sum(p.duration for p in dated)) + hour
        day = edition.say.day(stage.starts)
        kept = days.get(day)
        low = first - hour if kept is None else min(kept[0], first - hour)
        high = ends if kept is None else max(kept[1], ends)
        days[day] = (low, high, [*(kept[2] if kept else []), stage.name])
    for day, (low, high, names) in days.items():
        yield low, high, f"{day}: stage {', '.join(names)}"


def drawings_of(edition: Edition, benches: tuple[Bench, ...]) -> Iterator[tuple[str, Drawing]]:
    """Every dimensioned drawing of a plan, for files of their own.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    benches : tuple of Bench
        Of the sections that pass a surveyed shaft.

    Yields
    ------
    name : str
        Of the file, without ending.
    drawing : Drawing
        For a sheet of the edition's paper; those that cannot be made are left out here,
        and told in the papers.
    """
    makers: list[tuple[str, Callable[[], Drawing]]] = []
    for stage in hauling_stages(edition):
        makers.append((f"elevation {stage.name}", lambda s=stage.name: elevation(edition, s)))  # type: ignore[misc]
    for lift in edition.plan.lifts:
        makers.append((f"leads {lift.name}", lambda n=lift.name: leads(edition, n)))  # type: ignore[misc]
        pair = (lift.name, lift.lines[0].tackle)
        makers.append((f"reeving {' '.join(pair)}", lambda p=pair: _reeved(edition, *p)))  # type: ignore[misc]
    worst = least_margin(edition.outcome)
    if worst is not None:
        makers.append(("least gap", lambda: least_gap(edition, worst)))
    wide = room_of(edition, wide=True)
    for bench in benches:
        name = f"wall {bench.section.name}"
        makers.append((name, lambda b=bench: wall_drawing(b, wide)))  # type: ignore[misc]
    for name, make in makers:
        try:
            yield name, make()
        except ValueError:
            continue
