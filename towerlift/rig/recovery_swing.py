"""How far a section that hangs free swings when a tackle is lost, and what would hold it."""

import numpy as np
from numpy.typing import NDArray

from towerlift.mechanics.hang import HungLoad, settle
from towerlift.motion.raises import Raise
from towerlift.rig.curves import Floats, HangCurve
from towerlift.rig.sudden import SUDDEN

Ints = NDArray[np.int64]


def leans_after_loss(raise_: Raise, curve: HangCurve, rows: Ints) -> Floats:
    """How far a section that hangs free leans once the worst of its lines is lost.

    Parameters
    ----------
    raise_ : Raise
        Says how the sections stand in the shaft.
    curve : HangCurve
        Loads along a passage; it must rest at the samples.
    rows : (m,) int
        Samples.

    Returns
    -------
    leans : (m,) float
        Angle at rest from the true hang; not a number where it topples. [rad]
    """
    pose = raise_.shaft_from_section(0.0)
    centre = curve.centre[rows] @ pose[:3, :3].T + pose[:3, 3]
    centre[:, 2] += curve.heels[rows]
    lost = np.arange(len(curve.lines))[None] == curve.lost_line[rows][:, None]
    hang = settle(
        HungLoad(
            upper=curve.upper[rows],
            lower=curve.lower[rows],
            stiffness=curve.tensions[rows] / curve.stretch[rows],
            weight=curve.weight[rows],
            centre=centre,
            groups=np.arange(len(curve.lines)),
        ),
        lost=lost,
    )
    return np.asarray(np.hypot(hang.turn[:, 0], hang.turn[:, 1]))


def swing(lean: float, height: float) -> float:
    """How far a point swings aside when a tackle goes all at once.

    Parameters
    ----------
    lean : float
        At rest after the loss. [rad]
    height : float
        Of the point above or below the lift points. [m]

    Returns
    -------
    swing : float
        Twice what it is at rest: energy, with nothing that damps it. [m]
    """
    return SUDDEN * lean * abs(height)


def side_pull(curve: HangCurve, row: int, apart: float) -> float:
    r"""Pull of side ropes at head and heel that stand in for a lost tackle's moment.

    .. math:: P = \varphi T r / h

    Parameters
    ----------
    curve : HangCurve
        Loads along a passage.
    row : int
        Sample.
    apart : float
        Height from the lower to the upper ropes. [m]

    Returns
    -------
    pull : float
        On one rope of either, level, along the lean; twice the static sum, since the loss
        is sudden. [N]

    Raises
    ------
    ValueError
        If the ropes are not apart.

    Notes
    -----
    Derived here. A rope at the head alone would draw the whole section aside, since lines
    hold a level pull only by their slant: it takes a couple.
    """
    if not apart > 0:
        raise ValueError(f"side ropes pull at two heights, got {apart} m between them")
    line = int(curve.lost_line[row])
    lower = curve.lower[row]
    arm = float(np.linalg.norm((lower[line] - lower.mean(axis=0))[:2]))
    return SUDDEN * float(curve.tensions[row, line]) * arm / apart
