"""What is seen beyond a plane: outlines of pieces, less what nearer pieces hide."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from towerlift.drawings.cuts import Body, Plane, hull
from towerlift.rig.curves import Floats
from towerlift.shapes.solids import Ints

PLAIN = 20
"""Triangles that a convex piece has at most; what has more is drawn by its edges."""
SHARP = 0.94
"""Cosine below which two triangles meet in an edge that is drawn."""
SLACK = 1e-5
"""A line this near the outline of what is nearer is not hidden by it. [m]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What is seen of one piece.

    Attributes
    ----------
    body, mark : str
        Whose it is.
    outline : (n, 2) float
        Its silhouette, empty where it hides nothing. [m]
    lines : tuple of (n, 2) float
        Lines of it that nothing hides, joined where they meet. [m]
    cut : bool
        Whether the plane cuts it.
    """

    body: str
    mark: str
    outline: Floats
    lines: tuple[Floats, ...]
    cut: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A piece beyond a plane, before anything hides it.

    Attributes
    ----------
    body, mark : str
        Whose it is.
    outline : (n, 2) float
        Its silhouette, empty where it hides nothing. [m]
    lines : (k, 2, 2) float
        Its lines. [m]
    near : float
        How far beyond the plane it begins. [m]
    cut : bool
        Whether the plane cuts it.
    """

    body: str
    mark: str
    outline: Floats
    lines: Floats
    near: float
    cut: bool


def seen_beyond(pieces: Sequence[Piece]) -> list[Seen]:
    """Every piece beyond a plane, hidden lines taken off.

    Parameters
    ----------
    pieces : sequence of Piece
        Of all that stands there, from `pieces_beyond`.

    Returns
    -------
    seen : list of Seen
        In the order of the pieces.

    Notes
    -----
    Pieces are taken as convex and as nearer or farther as a whole, by their nearest
    corner: right for sticks in frames, one behind the other. A piece of many triangles
    hides nothing and is drawn by its edges.
    """
    hulls = [n for n, piece in enumerate(pieces) if len(piece.outline) > 2]
    if not hulls:
        return [_seen(piece, list(piece.lines)) for piece in pieces]
    edges = max(len(pieces[n].outline) for n in hulls)
    planes = np.zeros((len(hulls), edges, 3))
    planes[:, :, 2] = 1.0
    for row, n in enumerate(hulls):
        start = pieces[n].outline
        run = np.roll(start, -1, axis=0) - start
        out = np.column_stack([run[:, 1], -run[:, 0]])
        out /= np.linalg.norm(out, axis=1)[:, None]
        planes[row, : len(start)] = np.column_stack([out, (out * start).sum(axis=1) - SLACK])
    near = np.array([pieces[n].near for n in hulls])
    low = np.array([pieces[n].outline.min(axis=0) for n in hulls])
    high = np.array([pieces[n].outline.max(axis=0) for n in hulls])
    found = []
    for piece in pieces:
        if not len(piece.lines):
            continue
        ends = piece.lines.reshape(-1, 2)
        over = (low <= ends.max(axis=0)).all(axis=1) & (high >= ends.min(axis=0)).all(axis=1)
        hides = planes[over & (near < piece.near - 1e-6)]
        found.append(_seen(piece, _left(piece.lines, hides)))
    return found


def _seen(piece: Piece, lines: Sequence[Floats]) -> Seen:
    return Seen(
        body=piece.body,
        mark=piece.mark,
        outline=piece.outline,
        lines=_joined(lines),
        cut=piece.cut,
    )


def _joined(lines: Sequence[Floats]) -> tuple[Floats, ...]:
    """Lines that follow one another made into one."""
    runs: list[list[Floats]] = []
    for line in lines:
        if runs and np.abs(runs[-1][-1] - line[0]).max() < 1e-9:
            runs[-1] += list(line[1:])
        else:
            runs.append(list(line))
    return tuple(np.array(run) for run in runs)


