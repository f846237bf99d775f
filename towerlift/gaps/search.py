"""What every search of two trees does: moving boxes, pruning and leaves."""

# ruff: noqa: PLR0913, PLR0917
# A kernel takes rows and scalars: records of them would be copied in the inner loop.

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps.cache import kernel

Array = NDArray[np.float64]
Singles = NDArray[np.float32]
Keys = NDArray[np.int64]


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


@kernel
def move_triangle(
    triangles: Array, i: int, turn: Array, shift: Array, moved: Array, row: int
) -> None:
    """Write triangle i, turned and shifted, into moved[row]."""
    for k in range(3):
        x, y, z = triangles[i, 3 * k], triangles[i, 3 * k + 1], triangles[i, 3 * k + 2]
        for c in range(3):
            moved[row, 3 * k + c] = turn[c, 0] * x + turn[c, 1] * y + turn[c, 2] * z + shift[c]


@kernel
def move_box(boxes: Singles, node: int, turn: Array, shift: Array, moved: Array) -> None:
    """Write the box around a turned and shifted box into moved[node].

    Centre and half sides of the turned box along each axis are R c and |R| h.
    """
    cx, hx = 0.5 * (boxes[node, 3] + boxes[node, 0]), 0.5 * (boxes[node, 3] - boxes[node, 0])
    cy, hy = 0.5 * (boxes[node, 4] + boxes[node, 1]), 0.5 * (boxes[node, 4] - boxes[node, 1])
    cz, hz = 0.5 * (boxes[node, 5] + boxes[node, 2]), 0.5 * (boxes[node, 5] - boxes[node, 2])
    for c in range(3):
        centre = turn[c, 0] * cx + turn[c, 1] * cy + turn[c, 2] * cz + shift[c]
        half = abs(turn[c, 0]) * hx + abs(turn[c, 1]) * hy + abs(turn[c, 2]) * hz
        moved[node, c] = centre - half
        moved[node, 3 + c] = centre + half


@kernel
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


@kernel
def box_size(boxes: Array | Singles, a: int) -> float:
    """Longest side of a box."""
    x, y, z = boxes[a, 3] - boxes[a, 0], boxes[a, 4] - boxes[a, 1], boxes[a, 5] - boxes[a, 2]
    longest: float = max(x, y, z)
    return longest


@kernel
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


@kernel
def cut_at(least: float, eps: float) -> float:
    """Squared bound from which a pair cannot lower the least by more than eps."""
    edge = least - eps
    return edge * edge if edge > 0.0 else 0.0
