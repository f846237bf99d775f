"""What each layer prints as: weight, dashes, colour; and what patterns are made of."""

import unicodedata
from dataclasses import dataclass
from math import atan2, cos, dist, hypot, pi, sin

from towerlift.drawings.drawing import Across, Layer, Pattern, Place, Size, View, Words
from towerlift.drawings.lengths import Measure, size_words

CAPITALS = 0.729
"""Height of capital letters over the size of the face."""
# Of a dimension, on paper. [mm]
TICK, FREE, PAST, OVER = 1.5, 0.8, 1.2, 0.7


@dataclass(frozen=True, slots=True, kw_only=True)
class Pen:
    """How a layer prints.

    Attributes
    ----------
    weight : float
        Of its lines. [mm]
    colour : str
        On a screen and on a colour printer; dark enough to print black.
    index : int
        The same by number, for DXF; 7 is black on paper.
    dashes : tuple of float
        Lengths of strokes and blanks by turns; empty for a full line. [mm]
    """

    weight: float
    colour: str = "#1d2126"
    index: int = 7
    dashes: tuple[float, ...] = ()


PENS: dict[Layer, Pen] = {
    Layer.STONE: Pen(weight=0.5),
    Layer.WALL: Pen(weight=0.18, colour="#4d4f52", index=8),
    Layer.CUT: Pen(weight=0.4),
    Layer.TIMBER: Pen(weight=0.2),
    Layer.FAINT: Pen(weight=0.13, colour="#5a5d61", index=8),
    Layer.FIXTURE: Pen(weight=0.25, colour="#3f3a30"),
    Layer.ROPE: Pen(weight=0.35, colour="#123d62", index=5),
    Layer.IRON: Pen(weight=0.25),
    Layer.PEOPLE: Pen(weight=0.18, dashes=(1.0, 0.8)),
    Layer.KEEP_OUT: Pen(weight=0.3, colour="#8a1c3c", index=1, dashes=(2.4, 0.9, 0.5, 0.9)),
    Layer.FORCE: Pen(weight=0.5, colour="#8a1c3c", index=1),
    Layer.GAP: Pen(weight=0.5, colour="#8a1c3c", index=1),
    Layer.AXIS: Pen(weight=0.13, colour="#5a5d61", index=8, dashes=(5.0, 1.0, 1.0, 1.0)),
    Layer.SIZES: Pen(weight=0.13),
    Layer.LEVELS: Pen(weight=0.13),
    Layer.WORDS: Pen(weight=0.13),
    Layer.SHEET: Pen(weight=0.35),
}

STRIPES: dict[Pattern, tuple[tuple[float, float], ...]] = {
    Pattern.STONE: ((pi / 4, 1.8),),
    Pattern.TIMBER: ((3 * pi / 4, 1.0),),
    Pattern.PACK: ((0.0, 0.9),),
    Pattern.PARE: ((pi / 4, 1.1), (3 * pi / 4, 1.1)),
    Pattern.SOLID: (),
}
"""Direction and spacing on paper of the lines of each pattern. [rad], [mm]"""


def printable(text: str) -> str:
    """Words without the characters that neither file can hold.

    Parameters
    ----------
    text : str
        As a plan has it.

    Returns
    -------
    text : str
        Control characters become spaces.
    """
    return "".join(" " if unicodedata.category(c) in ("Cc", "Cs") else c for c in text)


# Advance widths of DejaVu Sans from the space to the tilde, thousandths of the size of
# the face; the letters of most other faces are narrower.
_WIDTHS = (
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337,
    636, 636, 636, 636, 636, 636, 636, 636, 636, 636, 337, 337, 838, 838, 838, 531,
    1000, 684, 686, 698, 770, 632, 575, 775, 752, 295, 295, 656, 557, 863, 748, 787,
    603, 787, 695, 635, 611, 732, 684, 989, 685, 611, 685, 390, 337, 390, 838, 500,
    500, 613, 635, 550, 635, 615, 352, 635, 634, 278, 278, 579, 278, 974, 634, 612,
    635, 635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636, 337, 636, 838,
)  # fmt: skip
_BOLD = 1.14


def _advance(letter: str) -> float:
    if " " <= letter <= "~":
        return _WIDTHS[ord(letter) - 32] / 1000.0
    return 1.02 if unicodedata.east_asian_width(letter) in "WF" else 0.84


