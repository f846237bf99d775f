"""Exact distance between two triangles, and how deep two triangles cross.

A triangle is a row of nine coordinates. Every distance is measured between two
points that lie on the triangles, so rounding can never show a gap smaller than
one that is there; a triangle without area is taken as the segments it has.
"""
# ruff: noqa: PLR0913, PLR0917
# A kernel takes rows and scalars: records of them would be copied in the inner loop.

import math

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps.cache import inlined, kernel

Array = NDArray[np.float64]

# Below this squared sine two edges count as nearly parallel and the place where
# they cross is worked out from cross products, which do not cancel.
NEARLY_PARALLEL = 1e-6
# Below this they are parallel to the last digit, and any place will do.
PARALLEL = 1e-30


@inlined
def _clamp(value: float) -> float:
    if value < 0.0:
        return 0.0
    if value > 1.0:
        return 1.0
    return value


@kernel
def segment_places(
    a: Array, i: int, k: int, b: Array, j: int, m: int
) -> tuple[float, float, float]:
    """Nearest places of edge `k` of triangle a[i] and edge `m` of b[j].

    Returns the squared distance and the fractions along both edges. Solves the
    normal equations of the two lines, holds the first fraction to the edge,
    follows with the second, and corrects the first if the second was held:
    the squared distance is convex, so this ends at its minimum.
    """
    p, q = 3 * k, 3 * m
    p_end, q_end = 3 * ((k + 1) % 3), 3 * ((m + 1) % 3)
    dx, dy, dz = (
        a[i, p_end] - a[i, p],
        a[i, p_end + 1] - a[i, p + 1],
        a[i, p_end + 2] - a[i, p + 2],
    )
    ex, ey, ez = (
        b[j, q_end] - b[j, q],
        b[j, q_end + 1] - b[j, q + 1],
        b[j, q_end + 2] - b[j, q + 2],
    )
    rx, ry, rz = a[i, p] - b[j, q], a[i, p + 1] - b[j, q + 1], a[i, p + 2] - b[j, q + 2]
    dd = dx * dx + dy * dy + dz * dz
    ee = ex * ex + ey * ey + ez * ez
    de = dx * ex + dy * ey + dz * ez
    dr = dx * rx + dy * ry + dz * rz
    er = ex * rx + ey * ry + ez * rz
    s = 0.0
    across = dd * ee - de * de
    if across > NEARLY_PARALLEL * dd * ee:
        s = _clamp((de * er - dr * ee) / across)
    elif dd > 0.0 and ee > 0.0:
        nx, ny, nz = dy * ez - dz * ey, dz * ex - dx * ez, dx * ey - dy * ex
        across = nx * nx + ny * ny + nz * nz
        if across > PARALLEL * dd * ee:
            cx, cy, cz = ry * ez - rz * ey, rz * ex - rx * ez, rx * ey - ry * ex
            s = _clamp(-(cx * nx + cy * ny + cz * nz) / across)
    t = (de * s + er) / ee if ee > 0.0 else 0.0
    if not 0.0 < t < 1.0:
        t = _clamp(t)
        s = _clamp((de * t - dr) / dd) if dd > 0.0 else 0.0
    x, y, z = rx + s * dx - t * ex, ry + s * dy - t * ey, rz + s * dz - t * ez
    return x * x + y * y + z * z, s, t


@inlined
def _normal(a: Array, i: int) -> tuple[float, float, float]:
    """Cross product of two edges: twice the area, along the normal."""
    ux, uy, uz = a[i, 3] - a[i, 0], a[i, 4] - a[i, 1], a[i, 5] - a[i, 2]
    vx, vy, vz = a[i, 6] - a[i, 0], a[i, 7] - a[i, 1], a[i, 8] - a[i, 2]
    return uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx


