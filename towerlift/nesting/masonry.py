"""Where a section stands to the masonry: inside the room, and at heights that were surveyed."""

from dataclasses import dataclass

import numpy as np

from towerlift.gaps import PathGap, member_gaps
from towerlift.nesting.curves import Floats
from towerlift.nesting.pairs import Pair, Workshop
from towerlift.nesting.slabs import Slabs

EPS = 1e-4
STEP = 0.05
SAME_HEIGHT = 1e-6
# A face of a scan steeper than this, by the upright part of its normal, is a wall.
WALL = 0.7

_OUTWARD = np.array([[-1.0, 0, 0], [1.0, 0, 0], [0, -1.0, 0], [0, 1.0, 0]])


@dataclass(frozen=True, slots=True, kw_only=True)
class Astray:
    """A member that is not in the room.

    Attributes
    ----------
    member : int
        Its place in the labels of the section.
    beyond : float
        How far behind the face of the masonry. [m]
    heel : float
        Heel height at which it is. [m]
    where, outward : (3,) float
        Its place, shaft frame [m], and the way out through the face.
    """

    member: int
    beyond: float
    heel: float
    where: Floats
    outward: Floats


def unsurveyed(shop: Workshop, low: float, high: float) -> str:
    """Which heights between two are below the wall head and were not surveyed.

    Parameters
    ----------
    shop : Workshop
        Plan and shapes.
    low, high : float
        Heights that a section takes up, shaft frame. [m]

    Returns
    -------
    why : str
        In a sentence; empty where every height was surveyed.
    """
    shaft = shop.plan.shaft
    high = min(high, shaft.wall_head)
    if shaft.survey:
        stretches = {"": np.array([(shaft.survey[0].z, shaft.survey[-1].z)])}
    else:
        stretches = _scanned(shop)
    missing = [
        f"z {foot:.2f} to {head:.2f} m{side}"
        for side, known in stretches.items()
        for foot, head in _holes(known, low, high)
    ]
    if not missing:
        return ""
    return "the shaft was not surveyed at " + ", ".join(missing)


def _scanned(shop: Workshop) -> dict[str, Floats]:
    """Heights of the wall triangles of a scan on each side."""
    shaft, line = shop.shapes.shaft, shop.plan.plumb_line
    corners = shaft.vertices[shaft.faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    sizes = np.linalg.norm(normals, axis=1)
    steep = np.abs(normals[:, 2]) <= WALL * sizes
    across = np.abs(normals[:, 1]) > np.abs(normals[:, 0])
    x, y = (corners.mean(axis=1)[:, :2] - (line.x, line.y)).T
    sides = {
        " on the north side": steep & across & (y > 0),
        " on the south side": steep & across & (y <= 0),
        " on the east side": steep & ~across & (x > 0),
        " on the west side": steep & ~across & (x <= 0),
    }
    heights = np.stack([corners[:, :, 2].min(axis=1), corners[:, :, 2].max(axis=1)], axis=1)
    return {side: heights[rows] for side, rows in sides.items()}


def _holes(known: Floats, low: float, high: float) -> list[tuple[float, float]]:
    """Stretches between two heights that none of the known ones covers."""
    holes, reached = [], low
    for foot, head in known[np.argsort(known[:, 0])].tolist():
        if foot > reached + SAME_HEIGHT:
            holes.append((reached, min(foot, high)))
        reached = max(reached, head)
        if reached >= high:
            break
    if high > reached + SAME_HEIGHT:
        holes.append((reached, high))
    return [(foot, head) for foot, head in holes if head > foot + SAME_HEIGHT]


def astray(pair: Pair, slabs: Slabs) -> list[Astray]:
    """Members that are behind the face of the masonry at some height of the travel.

    Parameters
    ----------
    pair : Pair
        A section against the shaft.
    slabs : Slabs
        The section, cut at every metre.

    Returns
    -------
    astray : list of Astray
        One for each such member, where it is farthest behind.

    Notes
    -----
    A distance to a wall has no side. With a survey, every corner of every slab is held
    against the faces at its height; as slabs are shorter than the survey, no piece can
    pass it without a corner in it. With a scan alone, the side is that of the nearest
    face of each member.
    """
    if not pair.shop.plan.shaft.survey:
        return _behind_scan(pair)
    low, high = pair.travel
    heels = np.linspace(low, high, max(1, int(np.ceil((high - low) / STEP - 1e-9))) + 1)
    worst: dict[int, Astray] = {}
    corners = slabs.vertices[slabs.faces].reshape(-1, 3)
    owner = np.repeat(slabs.members, 3)
    rows, first = np.unique(
        np.column_stack([corners.round(9), owner]), axis=0, return_index=True
    )
    points, owner = rows[:, :3], owner[first]
    for heel in heels.tolist():
        pose = pair.shop.raise_.shaft_from_section(heel)
        placed = points @ pose[:3, :3].T + pose[:3, 3]
        beyond, outward = _beyond(pair.shop, np.asarray(placed, dtype=np.float64))
        for row in np.flatnonzero(beyond > 0).tolist():
            member, far = int(owner[row]), float(beyond[row])
            if member not in worst or far > worst[member].beyond:
                worst[member] = Astray(
                    member=member,
                    beyond=far,
                    heel=heel,
                    where=placed[row],
                    outward=outward[row],
                )
    return list(worst.values())


def _beyond(shop: Workshop, points: Floats) -> tuple[Floats, Floats]:
    """How far each point lies behind a face of the survey [m], and the way out there."""
    stations = shop.plan.shaft.survey
    z = np.array([station.z for station in stations])
    inside = (points[:, 2] >= z[0]) & (points[:, 2] <= z[-1])
    west, east, south, north = (
        np.interp(points[:, 2], z, [getattr(station, face) for station in stations])
        for face in ("west", "east", "south", "north")
    )
    x, y = points[:, 0], points[:, 1]
    each = np.array([west - x, x - east, south - y, y - north])
    return np.where(inside, each.max(axis=0), -np.inf), _OUTWARD[each.argmax(axis=0)]


def _behind_scan(pair: Pair) -> list[Astray]:
    low, high = pair.travel
    # The engine asks for a travel: a hair's breadth stands for none.
    path = pair.path(low, max(high, low + SAME_HEIGHT), STEP)
    gaps = member_gaps(pair.moving_body, pair.other_body, path, eps=EPS)
    return [
        Astray(
            member=member,
            beyond=abs(gap.upper),
            heel=gap.at,
            where=np.asarray(gap.moving_point),
            outward=np.subtract(gap.moving_point, gap.fixed_point),
        )
        for member, gap in zip(gaps.members, gaps.gaps, strict=True)
        if gap is not None and gap.upper > 0 and behind_the_wall(pair, gap)
    ]


def behind_the_wall(pair: Pair, gap: PathGap) -> bool:
    """Whether the nearest point lies behind the face of the masonry, not in the room.

    Parameters
    ----------
    pair : Pair
        A section against the shaft, whose faces look into the room.
    gap : PathGap
        Nearest points.

    Returns
    -------
    behind : bool
        Well behind the face, so that a corner seen from the room is not taken for it.
    """
    apart = np.subtract(gap.moving_point, gap.fixed_point)
    a, b, c = pair.other_body.corners(gap.fixed_triangle)
    normal = np.cross(b - a, c - a)
    return bool(apart @ normal < -0.5 * np.linalg.norm(apart) * np.linalg.norm(normal))
