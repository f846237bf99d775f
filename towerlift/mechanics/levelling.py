"""Level of four corners: what tilt shoes allow, and who hauls to take it out."""

from dataclasses import dataclass
from math import floor

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

STOP, ABORT = 0.5, 0.75


def level_allowance(play: ArrayLike, spacing: float, span: ArrayLike) -> Floats:
    r"""Difference of level between opposite sides at which shoes take up all their play.

    .. math:: \delta = 2 c b / a

    Parameters
    ----------
    play : float or array
        Clearance left at each shoe on each side, swelling taken off. [m]
    spacing : float
        Distance between the marks on opposite sides. [m]
    span : float or array
        Height from the lower to the upper shoe that bear. [m]

    Returns
    -------
    allowance : array
        None where no play is left. [m]

    Raises
    ------
    ValueError
        If `spacing` or `span` is not positive.

    Notes
    -----
    Geometry of a rigid body: it leans by 2 c / a from shoe to shoe. Never rounded up.
    """
    apart = np.asarray(span, dtype=float)
    if not (spacing > 0 and np.all(apart > 0)):
        raise ValueError(f"spacing and span must be positive, got {spacing}, {apart} m")
    left = np.maximum(np.asarray(play, dtype=float), 0.0)
    return np.asarray(2 * left * spacing / apart)


def mark_mm(allowance: float, share: float) -> int:
    """A mark for a rod or a water level, in whole millimetres, rounded down.

    Parameters
    ----------
    allowance : float
        From :func:`level_allowance`. [m]
    share : float
        `STOP` or `ABORT`.

    Returns
    -------
    mark : int
        [mm]
    """
    return floor(allowance * share * 1e3 + 1e-9)


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """What the captain calls after the corners have been measured.

    Attributes
    ----------
    pawls : (n,) int
        Pawl stops that each corner is to heave; 0 holds.
    level : float
        Greatest difference of level between the plane's corners. [m]
    twist : float
        How far each corner is out of the plane of the others, plus and minus. [m]
    left : float
        Greatest difference of level that the heaves leave. [m]
    """

    pawls: NDArray[np.int64]
    level: float
    twist: float
    left: float

    @property
    def holds(self) -> NDArray[np.bool_]:
        """Corners that hold while the others heave, (n,)."""
        return np.asarray(self.pawls == 0)


def level_call(corners: Floats, heights: Floats, pawl_rise: float, *, ratio: float) -> Call:
    r"""Which corner holds, which heaves, and by how many pawls.

    Parameters
    ----------
    corners : (n, 2) float
        Where the corners are, three at least and not in one line. [m]
    heights : (n,) float
        As measured. [m]
    pawl_rise : float
        Rise of a tackle for one pawl stop, all tackles of the corner together. [m]
    ratio : float
        Tilting stiffness of the lines over the toppling stiffness; infinite where it
        hangs from above its centre of gravity.

    Returns
    -------
    call : Call
        Nobody pays out.

    Raises
    ------
    ValueError
        If the plane has no answer, the rise is not positive or the ratio not above 1.

    Notes
    -----
    Derived here. Four corners of a rigid body lie in a plane: what is measured off it is
    error of reading, or of the marks, and is not hauled at. The lines must be hauled by
    less than the tilt they take out, :math:`(r - 1) / r` of it, since toppling adds the
    rest. They are hauled along a plane, so that no twist is locked in.
    """
    n = len(heights)
    plane = np.column_stack([corners, np.ones(n)])
    if not (n >= 3 and corners.shape == (n, 2) and np.linalg.matrix_rank(plane) == 3):
        raise ValueError("three corners at least, not in one line, are needed for a level")
    if not (np.all(np.isfinite(heights)) and pawl_rise > 0 and ratio > 1):
        raise ValueError(
            f"heights must be numbers, rise positive and ratio above 1, got {heights}, "
            f"{pawl_rise} m, {ratio}"
        )
    slope = np.linalg.lstsq(plane, heights)[0]
    fitted = plane @ slope
    share = 1.0 if np.isinf(ratio) else (ratio - 1) / ratio
    wanted = (fitted.max() - fitted) * share
    pawls = np.rint(wanted / pawl_rise).astype(np.int64)
    after = plane @ np.linalg.lstsq(plane, fitted + pawls * pawl_rise / share)[0]
    return Call(
        pawls=pawls,
        level=float(np.ptp(fitted)),
        twist=float(np.abs(heights - fitted).max()),
        left=float(np.ptp(after)),
    )
