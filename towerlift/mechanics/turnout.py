"""Odds that enough people turn up."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray


def turnout(shows: Sequence[float]) -> NDArray[np.float64]:
    """Probability of every number of people, each of whom comes or not by himself.

    Parameters
    ----------
    shows : sequence of float
        Probability that each person comes, from 0 to 1.

    Returns
    -------
    odds : (n + 1,) float
        Of exactly 0 to n people; sums to one.

    Raises
    ------
    ValueError
        If a probability is not from 0 to 1.

    Notes
    -----
    The Poisson-binomial distribution, one person folded in after another; for equal
    probabilities it is the binomial. People are taken as independent: a flood or a
    fever that keeps many away at once is not in it.
    """
    odds = np.ones(1)
    for show in shows:
        if not 0 <= show <= 1:
            raise ValueError(f"probability must be from 0 to 1, got {show}")
        odds = np.append(odds, 0.0) * (1 - show) + np.append(0.0, odds) * show
    return odds


def chance_of(need: int, shows: Sequence[float]) -> float:
    """Probability that at least so many come.

    Parameters
    ----------
    need : int
        People needed.
    shows : sequence of float
        Probability that each person comes.

    Returns
    -------
    chance : float
        0 where fewer have signed than are needed.

    Raises
    ------
    ValueError
        If a probability is not from 0 to 1.
    """
    return float(min(1.0, turnout(shows)[max(need, 0) :].sum()))


def sign_ups_for(need: int, show: float, *, wanted: float, most: int = 10_000) -> int | None:
    """Fewest sign-ups that make enough people likely enough.

    Parameters
    ----------
    need : int
        People needed.
    show : float
        Probability that each person comes, above 0 and not above 1.
    wanted : float
        Probability asked for.
    most : int
        No more are tried.

    Returns
    -------
    signed : int or None
        None where even the most are not enough.

    Raises
    ------
    ValueError
        If `show` is not a probability above 0.
    """
    if not 0 < show <= 1:
        raise ValueError(f"probability must be above 0 and not above 1, got {show}")
    odds = turnout([show] * need)
    for signed in range(need, most + 1):
        if odds[need:].sum() >= wanted:
            return signed
        odds = np.append(odds, 0.0) * (1 - show) + np.append(0.0, odds) * show
    return None
