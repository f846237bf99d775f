"""The search for the nearest pieces of two bodies, and the deepest crossing."""

# ruff: noqa: PLR0912, PLR0913, PLR0915, PLR0917
# A kernel takes rows and scalars: records of them would be copied in the inner loop.

import math

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps.cache import kernel
from towerlift.gaps.search import (
    axes_apart,
    box_gap2,
    box_size,
    faces_off,
    is_skipped,
    level_share,
    move_box,
    move_triangle,
    piece_faces_off,
    rings_off,
    slab_gap,
    triangle_boxes_gap2,
    wall_gap,
)
from towerlift.gaps.tree import TreeArrays
from towerlift.gaps.triangles import triangle_depth, triangle_gap2

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

# Bodies nearer than this are tried for crossing: an edge that runs exactly
# through an edge of the other shows a distance of a rounding error, not zero.
CONTACT = 1e-9


@kernel
def nearest_pair(
    moving: TreeArrays,
    fixed: TreeArrays,
    turns: Array,
    shifts: Array,
    roots: tuple[int, int],
    entries: int,
    skip: Ints,
    pair: Ints,
    places: Array,
) -> float:
    """Squared least distance at one pose, below nodes `roots` of the two trees.

    Exact: a pair of nodes is left aside only if the distance of boxes that hold
    them is no less than a distance already attained. `pair` holds a first guess
    (or -1) and receives the nearest pieces, -1 if there are none. `places`
    receives the nearest points. Returns -1 if the stack was too short; nothing
    is then proved.
    """
    # Named once, as a tuple taken apart in the innermost steps costs more than they do.
    boxes_a, walls_a, radii_a, size_a = moving.boxes, moving.walls, moving.radii, moving.size
    boxes_b, walls_b, radii_b, size_b = fixed.boxes, fixed.walls, fixed.radii, fixed.size
    child_a, first_a, bulks_a = moving.child, moving.first, moving.bulk
    child_b, first_b, bulks_b = fixed.child, fixed.first, fixed.bulk
    pieces_a, pieces_b, planes_a, planes_b = (
        moving.triangles,
        fixed.triangles,
        moving.planes,
        fixed.planes,
    )
    boxes = np.empty((child_a.size, 6))
    triangles = np.empty((pieces_a.shape[0], 9))
    known = np.zeros(child_a.size, np.bool_)
    stack, bounds = np.empty((entries, 2), np.int32), np.empty(entries)
    n_fixed = np.int64(1) << 32
    least2 = math.inf
    if pair[0] >= 0:
        move_triangle(pieces_a, pair[0], turns, shifts, 0, triangles, pair[0])
        least2 = triangle_gap2(triangles, pair[0], pieces_b, pair[1], math.inf, places)
    apart = axes_apart(moving, roots[0], fixed, turns, shifts, 0)
    level = level_share(fixed)
    move_box(boxes_a, roots[0], turns, shifts, 0, boxes, roots[0])
    stack[0, 0], stack[0, 1], bounds[0] = roots[0], roots[1], 0.0
    top = 1
    while top > 0:
        top -= 1
        if bounds[top] >= least2:
            continue
        a, b = stack[top, 0], stack[top, 1]
        bulk_a, bulk_b = bulks_a[a], bulks_b[b]
        if bulk_a < 0.0 and bulk_b < 0.0:
            low, high = first_a[a], first_a[a] + size_a[a]
            if not known[a]:
                known[a] = True
                for i in range(low, high):
                    move_triangle(pieces_a, i, turns, shifts, 0, triangles, i)
            for j in range(first_b[b], first_b[b] + size_b[b]):
                slab = wall_gap(boxes_a, walls_a, a, turns, shifts, 0, 0, 0.0, planes_b, j)
                if slab > 0.0 and slab * slab >= least2:
                    continue
                for i in range(low, high):
                    slab = slab_gap(triangles, i, planes_b, j)
                    if slab > 0.0 and slab * slab >= least2:
                        continue
                    if triangle_boxes_gap2(triangles, i, pieces_b, j) >= least2:
                        continue
                    if piece_faces_off(
                        planes_a,
                        i,
                        turns,
                        shifts,
                        0,
                        0,
                        0.0,
                        pieces_b,
                        j,
                        least2,
                    ):
                        continue
                    if skip.size and is_skipped(
                        skip, moving.members[i] * n_fixed + fixed.members[j]
                    ):
                        continue
                    gap2 = triangle_gap2(triangles, i, pieces_b, j, least2, places)
                    if gap2 < least2:
                        least2 = gap2
                        pair[0], pair[1] = i, j
            continue
        if top + 2 > entries:
            return -1.0
        a0, a1, b0, b1 = a, a, b, b
        if bulk_a >= bulk_b:
            a0 = child_a[a]
            a1 = a0 + 1
            if not known[a]:
                known[a] = True
                move_box(boxes_a, a0, turns, shifts, 0, boxes, a0)
                move_box(boxes_a, a1, turns, shifts, 0, boxes, a1)
        else:
            b0 = child_b[b]
            b1 = b0 + 1
        near, far = box_gap2(boxes, a0, boxes_b, b0), box_gap2(boxes, a1, boxes_b, b1)
        if far < near:
            a0, a1, b0, b1, near, far = a1, a0, b1, b0, far, near
        # The nearer child goes on top, to bring the least down early.
        if (
            far < least2
            and not rings_off(radii_a, a1, radii_b, b1, apart, level, least2)
            and not faces_off(
                boxes_a,
                walls_a,
                size_a,
                a1,
                turns,
                shifts,
                0,
                0,
                0.0,
                boxes_b,
                walls_b,
                size_b,
                b1,
                least2,
            )
        ):
            stack[top, 0], stack[top, 1], bounds[top] = a1, b1, far
            top += 1
        if (
            near < least2
            and not rings_off(radii_a, a0, radii_b, b0, apart, level, least2)
            and not faces_off(
                boxes_a,
                walls_a,
                size_a,
                a0,
                turns,
                shifts,
                0,
                0,
                0.0,
                boxes_b,
                walls_b,
                size_b,
                b0,
                least2,
            )
        ):
            stack[top, 0], stack[top, 1], bounds[top] = a0, b0, near
            top += 1
    return least2


