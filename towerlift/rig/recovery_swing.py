"""What would hold a section that hangs free when a tackle is lost."""

import numpy as np

from towerlift.rig.curves import HangCurve
from towerlift.rig.sudden import SUDDEN


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
