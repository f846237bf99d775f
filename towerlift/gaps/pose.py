"""Signed distance between two bodies at one pose."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from towerlift.gaps.body import Body, piece_count_bound
from towerlift.gaps.inside import enclosed
from towerlift.gaps.nearest import CONTACT, deepest_crossing, nearest_pair
from towerlift.gaps.path import as_pose, relative_frames
from towerlift.gaps.skip import no_answer, skip_keys
from towerlift.gaps.tree import TreeArrays

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Point = tuple[float, float, float]


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
    moving: Body,
    fixed: Body,
    pose: Array,
    skip: Ints,
    *,
    parts: tuple[Part, Part] | None = None,
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
    parts : tuple of Part or None, optional
        Parts of the moving and the fixed body that are looked at; None for all.

    Returns
    -------
    crossing : PoseGap or None
        The deepest crossing; None if no two faces cross.
    """
    mine, theirs = parts or (whole(moving), whole(fixed))
    turns, shifts, _ = relative_frames(moving, fixed, pose[None])
    pair, places = np.array([-1, -1]), np.zeros(9)
    depth = deepest_crossing(
        mine.tree,
        theirs.tree,
        turns,
        shifts,
        (mine.root, theirs.root),
        2 * (piece_count_bound(moving) + piece_count_bound(fixed)),
        skip,
        (face_corners(moving), face_corners(fixed)),
        (mine.sources, theirs.sources),
        pair,
        places,
    )
    if pair[0] < 0:
        return None
    i, j = int(mine.sources[pair[0]]), int(theirs.sources[pair[1]])
    return _answer(moving, fixed, -depth, ((i, j), pair, places), certified=depth >= 0)


def _answer(
    moving: Body,
    fixed: Body,
    value: float,
    found: tuple[tuple[int, int], Ints, Array],
    *,
    certified: bool,
) -> PoseGap:
    (i, j), pair, places = found
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
    gap2 = nearest_pair(
        moving.tree, fixed.tree, turns, shifts, (0, 0), entries, skip, pair, places
    )
    if pair[0] < 0:
        raise no_answer(moving, fixed, proved=gap2 >= 0.0)
    faces = (int(moving.sources[pair[0]]), int(fixed.sources[pair[1]]))
    raw = (faces, pair, places)
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
