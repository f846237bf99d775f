"""Bodies for the clearance engine: a section with its fit-out, and their labels."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from towerlift.errors import ShapeError
from towerlift.nesting.curves import Floats
from towerlift.shapes.solids import Ints, Shapes, Solid


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Which piece a triangle belongs to.

    Attributes
    ----------
    body : str
        Section, fixture or fit-out item, or "shaft".
    mark, part : str
        Mark and kind of the piece.
    """

    body: str
    mark: str
    part: str

    def within(self, section: str) -> str:
        """The mark, with the fit-out item it belongs to where that is not the section."""
        return self.mark if self.body == section else f"{self.body}: {self.mark}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Assembly:
    """Triangles that move as one: a section with what is fitted to it, or a fixture.

    Attributes
    ----------
    name : str
        The section, the fixture or "shaft".
    vertices : (n, 3) float
        Own frame. [m]
    faces : (m, 3) int
        Corner numbers.
    members : (m,) int
        For each triangle, its place in `labels`.
    labels : tuple of Label
        What each member is.
    """

    name: str
    vertices: Floats
    faces: Ints
    members: Ints
    labels: tuple[Label, ...]


def member_boxes(assembly: Assembly, pose: Floats | None = None) -> Floats:
    """Box round every member.

    Parameters
    ----------
    assembly : Assembly
        Whose members.
    pose : (4, 4) float or None
        Where it is; None leaves it in its own frame.

    Returns
    -------
    boxes : (n, 2, 3) float
        Least and greatest corner of each; of a member without a triangle from plus to
        minus infinity, which is near nothing. [m]
    """
    placed = assembly.vertices
    if pose is not None:
        placed = placed @ pose[:3, :3].T + pose[:3, 3]
    corners = placed[assembly.faces]
    boxes = np.empty((len(assembly.labels), 2, 3))
    boxes[:, 0], boxes[:, 1] = np.inf, -np.inf
    np.minimum.at(boxes[:, 0], assembly.members, corners.min(axis=1))
    np.maximum.at(boxes[:, 1], assembly.members, corners.max(axis=1))
    return boxes


def assemble(name: str, solids: Sequence[Solid]) -> Assembly:
    """Put solids of one frame together, keeping who is who.

    Parameters
    ----------
    name : str
        Name of the whole.
    solids : sequence of Solid
        All in the same frame.

    Returns
    -------
    together : Assembly
        Triangles in the order given.

    Raises
    ------
    ShapeError
        If there is no triangle in them.
    """
    vertices, faces, members = [], [], []
    labels: list[Label] = []
    n_vertices = 0
    for solid in solids:
        vertices.append(solid.vertices)
        faces.append(solid.faces + n_vertices)
        members.append(solid.members + len(labels))
        labels += [
            Label(body=solid.name, mark=mark, part=part)
            for mark, part in zip(solid.marks, solid.parts, strict=True)
        ]
        n_vertices += len(solid.vertices)
    if not faces or not sum(len(part) for part in faces):
        raise ShapeError(name, ["nothing is drawn, so no gap can be measured"])
    return Assembly(
        name=name,
        vertices=np.concatenate(vertices),
        faces=np.concatenate(faces),
        members=np.concatenate(members),
        labels=tuple(labels),
    )


def section_assembly(shapes: Shapes, section: str, fitted: frozenset[str]) -> Assembly:
    """A section with the fit-out it carries.

    Parameters
    ----------
    shapes : Shapes
        All that the plan draws.
    section : str
        Its name.
    fitted : frozenset of str
        Fit-out in place; items of other sections are left out.

    Returns
    -------
    assembly : Assembly
        Section frame.
    """
    pieces = [shapes.sections[section]]
    pieces += [
        shapes.fit_out[item] for item in sorted(fitted) if shapes.fitted_on[item] == section
    ]
    return assemble(section, [piece.solid for piece in pieces if piece.solid is not None])


def part_of(assembly: Assembly, members: Ints) -> Assembly:
    """Some members of an assembly, numbered afresh.

    Parameters
    ----------
    assembly : Assembly
        The whole.
    members : (k,) int
        Rising places in its labels.

    Returns
    -------
    part : Assembly
        Same frame.
    """
    rows = np.isin(assembly.members, members)
    used, faces = np.unique(assembly.faces[rows], return_inverse=True)
    return Assembly(
        name=assembly.name,
        vertices=assembly.vertices[used],
        faces=faces.reshape(-1, 3).astype(np.int64),
        members=np.searchsorted(members, assembly.members[rows]),
        labels=tuple(assembly.labels[member] for member in members.tolist()),
    )
