"""Energy of a load on lines and shoes, and the way down it, compiled: one case at a time.

All that is compiled for it stands in this one file, since what is kept of it between runs is
made anew when the file changes, and not when another does. Few arrays are handed on, and
numbers rather than views of them: each one more is seconds of compiling.
"""

from math import cos, sin, sqrt
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# No step of the search turns or moves it more than this. [rad], [m]
FARTHEST_STEP = 0.05
FARTHEST_MOVE = 0.5
BALANCE_RTOL = 1e-10
STILL_RTOL = 1e-9
MOST_STEPS = 80
MOST_HALVINGS = 25
_SMALL = 1e-12
# Columns of a load's body, after its centre of gravity; force and its arm are three each.
WEIGHT, REACH, FORCE, FORCE_ARM = 3, 4, 5, 8

_compiled = njit(cache=True, nogil=True, error_model="numpy")


class Loads(NamedTuple):
    """Loads on lines, case by case, from the middle of the lift points hanging true.

    Attributes
    ----------
    lines : (m, n, 6) float
        Fixed end and lift point of each line. [m]
    group : (n,) int
        Number of the group of each line.
    groups : (m, g, 2) float
        Stiffness of each group and the length at which it is just slack. [N/m], [m]
    shoes : (m, q, 8) float
        Each shoe: place, outward normal, clearance, stiffness. [m], [N/m]
    body : (m, 11) float
        Centre of gravity, weight, reach of the lift points, steady force and where it
        acts. [m], [N]
    """

    lines: Floats
    group: Ints
    groups: Floats
    shoes: Floats
    body: Floats


class Laid(NamedTuple):
    """One load as it lies in a pose: everything from the middle, turned, not shifted.

    Attributes
    ----------
    lines : (n, 8) float
        Lift point, way to the fixed end, length and tension of each line. [m], [N]
    pulls : (g,) float
        Tension of each group. [N]
    shoes : (q, 4) float
        Place and pressure of each shoe. [m], [N]
    arms : (6,) float
        Centre of gravity, and where the steady force acts. [m]
    """

    lines: Floats
    pulls: Floats
    shoes: Floats
    arms: Floats


@_compiled
def _room(loads):  # type: ignore[no-untyped-def]
    return Laid(
        np.empty((loads.lines.shape[1], 8)), np.empty(loads.groups.shape[1]),
        np.empty((loads.shoes.shape[1], 4)), np.empty(6),
    )  # fmt: skip


@_compiled
def _turned(pose, a, x, y, z):  # type: ignore[no-untyped-def]
    """One number of a point that turns with a pose: shift, then turn row by row. (12,)"""
    return pose[3 + 3 * a] * x + pose[4 + 3 * a] * y + pose[5 + 3 * a] * z


@_compiled
def _lay(loads, case, pose, laid):  # type: ignore[no-untyped-def]
    """Lay one load as it is in a pose, and give its energy."""
    n, g, q = laid.lines.shape[0], laid.pulls.shape[0], laid.shoes.shape[0]
    lines, shoes, body = loads.lines, loads.shoes, loads.body
    for k in range(g):
        laid.pulls[k] = -loads.groups[case, k, 1]
    for i in range(n):
        square = 0.0
        for a in range(3):
            arm = _turned(pose, a, lines[case, i, 3], lines[case, i, 4], lines[case, i, 5])
            way = lines[case, i, a] - pose[a] - arm
            laid.lines[i, a], laid.lines[i, 3 + a] = arm, way
            square += way * way
        laid.lines[i, 6] = sqrt(square)
        laid.pulls[loads.group[i]] += laid.lines[i, 6]
    energy = 0.0
    for k in range(g):
        stretch = max(laid.pulls[k], 0.0)
        laid.pulls[k] = loads.groups[case, k, 0] * stretch
        energy += 0.5 * laid.pulls[k] * stretch
    for i in range(n):
        laid.lines[i, 7] = laid.pulls[loads.group[i]]
    for j in range(q):
        closed = -shoes[case, j, 6]
        for a in range(3):
            arm = _turned(pose, a, shoes[case, j, 0], shoes[case, j, 1], shoes[case, j, 2])
            laid.shoes[j, a] = arm
            closed += (pose[a] + arm - shoes[case, j, a]) * shoes[case, j, 3 + a]
        closed = max(closed, 0.0)
        laid.shoes[j, 3] = shoes[case, j, 7] * closed
        energy += 0.5 * laid.shoes[j, 3] * closed
    for a in range(3):
        laid.arms[a] = _turned(pose, a, body[case, 0], body[case, 1], body[case, 2])
        laid.arms[3 + a] = _turned(pose, a, body[case, 8], body[case, 9], body[case, 10])
        moved = pose[a] + laid.arms[3 + a] - body[case, FORCE_ARM + a]
        energy -= body[case, FORCE + a] * moved
    return energy + body[case, WEIGHT] * (pose[2] + laid.arms[2] - body[case, 2])