def words_width(text: str, height: float, *, bold: bool = False) -> float:
    """Width of a line of words.

    Parameters
    ----------
    text : str
        One line.
    height : float
        Of the capital letters. [mm]
    bold : bool
        Whether in heavy letters.

    Returns
    -------
    width : float
        In a wide sans-serif face; marks over letters add nothing. [mm]
    """
    plain = unicodedata.normalize("NFD", text)
    ems = sum(_advance(c) for c in plain if not unicodedata.combining(c))
    return ems * height / CAPITALS * (_BOLD if bold else 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A turned rectangle on paper.

    Attributes
    ----------
    middle : tuple of float
        [mm]
    half_width, half_height : float
        [mm]
    turn : float
        [rad]
    """

    middle: Place
    half_width: float
    half_height: float
    turn: float = 0.0

    @property
    def corners(self) -> tuple[Place, Place, Place, Place]:
        """Its corners, anticlockwise. [mm]"""
        c, s = cos(self.turn), sin(self.turn)
        found = [
            (
                self.middle[0] + u * self.half_width * c - v * self.half_height * s,
                self.middle[1] + u * self.half_width * s + v * self.half_height * c,
            )
            for u, v in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        ]
        return found[0], found[1], found[2], found[3]

    @property
    def half_diagonal(self) -> float:
        """From its middle to each corner. [mm]"""
        return hypot(self.half_width, self.half_height)

    def meets(self, other: "Box", *, apart: float = 0.0) -> bool:
        """Whether two boxes overlap, or come nearer than they should.

        Parameters
        ----------
        other : Box
            The other.
        apart : float
            Room to be left between them. [mm]

        Returns
        -------
        meets : bool
            By separating axes; exact at no room, a little strict with some.
        """
        # One of two axes square to each other sees 1 / sqrt(2) of the way between
        # middles or more, and no half extent is more than half a diagonal.
        reach = self.half_diagonal + other.half_diagonal + apart
        if dist(self.middle, other.middle) > 1.5 * reach:
            return False
        for turn in (self.turn, other.turn):
            for axis in ((cos(turn), sin(turn)), (-sin(turn), cos(turn))):
                a = [p[0] * axis[0] + p[1] * axis[1] for p in self.corners]
                b = [p[0] * axis[0] + p[1] * axis[1] for p in other.corners]
                if max(a) + apart <= min(b) + 1e-9 or max(b) + apart <= min(a) + 1e-9:
                    return False
        return True


def line_box(start: Place, end: Place) -> Box:
    """The box of a line, of no thickness. [mm]"""
    run = (end[0] - start[0], end[1] - start[1])
    return Box(
        middle=((start[0] + end[0]) / 2, (start[1] + end[1]) / 2),
        half_width=hypot(*run) / 2,
        half_height=0.0,
        turn=atan2(run[1], run[0]),
    )


_SHARE: dict[Across, float] = {"left": 0.5, "middle": 0.0, "right": -0.5}


def words_box(words: Words, at: Place) -> Box:
    """Room that words take.

    Parameters
    ----------
    words : Words
        What is written.
    at : tuple of float
        Where on paper. [mm]

    Returns
    -------
    box : Box
        With room for letters that hang below the line.
    """
    width = words_width(words.text, words.height, bold=words.bold)
    aside = _SHARE[words.across] * width
    return Box(
        middle=(at[0] + aside * cos(words.turn), at[1] + aside * sin(words.turn)),
        half_width=width / 2,
        half_height=0.72 * words.height,
        turn=words.turn,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeOnPaper:
    """A dimension as it prints.

    Attributes
    ----------
    lines : tuple of (Place, Place)
        Dimension line first, then its two extension lines. [mm]
    ticks : tuple of (Place, Place)
        Oblique strokes at its ends. [mm]
    text : str
        What is written.
    at : tuple of float
        Middle of the words. [mm]
    turn : float
        Of the words. [rad]
    height : float
        Of the letters. [mm]
    """

    lines: tuple[tuple[Place, Place], ...]
    ticks: tuple[tuple[Place, Place], ...]
    text: str
    at: Place
    turn: float
    height: float

    @property
    def box(self) -> Box:
        """Room that the words take. [mm]"""
        words = Words(at=self.at, text=self.text, height=self.height, across="middle",
                      turn=self.turn)  # fmt: skip
        return words_box(words, self.at)


def size_text(size: Size, measure: Measure) -> str:
    """What a dimension writes.

    Parameters
    ----------
    size : Size
        The dimension.
    measure : Measure
        How lengths are written.

    Returns
    -------
    text : str
        Its own words, or the length measured.
    """
    return size.text or size_words(size.length, measure)


def size_on_paper(size: Size, view: View, measure: Measure) -> SizeOnPaper:
    """Lines and words of a dimension.

    Parameters
    ----------
    size : Size
        The dimension.
    view : View
        Where it stands.
    measure : Measure
        How lengths are written.

    Returns
    -------
    printed : SizeOnPaper
        Words stand over the line, or beyond its far end where they are wider.
    """
    text = size_text(size, measure)
    a, b = (view.on_paper(point) for point in size.ends)
    run = hypot(b[0] - a[0], b[1] - a[1])
    along = ((b[0] - a[0]) / run, (b[1] - a[1]) / run)
    # Read from below or from the right.
    turn = atan2(along[1], along[0])
    if turn > pi / 2 + 1e-6 or turn <= -pi / 2 + 1e-6:
        turn += pi if turn <= 0 else -pi
    up = (-sin(turn), cos(turn))
    width = words_width(text, size.height)
    lift = OVER + 0.72 * size.height
    if width <= run - TICK:
        near, far = a, b
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    else:
        beyond = width + 2 * TICK
        near, far = a, (b[0] + beyond * along[0], b[1] + beyond * along[1])
        middle = (
            b[0] + (TICK + width / 2) * along[0],
            b[1] + (TICK + width / 2) * along[1],
        )
    lines = [(near, far)]
    for point, end in zip((size.start, size.end), (a, b), strict=True):
        origin = view.on_paper(point)
        away = hypot(end[0] - origin[0], end[1] - origin[1])
        if away > FREE:
            way = ((end[0] - origin[0]) / away, (end[1] - origin[1]) / away)
            lines.append((
                (origin[0] + FREE * way[0], origin[1] + FREE * way[1]),
                (end[0] + PAST * way[0], end[1] + PAST * way[1]),
            ))  # fmt: skip
    c, s = cos(turn + pi / 4), sin(turn + pi / 4)
    half = TICK / 2
    ticks = tuple(
        ((e[0] - half * c, e[1] - half * s), (e[0] + half * c, e[1] + half * s)) for e in (a, b)
    )
    return SizeOnPaper(
        lines=tuple(lines),
        ticks=ticks,
        text=text,
        at=(middle[0] + lift * up[0], middle[1] + lift * up[1]),
        turn=turn,
        height=size.height,
    )
