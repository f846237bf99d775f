"""Gap of a section to the four faces of the shaft, height by height, in an instant.

The engine certifies gaps; this is the framer's table of them. A section is its farthest
reach towards each face in bands of height, member by member, and the shaft is its
survey: least face and farthest reach of a band are paired wherever the travel brings
them together, so no gap is ever stated larger than the sections allow on that face.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from towerlift.nesting.bodies import Assembly
from towerlift.nesting.curves import Floats
from towerlift.nesting.movement import FACES
from towerlift.plan.bodies import Face, PlumbLine, Shaft
from towerlift.shapes.envelopes import half_widths
from towerlift.shapes.solids import Ints, Solid

BAND = 0.1
SIGNS = np.array([1.0, 1.0, -1.0, -1.0])
"""Way out of north, east, south and west along their axis."""
ACROSS = (1, 0, 1, 0)
"""Axis across north, east, south and west: x is 0, y is 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Walls:
    """The four faces of the shaft by height, from its survey.

    Attributes
    ----------
    heights : (k,) float
        Of the stations, rising. [m]
    faces : (k, 4) float
        Distance of north, east, south and west face from the plumb datum, outward. [m]
    """

    heights: Floats
    faces: Floats

    def at(self, heights: Floats) -> Floats:
        """Distance of each face at some heights, NaN outside the survey, (n, 4). [m]"""
        columns = [
            np.interp(heights, self.heights, column, left=np.nan, right=np.nan)
            for column in self.faces.T
        ]
        return np.column_stack(columns)

    def nearest(self, edges: Floats) -> Floats:
        """Nearest that each face comes within each band of height.

        Parameters
        ----------
        edges : (n + 1,) float
            Rising. [m]

        Returns
        -------
        faces : (n, 4) float
            NaN where a band is not wholly within the survey. [m]
        """
        ends = self.at(edges)
        found = np.minimum(ends[:-1], ends[1:])
        band = np.searchsorted(edges, self.heights, side="right") - 1
        for height, row, place in zip(self.heights, self.faces, band, strict=True):
            for k in {place, place - 1 if height == edges[max(place, 0)] else place}:
                if 0 <= k < len(found):
                    found[k] = np.minimum(found[k], row)
        return found


def surveyed_walls(shaft: Shaft) -> Walls | None:
    """The faces of a surveyed shaft, or None where there is only a mesh.

    Parameters
    ----------
    shaft : Shaft
        As planned.

    Returns
    -------
    walls : Walls or None
        Stations as they were surveyed, joined linearly.
    """
    if not shaft.survey:
        return None
    rows = [(r.z, r.north, r.east, -r.south, -r.west) for r in shaft.survey]
    table = np.array(rows, dtype=np.float64)
    return Walls(heights=table[:, 0], faces=table[:, 1:])


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """How far each member of a section reaches towards each face, band by band.

    Attributes
    ----------
    section : str
        Its name.
    edges : (n + 1,) float
        Of the bands, heights s. [m]
    marks, parts : tuple of str
        Members, fit-out included.
    reach : (m, n, 4) float
        From the axis, towards north, east, south, west; minus infinity where a
        member has nothing in the band. [m]
    """

    section: str
    edges: Floats
    marks: tuple[str, ...]
    parts: tuple[str, ...]
    reach: Floats

    @property
    def farthest(self) -> Floats:
        """Farthest reach in each band, (n, 4). [m]"""
        return np.asarray(self.reach.max(axis=0))

    @property
    def farthest_member(self) -> Ints:
        """Member that reaches farthest in each band, (n, 4)."""
        return np.asarray(self.reach.argmax(axis=0))

    def without(self, parts: Sequence[str]) -> "Reach":
        """The same with only the members of some parts left.

        Parameters
        ----------
        parts : sequence of str
            Kinds of piece to keep.

        Returns
        -------
        reach : Reach
            Of those.
        """
        keep = [n for n, part in enumerate(self.parts) if part in parts]
        return replace(
            self,
            marks=tuple(self.marks[n] for n in keep),
            parts=tuple(self.parts[n] for n in keep),
            reach=self.reach[keep],
        )

    def grown(self, growth: Floats) -> "Reach":
        """The same with each member farther out.

        Parameters
        ----------
        growth : (m, n, 4) float
            Or anything that broadcasts to it. [m]

        Returns
        -------
        reach : Reach
            Grown.
        """
        return replace(self, reach=self.reach + growth)


