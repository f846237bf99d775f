"""The faces of a surveyed shaft and the reach of a section, in bands of height."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from towerlift.nesting.bodies import Assembly
from towerlift.nesting.curves import Floats
from towerlift.plan.bodies import Shaft
from towerlift.shapes.envelopes import half_widths
from towerlift.shapes.solids import Ints, Solid

BAND = 0.1


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
