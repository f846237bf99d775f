"""Gap along the travel, as numbers to draw and to check."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class GapCurve:
    """Least gap between one moving body and one other, along one passage.

    Attributes
    ----------
    stage : str
        Stage of the passage.
    passage : int
        Index of the passage in the raise.
    moving : str
        Section (with its fit-out) that moves.
    against : str
        "shaft", a section, a fixture.
    heels : (k + 1,) float
        Heel heights of `moving` that bound the steps, lowest first. [m]
    least : (k,) float
        Least gap within each step, reached at a witness; negative is overlap. [m]
    proven : (k,) float
        What the gap is proven not to be below, within each step. [m]
    certified : (k,) bool
        Whether the step's least gap is certified; if not it must not be relied on.
    at : (k,) float
        Heel at which the least gap of the step occurs. [m]
    where : (k, 3) float
        Witness on the moving body, shaft frame. [m]
    opposite : (k, 3) float
        Witness on the other body, shaft frame. [m]
    marks, opposite_marks : tuple of str
        Member of either body at the witness of each step, "section: mark" where
        the mark belongs to a fit-out item.
    """

    stage: str
    passage: int
    moving: str
    against: str
    heels: Floats
    least: Floats
    proven: Floats
    certified: NDArray[np.bool_]
    at: Floats
    where: Floats
    opposite: Floats
    marks: tuple[str, ...]
    opposite_marks: tuple[str, ...]