def section_reach(assembly: Assembly, turn: float = 0.0) -> Reach:
    """Reach of every member of a section with its fit-out.

    Parameters
    ----------
    assembly : Assembly
        Section frame.
    turn : float
        Rotation about the axis, anticlockwise from above. [rad]

    Returns
    -------
    reach : Reach
        In bands of 0.1 m.
    """
    cos, sin = np.cos(turn), np.sin(turn)
    vertices = assembly.vertices @ np.array([[cos, sin, 0.0], [-sin, cos, 0.0], [0, 0, 1.0]])
    used = vertices[np.unique(assembly.faces), 2]
    low, high = np.floor(used.min() / BAND), np.ceil(used.max() / BAND)
    edges = BAND * np.arange(low, max(high, low + 1) + 1)
    rows = []
    for member in range(len(assembly.labels)):
        faces = assembly.faces[assembly.members == member]
        if not len(faces):
            rows.append(np.full((len(edges) - 1, 4), -np.inf))
            continue
        own, renumbered = np.unique(faces, return_inverse=True)
        piece = Solid(
            name=assembly.name,
            vertices=vertices[own],
            faces=renumbered.reshape(-1, 3),
            members=np.zeros(len(faces), dtype=np.int64),
            marks=("",),
            parts=("",),
            closed=False,
        )
        rows.append(np.nan_to_num(half_widths(piece, edges), nan=-np.inf))
    return Reach(
        section=assembly.name,
        edges=edges,
        marks=tuple(label.within(assembly.name) for label in assembly.labels),
        parts=tuple(label.part for label in assembly.labels),
        reach=np.array(rows),
    )


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
    section, stage : str
        What moves, and in which stage it leaves least (per call one travel).
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
    stage: str
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
    running : float
        Running clearance to be left. [m]
    swelling : (4,) float
        Growth of the north, east, south and west side. [m]
    spread : float
        Workshop and survey tolerance together, by root-sum-square. [m]
    extra : float
        Whatever else is to be reckoned with, added directly. [m]
    """

    running: float
    swelling: Floats
    spread: float
    extra: float = 0.0


def shaft_edges(walls: Walls) -> Floats:
    """Edges of bands of 0.1 m that cover a survey.

    Parameters
    ----------
    walls : Walls
        The survey.

    Returns
    -------
    edges : (n + 1,) float
        The last may lie above the survey, so that no part of it is left out. [m]
    """
    low, high = float(walls.heights[0]), float(walls.heights[-1])
    n_bands = max(1, int(np.ceil((high - low) / BAND - 1e-9)))
    return low + (high - low) * np.arange(n_bands + 1) / n_bands


def face_gaps(
    walls: Walls,
    reach: Reach,
    travels: Sequence[Travel],
    line: PlumbLine,
    allowances: Allowances,
) -> FaceGaps:
    """Least to spare at every height of the shaft and on every face, over all travel.

    Parameters
    ----------
    walls : Walls
        The shaft.
    reach : Reach
        The section, turned as it hangs.
    travels : sequence of Travel
        When it moves.
    line : PlumbLine
        Where its axis hangs.
    allowances : Allowances
        What must be left besides play, tilt and sway.

    Returns
    -------
    gaps : FaceGaps
        Of the travel that leaves least at each place.
    """
    edges = shaft_edges(walls)
    near = walls.nearest(edges) - SIGNS * np.array([line.y, line.x, line.y, line.x])
    best = _nothing(reach.section, edges)
    for travel in travels:
        best = _lesser(best, _of_travel(near, edges, reach, (travel, allowances)))
    return best


def _nothing(section: str, edges: Floats) -> FaceGaps:
    shape = (len(edges) - 1, 4)
    return FaceGaps(
        section=section,
        stage="",
        edges=edges,
        gap=np.full(shape, np.nan),
        need=np.full(shape, np.nan),
        member=np.full(shape, -1, dtype=np.int64),
        band=np.full(shape, -1, dtype=np.int64),
        heel=np.full(shape, np.nan),
        passage=np.full(shape, -1, dtype=np.int64),
    )


def _of_travel(
    near: Floats, edges: Floats, reach: Reach, how: tuple[Travel, Allowances]
) -> FaceGaps:
    travel, allowances = how
    lowest = edges[:-1, None] - reach.edges[None, 1:]
    highest = edges[1:, None] - reach.edges[None, :-1]
    low, high = float(travel.heels[0]), float(travel.heels[-1])
    meets = (highest >= low) & (lowest <= high)
    heel = np.clip(0.5 * (lowest + highest), low, high)
    first, last = (
        np.clip(np.searchsorted(travel.heels, h, side="right") - 1, 0, len(travel.play) - 1)
        for h in (np.clip(lowest, low, high), np.clip(highest, low, high))
    )
    bands = np.arange(len(reach.edges) - 1)[None, :]
    moved = np.maximum(allowances.running, travel.play)[:, None] + travel.shift
    need = np.maximum(moved[first, bands], moved[last, bands])
    need = need + allowances.spread + allowances.extra
    farthest, owner = reach.farthest, reach.farthest_member
    found = _nothing(reach.section, edges)
    for k in range(4):
        gap = near[:, k, None] - farthest[None, :, k]
        spare = np.where(meets, gap - need - allowances.swelling[k], np.inf)
        spare = np.where(np.isfinite(spare), spare, np.inf)
        band = spare.argmin(axis=1)
        rows = np.flatnonzero(np.isfinite(spare.min(axis=1)))
        at = band[rows]
        found.gap[rows, k] = gap[rows, at]
        found.need[rows, k] = need[rows, at] + allowances.swelling[k]
        found.member[rows, k] = owner[at, k]
        found.band[rows, k] = at
        found.heel[rows, k] = heel[rows, at]
        found.passage[rows, k] = travel.passage
    return replace(found, stage=travel.stage)


def _lesser(one: FaceGaps, other: FaceGaps) -> FaceGaps:
    takes = np.nan_to_num(other.spare, nan=np.inf) < np.nan_to_num(one.spare, nan=np.inf)
    return replace(
        one,
        stage=other.stage if not one.stage else one.stage,
        gap=np.where(takes, other.gap, one.gap),
        need=np.where(takes, other.need, one.need),
        member=np.where(takes, other.member, one.member),
        band=np.where(takes, other.band, one.band),
        heel=np.where(takes, other.heel, one.heel),
        passage=np.where(takes, other.passage, one.passage),
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
