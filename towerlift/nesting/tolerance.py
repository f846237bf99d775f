"""Three ways to add tolerances, side by side: worst case, root-sum-square and sampling.

The worst case is what a single assembly over people's heads is held against; the other
two say how likely it is, and which input is worth the trouble.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import hypot

import numpy as np
from scipy.stats import beta

from towerlift.nesting.curves import Floats

N_SAMPLES = 1_000_000
SEED = 20270405
CONFIDENCE = 0.95
SIGMAS = 3.0
"""A stated tolerance of a normal input is taken as so many standard deviations."""


class Spread(StrEnum):
    """How an input is spread between its bounds.

    NORMAL lies about nothing with a third of the tolerance as standard deviation;
    EVEN anywhere from minus to plus; ONE_WAY anywhere from nothing to the whole.
    """

    NORMAL = "normal"
    EVEN = "even"
    ONE_WAY = "one way"


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One input of a gap.

    Attributes
    ----------
    name : str
        Such as "swelling".
    size : float
        Most that it can take from the gap. [m]
    spread : Spread
        How it lies within that.
    independent : bool
        Whether it may go into the root-sum-square; what is known to happen, or is
        driven by what drives another, may not.
    """

    name: str
    size: float
    spread: Spread
    independent: bool = False

    def __post_init__(self) -> None:
        if not (self.size >= 0 and np.isfinite(self.size)):
            raise ValueError(f"{self.name} must be finite and not negative, got {self.size} m")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """Everything that decides one least gap.

    Attributes
    ----------
    gaps, shifts : (k,) float
        Gap as drawn at each place that may be the least, and how far tilt and sway
        can move it there. [m]
    parts : tuple of Part
        Inputs that take from every place alike.
    lean : str
        Name under which tilt and sway, driven by one gust, are reported.
    """

    gaps: Floats
    shifts: Floats
    parts: tuple[Part, ...]
    lean: str = "tilt and sway"

    def __post_init__(self) -> None:
        if not (len(self.gaps) == len(self.shifts) > 0):
            raise ValueError("a stack needs at least one place, each with its shift")
        if not (np.all(np.isfinite(self.gaps)) and np.all(self.shifts >= 0)):
            raise ValueError("gaps must be finite and shifts not negative")

    def leaned(self, share: Floats) -> Floats:
        """Least drawn gap when a share of tilt and sway is there.

        Parameters
        ----------
        share : (n,) float
            0 for none, 1 for the limit.

        Returns
        -------
        gap : (n,) float
            [m]
        """
        gaps, shifts = _lower_lines(self.gaps, self.shifts)
        least = np.asarray(gaps[0] - shifts[0] * share, dtype=np.float64)
        for gap, shift in zip(gaps[1:], shifts[1:], strict=True):
            np.minimum(least, gap - shift * share, out=least)
        return least

    @property
    def worst_case(self) -> float:
        """Gap left when every part takes all it can. [m]"""
        return float((self.gaps - self.shifts).min()) - sum(p.size for p in self.parts)

    @property
    def root_sum_square(self) -> float:
        """Gap left when independent parts go together by root-sum-square. [m]"""
        together = hypot(*(p.size for p in self.parts if p.independent))
        direct = sum(p.size for p in self.parts if not p.independent)
        return float((self.gaps - self.shifts).min()) - direct - together


def _lower_lines(gaps: Floats, shifts: Floats) -> tuple[Floats, Floats]:
    """Of lines gap - shift * share, those that no other lies below from 0 to 1."""
    order = np.lexsort((-shifts, gaps))
    kept: list[int] = []
    steepest = -1.0
    for k in order:
        # A line that starts higher counts only if it falls faster than those below it.
        if shifts[k] > steepest:
            kept.append(int(k))
            steepest = float(shifts[k])
    return gaps[kept], shifts[kept]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """A share of samples, with the interval that holds the true chance.

    Attributes
    ----------
    hits, samples : int
        How many of how many.
    low, high : float
        Ends of the interval.
    confidence : float
        How sure the interval is.
    """

    hits: int
    samples: int
    low: float
    high: float
    confidence: float

    @property
    def share(self) -> float:
        """Share of the samples."""
        return self.hits / self.samples


