"""Loads of a lift along its travel, as numbers to draw and to check."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class HangCurve:
    """How the hauled sections hang from their lift, along one passage.

    Attributes
    ----------
    stage, lift : str
        Stage of the passage and name of the lift.
    passage : int
        Index of the passage in the raise.
    hauled : tuple of str
        Sections on the hook, the hauled one first.
    heels : (k,) float
        Heel heights of the hauled section, in the order travelled. [m]
    weight : (k,) float
        Weight on the lift points, without guide friction. [N]
    centre : (k, 3) float
        Centre of gravity of all that hangs, frame of the hauled section. [m]
    height : (k,) float
        Height of the centre of gravity above the lift points. [m]
    lengths : (k, n) float
        Length of each tackle, top block to lift point. [m]
    tilt_stiffness : (k,) float
        Tilting stiffness of the lines in the softest direction, toppling not yet
        taken off. [N m/rad]
    ratio : (k,) float
        Least tilting stiffness of the lines over the toppling stiffness W h_G;
        infinite where the centre of gravity is below the lift points, 0 where crews
        push by feel, since ropes that are not held have no stiffness.
    rests : (k,) bool
        Whether it comes to rest on its lines near true, with the ropes held. Where it
        does not, tilt, tensions, stretch and pull are not a number.
    tilt : (k, 2) float
        Tilt at rest about east and north from the offset of the centre of gravity
        and unequal stiffness, amplified by toppling. [rad]
    tensions : (k, n) float
        Load on each tackle, in the order of the lift's lines, hanging at rest. [N]
    stretch : (k, n) float
        Stretch of each tackle under that load. [m]
    pull : (k, n) float
        Pull at each capstan while hauling, worst corner and friction included. [N]
    lost_ratio : (k,) float
        The ratio at rest after the worst loss of one line; 0 where it topples.
    lost_line : (k,) int
        Which line that is, by its place in `lines`.
    lost_tension : (k,) float
        Greatest load on any tackle at rest after the loss of any one line; infinite
        where it topples. A sudden loss gives more. [N]
    lost_tensions : (k, n) float
        Greatest load on each tackle at rest after the loss of any other. [N]
    spacing : float
        Least distance between lift points on opposite sides. [m]
    lines : tuple of str
        Tackle names, in order.
    upper, lower : (k, n, 3) float
        Top block and lift point of each tackle, shaft frame, hanging true. [m]
    """

    stage: str
    lift: str
    passage: int
    hauled: tuple[str, ...]
    heels: Floats
    weight: Floats
    centre: Floats
    height: Floats
    lengths: Floats
    tilt_stiffness: Floats
    ratio: Floats
    rests: NDArray[np.bool_]
    tilt: Floats
    tensions: Floats
    stretch: Floats
    pull: Floats
    lost_ratio: Floats
    lost_line: NDArray[np.int64]
    lost_tension: Floats
    lost_tensions: Floats
    spacing: float
    lines: tuple[str, ...]
    upper: Floats
    lower: Floats
