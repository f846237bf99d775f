"""Invented shafts, sections and paths for measuring and trying the engine."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps import Path

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

SHAFT_HEIGHT = 18.0
SHAFT_HALF = 3.0
SECTION_HALF = 2.95
SECTION_HEIGHT = 4.0
# A shaft out of plumb, and walls that wander by this much about their plane.
LEAN = 0.05
WANDER = 0.03
ROUGH = 0.0015


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mesh:
    """Corners, faces and the member of each face."""

    vertices: Array
    faces: Ints
    members: Ints


def join(parts: list[Mesh]) -> Mesh:
    """One mesh of many, each part a member of its own."""
    starts = np.cumsum([0, *(len(part.vertices) for part in parts[:-1])])
    return Mesh(
        vertices=np.concatenate([part.vertices for part in parts]),
        faces=np.concatenate([p.faces + s for p, s in zip(parts, starts, strict=True)]),
        members=np.concatenate([np.full(len(p.faces), k) for k, p in enumerate(parts)]),
    )


def grid_faces(rows: int, columns: int, *, wrapped: bool = False) -> Ints:
    """Two triangles for each cell of a grid of (rows + 1) x (columns + 1) points."""
    width = columns if wrapped else columns + 1
    i, j = (index.ravel() for index in np.indices((rows, columns)))
    right = (j + 1) % width
    a, b, c, d = i * width + j, i * width + right, (i + 1) * width + right, (i + 1) * width + j
    return np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])


def bar(start: Array, end: Array, depths: tuple[float, float], *, piece: float = 0.2) -> Mesh:
    """A straight bar of rectangular section with its faces cut to `piece`.

    Its first depth lies square to its length and, as near as can be, level.
    """
    along = end - start
    length = float(np.linalg.norm(along))
    w = along / length
    seed = np.array([0.0, 0.0, 1.0]) if abs(w[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    u = np.cross(seed, w)
    u = u / np.linalg.norm(u)
    axes = np.stack([u, np.cross(w, u), w])
    sizes = np.array([depths[0], depths[1], length])
    parts = []
    for axis in range(3):
        p, q = (axis + 1) % 3, (axis + 2) % 3
        n_p, n_q = (max(1, int(np.ceil(sizes[k] / piece))) for k in (p, q))
        s, t = np.meshgrid(
            np.linspace(-0.5, 0.5, n_p + 1), np.linspace(-0.5, 0.5, n_q + 1), indexing="ij"
        )
        for side in (-0.5, 0.5):
            local = np.zeros((s.size, 3))
            local[:, p], local[:, q], local[:, axis] = s.ravel(), t.ravel(), side
            faces = grid_faces(n_p, n_q)
            parts.append(
                Mesh(
                    vertices=(local * sizes) @ axes + 0.5 * (start + end),
                    faces=faces if side > 0 else faces[:, ::-1],
                    members=np.zeros(len(faces), np.int64),
                )
            )
    joined = join(parts)
    return Mesh(
        vertices=joined.vertices, faces=joined.faces, members=np.zeros_like(joined.members)
    )


def _frame(half: float) -> list[Mesh]:
    """Posts, girts and braces of four walls, their outer faces at `half`."""
    inner = half - 0.125
    parts = []
    for side in range(4):
        c, s = np.cos(side * np.pi / 2), np.sin(side * np.pi / 2)
        out, along = np.array([c, s, 0.0]), np.array([-s, c, 0.0])
        up = np.array([0.0, 0.0, 1.0])
        stands = np.array([-1.0, -0.5, 0.0, 0.5]) * inner
        for u in stands:
            foot = out * inner + along * u
            parts.append(bar(foot, foot + up * SECTION_HEIGHT, (0.25, 0.25)))
        for z in (0.1, 1.35, 2.65, 3.9):
            middle, reach = out * inner + up * z, along * (half - 0.3)
            parts.append(bar(middle - reach, middle + reach, (0.2, 0.2)))
        for bay, u in enumerate(stands):
            for level in range(3):
                foot = out * (half - 0.08) + along * (u + 0.15) + up * (0.2 + level * 1.25)
                head = foot + along * (0.5 * inner - 0.3) + up * 1.1
                if (bay + level) % 2:
                    foot, head = foot + up * 1.1, head - up * 1.1
                parts.append(bar(foot, head, (0.12, 0.12)))
    return parts


def framed_section(*, half: float = SECTION_HALF) -> Mesh:
    """Square timber frame: corner and middle posts, girts and braces."""
    return join(_frame(half))


def boarded_section(*, half: float = SECTION_HALF) -> Mesh:
    """The frame set back behind upright boards 30 mm thick."""
    parts = _frame(half - 0.03)
    n_boards = int(2 * half / 0.2)
    width = 2 * half / n_boards
    for side in range(4):
        c, s = np.cos(side * np.pi / 2), np.sin(side * np.pi / 2)
        out, along = np.array([c, s, 0.0]), np.array([-s, c, 0.0])
        for k in range(n_boards):
            foot = out * (half - 0.015) + along * (-half + (k + 0.5) * width)
            head = foot + np.array([0.0, 0.0, SECTION_HEIGHT])
            depths = (0.03, width - 0.006) if side % 2 else (width - 0.006, 0.03)
            parts.append(bar(foot, head, depths, piece=0.12))
    return join(parts)


def round_section(*, half: float = SECTION_HALF, n_boards: int = 60) -> Mesh:
    """Upright boards around a circle, on three rings of short bars."""
    parts = []
    for k in range(n_boards):
        turn = 2 * np.pi * k / n_boards
        out = np.array([np.cos(turn), np.sin(turn), 0.0])
        width = 2 * np.pi * (half - 0.03) / n_boards - 0.006
        board = bar(
            np.zeros(3), np.array([0.0, 0.0, SECTION_HEIGHT]), (width, 0.03), piece=0.12
        )
        # `bar` lays its first depth along -y for an upright bar.
        spin = np.array([[out[0], -out[1], 0.0], [out[1], out[0], 0.0], [0.0, 0.0, 1.0]])
        parts.append(
            Mesh(
                vertices=board.vertices @ spin.T + out * (half - 0.03),
                faces=board.faces,
                members=board.members,
            )
        )
        following = 2 * np.pi * (k + 1) / n_boards
        ahead = np.array([np.cos(following), np.sin(following), 0.0])
        for z in (0.3, 2.0, 3.7):
            up = np.array([0.0, 0.0, z])
            parts.append(bar((half - 0.2) * out + up, (half - 0.2) * ahead + up, (0.15, 0.15)))
    return join(parts)


def _wander(along: Array, up: Array, seed: int) -> Array:
    """A smooth surface between -1 and 1, of a few long waves."""
    rng = np.random.default_rng(seed)
    height = np.zeros(np.broadcast(along, up).shape)
    for _ in range(8):
        k_along, k_up = 2 * np.pi / rng.uniform(1.5, 8.0, 2)
        shift_along, shift_up = rng.uniform(0, 2 * np.pi, 2)
        wave = np.sin(k_along * along + shift_along) * np.sin(k_up * up + shift_up)
        height += rng.uniform(0.4, 1.0) * wave
    surface: Array = height / np.abs(height).max()
    return surface


def square_shaft(n_faces: int, *, seed: int = 1) -> Mesh:
    """Inner face of a leaning square shaft with wandering, rough walls.

    Five openings are left out; each wall is a member.
    """
    cell = np.sqrt(8 * SHAFT_HALF * SHAFT_HEIGHT * 2 / n_faces)
    n_side = max(4, round(2 * SHAFT_HALF / cell))
    n_up = max(4, round(n_faces / (8 * n_side)))
    rng = np.random.default_rng(seed)
    up = np.linspace(0, SHAFT_HEIGHT, n_up + 1)
    along = np.linspace(-SHAFT_HALF, SHAFT_HALF, n_side, endpoint=False)
    points = np.empty((n_up + 1, 4 * n_side, 3))
    for side in range(4):
        c, s = np.cos(side * np.pi / 2), np.sin(side * np.pi / 2)
        off = WANDER * _wander(along[None, :], up[:, None], seed + side)
        off += np.clip(rng.normal(0, ROUGH, off.shape), -3 * ROUGH, 3 * ROUGH)
        # The first column is the corner, shared with the wall before.
        out, across = SHAFT_HALF + off, np.broadcast_to(along, off.shape).copy()
        across[:, 0] -= off[:, 0]
        block = points[:, side * n_side : (side + 1) * n_side]
        block[..., 0] = c * out - s * across + LEAN * up[:, None] / SHAFT_HEIGHT
        block[..., 1] = s * out + c * across
        block[..., 2] = up[:, None]
    faces = grid_faces(n_up, 4 * n_side, wrapped=True)[:, ::-1]
    columns = np.tile(np.arange(4 * n_side), n_up)
    rows = np.repeat(np.arange(n_up), 4 * n_side)
    columns, rows = np.tile(columns, 2), np.tile(rows, 2)
    walls, u, z = columns // n_side, along[columns % n_side], up[rows]
    kept = np.ones(len(faces), bool)
    for wall, u0, u1, z0, z1 in OPENINGS:
        kept &= ~((walls == wall) & (u > u0) & (u < u1) & (z >= z0) & (z < z1))
    return Mesh(
        vertices=points.reshape(-1, 3), faces=faces[kept], members=walls[kept].astype(np.int64)
    )


OPENINGS = [
    (0, -0.6, 0.6, 0.0, 2.2),
    (1, -0.5, 0.5, 5.0, 6.8),
    (2, -1.5, -0.5, 9.0, 10.8),
    (3, -0.5, 0.7, 12.5, 14.5),
    (0, 0.5, 1.5, 13.0, 14.6),
]


def round_shaft(n_faces: int, *, seed: int = 1, half: float = SHAFT_HALF) -> Mesh:
    """Inner face of a leaning round shaft with a wandering, rough wall."""
    cell = np.sqrt(2 * np.pi * half * SHAFT_HEIGHT * 2 / n_faces)
    n_around = max(12, round(2 * np.pi * half / cell))
    n_up = max(4, round(n_faces / (2 * n_around)))
    rng = np.random.default_rng(seed)
    up = np.linspace(0, SHAFT_HEIGHT, n_up + 1)[:, None]
    turn = np.linspace(0, 2 * np.pi, n_around, endpoint=False)[None, :]
    off = np.zeros((n_up + 1, n_around))
    for lobe in range(2, 8):
        phase, k_up = rng.uniform(0, 2 * np.pi), 2 * np.pi / rng.uniform(2, 8)
        off += np.sin(lobe * turn + phase) * np.sin(k_up * up + phase) * WANDER / 5
    off += np.clip(rng.normal(0, ROUGH, off.shape), -3 * ROUGH, 3 * ROUGH)
    points = np.stack(
        [
            (half + off) * np.cos(turn) + LEAN * up / SHAFT_HEIGHT,
            (half + off) * np.sin(turn),
            np.broadcast_to(up, off.shape),
        ],
        axis=2,
    )
    faces = grid_faces(n_up, n_around, wrapped=True)[:, ::-1]
    return Mesh(
        vertices=points.reshape(-1, 3), faces=faces, members=np.zeros(len(faces), np.int64)
    )


def turned(mesh: Mesh, turn: Array) -> Mesh:
    """The mesh with every corner turned about the origin."""
    return Mesh(
        vertices=np.ascontiguousarray(mesh.vertices @ turn.T),
        faces=mesh.faces,
        members=mesh.members,
    )


def rotation(vector: tuple[float, float, float]) -> Array:
    """Rotation by a turn about an axis, both in one vector. [rad]"""
    angle = float(np.linalg.norm(vector))
    if angle == 0:
        return np.eye(3)
    x, y, z = np.asarray(vector) / angle
    skew = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    turn: Array = np.eye(3) + np.sin(angle) * skew + (1 - np.cos(angle)) * skew @ skew
    return turn


def raise_path(
    steps: int = 600, *, tilt_deg: float = 0.05, yaw_deg: float = 0.04, drift: float = 0.004
) -> Path:
    """A raise that follows the lean of the shaft and sways about its middle."""
    share = np.linspace(0.0, 1.0, steps + 1)
    heels = 0.3 + 13.4 * share
    middle = np.array([0.0, 0.0, SECTION_HEIGHT / 2])
    poses = np.tile(np.eye(4), (steps + 1, 1, 1))
    for k, s in enumerate(share):
        turn = rotation(
            (
                float(np.radians(tilt_deg) * np.sin(2 * np.pi * 1.7 * s)),
                float(np.radians(tilt_deg) * np.cos(2 * np.pi * 1.3 * s) + LEAN / SHAFT_HEIGHT),
                float(np.radians(yaw_deg) * np.sin(2 * np.pi * 2.1 * s)),
            )
        )
        place = np.array(
            [
                LEAN * (heels[k] + middle[2]) / SHAFT_HEIGHT
                + drift * np.sin(2 * np.pi * 3.0 * s),
                drift * np.sin(2 * np.pi * 2.3 * s + 1.0),
                heels[k],
            ]
        )
        poses[k, :3, :3] = turn
        poses[k, :3, 3] = place + middle - turn @ middle
    return Path(stations=heels, poses=poses)


def turned_path(path: Path, turn: Array) -> Path:
    """The same raise in a world turned about the origin; the body keeps its frame."""
    world = np.eye(4)
    world[:3, :3] = turn
    return Path(stations=path.stations, poses=world @ path.poses)