@kernel
def _shares(
    a: Array, i: int, n: tuple[float, float, float], x: float, y: float, z: float
) -> tuple[bool, float, float, float]:
    """Whether (x, y, z) lies over the face of a[i], and its three area shares."""
    share = (0.0, 0.0, 0.0)
    total = n[0] * n[0] + n[1] * n[1] + n[2] * n[2]
    if not total > 0.0:
        return False, share[0], share[1], share[2]
    first = second = third = 0.0
    for k in range(3):
        p, q = 3 * ((k + 1) % 3), 3 * ((k + 2) % 3)
        ex, ey, ez = a[i, q] - a[i, p], a[i, q + 1] - a[i, p + 1], a[i, q + 2] - a[i, p + 2]
        wx, wy, wz = x - a[i, p], y - a[i, p + 1], z - a[i, p + 2]
        area = (
            (ey * wz - ez * wy) * n[0] + (ez * wx - ex * wz) * n[1] + (ex * wy - ey * wx) * n[2]
        )
        if area < 0.0:
            return False, 0.0, 0.0, 0.0
        if k == 0:
            first = area
        elif k == 1:
            second = area
        else:
            third = area
    whole = first + second + third
    if not whole > 0.0:
        return False, 0.0, 0.0, 0.0
    return True, first / whole, second / whole, third / whole


@kernel
def _face_gap2(
    a: Array, i: int, k: int, b: Array, j: int, n: tuple[float, float, float], foot: Array
) -> float:
    """Squared distance from corner `k` of a[i] to its foot within b[j], else inf."""
    x, y, z = a[i, 3 * k], a[i, 3 * k + 1], a[i, 3 * k + 2]
    over, s0, s1, s2 = _shares(b, j, n, x, y, z)
    if not over:
        return math.inf
    gap2 = 0.0
    for c in range(3):
        # The foot is made of the corners, never of the normal: on a sliver the
        # normal is noise, but this point still lies on the triangle.
        foot[c] = s0 * b[j, c] + s1 * b[j, 3 + c] + s2 * b[j, 6 + c]
        gap2 += (a[i, 3 * k + c] - foot[c]) ** 2
    return gap2


@kernel
def _heights(
    a: Array, i: int, b: Array, j: int, n: tuple[float, float, float], h: Array
) -> bool:
    """Heights of the corners of a[i] over the plane of b[j]; True if it crosses."""
    below = above = False
    for k in range(3):
        h[k] = (
            n[0] * (a[i, 3 * k] - b[j, 0])
            + n[1] * (a[i, 3 * k + 1] - b[j, 1])
            + n[2] * (a[i, 3 * k + 2] - b[j, 2])
        )
        below = below or h[k] <= 0.0
        above = above or h[k] >= 0.0
    return below and above


@kernel
def _pierced(
    a: Array, i: int, b: Array, j: int, n: tuple[float, float, float], h: Array, where: Array
) -> bool:
    """Whether an edge of a[i] passes through the face of b[j], and where."""
    for k in range(3):
        m = (k + 1) % 3
        if (h[k] <= 0.0) == (h[m] <= 0.0):
            continue
        s = h[k] / (h[k] - h[m])
        x = a[i, 3 * k] + s * (a[i, 3 * m] - a[i, 3 * k])
        y = a[i, 3 * k + 1] + s * (a[i, 3 * m + 1] - a[i, 3 * k + 1])
        z = a[i, 3 * k + 2] + s * (a[i, 3 * m + 2] - a[i, 3 * k + 2])
        over, _, _, _ = _shares(b, j, n, x, y, z)
        if over:
            where[0], where[1], where[2] = x, y, z
            where[3], where[4], where[5] = x, y, z
            return True
    return False


