"""Holes of a scan: what of the shaft was not seen."""

from collections.abc import Iterator, Sequence

import numpy as np

from towerlift.gaps import Hole, build_body, find_holes, open_ends
from towerlift.plan.bodies import Face, Shaft
from towerlift.shapes.shafts import face_at
from towerlift.shapes.solids import Ints, Solid, Unseen

UNSEEN = "not seen"
"""Name of the body that the holes of a scan may hold, and kind of its pieces."""

CRACK = 1e-3
"""Width up to which a hole hides nothing that counts. [m]"""

WELD = 1e-4
"""Corners no farther apart are one where holes are sought, as of panels that join. [m]"""

RIM = 1e-3
"""How far a rim may lie beyond the heights of an opening that is known. [m]"""


def find_unseen(scan: Solid, shaft: Shaft, axis: tuple[float, float]) -> tuple[Unseen, ...]:
    """Every hole of the shaft's scan that hides something.

    Parameters
    ----------
    scan : Solid
        Shaft frame.
    shaft : Shaft
        As planned.
    axis : tuple of float
        Where the sections hang, x and y. [m]

    Returns
    -------
    holes : tuple of Unseen
        Longest rim first.

    Notes
    -----
    Not counted are: the lowest and the highest rim round the room, between which the
    scan lies; where there is a survey, every other end of the scan, since the survey
    goes on there; what lies within an opening that the plan knows; and cracks.
    """
    return tuple(_unseen(scan, shaft, axis))


def _unseen(scan: Solid, shaft: Shaft, axis: tuple[float, float]) -> Iterator[Unseen]:
    holes = find_holes(build_body(scan.vertices, scan.faces, scan.members), weld=WELD)
    ends = open_ends(holes, axis)
    number = 0
    for k, hole in enumerate(holes):
        ring = hole.goes_round(*axis)
        ended = k in ends or (bool(shaft.survey) and (ring or hole.outline))
        face = face_at(float(hole.centre[0]), float(hole.centre[1]))
        if ended or not hole.sizes[1] > CRACK or _known(shaft, hole, face):
            continue
        number += 1
        yield Unseen(number=number, hole=hole, face=face, round=ring)


def _known(shaft: Shaft, hole: Hole, face: Face) -> bool:
    low, high = float(hole.rim[:, 2].min()), float(hole.rim[:, 2].max())
    return any(
        each.face is face and each.foot - RIM <= low and high <= each.head + RIM
        for each in shaft.wall_openings
    )


def unseen_solid(holes: Sequence[Unseen]) -> Solid:
    """The worst that the rims of some holes can hold, as triangles.

    Parameters
    ----------
    holes : sequence of Unseen
        At least one.

    Returns
    -------
    solid : Solid
        Shaft frame; every hole is a member of it.
    """
    vertices, faces, members = [], [], []
    start = 0
    for number, unseen in enumerate(holes):
        corners, triangles = unseen.hole.sheet()
        vertices.append(corners)
        faces.append(triangles + start)
        members.append(np.full(len(triangles), number))
        start += len(corners)
    every: Ints = np.concatenate(faces)
    return Solid(
        name=UNSEEN,
        vertices=np.concatenate(vertices),
        faces=every,
        members=np.concatenate(members),
        marks=tuple(unseen.mark for unseen in holes),
        parts=(UNSEEN,) * len(holes),
        closed=False,
    )
