"""What every search of two trees does: moving boxes, pruning and leaves."""

# ruff: noqa: PLR0913, PLR0917
# A kernel takes rows and scalars: records of them would be copied in the inner loop.

import math

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps.cache import inlined, kernel
from towerlift.gaps.tree import LAST_DIGITS, WALL_SIZE, TreeArrays

Array = NDArray[np.float64]
Singles = NDArray[np.float32]
Keys = NDArray[np.int64]

# A node is taken by its own facing direction from about 45 degrees.
FACING = 0.7


@kernel
def is_skipped(skip: Keys, key: int) -> bool:
    """Whether `key` stands in the sorted `skip`."""
    low, high = 0, skip.size
    while low < high:
        middle = (low + high) >> 1
        if skip[middle] < key:
            low = middle + 1
        else:
            high = middle
    return low < skip.size and skip[low] == key


@inlined
def move_triangle(
    triangles: Array, i: int, turns: Array, shifts: Array, pose: int, moved: Array, row: int
) -> None:
    """Write triangle i, taken to a pose, into moved[row]."""
    for k in range(3):
        x, y, z = triangles[i, 3 * k], triangles[i, 3 * k + 1], triangles[i, 3 * k + 2]
        for c in range(3):
            moved[row, 3 * k + c] = (
                turns[pose, c, 0] * x
                + turns[pose, c, 1] * y
                + turns[pose, c, 2] * z
                + shifts[pose, c]
            )


@inlined
def move_box(
    boxes: Singles, node: int, turns: Array, shifts: Array, k: int, moved: Array, row: int
) -> None:
    """Write the box around a box taken to pose k into moved[row].

    Centre and half sides of the turned box along each axis are R c and |R| h.
    """
    cx, hx = 0.5 * (boxes[node, 3] + boxes[node, 0]), 0.5 * (boxes[node, 3] - boxes[node, 0])
    cy, hy = 0.5 * (boxes[node, 4] + boxes[node, 1]), 0.5 * (boxes[node, 4] - boxes[node, 1])
    cz, hz = 0.5 * (boxes[node, 5] + boxes[node, 2]), 0.5 * (boxes[node, 5] - boxes[node, 2])
    for c in range(3):
        centre = turns[k, c, 0] * cx + turns[k, c, 1] * cy + turns[k, c, 2] * cz + shifts[k, c]
        half = abs(turns[k, c, 0]) * hx + abs(turns[k, c, 1]) * hy + abs(turns[k, c, 2]) * hz
        moved[row, c] = centre - half
        moved[row, 3 + c] = centre + half


@inlined
def box_gap2(moved: Array, a: int, boxes: Singles, b: int) -> float:
    """Squared distance between two boxes; 0 if they meet."""
    x = max(moved[a, 0] - boxes[b, 3], boxes[b, 0] - moved[a, 3])
    y = max(moved[a, 1] - boxes[b, 4], boxes[b, 1] - moved[a, 4])
    z = max(moved[a, 2] - boxes[b, 5], boxes[b, 2] - moved[a, 5])
    gap2 = 0.0
    if x > 0.0:
        gap2 += x * x
    if y > 0.0:
        gap2 += y * y
    if z > 0.0:
        gap2 += z * z
    return gap2


@inlined
def box_size(boxes: Array | Singles, a: int) -> float:
    """Longest side of a box."""
    x, y, z = boxes[a, 3] - boxes[a, 0], boxes[a, 4] - boxes[a, 1], boxes[a, 5] - boxes[a, 2]
    longest: float = max(x, y, z)
    return longest


@inlined
def slab_gap(moved: Array, row: int, planes: Singles, j: int) -> float:
    """Distance along the normal of fixed piece j; negative if their reaches overlap.

    Never more than the distance between the triangles, whatever the direction,
    because the direction is no longer than one.
    """
    x, y, z = planes[j, 0], planes[j, 1], planes[j, 2]
    p = x * moved[row, 0] + y * moved[row, 1] + z * moved[row, 2]
    q = x * moved[row, 3] + y * moved[row, 4] + z * moved[row, 5]
    r = x * moved[row, 6] + y * moved[row, 7] + z * moved[row, 8]
    gap: float = max(min(p, q, r) - planes[j, 4], planes[j, 3] - max(p, q, r))
    return gap


