"""What is meant to touch: how near shoes come, how deep bearing pieces overlap."""

from collections.abc import Iterator

import numpy as np

from towerlift.gaps import least_gap, pose_gap
from towerlift.nesting.bodies import Assembly
from towerlift.nesting.contacts import SHOE, contact_groups
from towerlift.nesting.curves import Floats
from towerlift.nesting.margins import ContactGap
from towerlift.nesting.overlap import least_separation
from towerlift.nesting.pairs import Pair, only, proven
from towerlift.shapes.solids import Ints

EPS = 1e-4
STEP = 0.05


def contact_gaps(pair: Pair) -> Iterator[ContactGap]:
    """Least gap of each meant contact over the travel of a pair, or at rest.

    Parameters
    ----------
    pair : Pair
        What moves past what, or has come to stand beside it.

    Yields
    ------
    contact : ContactGap
        One for each contact of the plan that has both sides here.

    Notes
    -----
    Shoes are measured by the engine. Pieces that bear on one another are held against
    the greatest overlap of their hulls anywhere on the way, since a first touch says
    nothing of how deep they go.
    """
    moving, other = pair.moving_assembly, pair.other_assembly
    groups = contact_groups(pair.shop.contacts, pair.passage.stage, moving, other)
    for kind, left, right in groups:
        yield (_shoe if kind == SHOE else _bearing)(pair, kind, left, right)


def _shoe(pair: Pair, kind: str, left: Ints, right: Ints) -> ContactGap:
    pads, rails = only(pair.moving_assembly, left), only(pair.other_assembly, right)
    low, high = pair.travel
    if high > low:
        found = least_gap(pads, rails, pair.path(low, high, STEP), eps=EPS)
        return _contact(
            pair,
            kind,
            (found.moving_member, found.fixed_member),
            (proven(found), found.at, np.asarray(found.moving_point)),
        )
    still = pose_gap(pads, rails, pair.pose(low))
    gap = still.value if still.certified or still.struck else None
    return _contact(
        pair,
        kind,
        (still.moving_member, still.fixed_member),
        (gap, low, np.asarray(still.moving_point)),
    )


def _bearing(pair: Pair, kind: str, left: Ints, right: Ints) -> ContactGap:
    low, high = pair.travel
    start, rise = pair.pose(low), pair.pose(low + 1.0)[:3, 3] - pair.pose(low)[:3, 3]
    pieces = {int(i): _triangles(pair.moving_assembly, int(i), start) for i in left}
    others = {int(j): _triangles(pair.other_assembly, int(j), np.eye(4)) for j in right}
    boxed = [
        (_box_separation(piece, other, rise * (high - low)), i, j)
        for i, piece in pieces.items()
        for j, other in others.items()
        if len(piece) and len(other)
    ]
    near = [entry for entry in boxed if entry[0] <= 0] or [min(boxed)]
    found = [
        (*least_separation(pieces[i], others[j], rise, (0.0, high - low)), i, j)
        for _, i, j in near
    ]
    gap, climb, i, j = min(found)
    middle = _middle(pieces[i] + climb * rise, others[j])
    return _contact(pair, kind, (i, j), (gap, low + climb, middle))


def _triangles(assembly: Assembly, member: int, pose: Floats) -> Floats:
    corners = assembly.vertices[assembly.faces[assembly.members == member]]
    return np.asarray(corners @ pose[:3, :3].T + pose[:3, 3])


def _extent(triangles: Floats) -> tuple[Floats, Floats]:
    points = triangles.reshape(-1, 3)
    return points.min(axis=0), points.max(axis=0)


def _box_separation(piece: Floats, other: Floats, shift: Floats) -> float:
    """Separation of level boxes, the first of which covers the whole shift. [m]"""
    low, high = _extent(piece)
    low, high = np.minimum(low, low + shift), np.maximum(high, high + shift)
    foot, head = _extent(other)
    return float(np.maximum(foot - high, low - head).max())


def _middle(piece: Floats, other: Floats) -> Floats:
    (low, high), (foot, head) = _extent(piece), _extent(other)
    return np.asarray(0.5 * (np.maximum(low, foot) + np.minimum(high, head)))


def _contact(
    pair: Pair, kind: str, members: tuple[int, int], found: tuple[float | None, float, Floats]
) -> ContactGap:
    gap, heel, place = found
    return ContactGap(
        kind=kind,
        stage=pair.passage.stage,
        passage=pair.passage.index,
        moving=pair.moving,
        against=pair.against,
        label=pair.moving_assembly.labels[members[0]],
        opposite=pair.other_assembly.labels[members[1]],
        gap=gap,
        heel=heel,
        where=pair.in_shaft(place),
    )
