"""Packing behind the runners: rough masonry made into a true guide."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from towerlift.nesting.curves import Floats
from towerlift.nesting.faces import SIGNS
from towerlift.nesting.movement import FACES
from towerlift.nesting.reaches import Walls
from towerlift.plan.bodies import Face, PlumbLine
from towerlift.plan.model import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Shim:
    """Packing of a runner at one height of one face.

    Attributes
    ----------
    face : Face
        Which wall.
    height : float
        Of the shaft. [m]
    gap : float
        From what runs on the runner, hanging true, to the masonry. [m]
    packing : float
        Thickness that brings the runner plumb; below nothing, masonry to be cut. [m]
    taper : float or None
        Change of thickness to the next height above, per metre; None at the top.
    """

    face: Face
    height: float
    gap: float
    packing: float
    taper: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """What the packing is made for.

    Attributes
    ----------
    reach : (4,) float
        Reach of what runs on the runners, north, east, south, west. [m]
    runner : float
        Thickness of the runner. [m]
    running : float
        Gap left between runner and shoe. [m]
    """

    reach: Floats
    runner: float
    running: float


def shim_list(
    walls: Walls, guide: Guide, line: PlumbLine, heights: Sequence[float]
) -> tuple[Shim, ...]:
    """Packing by face and height.

    Parameters
    ----------
    walls : Walls
        The shaft as surveyed.
    guide : Guide
        What runs, the runner and its gap.
    line : PlumbLine
        Where the axis hangs.
    heights : sequence of float
        Rising, within the survey. [m]

    Returns
    -------
    shims : tuple of Shim
        West, east, south, north at each height.

    Raises
    ------
    ValueError
        If a height is outside the survey.
    """
    at = np.array(heights, dtype=np.float64)
    offsets = SIGNS * np.array([line.y, line.x, line.y, line.x])
    gaps = walls.at(at) - offsets - guide.reach
    if not np.all(np.isfinite(gaps)):
        low, high = walls.heights[0], walls.heights[-1]
        raise ValueError(f"heights must be within the survey, {low:g} to {high:g} m")
    packing = gaps - guide.runner - guide.running
    shims = []
    for face in (Face.WEST, Face.EAST, Face.SOUTH, Face.NORTH):
        k = FACES.index(face)
        tapers = [
            (packing[j, k] - packing[i, k]) / (at[j] - at[i])
            for i, j in pairwise(range(len(at)))
        ]
        shims += [
            Shim(
                face=face,
                height=float(at[i]),
                gap=float(gaps[i, k]),
                packing=float(packing[i, k]),
                taper=float(tapers[i]) if i < len(tapers) else None,
            )
            for i in range(len(at))
        ]
    return tuple(shims)


def guide_of(plan: Plan, section: str) -> Guide | None:
    """What a section runs on, as the plan draws it.

    Parameters
    ----------
    plan : Plan
        Its contacts say which members run on which runners.
    section : str
        Which section.

    Returns
    -------
    guide : Guide or None
        Reach of its shoes, and thickness of the thinnest runner; None where no shoe
        of it runs on a runner fixed to the masonry.
    """
    runners = {f.name: f for f in plan.fixtures if f.kind == "runner"}
    found = [
        c
        for c in plan.contacts
        if c.kind == "shoe on runner" and c.of == section and c.on in runners
    ]
    body = next(s for s in plan.sections if s.name == section)
    shoes = [shoe for shoe in body.shoes if any(named(c.marks, shoe.member) for c in found)]
    if not shoes:
        return None
    members = {m.mark: m for m in body.members}
    reach = np.full(4, np.nan)
    for shoe in shoes:
        member = members[shoe.member]
        k = FACES.index(shoe.face)
        axis, half = (1, member.depth / 2) if k % 2 == 0 else (0, member.breadth / 2)
        out = max(SIGNS[k] * point[axis] for point in (member.start, member.end)) + half
        reach[k] = out if np.isnan(reach[k]) else max(reach[k], out)
    if not np.all(np.isfinite(reach)):
        return None
    pieces = [m for c in found for m in runners[c.on].members]
    return Guide(
        reach=reach,
        runner=min(min(m.breadth, m.depth) for m in pieces),
        running=min(shoe.running for shoe in shoes),
    )


def named(patterns: Sequence[str], mark: str) -> bool:
    """Whether a contact names a member.

    Parameters
    ----------
    patterns : sequence of str
        Marks, or beginnings of marks that end in a star.
    mark : str
        Of the member.

    Returns
    -------
    named : bool
        Whether any of them fits.
    """
    return any(
        mark.startswith(pattern[:-1]) if pattern.endswith("*") else mark == pattern
        for pattern in patterns
    )
