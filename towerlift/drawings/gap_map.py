"""The shaft unrolled, with what is left to spare at every height of its four faces."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from itertools import pairwise

import numpy as np

from towerlift.drawings.svg import (
    BOLD,
    MARK,
    Frame,
    Ink,
    Sheet,
    round_ticks,
    shorten,
)
from towerlift.nesting.faces import FaceGaps
from towerlift.nesting.movement import FACES

ROW = 1.0
"""Height of the shaft that one row of the map stands for. [m]"""
# From falling short to ample: what is left to spare below [mm], fill, ink. Told apart by
# hue for every common colour blindness, by lightness in grey, and by the number itself.
CLASSES: tuple[tuple[float, str, str, str], ...] = (
    (0.0, "#7f3b08", "#ffffff", "falls short"),
    (10.0, "#e08214", "#000000", "0 to 10 mm"),
    (30.0, "#fdc98a", "#000000", "10 to 30 mm"),
    (100.0, "#dbe4ee", "#000000", "30 to 100 mm"),
    (float("inf"), "#8fb2d3", "#000000", "over 100 mm"),
)
WALL_FILL, PIECE_FILL = "#cec7bb", "#e0c79c"
DETAIL_SCALE = 378.0
"""Pixels for a metre at 1:10, 96 to the inch."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MapSize:
    """Size of a map and of its letters.

    Attributes
    ----------
    width, height : float
        Of the drawing. [px]
    text : float
        Height of its letters. [px]
    """

    width: float = 430.0
    height: float = 520.0
    text: float = 11.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MapNames:
    """Words for what a map shows.

    Attributes
    ----------
    marks : tuple of str
        Members, as `FaceGaps.member` counts them.
    when : mapping of int to str
        Stage and date of each passage.
    """

    marks: tuple[str, ...]
    when: Mapping[int, str] = field(default_factory=dict)


class _HoverSheet(Sheet):
    """A sheet with boxes that say more when pointed at."""

    def cell(
        self, corner: tuple[float, float], size: tuple[float, float], look: tuple[str, str, str]
    ) -> None:
        (x, y), (width, height), (fill, words, role) = corner, size, look
        self._parts.append(
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" '
            f'fill="{fill}" class="{role}"><title>{escape(words)}</title></rect>'
        )

    def outline(self, corner: tuple[float, float], size: tuple[float, float]) -> None:
        (x, y), (width, height) = corner, size
        self._parts.append(
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" '
            f'fill="none" stroke="{MARK}" stroke-width="2.5" class="worst" '
            'pointer-events="none"/>'
        )


def spare_class(spare_mm: float) -> tuple[str, str, str]:
    """Fill, ink and words for what is left to spare.

    Parameters
    ----------
    spare_mm : float
        Gap beyond the budget. [mm]

    Returns
    -------
    fill, ink, words : str
        Of its class; what is no number falls short.
    """
    for limit, fill, ink, words in CLASSES:
        if spare_mm < limit:
            return fill, ink, words
    return CLASSES[0][1:]


def gap_map(gaps: FaceGaps, names: MapNames, size: MapSize | None = None) -> str:
    """The shaft unrolled: what is left to spare at every height of its four faces.

    Parameters
    ----------
    gaps : FaceGaps
        Least to spare by height and face.
    names : MapNames
        Members and passages in words.
    size : MapSize or None
        Of the drawing.

    Returns
    -------
    svg : str
        Height up, north, east, south and west side by side. A box is coloured by what
        is left to spare, has the number in it, and names member, gap, budget, heel and
        day when pointed at. The worst is framed.
    """
    size = size or MapSize()
    text = size.text
    sheet = _HoverSheet(size.width, size.height, text)
    low, high = float(gaps.edges[0]), float(gaps.edges[-1])
    frame = Frame(
        left=3.2 * text,
        top=3.4 * text,
        width=size.width - 3.7 * text,
        height=size.height - 7.6 * text,
        x_low=0.0,
        x_high=4.0,
        y_low=low,
        y_high=high,
    )
    sheet.write((2, 1.1 * text), f"To spare beyond the budget, mm: {gaps.section}", ink=BOLD)
    for k, face in enumerate(FACES):
        sheet.write((frame.x(k + 0.5), frame.top - 0.4 * text), str(face), "middle", ink=BOLD)
    for z in round_ticks(low, high, 15):
        # The unit stands over the axis, where the uppermost number would be.
        if frame.y(z) < frame.top + 0.5 * text:
            continue
        sheet.write((frame.left - 4, frame.y(z) + 0.35 * text), f"{z:g}", "end")
    sheet.write((frame.left - 4, frame.top + 0.7 * text), "z, m", "end")
    rows = _map_rows(gaps)
    for row in rows:
        for k in range(4):
            _cell(sheet, frame, (gaps, names), (row, k))
    _frame_worst(sheet, frame, gaps, rows)
    _legend(sheet, frame, size)
    return sheet.svg(f"Gap map of {gaps.section}", _in_words(gaps, names))


