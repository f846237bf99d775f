"""A square shaft as a mesh beside the plan, whole or broken."""

from collections.abc import Collection
from pathlib import Path

import numpy as np

# Walls as they are met going round anticlockwise from above: east, north, west, south.
WALLS = ("east", "north", "west", "south")
Cell = tuple[str, int, int]


def room(
    half: float, top: float, *, cell: float = 0.5, without: Collection[Cell] = ()
) -> tuple[np.ndarray, np.ndarray]:
    """Vertices and faces of four walls that look into the room, in cells; some left out.

    A cell is (wall, column to the left as seen from inside, row upward).
    """
    across, up = round(2 * half / cell), round(top / cell)
    vertices: list[tuple[float, float, float]] = []
    faces: list[tuple[int, int, int]] = []
    for k, wall in enumerate(WALLS):
        c, s = (1, 0, -1, 0)[k], (0, 1, 0, -1)[k]
        for i in range(across):
            for j in range(up):
                if (wall, i, j) in without:
                    continue
                n = len(vertices)
                for a, b in ((i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)):
                    y = -half + a * cell
                    vertices.append((c * half - s * y, s * half + c * y, b * cell))
                # Clockwise as seen from outside.
                faces += [(n, n + 2, n + 1), (n, n + 3, n + 2)]
    points, number = np.unique(np.array(vertices), axis=0, return_inverse=True)
    return points, number.reshape(-1)[np.array(faces)]


def write_obj(path: Path, vertices: np.ndarray, faces: np.ndarray, scale: float = 1.0) -> Path:
    """Write a mesh as text, so that nothing in it is mended on the way."""
    lines = [f"v {x!r} {y!r} {z!r}" for x, y, z in (np.asarray(vertices) * scale).tolist()]
    lines += [f"f {a + 1} {b + 1} {c + 1}" for a, b, c in np.asarray(faces).tolist()]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path
