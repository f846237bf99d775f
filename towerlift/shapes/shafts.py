"""The inside of the masonry shaft, joined linearly between survey stations."""

from collections.abc import Iterable, Sequence

import numpy as np

from towerlift.plan import bodies
from towerlift.shapes.solids import Bools, Floats, Ints, Solid

_FACES = (bodies.Face.NORTH, bodies.Face.EAST, bodies.Face.SOUTH, bodies.Face.WEST)

# The corners at which each face begins and ends, seen from inside the room.
_LEFT_RIGHT = {
    bodies.Face.NORTH: ("NW", "NE"),
    bodies.Face.EAST: ("NE", "SE"),
    bodies.Face.SOUTH: ("SE", "SW"),
    bodies.Face.WEST: ("SW", "NW"),
}

# Two triangles from one station (left 0, right 1) to the next (left 2, right 3).
_QUAD: Ints = np.array([[0, 1, 3], [0, 3, 2]], dtype=np.int64)

TALLEST = 2.0
"""Height of a scan over that of the wall, above which it cannot be of it."""

AMID = 0.25
"""Share of the room's width that a scan must come nearer to a face than."""


def survey_problems(shaft: bodies.Shaft) -> list[str]:
    """Say what keeps a survey from being joined into four walls.

    Parameters
    ----------
    shaft : Shaft
        As planned.

    Returns
    -------
    problems : list of str
        Empty if it can be joined.
    """
    stations = shaft.survey
    if not stations:
        return [] if shaft.mesh else ["no survey and no mesh: give one of them, or both"]
    problems = []
    if len(stations) == 1:
        problems.append("survey: one station only; two or more are needed to join")
    for row, station in enumerate(stations, start=1):
        at = f"survey row {row}, z {station.z:g} m"
        if not station.west < station.east:
            problems.append(
                f"{at}: west {station.west:g} m must be less than east {station.east:g} m"
            )
        if not station.south < station.north:
            problems.append(
                f"{at}: south {station.south:g} m must be less than north {station.north:g} m"
            )
        if row > 1 and not stations[row - 2].z < station.z:
            problems.append(
                f"{at}: must be above the row before it, z {stations[row - 2].z:g} m"
            )
    foot, head = stations[0].z, stations[-1].z
    problems += [
        f'ledge "{ledge.mark}": {ledge.foot:g} to {ledge.head:g} m is not within the survey, '
        f"{foot:g} to {head:g} m"
        for ledge in shaft.ledges
        if shaft.mesh is None and not foot <= ledge.foot < ledge.head <= head
    ]
    return problems


def loft_shaft(shaft: bodies.Shaft) -> Solid:
    """Join the survey stations into four walls.

    Parameters
    ----------
    shaft : Shaft
        Its survey has two stations or more, lowest first.

    Returns
    -------
    solid : Solid
        Shaft frame, normals into the room. Nothing is added below the first station,
        above the last, or across the room.

    Notes
    -----
    Between two stations every face is one plane, since it is level across the room
    and linear in height. Where a ledge begins or ends between stations the plane is
    cut there, so that the ledge's triangles, and no others, carry its mark.
    """
    strips: list[Floats] = []
    faces: list[Ints] = []
    members: list[int] = []
    numbers: dict[tuple[str, str], int] = {}
    for face in _FACES:
        stations = _cut_stations(shaft, face)
        first = sum(len(strip) for strip in strips)
        strips.append(_edges_of(stations, face))
        for i in range(len(stations) - 1):
            faces.append(_QUAD + first + 2 * i)
            label = _label(face, shaft.ledges, stations[i, 0], stations[i + 1, 0])
            members += [numbers.setdefault(label, len(numbers))] * 2
    return Solid(
        name="shaft",
        vertices=np.concatenate(strips),
        faces=np.concatenate(faces),
        members=np.array(members, dtype=np.int64),
        marks=tuple(mark for mark, _ in numbers),
        parts=tuple(part for _, part in numbers),
        closed=False,
    )


def _cut_stations(shaft: bodies.Shaft, face: bodies.Face) -> Floats:
    table = np.array([(r.z, r.west, r.east, r.south, r.north) for r in shaft.survey])
    own = [ledge for ledge in shaft.ledges if ledge.face is face]
    ends = np.array([z for ledge in own for z in (ledge.foot, ledge.head)])
    cuts = np.setdiff1d(ends, table[:, 0])
    cuts = cuts[(cuts > table[0, 0]) & (cuts < table[-1, 0])]
    between = [np.interp(cuts, table[:, 0], column) for column in table.T]
    merged = np.concatenate([table, np.column_stack(between)])
    ordered: Floats = merged[np.argsort(merged[:, 0], kind="stable")]
    return ordered


def _edges_of(stations: Floats, face: bodies.Face) -> Floats:
    """Left and right edge of a face at every station, seen from inside the room."""
    z, west, east, south, north = stations.T
    corners = {
        "NW": (west, north),
        "NE": (east, north),
        "SE": (east, south),
        "SW": (west, south),
    }
    ends = [np.column_stack([*corners[corner], z]) for corner in _LEFT_RIGHT[face]]
    return np.stack(ends, axis=1).reshape(-1, 3)


