"""What a solid is here: triangles that know their member, and mass properties."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps import Hole
from towerlift.plan.bodies import Face

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Solid:
    """Triangles of one body, each knowing the member it belongs to.

    Attributes
    ----------
    name : str
        Section, fixture or fit-out item, or "shaft".
    vertices : (n, 3) float
        In the body's own frame: (x, y, s) for sections and fit-out, shaft frame
        for fixtures and the shaft. [m]
    faces : (m, 3) int
        Corner numbers, anticlockwise from outside.
    members : (m,) int
        For each triangle, its place in `marks`.
    marks : tuple of str
        Member marks; for the shaft, what part of which wall it is.
    parts : tuple of str
        Kind of piece of each mark, same order.
    closed : bool
        Whether every member is a closed solid; a scan or a survey loft is not.
    """

    name: str
    vertices: Floats
    faces: Ints
    members: Ints
    marks: tuple[str, ...]
    parts: tuple[str, ...]
    closed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MassProperties:
    """Mass, centre of gravity and inertia of a body.

    Attributes
    ----------
    mass : float
        [kg]
    centre : (3,) float
        Centre of gravity, frame of the body. [m]
    inertia : (3, 3) float
        About the centre of gravity, axes of the frame. [kg m^2]
    tolerance : float
        Share by which the mass may be out.
    """

    mass: float
    centre: Floats
    inertia: Floats
    tolerance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A solid that moves or is fitted, with its mass.

    Attributes
    ----------
    solid : Solid or None
        None for an item that is only a mass.
    mass : MassProperties
        Members, shell and lumped masses together, by the scale where weighed.
    """

    solid: Solid | None
    mass: MassProperties


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Unseen:
    """A hole of the scan that nobody has said is really there.

    Attributes
    ----------
    number : int
        From 1, the longest rim first.
    hole : Hole
        Its rim, shaft frame.
    face : Face
        Wall it is in, by compass as seen from the plumb datum.
    round : bool
        Whether it goes all round the room: a stretch between two pieces of the scan.
    """

    number: int
    hole: Hole
    face: Face
    round: bool

    @property
    def mark(self) -> str:
        """What findings and pictures call it."""
        low, high = float(self.hole.rim[:, 2].min()), float(self.hole.rim[:, 2].max())
        height = f"z {low:.2f} to {high:.2f}" if high - low >= 0.005 else f"z {low:.2f}"
        where = "all round" if self.round else f"{self.face} wall"
        return f"hole {self.number} in the scan, {where}, {height} m"

    @property
    def words(self) -> str:
        """The same, with its size."""
        long, wide, _ = self.hole.sizes.tolist()
        return f"{self.mark}, {long:.2f} by {wide:.2f} m"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shapes:
    """Everything the plan draws.

    Attributes
    ----------
    shaft : Solid
        Inside faces of the masonry; a closed room is not assumed.
    unseen : tuple of Unseen
        Holes of its scan, which nobody has said are really there.
    sections, fit_out : mapping of str to Piece
        Own frame (x, y, s).
    fixtures : mapping of str to Solid
        Shaft frame.
    fitted_on : mapping of str to str
        Section that each fit-out item belongs to.
    """

    shaft: Solid
    unseen: tuple[Unseen, ...]
    sections: Mapping[str, Piece]
    fit_out: Mapping[str, Piece]
    fixtures: Mapping[str, Solid]
    fitted_on: Mapping[str, str]


def combine(pieces: Sequence[tuple[MassProperties, Floats]]) -> MassProperties:
    """Mass properties of several bodies together.

    Parameters
    ----------
    pieces : sequence of (MassProperties, (3,) float)
        Each body with the place of its own origin in the common frame, axes
        parallel. [m]

    Returns
    -------
    together : MassProperties
        In the common frame. The tolerance is the mass-weighted mean, since parts
        reckoned from the same densities are wrong together.

    Raises
    ------
    ValueError
        If there is nothing to combine.
    """
    if not pieces:
        raise ValueError("nothing to combine")
    mass = sum(piece.mass for piece, _ in pieces)
    centres = np.array([piece.centre + origin for piece, origin in pieces])
    masses = np.array([piece.mass for piece, _ in pieces])
    centre = masses @ centres / mass
    inertia = np.zeros((3, 3))
    for (piece, _), place in zip(pieces, centres, strict=True):
        arm = place - centre
        inertia += piece.inertia + piece.mass * (arm @ arm * np.eye(3) - np.outer(arm, arm))
    tolerance = sum(piece.mass * piece.tolerance for piece, _ in pieces) / mass
    return MassProperties(mass=mass, centre=centre, inertia=inertia, tolerance=tolerance)
