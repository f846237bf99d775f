"""Least distance between two bodies at one pose, and how deep they cross."""

# ruff: noqa: PLR0912, PLR0913, PLR0915, PLR0917
# A kernel takes rows and scalars: records of them would be copied in the inner loop.

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from towerlift.gaps.body import Body, piece_count_bound
from towerlift.gaps.cache import kernel
from towerlift.gaps.inside import enclosed
from towerlift.gaps.path import as_pose, relative_frames
from towerlift.gaps.search import (
    box_gap2,
    box_size,
    is_skipped,
    move_box,
    move_triangle,
    slab_gap,
    triangle_boxes_gap2,
    wall_gap,
)
from towerlift.gaps.skip import no_answer, skip_keys
from towerlift.gaps.tree import WALL_SIZE, TreeArrays
from towerlift.gaps.triangles import triangle_depth, triangle_gap2

Array = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
Point = tuple[float, float, float]

# Bodies nearer than this are tried for crossing: an edge that runs exactly
# through an edge of the other shows a distance of a rounding error, not zero.
CONTACT = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class PoseGap:
    """Signed distance between two bodies at one pose.

    Attributes
    ----------
    value : float
        Exact least distance if the bodies are apart. If they cross, minus the
        length of the least shift that parts the worst pair of crossing faces;
        if one lies wholly inside the other, minus the distance between their
        surfaces. No shorter shift frees the body, so the depth is at least
        this; it may be more. [m]
    moving_point, fixed_point : tuple of float
        Where: the nearest points, or a point of the crossing. Fixed frame. [m]
    moving_triangle, fixed_triangle : int
        Faces they lie on.
    moving_member, fixed_member : int
        Members they belong to.
    certified : bool
        False if the search could not be completed; the value is then only an
        upper bound.
    pieces : tuple of int
        Where the search may start next time.
    """

    value: float
    moving_point: Point
    fixed_point: Point
    moving_triangle: int
    fixed_triangle: int
    moving_member: int
    fixed_member: int
    certified: bool
    pieces: tuple[int, int]

    @property
    def struck(self) -> bool:
        """Whether the bodies touch or cross."""
        return not self.value > 0


@kernel
def nearest_pair(
    moving: TreeArrays,
    fixed: TreeArrays,
    turns: Array,
    shifts: Array,
    root: int,
    entries: int,
    skip: Ints,
    pair: Ints,
    places: Array,
) -> float:
    """Squared least distance at one pose, below node `root` of the moving tree.

    Exact: a pair of nodes is left aside only if the distance of boxes that hold
    them is no less than a distance already attained. `pair` holds a first guess
    (or -1) and receives the nearest pieces, -1 if there are none. `places`
    receives the nearest points. Returns -1 if the stack was too short; nothing
    is then proved.
    """
    boxes = np.empty((moving.child.size, 6))
    triangles = np.empty((moving.triangles.shape[0], 9))
    known = np.zeros(moving.child.size, np.bool_)
    stack, bounds = np.empty((entries, 2), np.int32), np.empty(entries)
    n_fixed = np.int64(1) << 32
    least2 = math.inf
    if pair[0] >= 0:
        move_triangle(moving.triangles, pair[0], turns, shifts, 0, triangles, pair[0])
        least2 = triangle_gap2(triangles, pair[0], fixed.triangles, pair[1], math.inf, places)
    move_box(moving.boxes, root, turns, shifts, 0, boxes, root)
    stack[0, 0], stack[0, 1], bounds[0] = root, 0, 0.0
    top = 1
    while top > 0:
        top -= 1
        if bounds[top] >= least2:
            continue
        a, b = stack[top, 0], stack[top, 1]
        left_a, left_b = moving.child[a], fixed.child[b]
        if left_a == 0 and left_b == 0:
            low, high = moving.first[a], moving.first[a] + moving.size[a]
            if not known[a]:
                known[a] = True
                for i in range(low, high):
                    move_triangle(moving.triangles, i, turns, shifts, 0, triangles, i)
            for j in range(fixed.first[b], fixed.first[b] + fixed.size[b]):
                slab = wall_gap(
                    moving.boxes, moving.walls, a, turns, shifts, 0, fixed.planes, j
                )
                if slab > 0.0 and slab * slab >= least2:
                    continue
                for i in range(low, high):
                    slab = slab_gap(triangles, i, fixed.planes, j)
                    if slab > 0.0 and slab * slab >= least2:
                        continue
                    if triangle_boxes_gap2(triangles, i, fixed.triangles, j) >= least2:
                        continue
                    if skip.size and is_skipped(
                        skip, moving.members[i] * n_fixed + fixed.members[j]
                    ):
                        continue
                    gap2 = triangle_gap2(triangles, i, fixed.triangles, j, least2, places)
                    if gap2 < least2:
                        least2 = gap2
                        pair[0], pair[1] = i, j
            continue
        if top + 2 > entries:
            return -1.0
        if left_b == 0 or (left_a > 0 and box_size(boxes, a) >= box_size(fixed.boxes, b)):
            if not known[a]:
                known[a] = True
                move_box(moving.boxes, left_a, turns, shifts, 0, boxes, left_a)
                move_box(moving.boxes, left_a + 1, turns, shifts, 0, boxes, left_a + 1)
            a0, a1, b0, b1 = left_a, left_a + 1, b, b
        else:
            a0, a1, b0, b1 = a, a, left_b, left_b + 1
        near, far = box_gap2(boxes, a0, fixed.boxes, b0), box_gap2(boxes, a1, fixed.boxes, b1)
        if far < near:
            a0, a1, b0, b1, near, far = a1, a0, b1, b0, far, near
        # The nearer child goes on top, to bring the least down early.
        if far < least2 and fixed.size[b1] <= WALL_SIZE:
            slab = wall_gap(moving.boxes, moving.walls, a1, turns, shifts, 0, fixed.walls, b1)
            if slab > 0.0 and slab * slab >= least2:
                far = math.inf
        if far < least2:
            stack[top, 0], stack[top, 1], bounds[top] = a1, b1, far
            top += 1
        if near < least2 and fixed.size[b0] <= WALL_SIZE:
            slab = wall_gap(moving.boxes, moving.walls, a0, turns, shifts, 0, fixed.walls, b0)
            if slab > 0.0 and slab * slab >= least2:
                near = math.inf
        if near < least2:
            stack[top, 0], stack[top, 1], bounds[top] = a0, b0, near
            top += 1
    return least2


