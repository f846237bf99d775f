"""Least gap of every piece over a stretch of travel, of those that pass and those passed."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from math import inf

import numpy as np

from towerlift.gaps import Body, Path, PathGap, member_gaps
from towerlift.nesting.bodies import Assembly, Label, member_boxes
from towerlift.nesting.curves import Floats
from towerlift.nesting.pairs import Pair, Workshop, only, passing_pairs
from towerlift.shapes.solids import Ints

NEAR = 0.5
"""Gap from which on it is enough to know that it is no less. [m]"""
EPS = 5e-3
STEP = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceGap:
    """How near one piece comes to anything that it is not meant to touch.

    Attributes
    ----------
    body, mark : str
        Section, fixture, fit-out item or "shaft", and mark of the piece.
    least : float or None
        What its gap is proven not to be below, up to 5 mm less than the least; infinite
        where it keeps half a metre off everything; negative where it strikes. None where
        it could not be proven. [m]
    """

    body: str
    mark: str
    least: float | None


def piece_gaps(shop: Workshop, passages: Collection[int]) -> tuple[PieceGap, ...]:
    """Least gap of every piece that moves, and of every piece that it passes.

    Parameters
    ----------
    shop : Workshop
        Plan, shapes and raise.
    passages : collection of int
        Stretch of travel: indices of passages.

    Returns
    -------
    gaps : tuple of PieceGap
        One for each piece of the two sides of every pair; hanging true.

    Notes
    -----
    Boxes round the pieces, swept along the travel, say which keep half a metre off; only
    the others are given to the engine, each side against the other.
    """
    found: dict[Label, float | None] = {}
    for pair in passing_pairs(shop):
        if pair.passage.index not in passages or not pair.unmeant:
            continue
        for label, least in _of_pair(pair):
            known = found.get(label, inf)
            found[label] = None if known is None or least is None else min(known, least)
    return tuple(
        PieceGap(body=label.body, mark=label.mark, least=least)
        for label, least in found.items()
    )


def _of_pair(pair: Pair) -> Iterator[tuple[Label, float | None]]:
    moving, other = pair.moving_assembly, pair.other_assembly
    path = pair.path(*pair.travel, STEP)
    near = _box_distances(moving, other, path)
    meant = pair.meant
    near[meant[:, 0], meant[:, 1]] = inf
    rows, columns = np.nonzero(near < NEAR)
    mine, theirs = np.unique(rows), np.unique(columns)
    for assembly, kept in ((moving, mine), (other, theirs)):
        far = np.setdiff1d(np.unique(assembly.members), kept)
        yield from ((assembly.labels[member], inf) for member in far.tolist())
    if not len(mine):
        return
    bodies = (
        only(moving, mine, closed=pair.moving_body.closed),
        only(other, theirs, closed=pair.other_body.closed),
    )
    skip = meant[np.isin(meant[:, 0], mine) & np.isin(meant[:, 1], theirs)]
    turned = np.asarray(np.linalg.inv(path.poses), dtype=np.float64)
    back = Path(stations=path.stations, poses=turned)
    yield from _measured(moving.labels, bodies, path, skip)
    yield from _measured(other.labels, bodies[::-1], back, skip[:, ::-1])


def _measured(
    labels: tuple[Label, ...], bodies: tuple[Body, ...], path: Path, skip: Ints
) -> Iterator[tuple[Label, float | None]]:
    first, second = bodies
    gaps = member_gaps(first, second, path, eps=EPS, skip_pairs=skip if len(skip) else None)
    for member, gap in zip(gaps.members, gaps.gaps, strict=True):
        yield labels[member], inf if gap is None else _proven(gap)


def _proven(gap: PathGap) -> float | None:
    if gap.struck:
        return gap.upper
    if not gap.certified:
        return None
    return gap.lower if gap.lower < NEAR else inf


def _box_distances(moving: Assembly, other: Assembly, path: Path) -> Floats:
    """Least distance of the boxes of every two members, one side swept along the path."""
    first, last = (member_boxes(moving, path.poses[end]) for end in (0, -1))
    low, high = np.minimum(first[:, 0], last[:, 0]), np.maximum(first[:, 1], last[:, 1])
    fixed = member_boxes(other)
    apart = np.maximum(low[:, None] - fixed[None, :, 1], fixed[None, :, 0] - high[:, None])
    return np.asarray(np.linalg.norm(np.maximum(apart, 0.0), axis=2))
