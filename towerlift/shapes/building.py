"""Everything a plan draws, built at once."""

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Protocol, TypeVar

import numpy as np

from towerlift.errors import ShapeError
from towerlift.plan import bodies
from towerlift.plan.model import Plan
from towerlift.shapes.imports import read_scan, read_solid
from towerlift.shapes.masses import add_masses, apply_weighing, mesh_mass, point_mass
from towerlift.shapes.members import box_mass, box_solid, place_members
from towerlift.shapes.shafts import label_scan, loft_shaft, misplaced, survey_problems
from towerlift.shapes.shells import shell_mass, shell_solid
from towerlift.shapes.solids import MassProperties, Piece, Shapes, Solid
from towerlift.shapes.unseen import find_unseen


class _Named(Protocol):
    @property
    def name(self) -> str: ...


_Row = TypeVar("_Row", bound=_Named)
_Built = TypeVar("_Built")


def build_solid(
    name: str, members: Sequence[bodies.Member], species: Sequence[bodies.Species]
) -> Solid:
    """Triangles of placed members.

    Parameters
    ----------
    name : str
        Body they belong to.
    members : sequence of Member
        At least one.
    species : sequence of Species
        Those that the members name.

    Returns
    -------
    solid : Solid
        In the frame of the members.

    Raises
    ------
    ShapeError
        If there are no members, or any of them cannot be built; all are named.
    """
    if not members:
        raise ShapeError(name, ["no members: give at least one"])
    boxes = place_members(name, members, _densities(species))
    return box_solid(name, members, boxes)


def build_shapes(plan: Plan, folder: Path) -> Shapes:
    """Build every solid of a plan and weigh what moves.

    Parameters
    ----------
    plan : Plan
        As read.
    folder : Path
        The plan's folder, below which its mesh files lie.

    Returns
    -------
    shapes : Shapes
        Shaft and fixtures in the shaft frame, sections and fit-out in their
        section's.

    Raises
    ------
    ShapeError
        If anything cannot be built; every fault of every body is listed.

    Notes
    -----
    A fit-out item takes the mass tolerance of its section as reckoned from drawings:
    a scale reading is taken without fit-out and says nothing about it.
    """
    densities = _densities(plan.species)
    tolerances = {section.name: section.mass_tolerance for section in plan.sections}
    problems: list[str] = []
    walls: list[Solid] = []
    scan = None
    try:
        walls, scan = _read_walls(plan.shaft, folder)
    except ShapeError as error:
        problems += [f"shaft: {problem}" for problem in error.problems]
    sections = _build_each(
        plan.sections, lambda row: _build_section(row, densities, folder), problems
    )
    fit_out = _build_each(
        plan.fit_out, lambda row: _build_item(row, densities, tolerances), problems
    )
    fixtures = _build_each(
        plan.fixtures, lambda row: build_solid(row.name, row.members, plan.species), problems
    )
    if problems:
        raise ShapeError(plan.name, problems)
    return Shapes(
        shaft=join_solids("shaft", walls),
        unseen=find_unseen(scan, plan.shaft, (plan.plumb_line.x, plan.plumb_line.y))
        if scan is not None
        else (),
        sections=sections,
        fit_out=fit_out,
        fixtures=fixtures,
        fitted_on={item.name: item.on for item in plan.fit_out},
    )


def build_shaft(shaft: bodies.Shaft, folder: Path) -> Solid:
    """Inside faces of the shaft, from its survey, its mesh, or both.

    Parameters
    ----------
    shaft : Shaft
        As planned.
    folder : Path
        The plan's folder, below which the mesh file lies.

    Returns
    -------
    solid : Solid
        Shaft frame; where both are given, the triangles of both.

    Raises
    ------
    ShapeError
        If the survey cannot be joined, or the mesh cannot be read or is not where the
        shaft is; every fault is listed.
    """
    return join_solids("shaft", _read_walls(shaft, folder)[0])


