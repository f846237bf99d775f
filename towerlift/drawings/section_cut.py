"""Plan of shaft and section at one height, with the narrowest place at 1:10."""

from dataclasses import dataclass

import numpy as np

from towerlift.drawings.svg import BOLD, FAINT, INK, MARK, QUIET, Frame, Ink, Sheet, shorten
from towerlift.nesting.faces import FaceGaps
from towerlift.nesting.movement import FACES
from towerlift.nesting.reaches import Reach, Walls
from towerlift.plan.bodies import PlumbLine

WALL_FILL, PIECE_FILL = "#cec7bb", "#e0c79c"
DETAIL_SCALE = 378.0
"""Pixels for a metre at 1:10, 96 to the inch."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CutPlace:
    """Where a section is cut.

    Attributes
    ----------
    gaps : FaceGaps
        Of the section.
    reach : Reach
        As it hangs.
    walls : Walls
        The shaft.
    line : PlumbLine
        Where the axis hangs.
    band : int
        Row of `gaps`.
    face : int
        Its column.
    """

    gaps: FaceGaps
    reach: Reach
    walls: Walls
    line: PlumbLine
    band: int
    face: int

    @property
    def height(self) -> float:
        """Height of the shaft that is cut. [m]"""
        return 0.5 * float(self.gaps.edges[self.band] + self.gaps.edges[self.band + 1])

    @property
    def pieces(self) -> list[tuple[int, float, float, float, float]]:
        """Member, and west, east, south and north end of it, in the shaft frame. [m]"""
        rows = self.reach.reach[:, int(self.gaps.band[self.band, self.face])]
        found = []
        for member, (north, east, south, west) in enumerate(rows.tolist()):
            if np.isfinite(north):
                x, y = self.line.x, self.line.y
                found.append((member, x - west, x + east, y - south, y + north))
        return found

    @property
    def room(self) -> tuple[float, float, float, float]:
        """West, east, south and north face at that height. [m]"""
        # The nearest of the band, as the gap was taken.
        edges = self.gaps.edges[self.band : self.band + 2]
        north, east, south, west = self.walls.nearest(edges)[0].tolist()
        return -west, east, -south, north


def section_cut(place: CutPlace, *, size: float = 300.0, text: float = 11.0) -> str:
    """Plan of shaft and section where least is left, with a detail at 1:10.

    Parameters
    ----------
    place : CutPlace
        Where.
    size : float
        Width of the drawing. [px]
    text : float
        Height of its letters. [px]

    Returns
    -------
    svg : str
        Masonry, pieces as the boxes that enclose them, and the gap with its width.
    """
    detail = 190.0
    sheet = Sheet(size, size + detail + 5.2 * text, text)
    west, east, south, north = place.room
    margin = 0.25
    span = max(east - west, north - south) + 2 * margin
    frame = Frame(
        left=2,
        top=1.7 * text,
        width=size - 4,
        height=size - 4,
        x_low=0.5 * (west + east) - span / 2,
        x_high=0.5 * (west + east) + span / 2,
        y_low=0.5 * (south + north) - span / 2,
        y_high=0.5 * (south + north) + span / 2,
    )
    sheet.write((2, 1.1 * text), f"Cut at z {place.height:.2f} m, north up", ink=BOLD)
    _plan(sheet, frame, place)
    gap = float(place.gaps.gap[place.band, place.face])
    mark = place.reach.marks[int(place.gaps.member[place.band, place.face])]
    y = frame.bottom + 1.5 * text
    words = f"{mark}: {gap * 1000:.0f} mm, {FACES[place.face]}"
    sheet.write((2, y), shorten(words, text, size - 4), ink=BOLD)
    close = _detail_frame(place, (2, y + 0.7 * text), (size - 4, detail))
    _plan(sheet, close, place)
    _arrow(sheet, close, place)
    sheet.write((2, close.bottom + 1.2 * text), "1:10 at 96 pixels to the inch", ink=QUIET)
    return sheet.svg(f"Cut of {place.gaps.section} at z {place.height:.2f} m", words)


def _plan(sheet: Sheet, frame: Frame, place: CutPlace) -> None:
    west, east, south, north = place.room
    sheet.box((frame.left, frame.top), (frame.width, frame.height), fill=WALL_FILL, role="wall")
    _rectangle(sheet, frame, (west, east, south, north), ("#ffffff", "room"))
    worst = int(place.gaps.member[place.band, place.face])
    for member, *ends in place.pieces:
        fill = MARK if member == worst else PIECE_FILL
        _rectangle(sheet, frame, (ends[0], ends[1], ends[2], ends[3]), (fill, "piece"))


def _rectangle(
    sheet: Sheet,
    frame: Frame,
    ends: tuple[float, float, float, float],
    look: tuple[str, str],
) -> None:
    west, east, south, north = ends
    lefts = [min(max(frame.x(v), frame.left), frame.right) for v in (west, east)]
    tops = [frame.y(v) for v in (north, south)]
    if lefts[1] - lefts[0] > 0 and tops[1] - tops[0] > 0:
        fill, role = look
        size = (lefts[1] - lefts[0], tops[1] - tops[0])
        sheet.box((lefts[0], tops[0]), size, fill=fill, role=role)
        corners = [(lefts[0], tops[0]), (lefts[1], tops[0]), (lefts[1], tops[1])]
        outline = [*corners, (lefts[0], tops[1]), corners[0]]
        sheet.line(outline, colour=FAINT, width=0.6)


def _worst_ends(place: CutPlace) -> tuple[tuple[float, float], tuple[float, float]]:
    """Ends of the gap: on the piece and on the masonry."""
    worst = int(place.gaps.member[place.band, place.face])
    ends = next((e for m, *e in place.pieces if m == worst), None)
    west, east, south, north = ends if ends else place.room
    wall = place.room
    middle_x, middle_y = 0.5 * (west + east), 0.5 * (south + north)
    return (
        ((middle_x, north), (middle_x, wall[3])),
        ((east, middle_y), (wall[1], middle_y)),
        ((middle_x, south), (middle_x, wall[2])),
        ((west, middle_y), (wall[0], middle_y)),
    )[place.face]


def _detail_frame(
    place: CutPlace, corner: tuple[float, float], size: tuple[float, float]
) -> Frame:
    (x0, y0), (x1, y1) = _worst_ends(place)
    x, y = 0.5 * (x0 + x1), 0.5 * (y0 + y1)
    half_x, half_y = size[0] / DETAIL_SCALE / 2, size[1] / DETAIL_SCALE / 2
    return Frame(
        left=corner[0],
        top=corner[1],
        width=size[0],
        height=size[1],
        x_low=x - half_x,
        x_high=x + half_x,
        y_low=y - half_y,
        y_high=y + half_y,
    )


def _arrow(sheet: Sheet, frame: Frame, place: CutPlace) -> None:
    (x0, y0), (x1, y1) = _worst_ends(place)
    ends = [(frame.x(x0), frame.y(y0)), (frame.x(x1), frame.y(y1))]
    sheet.line(ends, colour=INK, width=1.6, role="gap")
    # A tick at either end, square to the gap.
    dx, dy = (7.0, 0.0) if place.face % 2 == 0 else (0.0, 7.0)
    for x, y in ends:
        sheet.line([(x - dx, y - dy), (x + dx, y + dy)], width=1.6)
    gap = 1000 * float(place.gaps.gap[place.band, place.face])
    at = (0.5 * (ends[0][0] + ends[1][0]) + 10, 0.5 * (ends[0][1] + ends[1][1]))
    sheet.write(
        (at[0], at[1] + 0.35 * sheet.text), f"{gap:.0f} mm", ink=Ink(bold=True, halo=True)
    )
