"""Rope tackles: advantage with sheave friction, block loads, stretch and snatch.

The fall leaves the fixed (top) block, so that a tackle of n parts turns the rope
over n sheaves. The sheave ratio is the tension after a sheave over the tension
before it, in the sense of hauling from the load to the hands: 1 without friction.
"""

from math import cos, pi, sqrt
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

# One number, or many at once.
Number = TypeVar("Number", float, NDArray[np.float64])


def raising_advantage(parts: int, sheave_ratio: float) -> float:
    r"""Load raised over pull in the fall.

    .. math:: W / P = \kappa (1 - \kappa^n) / (1 - \kappa)

    Parameters
    ----------
    parts : int
        Parts of rope at the moving block.
    sheave_ratio : float
        Above 0 and not above 1.

    Returns
    -------
    advantage : float
        `parts` without friction, less with it.

    Raises
    ------
    ValueError
        If there are no parts or the ratio is not a share.

    Notes
    -----
    Each part carries the ratio times the one before it, from the fall inward; the
    advantage is the sum of them.
    """
    _require_tackle(parts, sheave_ratio)
    return sum(sheave_ratio**part for part in range(1, parts + 1))


def lowering_advantage(parts: int, sheave_ratio: float) -> float:
    r"""Load lowered over hold in the fall.

    .. math:: W / P = \kappa^{-1} (\kappa^{-n} - 1) / (\kappa^{-1} - 1)

    Parameters
    ----------
    parts : int
        Parts of rope at the moving block.
    sheave_ratio : float
        Above 0 and not above 1.

    Returns
    -------
    advantage : float
        `parts` without friction, more with it.

    Raises
    ------
    ValueError
        If there are no parts or the ratio is not a share.
    """
    _require_tackle(parts, sheave_ratio)
    return sum(sheave_ratio**-part for part in range(1, parts + 1))


def manual_pull(load: float, parts: int, *, sheaves: int, loss: float = 0.1) -> float:
    """Pull that raises a load by the riggers' rule of a share of the load a sheave.

    Parameters
    ----------
    load : float
        Weight at the moving block. [N]
    parts : int
        Parts of rope at the moving block.
    sheaves : int
        Sheaves that the rope turns over, lead blocks included.
    loss : float
        Share of the load that each sheave adds.

    Returns
    -------
    pull : float
        At the end of the fall. [N]

    Raises
    ------
    ValueError
        If there are no parts, or anything else is negative.

    References
    ----------
    .. [1] US Navy, NAVEDTRA Steelworker, "Allowance for friction".
    """
    if not (parts >= 1 and load >= 0 and sheaves >= 0 and loss >= 0):
        raise ValueError(
            f"a tackle needs parts, and nothing negative: got {parts} parts, {load} N, "
            f"{sheaves} sheaves, loss {loss}"
        )
    return load * (1 + loss * sheaves) / parts


def pull_after_leads(fall: float, leads: int, sheave_ratio: float) -> float:
    """Pull at the capstan that hauls a fall over lead blocks.

    Parameters
    ----------
    fall : float
        Pull in the fall where it leaves the tackle. [N]
    leads : int
        Lead blocks on the way.
    sheave_ratio : float
        Above 0 and not above 1.

    Returns
    -------
    pull : float
        Where the rope comes onto the barrel. [N]

    Raises
    ------
    ValueError
        If `leads` or `fall` is negative or the ratio is not a share.
    """
    _require_tackle(1, sheave_ratio)
    if not (leads >= 0 and fall >= 0):
        raise ValueError(f"leads and fall must not be negative, got {leads}, {fall} N")
    return fall / sheave_ratio**leads


def block_resultant(pull: float, included_angle: float) -> float:
    r"""Load on a block that turns a rope.

    .. math:: R = 2 P \cos(\varphi / 2)

    Parameters
    ----------
    pull : float
        In the rope. [N]
    included_angle : float
        Between the two parts of rope: 0 where they lie side by side, pi where the
        rope goes straight on. [rad]

    Returns
    -------
    resultant : float
        Along the bisector of the included angle. [N]

    Raises
    ------
    ValueError
        If the angle is not from 0 to pi.

    Notes
    -----
    The pull is taken alike on both sides; use the greater of the two.
    """
    if not 0 <= included_angle <= pi:
        raise ValueError(f"included angle must be from 0 to pi, got {included_angle} rad")
    return 2 * pull * cos(included_angle / 2)


