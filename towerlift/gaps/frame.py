"""The frame a body's boxes are square to, taken from its dominant walls."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Only speed hangs on the frame, so a sample of the faces is enough.
SAMPLE = 40_000
NEAR = np.cos(np.radians(12.0))
SQUARE = np.sin(np.radians(12.0))
BINS = 24


def _normals(vertices: Array, faces: NDArray[np.int64]) -> tuple[Array, Array]:
    step = max(1, len(faces) // SAMPLE)
    corners = vertices[faces[::step]]
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    areas = np.linalg.norm(cross, axis=1)
    flat = areas > 0
    return cross[flat] / areas[flat, None], areas[flat]


def _fullest(normals: Array, areas: Array) -> Array:
    """Direction, either way round, that most area is square to."""
    cells = np.round((normals + 1.0) * (BINS / 2)).astype(np.int64)
    keys = (cells[:, 0] * (BINS + 1) + cells[:, 1]) * (BINS + 1) + cells[:, 2]
    _, place = np.unique(keys, return_inverse=True)
    direction: Array = normals[
        np.argmax(areas * (place == np.argmax(np.bincount(place, areas))))
    ]
    for _ in range(4):
        along = normals @ direction
        near = np.abs(along) > NEAR
        mean = (normals[near] * (areas[near] * np.sign(along[near]))[:, None]).sum(axis=0)
        direction = mean / np.linalg.norm(mean)
    return direction


def squareness(vertices: Array, faces: NDArray[np.int64], frame: Array) -> float:
    """Share of the area whose normal lies within 12 degrees of an axis of `frame`.

    Parameters
    ----------
    vertices : (n, 3) float
        Corners. [m]
    faces : (m, 3) int
        Rows of `vertices`.
    frame : (3, 3) float
        Axes as columns.

    Returns
    -------
    share : float
        From 0 to 1. [1]
    """
    normals, areas = _normals(vertices, faces)
    if not len(areas):
        return 1.0
    near = np.abs(normals @ frame).max(axis=1) > NEAR
    return float(areas[near].sum() / areas.sum())


def dominant_frame(vertices: Array, faces: NDArray[np.int64]) -> Array:
    """Axes that most of the area of a mesh is square to.

    Parameters
    ----------
    vertices : (n, 3) float
        Corners. [m]
    faces : (m, 3) int
        Rows of `vertices`.

    Returns
    -------
    frame : (3, 3) float
        Right-handed axes as columns, in the order and sense nearest to the
        body's own; the body's own axes where no others hold more area.
    """
    own = np.eye(3)
    normals, areas = _normals(vertices, faces)
    if not len(areas):
        return own
    first = _fullest(normals, areas)
    across = np.abs(normals @ first) < SQUARE
    if not across.any():
        return own
    sides = normals[across] - np.outer(normals[across] @ first, first)
    second = _fullest(sides / np.linalg.norm(sides, axis=1, keepdims=True), areas[across])
    second = second - (second @ first) * first
    second = second / np.linalg.norm(second)
    axes = np.stack([first, second, np.cross(first, second)], axis=1)
    frame = _nearest_to_own(axes)
    if squareness(vertices, faces, frame) <= squareness(vertices, faces, own) + 0.02:
        return own
    return frame


def _nearest_to_own(axes: Array) -> Array:
    """The same axes, in the order and sense nearest to x, y, z."""
    order = [0, 0, 0]
    left = np.abs(axes.copy())
    for _ in range(3):
        row, column = np.unravel_index(np.argmax(left), left.shape)
        order[row] = int(column)
        left[row, :] = -1.0
        left[:, column] = -1.0
    frame = axes[:, order]
    frame = frame * np.where(np.diag(frame) < 0, -1.0, 1.0)
    if np.linalg.det(frame) < 0:
        frame[:, 2] = -frame[:, 2]
    return np.ascontiguousarray(frame)
