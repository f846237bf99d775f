"""Least distance over a whole path for every member of the moving body."""

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from towerlift.gaps.body import Body
from towerlift.gaps.inside import INSIDE, OUTSIDE, enclosed_members
from towerlift.gaps.minimum import PathGap, Question, ask, search, seed, settled
from towerlift.gaps.path import Path
from towerlift.gaps.pose import Part
from towerlift.gaps.sweep import DEFAULT_WORKERS
from towerlift.gaps.tree import build_tree

Ints = NDArray[np.int64]

MEMBER_EPS = 1e-3
MEMBER_SEEDS = 5
WHOLE_PATH = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberGaps:
    """Least distance over a whole path for every moving member.

    Attributes
    ----------
    members : tuple of int
        The moving members, in rising order.
    gaps : tuple of PathGap or None
        Least distance of each to anything fixed; None for a member whose every
        pair is left out.
    """

    members: tuple[int, ...]
    gaps: tuple[PathGap | None, ...]

    def of(self, member: int) -> PathGap | None:
        """Least distance of one member.

        Parameters
        ----------
        member : int
            The moving member.

        Returns
        -------
        gap : PathGap or None
            None if its every pair is left out.

        Raises
        ------
        KeyError
            If there is no such member.
        """
        if member not in self.members:
            raise KeyError(f"no moving member {member}")
        return self.gaps[self.members.index(member)]

    @property
    def worst(self) -> int:
        """Moving member with the least distance."""
        uppers = [math.inf if gap is None else gap.upper for gap in self.gaps]
        return self.members[int(np.argmin(uppers))]


def grouped_parts(body: Body, groups: Ints) -> list[Part]:
    """Split a body into parts with a tree each.

    Parameters
    ----------
    body : Body
        The body.
    groups : (p,) int
        Group of each of the body's pieces, 0 to g - 1, none empty.

    Returns
    -------
    parts : list of Part
        One for each group.
    """
    pieces = body.tree.triangles
    corners = np.ascontiguousarray(pieces.reshape(-1, 3))
    rows = np.arange(len(corners)).reshape(-1, 3)
    tree, order = build_tree(corners, rows, body.tree.members, groups.astype(np.int32))
    sources = body.sources[order]
    return [Part(tree=tree, sources=sources, root=g) for g in range(int(groups.max()) + 1)]


def member_gaps(  # noqa: PLR0913
    moving: Body,
    fixed: Body,
    path: Path,
    *,
    eps: float = MEMBER_EPS,
    skip_pairs: ArrayLike | None = None,
    workers: int = DEFAULT_WORKERS,
) -> MemberGaps:
    """Least distance over a whole path for every member of the moving body.

    Parameters
    ----------
    moving, fixed : Body
        The bodies.
    path : Path
        Path of the moving body.
    eps : float, optional
        Most by which any ``upper`` may exceed the true least. [m]
    skip_pairs : (p, 2) int or None, optional
        Members (moving, fixed) that are meant to touch and are left out.
    workers : int, optional
        Threads.

    Returns
    -------
    gaps : MemberGaps
        One certified least distance for each moving member, with the fixed
        member, the place and the station at which it occurs.

    Raises
    ------
    ValueError
        If `eps` is out of range or `skip_pairs` names a member that is not
        there.
    """
    question = ask(moving, fixed, path, (eps, skip_pairs))
    parts = grouped_parts(moving, moving.tree.members.astype(np.int64))
    inside = enclosed_members(moving, fixed, path.poses[0], question.skip)
    n_fixed = len(fixed.member_ids)
    kept = np.bincount(question.skip >> 32, minlength=len(parts)) < n_fixed

    def measure(rank: int) -> PathGap | None:
        if not kept[rank]:
            return None
        state = None if inside[rank] not in (INSIDE, OUTSIDE) else bool(inside[rank] == INSIDE)
        return _measure(question, parts[rank], state)

    with ThreadPoolExecutor(max(1, workers)) as pool:
        gaps = tuple(pool.map(measure, range(len(parts))))
    return MemberGaps(members=tuple(int(m) for m in moving.member_ids), gaps=gaps)


def _measure(question: Question, part: Part, inside: bool | None) -> PathGap:
    start = seed(question, part, MEMBER_SEEDS)
    found = search(question, part, [WHOLE_PATH], (1, start))
    return settled(question, part, found, inside)