def top_block_load(load: float, fall: float) -> float:
    """Load of a tackle on what it hangs from, with the fall led straight down. [N]"""
    return load + fall


def tackle_stiffness(
    length: Number, fall_length: float, *, parts: int, axial_stiffness: Number
) -> Number:
    r"""Stiffness of a tackle at its lower block, parts and held fall in series.

    .. math:: 1/k = L / (n E A) + L_f / (n^2 E A)

    Parameters
    ----------
    length : float or (..., n) float
        From block to block. [m]
    fall_length : float
        From the top block to where the rope is held; 0 if held at the block. [m]
    parts : int
        Parts of rope at the moving block.
    axial_stiffness : float or (n,) float
        EA of the rope. [N]

    Returns
    -------
    stiffness : float or (..., n) float
        [N/m]

    Raises
    ------
    ValueError
        If `length`, `parts` or `axial_stiffness` is not positive or `fall_length`
        is negative.

    Notes
    -----
    Exact for equal tension in all parts: a rope at rest, with the friction of the
    sheaves left out.
    """
    given = np.all(length > 0) and np.all(axial_stiffness > 0)
    if not (given and fall_length >= 0 and parts >= 1):
        raise ValueError(
            f"tackle must have length, parts and stiffness, got {length} m, fall "
            f"{fall_length} m, {parts} parts, EA {axial_stiffness} N"
        )
    compliance = length / (parts * axial_stiffness)
    compliance += fall_length / (parts**2 * axial_stiffness)
    return 1 / compliance


def snatch_tight(drop: float, stretch: float) -> float:
    r"""Greatest load over resting load when a tight rope is let go and caught again.

    .. math:: \varphi = 1 + \sqrt{2 h / \delta}

    Parameters
    ----------
    drop : float
        Fall of the load. [m]
    stretch : float
        Stretch of the tackle under the load at rest. [m]

    Returns
    -------
    factor : float
        Never below 1. An upper bound: the turning capstan takes up some of the blow.

    Raises
    ------
    ValueError
        If `drop` is negative or `stretch` is not positive.
    """
    _require_drop(drop, stretch)
    return 1 + sqrt(2 * drop / stretch)


def snatch_slack(drop: float, stretch: float) -> float:
    r"""Greatest load over resting load when the load falls on a slack rope.

    .. math:: \varphi = 1 + \sqrt{1 + 2 h / \delta}

    Parameters
    ----------
    drop : float
        Free fall of the load before the rope is tight. [m]
    stretch : float
        Stretch of the tackle under the load at rest. [m]

    Returns
    -------
    factor : float
        Never below 2.

    Raises
    ------
    ValueError
        If `drop` is negative or `stretch` is not positive.
    """
    _require_drop(drop, stretch)
    return 1 + sqrt(1 + 2 * drop / stretch)


def two_block_margin(distance: float, shortest: float) -> float:
    """Rise that is left before the blocks of a tackle meet.

    Parameters
    ----------
    distance : float
        From the centre of the top block to the lift point. [m]
    shortest : float
        That distance when the blocks touch. [m]

    Returns
    -------
    margin : float
        Negative where the blocks would have to pass into each other. [m]
    """
    return distance - shortest


def _require_tackle(parts: int, sheave_ratio: float) -> None:
    if not parts >= 1:
        raise ValueError(f"a tackle has at least one part, got {parts}")
    if not 0 < sheave_ratio <= 1:
        raise ValueError(f"sheave ratio must be above 0 and not above 1, got {sheave_ratio}")


def _require_drop(drop: float, stretch: float) -> None:
    if not (drop >= 0 and stretch > 0):
        raise ValueError(
            f"drop must not be negative and stretch be positive, got {drop} m, {stretch} m"
        )