@kernel
def triangle_gap2(a: Array, i: int, b: Array, j: int, limit2: float, places: Array) -> float:
    """Squared least distance between triangles a[i] and b[j], if below `limit2`.

    Exact: the least distance lies between an edge and an edge or between a
    corner and a face, or is zero where an edge passes through a face; all of
    these are tried. Returns inf if the distance is not below `limit2`. Writes
    the nearest points, first on a then on b, into `places` (at least 9 long;
    the last three are scratch) only if it is.
    """
    na, nb = _normal(a, i), _normal(b, j)
    ha, hb = np.empty(3), np.empty(3)
    crosses_b = _heights(a, i, b, j, nb, ha)
    crosses_a = _heights(b, j, a, i, na, hb)
    if (crosses_a and crosses_b) and (
        _pierced(a, i, b, j, nb, ha, places) or _pierced(b, j, a, i, na, hb, places)
    ):
        return 0.0
    best = limit2
    foot = places[6:9]
    size_a = na[0] * na[0] + na[1] * na[1] + na[2] * na[2]
    size_b = nb[0] * nb[0] + nb[1] * nb[1] + nb[2] * nb[2]
    for k in range(3):
        if ha[k] * ha[k] < best * size_b:
            gap2 = _face_gap2(a, i, k, b, j, nb, foot)
            if gap2 < best:
                best = gap2
                for c in range(3):
                    places[c], places[3 + c] = a[i, 3 * k + c], foot[c]
        if hb[k] * hb[k] < best * size_a:
            gap2 = _face_gap2(b, j, k, a, i, na, foot)
            if gap2 < best:
                best = gap2
                for c in range(3):
                    places[c], places[3 + c] = foot[c], b[j, 3 * k + c]
    for k in range(3):
        for m in range(3):
            gap2, s, t = segment_places(a, i, k, b, j, m)
            if gap2 < best:
                best = gap2
                k1, m1 = (k + 1) % 3, (m + 1) % 3
                for c in range(3):
                    places[c] = a[i, 3 * k + c] + s * (a[i, 3 * k1 + c] - a[i, 3 * k + c])
                    places[3 + c] = b[j, 3 * m + c] + t * (b[j, 3 * m1 + c] - b[j, 3 * m + c])
    return best if best < limit2 else math.inf


@kernel
def _overlap(a: Array, i: int, b: Array, j: int, x: float, y: float, z: float) -> float:
    """Least shift along (x, y, z) that parts the two triangles along it. [m]"""
    length2 = x * x + y * y + z * z
    low_a = low_b = math.inf
    high_a = high_b = -math.inf
    for k in range(3):
        p = x * a[i, 3 * k] + y * a[i, 3 * k + 1] + z * a[i, 3 * k + 2]
        q = x * b[j, 3 * k] + y * b[j, 3 * k + 1] + z * b[j, 3 * k + 2]
        low_a, high_a = min(low_a, p), max(high_a, p)
        low_b, high_b = min(low_b, q), max(high_b, q)
    return min(high_a - low_b, high_b - low_a) / math.sqrt(length2)


@kernel
def triangle_depth(a: Array, i: int, b: Array, j: int) -> float:
    """Length of the least shift that parts triangles a[i] and b[j]; 0 if apart.

    Exact for two triangles: the shifts that leave them touching fill a convex
    solid whose faces are square to one of the two normals or to an edge of
    each, so the least shift out of it is along one of these eleven directions.
    """
    least = math.inf
    na, nb = _normal(a, i), _normal(b, j)
    for n in (na, nb):
        if n[0] * n[0] + n[1] * n[1] + n[2] * n[2] > 0.0:
            least = min(least, _overlap(a, i, b, j, n[0], n[1], n[2]))
    for k in range(3):
        p, q = 3 * k, 3 * ((k + 1) % 3)
        dx, dy, dz = a[i, q] - a[i, p], a[i, q + 1] - a[i, p + 1], a[i, q + 2] - a[i, p + 2]
        for m in range(3):
            r, t = 3 * m, 3 * ((m + 1) % 3)
            ex, ey, ez = b[j, t] - b[j, r], b[j, t + 1] - b[j, r + 1], b[j, t + 2] - b[j, r + 2]
            x, y, z = dy * ez - dz * ey, dz * ex - dx * ez, dx * ey - dy * ex
            size = (dx * dx + dy * dy + dz * dz) * (ex * ex + ey * ey + ez * ez)
            if x * x + y * y + z * z > 1e-20 * size:
                least = min(least, _overlap(a, i, b, j, x, y, z))
    return max(0.0, least) if least < math.inf else 0.0
