"""The roofer's windows of light, wind and rest, as papers print them."""

from collections.abc import Iterator
from datetime import date
from math import ceil, isfinite

from towerlift.documents.blocks import Block, Column, Grid, GridCell, Picture, Weight, Words
from towerlift.documents.edition import Edition
from towerlift.documents.say import NOTHING, Kind
from towerlift.drawings.unrolled import Unrolled, spire_unrolled
from towerlift.motion.walk import heights
from towerlift.programme.windows import RoofBench
from towerlift.programme.windows_bands import rates_of
from towerlift.programme.windows_net import (
    CATCHING_SOURCE,
    NET_SOURCE,
    PLATFORM_SOURCE,
    catching_width_told,
    net_reach_needed,
)
from towerlift.programme.windows_sheet import BandSheet, RoofAsk, RoofSheet, Window

SHOWN = 3
"""Windows told of each band."""


def roof_sheet(edition: Edition) -> RoofSheet | str:
    """Bands, windows, laps and parks of the plan, or why there are none.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    sheet : RoofSheet or str
        In words what is missing.
    """
    return edition.once("roof sheet", lambda: _roof_sheet(edition))


def _roof_sheet(edition: Edition) -> RoofSheet | str:
    try:
        bench = RoofBench(edition.plan, edition.outcome.raise_)
    except ValueError as error:
        return str(error)
    return bench.show(RoofAsk(day=_first_day(bench), n_roofers=_roofers(edition, bench)))


def _first_day(bench: RoofBench) -> date:
    dated = [work.starts.date() for work in bench.planned.values()]
    return min(dated, default=bench.plan.site.day_1)


def _roofers(edition: Edition, bench: RoofBench) -> int:
    crew = next((c for c in edition.plan.crews if c.name == bench.crew), None)
    return 1 if crew is None else crew.need


def window_blocks(edition: Edition) -> Iterator[Block]:
    """Each band: planned hours, reach, windows, wind to stop at and laps.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Yields
    ------
    block : Block
        Loudly not evaluated where nothing can be reckoned.
    """
    sheet = roof_sheet(edition)
    if isinstance(sheet, str):
        yield Words(words=f"NOT EVALUATED: {sheet}", weight=Weight.LOUD)
        return
    yield Words(
        words="NOT EVALUATED: the chance that the weather holds; no hourly record of weather "
        "goes with the plan.",
        weight=Weight.LOUD,
    )
    yield _bands(edition, sheet)
    yield _windows(edition, sheet)
    yield _nets(edition, sheet)
    yield _laps(sheet)
    options = Unrolled(gauge=rates_of(edition.plan).gauge, width=760.0, height=420.0, text=13.0)
    yield Picture(svg=spire_unrolled(sheet, options), caption="The spire unrolled, by day")


def _bands(edition: Edition, sheet: RoofSheet) -> Grid:
    return Grid(
        name="Bands, from the top down",
        columns=(Column(head="band"), Column(head="planned", width=1.5),
                 Column(head="heel", kind=Kind.HEIGHT), Column(head="s from", kind=Kind.HEIGHT),
                 Column(head="to", kind=Kind.HEIGHT), Column(head="area", kind=Kind.AREA),
                 Column(head="courses"), Column(head="hours"),
                 Column(head="reach from deck", kind=Kind.HEIGHT),
                 Column(head="leaf board", kind=Kind.HEIGHT),
                 Column(head="will it do?", width=1.8), Column(head="tags off", blank=True)),
        rows=tuple(_band_row(edition, each) for each in sheet.bands),
        notes=("Bundles of shingles: by the roofer, from the area and the courses. Leaf boards "
               "are drawn in before every move.",),
    )  # fmt: skip


