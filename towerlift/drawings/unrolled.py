"""The spire unrolled to its four faces, every band with its date, its board and its lap."""

from collections.abc import Sequence
from dataclasses import dataclass

from towerlift.drawings.svg import BOLD, GRID, INK, MARK, PLAIN, QUIET, Ink, Sheet
from towerlift.programme.windows_bands import Band
from towerlift.programme.windows_sheet import BandSheet, RoofSheet, Window

FACES = ("north", "east", "south", "west")
# By the order of the dates, light to dark; letters on them are dark and have a rim of paper.
TONES = ("#f1e3c4", "#e2cf9f", "#d3bd86", "#c2a96f", "#b09660", "#9c8452", "#877147")
NO_DATE = "#ffffff"
COLUMNS = (4.4, 7.2, 12.2, 18.0)  # left edges of the columns, from the right, in letters
WRONG = Ink(colour=MARK, bold=True, halo=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unrolled:
    """How the spire is drawn.

    Attributes
    ----------
    gauge : float
        Of the courses, drawn as fine lines. [m]
    width, height : float
        Of the drawing. [px]
    text : float
        Height of its letters. [px]
    """

    gauge: float
    width: float = 504.0
    height: float = 330.0
    text: float = 11.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Face:
    middle: float
    scale: float
    low: float
    bottom: float

    def corners(self, band: Band, low: float, high: float) -> list[tuple[float, float]]:
        halves = [(s, self.scale * band.half(s)) for s in (low, high)]
        (s0, a), (s1, b) = halves
        y0, y1 = self.y(s0), self.y(s1)
        m = self.middle
        return [(m - a, y0), (m + a, y0), (m + b, y1), (m - b, y1)]

    def y(self, s: float) -> float:
        return self.bottom - self.scale * (s - self.low)


def spire_unrolled(sheet: RoofSheet, options: Unrolled) -> str:
    """Draw the four faces of a spire side by side, with dates.

    Parameters
    ----------
    sheet : RoofSheet
        Bands with their windows.
    options : Unrolled
        Size and gauge.

    Returns
    -------
    svg : str
        One element. A band whose date will not do is marked in words; one without a date
        is white and hatched.
    """
    text = options.text
    bands = [each.band for each in sheet.bands]
    low, high = bands[-1].low, bands[0].high
    top, bottom = 2.4 * text, options.height - 2.0 * text
    left, right = 13.0 * text, options.width - COLUMNS[-1] * text
    widest = max(band.half_low for band in bands)
    scale = min((bottom - top) / (high - low), (right - left) / (4 * 2 * widest + 0.6))
    step = (right - left) / 4
    bottom = top + scale * (high - low)
    ends = _Face(middle=left, scale=scale, low=low, bottom=bottom)
    rows = _places(ends, bands, text)
    paper = Sheet(options.width, max(bottom + 2.0 * text, rows[-1] + 1.0 * text), text)
    for number, name in enumerate(FACES):
        face = _Face(middle=left + (number + 0.5) * step, scale=scale, low=low, bottom=bottom)
        _face(paper, face, sheet, options.gauge)
        paper.write((face.middle, bottom + 1.4 * text), name, "middle", ink=BOLD)
    _heights(paper, ends, bands, right + 4)
    _rows(paper, rows, sheet)
    paper.write((4, 1.1 * text), "band, date", ink=QUIET)
    for back, words in zip(COLUMNS, ("kg", "h", "board, m", "heel, m"), strict=False):
        at = (options.width - (back - 4.4) * text - 4, 1.1 * text)
        paper.write(at, words, "end", ink=QUIET)
    return paper.svg("The spire unrolled to its faces", _summary(sheet))


def _order(sheet: RoofSheet) -> dict[str, int]:
    dated = [(each.planned.starts, each.band.name) for each in sheet.bands if each.planned]
    return {name: number for number, (_, name) in enumerate(sorted(dated))}


def _face(paper: Sheet, face: _Face, sheet: RoofSheet, gauge: float) -> None:
    order = _order(sheet)
    for each in sheet.bands:
        band = each.band
        tone = order.get(band.name)
        fill = NO_DATE if tone is None else TONES[min(tone, len(TONES) - 1)]
        role = f"band {'wrong' if each.fault else 'dated' if tone is not None else 'undated'}"
        corners = face.corners(band, band.low, band.high)
        paper.area(corners, fill=fill, edge=INK, role=role)
        _courses(paper, face, band, gauge)
        if each.fault or tone is None:
            _cross_out(paper, corners)
    for low, high in sheet.unreached:
        for band in (each.band for each in sheet.bands):
            a, b = max(low, band.low), min(high, band.high)
            if a < b:
                paper.area(face.corners(band, a, b), fill=MARK, edge=MARK, role="unreached")


def _courses(paper: Sheet, face: _Face, band: Band, gauge: float) -> None:
    s = band.low + gauge / band.slope
    while s < band.high - 1e-6:
        half = face.scale * band.half(s)
        ends = [(face.middle - half, face.y(s)), (face.middle + half, face.y(s))]
        paper.line(ends, colour="#8d8468", width=0.35)
        s += gauge / band.slope


def _cross_out(paper: Sheet, corners: Sequence[tuple[float, float]]) -> None:
    a, b, c, d = corners
    paper.line([a, c], colour=MARK, width=1.4)
    paper.line([b, d], colour=MARK, width=1.4)


def _heights(paper: Sheet, face: _Face, bands: Sequence[Band], right: float) -> None:
    last = 1e9
    for s in sorted({band.low for band in bands} | {bands[0].high}):
        y = face.y(s)
        if last - y < 0.95 * paper.text:
            continue
        last = y
        paper.line([(face.middle - 4, y), (right, y)], colour=GRID, width=0.8)
        words = f"{s:.2f}"
        paper.write((face.middle - 6, y + 0.3 * paper.text), words, "end", ink=QUIET)


def _places(face: _Face, bands: Sequence[Band], text: float) -> list[float]:
    """Where the words of each band stand; one too low for them pushes the next one down."""
    places: list[float] = []
    for band in bands:
        middle = (face.y(band.low) + face.y(band.high)) / 2 + 0.35 * text
        places.append(max(middle, places[-1] + 2.25 * text if places else middle))
    return places


def _rows(paper: Sheet, places: Sequence[float], sheet: RoofSheet) -> None:
    text = paper.text
    for each, y in zip(sheet.bands, places, strict=True):
        band = each.band
        ink = WRONG if each.fault else BOLD
        paper.write((4, y - 0.55 * text), band.name, ink=ink, role="band name")
        paper.write((4, y + 0.55 * text), _date(each), ink=ink if each.fault else PLAIN)
        for back, words in zip(COLUMNS, _facts(each), strict=False):
            at = (paper.width - (back - 4.4) * text - 4, y)
            paper.write(at, words, "end", ink=PLAIN)


def _date(each: BandSheet) -> str:
    if each.planned is None:
        return "no date"
    return f"{'NOT ' if each.fault else ''}{each.planned.starts:%a %d %b}"


def _facts(each: BandSheet) -> tuple[str, str, str, str]:
    heel = "no park" if each.park is None else f"{each.park.heel:.2f}"
    board = "" if each.boards is None else f"{each.boards.width:.2f}"
    return f"{each.band.mass:.0f}", f"{each.hours / 3600:.1f}", board, heel


def _summary(sheet: RoofSheet) -> str:
    told = "; ".join(
        f"{each.band.name} {_date(each)}{': ' + each.fault if each.fault else ''}"
        for each in sheet.bands
    )
    lost = ", ".join(f"{low:.2f} to {high:.2f} m" for low, high in sheet.unreached)
    return f"{told}. No park reaches s {lost}." if lost else f"{told}."


def in_words(window: Window) -> str:
    """A window in a few words.

    Parameters
    ----------
    window : Window
        Any.

    Returns
    -------
    words : str
        Such as "2027-04-21 07:30-15:45, off by 15:30".
    """
    return f"{window.opening.words}, off by {window.off_by:%H:%M}"
