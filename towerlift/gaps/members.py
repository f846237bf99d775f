"""Least distance over a whole path for every member of the moving body."""

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from towerlift.gaps.body import Body
from towerlift.gaps.inside import INSIDE, OUTSIDE, enclosed_members
from towerlift.gaps.minimum import PathGap, Question, Sides, ask, search, seed, settled
from towerlift.gaps.path import Path
from towerlift.gaps.pose import Part, whole
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

    def gain_without(self, member: int) -> float:
        """How much the least distance would grow if one member were pared away.

        The price of a protrusion: nothing unless the member is the worst.

        Parameters
        ----------
        member : int
            The moving member.

        Returns
        -------
        gain : float
            Least distance of the others less that of all; infinite if there are
            no others. [m]
        """
        gap = self.of(member)
        others = [
            other.upper
            for name, other in zip(self.members, self.gaps, strict=True)
            if other is not None and name != member
        ]
        if gap is None:
            return 0.0
        return max(0.0, min(others, default=math.inf) - gap.upper)

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
        return measure_part(question, (parts[rank], whole(fixed)), state)

    with ThreadPoolExecutor(max(1, workers)) as pool:
        gaps = tuple(pool.map(measure, range(len(parts))))
    return MemberGaps(members=tuple(int(m) for m in moving.member_ids), gaps=gaps)


def measure_part(question: Question, sides: Sides, inside: bool | None) -> PathGap:
    """Least distance of one part from another over the whole path.

    Parameters
    ----------
    question : Question
        Bodies, path and tolerance.
    sides : tuple of Part
        The parts of the moving and of the fixed body.
    inside : bool or None
        Whether the moving part is enclosed; None if that is not known.

    Returns
    -------
    gap : PathGap
        The certified least distance.
    """
    start = seed(question, sides, MEMBER_SEEDS)
    found = search(question, sides, [WHOLE_PATH], (1, start))
    return settled(question, sides, found, inside)