def _left(lines: Floats, hides: Floats) -> list[Floats]:
    """Parts of lines that lie in none of the convex areas, given by their sides."""
    if not len(hides):
        return list(lines)
    found: list[Floats] = []
    for line in lines:
        a, way = line[0], line[1] - line[0]
        # Inside where n.(a + t way) <= c for every side.
        slope = hides[:, :, :2] @ way
        room = hides[:, :, 2] - hides[:, :, :2] @ a
        with np.errstate(divide="ignore", invalid="ignore"):
            at = room / slope
        enter = np.where(slope < 0, at, -np.inf).max(axis=1)
        leave = np.where(slope > 0, at, np.inf).min(axis=1)
        missed = ((slope == 0) & (room < 0)).any(axis=1)
        enter, leave = np.maximum(enter, 0.0), np.minimum(leave, 1.0)
        covers = np.flatnonzero(~missed & (leave - enter > 1e-9))
        t = 0.0
        for k in covers[np.argsort(enter[covers])].tolist():
            if enter[k] > t + 1e-6:
                found.append(np.array([a + t * way, a + enter[k] * way]))
            t = max(t, float(leave[k]))
        if t < 1.0 - 1e-6:
            found.append(np.array([a + t * way, line[1]]))
    return found


def pieces_beyond(body: Body, plane: Plane) -> list[Piece]:
    """Pieces of a body beyond a plane.

    Parameters
    ----------
    body : Body
        What stands there.
    plane : Plane
        What lies before it is taken away.

    Returns
    -------
    pieces : list of Piece
        Members that are wholly before the plane are left out.
    """
    depth = plane.depth(body.vertices)
    flat = plane.flat(body.vertices)
    found = []
    order = np.argsort(body.members, kind="stable")
    bounds = np.searchsorted(body.members[order], np.arange(len(body.marks) + 1))
    for member, mark in enumerate(body.marks):
        faces = body.faces[order[bounds[member] : bounds[member + 1]]]
        if not len(faces) or depth[faces].max() <= 1e-9:
            continue
        cut = bool(depth[faces].min() < -1e-9)
        near = max(float(depth[faces].min()), 0.0)
        if len(faces) <= PLAIN:
            corners = hull(_far_corners(faces, depth, flat))
            lines = _sides(corners)
            outline = corners if len(corners) > 2 else np.empty((0, 2))
        else:
            lines = _edges(body.vertices, faces, depth, flat)
            outline = np.empty((0, 2))
        found.append(
            Piece(body=body.name, mark=mark, outline=outline, lines=lines, near=near, cut=cut)
        )
    return found


def _sides(corners: Floats) -> Floats:
    if len(corners) < 2:
        return np.empty((0, 2, 2))
    if len(corners) == 2:
        return corners[None]
    return np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)


def _far_corners(faces: Ints, depth: Floats, flat: Floats) -> Floats:
    """Corners beyond the plane, and where edges pass through it."""
    used = np.unique(faces)
    points = [flat[used[depth[used] >= 0]]]
    for i, j in ((0, 1), (1, 2), (2, 0)):
        a, b = faces[:, i], faces[:, j]
        through = (depth[a] < 0) & (depth[b] > 0)
        a, b = a[through], b[through]
        share = (depth[a] / (depth[a] - depth[b]))[:, None]
        points.append(flat[a] + share * (flat[b] - flat[a]))
    return np.concatenate(points)


def _edges(vertices: Floats, faces: Ints, depth: Floats, flat: Floats) -> Floats:
    """Sharp edges of a mesh, as far as they lie beyond the plane, (n, 2, 2)."""
    corners = vertices[faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1), 1e-300)[:, None]
    pairs = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]))
    owner = np.tile(np.arange(len(faces)), 3)
    edges, first, inverse, count = np.unique(
        pairs, axis=0, return_index=True, return_inverse=True, return_counts=True
    )
    second = np.zeros(len(edges), dtype=np.int64)
    second[inverse[::-1].ravel()] = owner[::-1]
    last = np.zeros(len(edges), dtype=np.int64)
    last[inverse.ravel()] = owner
    sharp = (count != 2) | ((normals[second] * normals[last]).sum(axis=1) < SHARP)
    lines = []
    for i, j in edges[sharp].tolist():
        ends = sorted(((depth[i], i), (depth[j], j)))
        (d0, a), (d1, b) = ends
        if d1 <= 0:
            continue
        start = flat[a] if d0 >= 0 else flat[a] + d0 / (d0 - d1) * (flat[b] - flat[a])
        lines.append([start, flat[b]])
    del first
    return np.array(lines).reshape(-1, 2, 2)
