"""Faults of an imported surface, each with its place."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from towerlift.shapes.crossing import find_crossings
from towerlift.shapes.solids import Floats, Ints

LISTED = 20
"""Places of one kind of fault that are listed; the rest are counted."""

TOUCH_FLOOR = 1e-6
"""Depth up to which bodies that pass into each other only touch. [m]"""

TOUCH_SHARE = 2.0**-21
"""The same as a share of the greatest coordinate: twice the rounding of a 32-bit number."""

_SLIVER = 8 * float(np.finfo(np.float64).eps)


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """Triangles as read from a file.

    Attributes
    ----------
    vertices : (n, 3) float
        Frame of what it draws. [m]
    faces : (m, 3) int
        Corner numbers.
    bodies : (m,) int
        Which named body of the file each triangle is from.
    unit : str
        Length unit of the file.
    unit_size : float
        One of it. [m]
    up : str
        Which way is up in the file: "z" or "y".
    """

    vertices: Floats
    faces: Ints
    bodies: Ints
    unit: str
    unit_size: float
    up: str

    def place(self, points: Floats) -> str:
        """Say where the middle of some points is, in the file and in metres.

        Parameters
        ----------
        points : (k, 3) float
            In the frame of `vertices`. [m]

        Returns
        -------
        place : str
            For a message.
        """
        x, y, up = (float(value) for value in points.mean(axis=0))
        in_file = (x, y, up) if self.up == "z" else (x, up, -y)
        written = ", ".join(f"{value / self.unit_size:.6g}" for value in in_file)
        return f"({written}) {self.unit} in the file, ({x:.4f}, {y:.4f}, {up:.4f}) m here"


def turn_upright(points: Floats, up: str) -> Floats:
    """Points of a file in axes with z up.

    Parameters
    ----------
    points : (n, 3) float
        As in the file.
    up : str
        Which way is up there: "z" or "y".

    Returns
    -------
    turned : (n, 3) float
        With y up in the file, x stays, y becomes up, and z, which comes towards the
        viewer, becomes south.
    """
    if up == "z":
        return points
    turned: Floats = np.column_stack([points[:, 0], -points[:, 2], points[:, 1]])
    return turned


def find_unusable(surface: Surface) -> list[str]:
    """Say what keeps a surface from being used at all.

    Parameters
    ----------
    surface : Surface
        As read.

    Returns
    -------
    faults : list of str
        Empty if it has triangles and every corner is finite.
    """
    corners = surface.vertices[surface.faces]
    if not len(corners):
        return ["no triangles"]
    wrong = ~(np.isfinite(corners).sum(axis=(1, 2)) == 9)
    return _list_some(
        "triangle with a corner that is not a finite number",
        [f"corners {corners[i].tolist()} m here" for i in np.flatnonzero(wrong)],
    )


def find_faults(surface: Surface) -> list[str]:
    """Say what keeps a surface from being the boundary of a solid.

    Parameters
    ----------
    surface : Surface
        As read.

    Returns
    -------
    faults : list of str
        Empty if the surface is closed, faces outward everywhere, and neither crosses
        itself nor encloses any place twice. Where one kind of fault makes the next
        question meaningless, that is not asked.
    """
    faults = find_unusable(surface) or _find_slivers(surface)
    if faults:
        return faults
    faults = _find_edge_faults(surface)
    crossings = find_crossings(surface.vertices, surface.faces, touch_depth(surface.vertices))
    faults += _list_some(
        "pair of triangles that pass through each other",
        [surface.place(place[None]) for place in crossings.places],
    )
    return faults or _find_wrong_sides(surface)


def find_scan_faults(surface: Surface) -> list[str]:
    """Say what keeps a surface from being the inside of a shaft, open as it may be.

    Parameters
    ----------
    surface : Surface
        As read.

    Returns
    -------
    faults : list of str
        Empty if every triangle has an area, and a side that its neighbours agree on:
        what is in the room is told from what is in the wall by it. Holes are no fault.
    """
    faults = find_unusable(surface) or _find_slivers(surface)
    return faults or _find_edge_faults(surface, open_may_be=True)


def touch_depth(vertices: Floats) -> float:
    """Depth up to which bodies that pass into each other only touch.

    Parameters
    ----------
    vertices : (n, 3) float
        [m]

    Returns
    -------
    depth : float
        A micrometre, or the rounding of coordinates kept in 32 bits, whichever is
        more. [m]
    """
    return max(TOUCH_FLOOR, TOUCH_SHARE * float(np.abs(vertices).max()))


def _list_some(what: str, places: Sequence[str]) -> list[str]:
    listed = [f"{what}: {place}" for place in places[:LISTED]]
    left = len(places) - LISTED
    return [*listed, f"{what}: {left} more, {len(places)} in all"] if left > 0 else listed


def _places(surface: Surface, corners: Iterable[Ints]) -> list[str]:
    return [surface.place(surface.vertices[each]) for each in corners]


def _find_slivers(surface: Surface) -> list[str]:
    corners = surface.vertices[surface.faces]
    sides = np.roll(corners, -1, axis=1) - corners
    longest = np.linalg.norm(sides, axis=2).max(axis=1)
    doubled = np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1)
    reach = np.abs(corners).max(axis=(1, 2))
    flat = ~(doubled > _SLIVER * longest * reach)
    return _list_some("triangle without area", _places(surface, surface.faces[flat]))


def _find_edge_faults(surface: Surface, *, open_may_be: bool = False) -> list[str]:
    directed = surface.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    ordered = np.sort(directed, axis=1)
    edges, which = np.unique(ordered, axis=0, return_inverse=True)
    which = which.reshape(-1)
    uses = np.bincount(which)
    forward = np.bincount(which, weights=directed[:, 0] < directed[:, 1])
    kinds = {
        "open edge": uses == 1,
        "edge of more than two triangles": uses > 2,
        "edge whose two triangles face opposite ways": (uses == 2) & (forward != 1),
    }
    if open_may_be:
        kinds = {what: wrong for what, wrong in kinds.items() if "opposite ways" in what}
    return [
        fault
        for what, wrong in kinds.items()
        for fault in _list_some(what, _places(surface, edges[wrong]))
    ]


def split_bodies(faces: Ints) -> Ints:
    """Number the bodies that a surface is made of.

    Parameters
    ----------
    faces : (m, 3) int
        Corner numbers; triangles of one body share corners.

    Returns
    -------
    bodies : (m,) int
        Body of each triangle, from 0.
    """
    rows = faces[:, [0, 1]].ravel()
    columns = faces[:, [1, 2]].ravel()
    size = int(faces.max()) + 1
    links = coo_array((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(size, size))
    _, labels = connected_components(links, directed=False)
    _, bodies = np.unique(labels[faces[:, 0]], return_inverse=True)
    numbered: Ints = bodies.reshape(-1).astype(np.int64)
    return numbered


def _find_wrong_sides(surface: Surface) -> list[str]:
    # The number of times the surface is wound round a point must be 1 just behind
    # every body's surface; just before it 0, or 1 where another body touches it.
    bodies = split_bodies(surface.faces)
    corners = surface.vertices[surface.faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    areas = np.linalg.norm(normals, axis=1)
    triple = np.einsum("ni,ni->n", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))
    volumes = np.bincount(bodies, weights=triple) / 6
    step = 4 * touch_depth(surface.vertices)
    inverted: list[str] = []
    overlapping: list[str] = []
    for body, volume in enumerate(volumes):
        largest = int(np.argmax(np.where(bodies == body, areas, -1.0)))
        middle = corners[largest].mean(axis=0)
        off = step * normals[largest] / areas[largest]
        behind, before = (_windings(corners, middle + side * off) for side in (-1, 1))
        if not (behind == 1 and before in (0, 1)):
            place = surface.place(corners[largest])
            (inverted if volume < 0 else overlapping).append(f"body with a triangle at {place}")
    return [
        *_list_some("inside out", inverted),
        *_list_some("lies within another body", overlapping),
    ]


def _windings(corners: Floats, point: Floats) -> int:
    # Sum of the solid angles of the triangles seen from the point, over 4 pi
    # (van Oosterom and Strackee, IEEE Trans. Biomed. Eng. 30, 1983, 125-126).
    a, b, c = np.moveaxis(corners - point, 1, 0)
    la, lb, lc = (np.linalg.norm(each, axis=1) for each in (a, b, c))
    above = np.einsum("ni,ni->n", a, np.cross(b, c))
    below = (
        la * lb * lc
        + np.einsum("ni,ni->n", a, b) * lc
        + np.einsum("ni,ni->n", b, c) * la
        + np.einsum("ni,ni->n", c, a) * lb
    )
    return round(float(np.arctan2(above, below).sum()) / (2 * np.pi))