@kernel
def deepest_crossing(
    moving: TreeArrays,
    fixed: TreeArrays,
    turns: Array,
    shifts: Array,
    root: int,
    entries: int,
    skip: Ints,
    faces: tuple[Array, Array],
    sources: tuple[NDArray[np.int32], NDArray[np.int32]],
    pair: Ints,
    places: Array,
) -> float:
    """Deepest pair of crossing faces at one pose, below node `root`; 0 if none cross.

    Pieces find the crossings and whole faces measure them, so that cutting the
    faces does not make a crossing look shallower. `faces` are the corners of
    both bodies' faces in their box frames. Returns -1 if the stack was short.
    """
    stack = np.empty((entries, 2), np.int32)
    box, corner, whole = np.empty((1, 6)), np.empty((1, 9)), np.empty((1, 9))
    trial = np.empty(9)
    n_fixed = np.int64(1) << 32
    deepest = 0.0
    stack[0, 0], stack[0, 1] = root, 0
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


def face_corners(body: Body) -> Array:
    """Corners of every whole face in the body's box frame, (m, 9).

    Parameters
    ----------
    body : Body
        The body.

    Returns
    -------
    corners : (m, 9) float
        In the order of `Body.faces`. [m]
    """
    local = (body.vertices - body.centre) @ body.frame
    return np.ascontiguousarray(local[body.faces].reshape(-1, 9))


def point_out(fixed: Body, place: Array) -> Point:
    """Turn a point of the fixed body's box frame into its own frame.

    Parameters
    ----------
    fixed : Body
        The fixed body.
    place : (3,) float
        In its box frame. [m]

    Returns
    -------
    point : tuple of float
        In its own frame. [m]
    """
    x, y, z = (fixed.frame @ place + fixed.centre).tolist()
    return x, y, z


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """A node of a tree over a body, and all below it.

    Attributes
    ----------
    tree : TreeArrays
        The tree.
    sources : (p,) int32
        Face of the body that each piece of the tree is cut from.
    root : int
        The node.
    """

    tree: TreeArrays
    sources: NDArray[np.int32]
    root: int


def whole(body: Body) -> Part:
    """All of a body.

    Parameters
    ----------
    body : Body
        The body.

    Returns
    -------
    part : Part
        Its own tree from the top.
    """
    return Part(tree=body.tree, sources=body.sources, root=0)


