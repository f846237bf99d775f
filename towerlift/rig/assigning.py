"""Which coil best goes on which tackle of a lift."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment

from towerlift.plan.rigging import Coil
from towerlift.rig.curves import Floats

# Costs of each metre that lacks and of a weak rope, against misfits that are shares.
_TOO_SHORT, _TOO_WEAK = 1e6, 1e3
# To change a coil for one no better is not worth the work.
_CHANGE = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Assignment:
    """A coil for every tackle.

    Attributes
    ----------
    coils : tuple of Coil
        In the order of the tackles.
    spread : float
        Greatest misfit of stiffness from their median, as a share.
    """

    coils: tuple[Coil, ...]
    spread: float


def stiffness_spread(coils: tuple[Coil, ...]) -> Floats:
    """Stiffness of each coil over the median of all, less one.

    Parameters
    ----------
    coils : tuple of Coil
        Rove together in one lift.

    Returns
    -------
    spread : (n,) float
        Zero where all are alike.
    """
    stiffness = np.array([coil.axial_stiffness for coil in coils])
    return np.asarray(stiffness / np.median(stiffness) - 1)


def best_coils(rove: tuple[Coil, ...], stock: tuple[Coil, ...], needed: Floats) -> Assignment:
    """The coils of the stock that make the tackles of a lift most alike.

    Parameters
    ----------
    rove : tuple of Coil
        What is on each tackle now.
    stock : tuple of Coil
        All coils there are, those on the tackles among them; as many as tackles at
        least.
    needed : (n,) float
        Rope that each tackle takes. [m]

    Returns
    -------
    assignment : Assignment
        Least sum of misfits, each coil used once, changing as few as may be.

    Raises
    ------
    ValueError
        If there are fewer coils than tackles.

    Notes
    -----
    One linear assignment for each stiffness that a coil of the stock has: the common
    stiffness of the best answer is one of those.
    """
    if len(stock) < len(rove):
        raise ValueError(f"{len(rove)} tackles need as many coils, got {len(stock)}")
    stiffness = np.array([coil.axial_stiffness for coil in stock])
    kept = np.array([coil.breaking_force * coil.derating for coil in stock])
    length = np.array([coil.length for coil in stock])
    fixed = _TOO_SHORT * np.maximum(needed[:, None] - length[None, :], 0.0)
    fixed = fixed + _CHANGE * np.array([[a.tag != b.tag for b in stock] for a in rove])
    totals, answers = [], []
    for target in np.unique(stiffness):
        usual = np.median(kept[np.abs(stiffness / target - 1) < 0.05])
        misfit = np.abs(stiffness / target - 1) + _TOO_WEAK * (kept < 0.9 * usual)
        cost = fixed + misfit[None, :]
        rows, columns = linear_sum_assignment(cost)
        totals.append(float(cost[rows, columns].sum()))
        answers.append(columns)
    chosen = tuple(stock[int(column)] for column in answers[int(np.argmin(totals))])
    return Assignment(coils=chosen, spread=float(np.abs(stiffness_spread(chosen)).max()))
