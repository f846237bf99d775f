"""Gap of a section to the four faces of the shaft, height by height, in an instant.

The engine certifies gaps; this is the framer's table of them. A section is its farthest
reach towards each face in bands of height, member by member, and the shaft is its
survey: least face and farthest reach of a band are paired wherever the travel brings
them together, so no gap is ever stated larger than the sections allow on that face.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from towerlift.nesting.curves import Floats
from towerlift.nesting.movement import FACES
from towerlift.nesting.reaches import Reach, Walls
from towerlift.plan.bodies import Face, PlumbLine
from towerlift.shapes.solids import Ints

SIGNS = np.array([1.0, 1.0, -1.0, -1.0])
"""Way out of north, east, south and west along their axis."""
ACROSS = (1, 0, 1, 0)
"""Axis across north, east, south and west: x is 0, y is 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Travel:
    """A stretch of travel of a section, with what must be left at each height in it.

    Attributes
    ----------
    stage : str
        Stage it belongs to.
    passage : int
        Its place in the raise.
    heels : (k + 1,) float
        Heights of the heel between which the play is one. [m]
    play : (k,) float
        Play of the shoes in each, 0 where it hangs free. [m]
    shift : (k, n) float
        Tilt and sway of each band of the section beyond the play. [m]
    unknown : str
        Why play or shift could not be found; empty where they were.
    """

    stage: str
    passage: int
    heels: Floats
    play: Floats
    shift: Floats
    unknown: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceGaps:
    """Least gap, and least to spare, at every height of the shaft on every face.

    Attributes
    ----------
    section : str
        What moves.
    edges : (n + 1,) float
        Heights of the shaft. [m]
    gap, need : (n, 4) float
        Gap and budget where least is left to spare, north, east, south, west; NaN
        where nothing of the section comes by. [m]
    member, band : (n, 4) int
        Member and band of the section there; -1 where there is none.
    heel : (n, 4) float
        Heel height at which it is there. [m]
    passage : (n, 4) int
        Passage in which it is.
    """

    section: str
    edges: Floats
    gap: Floats
    need: Floats
    member: Ints
    band: Ints
    heel: Floats
    passage: Ints

    @property
    def spare(self) -> Floats:
        """Gap beyond the budget. [m]"""
        return self.gap - self.need

    def worst(self, face: Face | None = None) -> tuple[int, int] | None:
        """Row and face at which least is left to spare.

        Parameters
        ----------
        face : Face or None
            On one face, or on any.

        Returns
        -------
        place : (int, int) or None
            Row, and column of the face; None where nothing comes by.
        """
        spare = self.spare
        columns = [FACES.index(face)] if face is not None else range(4)
        held = np.full_like(spare, np.inf)
        held[:, columns] = np.nan_to_num(spare[:, columns], nan=np.inf)
        row, column = np.unravel_index(int(held.argmin()), held.shape)
        if not np.isfinite(held[row, column]):
            return None
        return int(row), int(column)


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowances:
    """Parts of the budget that are one for a whole section.

    Attributes
    ----------
    swelling : (4,) float
        Growth of the north, east, south and west side. [m]
    spread : float
        Workshop and survey tolerance together, by root-sum-square. [m]
    extra : float
        Whatever else is to be reckoned with, added directly. [m]
    """

    swelling: Floats
    spread: float
    extra: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Meetings:
    """Which bands of a section ever pass which bands of the shaft, and how far out of true.

    Attributes
    ----------
    edges : (n + 1,) float
        Bands of the shaft. [m]
    moved : (n, m) float
        Most of running clearance or play, with tilt and sway, while band and height
        meet; minus infinity where they never do. [m]
    shift : (n, m) float
        Most of tilt and sway alone. [m]
    heel : (n, m) float
        Heel height at which `moved` is most. [m]
    passage : (n, m) int
        Passage in which it is.
    """

    edges: Floats
    moved: Floats
    shift: Floats
    heel: Floats
    passage: Ints


def meetings(
    edges: Floats, bands: Floats, travels: Sequence[Travel], running: float
) -> Meetings:
    """Where a section passes, once for all settings of the bench.

    Parameters
    ----------
    edges : (n + 1,) float
        Bands of the shaft. [m]
    bands : (m + 1,) float
        Bands of the section. [m]
    travels : sequence of Travel
        When it moves.
    running : float
        Running clearance to be left. [m]

    Returns
    -------
    met : Meetings
        Of the travel that asks for most: the drawn gap is one for all of them.
    """
    shape = (len(edges) - 1, len(bands) - 1)
    moved, shift = np.full(shape, -np.inf), np.zeros(shape)
    heel, passage = np.full(shape, np.nan), np.full(shape, -1, dtype=np.int64)
    lowest, highest = edges[:-1, None] - bands[None, 1:], edges[1:, None] - bands[None, :-1]
    columns = np.arange(shape[1])[None, :]
    for travel in travels:
        low, high = float(travel.heels[0]), float(travel.heels[-1])
        last = len(travel.play) - 1
        first, final = (
            np.clip(np.searchsorted(travel.heels, h, side="right") - 1, 0, last)
            for h in (np.clip(lowest, low, high), np.clip(highest, low, high))
        )
        asked = np.maximum(running, travel.play)[:, None] + travel.shift
        most = np.maximum(asked[first, columns], asked[final, columns])
        leaned = np.maximum(travel.shift[first, columns], travel.shift[final, columns])
        meets = (highest >= low) & (lowest <= high)
        shift = np.where(meets, np.maximum(shift, leaned), shift)
        more = meets & (most > moved)
        moved = np.where(more, most, moved)
        heel = np.where(more, np.clip(0.5 * (lowest + highest), low, high), heel)
        passage = np.where(more, travel.passage, passage)
    return Meetings(edges=edges, moved=moved, shift=shift, heel=heel, passage=passage)