def crossing_at(
    moving: Body, fixed: Body, pose: Array, skip: Ints, *, part: Part | None = None
) -> PoseGap | None:
    """How deep two bodies cross at a pose.

    Parameters
    ----------
    moving, fixed : Body
        The bodies.
    pose : (4, 4) float
        ``fixed_from_moving``. [m]
    skip : (p,) int
        Pairs of members left out, from `skip_keys`.
    part : Part or None, optional
        Part of the moving body that is looked at; None for all of it.

    Returns
    -------
    crossing : PoseGap or None
        The deepest crossing; None if no two faces cross.
    """
    looked_at = part or whole(moving)
    turns, shifts, _ = relative_frames(moving, fixed, pose[None])
    pair, places = np.array([-1, -1]), np.zeros(9)
    depth = deepest_crossing(
        looked_at.tree,
        fixed.tree,
        turns,
        shifts,
        looked_at.root,
        2 * (piece_count_bound(moving) + piece_count_bound(fixed)),
        skip,
        (face_corners(moving), face_corners(fixed)),
        (looked_at.sources, fixed.sources),
        pair,
        places,
    )
    if pair[0] < 0:
        return None
    found = (looked_at.sources, pair, places)
    return _answer(moving, fixed, -depth, found, certified=depth >= 0)


def _answer(
    moving: Body,
    fixed: Body,
    value: float,
    found: tuple[NDArray[np.int32], Ints, Array],
    *,
    certified: bool,
) -> PoseGap:
    sources, pair, places = found
    i, j = int(sources[pair[0]]), int(fixed.sources[pair[1]])
    return PoseGap(
        value=value,
        moving_point=point_out(fixed, places[:3]),
        fixed_point=point_out(fixed, places[3:6]),
        moving_triangle=i,
        fixed_triangle=j,
        moving_member=int(moving.members[i]),
        fixed_member=int(fixed.members[j]),
        certified=certified,
        pieces=(int(pair[0]), int(pair[1])),
    )


def pose_gap(
    moving: Body,
    fixed: Body,
    pose: ArrayLike,
    *,
    guess: PoseGap | None = None,
    skip_pairs: ArrayLike | None = None,
) -> PoseGap:
    """Signed distance between two bodies at one pose.

    Parameters
    ----------
    moving, fixed : Body
        The bodies.
    pose : (4, 4) float
        ``fixed_from_moving``, rigid. [m]
    guess : PoseGap or None, optional
        Answer at a pose nearby, for the same two bodies: changes the speed and
        nothing else.
    skip_pairs : (p, 2) int or None, optional
        Members (moving, fixed) that are meant to touch and are left out.

    Returns
    -------
    gap : PoseGap
        The distance, or minus the depth.

    Raises
    ------
    ValueError
        If the pose is not rigid, `skip_pairs` names a member that is not
        there, or nothing is left to measure.
    """
    checked = as_pose(pose)
    skip = skip_keys(moving, fixed, skip_pairs)
    turns, shifts, _ = relative_frames(moving, fixed, checked[None])
    pair, places = np.array([-1, -1]), np.zeros(9)
    if guess is not None and _may_start(moving, fixed, guess, skip):
        pair[:] = guess.pieces
    entries = piece_count_bound(moving) + piece_count_bound(fixed)
    gap2 = nearest_pair(moving.tree, fixed.tree, turns, shifts, 0, entries, skip, pair, places)
    if pair[0] < 0:
        raise no_answer(moving, fixed, proved=gap2 >= 0.0)
    raw = (moving.sources, pair, places)
    value = math.sqrt(gap2) if gap2 >= 0.0 else float(np.linalg.norm(places[:3] - places[3:6]))
    found = _answer(moving, fixed, value, raw, certified=gap2 >= 0.0)
    if found.value <= CONTACT:
        return crossing_at(moving, fixed, checked, skip) or found
    inside = enclosed(moving, fixed, checked, skip)
    if inside is False:
        return found
    value = -value if inside else value
    certified = found.certified and inside is True
    return _answer(moving, fixed, value, raw, certified=certified)


def _may_start(moving: Body, fixed: Body, guess: PoseGap, skip: Ints) -> bool:
    i, j = guess.pieces
    if not (0 <= i < len(moving.sources) and 0 <= j < len(fixed.sources)):
        return False
    key = (int(moving.tree.members[i]) << 32) + int(fixed.tree.members[j])
    return key not in skip