@inlined
def node_reach(
    boxes: Singles, walls: Singles, a: int, x: float, y: float, z: float
) -> tuple[float, float]:
    """Least and greatest reach of a node along (x, y, z), own box frame; outward.

    Where the node faces about that way, the direction is split into a multiple
    of the facing direction, along which the node is thin, and a small rest,
    along which its box will do: x = f w + r, so x.p = f w.p + r.p at any p.
    """
    facing = x * walls[a, 0] + y * walls[a, 1] + z * walls[a, 2]
    low = high = 0.0
    if abs(facing) > FACING:
        low, high = facing * walls[a, 3], facing * walls[a, 4]
        if facing < 0.0:
            low, high = high, low
        x -= facing * walls[a, 0]
        y -= facing * walls[a, 1]
        z -= facing * walls[a, 2]
    middle = 0.5 * (
        x * (boxes[a, 0] + boxes[a, 3])
        + y * (boxes[a, 1] + boxes[a, 4])
        + z * (boxes[a, 2] + boxes[a, 5])
    )
    half = 0.5 * (
        abs(x) * (boxes[a, 3] - boxes[a, 0])
        + abs(y) * (boxes[a, 4] - boxes[a, 1])
        + abs(z) * (boxes[a, 5] - boxes[a, 2])
    )
    return low + middle - half, high + middle + half


@inlined
def pieces_reach(
    triangles: Array, first: int, last: int, x: float, y: float, z: float
) -> tuple[float, float]:
    """Least and greatest reach of pieces `first` up to `last` along (x, y, z)."""
    low, high = math.inf, -math.inf
    for i in range(first, last):
        for k in range(3):
            reach = (
                x * triangles[i, 3 * k]
                + y * triangles[i, 3 * k + 1]
                + z * triangles[i, 3 * k + 2]
            )
            low, high = min(low, reach), max(high, reach)
    return low, high


@inlined
def wall_gap(
    boxes: Singles,
    facings: Singles,
    a: int,
    turns: Array,
    shifts: Array,
    k: int,
    end: int,
    swing: float,
    walls: Singles,
    b: int,
) -> float:
    """Distance of a node from a fixed slab along the slab's direction.

    From pose k to pose `end`: the reach at pose k, shifted to both; `swing` is
    the most by which turning from one to the other can move any point of the
    body. The same pose twice and no swing for a single pose. `facings` are the
    slabs of the moving nodes, `walls` those of fixed nodes or of single pieces.
    Negative if the reaches overlap; never more than the true distance.
    """
    x, y, z = walls[b, 0], walls[b, 1], walls[b, 2]
    low, high = node_reach(
        boxes,
        facings,
        a,
        turns[k, 0, 0] * x + turns[k, 1, 0] * y + turns[k, 2, 0] * z,
        turns[k, 0, 1] * x + turns[k, 1, 1] * y + turns[k, 2, 1] * z,
        turns[k, 0, 2] * x + turns[k, 1, 2] * y + turns[k, 2, 2] * z,
    )
    first = x * shifts[k, 0] + y * shifts[k, 1] + z * shifts[k, 2]
    last = x * shifts[end, 0] + y * shifts[end, 1] + z * shifts[end, 2]
    gap: float = max(
        low + min(first, last) - walls[b, 4], walls[b, 3] - high - max(first, last)
    )
    return gap - swing


@inlined
def moved_slab(
    facings: Singles, a: int, turns: Array, shifts: Array, k: int, end: int
) -> tuple[float, float, float, float, float]:
    """Direction of a moved slab at pose k, and its reach along it from pose k to `end`."""
    u, v, w = facings[a, 0], facings[a, 1], facings[a, 2]
    x = turns[k, 0, 0] * u + turns[k, 0, 1] * v + turns[k, 0, 2] * w
    y = turns[k, 1, 0] * u + turns[k, 1, 1] * v + turns[k, 1, 2] * w
    z = turns[k, 2, 0] * u + turns[k, 2, 1] * v + turns[k, 2, 2] * w
    first = x * shifts[k, 0] + y * shifts[k, 1] + z * shifts[k, 2]
    last = x * shifts[end, 0] + y * shifts[end, 1] + z * shifts[end, 2]
    return x, y, z, facings[a, 3] + min(first, last), facings[a, 4] + max(first, last)