def _label(
    face: bodies.Face, ledges: Sequence[bodies.Ledge], foot: float, head: float
) -> tuple[str, str]:
    for ledge in ledges:
        if ledge.face is face and ledge.foot <= foot and head <= ledge.head:
            return f"ledge: {ledge.mark}", "ledge"
    return f"{face} wall z {_height(foot)}-{_height(head)}", "wall"


def _height(z: float) -> str:
    # Two decimals, more where the survey has them.
    text = f"{z:.4f}".rstrip("0")
    whole, _, decimals = text.partition(".")
    return f"{whole}.{decimals.ljust(2, '0')}"


def misplaced(scan: Solid, shaft: bodies.Shaft) -> list[str]:
    """Say why a scan cannot be of this shaft, as when its unit is wrong.

    Parameters
    ----------
    scan : Solid
        Shaft frame.
    shaft : Shaft
        As planned.

    Returns
    -------
    problems : list of str
        Empty if it is about where the wall is and about as large.

    Notes
    -----
    Units differ from each other by a factor of 2.5 or more, and a scan need not be of
    the whole shaft: what is asked is that it reaches no higher than twice the wall, and
    that it comes by the faces of the survey, where there is one, without reaching twice
    as far out. A scan too small to reach any height of the travel leaves it without a
    survey, which is told elsewhere.
    """
    low, high = scan.vertices.min(axis=0), scan.vertices.max(axis=0)
    hint = "are the unit and the way up of the file right?"
    problems = []
    if not (high[2] <= TALLEST * shaft.wall_head and low[2] >= -shaft.wall_head):
        problems.append(
            f"the mesh reaches from z {low[2]:g} to {high[2]:g} m, the wall up to "
            f"{shaft.wall_head:g} m: {hint}"
        )
    if shaft.survey and not problems:
        problems += _beside_the_survey(scan, shaft.survey, hint)
    return problems


def _beside_the_survey(
    scan: Solid, survey: Sequence[bodies.Station], hint: str
) -> Iterable[str]:
    z = np.array([row.z for row in survey])
    west, east, south, north = (
        np.interp(scan.vertices[:, 2], z, [getattr(row, face) for row in survey])
        for face in ("west", "east", "south", "north")
    )
    x, y = scan.vertices[:, 0], scan.vertices[:, 1]
    # How far behind the nearest face, and how far the faces are apart there.
    beyond = np.max([west - x, x - east, south - y, y - north], axis=0)
    width = np.minimum(east - west, north - south)
    if (beyond > 0.5 * width).any():
        yield (
            f"the mesh reaches {beyond.max():g} m beyond the faces of the survey, which are "
            f"{width[beyond.argmax()]:g} m apart: {hint}"
        )
    if (beyond < -AMID * width).all():
        yield (
            f"the mesh lies in the middle of the room, {-beyond.max():g} m from the nearest "
            f"face of the survey: {hint}"
        )


def _by_compass(points: Floats) -> dict[bodies.Face, Bools]:
    """Which of some points lie towards each face, seen from the plumb datum."""
    x, y = points.T
    return {
        bodies.Face.NORTH: y >= np.abs(x),
        bodies.Face.SOUTH: -y >= np.abs(x),
        bodies.Face.EAST: x > np.abs(y),
        bodies.Face.WEST: -x > np.abs(y),
    }


def face_at(x: float, y: float) -> bodies.Face:
    """The face that a place lies towards, by compass seen from the plumb datum.

    Parameters
    ----------
    x, y : float
        Shaft frame. [m]

    Returns
    -------
    face : Face
        As `label_scan` would have it.
    """
    towards = _by_compass(np.array([[x, y]]))
    return next(face for face, there in towards.items() if there[0])


def label_scan(scan: Solid, ledges: Sequence[bodies.Ledge]) -> Solid:
    """Give the triangles of a scan that lie on a named ledge its mark.

    Parameters
    ----------
    scan : Solid
        Shaft frame.
    ledges : sequence of Ledge
        Named projections that the scan holds.

    Returns
    -------
    labelled : Solid
        A triangle carries a ledge's mark if it lies wholly within its heights and its
        middle is nearest, by compass seen from the plumb datum, to its face.
    """
    corners = scan.vertices[scan.faces]
    low, high = corners[:, :, 2].min(axis=1), corners[:, :, 2].max(axis=1)
    on_face = _by_compass(corners.mean(axis=1)[:, :2])
    members = scan.members.copy()
    marks, parts = list(scan.marks), list(scan.parts)
    for ledge in ledges:
        on_ledge = on_face[ledge.face] & (low >= ledge.foot) & (high <= ledge.head)
        if on_ledge.any():
            members[on_ledge] = len(marks)
            marks.append(f"ledge: {ledge.mark}")
            parts.append("ledge")
    return Solid(
        name=scan.name,
        vertices=scan.vertices,
        faces=scan.faces,
        members=members,
        marks=tuple(marks),
        parts=tuple(parts),
        closed=scan.closed,
    )
