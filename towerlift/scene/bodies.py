"""What is drawn in 3D: every body once, with its colours and what it moves with."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from towerlift.motion.passages import Passage
from towerlift.motion.raises import Raise
from towerlift.nesting.curves import GapCurve
from towerlift.plan.bodies import FitOut, Fixture, Member, Section
from towerlift.plan.model import Plan
from towerlift.rig.ropes import Rope, ropes_of
from towerlift.scene.colours import NOT_SEEN, OTHER, STONE, Rgb, colour_of
from towerlift.scene.gear import Gear, Winder, gear_of, winders
from towerlift.shapes.solids import Shapes, Solid
from towerlift.shapes.unseen import unseen_solid
from towerlift.workflow import Outcome

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Colours = NDArray[np.uint8]

DRAWN_IN = 0.03  # how far before the wall a hole of its scan is drawn [m]


class Kind(StrEnum):
    """What sort of body is drawn, which settles when it is seen."""

    SHAFT = "shaft"
    SECTION = "section"
    FIT_OUT = "fit-out"
    FIXTURE = "fixture"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Body:
    """Triangles of one body and their colours.

    Attributes
    ----------
    name : str
        As the plan names it.
    kind : Kind
        Settles when it is seen.
    rides : str or None
        Section it moves with; None for what stands still.
    vertices : (n, 3) float
        Frame of the section it rides, else shaft frame. [m]
    faces : (m, 3) int
        Corner numbers.
    colours : (m, 3) uint8
        Red, green, blue of each triangle.
    members : (m,) int
        For each triangle, its place in `marks`.
    marks, parts : tuple of str
        Member marks, and the kind of piece of each.
    """

    name: str
    kind: Kind
    rides: str | None
    vertices: Floats
    faces: Ints
    colours: Colours
    members: Ints
    marks: tuple[str, ...]
    parts: tuple[str, ...]

    def is_seen(self, passage: Passage) -> bool:
        """Whether it is in place during a passage.

        Parameters
        ----------
        passage : Passage
            Of the raise that the body belongs to.

        Returns
        -------
        seen : bool
            True for the shaft always.
        """
        if self.kind is Kind.SECTION:
            return self.name in passage.standing
        if self.kind is Kind.FIT_OUT:
            return self.name in passage.fitted and self.rides in passage.standing
        if self.kind is Kind.FIXTURE:
            return self.name in passage.fixtures
        return True


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, weakref_slot=True)
class Scene:
    """Everything a picture of the raise may show.

    Attributes
    ----------
    bodies : tuple of Body
        Shaft first.
    ropes : tuple of Rope
        Tackles with their falls, as they are rove.
    gear : tuple of Gear
        Capstans, people, ground and the outside of the wall.
    winders : tuple of Winder
        How the capstans turn.
    raise_ : Raise
        Gives the poses.
    lengths : mapping of str to float
        Heel to head of each section, outermost first. [m]
    gaps : tuple of GapCurve
        Tell where the least gap is.
    low, high : (3,) float
        Corners of the box that holds the shaft and the raised tower, shaft frame. [m]
    """

    bodies: tuple[Body, ...]
    ropes: tuple[Rope, ...]
    gear: tuple[Gear, ...]
    winders: tuple[Winder, ...]
    raise_: Raise
    lengths: Mapping[str, float]
    gaps: tuple[GapCurve, ...]
    low: Floats
    high: Floats


def build_scene(outcome: Outcome) -> Scene:
    """Collect what is drawn from what was reckoned.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.

    Returns
    -------
    scene : Scene
        Bodies whose solid is None, being only a mass, are left out.
    """
    plan, shapes = outcome.plan, outcome.shapes
    walls = (_shaft(shapes.shaft, STONE), *_not_seen(shapes))
    bodies = (*walls, *_sections(plan, shapes), *_fit_out(plan, shapes))
    bodies += tuple(
        _body(solid, Kind.FIXTURE, None, _members(plan, name))
        for name, solid in shapes.fixtures.items()
    )
    shaft = bodies[0].vertices
    lengths = {section.name: section.length for section in plan.sections}
    heads = [
        max(place.heel_from, place.heel_to) + lengths[name]
        for passage in outcome.raise_.passages
        for name, place in passage.standing.items()
    ]
    low, high = shaft.min(axis=0), shaft.max(axis=0)
    high[2] = max([high[2], *heads])
    return Scene(
        bodies=tuple(body for body in bodies if len(body.faces)),
        ropes=tuple(ropes_of(plan)),
        gear=gear_of(plan, outcome.raise_),
        winders=winders(plan),
        raise_=outcome.raise_,
        lengths=lengths,
        gaps=outcome.gaps,
        low=low,
        high=high,
    )


def _sections(plan: Plan, shapes: Shapes) -> tuple[Body, ...]:
    return tuple(
        _body(piece.solid, Kind.SECTION, name, _members(plan, name))
        for name, piece in shapes.sections.items()
        if piece.solid is not None
    )


def _fit_out(plan: Plan, shapes: Shapes) -> tuple[Body, ...]:
    return tuple(
        _body(piece.solid, Kind.FIT_OUT, shapes.fitted_on[name], _members(plan, name))
        for name, piece in shapes.fit_out.items()
        if piece.solid is not None
    )


def _members(plan: Plan, name: str) -> tuple[Member, ...]:
    bodies: tuple[Section | Fixture | FitOut, ...] = (
        *plan.sections,
        *plan.fixtures,
        *plan.fit_out,
    )
    return next((body.members for body in bodies if body.name == name), ())


def _body(solid: Solid, kind: Kind, rides: str | None, members: Iterable[Member]) -> Body:
    species = {member.mark: member.species for member in members}
    by_mark = [
        colour_of(species.get(mark, ""), part)
        for mark, part in zip(solid.marks, solid.parts, strict=True)
    ]
    table: list[Rgb] = by_mark or [OTHER]
    return Body(
        name=solid.name,
        kind=kind,
        rides=rides,
        vertices=solid.vertices,
        faces=solid.faces,
        colours=np.array(table, dtype=np.uint8)[solid.members],
        members=solid.members,
        marks=solid.marks,
        parts=solid.parts,
    )


def _not_seen(shapes: Shapes) -> Iterator[Body]:
    """Holes of the scan, closed by the worst that they may hold and named as such."""
    if shapes.unseen:
        solid = unseen_solid(shapes.unseen)
        # Drawn a little into the room, so that the wall of a survey does not hide it.
        low, high = shapes.shaft.vertices.min(axis=0), shapes.shaft.vertices.max(axis=0)
        inward = (low + high) / 2 - solid.vertices
        inward[:, 2] = 0.0
        inward *= DRAWN_IN / np.maximum(np.linalg.norm(inward, axis=1), DRAWN_IN)[:, None]
        yield _shaft(replace(solid, vertices=solid.vertices + inward), NOT_SEEN)


def _shaft(solid: Solid, colour: Rgb) -> Body:
    # The wall between the viewer and the tower is left out by drawing only what is
    # seen from inside, so here every wall must face the axis, scans included.
    corners = solid.vertices[solid.faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    axis = solid.vertices.min(axis=0) / 2 + solid.vertices.max(axis=0) / 2
    inward = axis - corners.mean(axis=1)
    outside = np.einsum("ij,ij->i", normals[:, :2], inward[:, :2]) < 0
    faces = solid.faces.copy()
    faces[outside] = faces[outside][:, ::-1]
    colours = np.tile(np.array(colour, dtype=np.uint8), (len(faces), 1))
    return Body(
        name=solid.name,
        kind=Kind.SHAFT,
        rides=None,
        vertices=solid.vertices,
        faces=faces,
        colours=colours,
        members=solid.members,
        marks=solid.marks,
        parts=solid.parts,
    )
