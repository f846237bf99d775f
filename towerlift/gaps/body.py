"""A rigid body as the engine sees it: triangles, their members, and a tree."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from towerlift.gaps.frame import dominant_frame
from towerlift.gaps.tree import (
    MIXED_SIZE,
    TreeArrays,
    build_tree,
    first_of_shells,
    longest_edges,
)

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

# Long faces are cut into pieces no longer than this before the tree is built,
# so that a tilted post is many small boxes and not one fat one. A piece is part
# of its face, so no distance changes.
LONGEST_PIECE = 0.25
MOST_PIECES = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Body:
    """A rigid triangle mesh with its tree, ready to be measured.

    Make one with `build_body`.

    Attributes
    ----------
    vertices : (n, 3) float
        Corners, in the body's own frame. [m]
    faces : (m, 3) int
        Rows of `vertices`.
    members : (m,) int
        Member each face belongs to.
    member_ids : (k,) int
        The members there are, in rising order.
    closed : bool
        Whether the mesh bounds a solid, so that a point can be inside it.
    centre : (3,) float
        Middle of the body's box; origin of the tree's frame. [m]
    frame : (3, 3) float
        Axes of the tree's boxes as columns, in the body's own frame.
    tree : TreeArrays
        Tree of boxes over the pieces of the faces.
    sources : (p,) int
        Face each piece is cut from.
    shells, shell_members : (s,) int
        One corner of each connected part, as a row of `vertices`, and the
        member it belongs to.
    """

    vertices: Array
    faces: Ints
    members: Ints
    member_ids: Ints
    closed: bool
    centre: Array
    frame: Array
    tree: TreeArrays
    sources: NDArray[np.int32]
    shells: Ints
    shell_members: Ints

    def corners(self, face: int) -> Array:
        """Corners of one face.

        Parameters
        ----------
        face : int
            Row of `faces`.

        Returns
        -------
        corners : (3, 3) float
            In the body's own frame. [m]
        """
        corners: Array = self.vertices[self.faces[face]]
        return corners


def build_body(
    vertices: ArrayLike,
    faces: ArrayLike,
    members: ArrayLike,
    *,
    closed: bool = False,
    longest_piece: float = LONGEST_PIECE,
) -> Body:
    """Check a mesh and build its tree once, for any number of queries.

    Parameters
    ----------
    vertices : (n, 3) float
        Corners, in the body's own frame. [m]
    faces : (m, 3) int
        Rows of `vertices`.
    members : (m,) int
        Member each face belongs to.
    closed : bool, optional
        Whether every member bounds a solid of its own, faces turned outward.
        Only then can a body wholly inside it be told from one outside.
    longest_piece : float, optional
        Length above which faces are cut for the tree; changes the speed and
        nothing else. [m]

    Returns
    -------
    body : Body
        The mesh and its tree.

    Raises
    ------
    ValueError
        If a shape is wrong, a coordinate is not finite, a face names a row
        that is not there, there are no faces, `longest_piece` is not positive,
        or `closed` is asked of a mesh with a member that has an edge not shared
        by faces of opposite sense.
    """
    points = np.ascontiguousarray(vertices, dtype=np.float64)
    corners = _whole_numbers(faces, "faces")
    owners = _whole_numbers(members, "members")
    _refuse_bad_mesh(points, corners, owners)
    if not longest_piece > 0:
        raise ValueError(f"longest_piece must be positive, got {longest_piece} m")
    if closed:
        _refuse_open_mesh(points, corners, owners)
    member_ids, ranks = _ranked(owners)
    used = np.zeros(len(points), np.bool_)
    used[corners.reshape(-1)] = True
    centre = 0.5 * (points[used].min(axis=0) + points[used].max(axis=0))
    frame = dominant_frame(points, corners)
    cut, pieces, sources = _cut((points - centre) @ frame, corners, longest_piece)
    tree, order = build_tree(cut, pieces, ranks[sources])
    shells = first_of_shells(corners, len(points))
    return Body(
        vertices=points,
        faces=corners,
        members=owners,
        member_ids=member_ids,
        closed=closed,
        centre=centre,
        frame=frame,
        tree=tree,
        sources=sources[order],
        shells=corners[shells, 0],
        shell_members=owners[shells],
    )


def _whole_numbers(values: ArrayLike, name: str) -> Ints:
    given = np.asarray(values)
    if given.size and given.dtype.kind not in "iu":
        raise ValueError(f"{name} must be whole numbers, got {given.dtype}")
    return np.ascontiguousarray(given, dtype=np.int64)


def _refuse_bad_mesh(points: Array, faces: Ints, members: Ints) -> None:
    if points.ndim != 2 or points.shape[1] != 3:
        raise ValueError(f"vertices must be (n, 3), got {points.shape}")
    if faces.ndim != 2 or faces.shape[1] != 3 or not len(faces):
        raise ValueError(f"faces must be (m, 3) with m at least 1, got {faces.shape}")
    if members.shape != (len(faces),):
        raise ValueError(f"members must be ({len(faces)},), got {members.shape}")
    bad = np.flatnonzero(~np.isfinite(points).all(axis=1))
    if len(bad):
        row = int(bad[0])
        raise ValueError(
            f"vertices must be finite: {len(bad)} are not, first vertices[{row}] = "
            f"{points[row].tolist()}"
        )
    bad = np.flatnonzero(((faces < 0) | (faces >= len(points))).any(axis=1))
    if len(bad):
        row = int(bad[0])
        raise ValueError(
            f"faces must name rows 0 to {len(points) - 1}: {len(bad)} do not, first "
            f"faces[{row}] = {faces[row].tolist()}"
        )


def open_edges(points: Array, faces: Ints, members: Ints) -> Array:
    """Edges not shared by faces of one member, of opposite sense, in equal number.

    Parameters
    ----------
    points : (n, 3) float
        Corners; equal coordinates are one corner. [m]
    faces : (m, 3) int
        Rows of `points`.
    members : (m,) int
        Member of each face.

    Returns
    -------
    edges : (k, 2, 3) float
        Both ends of each edge that is open, in the sense of its face. [m]
    """
    _, weld = np.unique(points, axis=0, return_inverse=True)
    welded = weld.reshape(-1)[faces]
    starts = welded.reshape(-1)
    ends = np.roll(welded, -1, axis=1).reshape(-1)
    rows = np.stack([faces.reshape(-1), np.roll(faces, -1, axis=1).reshape(-1)], axis=1)
    low, high = np.minimum(starts, ends), np.maximum(starts, ends)
    keys = np.stack([np.repeat(members, 3), low * (int(weld.max()) + 1) + high], axis=1)
    _, place = np.unique(keys, axis=0, return_inverse=True)
    place = place.reshape(-1)
    # Each face that runs along the edge adds one, each that runs against it
    # takes one away: a closed surface leaves nothing.
    left = np.bincount(place, np.where(starts == low, 1.0, -1.0) * (starts != ends))
    edges: Array = points[rows[left[place] != 0]]
    return edges


def _refuse_open_mesh(points: Array, faces: Ints, members: Ints) -> None:
    edges = open_edges(points, faces, members)
    if len(edges):
        raise ValueError(
            f"no member of a closed body may have an open edge: {len(edges)} are open, first "
            f"from {edges[0, 0].tolist()} to {edges[0, 1].tolist()} m"
        )


def _ranked(members: Ints) -> tuple[Ints, NDArray[np.int32]]:
    """The members there are, and the rank of each entry among them."""
    low, high = int(members.min()), int(members.max())
    if high - low > len(members) + 1000:
        ids, places = np.unique(members, return_inverse=True)
        return ids, places.astype(np.int32)
    there = np.zeros(high - low + 1, np.bool_)
    there[members - low] = True
    ranks = (np.cumsum(there) - 1).astype(np.int32)
    return np.flatnonzero(there) + low, ranks[members - low]


def _cut(points: Array, faces: Ints, longest: float) -> tuple[Array, Ints, NDArray[np.int32]]:
    """Halve the longest edge of every face until none is longer than `longest`.

    Stops early where that would make more than a few times as many pieces as
    there are faces: a mesh of kilometres needs no pieces of centimetres.
    """
    sources = np.arange(len(faces), dtype=np.int32)
    limit = max(MOST_PIECES * len(faces), 60_000)
    while True:
        rows, k = longest_edges(points, faces, longest)
        if not len(rows) or len(faces) + len(rows) > limit:
            return points, faces, sources
        a, b, c = (faces[rows, (k + shift) % 3] for shift in range(3))
        middles = np.arange(len(rows)) + len(points)
        points = np.concatenate([points, 0.5 * (points[a] + points[b])])
        second = np.stack([middles, b, c], axis=1)
        faces = np.concatenate([faces, second])
        faces[rows] = np.stack([a, middles, c], axis=1)
        sources = np.concatenate([sources, sources[rows]])


def reach(body: Body) -> float:
    """Greatest distance that a point of a body can have from its centre.

    Parameters
    ----------
    body : Body
        The body.

    Returns
    -------
    reach : float
        Half the diagonal of its box. [m]
    """
    return float(np.linalg.norm(np.abs(body.tree.boxes[0].reshape(2, 3)).max(axis=0)))


def piece_count_bound(body: Body) -> int:
    """Number of entries no depth-first search of `body` can need at once.

    Parameters
    ----------
    body : Body
        The body searched.

    Returns
    -------
    entries : int
        The depth of its tree, with a margin. [1]
    """
    # Each halving leaves at most seven eighths, so the depth is at most the
    # logarithm of the number to the base 8 / 7, which is 5.2 times that to base 2;
    # below a node that may be parted by facing every level takes one piece at least.
    return 8 + MIXED_SIZE + math.ceil(5.2 * math.log2(len(body.tree.triangles) + 1))
