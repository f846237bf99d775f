"""A tree of boxes over triangles.

Boxes are kept in single precision, rounded outward, and every node holds the
whole of its triangles. A tree may have several roots: one for each group of
triangles whose least gap is asked for on its own.
"""
# ruff: noqa: PLR0913, PLR0917
# A kernel takes rows and scalars: records of them would be copied in the inner loop.

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps.cache import inlined, kernel

Array = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int32]

LEAF_SIZE = 4
# Largest node that keeps the slab it faces along; larger ones are as thick as
# their boxes.
WALL_SIZE = 256
# Nodes of no more pieces than this may be parted by the way their pieces face.
MIXED_SIZE = 64
# Two pieces face the same way up to about 30 degrees.
SAME_WAY = 0.87
# What the length of a node counts for beside its thickness, when a search chooses
# which of two to halve: a long flat face is as near to a wall as each of its parts.
LENGTH_COUNTS = 1.0 / 64.0
# Half a unit in the last place of a single is 6e-8 of the value: twice that
# always carries a rounded bound past the true one.
OUTWARD = 1.2e-7
TINY = 1e-35
# What rounding adds to a distance worked out in double precision, many times over.
LAST_DIGITS = 1e-12
# Corners that an axis is fitted to, and the most that it may lean for each metre.
AXIS_SAMPLE = 20_000
MOST_LEAN = 0.2


class TreeArrays(NamedTuple):
    """What a kernel needs to know of a body, in the body's own box frame.

    Attributes
    ----------
    triangles : (n, 9) float
        Corners of each piece, in the order of the tree. [m]
    planes : (n, 5) float32
        Direction square to each piece, with the least and the greatest reach
        of the piece along it, rounded outward. [1, m]
    boxes : (k, 6) float32
        Least and greatest corner of each node, rounded outward. [m]
    walls : (k, 5) float32
        Direction most of a node's area faces, with its least and greatest reach
        along it, rounded outward; zero for nodes of many pieces. [1, m]
    radii : (k, 2) float32
        Least and greatest distance of a node from `axis`, measured level, rounded
        outward. [m]
    axis : (4,) float
        Where an upright line passes z = 0, x and y, and by how much it leans,
        x and y for each z. Any line will do; about a round body one is right. [m, 1]
    bulk : (k,) float32
        How much can be gained by halving a node: its thickness along the way it
        faces and a share of its length; -1 at a leaf. [m]
    child : (k,) int32
        First of the two children of a node, the other follows it; 0 at a leaf.
    first, size : (k,) int32
        Pieces below a node: a range of `triangles`.
    members : (n,) int32
        Rank of the member each piece belongs to.
    """

    triangles: Array
    planes: Singles
    boxes: Singles
    walls: Singles
    radii: Singles
    axis: Array
    bulk: Singles
    child: Ints
    first: Ints
    size: Ints
    members: Ints


@kernel
def _select(order: Ints, key: Singles, low: int, high: int, middle: int) -> None:
    """Reorder order[low:high] so that the keys left of `middle` are the lesser ones."""
    high -= 1
    while high > low:
        pivot = key[order[(low + high) >> 1]]
        i, j = low, high
        while i <= j:
            while key[order[i]] < pivot:
                i += 1
            while key[order[j]] > pivot:
                j -= 1
            if i <= j:
                order[i], order[j] = order[j], order[i]
                i += 1
                j -= 1
        if middle <= j:
            high = j
        elif middle >= i:
            low = i
        else:
            return


@kernel
def _split(order: Ints, middles: Singles, low: int, high: int) -> int:
    """Reorder order[low:high] into two halves that lie apart; returns where they meet.

    Halves the extent along the longest side, so that what lies apart is parted.
    Where that leaves less than an eighth on one side, halves the number
    instead, so that the depth stays a few times the logarithm of it.
    """
    axis, widest, edge = 0, np.float32(-1.0), np.float32(0.0)
    for c in range(3):
        least, most = middles[c, order[low]], middles[c, order[low]]
        for i in range(low + 1, high):
            value = middles[c, order[i]]
            least, most = min(least, value), max(most, value)
        if most - least > widest:
            axis, widest, edge = c, most - least, np.float32(0.5) * (least + most)
    i, j = low, high - 1
    while i <= j:
        if middles[axis, order[i]] < edge:
            i += 1
        else:
            order[i], order[j] = order[j], order[i]
            j -= 1
    eighth = (high - low) >> 3
    if i - low > eighth and high - i > eighth and i > low and i < high:
        return i
    middle = low + ((high - low) >> 1)
    _select(order, middles[axis], low, high, middle)
    return middle


