"""Whether a body lies inside a closed one without touching its surface."""

# A kernel takes rows and scalars: records of them would be copied in the inner loop.

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps.body import Body
from towerlift.gaps.cache import kernel
from towerlift.gaps.tree import TreeArrays

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

OUTSIDE, INSIDE, UNKNOWN = 0, 1, -1
# A count of turns that no crossings add up to.
IGNORED = -(1 << 40)

# A ray that passes an edge nearer than this share of a face, or a face more
# slantwise than this, is not trusted; another direction is tried.
DOUBTFUL = 1e-9
RAYS = np.array(
    [
        [0.2672612419, 0.5345224838, 0.8017837257],
        [-0.7427813527, 0.3713906764, 0.5570860145],
        [0.4082482905, -0.8164965809, 0.4082482905],
        [0.6488856845, 0.3244428423, -0.6882472016],
        [-0.3713906764, -0.5570860145, 0.7427813527],
        [-0.8728715609, -0.2182178902, -0.4364357805],
        [0.1301889110, 0.9113223769, -0.3905667329],
        [0.9113223769, -0.1301889110, 0.3905667329],
    ]
)


@kernel
def _ray_meets_box(tree: TreeArrays, node: int, start: Array, ray: Array) -> bool:
    near, far = 0.0, np.inf
    for c in range(3):
        if ray[c] == 0.0:
            if start[c] < tree.boxes[node, c] or start[c] > tree.boxes[node, 3 + c]:
                return False
            continue
        p = (tree.boxes[node, c] - start[c]) / ray[c]
        q = (tree.boxes[node, 3 + c] - start[c]) / ray[c]
        near, far = max(near, min(p, q)), min(far, max(p, q))
    return far >= near


@kernel
def _crossing(tree: TreeArrays, j: int, start: Array, ray: Array) -> int:
    """1 or -1 if the ray leaves or enters through piece j, 0 if not, 2 in doubt.

    The three values are the areas of the triangles that the ray's foot makes
    with the sides, as shares of the whole (Cramer's rule).
    """
    t = tree.triangles[j]
    ux, uy, uz = t[3] - t[0], t[4] - t[1], t[5] - t[2]
    vx, vy, vz = t[6] - t[0], t[7] - t[1], t[8] - t[2]
    nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    det = nx * ray[0] + ny * ray[1] + nz * ray[2]
    wx, wy, wz = start[0] - t[0], start[1] - t[1], start[2] - t[2]
    size = np.sqrt(nx * nx + ny * ny + nz * nz)
    if not abs(det) > DOUBTFUL * size:
        # Along the face: harmless unless the ray runs in its plane.
        off = abs(nx * wx + ny * wy + nz * wz)
        return 0 if off > 1e-6 * size and size > 0.0 else 2
    cx, cy, cz = wy * ray[2] - wz * ray[1], wz * ray[0] - wx * ray[2], wx * ray[1] - wy * ray[0]
    first = -(vx * cx + vy * cy + vz * cz) / det
    second = (ux * cx + uy * cy + uz * cz) / det
    third = 1.0 - first - second
    along = -(nx * wx + ny * wy + nz * wz) / det
    least = min(first, second, third)
    if least < -DOUBTFUL or along < -DOUBTFUL:
        return 0
    if least < DOUBTFUL or along < DOUBTFUL:
        return 2
    return 1 if det > 0.0 else -1


@kernel
def _turns_around(
    tree: TreeArrays,
    start: Array,
    ray: Array,
    stack: NDArray[np.int32],
    turns: NDArray[np.int64],
) -> bool:
    """Count, for every member, how many times it wraps around `start`.

    Each crossing outward adds one and each inward takes one away. A member whose
    count is `IGNORED` is passed over: `start` may lie on the face of one that it
    is meant to touch. Returns False if any other crossing is in doubt, or the
    stack is too short.
    """
    for m in range(turns.size):
        if turns[m] != IGNORED:
            turns[m] = 0
    stack[0] = 0
    top = 1
    while top > 0:
        top -= 1
        node = stack[top]
        if not _ray_meets_box(tree, node, start, ray):
            continue
        if tree.child[node] > 0:
            if top + 2 > stack.size:
                return False
            stack[top], stack[top + 1] = tree.child[node], tree.child[node] + 1
            top += 2
            continue
        for j in range(tree.first[node], tree.first[node] + tree.size[node]):
            if turns[tree.members[j]] == IGNORED:
                continue
            passed = _crossing(tree, j, start, ray)
            if passed == 2:
                return False
            turns[tree.members[j]] += passed
    return True


