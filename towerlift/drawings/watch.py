"""The watch sheet: time down the page, the tower's height across it.

People are bands, sections are lines, shadows reach to the first deck that stops what may
fall, and where people are on or under what moves the place is marked and told in words.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import ceil

from towerlift.drawings.svg import (
    BOLD,
    GRID,
    INK,
    LINES,
    MARK,
    OVER_LINES,
    PLAIN,
    QUIET,
    Ink,
    Sheet,
    apart,
    round_ticks,
    shorten,
    text_width,
    write_number,
)
from towerlift.motion.clock import clock
from towerlift.programme.cells import Zone
from towerlift.programme.watch import Crossing, People, Track, Watch

PEOPLE, SHADE, DARK = "#d9c9a3", "#8d8468", "#eceae4"
CROSSED = Ink(colour=MARK, bold=True, halo=True)
_LANE = 8.0  # of a bar of people on the ground [px]
_AROUND = 132.0  # room beside the tower for those on the ground [px]


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchSheet:
    """How the watch sheet is drawn.

    Attributes
    ----------
    light : tuple of (datetime, datetime)
        When it is light enough to work; the rest is darkened.
    width, height : float
        Of the drawing, without the lines of words below it. [px]
    text : float
        Height of its letters. [px]
    most_words : int
        Crossings told in words below the drawing; the rest are counted.
    """

    light: tuple[tuple[datetime, datetime], ...] = ()
    width: float = 640.0
    height: float = 420.0
    text: float = 11.0
    most_words: int = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    watch: Watch
    left: float
    right: float
    top: float
    bottom: float

    def x(self, z: float) -> float:
        share = min(max(z / self.watch.top, 0.0), 1.0)
        return self.left + share * (self.right - self.left)

    def y(self, moment: datetime) -> float:
        whole = (self.watch.ends - self.watch.begins).total_seconds()
        share = (moment - self.watch.begins).total_seconds() / whole
        return self.top + min(max(share, 0.0), 1.0) * (self.bottom - self.top)


def watch_sheet(watch: Watch, options: WatchSheet) -> str:
    """Draw the watch sheet.

    Parameters
    ----------
    watch : Watch
        Who is where and what moves.
    options : WatchSheet
        Size, and when it is light.

    Returns
    -------
    svg : str
        One element. Each crossing has a number on the drawing and its words below it.
    """
    text = options.text
    joined = _by_words(watch.crossings)
    told = joined[: options.most_words]
    lines = _lines(joined, watch.unknown, options)
    n_lines = 1 + len(lines)
    full = options.height + 1.5 * text * n_lines
    sheet = Sheet(options.width, full, text)
    place = _Place(
        watch=watch,
        left=4.2 * text,
        right=options.width - _AROUND,
        top=5.4 * text,
        bottom=options.height - 0.6 * text,
    )
    _ground(sheet, place, options)
    _shadows(sheet, place)
    _bands(sheet, place)
    _floors(sheet, place)
    for number, track in enumerate(watch.tracks):
        _track(sheet, place, track, LINES[number % len(LINES)])
    _names_of_lines(sheet, place)
    _labels(sheet, place)
    _crossings(sheet, place, told)
    _words(sheet, options, len(joined), lines)
    return sheet.svg("Watch sheet: who is where, and what moves", _summary(watch, joined))


def _by_words(crossings: Sequence[Crossing]) -> list[Crossing]:
    """Crossings in order of time; those of the same people that follow each other as one."""
    found: list[Crossing] = []
    for each in sorted(crossings, key=lambda one: (one.who, one.begins, one.ends)):
        before = found[-1] if found else None
        if before is None or before.who != each.who or each.begins > before.ends:
            found.append(each)
            continue
        words = before.words
        if each.words not in words:
            words = f"{words}; {each.words} from {_clock(each.begins)}"
        found[-1] = replace(
            before,
            ends=max(before.ends, each.ends),
            low=min(before.low, each.low),
            high=max(before.high, each.high),
            words=words,
        )
    return sorted(found, key=lambda one: one.begins)


def _ground(sheet: Sheet, place: _Place, options: WatchSheet) -> None:
    text, watch = sheet.text, place.watch
    size = (place.right - place.left, place.bottom - place.top)
    if options.light:
        sheet.box((place.left, place.top), size, fill=DARK, role="dark")
        for begins, ends in options.light:
            y0, y1 = place.y(begins), place.y(ends)
            if y1 > y0:
                sheet.box((place.left, y0), (size[0], y1 - y0), fill="#fff", role="light")
        dusk = max(place.y(ends) for _, ends in options.light)
        if dusk < place.bottom - 1.4 * text:
            at = (place.right - 4, dusk + 1.2 * text)
            sheet.write(at, "no light to work by", "end", ink=Ink(halo=True))
    for z in round_ticks(0.0, watch.top, 12):
        x = place.x(z)
        sheet.line([(x, place.top), (x, place.bottom)], colour=GRID)
        sheet.write((x, place.top - 0.4 * text), write_number(z), "middle", ink=QUIET)
    sheet.write((place.right + 4, place.top - 0.4 * text), "z, m", ink=QUIET)
    for moment in _hours(watch, place):
        y = place.y(moment)
        sheet.line([(place.left, y), (place.right + _AROUND, y)], colour=GRID)
        at = (place.left - 4, y + 0.35 * text)
        sheet.write(at, _clock(moment), "end", ink=PLAIN, role="hour")
    head = f"{watch.begins:%a %d %b %Y}"
    sheet.write((4, 1.2 * text), head, ink=BOLD)


def _hours(watch: Watch, place: _Place) -> list[datetime]:
    hours = (watch.ends - watch.begins).total_seconds() / 3600
    step = ceil(hours / max(2.0, (place.bottom - place.top) / 22.0))
    first = watch.begins.replace(minute=0, second=0, microsecond=0)
    moments = [first + timedelta(hours=step * n) for n in range(ceil(hours / step) + 2)]
    return [each for each in moments if watch.begins <= each <= watch.ends]


def _inside(people: People) -> bool:
    return people.zone is Zone.COLUMN


def _shadows(sheet: Sheet, place: _Place) -> None:
    for people in place.watch.people:
        if people.shadow is None or not _inside(people):
            continue
        x0, x1 = place.x(people.shadow), place.x(people.low)
        y0, y1 = place.y(people.begins), place.y(people.ends)
        if x1 > x0 and y1 > y0:
            sheet.hatch((x0, y0), (x1 - x0, y1 - y0), colour="#c9c2ab", role="shadow")


def _bands(sheet: Sheet, place: _Place) -> None:
    for people in place.watch.people:
        if not _inside(people):
            continue
        x0, x1 = place.x(people.low), place.x(people.high)
        y0, y1 = place.y(people.begins), place.y(people.ends)
        sheet.box((x0, y0), (max(x1 - x0, 2.0), y1 - y0), fill=PEOPLE, role="people")
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)]
        sheet.line(corners, colour=SHADE, width=0.8)


def _labels(sheet: Sheet, place: _Place) -> None:
    """Who it is, in the band where it fits, else beside it; those outside at the right."""
    text = sheet.text
    taken: list[tuple[float, float, float, float]] = []
    for people in place.watch.people:
        y = place.y(people.begins) + 1.15 * text
        words = f"{people.count} {people.crew}: {people.name}"
        if not _inside(people):
            continue
        middle = (place.x(people.low) + place.x(people.high)) / 2
        width = text_width(words, text)
        left = min(max(middle - width / 2, place.left + 2), place.right - width - 2)
        while any(
            left < b and left + width > a and y - text < d and y > c for a, b, c, d in taken
        ):
            y += 1.2 * text
        if y > place.bottom:
            continue
        taken.append((left, left + width, y - text, y))
        sheet.write((left, y), words, ink=OVER_LINES, role="who")
    _outside(sheet, place)


def _outside(sheet: Sheet, place: _Place) -> None:
    """Those on the ground: bars side by side while they are there at once, names below."""
    text = sheet.text
    every = sorted(
        (each for each in place.watch.people if not _inside(each)), key=lambda each: each.begins
    )
    lanes: list[datetime] = []
    lane_of = []
    for people in every:
        free = next((n for n, ends in enumerate(lanes) if ends <= people.begins), len(lanes))
        lanes[free : free + 1] = [people.ends]
        lane_of.append(free)
    beside = place.right + 8 + _LANE * len(lanes)
    for people, lane in zip(every, lane_of, strict=True):
        y0, y1 = place.y(people.begins), place.y(people.ends)
        at = (place.right + 8 + _LANE * lane, y0)
        size = (_LANE - 2, max(y1 - y0, 2.0))
        sheet.box(at, size, fill=PEOPLE, role="people outside")
    low, room = place.top, place.right + _AROUND - beside - 3
    for number, people in enumerate(every):
        low = max(low, place.y(people.begins))
        if number and low > place.bottom:
            sheet.write((beside + 1, low + 1.1 * text), f"+ {len(every) - number}", ink=QUIET)
            break
        for row, words in enumerate((f"{people.count} {people.crew}", str(people.zone))):
            y = low + (1.1 + 1.15 * row) * text
            sheet.write((beside + 1, y), shorten(words, text, room), ink=QUIET)
        low += 2.6 * text


def _floors(sheet: Sheet, place: _Place) -> None:
    for floor in place.watch.floors:
        x = place.x(floor.z)
        ends = [(x, place.y(floor.begins)), (x, place.y(floor.ends))]
        sheet.line(ends, colour=INK, width=2.4, role="floor")


def _track(sheet: Sheet, place: _Place, track: Track, line: tuple[str, str]) -> None:
    colour, dash = line
    heel = [(place.x(z), place.y(moment)) for moment, z in track.points]
    head = [(place.x(z + track.length), place.y(moment)) for moment, z in track.points]
    sheet.line(heel, colour=colour, width=2.0, dash=dash, role="heel")
    sheet.line(head, colour=colour, width=1.0, dash=dash, role="head")


def _names_of_lines(sheet: Sheet, place: _Place) -> None:
    """Names over the lines where they begin, in rows in which they do not touch."""
    text, watch = sheet.text, place.watch
    labels = []
    for number, track in enumerate(watch.tracks):
        moment, z = track.points[0]
        colour = Ink(colour=LINES[number % len(LINES)][0], bold=True, halo=True)
        for name, at in ((f"{track.section} heel", z), ("head", z + track.length)):
            labels.append((place.x(at), place.y(moment), name, colour))
    labels += [
        (place.x(floor.z), place.y(floor.begins), floor.name, Ink(colour=INK, halo=True))
        for floor in watch.floors
    ]
    at_top = sorted(each for each in labels if each[1] <= place.top + 1)
    spans = []
    for x, _, words, _ in at_top:
        half = text_width(words, text) / 2
        left = min(max(x - half, 2.0), sheet.width - 2 * half - 2)
        spans.append((left, left + 2 * half))
    rows = apart(spans, 3, 6.0)
    for (x, _, words, ink), (left, _), row in zip(at_top, spans, rows, strict=True):
        if row is not None:
            y = place.top - (1.7 + 1.15 * row) * text
            sheet.write((left, y), words, ink=ink, role="line")
            sheet.line([(x, y + 0.2 * text), (x, place.top)], colour=ink.colour, width=0.6)
    for x, y, words, ink in labels:
        if y > place.top + 1:
            sheet.write((x + 4, y + 0.35 * text), words, ink=ink, role="line")


def _crossings(sheet: Sheet, place: _Place, told: Sequence[Crossing]) -> None:
    text = sheet.text
    for number, each in enumerate(told, start=1):
        x0, x1 = place.x(each.low), place.x(each.high)
        y0, y1 = place.y(each.begins), place.y(each.ends)
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)]
        sheet.hatch((x0, y0), (x1 - x0, y1 - y0), colour=MARK, spacing=5.0, role="crossing")
        sheet.line(corners, colour=MARK, width=2.2)
        y = max(y0 + 1.2 * text, min((y0 + y1) / 2, y1) + (number % 2 - 0.5) * 1.3 * text)
        words = f"CROSSING {number}"
        x = x1 + 4 if x1 + text_width(words, text) < place.right else x0 - 4
        sheet.write((x, y), words, "start" if x > x1 else "end", ink=CROSSED, role="crossing")


def _lines(
    joined: Sequence[Crossing], unknown: Sequence[str], options: WatchSheet
) -> list[str]:
    """What is told below the drawing, in lines that fit it."""
    told = joined[: options.most_words]
    lines = []
    for number, each in enumerate(told, start=1):
        words = f"{number}  {_when(each)}  {' and '.join(each.who)}: {each.words}"
        lines += wrapped(words, options.text, options.width - 8)
    if len(joined) > len(told):
        lines.append(f"and {len(joined) - len(told)} more, not drawn here")
    for each_unknown in unknown:
        lines += wrapped(f"NOT KNOWN: {each_unknown}", options.text, options.width - 8)
    return lines


def wrapped(words: str, text: float, width: float) -> list[str]:
    """Words in lines no wider than a width.

    Parameters
    ----------
    words : str
        A sentence.
    text, width : float
        Height of the letters, and room there is. [px]

    Returns
    -------
    lines : list of str
        All but the first begin with a blank space.
    """
    lines, now = [], ""
    for word in words.split():
        longer = f"{now} {word}" if now else word
        if now and text_width(longer, text) > width:
            lines.append(now)
            longer = f"\u2003{word}"
        now = longer
    return [*lines, now]


def _words(sheet: Sheet, options: WatchSheet, n: int, lines: Sequence[str]) -> None:
    text = sheet.text
    y = options.height + 0.9 * text
    if n:
        head, ink = f"{n} crossing{'s' if n > 1 else ''}:", Ink(colour=MARK, bold=True)
    else:
        head, ink = "No crossing: nobody is on or under what moves or may fall.", BOLD
    sheet.write((4, y), head, ink=ink, role="head")
    for number, line in enumerate(lines, start=1):
        sheet.write((4, y + 1.5 * text * number), line, ink=PLAIN, role="told")


def _when(crossing: Crossing) -> str:
    return f"{_clock(crossing.begins)}-{_clock(crossing.ends)}"


def _clock(moment: datetime) -> str:
    zone = moment.tzinfo
    if zone is None:
        raise ValueError("a moment on the watch sheet has its zone")
    return clock(moment, zone)


def _summary(watch: Watch, joined: Sequence[Crossing]) -> str:
    told = "; ".join(f"{_when(each)} {' and '.join(each.who)}: {each.words}" for each in joined)
    return f"{len(watch.people)} bands of people, {len(joined)} crossings. {told}"