@_compiled
def _push(row, p, q, r, x, y, z):  # type: ignore[no-untyped-def]  # noqa: PLR0913, PLR0917
    """Add a force (x, y, z) at an arm (p, q, r), with its moment about the middle."""
    row[0] += x
    row[1] += y
    row[2] += z
    row[3] += q * z - r * y
    row[4] += r * x - p * z
    row[5] += p * y - q * x


@_compiled
def _slope(loads, case, laid, slope):  # type: ignore[no-untyped-def]
    """Force and moment that hold a load as it is laid."""
    lines, shoes, arms, body = laid.lines, laid.shoes, laid.arms, loads.body
    for a in range(6):
        slope[a] = 0.0
    for i in range(lines.shape[0]):
        part = -lines[i, 7] / lines[i, 6]
        x, y, z = part * lines[i, 3], part * lines[i, 4], part * lines[i, 5]
        _push(slope, lines[i, 0], lines[i, 1], lines[i, 2], x, y, z)
    for j in range(shoes.shape[0]):
        part = shoes[j, 3]
        x, y, z = loads.shoes[case, j, 3], loads.shoes[case, j, 4], loads.shoes[case, j, 5]
        _push(slope, shoes[j, 0], shoes[j, 1], shoes[j, 2], part * x, part * y, part * z)
    _push(slope, arms[0], arms[1], arms[2], 0.0, 0.0, body[case, WEIGHT])
    x, y, z = -body[case, 5], -body[case, 6], -body[case, 7]
    _push(slope, arms[3], arms[4], arms[5], x, y, z)


@_compiled
def _outer(matrix, factor, row):  # type: ignore[no-untyped-def]
    for a in range(6):
        for b in range(6):
            matrix[a, b] += factor * row[a] * row[b]


@_compiled
def _arc(bent, p, q, r, x, y, z):  # type: ignore[no-untyped-def]  # noqa: PLR0913, PLR0917
    """Add what a dead force (x, y, z) resists turning, as its arm moves along an arc."""
    bent[3, 3] += q * y + r * z
    bent[4, 4] += p * x + r * z
    bent[5, 5] += p * x + q * y
    bent[3, 4] -= (p * y + q * x) / 2
    bent[4, 3] -= (p * y + q * x) / 2
    bent[3, 5] -= (p * z + r * x) / 2
    bent[5, 3] -= (p * z + r * x) / 2
    bent[4, 5] -= (q * z + r * y) / 2
    bent[5, 4] -= (q * z + r * y) / 2


@_compiled
def _spread(bent, spread, p, q, r):  # type: ignore[no-untyped-def]
    """Add the stiffness of a spring at an arm that resists all ways alike."""
    for a in range(3):
        bent[a, a] += spread
    # Moves of the arm's end by turns, each against each, and against shifts.
    bent[1, 3] -= spread * r
    bent[3, 1] -= spread * r
    bent[2, 3] += spread * q
    bent[3, 2] += spread * q
    bent[0, 4] += spread * r
    bent[4, 0] += spread * r
    bent[2, 4] -= spread * p
    bent[4, 2] -= spread * p
    bent[0, 5] -= spread * q
    bent[5, 0] -= spread * q
    bent[1, 5] += spread * p
    bent[5, 1] += spread * p
    _arc(bent, spread * p, spread * q, spread * r, p, q, r)


