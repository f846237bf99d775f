"""Overturning, uplift and side reactions of a section that stands, linear in the wind.

A section stands on supports that push and never pull. Wind from any direction gives a
force and a moment about the level of the supports; what each limit leaves of it, and so
the highest wind pressure, follows without iteration.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

Floats = NDArray[np.float64]
# A resisting arm below this is none. [m]
NO_ARM = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Push:
    """Wind on all that a level carries, for one pascal where the gust is told.

    Attributes
    ----------
    directions : (d,) float
        Ways the wind blows, anticlockwise from east. [rad]
    force : (d,) float
        Level force. [N/Pa]
    moment : (d,) float
        Its moment about the level of the supports. [N m/Pa]
    """

    directions: Floats
    force: Floats
    moment: Floats

    def __post_init__(self) -> None:
        d = len(self.directions)
        for name in ("directions", "force", "moment"):
            array = getattr(self, name)
            if array.shape != (d,) or not np.all(np.isfinite(array)):
                raise ValueError(f"{name} must be finite and ({d},), got {array.shape}")
        if not (np.all(self.force >= 0) and np.all(self.moment >= 0)):
            raise ValueError("wind that pushes down its way has no negative force or moment")

    @property
    def along(self) -> Floats:
        """Unit vectors down the wind, (d, 2)."""
        return np.stack([np.cos(self.directions), np.sin(self.directions)], axis=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """A body at rest on supports that only push.

    Attributes
    ----------
    weight : float
        [N]
    centre : (2,) float
        Where its weight acts, seen from above. [m]
    supports : (n, 2) float
        Where it stands, in the same frame; three at least, not in a line. [m]
    """

    weight: float
    centre: Floats
    supports: Floats

    def __post_init__(self) -> None:
        if not self.weight > 0:
            raise ValueError(f"weight must be positive, got {self.weight} N")
        if self.centre.shape != (2,) or self.supports.ndim != 2 or self.supports.shape[1] != 2:
            raise ValueError(
                f"centre must be (2,) and supports (n, 2), got {self.centre.shape} and "
                f"{self.supports.shape}"
            )
        if not (np.all(np.isfinite(self.centre)) and np.all(np.isfinite(self.supports))):
            raise ValueError("centre and supports must be finite")


def edges_of(stand: Stand) -> tuple[Floats, Floats]:
    """Edges about which a body can tip.

    Parameters
    ----------
    stand : Stand
        Body and supports.

    Returns
    -------
    outward : (e, 2) float
        Unit normal of each edge of the hull of the supports.
    arms : (e,) float
        Distance of the weight from the edge, negative where it is outside. [m]

    Raises
    ------
    ValueError
        If the supports are fewer than three or lie in a line.
    """
    try:
        hull = ConvexHull(stand.supports)
    except (QhullError, ValueError, IndexError) as error:
        raise ValueError(
            f"supports must be three at least and not in a line, got {stand.supports.tolist()}"
        ) from error
    outward, offset = hull.equations[:, :2], hull.equations[:, 2]
    return np.asarray(outward), np.asarray(-(outward @ stand.centre) - offset)


def stands(stand: Stand) -> bool:
    """Whether the supports make an area at all: three at least, not in a line.

    Parameters
    ----------
    stand : Stand
        Body and supports.

    Returns
    -------
    stands : bool
        Says nothing of where the weight is.
    """
    try:
        edges_of(stand)
    except ValueError:
        return False
    return True


def overturning_factor(stand: Stand, push: Push, pressure: float) -> tuple[float, int]:
    r"""Least moment that holds over the moment that overturns, about any edge.

    .. math:: \eta = W d_e / (M \cos\alpha_e)

    Parameters
    ----------
    stand : Stand
        Body and supports.
    push : Push
        Wind on it.
    pressure : float
        Where the gust is told. [Pa]

    Returns
    -------
    factor : float
        Infinite where no wind blows over an edge.
    direction : int
        Place in ``push.directions`` of the worst.

    Raises
    ------
    ValueError
        If the supports make no area.
    """
    outward, arms = edges_of(stand)
    over = pressure * push.moment[:, None] * (push.along @ outward.T)
    hold = np.broadcast_to(stand.weight * arms, over.shape)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        factor = np.where(over > 0, hold / over, np.where(hold >= 0, np.inf, 0.0))
    worst = int(factor.min(axis=1).argmin())
    return max(0.0, float(factor[worst].min())), worst


def overturning_pressure(stand: Stand, push: Push, factor: float) -> tuple[float, int]:
    """Highest pressure at which the moment that holds is still so many times the other.

    Parameters
    ----------
    stand : Stand
        Body and supports.
    push : Push
        Wind on it.
    factor : float
        Asked for.

    Returns
    -------
    pressure : float
        Infinite where no wind blows over an edge, 0 where it tips without. [Pa]
    direction : int
        Place in ``push.directions`` of the worst.

    Raises
    ------
    ValueError
        If the factor is not positive or the supports make no area.
    """
    if not factor > 0:
        raise ValueError(f"factor must be positive, got {factor}")
    at_one, worst = overturning_factor(stand, push, 1.0)
    return at_one / factor, worst


def support_forces(stand: Stand, moment: Floats) -> Floats:
    """Force on each support of a rigid body on supports of one stiffness.

    Parameters
    ----------
    stand : Stand
        Body and supports.
    moment : (..., 2) float
        Overturning moment as a vector down the wind: the force times its height. [N m]

    Returns
    -------
    forces : (..., n) float
        Negative where the support would have to pull. [N]

    Raises
    ------
    ValueError
        If the supports make no area.

    Notes
    -----
    Derived here: the plane pressure of a stiff foot on springs, which for four supports
    in a square is the corner share W (1/4 + e_x / 2 b_x + e_y / 2 b_y).
    """
    edges_of(stand)
    middle = stand.supports.mean(axis=0)
    arms = stand.supports - middle
    spread = arms.T @ arms
    lean = np.asarray(moment) + stand.weight * (stand.centre - middle)
    slope = np.linalg.solve(spread, np.moveaxis(np.atleast_2d(lean), -1, 0)).T
    forces = stand.weight / len(arms) + slope @ arms.T
    return np.asarray(forces if np.ndim(moment) > 1 else forces[0])


def uplift_pressure(stand: Stand, push: Push) -> tuple[float, int]:
    """Highest pressure at which no support is left without load.

    Parameters
    ----------
    stand : Stand
        Body and supports.
    push : Push
        Wind on it.

    Returns
    -------
    pressure : float
        Infinite where no wind unloads a support, 0 where one is unloaded without. [Pa]
    direction : int
        Place in ``push.directions`` of the worst.

    Raises
    ------
    ValueError
        If the supports make no area.
    """
    still = support_forces(stand, np.zeros(2))
    if not still.min() > 0:
        return 0.0, 0
    change = support_forces(stand, push.moment[:, None] * push.along) - still
    with np.errstate(divide="ignore"):
        limit = np.where(change < 0, -still / np.minimum(change, -1e-300), np.inf)
    worst = int(limit.min(axis=1).argmin())
    return float(limit[worst].min()), worst


@dataclass(frozen=True, slots=True, kw_only=True)
class SidePair:
    """Two levels at which a section is held sideways, from below upward.

    Attributes
    ----------
    foot : float
        Height of the lower above the level about which moments are told. [m]
    spacing : float
        From the lower to the upper. [m]
    """

    foot: float
    spacing: float

    def __post_init__(self) -> None:
        if not (self.spacing > NO_ARM and np.isfinite(self.foot)):
            raise ValueError(f"spacing must be positive, got {self.spacing} m")


def side_reactions(
    pair: SidePair, force: Floats, moment: Floats, twist: float = 0.0
) -> tuple[Floats, Floats]:
    r"""What the upper and the lower level give against a sideways force.

    .. math:: R_u = (\sum H_j y_j + W e) / a, \qquad R_l = R_u - \sum H_j

    Parameters
    ----------
    pair : SidePair
        The two levels.
    force : (...,) float
        Sum of the forces, along one axis. [N]
    moment : (...,) float
        Sum of the forces times their heights above the level of moments. [N m]
    twist : float
        Weight times its offset along that axis, against the forces as well as with
        them. [N m]

    Returns
    -------
    upper, lower : (...,) float
        Greatest size of either, the offset taken on the worse side. [N]

    Notes
    -----
    Derived here from moments about the lower level. The lower reaction is that of the
    side across where the upper is more than the force, and of the same side else.
    """
    about_foot = np.asarray(moment) - np.asarray(force) * pair.foot
    spread = abs(twist) / pair.spacing
    upper = np.abs(about_foot) / pair.spacing + spread
    lower = np.abs(about_foot / pair.spacing - force) + spread
    return np.asarray(upper), np.asarray(lower)
