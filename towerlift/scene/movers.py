"""The scene for the browser: few bodies that each move as one, in as few bytes as serve."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

import numpy as np
from numpy.typing import NDArray

from towerlift.scene.bodies import Body, Kind, Scene

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

GRID = 65535  # places along each side of a mover's box
FEATURE = 0.9  # cosine between two faces below which their edge is drawn
MOST_EDGED = 40_000  # triangles of a body, above which it is a scan and has no drawn edges
LONG = 1.5  # triangles taller than this are kept apart from the others [m]
CURVE = 10  # the order in which triangles are drawn has 2**10 cells along each axis
CHUNK = 128  # triangles drawn or left out together
PLACES = 26  # bits that hold the number of a triangle or a corner
SHAFT, STILL = "shaft", "still"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One drawn body, whatever it is made from.

    Attributes
    ----------
    name, kind : str
        As the plan names it, and what it is.
    mover : str
        What it moves with.
    seen : tuple of int
        Passages in which it is seen.
    vertices, faces : array
        Frame of its mover. [m]
    members : (m,) int
        For each triangle, its place in `marks`.
    marks, parts : tuple of str
        Member marks and kinds of piece.
    colours : (len(marks), 3) uint8
        Red, green, blue of each member.
    edged : bool
        Whether its edges are drawn.
    """

    name: str
    kind: str
    mover: str
    seen: tuple[int, ...]
    vertices: Floats
    faces: Ints
    members: Ints
    marks: tuple[str, ...]
    parts: tuple[str, ...]
    colours: NDArray[np.uint8]
    edged: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mover:
    """Everything that moves as one, on a grid of its own box.

    Attributes
    ----------
    name : str
        "shaft", "still", a section or a capstan.
    low, size : (3,) float
        Corner and sides of the box, frame of the mover. [m]
    places : (n, 3) uint16
        Vertices: ``low + size * places / 65535``.
    members : (n,) uint16
        Member of each vertex, by its place among all members.
    faces : (m, 3) uint32
        Corner numbers, by the way they face, then by place.
    edges : (e, 2) uint32
        Ends of the edges that are drawn.
    firsts : (c + 1,) uint32
        First triangle of each chunk, then how many triangles there are.
    boxes : (c, 10) float32
        Of each chunk: middle and half sides of a box that holds it [m], the way it
        faces, and the sine of how far any of it faces from that: -1 where that is a
        right angle or more.
    """

    name: str
    low: Floats
    size: Floats
    places: NDArray[np.uint16]
    members: NDArray[np.uint16]
    faces: NDArray[np.uint32]
    edges: NDArray[np.uint32]
    firsts: NDArray[np.uint32]
    boxes: NDArray[np.float32]


def shown_bodies(scene: Scene) -> tuple[Shown, ...]:
    """Every body that the browser draws, in the order of its movers.

    Parameters
    ----------
    scene : Scene
        What is drawn.

    Returns
    -------
    shown : tuple of Shown
        Shaft, what stands still, then each section, then each capstan.
    """
    passages = scene.raise_.passages
    bodies = [
        _of_body(body, tuple(p.index for p in passages if body.is_seen(p)))
        for body in scene.bodies
    ]
    for gear in scene.gear:
        colours, members = np.unique(gear.model.colours, axis=0, return_inverse=True)
        bodies.append(
            Shown(
                name=gear.name,
                kind=gear.part,
                mover=gear.rides or STILL,
                seen=tuple(sorted(gear.seen)),
                vertices=gear.model.vertices,
                faces=gear.model.faces,
                members=members.ravel().astype(np.int64),
                marks=(gear.mark,) * len(colours),
                parts=(gear.part,) * len(colours),
                colours=colours.astype(np.uint8),
                edged=gear.part not in ("people", "ground"),
            )
        )
    order = {name: n for n, name in enumerate([SHAFT, STILL, *scene.lengths])}
    return tuple(sorted(bodies, key=lambda body: order.get(body.mover, len(order))))


def pack_movers(shown: Sequence[Shown]) -> tuple[Mover, ...]:
    """Bodies joined by what they move with.

    Parameters
    ----------
    shown : sequence of Shown
        In the order of their movers.

    Returns
    -------
    movers : tuple of Mover
        In the same order; members are numbered through all bodies.

    Raises
    ------
    ValueError
        If there are more members than a vertex can name.
    """
    total = sum(len(body.marks) for body in shown)
    if total > GRID:
        raise ValueError(f"the view can tell {GRID} members apart, got {total}")
    movers, first = [], 0
    for name, group in groupby(shown, lambda body: body.mover):
        bodies = list(group)
        movers.append(_mover(name, bodies, first))
        first += sum(len(body.marks) for body in bodies)
    return tuple(movers)