def _map_rows(gaps: FaceGaps) -> list[tuple[int, int]]:
    """First and last band of every row of the map."""
    bounds = np.arange(gaps.edges[0], gaps.edges[-1] + ROW / 2, ROW)
    at = np.searchsorted(gaps.edges, bounds - 1e-9)
    at = np.unique(np.append(at, len(gaps.edges) - 1))
    return [(int(a), int(b)) for a, b in pairwise(at.tolist())]


def _least(gaps: FaceGaps, row: tuple[int, int], k: int) -> int | None:
    spare = np.nan_to_num(gaps.spare[row[0] : row[1], k], nan=np.inf)
    place = int(spare.argmin())
    return row[0] + place if np.isfinite(spare[place]) else None


def _cell(
    sheet: _HoverSheet,
    frame: Frame,
    about: tuple[FaceGaps, MapNames],
    at: tuple[tuple[int, int], int],
) -> None:
    gaps, names = about
    row, k = at
    top, bottom = frame.y(float(gaps.edges[row[1]])), frame.y(float(gaps.edges[row[0]]))
    left, width = frame.x(k) + 1, frame.x(k + 1) - frame.x(k) - 2
    place = _least(gaps, row, k)
    corner, extent = (left, top), (width, bottom - top - 0.5)
    if place is None:
        sheet.cell(corner, extent, ("#f4f2ec", "nothing comes by here", "empty"))
        return
    spare = 1000 * float(gaps.spare[place, k])
    fill, ink, _ = spare_class(spare)
    words = _said(gaps, names, place, k)
    sheet.cell(corner, extent, (fill, words, "cell"))
    middle = (left + width / 2, (top + bottom) / 2 + 0.35 * sheet.text)
    # Never rounded up: nearly nothing to spare must not read as something.
    number = f"{np.floor(spare + 1e-6):.0f}".replace("-", "−")
    sheet.write(middle, number, "middle", ink=Ink(colour=ink, bold=spare < 0), role="value")


def _said(gaps: FaceGaps, names: MapNames, place: int, k: int) -> str:
    gap, need = 1000 * gaps.gap[place, k], 1000 * gaps.need[place, k]
    spare = gap - need
    member = names.marks[int(gaps.member[place, k])]
    when = names.when.get(int(gaps.passage[place, k]), "")
    left = f"{-spare:.1f} mm short" if spare < 0 else f"{spare:.1f} mm to spare"
    z = 0.5 * float(gaps.edges[place] + gaps.edges[place + 1])
    heel = float(gaps.heel[place, k])
    return (
        f"{member}, {FACES[k]} face, z {z:.2f} m, heel {heel:.2f} m{when and ', ' + when}: "
        f"gap {gap:.1f} mm, budget {need:.1f} mm, {left}"
    )


def _frame_worst(
    sheet: _HoverSheet, frame: Frame, gaps: FaceGaps, rows: Sequence[tuple[int, int]]
) -> None:
    worst = gaps.worst()
    if worst is None:
        return
    band, k = worst
    row = next(row for row in rows if row[0] <= band < row[1])
    top, bottom = frame.y(float(gaps.edges[row[1]])), frame.y(float(gaps.edges[row[0]]))
    left, width = frame.x(k), frame.x(k + 1) - frame.x(k)
    sheet.outline((left, top - 1), (width, bottom - top + 1.5))


def _legend(sheet: _HoverSheet, frame: Frame, size: MapSize) -> None:
    text = size.text
    column = (size.width - 8) / 3
    for n, (_, fill, _, words) in enumerate(CLASSES):
        x = 4 + column * (n % 3)
        y = frame.bottom + (1.2 + 1.4 * (n // 3)) * text
        sheet.box((x, y), (1.1 * text, 1.0 * text), fill=fill, role="legend")
        sheet.write((x + 1.5 * text, y + 0.88 * text), shorten(words, text, column - 2 * text))


def _in_words(gaps: FaceGaps, names: MapNames) -> str:
    worst = gaps.worst()
    if worst is None:
        return "Nothing of the section comes by the surveyed shaft."
    return "Least to spare: " + _said(gaps, names, *worst) + "."