@inlined
def faces_off(
    boxes_a: Singles,
    walls_a: Singles,
    size_a: NDArray[np.int32],
    a: int,
    turns: Array,
    shifts: Array,
    k: int,
    end: int,
    swing: float,
    boxes_b: Singles,
    walls_b: Singles,
    size_b: NDArray[np.int32],
    b: int,
    cut2: float,
) -> bool:
    """Whether nodes a and b stay apart from pose k to `end` along the way either faces.

    A moved node's direction is the tighter one where the fixed node is small and
    rough.
    """
    if size_b[b] <= WALL_SIZE:
        slab = wall_gap(boxes_a, walls_a, a, turns, shifts, k, end, swing, walls_b, b)
        if slab > 0.0 and slab * slab >= cut2:
            return True
    if size_a[a] <= WALL_SIZE:
        x, y, z, least, most = moved_slab(walls_a, a, turns, shifts, k, end)
        low, high = node_reach(boxes_b, walls_b, b, x, y, z)
        slab = max(low - most, least - high) - swing
        if slab > 0.0 and slab * slab >= cut2:
            return True
    return False


@inlined
def piece_faces_off(
    planes: Singles,
    i: int,
    turns: Array,
    shifts: Array,
    k: int,
    end: int,
    swing: float,
    triangles: Array,
    j: int,
    cut2: float,
) -> bool:
    """Whether moved piece i and fixed piece j stay apart along the way piece i faces."""
    x, y, z, least, most = moved_slab(planes, i, turns, shifts, k, end)
    low, high = pieces_reach(triangles, j, j + 1, x, y, z)
    slab: float = max(low - most, least - high) - swing
    return slab > 0.0 and slab * slab >= cut2


@kernel
def axes_apart(
    moving: TreeArrays, a: int, fixed: TreeArrays, turns: Array, shifts: Array, k: int
) -> float:
    """Greatest level distance of node a's own axis from the fixed one at pose k.

    Both are straight, so it is at one end of the node; between two poses points
    run straight, so it is at one of the poses.
    """
    most = 0.0
    for end in (2, 5):
        z = moving.boxes[a, end]
        x, y = moving.axis[0] + moving.axis[2] * z, moving.axis[1] + moving.axis[3] * z
        place = np.empty(3)
        for c in range(3):
            place[c] = turns[k, c, 0] * x + turns[k, c, 1] * y + turns[k, c, 2] * z
            place[c] += shifts[k, c]
        east = place[0] - fixed.axis[0] - fixed.axis[2] * place[2]
        north = place[1] - fixed.axis[1] - fixed.axis[3] * place[2]
        most = max(most, math.sqrt(east * east + north * north))
    return most + LAST_DIGITS


@kernel
def level_share(fixed: TreeArrays) -> float:
    """How far a point must move at least for each metre of level distance from the axis."""
    return 1.0 / math.sqrt(1.0 + fixed.axis[2] * fixed.axis[2] + fixed.axis[3] * fixed.axis[3])


@inlined
def rings_off(
    radii_a: Singles,
    a: int,
    radii_b: Singles,
    b: int,
    apart: float,
    share: float,
    cut2: float,
) -> bool:
    """Whether the rings that nodes a and b lie in keep them apart, b outside a.

    A point of node a is no farther from its own axis than its ring, and that no
    farther than `apart` from the fixed one; `share` is the `level_share`.
    """
    gap: float = (radii_b[b, 0] - apart) * share - radii_a[a, 1]
    return gap > 0.0 and gap * gap >= cut2


@inlined
def triangle_boxes_gap2(a: Array, i: int, b: Array, j: int) -> float:
    """Squared distance between the boxes of two triangles."""
    gap2 = 0.0
    for c in range(3):
        p0, p1, p2 = a[i, c], a[i, 3 + c], a[i, 6 + c]
        q0, q1, q2 = b[j, c], b[j, 3 + c], b[j, 6 + c]
        away = max(min(p0, p1, p2) - max(q0, q1, q2), min(q0, q1, q2) - max(p0, p1, p2))
        if away > 0.0:
            gap2 += away * away
    return gap2


@inlined
def cut_at(least: float, eps: float) -> float:
    """Squared bound from which a pair cannot lower the least by more than eps."""
    edge = least - eps
    return edge * edge if edge > 0.0 else 0.0
