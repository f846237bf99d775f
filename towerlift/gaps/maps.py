"""Gap maps: the least distance over a whole path for every cell of a face."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from towerlift.gaps.body import Body
from towerlift.gaps.inside import enclosed
from towerlift.gaps.members import grouped_parts, measure_part
from towerlift.gaps.minimum import PathGap, Sides, ask
from towerlift.gaps.path import Path
from towerlift.gaps.pose import whole
from towerlift.gaps.sweep import DEFAULT_WORKERS

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

CELL = 0.25
MAP_EPS = 1e-3
SIDES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Cells:
    """How a body is divided into cells, in its own frame.

    The body is developed on four sides about its own vertical axis: side k
    looks along the turn of k right angles from x. A piece belongs to the side
    it is farthest out on.

    Attributes
    ----------
    size : float
        Edge of a cell, along the side and up. [m]
    """

    size: float = CELL

    def __post_init__(self) -> None:
        if not self.size > 0:
            raise ValueError(f"size of a cell must be positive, got {self.size} m")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GapMap:
    """Least distance over a whole path, cell by cell; rows are cells.

    Attributes
    ----------
    size : float
        Edge of a cell. [m]
    sides : (n,) int
        Side, 0 to 3: the turn of that many right angles from x.
    along : (n,) float
        Middle of the cell along its side, to the left as seen from inside. [m]
    up : (n,) float
        Middle of the cell above the body's origin. [m]
    gaps : tuple of PathGap
        Certified least distance of all that lies in the cell.
    """

    size: float
    sides: Ints
    along: Array
    up: Array
    gaps: tuple[PathGap, ...]

    @property
    def lower(self) -> Array:
        """Certified lower bound of each cell. [m]"""
        return np.array([gap.lower for gap in self.gaps])

    @property
    def upper(self) -> Array:
        """Distance attained in each cell. [m]"""
        return np.array([gap.upper for gap in self.gaps])

    @property
    def at(self) -> Array:
        """Station at which each cell is nearest."""
        return np.array([gap.at for gap in self.gaps])


UNIFORM = Cells()


def moving_map(
    moving: Body,
    fixed: Body,
    path: Path,
    *,
    cells: Cells = UNIFORM,
    skip_pairs: ArrayLike | None = None,
) -> GapMap:
    """Least distance over the whole path for every cell of the moving body.

    Parameters
    ----------
    moving, fixed : Body
        The bodies.
    path : Path
        Path of the moving body.
    cells : Cells, optional
        How the moving body is divided.
    skip_pairs : (p, 2) int or None, optional
        Members (moving, fixed) that are meant to touch and are left out.

    Returns
    -------
    gap_map : GapMap
        Each cell certified to within 1 mm, with members, place and station.

    Raises
    ------
    ValueError
        If `skip_pairs` names a member that is not there, or leaves a cell with
        nothing to be measured against.
    """
    places, groups = divide(moving, cells.size)
    parts = grouped_parts(moving, groups)
    pairs = [(part, whole(fixed)) for part in parts]
    return _measured((moving, fixed, path), pairs, (cells, places), skip_pairs)


def fixed_map(
    moving: Body,
    fixed: Body,
    path: Path,
    *,
    cells: Cells = UNIFORM,
    skip_pairs: ArrayLike | None = None,
) -> GapMap:
    """Least distance over the whole path for every cell of the fixed body.

    Parameters
    ----------
    moving, fixed : Body
        The bodies.
    path : Path
        Path of the moving body.
    cells : Cells, optional
        How the fixed body is divided.
    skip_pairs : (p, 2) int or None, optional
        Members (moving, fixed) that are meant to touch and are left out.

    Returns
    -------
    gap_map : GapMap
        Each cell certified to within 1 mm, with members, place and station.

    Raises
    ------
    ValueError
        If `skip_pairs` names a member that is not there, or leaves a cell with
        nothing to be measured against.
    """
    places, groups = divide(fixed, cells.size)
    parts = grouped_parts(fixed, groups)
    pairs = [(whole(moving), part) for part in parts]
    return _measured((moving, fixed, path), pairs, (cells, places), skip_pairs)


def divide(body: Body, size: float) -> tuple[Ints, Ints]:
    """Divide a body into cells, as `Cells` tells.

    Parameters
    ----------
    body : Body
        The body.
    size : float
        Edge of a cell. [m]

    Returns
    -------
    places, groups : (n, 3) int, (p,) int
        Side, column and row of each cell in use, and the cell of each piece of
        the body's tree.
    """
    corners = body.tree.triangles.reshape(-1, 3, 3).mean(axis=1)
    middles = corners @ body.frame.T + body.centre
    flat = middles - np.array([body.centre[0], body.centre[1], 0.0])
    turns = np.arange(SIDES) * np.pi / 2
    outward = np.outer(flat[:, 0], np.cos(turns)) + np.outer(flat[:, 1], np.sin(turns))
    sides = outward.argmax(axis=1)
    along = -flat[:, 0] * np.sin(turns[sides]) + flat[:, 1] * np.cos(turns[sides])
    keys = np.stack(
        [sides, np.floor(along / size), np.floor(flat[:, 2] / size)], axis=1
    ).astype(np.int64)
    places, groups = np.unique(keys, axis=0, return_inverse=True)
    return places, groups.reshape(-1)


def _measured(
    bodies: tuple[Body, Body, Path],
    pairs: Sequence[Sides],
    division: tuple[Cells, Ints],
    skip_pairs: ArrayLike | None,
) -> GapMap:
    moving, fixed, path = bodies
    cells, places = division
    question = ask(moving, fixed, path, (MAP_EPS, skip_pairs))
    inside = enclosed(moving, fixed, path.poses[0], question.skip)
    with ThreadPoolExecutor(DEFAULT_WORKERS) as pool:
        gaps = tuple(pool.map(lambda sides: measure_part(question, sides, inside), pairs))
    middles = np.asarray(cells.size * (places[:, 1:] + 0.5), dtype=np.float64)
    return GapMap(
        size=cells.size,
        sides=places[:, 0],
        along=middles[:, 0],
        up=middles[:, 1],
        gaps=gaps,
    )