def _band_row(edition: Edition, each: BandSheet) -> tuple[GridCell, ...]:
    say, work = edition.say, each.planned
    when = "NOT ANSWERED: no date"
    if work is not None:
        when = f"{say.when(work.starts)} to {say.clock(work.ends)}"
    boards = each.boards
    verdict = f"FAIL: {each.fault}" if each.fault else "yes"
    if work is None:
        verdict = "NOT EVALUATED: no date"
    hours = (
        "NOT EVALUATED" if not isfinite(each.hours) else f"{ceil(each.hours / 360) / 10:.1f}"
    )
    return (each.band.name, when, None if each.park is None else each.park.heel,
            each.band.low, each.band.high, each.band.area, str(each.n_courses), hours,
            "NOT EVALUATED" if boards is None else boards.gap_foot,
            "NOT EVALUATED" if boards is None else boards.width, verdict, "")  # fmt: skip


def _windows(edition: Edition, sheet: RoofSheet) -> Grid:
    shown = [window for each in sheet.bands for window in each.windows[:SHOWN]]
    return Grid(
        name=f"Windows, the first {SHOWN} of each band",
        columns=(Column(head="band"), Column(head="from", width=1.4), Column(head="off by"),
                 Column(head="because then", width=2), Column(head="of the band", width=1),
                 Column(head="stop at mean", kind=Kind.SPEED),
                 Column(head="gust", kind=Kind.SPEED), Column(head="dry only"),
                 Column(head="way off and rescue")),
        rows=tuple(_window_row(edition, window) for window in shown)
        or (("NOT EVALUATED: no window", *[NOTHING] * 4, None, None, *[NOTHING] * 2),),
        notes=tuple(dict.fromkeys([_way_off(w) for w in shown] + [_wind_by(w) for w in shown])),
    )  # fmt: skip


def _nets(edition: Edition, sheet: RoofSheet) -> Grid:
    """How far each net reaches, what is asked of it, and what else is told of nets."""
    nets = {each.name: each for each in edition.plan.fixtures}
    parks = (each.park for each in sheet.bands if each.park is not None)
    pairs = {(park.net, park.deck.name): park.deck.top for park in parks
             if park.net is not None and park.deck is not None}  # fmt: skip
    rows = []
    for (net, deck), top in pairs.items():
        below = top - heights(nets[net])[0]
        rows.append((net, deck, below, nets[net].reach, net_reach_needed(below),
                     catching_width_told(below) or "none told"))  # fmt: skip
    return Grid(
        name="Nets under the work",
        columns=(Column(head="net", width=1.4), Column(head="under deck", width=1.4),
                 Column(head="below", kind=Kind.HEIGHT),
                 Column(head="reaches", kind=Kind.HEIGHT),
                 Column(head="asked", kind=Kind.HEIGHT),
                 Column(head="UNVERIFIED, to compare", kind=Kind.HEIGHT, width=1.4)),
        rows=tuple(rows) or (("NOT EVALUATED: no net", NOTHING, None, None, None, None),),
        notes=(f"Asked by {NET_SOURCE}, which decides.",
               f"To compare: {CATCHING_SOURCE}.", f"Decks: {PLATFORM_SOURCE}."),
    )  # fmt: skip


def _way_off(window: Window) -> str:
    return f"Way off: {window.way_off}. Rescue: {window.rescue}."


def _wind_by(window: Window) -> str:
    return f"Wind: {window.need.source}."


def _window_row(edition: Edition, window: Window) -> tuple[GridCell, ...]:
    say = edition.say
    share = "all" if window.whole else f"{int(100 * window.share)} %"
    minutes = "NOT ANSWERED"
    if window.complete:
        minutes = f"given, {say.minutes(window.rescue_takes)}"
    return (window.band.name, say.when(window.opening.begins), say.clock(window.off_by),
            window.opening.because, share, window.need.mean, window.need.gust,
            "yes" if window.need.dry else "no", minutes)  # fmt: skip


def _laps(sheet: RoofSheet) -> Grid:
    return Grid(
        name="Laps, from the top down",
        columns=(Column(head="at s", kind=Kind.HEIGHT), Column(head="upper", width=1),
                 Column(head="lower", width=1), Column(head="overlap", kind=Kind.SIZE),
                 Column(head="what to do", width=4)),
        rows=tuple((lap.s, lap.upper, lap.lower, lap.overlap, lap.words) for lap in sheet.laps)
        or ((None, NOTHING, NOTHING, None, "no two bands meet"),),
    )  # fmt: skip
