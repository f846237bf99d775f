"""Where the least gap is at one place of the raise."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from towerlift.motion.passages import Floats, Passage
from towerlift.nesting.curves import GapCurve


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearest:
    """The least gap of all pairs at one heel height.

    Attributes
    ----------
    moving, against : str
        The two bodies.
    mark, opposite_mark : str
        The two members.
    gap : float
        Least gap of the step that holds this heel; negative is overlap. [m]
    certified : bool
        Whether the step's gap is certified.
    where, opposite : (3,) float
        Its two ends, shaft frame. [m]
    """

    moving: str
    against: str
    mark: str
    opposite_mark: str
    gap: float
    certified: bool
    where: Floats
    opposite: Floats


def nearest_gap(gaps: Iterable[GapCurve], passage: Passage, share: float) -> Nearest | None:
    """Least gap of all pairs at one place of a passage.

    Parameters
    ----------
    gaps : iterable of GapCurve
        Of the whole raise.
    passage : Passage
        Where the raise is.
    share : float
        Share of its travel that is done.

    Returns
    -------
    nearest : Nearest or None
        None where no curve was reckoned for the passage.
    """
    found = [
        _at(curve, passage.heel(curve.moving, share))
        for curve in gaps
        if curve.passage == passage.index
        and curve.moving in passage.standing
        and len(curve.least)
    ]
    return min(found, key=lambda nearest: nearest.gap, default=None)


def _at(curve: GapCurve, heel: float) -> Nearest:
    rising = curve.heels[-1] >= curve.heels[0]
    bounds = curve.heels if rising else -curve.heels
    sought = heel if rising else -heel
    step = int(np.clip(np.searchsorted(bounds, sought, "right") - 1, 0, len(curve.least) - 1))
    # The witness belongs to the heel at which the step is tightest: carry it to this one.
    carried = np.array([0.0, 0.0, heel - curve.at[step]])
    return Nearest(
        moving=curve.moving,
        against=curve.against,
        mark=curve.marks[step],
        opposite_mark=curve.opposite_marks[step],
        gap=float(curve.least[step]),
        certified=bool(curve.certified[step]),
        where=curve.where[step] + carried,
        opposite=curve.opposite[step],
    )