def _of_body(body: Body, seen: tuple[int, ...]) -> Shown:
    colours = np.zeros((max(len(body.marks), 1), 3), dtype=np.uint8)
    colours[body.members] = body.colours
    still = SHAFT if body.kind is Kind.SHAFT else STILL
    return Shown(
        name=body.name,
        kind=str(body.kind),
        mover=body.rides or still,
        seen=seen,
        vertices=body.vertices,
        faces=body.faces,
        members=body.members,
        marks=body.marks or (body.name,),
        parts=body.parts or (body.name,),
        colours=colours,
        edged=body.kind is not Kind.SHAFT and len(body.faces) <= MOST_EDGED,
    )


def _mover(name: str, bodies: Iterable[Shown], first: int) -> Mover:
    vertices, members, faces, edges, start = [], [], [], [], 0
    for body in bodies:
        corners, owner, triangles = _split(body)
        vertices.append(corners)
        members.append(owner + first)
        faces.append(triangles + start)
        if body.edged:
            edges.append(feature_edges(corners, triangles, owner) + start)
        start += len(corners)
        first += len(body.marks)
    every, triangles = np.concatenate(vertices), np.concatenate(faces)
    low = every.min(axis=0)
    size = np.maximum(every.max(axis=0) - low, 1e-9)
    order, firsts, boxes = _in_chunks(every, triangles, size / GRID)
    triangles = triangles[order]
    # Corners are numbered as they are first met: near in space, near in memory.
    flat = triangles.ravel()
    met = np.zeros(len(every), dtype=np.int64)
    met[flat[::-1]] = np.arange(len(flat))[::-1]
    new = _sorted_by(met)
    rank = np.empty(len(new), dtype=np.int64)
    rank[new] = np.arange(len(new))
    nothing = np.zeros((0, 2), dtype=np.int64)
    return Mover(
        name=name,
        low=low,
        size=size,
        places=np.round((every[new] - low) / size * GRID).astype(np.uint16),
        members=np.concatenate(members)[new].astype(np.uint16),
        faces=rank[triangles].astype(np.uint32),
        edges=rank[np.concatenate([nothing, *edges])].astype(np.uint32),
        firsts=firsts,
        boxes=boxes,
    )