@dataclass(frozen=True, slots=True, kw_only=True)
class Sampled:
    """What sampling says of a gap.

    Attributes
    ----------
    mean, deviation : float
        Of the least gap. [m]
    low : float
        Gap that all but 0.135 % of the samples keep, as far out as three standard
        deviations of a normal gap. [m]
    touching : Chance
        That nothing is left.
    short : Chance
        That less than the running clearance is left.
    shares : mapping of str to float
        Share of the variance that each input owns; they add up to 1 where anything
        varies.
    gaps : (n,) float
        Sorted samples, for whatever else is asked. [m]
    """

    mean: float
    deviation: float
    low: float
    touching: Chance
    short: Chance
    shares: Mapping[str, float]
    gaps: Floats


def chance(hits: int, samples: int, confidence: float = CONFIDENCE) -> Chance:
    """The interval in which the chance lies, exact for independent samples.

    Parameters
    ----------
    hits, samples : int
        How many of how many.
    confidence : float
        How sure the interval is to be.

    Returns
    -------
    chance : Chance
        Without hits its lower end is 0, and its upper end is not.

    Raises
    ------
    ValueError
        If there are no samples or more hits than samples.

    References
    ----------
    .. [1] Clopper and Pearson, Biometrika 26 (1934), by the beta distribution.
    """
    if not 0 <= hits <= samples or not samples > 0:
        raise ValueError(f"{hits} hits of {samples} samples cannot be")
    tail = 0.5 * (1.0 - confidence)
    low = 0.0 if hits == 0 else float(beta.ppf(tail, hits, samples - hits + 1))
    high = 1.0 if hits == samples else float(beta.ppf(1 - tail, hits + 1, samples - hits))
    return Chance(hits=hits, samples=samples, low=low, high=high, confidence=confidence)


def sample_stack(
    stack: Stack, *, running: float = 0.0, samples: int = N_SAMPLES, seed: int = SEED
) -> Sampled:
    """Sample the least gap of a stack.

    Parameters
    ----------
    stack : Stack
        Places and inputs.
    running : float
        Running clearance to be left. [m]
    samples : int
        How many.
    seed : int
        Of the random numbers: the same seed gives the same answer.

    Returns
    -------
    sampled : Sampled
        Chances, with their intervals, and shares of the variance.

    Notes
    -----
    Tilt and sway are one share of their limits, anywhere from 0 to 1, since one gust
    drives both. The gap is a sum of functions of one input each, so that the share of
    an input is the variance of its own term.
    """
    random = np.random.default_rng(seed)
    leaned = stack.leaned(random.random(samples))
    variances = {stack.lean: float(leaned.var())}
    gaps = leaned
    for part in stack.parts:
        taken = _draw(random, part, samples)
        variances[part.name] = variances.get(part.name, 0.0) + float(taken.var())
        gaps = gaps - taken
    gaps = np.sort(gaps)
    total = sum(variances.values())
    return Sampled(
        mean=float(gaps.mean()),
        deviation=float(gaps.std()),
        low=float(np.quantile(gaps, 0.00135)),
        touching=chance(int(np.searchsorted(gaps, 0.0, side="left")), samples),
        short=chance(int(np.searchsorted(gaps, running, side="left")), samples),
        shares={name: value / total if total > 0 else 0.0 for name, value in variances.items()},
        gaps=gaps,
    )


def _draw(random: np.random.Generator, part: Part, samples: int) -> Floats:
    if part.spread is Spread.NORMAL:
        return random.standard_normal(samples) * (part.size / SIGMAS)
    if part.spread is Spread.EVEN:
        return random.uniform(-part.size, part.size, samples)
    return random.uniform(0.0, part.size, samples)


def worst_case(tolerances: Sequence[float]) -> float:
    """Sum of the sizes of tolerances.

    Parameters
    ----------
    tolerances : sequence of float
        Plus or minus, of any sign.

    Returns
    -------
    total : float
        Plus or minus.
    """
    return float(sum(abs(t) for t in tolerances))


def root_sum_square(tolerances: Sequence[float]) -> float:
    """Root of the sum of the squares of tolerances.

    Parameters
    ----------
    tolerances : sequence of float
        Plus or minus; independent, centred and all at the same number of standard
        deviations.

    Returns
    -------
    total : float
        Plus or minus, never more than the worst case.
    """
    return float(hypot(*tolerances))