@inlined
def _cross(vertices: Array, faces: NDArray[np.int64], f: int) -> tuple[float, float, float]:
    """Vector square to face f, as long as twice its area."""
    a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
    ux, uy, uz = (
        vertices[b, 0] - vertices[a, 0],
        vertices[b, 1] - vertices[a, 1],
        vertices[b, 2] - vertices[a, 2],
    )
    vx, vy, vz = (
        vertices[c, 0] - vertices[a, 0],
        vertices[c, 1] - vertices[a, 1],
        vertices[c, 2] - vertices[a, 2],
    )
    return uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx


@kernel
def _part_by_facing(
    vertices: Array, faces: NDArray[np.int64], order: Ints, low: int, high: int
) -> int:
    """Reorder order[low:high] so that those that face as the largest does come first.

    Returns where the others begin: `high` if there are none. A face without area
    goes with the largest.
    """
    x = y = z = largest = 0.0
    for i in range(low, high):
        p, q, r = _cross(vertices, faces, order[i])
        area2 = p * p + q * q + r * r
        if area2 > largest:
            x, y, z, largest = p, q, r, area2
    i, j = low, high - 1
    while i <= j:
        p, q, r = _cross(vertices, faces, order[i])
        if p * x + q * y + r * z >= SAME_WAY * math.sqrt(largest * (p * p + q * q + r * r)):
            i += 1
        else:
            order[i], order[j] = order[j], order[i]
            j -= 1
    return i


@kernel
def _outside(
    vertices: Array, faces: NDArray[np.int64], order: Ints, low: int, high: int
) -> float:
    """Surface of the box around faces order[low:high], times their number."""
    sides = np.zeros(3)
    for c in range(3):
        least, most = math.inf, -math.inf
        for i in range(low, high):
            for k in range(3):
                value = vertices[faces[order[i], k], c]
                least, most = min(least, value), max(most, value)
        sides[c] = most - least
    surface: float = sides[0] * sides[1] + sides[1] * sides[2] + sides[2] * sides[0]
    return surface * (high - low)


@kernel
def _split_few(
    mesh: tuple[Array, NDArray[np.int64]], order: Ints, middles: Singles, low: int, high: int
) -> int:
    """Reorder order[low:high] into two parts; returns where they meet, `low` for a leaf.

    The two faces of an arris or of an inner corner share a fat box in which
    neither lies near the middle, so few pieces that face different ways are
    parted by that wherever it leaves the smaller boxes.
    """
    vertices, faces = mesh
    few = high - low <= LEAF_SIZE
    turned = _part_by_facing(vertices, faces, order, low, high)
    if turned == high:
        return low if few else _split(order, middles, low, high)
    if few:
        return turned
    by_facing = _outside(vertices, faces, order, low, turned) + _outside(
        vertices, faces, order, turned, high
    )
    middle = _split(order, middles, low, high)
    by_place = _outside(vertices, faces, order, low, middle) + _outside(
        vertices, faces, order, middle, high
    )
    if by_place <= by_facing:
        return middle
    return _part_by_facing(vertices, faces, order, low, high)


@kernel
def grow(
    mesh: tuple[Array, NDArray[np.int64]],
    order: Ints,
    middles: Singles,
    child: Ints,
    first: Ints,
    count: Ints,
    span: NDArray[np.int64],
) -> int:
    """Split nodes span[0]..span[1] of the level, add their children from span[1].

    Returns the end of the new level.
    """
    end: int = span[1]
    for node in range(span[0], span[1]):
        low, size = first[node], count[node]
        if size == 1:
            continue
        if size > MIXED_SIZE:
            half = _split(order, middles, low, low + size) - low
        else:
            half = _split_few(mesh, order, middles, low, low + size) - low
        if half == 0:
            continue
        child[node] = end
        first[end], count[end] = low, half
        first[end + 1], count[end + 1] = low + half, size - half
        end += 2
    return end


@kernel
def _fill_middles(vertices: Array, faces: NDArray[np.int64], middles: Singles) -> None:
    """Sum of the corners of each face: three times its middle, only to sort by."""
    for f in range(faces.shape[0]):
        for c in range(3):
            middles[c, f] = np.float32(
                vertices[faces[f, 0], c] + vertices[faces[f, 1], c] + vertices[faces[f, 2], c]
            )