def _split(body: Shown) -> tuple[Floats, Ints, Ints]:
    """Vertices, each of one member only; the member of each; triangles."""
    owner = np.full(len(body.vertices), -1, dtype=np.int64)
    for corner in range(3):
        owner[body.faces[:, corner]] = body.members
    if owner.min() >= 0 and np.all(owner[body.faces] == body.members[:, None]):
        return body.vertices, owner, body.faces.astype(np.int64)
    n = len(body.marks)
    faces = body.faces.astype(np.int64)
    keys = faces * n + body.members[:, None]
    if owner.min() >= 0:
        # Only corners that belong to another member too need one more of their own.
        other = owner[faces] != body.members[:, None]
        used, again = np.unique(keys[other], return_inverse=True)
        faces[other] = len(owner) + again
        vertices = np.concatenate([body.vertices, body.vertices[used // n]])
        return vertices, np.concatenate([owner, used % n]), faces
    used, faces = np.unique(keys, return_inverse=True)
    return body.vertices[used // n], used % n, faces.reshape(-1, 3).astype(np.int64)


def _in_chunks(
    vertices: Floats, faces: Ints, step: Floats
) -> tuple[Ints, NDArray[np.uint32], NDArray[np.float32]]:
    """Order of the triangles, and chunks of them that face much the same way."""
    # By axis, then by corner: three long rows are gone through faster than many short ones.
    ends = np.ascontiguousarray(faces.T)
    corners = [np.ascontiguousarray(vertices[:, k])[ends] for k in range(3)]
    low = np.array([np.minimum(np.minimum(*rows[:2]), rows[2]) for rows in corners])
    high = np.array([np.maximum(np.maximum(*rows[:2]), rows[2]) for rows in corners])
    normals = _normals(corners)
    group = 2 * _ways(normals) + (high[2] - low[2] > LONG)
    order = _sorted_by(group << 3 * CURVE | _along_a_curve((low + high) / 2))
    group = group[order]
    bounds = [0, *(np.flatnonzero(np.diff(group)) + 1).tolist(), len(order)]
    firsts = np.array([k for begin, end in pairwise(bounds) for k in range(begin, end, CHUNK)])
    counts = np.diff(np.append(firsts, len(order)))
    lowest = np.minimum.reduceat(low[:, order], firsts, axis=1)
    highest = np.maximum.reduceat(high[:, order], firsts, axis=1)
    ways, spread = _cones(normals[:, order], firsts, counts)
    # A step of the grid wider, since places are rounded to it.
    sides = (highest - lowest).T / 2 + step
    boxes = np.column_stack([(lowest + highest).T / 2, sides, ways.T, spread])
    return order, np.append(firsts, len(order)).astype(np.uint32), boxes.astype(np.float32)


def _normals(corners: Sequence[Floats]) -> Floats:
    """Unit normals by axis, from coordinates by axis and corner; zero where there is none."""
    (ax, ay, az), (bx, by, bz) = (
        [rows[k] - rows[0] for rows in corners] for k in (1, 2)
    )  # fmt: skip
    normals = np.array([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])
    lengths = np.sqrt((normals**2).sum(axis=0))
    unit: Floats = normals / np.where(lengths > 0, lengths, 1.0)
    return unit


def _cones(normals: Floats, firsts: Ints, counts: Ints) -> tuple[Floats, Floats]:
    """Mean direction of the normals of each chunk, and the sine of the widest angle from it."""
    ways = np.add.reduceat(normals, firsts, axis=1)
    lengths = np.linalg.norm(ways, axis=0)
    ways /= np.where(lengths > 0, lengths, 1.0)
    off = (normals * np.repeat(ways, counts, axis=1)).sum(axis=0)
    least = np.minimum.reduceat(off, firsts)
    # A hair wider, since the ways are rounded when they are written.
    wide = np.sqrt(np.maximum(0.0, 1.0 - least**2)) + 1e-3
    return ways, np.where(least > 0, wide, -1.0)


def _ways(normals: Floats) -> Ints:
    """Number of the cell of a cube, three by three on each side, that each normal points at."""
    sizes = np.abs(normals)
    axis = sizes.argmax(axis=0)
    columns = np.arange(normals.shape[1])
    main = normals[axis, columns]
    scale = np.where(main == 0, 1.0, np.abs(main))
    one, two = (
        np.clip(np.floor(1.5 * (normals[(axis + k) % 3, columns] / scale + 1)), 0, 2)
        for k in (1, 2)
    )
    ways: Ints = (9 * (2 * axis + (main < 0)) + 3 * one + two).astype(np.int64)
    return ways


def _sorted_by(keys: Ints) -> Ints:
    """Places of the keys in their order, equal ones as they came; keys are below 2**37."""
    # Sorted as numbers, which is quicker than sorting places by them.
    places: Ints = np.sort(keys << PLACES | np.arange(len(keys))) & (2**PLACES - 1)
    return places


def _along_a_curve(points: Floats) -> Ints:
    """Places along a curve that fills the box of the points, near in space near along it.

    The points are by axis, (3, n).
    """
    low = points.min(axis=1)
    cells = (points.T - low).T / max(float((points.max(axis=1) - low).max()), 1e-9)
    place = np.minimum(cells * 2**CURVE, 2**CURVE - 1).astype(np.int64)
    # Every cell's number with two bits of room behind each of its own, for the other axes.
    numbers = np.arange(2**CURVE)
    roomy = np.zeros_like(numbers)
    for bit in range(CURVE):
        roomy |= ((numbers >> bit) & 1) << 3 * bit
    code: Ints = roomy[place[0]] | roomy[place[1]] << 1 | roomy[place[2]] << 2
    return code


def feature_edges(vertices: Floats, faces: Ints, owner: Ints) -> Ints:
    """Edges where two faces of a member meet at an angle, or where a face ends.

    Parameters
    ----------
    vertices : (n, 3) float
        [m]
    faces : (m, 3) int
        Corner numbers.
    owner : (n,) int
        Member of each vertex: edges of different members are never one edge.

    Returns
    -------
    edges : (e, 2) int
        Corner numbers.
    """
    keys = np.column_stack([owner, np.round(vertices * 1e5).astype(np.int64)])
    _, first, same = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    merged = first[same.ravel()][faces]
    corners = vertices[merged]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    normals = normals / np.where(lengths > 0, lengths, 1.0)
    ends = np.sort(merged[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    side = np.repeat(np.arange(len(faces)), 3)
    order = np.lexsort((ends[:, 1], ends[:, 0]))
    ends, side = ends[order], side[order]
    return np.array(list(_sharp(ends, normals[side])), dtype=np.int64).reshape(-1, 2)


def _sharp(ends: Ints, normals: Floats) -> Iterator[Ints]:
    same = np.all(ends[1:] == ends[:-1], axis=1)
    bounds = np.concatenate([[0], np.flatnonzero(~same) + 1, [len(ends)]])
    counts = np.diff(bounds)
    starts = bounds[:-1]
    pairs = starts[counts == 2]
    cosines = np.einsum("ij,ij->i", normals[pairs], normals[pairs + 1])
    yield from ends[pairs[cosines < FEATURE]]
    yield from ends[starts[counts != 2]]
