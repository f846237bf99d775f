"""The spire unrolled: four faces side by side, each band with its day."""

from collections.abc import Sequence
from dataclasses import dataclass

from towerlift.drawings.svg import BOLD, INK, OVER_LINES, Frame, Sheet, round_ticks, shorten

FACES = ("north", "east", "south", "west")


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A band of cladding.

    Attributes
    ----------
    name, when : str
        Of the band, and its day.
    foot, head : float
        Heights s between which it lies. [m]
    half_foot, half_head : float
        Half width of the face there. [m]
    """

    name: str
    when: str
    foot: float
    head: float
    half_foot: float
    half_head: float


def spire_roll(bands: Sequence[Band], *, width: float = 1000.0, text: float = 14.0) -> str:
    """Four faces of a spire with its bands.

    Parameters
    ----------
    bands : sequence of Band
        At least one.
    width : float
        Of the drawing. [px]
    text : float
        Height of its letters. [px]

    Returns
    -------
    svg : str
        The day stands beside each, once.
    """
    wide = 2.2 * max(max(b.half_foot, b.half_head) for b in bands)
    low, high = min(b.foot for b in bands), max(b.head for b in bands)
    left, words = 4.2 * text, 16.0 * text
    scale = (width - left - words) / (4 * wide)
    tall = scale * (high - low)
    sheet = Sheet(width, tall + 5.0 * text, text)
    frame = Frame(
        left=left, top=1.8 * text, width=4 * wide * scale, height=tall,
        x_low=0.0, x_high=4 * wide, y_low=low, y_high=high,
    )  # fmt: skip
    ticks = round_ticks(low, high, max(2, int(tall / (2 * text))))
    sheet.axes(frame, (), ticks)
    sheet.write((2, 1.1 * text), "s, m", ink=BOLD)
    for number, face in enumerate(FACES):
        middle = (number + 0.5) * wide
        for band in bands:
            _band(sheet, frame, middle, band)
        at = (frame.x(middle), frame.bottom + 1.5 * text)
        sheet.write(at, face, "middle", ink=BOLD)
    for row, band in enumerate(sorted(bands, key=lambda b: -b.head)):
        y = frame.top + (row + 1) * max(1.35 * text, tall / (len(bands) + 1))
        said = shorten(f"{band.name}: {band.when}", text, words - 12)
        sheet.write((frame.right + 10, y), said)
    return sheet.svg("The spire unrolled", "; ".join(f"{b.name}: {b.when}" for b in bands))


def _band(sheet: Sheet, frame: Frame, middle: float, band: Band) -> None:
    corners = [
        (frame.x(middle - band.half_foot), frame.y(band.foot)),
        (frame.x(middle + band.half_foot), frame.y(band.foot)),
        (frame.x(middle + band.half_head), frame.y(band.head)),
        (frame.x(middle - band.half_head), frame.y(band.head)),
    ]
    sheet.line([*corners, corners[0]], colour=INK, width=1.2, role="band")
    at = (frame.x(middle), 0.5 * (corners[0][1] + corners[2][1]) + 0.35 * sheet.text)
    if corners[0][1] - corners[2][1] > sheet.text:
        sheet.write(at, band.name.removeprefix("band "), "middle", ink=OVER_LINES)
