"""Fewest and cheapest parks from which a whole spire can be clad, and what none reaches."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

SAME = 1e-9  # heights closer than this are one height [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A park that may be chosen, and what it costs.

    Attributes
    ----------
    name : str
        Of the park.
    low, high : float
        Heights s reached from it. [m]
    cost : float
        Of stopping there: a step-up, in whatever all costs are counted in.
    """

    name: str
    low: float
    high: float
    cost: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """Chosen parks.

    Attributes
    ----------
    parks : tuple of str
        From the top of the spire down.
    cost : float
        Of the parks, and of staging for what they leave out.
    left : tuple of (float, float)
        Heights that none of them reaches, lowest first. [m]
    """

    parks: tuple[str, ...]
    cost: float
    left: tuple[tuple[float, float], ...]


def unreached(
    choices: Sequence[Choice], low: float, high: float
) -> tuple[tuple[float, float], ...]:
    """Heights that no park reaches.

    Parameters
    ----------
    choices : sequence of Choice
        All there are.
    low, high : float
        Between which there is something to clad. [m]

    Returns
    -------
    gaps : tuple of (float, float)
        Lowest first; empty where everything is reached. [m]
    """
    gaps, at = [], low
    for begins, ends in sorted((each.low, each.high) for each in choices):
        if begins > at + SAME and at < high - SAME:
            gaps.append((at, min(begins, high)))
        at = max(at, ends)
    if at < high - SAME:
        gaps.append((at, high))
    return tuple(gaps)


def cheapest_cover(
    choices: Sequence[Choice], low: float, high: float, *, staging: float = inf
) -> Cover:
    """The cheapest set of parks, with staging aloft where that costs less.

    Parameters
    ----------
    choices : sequence of Choice
        Parks that may be chosen.
    low, high : float
        Between which there is something to clad. [m]
    staging : float
        Cost of cladding a metre of height from staging aloft; infinite where there is
        none: then whatever can be reached is reached, by the fewest parks if all cost
        the same, and only what no park reaches is left.

    Returns
    -------
    cover : Cover
        The least cost there is; of equal ones the first found.

    Notes
    -----
    Exact. Heights are cut where a reach begins or ends; going up them, what matters of
    the parks chosen so far is only how high they reach without a gap below. So the
    cheapest way to be done up to each cut is a shortest path: from a cut below the head
    of a park and not below its foot, at its cost, to its head; or to the next cut by
    staging.
    """
    if not high > low:
        return Cover(parks=(), cost=0.0, left=())
    lost = unreached(choices, low, high)
    inside = {low, high}
    for each in choices:
        inside |= {min(max(end, low), high) for end in (each.low, each.high)}
    cuts = sorted(inside)
    best: list[tuple[float, tuple[str, ...]]] = [(inf, ())] * len(cuts)
    best[0] = (0.0, ())
    for n, cut in enumerate(cuts[:-1]):
        cost, parks = best[n]
        if cost == inf:
            continue
        step = _by_staging(cut, cuts[n + 1], lost, staging)
        _improve(best, n + 1, cost + step, parks)
        for each in choices:
            if each.low <= cut + SAME and each.high > cut + SAME:
                top = cuts.index(min(each.high, high))
                _improve(best, top, cost + each.cost, (each.name, *parks))
    cost, parks = best[-1]
    chosen = [each for each in choices if each.name in parks]
    return Cover(parks=parks, cost=cost, left=unreached(chosen, low, high))


def _by_staging(
    low: float, high: float, lost: Sequence[tuple[float, float]], staging: float
) -> float:
    if staging < inf:
        return staging * (high - low)
    return 0.0 if any(a <= low + SAME and high <= b + SAME for a, b in lost) else inf


def _improve(
    best: list[tuple[float, tuple[str, ...]]], n: int, cost: float, parks: tuple[str, ...]
) -> None:
    if cost < best[n][0] - 1e-12:
        best[n] = (cost, parks)
