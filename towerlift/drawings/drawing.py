"""A drawing as a value: what is drawn on which layer, once, for SVG and DXF alike.

Everything in a view is in metres, at full size, in the view's own frame: x to the
right, y up the paper. Letters, arrows and lines have the size they print at.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import cos, hypot, isfinite, pi, sin
from typing import Literal

from towerlift.drawings.lengths import Measure

Place = tuple[float, float]
Across = Literal["left", "middle", "right"]


class Layer(StrEnum):
    """Layers of every drawing, as a DXF names them."""

    STONE = "STONE CUT"
    WALL = "STONE BEYOND"
    CUT = "TIMBER CUT"
    TIMBER = "TIMBER BEYOND"
    FAINT = "TIMBER LIGHT"
    FIXTURE = "STAGING"
    ROPE = "ROPE"
    IRON = "IRONWORK"
    PEOPLE = "PEOPLE"
    KEEP_OUT = "KEEP OUT"
    FORCE = "FORCE"
    GAP = "GAP"
    AXIS = "AXIS"
    SIZES = "SIZES"
    LEVELS = "LEVELS"
    WORDS = "WORDS"
    SHEET = "SHEET"


class Pattern(StrEnum):
    """How an area is filled: told apart without colour."""

    STONE = "stone"
    TIMBER = "timber"
    PACK = "pack"
    PARE = "pare"
    SOLID = "solid"


def _finite(what: str, points: Sequence[Place]) -> None:
    for point in points:
        if not all(isfinite(value) for value in point):
            raise ValueError(f"{what} has a place that is not a number: {point}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A line through points.

    Attributes
    ----------
    points : tuple of (float, float)
        Two or more. [m]
    layer : Layer
        Gives weight and dashes.
    closed : bool
        Whether it ends where it begins.
    """

    points: tuple[Place, ...]
    layer: Layer
    closed: bool = False

    def __post_init__(self) -> None:
        if len(self.points) < 2:
            raise ValueError("a stroke needs two points")
        _finite("stroke", self.points)