@_compiled
def _curvature(loads, case, laid, bent, rows):  # type: ignore[no-untyped-def]
    """Stiffness of a load as it is laid; `rows` is room for (g + 1, 6)."""
    lines, shoes, arms, body = laid.lines, laid.shoes, laid.arms, loads.body
    g = laid.pulls.shape[0]
    for a in range(6):
        for b in range(6):
            bent[a, b] = 0.0
        for k in range(g):
            rows[k, a] = 0.0
    row = rows[g]
    for i in range(lines.shape[0]):
        p, q, r, length = lines[i, 0], lines[i, 1], lines[i, 2], lines[i, 6]
        x, y, z = lines[i, 3] / length, lines[i, 4] / length, lines[i, 5] / length
        tension = lines[i, 7]
        for a in range(6):
            row[a] = 0.0
        _push(row, p, q, r, -x, -y, -z)
        for a in range(6):
            rows[loads.group[i], a] += row[a]
        # A pulling line resists moves across itself by tension over length.
        _outer(bent, -tension / length, row)
        _spread(bent, tension / length, p, q, r)
        # Turning moves the lift points, shoes, wind and the centre along arcs.
        _arc(bent, p, q, r, tension * x, tension * y, tension * z)
    for k in range(g):
        if laid.pulls[k] > 0:
            _outer(bent, loads.groups[case, k, 0], rows[k])
    for j in range(shoes.shape[0]):
        if shoes[j, 3] > 0:
            p, q, r, push = shoes[j, 0], shoes[j, 1], shoes[j, 2], -shoes[j, 3]
            x, y, z = loads.shoes[case, j, 3], loads.shoes[case, j, 4], loads.shoes[case, j, 5]
            for a in range(6):
                row[a] = 0.0
            _push(row, p, q, r, x, y, z)
            _outer(bent, loads.shoes[case, j, 7], row)
            _arc(bent, p, q, r, push * x, push * y, push * z)
    x, y, z = body[case, 5], body[case, 6], body[case, 7]
    _arc(bent, arms[3], arms[4], arms[5], x, y, z)
    _arc(bent, arms[0], arms[1], arms[2], 0.0, 0.0, -body[case, WEIGHT])


@_compiled
def lie(loads, poses, pulls, ways):  # type: ignore[no-untyped-def]
    """Tension of every group of every load, and its lines as they lie."""
    laid = _room(loads)
    for case in range(len(poses)):
        _lay(loads, case, poses[case], laid)
        for k in range(pulls.shape[1]):
            pulls[case, k] = laid.pulls[k]
        for i in range(ways.shape[1]):
            for a in range(3):
                ways[case, i, a] = laid.lines[i, 3 + a]


@_compiled
def derive(loads, poses, energies, slopes, bends):  # type: ignore[no-untyped-def]
    """Energy of every load, its slope and its curvature, where there is room for them."""
    laid = _room(loads)
    rows = np.empty((loads.groups.shape[1] + 1, 6))
    for case in range(len(poses)):
        energy = _lay(loads, case, poses[case], laid)
        if len(energies):
            energies[case] = energy
        if len(slopes):
            _slope(loads, case, laid, slopes[case])
        if len(bends):
            _curvature(loads, case, laid, bends[case], rows)


@_compiled
def _move(pose, step, share, to):  # type: ignore[no-untyped-def]
    """Shift and turn a pose by a share of a step, exactly: by Rodrigues, column by column."""
    for a in range(3):
        to[a] = pose[a] + share * step[a]
    x, y, z = share * step[3], share * step[4], share * step[5]
    angle = sqrt(x * x + y * y + z * z)
    # So small a turn has the sine 1 of its own and no more.
    s, c = 1.0, 0.0
    if angle > _SMALL:
        x, y, z = x / angle, y / angle, z / angle
        s, c = sin(angle), 1.0 - cos(angle)
    for b in range(3):
        u, v, w = pose[3 + b], pose[6 + b], pose[9 + b]
        p, q, r = y * w - z * v, z * u - x * w, x * v - y * u
        to[3 + b] = u + s * p + c * (y * r - z * q)
        to[6 + b] = v + s * q + c * (z * p - x * r)
        to[9 + b] = w + s * r + c * (x * q - y * p)


@_compiled
def _newton(bent, low, slope, step):  # type: ignore[no-untyped-def]
    """Newton's step, by Cholesky's triangle; whether there is one, being stiff all ways."""
    most = 0.0
    for a in range(6):
        most = max(most, abs(bent[a, a]))
    for a in range(6):
        for b in range(a + 1):
            left = bent[a, b]
            for c in range(b):
                left -= low[a, c] * low[b, c]
            if a != b:
                low[a, b] = left / low[b, b]
            elif left > STILL_RTOL * most:
                low[a, a] = sqrt(left)
            else:
                return False
    for a in range(6):
        left = -slope[a]
        for c in range(a):
            left -= low[a, c] * step[c]
        step[a] = left / low[a, a]
    for back in range(6):
        a = 5 - back
        left = step[a]
        for c in range(a + 1, 6):
            left -= low[c, a] * step[c]
        step[a] = left / low[a, a]
    return True


