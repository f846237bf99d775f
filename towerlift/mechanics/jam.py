"""Whether a guided section jams in its shaft like a drawer pulled at one side."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from towerlift.errors import NoEquilibriumError


def guide_force(pull: ArrayLike, offset: ArrayLike, spacing: ArrayLike) -> NDArray[np.float64]:
    """Force of each of two shoes that hold a section from turning.

    Parameters
    ----------
    pull : float or array
        Resultant of the lines. [N]
    offset : float or array
        Level distance of the pull from the axis of the guides. [m]
    spacing : float or array
        Height from the lower to the upper shoe. [m]

    Returns
    -------
    force : array
        Square to the guide, alike and opposite at both shoes. [N]
    """
    arm = np.abs(np.asarray(offset, dtype=float)) / np.asarray(spacing, dtype=float)
    return np.asarray(np.asarray(pull, dtype=float) * arm)


def jam_share(
    friction: ArrayLike, offset_x: ArrayLike, offset_y: ArrayLike, spacing: ArrayLike
) -> NDArray[np.float64]:
    r"""How far towards jamming a section is: it locks at 1, whatever the pull.

    .. math:: j = 2 \mu (|e_x| + |e_y|) / a

    Parameters
    ----------
    friction : float or array
        Friction coefficient of shoe on guide.
    offset_x, offset_y : float or array
        Level distances of the resultant of the lines from the weight. [m]
    spacing : float or array
        Height from the lower to the upper shoe. [m]

    Returns
    -------
    share : array
        Below 1 it slides.

    Raises
    ------
    ValueError
        If `friction` is negative or `spacing` is not positive.

    Notes
    -----
    Shoes on the four faces resist the two offsets apart, so that these add and do
    not combine as a diagonal. The two contacts in each direction are on opposite
    faces. The pull cancels: no haul frees a section that is locked.
    """
    mu, a = np.asarray(friction, dtype=float), np.asarray(spacing, dtype=float)
    if not (np.all(mu >= 0) and np.all(a > 0)):
        raise ValueError(
            f"friction must not be negative and spacing be positive, got {mu}, {a} m"
        )
    return np.asarray(2 * mu * (np.abs(offset_x) + np.abs(offset_y)) / a)


def drawer_pull(weight: float, share: float) -> float:
    r"""Pull that moves a guided section up, against the friction that it causes itself.

    .. math:: V = W / (1 - j)

    Parameters
    ----------
    weight : float
        Weight of the section, or the resistance on the axis. [N]
    share : float
        From :func:`jam_share`.

    Returns
    -------
    pull : float
        Vertical resultant of the lines. [N]

    Raises
    ------
    NoEquilibriumError
        If it is locked: no pull moves it.
    """
    if not 0 <= share < 1:
        raise NoEquilibriumError(
            f"locked in its guides: jam share {share:.3g} is not below 1; no pull moves it"
        )
    return weight / (1 - share)
