"""A drawing as SVG text: lines, words and nothing else.

Everything is sized from the height of its letters, so that a drawing asked for
with larger letters keeps its layout.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise
from math import ceil, floor, isfinite, log10

INK = "#262a30"
FAINT = "#76766f"
GRID = "#dedcd4"
MARK = "#b22658"
LIMIT = "#8a3b12"
# Dark enough on paper, told apart by their dashes first and by lightness second.
LINES: tuple[tuple[str, str], ...] = (
    ("#17527f", ""),
    ("#262a30", "7 3"),
    ("#4c7a86", "2 2.5"),
    ("#7a5a12", "9 3 2 3"),
    ("#7b6f8f", "4 2 1 2 1 2"),
    ("#5d6b3c", "12 4"),
)

_WIDE, _NARROW = frozenset("mwMW%@—+=<>≥≤×−→←◇…"), frozenset("iljtfrI.,:;'|()[] -–·")
HEAVY = 1.13  # width of bold letters over that of plain ones


def text_width(words: str, size: float) -> float:
    """Width that words take up, a little on the generous side.

    Parameters
    ----------
    words : str
        One line.
    size : float
        Height of the letters. [px]

    Returns
    -------
    width : float
        Estimate for a common sans-serif face. [px]
    """
    ems = sum(0.95 if c in _WIDE else 0.41 if c in _NARROW else 0.66 for c in words)
    return ems * size


def shorten(words: str, size: float, width: float) -> str:
    """Words cut to a width, with an ellipsis where something was cut off.

    Parameters
    ----------
    words : str
        One line.
    size : float
        Height of the letters. [px]
    width : float
        Room there is. [px]

    Returns
    -------
    words : str
        As much as there is room for.
    """
    if text_width(words, size) <= width:
        return words
    while words and text_width(words + "…", size) > width:
        words = words[:-1]
    return words.rstrip() + "…"


def round_ticks(low: float, high: float, most: int) -> tuple[float, ...]:
    """Round numbers within a range, evenly spaced.

    Parameters
    ----------
    low, high : float
        Ends of the range.
    most : int
        No more than so many.

    Returns
    -------
    ticks : tuple of float
        Multiples of 1, 2 or 5 times a power of ten.
    """
    if not (isfinite(low) and isfinite(high) and high > low):
        return (low,) if isfinite(low) else ()
    power = 10.0 ** floor(log10((high - low) / max(most, 1)))
    for step in (power, 2 * power, 5 * power, 10 * power, 20 * power):
        first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
        if last - first + 1 <= most:
            return tuple(n * step for n in range(first, last + 1))
    return (low,)


def write_number(value: float) -> str:
    """A tick's number without a tail of zeros."""
    return f"{value:.6g}".replace("-", "−")


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The rectangle a curve is drawn in, and the ranges it stands for.

    Attributes
    ----------
    left, top, width, height : float
        On the drawing. [px]
    x_low, x_high, y_low, y_high : float
        Values at its edges.
    """

    left: float
    top: float
    width: float
    height: float
    x_low: float
    x_high: float
    y_low: float
    y_high: float

    @property
    def right(self) -> float:
        """Right edge. [px]"""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """Lower edge. [px]"""
        return self.top + self.height

    def x(self, value: float) -> float:
        """Place of a value along the frame. [px]"""
        return self.left + self.width * (value - self.x_low) / (self.x_high - self.x_low)

    def y(self, value: float) -> float:
        """Place of a value up the frame, held within it. [px]"""
        share = (value - self.y_low) / (self.y_high - self.y_low)
        return self.bottom - self.height * min(max(share, 0.0), 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ink:
    """How words are written.

    Attributes
    ----------
    colour : str
        As SVG names it.
    bold : bool
        Whether in heavy letters.
    halo : bool
        Whether with a rim of paper, to be read over lines.
    """

    colour: str = INK
    bold: bool = False
    halo: bool = False


PLAIN, BOLD, QUIET = Ink(), Ink(bold=True), Ink(colour=FAINT)
OVER_LINES = Ink(bold=True, halo=True)


def n_ticks(frame: Frame, text: float, most: int) -> int:
    """How many numbers have room up a frame.

    Parameters
    ----------
    frame : Frame
        Where they stand.
    text : float
        Height of the letters. [px]
    most : int
        No more than so many.

    Returns
    -------
    n : int
        Two at least.
    """
    return max(2, min(most, int(frame.height / (1.05 * text)) + 1))


class Sheet:
    """Collects the elements of one drawing.

    Parameters
    ----------
    width, height : float
        Of the drawing. [px]
    text : float
        Height of its letters. [px]
    """

    def __init__(self, width: float, height: float, text: float) -> None:
        self.width, self.height, self.text = width, height, text
        self._parts: list[str] = []

    def write(
        self,
        at: tuple[float, float],
        words: str,
        anchor: str = "start",
        *,
        ink: Ink = PLAIN,
        role: str = "",
    ) -> None:
        """Put words with their baseline at a place.

        Parameters
        ----------
        at : tuple of float
            Place of the baseline. [px]
        words : str
            One line.
        anchor : str
            "start", "middle" or "end" of the words is at the place.
        ink : Ink
            Colour and weight.
        role : str
            Class of the element, for whoever reads the drawing by machine.
        """
        (x, y), marked = at, f' class="{role}"' if role else ""
        weight = ' font-weight="bold"' if ink.bold else ""
        if ink.halo:
            weight += ' paint-order="stroke" stroke="#fff" stroke-width="3"'
        self._parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{ink.colour}"'
            f"{weight}{marked}>{escape(words)}</text>"
        )

    def line(
        self,
        points: Sequence[tuple[float, float]],
        *,
        colour: str = INK,
        width: float = 1.0,
        dash: str = "",
        role: str = "",
    ) -> None:
        """Draw a line through points.

        Parameters
        ----------
        points : sequence of (float, float)
            Places on the drawing. [px]
        colour : str
            As SVG names it.
        width : float
            Of the line. [px]
        dash : str
            Lengths of strokes and blanks; empty for a full line.
        role : str
            Class of the element.
        """
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        marked = f' class="{role}"' if role else ""
        self._parts.append(
            f'<polyline points="{path}" fill="none" stroke="{colour}" '
            f'stroke-width="{width}" stroke-linejoin="round"{dashed}{marked}/>'
        )

    def box(
        self,
        corner: tuple[float, float],
        size: tuple[float, float],
        *,
        fill: str,
        role: str = "",
    ) -> None:
        """Draw a filled rectangle.

        Parameters
        ----------
        corner : tuple of float
            Upper left corner. [px]
        size : tuple of float
            Width and height. [px]
        fill, role : str
            Colour, and class of the element.
        """
        (x, y), (width, height) = corner, size
        marked = f' class="{role}"' if role else ""
        self._parts.append(
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" '
            f'fill="{fill}"{marked}/>'
        )

    def area(
        self,
        corners: Sequence[tuple[float, float]],
        *,
        fill: str,
        edge: str = "none",
        role: str = "",
    ) -> None:
        """Draw a filled polygon.

        Parameters
        ----------
        corners : sequence of (float, float)
            In order. [px]
        fill, edge : str
            Colours as SVG names them; "none" for nothing.
        role : str
            Class of the element.
        """
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in corners)
        marked = f' class="{role}"' if role else ""
        self._parts.append(
            f'<polygon points="{path}" fill="{fill}" stroke="{edge}" '
            f'stroke-width="0.8"{marked}/>'
        )

    def hatch(
        self,
        corner: tuple[float, float],
        size: tuple[float, float],
        *,
        colour: str,
        spacing: float = 6.0,
        role: str = "",
    ) -> None:
        """Draw a rectangle filled with slanting lines, told apart without colour.

        Parameters
        ----------
        corner : tuple of float
            Upper left corner. [px]
        size : tuple of float
            Width and height. [px]
        colour : str
            Of the lines and the edge.
        spacing : float
            Between lines, along the edge. [px]
        role : str
            Class of the element.
        """
        (left, top), (width, height) = corner, size
        parts = [f"M{left:.1f},{top:.1f}h{width:.1f}v{height:.1f}h{-width:.1f}z"]
        along = spacing
        while along < width + height:
            # A line at 45 degrees from the upper or right edge to the left or lower one.
            x1, y1 = left + min(along, width), top + max(0.0, along - width)
            x2, y2 = left + max(0.0, along - height), top + min(along, height)
            parts.append(f"M{x1:.1f},{y1:.1f}L{x2:.1f},{y2:.1f}")
            along += spacing
        marked = f' class="{role}"' if role else ""
        self._parts.append(
            f'<path d="{"".join(parts)}" fill="none" stroke="{colour}" '
            f'stroke-width="0.9"{marked}/>'
        )

    def dot(self, x: float, y: float, *, colour: str = INK, role: str = "") -> None:
        """Draw a dot with a rim of paper, so that it shows on any line.

        Parameters
        ----------
        x, y : float
            Its middle. [px]
        colour, role : str
            Fill, and class of the element.
        """
        marked = f' class="{role}"' if role else ""
        self._parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.4" fill="{colour}" stroke="#fff" '
            f'stroke-width="1.2"{marked}/>'
        )

    def axes(self, frame: Frame, across: Sequence[float], up: Sequence[float]) -> None:
        """Draw the lines and numbers of a frame.

        Parameters
        ----------
        frame : Frame
            Where, and what it stands for.
        across, up : sequence of float
            Values to be numbered; `across` may be empty.
        """
        text = self.text
        for value in up:
            y = frame.y(value)
            self.line([(frame.left, y), (frame.right, y)], colour=GRID)
            # No number beside the upper edge: the unit stands over it.
            if y > frame.top + 0.5 * text:
                self.write((frame.left - 4, y + 0.35 * text), write_number(value), "end")
        for value in across:
            x = frame.x(value)
            self.line([(x, frame.bottom), (x, frame.bottom + 4)])
            label = write_number(value)
            self.write((x, frame.bottom + 1.45 * text), label, "middle", role="across")
        corners = [(frame.left, frame.top), (frame.left, frame.bottom)]
        self.line([*corners, (frame.right, frame.bottom)], role="frame")

    def svg(self, title: str, summary: str) -> str:
        """The finished drawing.

        Parameters
        ----------
        title : str
            What it shows, in a few words.
        summary : str
            What it says, for those who cannot see it.

        Returns
        -------
        svg : str
            One element, as wide as where it is put.
        """
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" role="img" '
            f'viewBox="0 0 {self.width:g} {self.height:g}" width="100%" '
            f'style="max-width:{self.width:g}px;display:block;background:#fff" '
            f'font-family="DejaVu Sans, Verdana, sans-serif" font-size="{self.text:g}">'
            f"<title>{escape(title)}</title><desc>{escape(summary)}</desc>"
            + "".join(self._parts)
            + "</svg>"
        )


def apart(places: Sequence[tuple[float, float]], rows: int, gap: float) -> list[int | None]:
    """Rows in which labels of given extents do not touch, first that fits.

    Parameters
    ----------
    places : sequence of (float, float)
        Left and right end of each label. [px]
    rows : int
        How many rows there are.
    gap : float
        Room to leave between two labels. [px]

    Returns
    -------
    rows : list of int or None
        Row of each label; None where no row has room.
    """
    taken: list[list[tuple[float, float]]] = [[] for _ in range(rows)]
    chosen: list[int | None] = []
    for left, right in places:
        row = next(
            (
                n
                for n, others in enumerate(taken)
                if all(right + gap <= a or left >= b + gap for a, b in others)
            ),
            None,
        )
        if row is not None:
            taken[row].append((left, right))
        chosen.append(row)
    return chosen


def stair(bounds: Sequence[float], values: Sequence[float]) -> list[tuple[float, float]]:
    """Corners of a step line: one value between each two bounds.

    Parameters
    ----------
    bounds : sequence of float
        One more than there are values.
    values : sequence of float
        What holds between two bounds.

    Returns
    -------
    corners : list of (float, float)
        In order.
    """
    return [
        (bound, value)
        for pair, value in zip(pairwise(bounds), values, strict=True)
        for bound in pair
    ]
