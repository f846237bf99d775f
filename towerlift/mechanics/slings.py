"""Forces in sling legs that meet at one hook, and how hitches are rated.

Angles are measured from the vertical. A load that hangs in two or three legs turns
with them about the hook until its centre of gravity is straight below: *up* is then
the way from the centre to the hook, in whatever frame both are given.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from towerlift.errors import NoEquilibriumError

Floats = NDArray[np.float64]

BASKET_PARTS = 2
CHOKER_SHARE = 0.75
MOST_DETERMINATE = 3
BALANCE_RTOL = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Bridle:
    """Legs that meet at one hook, and the load's centre of gravity.

    Attributes
    ----------
    hook : (3,) float
        Where the legs meet. [m]
    lugs : (n, 3) float
        Leg ends on the load, same frame. [m]
    centre : (3,) float
        Centre of gravity of the load, same frame. [m]
    """

    hook: Floats
    lugs: Floats
    centre: Floats

    def __post_init__(self) -> None:
        if self.lugs.ndim != 2 or self.lugs.shape[1] != 3 or not len(self.lugs):
            raise ValueError(f"lugs must be (n, 3), got {self.lugs.shape}")
        if not np.all(self.leg_lengths > 0):
            raise ValueError(f"every leg must have a length, got {self.leg_lengths} m")
        if not np.linalg.norm(self.hook - self.centre) > 0:
            raise ValueError("the hook must not lie in the centre of gravity")

    @property
    def leg_lengths(self) -> Floats:
        """Straight length of each leg, (n,). [m]"""
        lengths: Floats = np.linalg.norm(self.hook - self.lugs, axis=1)
        return lengths

    @property
    def up(self) -> Floats:
        """Unit vector from the centre of gravity to the hook, (3,)."""
        way = self.hook - self.centre
        return np.asarray(way / np.linalg.norm(way))

    @property
    def directions(self) -> Floats:
        """Unit vectors from the lugs to the hook, (n, 3)."""
        return np.asarray((self.hook - self.lugs) / self.leg_lengths[:, None])

    @property
    def angles(self) -> Floats:
        """Angle of each leg from the vertical as the load hangs, (n,). [rad]"""
        # The sine from the cross product keeps small angles exact.
        across = np.linalg.norm(np.cross(self.directions, self.up), axis=1)
        return np.asarray(np.arctan2(across, self.directions @ self.up))


def load_factor(angle: float) -> float:
    """Tension of a leg over its share of the load, 1 / cos(angle from the vertical).

    Parameters
    ----------
    angle : float
        From the vertical, at least 0 and below a right angle. [rad]

    Returns
    -------
    factor : float
        1 for a vertical leg.

    Raises
    ------
    ValueError
        If the leg would not pull upward.
    """
    rise = np.cos(angle)
    if not (angle >= 0 and rise > 0):
        raise ValueError(f"angle must be from 0 to below a right angle, got {angle} rad")
    return float(1 / rise)


def inward_force(share: float, angle: float) -> float:
    """Level force with which a leg draws its lug towards the hook.

    Parameters
    ----------
    share : float
        Weight that the leg carries. [N]
    angle : float
        From the vertical. [rad]

    Returns
    -------
    force : float
        [N]

    Raises
    ------
    ValueError
        If the leg would not pull upward.
    """
    return share * load_factor(angle) * float(np.sin(angle))


def leg_tensions(weight: float, bridle: Bridle) -> Floats:
    r"""Tension in each leg of a load at rest, where statics alone settles it.

    Solves :math:`\sum_i t_i \mathbf{u}_i = W \hat{\mathbf{z}}` with the load turned
    so that its centre of gravity is below the hook.

    Parameters
    ----------
    weight : float
        Weight of the load. [N]
    bridle : Bridle
        One, two or three legs.

    Returns
    -------
    tensions : (n,) float
        In the order of the lugs; none is negative. [N]

    Raises
    ------
    ValueError
        If `weight` is not positive, or the tensions have no unique answer: more than
        three legs, or legs that lie in one line or plane too many.
    NoEquilibriumError
        If no set of pulling legs holds the load with its centre below the hook.

    Notes
    -----
    Legs are straight, weightless and do not stretch.
    """
    _require_weight(weight)
    if len(bridle.lugs) > MOST_DETERMINATE:
        raise ValueError(f"statics settles at most three legs, got {len(bridle.lugs)}")
    along = bridle.directions.T
    if np.linalg.matrix_rank(along, tol=BALANCE_RTOL) < len(bridle.lugs):
        raise ValueError("the legs do not point apart: tensions are not unique")
    return _balance(weight, bridle)


def sharing_tensions(weight: float, bridle: Bridle) -> Floats:
    """Tension in each of several legs that stretch alike, for three legs and more.

    Parameters
    ----------
    weight : float
        Weight of the load. [N]
    bridle : Bridle
        Legs, in any number.

    Returns
    -------
    tensions : (n,) float
        Least squares of tension that balance the load; none is negative. [N]

    Raises
    ------
    ValueError
        If `weight` is not positive.
    NoEquilibriumError
        If that balance would have a leg push, or does not exist.

    Notes
    -----
    No bridle of four is ever so true. It is the base that a rule for two or three
    carrying legs is applied to, never a rating by itself.
    """
    _require_weight(weight)
    return _balance(weight, bridle)


def rated_tension(weight: float, bridle: Bridle, *, carrying: int) -> float:
    r"""Tension that the worst leg is reckoned to carry.

    Two legs: by statics. Three and four: a rigid load settles on some of them, so
    that `carrying` legs take it all, the flattest among them, and the share of the
    worst leg is raised as much as the centre of gravity raises it.

    Parameters
    ----------
    weight : float
        Weight of the load. [N]
    bridle : Bridle
        Two to four legs.
    carrying : int
        Legs reckoned to carry where there are three or four: 2 or 3.

    Returns
    -------
    tension : float
        [N]

    Raises
    ------
    ValueError
        If the legs are not two to four, or `carrying` not 2 or 3.
    NoEquilibriumError
        If the legs cannot hold the load with its centre below the hook.

    References
    ----------
    .. [1] US Navy, NAVEDTRA 14080, ch. 3, p. 3-24: three- and four-leg hitches are
       rated as two legs.
    .. [2] Ohio Administrative Code 4123:1-3-08, alloy chain: quadruple slings are
       rated as triple.
    """
    n_legs = len(bridle.lugs)
    if n_legs not in range(2, 5) or carrying not in (2, 3):
        raise ValueError(f"two to four legs, 2 or 3 carrying; got {n_legs} and {carrying}")
    if n_legs == 2:
        return float(leg_tensions(weight, swung_level(bridle)).max())
    sharing = sharing_tensions(weight, bridle)
    carrying = min(carrying, n_legs)
    by_rule = weight / carrying * load_factor(float(bridle.angles.max()))
    return float(max(by_rule, sharing.max() * n_legs / carrying))


def basket_rating(single: float, angle: float) -> float:
    """Rated load of one basket: two parts of one sling carry it.

    Parameters
    ----------
    single : float
        Rated load of the sling hung straight. [N]
    angle : float
        Of its two parts from the vertical. [rad]

    Returns
    -------
    rating : float
        [N]

    Notes
    -----
    Some printed pages give four parts to a single basket with inclined parts. It has
    two, by statics.
    """
    return BASKET_PARTS * single / load_factor(angle)


def choker_rating(single: float, *, share: float = CHOKER_SHARE) -> float:
    """Rated load of one sling choked round the load.

    Parameters
    ----------
    single : float
        Rated load of the sling hung straight. [N]
    share : float
        Share kept: 0.75 for wire rope with a choke no tighter than 120 degrees, 0.5
        for natural-fibre rope.

    Returns
    -------
    rating : float
        [N]

    Raises
    ------
    ValueError
        If `share` is not a share.
    """
    if not 0 < share <= 1:
        raise ValueError(f"share kept must be above 0 and not above 1, got {share}")
    return single * share


def swung_level(bridle: Bridle) -> Bridle:
    """Two legs as they hang: swung about the line through the lugs.

    Parameters
    ----------
    bridle : Bridle
        Two legs; the centre of gravity may lie beside their plane.

    Returns
    -------
    bridle : Bridle
        The hook in the plane of the lugs and the centre, opposite the centre.

    Raises
    ------
    ValueError
        If there are not two legs.
    NoEquilibriumError
        If the centre of gravity lies on the line of the lugs, or above it: the load
        turns over between its lugs.
    """
    if len(bridle.lugs) != 2:
        raise ValueError(f"only two legs swing about a line, got {len(bridle.lugs)}")
    foot = bridle.lugs[0]
    axis = bridle.lugs[1] - foot
    axis = axis / np.linalg.norm(axis)
    to_hook, to_centre = bridle.hook - foot, bridle.centre - foot
    rise = to_hook - (to_hook @ axis) * axis
    sink = to_centre - (to_centre @ axis) * axis
    if not rise @ sink < 0:
        raise NoEquilibriumError(
            "the centre of gravity is not below the two lugs: the load turns over"
        )
    hook = foot + (to_hook @ axis) * axis
    hook = hook - sink / np.linalg.norm(sink) * np.linalg.norm(rise)
    return Bridle(hook=hook, lugs=bridle.lugs, centre=bridle.centre)


def _balance(weight: float, bridle: Bridle) -> Floats:
    along, pull = bridle.directions.T, weight * bridle.up
    tensions: Floats = np.asarray(np.linalg.lstsq(along, pull)[0], dtype=np.float64)
    unbalanced = np.linalg.norm(along @ tensions - pull)
    floor = -BALANCE_RTOL * weight
    if not (unbalanced <= BALANCE_RTOL * weight and tensions.min() >= floor):
        raise NoEquilibriumError(
            f"the legs cannot hold the load with its centre below the hook: unbalanced "
            f"{unbalanced:.3g} N, least leg force {tensions.min():.3g} N of {weight:.6g} N"
        )
    return np.maximum(tensions, 0.0)


def _require_weight(weight: float) -> None:
    if not weight > 0:
        raise ValueError(f"weight must be positive, got {weight} N")