@_compiled
def _downhill(bent, slope, step):  # type: ignore[no-untyped-def]
    """Newton's step with every eigenvalue taken positive: always downhill."""
    values, vectors = np.linalg.eigh(bent)
    floor = STILL_RTOL * max(values[5], 1.0)
    for a in range(6):
        step[a] = 0.0
    for c in range(6):
        along = 0.0
        for a in range(6):
            along += vectors[a, c] * slope[a]
        along /= max(abs(values[c]), floor)
        for a in range(6):
            step[a] -= vectors[a, c] * along


@_compiled
def _first_share(step):  # type: ignore[no-untyped-def]
    turning = sqrt(step[3] * step[3] + step[4] * step[4] + step[5] * step[5])
    moving = sqrt(step[0] * step[0] + step[1] * step[1] + step[2] * step[2])
    return 1.0 / max(1.0, turning / FARTHEST_STEP, moving / FARTHEST_MOVE)


@_compiled
def _noises(loads, case):  # type: ignore[no-untyped-def]
    """Energy and force that rounding alone makes. [J], [N]

    Energies are as large as weight times length; hard shoes make forces of places.
    """
    longest, reach, hardest = 0.0, 0.0, 0.0
    for i in range(loads.lines.shape[1]):
        square = 0.0
        for a in range(3):
            square += loads.lines[case, i, a] * loads.lines[case, i, a]
        longest = max(longest, square)
    for j in range(loads.shoes.shape[1]):
        hardest = max(hardest, loads.shoes[case, j, 7])
        for a in range(3):
            reach = max(reach, abs(loads.shoes[case, j, a]))
    return 1e-13 * loads.body[case, WEIGHT] * sqrt(longest), 1e-15 * hardest * reach


@_compiled
def _walk(loads, case, pose, step, falls, tried, laid):  # type: ignore[no-untyped-def]  # noqa: PLR0913, PLR0917
    """Take as much of a step as lowers the energy; whether any does. `falls` is its slope."""
    noise, _ = _noises(loads, case)
    energy, share = _lay(loads, case, pose, laid), _first_share(step)
    for _ in range(MOST_HALVINGS):
        _move(pose, step, share, tried)
        if _lay(loads, case, tried, laid) <= energy + 1e-4 * share * falls + noise:
            for a in range(12):
                pose[a] = tried[a]
            return True
        share /= 2
    return False


@_compiled
def _near(pose, bounds):  # type: ignore[no-untyped-def]
    """Whether a pose is within a tilt and a shift."""
    away = sqrt(pose[0] * pose[0] + pose[1] * pose[1] + pose[2] * pose[2])
    return pose[11] >= bounds[0] and away <= bounds[1]


@_compiled
def descents(loads, poses, bounds, balanced):  # type: ignore[no-untyped-def]
    """Bring every load down from its pose, in place, until nothing pulls any more.

    `bounds` holds the cosine of the tilt and the shift beyond which it is followed no more.
    """
    laid = _room(loads)
    rows = np.empty((loads.groups.shape[1] + 1, 6))
    slope, step, scale, tried = np.empty(6), np.empty(6), np.ones(6), np.empty(12)
    bent, low = np.empty((6, 6)), np.empty((6, 6))
    for case in range(len(poses)):
        pose = poses[case]
        for a in range(3):
            scale[3 + a] = 1.0 / loads.body[case, REACH]
        _, rounding = _noises(loads, case)
        enough = BALANCE_RTOL * loads.body[case, WEIGHT] + rounding
        for _ in range(MOST_STEPS):
            _lay(loads, case, pose, laid)
            _slope(loads, case, laid, slope)
            square = 0.0
            for a in range(6):
                slope[a] *= scale[a]
                square += slope[a] * slope[a]
            if sqrt(square) <= enough:
                balanced[case] = True
                break
            # What is not a number goes nowhere.
            if not (square < np.inf and _near(pose, bounds)):
                break
            _curvature(loads, case, laid, bent, rows)
            for a in range(6):
                for b in range(6):
                    bent[a, b] *= scale[a] * scale[b]
            if not _newton(bent, low, slope, step):
                _downhill(bent, slope, step)
            falls = 0.0
            for a in range(6):
                falls += step[a] * slope[a]
                step[a] *= scale[a]
            if not _walk(loads, case, pose, step, falls, tried, laid):
                break
