"""Day bars: light, hours of work, locks and wind, and what is open of each day."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isnan

from towerlift.drawings.svg import (
    BOLD,
    GRID,
    INK,
    MARK,
    PLAIN,
    QUIET,
    Ink,
    Sheet,
    shorten,
    text_width,
)
from towerlift.programme.windows_bars import DayBar

LIGHT, WORK, FAST, OPEN = "#f0d98a", "#c9c2ab", "#9fb6c4", "#2f5d3a"
WIND = "#4c7a86"
FIRST, LAST = 4.0, 22.0  # hours of the day that are drawn


@dataclass(frozen=True, slots=True, kw_only=True)
class Bars:
    """How the day bars are drawn.

    Attributes
    ----------
    words : tuple of str
        One line for each day, such as the bands that may be clad.
    width : float
        Of the drawing. [px]
    row : float
        Height of one day. [px]
    text : float
        Height of its letters. [px]
    """

    words: tuple[str, ...] = ()
    width: float = 640.0
    row: float = 50.0
    text: float = 11.0


def day_bars(bars: Sequence[DayBar], options: Bars) -> str:
    """Draw the bars of several days, one below the other.

    Parameters
    ----------
    bars : sequence of DayBar
        In order of time.
    options : Bars
        Size and words.

    Returns
    -------
    svg : str
        One element.
    """
    text = options.text
    head = 2.6 * text
    paper = Sheet(options.width, head + options.row * len(bars) + 4, text)
    left, right = 8.2 * text, options.width - 8.0
    scale = (right - left) / (LAST - FIRST)
    _key(paper, left)
    for hour in range(int(FIRST), int(LAST) + 1, 2):
        x = left + scale * (hour - FIRST)
        paper.line([(x, head), (x, paper.height - 4)], colour=GRID)
        paper.write((x, head - 0.3 * text), f"{hour:02d}", "middle", ink=QUIET)
    for number, bar in enumerate(bars):
        top = head + options.row * number
        words = options.words[number] if number < len(options.words) else ""
        _day(paper, bar, _Row(top=top, height=options.row, left=left, scale=scale), words)
    return paper.svg("Day bars of light, wind and lock", _summary(bars, options.words))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    top: float
    height: float
    left: float
    scale: float

    def x(self, hour: float) -> float:
        return self.left + self.scale * (min(max(hour, FIRST), LAST) - FIRST)


def _key(paper: Sheet, left: float) -> None:
    text, x = paper.text, left
    for colour, words in (
        (LIGHT, "light"),
        (FAST, "locked or secured"),
        (WIND, "chance of wind within the limit"),
        (OPEN, "open to roofers"),
    ):
        paper.box((x, 0.35 * text), (0.8 * text, 0.8 * text), fill=colour)
        paper.write((x + 1.1 * text, 1.1 * text), words, ink=QUIET)
        x += text_width(words, text) + 2.2 * text


def _day(paper: Sheet, bar: DayBar, row: _Row, words: str) -> None:
    text, thin = paper.text, (row.height - 1.7 * paper.text) / 5
    paper.line([(4, row.top), (paper.width - 8, row.top)], colour=GRID)
    paper.write((4, row.top + 1.3 * text), f"{bar.day:%a %d %b}", ink=BOLD)
    heel = "no park" if bar.heel is None else f"heel {bar.heel:.2f} m"
    paper.write((4, row.top + 2.5 * text), heel, ink=QUIET)
    top = row.top + 2.0
    for number, (stretches, colour, role) in enumerate(
        ((bar.light, LIGHT, "light"), (bar.fast, FAST, "fast"))
    ):
        for begins, ends in stretches:
            x0, x1 = row.x(begins), row.x(ends)
            if x1 > x0:
                y = top + number * thin
                paper.box((x0, y), (x1 - x0, thin - 1), fill=colour, role=role)
    _wind(paper, bar, row, (top + 2 * thin, 2 * thin - 1))
    for begins, ends in bar.open:
        x0, x1 = row.x(begins), row.x(ends)
        paper.box((x0, top + 4 * thin), (x1 - x0, thin), fill=OPEN, role="open")
    ink = PLAIN if bar.open else Ink(colour=MARK, bold=True)
    said = words or ("" if bar.open else "shut: " + _why(bar))
    y = row.top + row.height - 0.5 * text
    room = paper.width - row.left - 10
    paper.write((row.left, y), shorten(said, text, room), ink=ink, role="said")


def _wind(paper: Sheet, bar: DayBar, row: _Row, band: tuple[float, float]) -> None:
    top, height = band
    for hour, chance in enumerate(bar.clear):
        x0, x1 = row.x(hour), row.x(hour + 1)
        if x1 <= x0 or isnan(chance):
            continue
        full = height * chance
        paper.box((x0, top + height - full), (x1 - x0 - 0.5, full), fill=WIND, role="wind")
    paper.line(
        [(row.x(FIRST), top + height), (row.x(LAST), top + height)], colour=INK, width=0.4
    )


def _why(bar: DayBar) -> str:
    if bar.why_shut:
        return "; ".join(bar.why_shut)
    if not bar.fast:
        return "it does not stand locked or secured"
    return "no light within the hours of the crew" if bar.at_work else "the crew is off"


def _summary(bars: Sequence[DayBar], words: Sequence[str]) -> str:
    told = []
    for number, bar in enumerate(bars):
        hours = sum(b - a for a, b in bar.open)
        said = words[number] if number < len(words) else ""
        told.append(f"{bar.day}: {hours:.1f} h open. {said}")
    return " ".join(told)
