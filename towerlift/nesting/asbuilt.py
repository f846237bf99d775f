"""The trial assembly in place of the drawing."""

from dataclasses import dataclass

import numpy as np

from towerlift.nesting.curves import Floats
from towerlift.nesting.faces import FaceGaps
from towerlift.nesting.movement import FACES
from towerlift.nesting.reaches import Reach
from towerlift.plan.bodies import Face, Section


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What was measured, at the middle of every band of a section.

    Attributes
    ----------
    outward : (n, 4) float
        How much farther out than drawn each face stands. [m]
    shear, twist : (n,) float
        Half of the angle by which it is out of square, and its turn. [rad]
    """

    outward: Floats
    shear: Floats
    twist: Floats


def measured_bands(section: Section, reach: Reach) -> Measured | None:
    """Measurements of the trial assembly, joined linearly over the bands.

    Parameters
    ----------
    section : Section
        Holds them; beyond the first and the last height they stay as there.
    reach : Reach
        Its reach as drawn, which gives the half widths.

    Returns
    -------
    measured : Measured or None
        None where nothing was measured.

    Notes
    -----
    A square of half width a whose diagonals are d1 and d2 long is sheared by the angle
    (d1 - d2) / (2 sqrt(2) a); each side leans by half of it.
    """
    rows = section.as_built
    if not rows:
        return None
    middles = 0.5 * (reach.edges[:-1] + reach.edges[1:])
    heights = np.array([row.s for row in rows])
    table = np.array([(r.north, r.east, r.south, r.west, r.diagonals, r.twist) for r in rows])
    columns = [np.interp(middles, heights, column) for column in table.T]
    farthest = np.where(np.isfinite(reach.farthest), reach.farthest, 0.0)
    half = np.maximum(farthest.mean(axis=1), 1e-6)
    return Measured(
        outward=np.column_stack(columns[:4]),
        shear=columns[4] / (4.0 * np.sqrt(2.0) * half),
        twist=columns[5],
    )


def as_built_reach(section: Section, reach: Reach) -> Reach:
    """Reach of a section as it was put together in the yard.

    Parameters
    ----------
    section : Section
        Its measurements; without any the drawing stands.
    reach : Reach
        As drawn.

    Returns
    -------
    reach : Reach
        Each member moved with the face, the shear and the twist of its height.

    Notes
    -----
    For small angles a shear k moves y by k x and x by k y, a twist t moves y by t x and
    x by - t y; a piece is moved by what its farther end gives.
    """
    measured = measured_bands(section, reach)
    if measured is None:
        return reach
    north, east, south, west = (reach.reach[:, :, k] for k in range(4))
    along_x, along_y = (east, -west), (north, -south)
    # North moves with x, east with y; the far sides of the same with the sign turned.
    lean_y = measured.shear + measured.twist
    lean_x = measured.shear - measured.twist
    with np.errstate(invalid="ignore"):
        moved = np.stack(
            [
                _most(lean_y, along_x),
                _most(lean_x, along_y),
                _most(-lean_y, along_x),
                _most(-lean_x, along_y),
            ],
            axis=2,
        )
    moved = np.where(np.isfinite(reach.reach), moved, 0.0)
    return reach.grown(moved + measured.outward[None])


def _most(lean: Floats, ends: tuple[Floats, Floats]) -> Floats:
    return np.asarray(np.maximum(lean[None] * ends[0], lean[None] * ends[1]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What the trial assembly costs on one face.

    Attributes
    ----------
    face : Face
        Which.
    drawn, built : float
        Least to spare by the drawing and as measured. [m]
    height : float
        Height of the shaft at which least is left as measured. [m]
    """

    face: Face
    drawn: float
    built: float
    height: float

    @property
    def lost(self) -> float:
        """What it takes; negative where it gives. [m]"""
        return self.drawn - self.built


def as_built_cost(drawn: FaceGaps, built: FaceGaps) -> tuple[Cost, ...]:
    """What changed when measurements took the place of the drawing.

    Parameters
    ----------
    drawn, built : FaceGaps
        Of the same section and travel.

    Returns
    -------
    costs : tuple of Cost
        One for each face that anything comes by.
    """
    costs = []
    for k, face in enumerate(FACES):
        before, after = drawn.worst(face), built.worst(face)
        if before is not None and after is not None:
            costs.append(
                Cost(
                    face=face,
                    drawn=float(drawn.spare[before[0], k]),
                    built=float(built.spare[after[0], k]),
                    height=float(built.edges[after[0] : after[0] + 2].mean()),
                )
            )
    return tuple(costs)