def face_gaps(
    walls: Walls, reach: Reach, met: Meetings, line: PlumbLine, allowances: Allowances
) -> FaceGaps:
    """Least to spare at every height of the shaft and on every face, over all travel.

    Parameters
    ----------
    walls : Walls
        The shaft.
    reach : Reach
        The section, turned as it hangs.
    met : Meetings
        Where it passes.
    line : PlumbLine
        Where its axis hangs.
    allowances : Allowances
        What must be left besides clearance, play, tilt and sway.

    Returns
    -------
    gaps : FaceGaps
        Of the travel that leaves least at each place.
    """
    near = walls.nearest(met.edges) - _offsets(line)
    need = met.moved + allowances.spread + allowances.extra
    farthest, owner = reach.farthest, reach.farthest_member
    found = _nothing(reach.section, met.edges)
    for k in range(4):
        gap = near[:, k, None] - farthest[None, :, k]
        spare = np.where(np.isfinite(met.moved), gap - need - allowances.swelling[k], np.inf)
        spare = np.where(np.isfinite(spare), spare, np.inf)
        band = spare.argmin(axis=1)
        rows = np.flatnonzero(np.isfinite(spare.min(axis=1)))
        at = band[rows]
        found.gap[rows, k] = gap[rows, at]
        found.need[rows, k] = need[rows, at] + allowances.swelling[k]
        found.member[rows, k] = owner[at, k]
        found.band[rows, k] = at
        found.heel[rows, k] = met.heel[rows, at]
        found.passage[rows, k] = met.passage[rows, at]
    return found


def _offsets(line: PlumbLine) -> Floats:
    return np.asarray(SIGNS * np.array([line.y, line.x, line.y, line.x]))


def drawn_places(
    walls: Walls, reach: Reach, met: Meetings, line: PlumbLine
) -> tuple[tuple[Floats, Floats], ...]:
    """Drawn gap, and tilt and sway, of every band and height that ever meet.

    Parameters
    ----------
    walls : Walls
        The shaft.
    reach : Reach
        The section.
    met : Meetings
        Where it passes.
    line : PlumbLine
        Where its axis hangs.

    Returns
    -------
    places : tuple of ((k,) float, (k,) float)
        Gaps and shifts on the north, east, south and west face. [m]
    """
    near, farthest = walls.nearest(met.edges) - _offsets(line), reach.farthest
    found = []
    for k in range(4):
        gap = near[:, k, None] - farthest[None, :, k]
        chosen = np.isfinite(met.moved) & np.isfinite(gap)
        found.append((gap[chosen], met.shift[chosen]))
    return tuple(found)


def _nothing(section: str, edges: Floats) -> FaceGaps:
    shape = (len(edges) - 1, 4)
    return FaceGaps(
        section=section,
        edges=edges,
        gap=np.full(shape, np.nan),
        need=np.full(shape, np.nan),
        member=np.full(shape, -1, dtype=np.int64),
        band=np.full(shape, -1, dtype=np.int64),
        heel=np.full(shape, np.nan),
        passage=np.full(shape, -1, dtype=np.int64),
    )


def best_plumb_line(gaps: Mapping[Face, float], line: PlumbLine) -> tuple[float, float, float]:
    """Place of the axis that leaves most, on the tighter of its two pairs of faces.

    Parameters
    ----------
    gaps : mapping of Face to float
        Least to spare on each face with the axis at `line`. [m]
    line : PlumbLine
        Where the axis hangs now.

    Returns
    -------
    x, y : float
        Place of the axis. [m]
    spare : float
        Least to spare on any face there. [m]

    Notes
    -----
    For square work x and y are apart, and a shift trades the gap of one face against
    that of the opposite one, millimetre for millimetre: the middle is best.
    """
    to_north = 0.5 * (gaps[Face.NORTH] - gaps[Face.SOUTH])
    to_east = 0.5 * (gaps[Face.EAST] - gaps[Face.WEST])
    spare = min(
        0.5 * (gaps[Face.NORTH] + gaps[Face.SOUTH]), 0.5 * (gaps[Face.EAST] + gaps[Face.WEST])
    )
    return line.x + to_east, line.y + to_north, spare
