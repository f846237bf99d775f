"""Marks drawn over a picture: height scale, north, and the place of the least gap."""

from dataclasses import dataclass
from functools import cache
from io import BytesIO
from math import cos, log10

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from towerlift.scene.colours import INK, MARK, PAPER
from towerlift.scene.nearest import Nearest
from towerlift.scene.standpoints import Standpoint

Picture = NDArray[np.uint8]

TEXT = 12  # height of letters [pixels]
RING = 6  # radius of the mark at the least gap [pixels]
SCALE_FROM_LEFT = 30  # where the height scale stands [pixels]


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What is written over a picture besides height and north.

    Attributes
    ----------
    nearest : Nearest or None
        Least gap, if there is one to mark.
    names : tuple of (str, float)
        Names to be written at the right edge, and their heights. [m]
    """

    nearest: Nearest | None = None
    names: tuple[tuple[str, float], ...] = ()


def draw_marks(bare: Picture, standpoint: Standpoint, said: Said) -> Picture:
    """Add height scale, north mark and the least gap to a picture.

    Parameters
    ----------
    bare : (h, w, 3) uint8
        The picture.
    standpoint : Standpoint
        It was taken from.
    said : Said
        What is written over it.

    Returns
    -------
    marked : (h, w, 3) uint8
        A new picture.
    """
    image = Image.fromarray(bare)
    pen = ImageDraw.Draw(image)
    if cos(standpoint.rise) > 0.5:
        _height_scale(pen, standpoint, image.size)
    _north(pen, standpoint, image.size)
    _names(pen, standpoint, said.names, image.size)
    if said.nearest is not None:
        _least_gap(pen, standpoint, said.nearest, image.size)
    return np.asarray(image)


def as_png(picture: Picture) -> bytes:
    """A picture as the bytes of a PNG file.

    Parameters
    ----------
    picture : (h, w, 3) uint8
        Red, green, blue, upper row first.

    Returns
    -------
    png : bytes
        Packed for speed rather than for size.
    """
    file = BytesIO()
    Image.fromarray(picture).save(file, "PNG", compress_level=2)
    return file.getvalue()


def _height_scale(
    pen: ImageDraw.ImageDraw, standpoint: Standpoint, size: tuple[int, int]
) -> None:
    # Heights are those of the plane through the focus; level views show them true.
    per_metre = size[1] / standpoint.span * cos(standpoint.rise)
    middle = standpoint.focus[2]
    step = _round_step(38 / per_metre)
    first, last = middle - size[1] / 2 / per_metre, middle + size[1] / 2 / per_metre
    pen.line([(SCALE_FROM_LEFT, 0), (SCALE_FROM_LEFT, size[1])], fill=INK)
    for n in range(int(np.ceil(first / step)), int(np.floor(last / step)) + 1):
        y = size[1] / 2 - (n * step - middle) * per_metre
        if TEXT + 14 < y < size[1] - TEXT:
            pen.line([(SCALE_FROM_LEFT - 4, y), (SCALE_FROM_LEFT, y)], fill=INK)
            _write(pen, (SCALE_FROM_LEFT - 6, y), f"{n * step:.{_digits(step)}f}", "rm")
    _write(pen, (3, 3), "z, m", "la")


def _round_step(least: float) -> float:
    power = 10.0 ** np.floor(log10(least))
    return float(next(power * m for m in (1, 2, 5, 10) if power * m >= least * 0.999))


def _digits(step: float) -> int:
    return max(0, -int(np.floor(log10(step) + 1e-9)))


def _north(pen: ImageDraw.ImageDraw, standpoint: Standpoint, size: tuple[int, int]) -> None:
    # The shaft in plan, turned so that the direction of sight is up the picture.
    radius = 13
    middle = np.array([size[0] - radius - 16, size[1] - radius - TEXT - 20.0])
    north = np.array([standpoint.right[1], standpoint.towards_viewer[1]])
    if cos(standpoint.rise) < 1e-9:
        north = np.array([standpoint.right[1], -standpoint.upward[1]])
    length = float(np.hypot(*north))
    north = north / length if length > 0 else np.array([0.0, -1.0])
    side = np.array([-north[1], north[0]])
    left, top = middle - radius
    right, bottom = middle + radius
    pen.ellipse([left, top, right, bottom], fill=PAPER, outline=INK)
    tip, tail = middle + north * (radius - 2), middle - north * (radius - 4)
    for turn, fill in ((1, INK), (-1, PAPER)):
        edge = middle + turn * 4 * side
        pen.polygon([tuple(tip), tuple(edge), tuple(tail)], fill=fill, outline=INK)
    _write(pen, tuple(middle + north * (radius + 7)), "N", "mm")
    words = "plan, north up" if cos(standpoint.rise) < 1e-9 else f"looking {standpoint.looking}"
    _write(pen, (size[0] - 5, size[1] - 4), words, "rd")


def _names(
    pen: ImageDraw.ImageDraw,
    standpoint: Standpoint,
    names: tuple[tuple[str, float], ...],
    size: tuple[int, int],
) -> None:
    per_metre = size[1] / standpoint.span * cos(standpoint.rise)
    lowest = -np.inf
    for name, height in sorted(names, key=lambda named: -named[1]):
        y = size[1] / 2 - (height - standpoint.focus[2]) * per_metre
        y = max(y, lowest + TEXT + 3)
        lowest = y
        if TEXT < y < size[1] - 4 * TEXT:
            _write(pen, (size[0] - 4, y), name, "rm")


def _least_gap(
    pen: ImageDraw.ImageDraw, standpoint: Standpoint, nearest: Nearest, size: tuple[int, int]
) -> None:
    ends = standpoint.pixels(np.array([nearest.where, nearest.opposite]), size)
    middle = ends.mean(axis=0)
    width, height = size
    if not (0 <= middle[0] < width and 0 <= middle[1] < height):
        return
    reach = max(RING, float(np.hypot(*(ends[1] - ends[0]))) / 2 + 3)
    pen.line([tuple(ends[0]), tuple(ends[1])], fill=MARK, width=2)
    left, top = middle - reach
    right, bottom = middle + reach
    pen.ellipse([left, top, right, bottom], outline=MARK, width=2)
    words = f"least gap {1000 * nearest.gap:.0f} mm"
    if nearest.gap < 0:
        words = f"overlap {-1000 * nearest.gap:.0f} mm"
    if not nearest.certified:
        words += ", not certified"
    on_left = middle[0] < width / 2
    level = float(np.clip(middle[1] - reach - TEXT, TEXT, height - 2 * TEXT))
    long = pen.textlength(words, font=_font())
    start = middle[0] - reach if on_left else middle[0] + reach - long
    start = float(
        np.clip(start, SCALE_FROM_LEFT + 4, max(SCALE_FROM_LEFT + 4, width - long - 4))
    )
    box = [start - 2, level - TEXT / 2 - 2, start + long + 2, level + TEXT / 2 + 2]
    pen.rectangle(box, fill=PAPER, outline=MARK)
    pen.text((start, level), words, font=_font(), fill=MARK, anchor="lm")


def _write(pen: ImageDraw.ImageDraw, at: tuple[float, ...], words: str, anchor: str) -> None:
    x, y = at
    pen.text(
        (x, y), words, font=_font(), fill=INK, anchor=anchor, stroke_width=2, stroke_fill=PAPER
    )


@cache
def _font() -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    return ImageFont.load_default(TEXT)