@kernel
def deepest_crossing(
    moving: TreeArrays,
    fixed: TreeArrays,
    turns: Array,
    shifts: Array,
    roots: tuple[int, int],
    entries: int,
    skip: Ints,
    faces: tuple[Array, Array],
    sources: tuple[NDArray[np.int32], NDArray[np.int32]],
    pair: Ints,
    places: Array,
) -> float:
    """Deepest pair of crossing faces at one pose, below `roots`; 0 if none cross.

    Pieces find the crossings and whole faces measure them, so that cutting the
    faces does not make a crossing look shallower. `faces` are the corners of
    both bodies' faces in their box frames. Returns -1 if the stack was short.
    """
    stack = np.empty((entries, 2), np.int32)
    box, corner, whole = np.empty((1, 6)), np.empty((1, 9)), np.empty((1, 9))
    trial = np.empty(9)
    n_fixed = np.int64(1) << 32
    deepest = 0.0
    stack[0, 0], stack[0, 1] = roots[0], roots[1]
    top = 1
    while top > 0:
        top -= 1
        a, b = stack[top, 0], stack[top, 1]
        move_box(moving.boxes, a, turns, shifts, 0, box, 0)
        if box_gap2(box, 0, fixed.boxes, b) > 0.0:
            continue
        if top + 2 > entries:
            return -1.0
        if moving.child[a] > 0 and (
            fixed.child[b] == 0 or box_size(box, 0) >= box_size(fixed.boxes, b)
        ):
            for side in range(2):
                stack[top, 0], stack[top, 1] = moving.child[a] + side, b
                top += 1
            continue
        if fixed.child[b] > 0:
            for side in range(2):
                stack[top, 0], stack[top, 1] = a, fixed.child[b] + side
                top += 1
            continue
        for i in range(moving.first[a], moving.first[a] + moving.size[a]):
            move_triangle(moving.triangles, i, turns, shifts, 0, corner, 0)
            for j in range(fixed.first[b], fixed.first[b] + fixed.size[b]):
                if slab_gap(corner, 0, fixed.planes, j) > 0.0:
                    continue
                if skip.size and is_skipped(
                    skip, moving.members[i] * n_fixed + fixed.members[j]
                ):
                    continue
                if triangle_gap2(corner, 0, fixed.triangles, j, CONTACT * CONTACT, trial) > 1.0:
                    continue
                move_triangle(faces[0], sources[0][i], turns, shifts, 0, whole, 0)
                depth = triangle_depth(whole, 0, faces[1], sources[1][j])
                if depth > deepest:
                    deepest = depth
                    pair[0], pair[1] = i, j
                    places[:6] = trial[:6]
    return deepest
