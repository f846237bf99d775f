"""Letting a load down: what holds it, whether it comes at all, and when it hangs up.

Going down every friction is turned round: sheaves, lead blocks, barrel and shoes all
help to hold. So less is held than was hauled, and a load may not come by itself.
"""

from math import exp, log, pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from towerlift.mechanics.tackle import lowering_advantage

Floats = NDArray[np.float64]


def barrel_hold(load: ArrayLike, parts: int, sheave_ratio: float, leads: int) -> Floats:
    r"""Pull left at the barrel while a load is let down.

    .. math:: P = \kappa^m W / A_{down}

    Parameters
    ----------
    load : float or array
        On the tackle. [N]
    parts : int
        Parts of rope at the moving block.
    sheave_ratio : float
        Above 0 and not above 1.
    leads : int
        Lead blocks between fall and barrel.

    Returns
    -------
    hold : array
        [N]

    Raises
    ------
    ValueError
        If there are no parts, `leads` is negative or the ratio is not a share.
    """
    if not leads >= 0:
        raise ValueError(f"leads must not be negative, got {leads}")
    share = sheave_ratio**leads / lowering_advantage(parts, sheave_ratio)
    return np.asarray(np.asarray(load, dtype=float) * share)


def tail_to_hold(pull: float, turns: float, *, friction: float) -> float:
    r"""Pull on the tail that keeps a rope from running round a barrel that stands.

    .. math:: T = P e^{-2 \pi \mu k}

    Parameters
    ----------
    pull : float
        In the rope where it comes onto the barrel. [N]
    turns : float
        In contact.
    friction : float
        The least that rope on barrel may have.

    Returns
    -------
    tail : float
        [N]

    Raises
    ------
    ValueError
        If anything is negative.
    """
    if not (pull >= 0 and turns >= 0 and friction >= 0):
        raise ValueError(
            f"pull, turns and friction must not be negative, got {pull} N, {turns}, {friction}"
        )
    return pull * exp(-2 * pi * friction * turns)


def most_turns_that_surge(pull: float, tail: float, *, friction: float) -> float:
    """Turns above which a rope no longer slides round the barrel, tail slacked away.

    Parameters
    ----------
    pull : float
        In the rope where it comes onto the barrel. [N]
    tail : float
        Least pull left on the tail: the weight of the rope that hangs from it. [N]
    friction : float
        The most that rope on barrel may have.

    Returns
    -------
    turns : float
        Not rounded; with more, a turn must be thrown off before it surges.

    Raises
    ------
    ValueError
        If anything is not positive.
    """
    if not (pull > 0 and tail > 0 and friction > 0):
        raise ValueError(
            f"pull, tail and friction must be positive, got {pull} N, {tail} N, {friction}"
        )
    return max(0.0, log(pull / tail) / (2 * pi * friction))


def carried_going_down(jam_share: ArrayLike, wind_share: ArrayLike = 0.0) -> Floats:
    r"""Share of the weight that the lines carry while a guided section goes down.

    .. math:: V / W = (1 - \mu w) / (1 + j)

    Parameters
    ----------
    jam_share : float or array
        2 mu e / a of the lines' resultant, from the law of the drawer.
    wind_share : float or array
        Friction of the shoes under the wind alone, over the weight.

    Returns
    -------
    share : array
        Never negative; where it is 0 the section hangs in its shoes.

    Raises
    ------
    ValueError
        If a share is negative.

    Notes
    -----
    Derived here: going down the shoes drag upward, so the lines carry V = W - 2 mu N
    with N = V e / a; wind adds its own pressure, which does not grow with the pull.
    """
    jam, wind = np.asarray(jam_share, dtype=float), np.asarray(wind_share, dtype=float)
    if not (np.all(jam >= 0) and np.all(wind >= 0)):
        raise ValueError(f"shares must not be negative, got {jam}, {wind}")
    return np.asarray(np.maximum(0.0, (1 - wind) / (1 + jam)))


def carried_going_up(jam_share: ArrayLike, wind_share: ArrayLike = 0.0) -> Floats:
    r"""Share of the weight that the lines carry while a guided section is hauled.

    .. math:: V / W = (1 + \mu w) / (1 - j)

    Parameters
    ----------
    jam_share : float or array
        2 mu e / a of the lines' resultant.
    wind_share : float or array
        Friction of the shoes under the wind alone, over the weight.

    Returns
    -------
    share : array
        Infinite where it is locked.

    Raises
    ------
    ValueError
        If a share is negative.
    """
    jam, wind = np.asarray(jam_share, dtype=float), np.asarray(wind_share, dtype=float)
    if not (np.all(jam >= 0) and np.all(wind >= 0)):
        raise ValueError(f"shares must not be negative, got {jam}, {wind}")
    with np.errstate(divide="ignore"):
        return np.asarray(np.where(jam < 1, (1 + wind) / np.maximum(1 - jam, 1e-300), np.inf))


def fall_onto_ropes(slack: float, stretch: float) -> float:
    """Greatest load over the weight when a section that hung up drops onto its ropes.

    Parameters
    ----------
    slack : float
        How far the lift points fall before the ropes bear, more where they were slacked
        right off; negative while they still carry part of the weight. [m]
    stretch : float
        Of the ropes under the whole weight. [m]

    Returns
    -------
    factor : float
        1 where the ropes carry it all already.

    Raises
    ------
    ValueError
        If the stretch is not positive, or more is carried than the weight.

    Notes
    -----
    Derived here by energy. Ropes eased to a share f of the weight are stretched f times;
    let go, the section sinks and swings to 2 - f. Eased by more than the whole stretch,
    it falls h freely: 1 + sqrt(1 + 2 h / stretch). The two meet at 2.
    """
    if not stretch > 0:
        raise ValueError(f"stretch must be positive, got {stretch} m")
    if not slack >= -stretch * (1 + 1e-12):
        raise ValueError(f"ropes carry more than the weight: slack {slack}, {stretch} m")
    if slack <= 0:
        return 2 + slack / stretch
    return float(1 + np.sqrt(1 + 2 * slack / stretch))