def _read_walls(shaft: bodies.Shaft, folder: Path) -> tuple[list[Solid], Solid | None]:
    """The solids of survey and mesh, and that of the mesh by itself."""
    problems = survey_problems(shaft)
    solids = [loft_shaft(shaft)] if shaft.survey and not problems else []
    scan = None
    if shaft.mesh is not None:
        try:
            scan = label_scan(read_scan("shaft", shaft.mesh, folder), shaft.ledges)
        except ShapeError as error:
            problems += error.problems
        else:
            problems += misplaced(scan, shaft)
            solids.append(scan)
    if problems:
        raise ShapeError("shaft", problems)
    return solids, scan


def join_solids(name: str, solids: Sequence[Solid]) -> Solid:
    """Several solids of one frame as one.

    Parameters
    ----------
    name : str
        Name of the whole.
    solids : sequence of Solid
        At least one.

    Returns
    -------
    solid : Solid
        Marks and parts in the order given; closed if all of them are.
    """
    corner = np.cumsum([0] + [len(s.vertices) for s in solids])
    mark = np.cumsum([0] + [len(s.marks) for s in solids])
    return Solid(
        name=name,
        vertices=np.concatenate([s.vertices for s in solids]),
        faces=np.concatenate([s.faces + n for s, n in zip(solids, corner, strict=False)]),
        members=np.concatenate([s.members + n for s, n in zip(solids, mark, strict=False)]),
        marks=tuple(m for s in solids for m in s.marks),
        parts=tuple(p for s in solids for p in s.parts),
        closed=all(s.closed for s in solids),
    )


def _build_each(
    rows: Iterable[_Row], build: Callable[[_Row], _Built], problems: list[str]
) -> dict[str, _Built]:
    built = {}
    for row in rows:
        try:
            built[row.name] = build(row)
        except ShapeError as error:
            problems += [f"{row.name}: {problem}" for problem in error.problems]
    return built


def _densities(species: Sequence[bodies.Species]) -> dict[str, float]:
    return {row.name: row.density for row in species}


def _build_section(section: bodies.Section, densities: dict[str, float], folder: Path) -> Piece:
    name, tolerance = section.name, section.mass_tolerance
    if bool(section.members) == (section.mesh is not None):
        given = "both" if section.members else "neither"
        raise ShapeError(name, [f"give either members or a mesh, got {given}"])
    lumps = [point_mass(lump, tolerance) for lump in section.masses]
    if section.mesh is None:
        boxes = place_members(name, section.members, densities)
        solid = box_solid(name, section.members, boxes)
        body = box_mass(boxes, tolerance)
    else:
        solid = read_solid(name, section.mesh, folder)
        body = mesh_mass(solid, _mesh_density(section, solid), tolerance)
    computed = add_masses([body, *lumps])
    if section.weighed is None:
        return Piece(solid=solid, mass=computed)
    return Piece(solid=solid, mass=apply_weighing(computed, section.weighed))


def _mesh_density(section: bodies.Section, solid: Solid) -> float:
    if section.density is not None:
        return section.density
    if section.weighed is None:
        raise ShapeError(
            section.name, ["a mesh needs a density or a weighed mass, got neither"]
        )
    drawn = section.weighed.mass - sum(lump.mass for lump in section.masses)
    if not drawn > 0:
        raise ShapeError(
            section.name,
            [
                f"weighed {section.weighed.mass:g} kg leaves {drawn:g} kg for the mesh after "
                "its lumped masses; it must leave more than zero"
            ],
        )
    return drawn / mesh_mass(solid, 1.0, 0.0).mass


def _build_item(
    item: bodies.FitOut, densities: dict[str, float], tolerances: dict[str, float]
) -> Piece:
    if item.on not in tolerances:
        raise ShapeError(item.name, [f'no section named "{item.on}"'])
    tolerance = tolerances[item.on]
    solids: list[Solid] = []
    masses: list[MassProperties] = []
    if item.members:
        boxes = place_members(item.name, item.members, densities)
        solids.append(box_solid(item.name, item.members, boxes))
        masses.append(box_mass(boxes, tolerance))
    if item.shell is not None:
        solids.append(shell_solid(item.name, item.shell, item.kind))
        masses.append(shell_mass(item.name, item.shell, tolerance))
    masses += [point_mass(lump, tolerance) for lump in item.masses]
    if not masses:
        raise ShapeError(item.name, ["no members, no shell and no masses: give at least one"])
    solid = join_solids(item.name, solids) if solids else None
    return Piece(solid=solid, mass=add_masses(masses))