def _surrounding(body: Body, point: Array, ignored: NDArray[np.bool_]) -> Ints | None:
    """Ranks of the members that `point`, in the box frame, lies inside."""
    turns = np.where(ignored, IGNORED, 0).astype(np.int64)
    stack = np.empty(256, np.int32)
    box = body.tree.boxes[0]
    if (point < box[:3]).any() or (point > box[3:]).any():
        return np.empty(0, np.int64)
    for ray in RAYS:
        if _turns_around(body.tree, point, ray, stack, turns):
            return np.flatnonzero((turns != 0) & (turns != IGNORED))
    return None


def _shells_within(inner: Body, outer: Body, pose: Array) -> tuple[Ints, Array]:
    """Rank of the member, and a corner, of every shell that the other's box may hold.

    A corner outside the box lies inside nothing: most are, and to ask each is slow.
    """
    points = inner.vertices[inner.shells] @ pose[:3, :3].T + (pose[:3, 3] - outer.centre)
    points = points @ outer.frame
    box = outer.tree.boxes[0]
    # Written so that a corner that is no number is asked, and not left out.
    within = ~((points < box[:3]) | (points > box[3:])).any(axis=1)
    own = np.searchsorted(inner.member_ids, inner.shell_members)
    return own[within], points[within]


def _mark(inner: Body, outer: Body, pose: Array, skip: Ints, states: Ints) -> None:
    """Mark members of `inner` with a shell in `outer`; `pose` is outer from inner."""
    own, points = _shells_within(inner, outer, pose)
    ranks = np.arange(len(outer.member_ids))
    for rank, point in zip(own, points, strict=True):
        around = _surrounding(outer, point, np.isin((rank << 32) + ranks, skip))
        if around is None:
            states[rank] = INSIDE if states[rank] == INSIDE else UNKNOWN
        elif len(around):
            states[rank] = INSIDE


def _mark_around(inner: Body, outer: Body, pose: Array, skip: Ints, states: Ints) -> None:
    """Mark members of `outer` with a shell of `inner` in them."""
    own, points = _shells_within(inner, outer, pose)
    ranks = np.arange(len(outer.member_ids))
    for rank, point in zip(own, points, strict=True):
        around = _surrounding(outer, point, np.isin((ranks << 32) + rank, skip))
        if around is None:
            states[states == OUTSIDE] = UNKNOWN
        else:
            states[around] = INSIDE


def _inverse(pose: Array) -> Array:
    back = np.eye(4)
    back[:3, :3] = pose[:3, :3].T
    back[:3, 3] = -pose[:3, :3].T @ pose[:3, 3]
    return back


def enclosed_members(moving: Body, fixed: Body, pose: Array, skip: Ints) -> Ints:
    """Which moving members lie wholly inside a closed fixed one, or hold one.

    Parameters
    ----------
    moving, fixed : Body
        The bodies; their surfaces must not cross.
    pose : (4, 4) float
        ``fixed_from_moving``. [m]
    skip : (p,) int
        Pairs of members left out.

    Returns
    -------
    states : (k,) int
        For each of ``moving.member_ids``: `OUTSIDE`, `INSIDE` or, if it could
        not be told, `UNKNOWN`.

    Notes
    -----
    As the surfaces do not cross, each connected shell is inside or outside as a
    whole, so one corner of each is enough.
    """
    states = np.full(len(moving.member_ids), OUTSIDE)
    if fixed.closed:
        _mark(moving, fixed, pose, skip, states)
    if moving.closed:
        _mark_around(fixed, moving, _inverse(pose), skip, states)
    return states


def enclosed(moving: Body, fixed: Body, pose: Array, skip: Ints) -> bool | None:
    """Whether part of one body lies wholly inside a closed other one.

    Parameters
    ----------
    moving, fixed : Body
        The bodies; their surfaces must not cross.
    pose : (4, 4) float
        ``fixed_from_moving``. [m]
    skip : (p,) int
        Pairs of members left out.

    Returns
    -------
    inside : bool or None
        None if it could not be told.
    """
    if not (fixed.closed or moving.closed):
        return False
    states = enclosed_members(moving, fixed, pose, skip)
    if (states == INSIDE).any():
        return True
    return None if (states == UNKNOWN).any() else False