@kernel
def fill_boxes(triangles: Array, tree: tuple[Ints, Ints, Ints], boxes: Singles) -> None:
    """Boxes of all nodes, children before parents, rounded outward.

    `tree` is (child, first, count). Children always follow their parent, so
    one pass from the end meets them first.
    """
    child, first, count = tree
    for node in range(child.size - 1, -1, -1):
        if child[node] > 0:
            left, right = child[node], child[node] + 1
            for c in range(3):
                boxes[node, c] = min(boxes[left, c], boxes[right, c])
                boxes[node, 3 + c] = max(boxes[left, 3 + c], boxes[right, 3 + c])
            continue
        for c in range(3):
            low, high = math.inf, -math.inf
            for i in range(first[node], first[node] + count[node]):
                for k in range(3):
                    value = triangles[i, 3 * k + c]
                    low, high = min(low, value), max(high, value)
            boxes[node, c] = np.float32(low - abs(low) * OUTWARD - TINY)
            boxes[node, 3 + c] = np.float32(high + abs(high) * OUTWARD + TINY)


@kernel
def fill_walls(triangles: Array, tree: tuple[Ints, Ints, Ints], walls: Singles) -> None:
    """Facing direction and reach of every node of few pieces; zero for the others.

    `tree` is (child, first, size). A wall that stands askew to the boxes fills
    a thick box but a thin slab; for large nodes neither is thin, and the work
    would grow with their number.
    """
    _, first, size = tree
    for node in range(first.size):
        walls[node] = 0.0
        if size[node] > WALL_SIZE:
            continue
        x = y = z = 0.0
        for i in range(first[node], first[node] + size[node]):
            t = triangles[i]
            ux, uy, uz = t[3] - t[0], t[4] - t[1], t[5] - t[2]
            vx, vy, vz = t[6] - t[0], t[7] - t[1], t[8] - t[2]
            nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
            # Both sides of a board count the same way.
            sign = -1.0 if nx * x + ny * y + nz * z < 0.0 else 1.0
            x, y, z = x + sign * nx, y + sign * ny, z + sign * nz
        length = math.sqrt(x * x + y * y + z * z)
        if not length > 0.0:
            continue
        scale = (1.0 - 2e-7) / length
        wx, wy, wz = np.float32(x * scale), np.float32(y * scale), np.float32(z * scale)
        low, high = math.inf, -math.inf
        for i in range(first[node], first[node] + size[node]):
            for k in range(3):
                reach = (
                    wx * triangles[i, 3 * k]
                    + wy * triangles[i, 3 * k + 1]
                    + wz * triangles[i, 3 * k + 2]
                )
                low, high = min(low, reach), max(high, reach)
        walls[node, 0], walls[node, 1], walls[node, 2] = wx, wy, wz
        walls[node, 3] = np.float32(low - abs(low) * OUTWARD - TINY)
        walls[node, 4] = np.float32(high + abs(high) * OUTWARD + TINY)


@kernel
def fill_radii(
    triangles: Array, axis: Array, tree: tuple[Ints, Ints, Ints], radii: Singles
) -> None:
    """Distances of every node from an axis, measured level, children before parents.

    Level distance from the axis is the distance from the origin after a shear
    that keeps triangles flat, so it is greatest at a corner, and least on an
    edge or within. `tree` is (child, first, count).
    """
    child, first, count = tree
    x, y = np.empty(3), np.empty(3)
    for node in range(child.size - 1, -1, -1):
        if child[node] > 0:
            left, right = child[node], child[node] + 1
            radii[node, 0] = min(radii[left, 0], radii[right, 0])
            radii[node, 1] = max(radii[left, 1], radii[right, 1])
            continue
        least2, most2 = math.inf, 0.0
        for i in range(first[node], first[node] + count[node]):
            for k in range(3):
                z = triangles[i, 3 * k + 2]
                x[k] = triangles[i, 3 * k] - axis[0] - axis[2] * z
                y[k] = triangles[i, 3 * k + 1] - axis[1] - axis[3] * z
            inside, outside = True, True
            for k in range(3):
                m = (k + 1) % 3
                most2 = max(most2, x[k] * x[k] + y[k] * y[k])
                dx, dy = x[m] - x[k], y[m] - y[k]
                side = x[k] * dy - y[k] * dx
                inside, outside = inside and side >= 0.0, outside and side <= 0.0
                length2 = dx * dx + dy * dy
                share = -(x[k] * dx + y[k] * dy) / length2 if length2 > 0.0 else 0.0
                share = min(1.0, max(0.0, share))
                px, py = x[k] + share * dx, y[k] + share * dy
                least2 = min(least2, px * px + py * py)
            if inside or outside:
                least2 = 0.0
        low, high = math.sqrt(least2), math.sqrt(most2)
        radii[node, 0] = np.float32(max(0.0, low - low * OUTWARD - LAST_DIGITS))
        radii[node, 1] = np.float32(high + high * OUTWARD + LAST_DIGITS)