@dataclass(frozen=True, slots=True, kw_only=True)
class Arc:
    """A circle or a part of one, anticlockwise.

    Attributes
    ----------
    centre : tuple of float
        [m]
    radius : float
        [m]
    start, end : float
        Angles from the right. [rad]
    """

    centre: Place
    radius: float
    layer: Layer
    start: float = 0.0
    end: float = 2 * pi

    def __post_init__(self) -> None:
        _finite("arc", [self.centre, (self.start, self.end)])
        if not (self.radius > 0 and self.end > self.start):
            raise ValueError(
                f"an arc needs radius and sweep, got {self.radius} m, {self.start} to "
                f"{self.end} rad"
            )

    @property
    def whole(self) -> bool:
        """Whether it is a full circle."""
        return self.end - self.start >= 2 * pi - 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """An area with a pattern; its outline is drawn only if a stroke draws it.

    Attributes
    ----------
    rings : tuple of tuple of (float, float)
        Outline first, then holes: what an odd number of rings encloses is filled. [m]
    pattern : Pattern
        How it is filled.
    layer : Layer
        Where it lies.
    """

    rings: tuple[tuple[Place, ...], ...]
    pattern: Pattern
    layer: Layer

    def __post_init__(self) -> None:
        for ring in self.rings:
            if len(ring) < 3:
                raise ValueError("a filled area needs three corners")
            _finite("area", ring)


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """One line of words.

    Attributes
    ----------
    at : tuple of float
        Where they stand: end of the line of letters, half way up. [m]
    text : str
        One line.
    height : float
        Of the capital letters on paper. [mm]
    across : str
        Which part of the line is at the place.
    turn : float
        From level, anticlockwise. [rad]
    bold, hollow : bool
        Whether in heavy letters, and whether only their outlines are drawn.
    """

    at: Place
    text: str
    height: float
    layer: Layer = Layer.WORDS
    across: Across = "left"
    turn: float = 0.0
    bold: bool = False
    hollow: bool = False

    def __post_init__(self) -> None:
        _finite("words", [self.at])
        if not (self.height > 0 and self.text.strip()) or "\n" in self.text:
            raise ValueError(f"words need one line and a height, got {self.text!r}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """A dimension: the distance of two points along a direction, measured and written.

    Attributes
    ----------
    start, end : tuple of float
        Points measured between. [m]
    line : tuple of float
        A point that the dimension line passes through. [m]
    turn : float
        Direction that is measured along, from level. [rad]
    height : float
        Of its letters on paper. [mm]
    text : str
        What is written in place of the measured length; empty writes the length.
    """

    start: Place
    end: Place
    line: Place
    turn: float
    height: float
    text: str = ""
    layer: Layer = Layer.SIZES

    def __post_init__(self) -> None:
        _finite("size", [self.start, self.end, self.line])
        if not self.length > 0:
            raise ValueError(f"nothing to measure from {self.start} to {self.end}")

    @property
    def length(self) -> float:
        """What it measures. [m]"""
        a, b = self.ends
        return hypot(b[0] - a[0], b[1] - a[1])

    @property
    def ends(self) -> tuple[Place, Place]:
        """Ends of the dimension line, beside `start` and `end`. [m]"""
        c, s = cos(self.turn), sin(self.turn)
        ends = []
        for point in (self.start, self.end):
            along = (point[0] - self.line[0]) * c + (point[1] - self.line[1]) * s
            ends.append((self.line[0] + along * c, self.line[1] + along * s))
        return ends[0], ends[1]


Mark = Stroke | Arc | Filled | Words | Size


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One picture at one scale.

    Attributes
    ----------
    title : str
        Written under it, with the scale.
    scale : float
        Metres drawn over metres printed: 50 for 1:50.
    to_scale : bool
        False for a diagram, which says so in place of a scale.
    low, high : tuple of float
        Corners of what is shown, lower left and upper right. [m]
    corner : tuple of float
        Where the lower left corner stands in the drawing's room. [mm]
    marks : tuple of Mark
        What is drawn, undermost first.
    """

    title: str
    scale: float
    to_scale: bool = True
    low: Place
    high: Place
    corner: Place
    marks: tuple[Mark, ...]

    def __post_init__(self) -> None:
        if not (self.scale > 0 and self.high[0] > self.low[0] and self.high[1] > self.low[1]):
            raise ValueError(f"view {self.title!r} has no scale or no room")

    @property
    def width(self) -> float:
        """On paper. [mm]"""
        return 1000.0 * (self.high[0] - self.low[0]) / self.scale

    @property
    def height(self) -> float:
        """On paper. [mm]"""
        return 1000.0 * (self.high[1] - self.low[1]) / self.scale

    def on_paper(self, point: Place) -> Place:
        """Where a point of the view stands in the drawing's room, y up. [mm]"""
        factor = 1000.0 / self.scale
        return (
            self.corner[0] + factor * (point[0] - self.low[0]),
            self.corner[1] + factor * (point[1] - self.low[1]),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A drawing for one sheet or one figure.

    Attributes
    ----------
    key : str
        Name of its file, without an ending.
    title : str
        What it shows.
    says : str
        What it says, for those who cannot see it.
    width, height : float
        Room it takes on paper. [mm]
    measure : Measure
        How lengths are written.
    views : tuple of View
        Pictures, each at its own scale.
    notes : tuple of Mark
        What is drawn beside the views, in millimetres of the room, y up.
    """

    key: str
    title: str
    says: str
    width: float
    height: float
    measure: Measure
    views: tuple[View, ...]
    notes: tuple[Mark, ...] = ()

    @property
    def scales(self) -> tuple[float, ...]:
        """Scales of its views that are to scale, each once."""
        return tuple(dict.fromkeys(view.scale for view in self.views if view.to_scale))