def upright_axis(vertices: Array) -> Array:
    """Upright line that the corners of a round body are about equally far from.

    Parameters
    ----------
    vertices : (n, 3) float
        Corners. [m]

    Returns
    -------
    axis : (4,) float
        As in `TreeArrays`; the z axis where no better one is found.

    Notes
    -----
    Circles at all heights are fitted at once: with the axis at a + b z, the
    squares x^2 + y^2 are 2 (a + b z).(x, y), plus a square in z.
    """
    x, y, z = vertices[:: max(1, len(vertices) // AXIS_SAMPLE)].T
    columns = np.stack([2 * x, 2 * y, 2 * z * x, 2 * z * y, np.ones_like(z), z, z * z], axis=1)
    fitted = np.linalg.lstsq(columns, x * x + y * y, rcond=1e-9)[0][:4]
    reach = float(np.abs(vertices).max())
    near = np.abs(fitted[:2]).max() <= reach and np.abs(fitted[2:]).max() <= MOST_LEAN
    return np.ascontiguousarray(fitted) if near else np.zeros(4)


@kernel
def fill_bulk(child: Ints, boxes: Singles, walls: Singles, bulk: Singles) -> None:
    """How much can be gained by halving each node."""
    for node in range(child.size):
        if child[node] == 0:
            bulk[node] = np.float32(-1.0)
            continue
        size = np.float32(0.0)
        for c in range(3):
            size = max(size, boxes[node, 3 + c] - boxes[node, c])
        thick = size
        if walls[node, 0] != 0.0 or walls[node, 1] != 0.0 or walls[node, 2] != 0.0:
            thick = min(size, walls[node, 4] - walls[node, 3])
        bulk[node] = thick + np.float32(LENGTH_COUNTS) * size


@kernel
def gather(
    vertices: Array, faces: NDArray[np.int64], order: Ints, triangles: Array, planes: Singles
) -> None:
    """Write the triangles in the order of the tree, each with its plane.

    The direction is kept in single precision and the reach is measured along
    the kept direction, so the two agree exactly; where there is no area the
    direction is zero and bounds nothing.
    """
    for row in range(order.size):
        for k in range(3):
            for c in range(3):
                triangles[row, 3 * k + c] = vertices[faces[order[row], k], c]
        t = triangles[row]
        ux, uy, uz = t[3] - t[0], t[4] - t[1], t[5] - t[2]
        vx, vy, vz = t[6] - t[0], t[7] - t[1], t[8] - t[2]
        x, y, z = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        size = math.sqrt(x * x + y * y + z * z)
        # A hair under one, so that rounding cannot make the direction too long
        # and a reach along it greater than the distance.
        scale = (1.0 - 2e-7) / size if size > 0.0 else 0.0
        nx, ny, nz = np.float32(x * scale), np.float32(y * scale), np.float32(z * scale)
        planes[row, 0], planes[row, 1], planes[row, 2] = nx, ny, nz
        low, high = math.inf, -math.inf
        for k in range(3):
            reach = nx * t[3 * k] + ny * t[3 * k + 1] + nz * t[3 * k + 2]
            low, high = min(low, reach), max(high, reach)
        planes[row, 3] = np.float32(low - abs(low) * OUTWARD - TINY)
        planes[row, 4] = np.float32(high + abs(high) * OUTWARD + TINY)


@kernel
def _join(
    faces: NDArray[np.int64], parent: NDArray[np.int64], first: NDArray[np.int64]
) -> None:
    """Join the corners of each face (union by halving the way to the root)."""
    for f in range(faces.shape[0]):
        roots = np.empty(3, np.int64)
        for k in range(3):
            at = faces[f, k]
            while parent[at] != at:
                parent[at] = parent[parent[at]]
                at = parent[at]
            roots[k] = at
        least = min(roots[0], roots[1], roots[2])
        for k in range(3):
            parent[roots[k]] = least
    for f in range(faces.shape[0] - 1, -1, -1):
        at = faces[f, 0]
        while parent[at] != at:
            at = parent[at]
        first[at] = f


@kernel
def _mark_long(vertices: Array, faces: NDArray[np.int64], longest: float, edge: Ints) -> int:
    """Write the longest edge of each face that has one longer than `longest`, else -1."""
    found = 0
    for f in range(faces.shape[0]):
        worst, most = -1, longest * longest
        for k in range(3):
            p, q = faces[f, k], faces[f, (k + 1) % 3]
            length2 = 0.0
            for c in range(3):
                length2 += (vertices[q, c] - vertices[p, c]) ** 2
            if length2 > most:
                worst, most = k, length2
        edge[f] = worst
        if worst >= 0:
            found += 1
    return found


def longest_edges(
    vertices: Array, faces: NDArray[np.int64], longest: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Faces with an edge longer than a limit, and which edge is their longest.

    Parameters
    ----------
    vertices : (n, 3) float
        Corners. [m]
    faces : (m, 3) int
        Rows of `vertices`.
    longest : float
        Limit. [m]

    Returns
    -------
    rows, edges : (k,) int, (k,) int
        The faces, and for each the corner its longest edge starts from.
    """
    edge = np.empty(len(faces), np.int32)
    if not _mark_long(vertices, faces, longest, edge):
        return np.empty(0, np.int64), np.empty(0, np.int64)
    rows = np.flatnonzero(edge >= 0)
    return rows, edge[rows].astype(np.int64)


def first_of_shells(faces: NDArray[np.int64], n_vertices: int) -> NDArray[np.int64]:
    """First face of each connected part of a mesh.

    Parameters
    ----------
    faces : (m, 3) int
        Rows of the vertices.
    n_vertices : int
        Number of vertices.

    Returns
    -------
    shells : (s,) int
        Rows of `faces`.
    """
    first = np.full(n_vertices, -1)
    _join(faces, np.arange(n_vertices), first)
    return first[first >= 0]


def build_tree(
    vertices: Array, faces: NDArray[np.int64], ranks: Ints, groups: Ints | None = None
) -> tuple[TreeArrays, Ints]:
    """Tree of boxes over triangles, with one root for each group.

    Parameters
    ----------
    vertices : (n, 3) float
        Corners, in the frame the boxes are to be square to. [m]
    faces : (m, 3) int
        Rows of `vertices`.
    ranks : (m,) int32
        Member rank of each face.
    groups : (m,) int32 or None, optional
        Group of each face, 0 to g - 1, none empty. The roots are the first g
        nodes. None puts all faces in one group.

    Returns
    -------
    tree : TreeArrays
        The tree; its pieces are the faces, reordered.
    order : (m,) int32
        Face of each piece.
    """
    size = len(faces)
    middles = np.empty((3, size), np.float32)
    _fill_middles(vertices, faces, middles)
    if groups is None:
        order = np.arange(size, dtype=np.int32)
        counts = np.array([size])
    else:
        order = np.argsort(groups, kind="stable").astype(np.int32)
        counts = np.bincount(groups)
    # No leaf is empty, so there are fewer than twice as many nodes as pieces.
    capacity = 2 * size + len(counts)
    child, first, count = (np.zeros(capacity, np.int32) for _ in range(3))
    first[: len(counts)] = np.cumsum(counts) - counts
    count[: len(counts)] = counts
    span = np.array([0, len(counts)])
    while span[0] < span[1]:
        end = grow((vertices, faces), order, middles, child, first, count, span)
        span[:] = span[1], end
    nodes = int(span[1])
    del middles
    child, first, count = (column[:nodes].copy() for column in (child, first, count))
    triangles, planes = np.empty((size, 9)), np.empty((size, 5), np.float32)
    gather(vertices, faces, order, triangles, planes)
    boxes = np.empty((nodes, 6), np.float32)
    fill_boxes(triangles, (child, first, count), boxes)
    walls = np.empty((nodes, 5), np.float32)
    fill_walls(triangles, (child, first, count), walls)
    axis = upright_axis(vertices)
    radii = np.empty((nodes, 2), np.float32)
    fill_radii(triangles, axis, (child, first, count), radii)
    bulk = np.empty(nodes, np.float32)
    fill_bulk(child, boxes, walls, bulk)
    tree = TreeArrays(
        triangles, planes, boxes, walls, radii, axis, bulk, child, first, count, ranks[order]
    )
    return tree, order
