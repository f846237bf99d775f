"""The raise as a film: which place of it is seen at which moment."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from towerlift.motion.passages import Passage
from towerlift.motion.raises import Raise
from towerlift.motion.travel import Moment

Floats = NDArray[np.float64]

# A step that hauls nothing is shown as long as so much of a haul. [m]
STANDING = 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Reel:
    """Film time of every passage of a raise.

    Attributes
    ----------
    passages : tuple of Passage
        In order.
    cuts : (n + 1,) float
        When each passage begins, and when the last one ends. [s]
    """

    passages: tuple[Passage, ...]
    cuts: Floats

    @property
    def length(self) -> float:
        """All of it. [s]"""
        return float(self.cuts[-1])

    def moment(self, time: float) -> Moment:
        """What is seen at a moment of the film.

        Parameters
        ----------
        time : float
            From 0 to the length; what lies outside is held at its ends. [s]

        Returns
        -------
        moment : Moment
            Passage and share.
        """
        row = int(np.searchsorted(self.cuts, time, side="right")) - 1
        row = min(max(row, 0), len(self.passages) - 1)
        begins, ends = self.cuts[row], self.cuts[row + 1]
        share = (time - begins) / (ends - begins)
        return Moment(passage=self.passages[row], share=float(min(max(share, 0.0), 1.0)))

    def frames(self, rate: float) -> tuple[Moment, ...]:
        """Places at even times, the first and the last of the raise among them.

        Parameters
        ----------
        rate : float
            Pictures a second.

        Returns
        -------
        moments : tuple of Moment
            Two at least.

        Raises
        ------
        ValueError
            If `rate` is not positive.
        """
        if not rate > 0:
            raise ValueError(f"rate must be positive, got {rate} pictures a second")
        n = max(2, round(self.length * rate) + 1)
        return tuple(self.moment(float(time)) for time in np.linspace(0, self.length, n))


def reel_of(raise_: Raise, length: float = 60.0) -> Reel:
    """Lay a raise out over a film.

    Parameters
    ----------
    raise_ : Raise
        With passages.
    length : float
        Of the film. [s]

    Returns
    -------
    reel : Reel
        Hauls run at one speed; a step that hauls nothing takes as long as 0.4 m of
        haul, so that it can be seen.

    Raises
    ------
    ValueError
        If there are no passages, or `length` is not positive.
    """
    if not raise_.passages:
        raise ValueError("the raise has no passages: there is nothing to show")
    if not (length > 0 and np.isfinite(length)):
        raise ValueError(f"length must be positive, got {length} s")
    ways = np.array([max(abs(passage.travel), STANDING) for passage in raise_.passages])
    cuts = np.concatenate([[0.0], np.cumsum(ways)])
    return Reel(passages=raise_.passages, cuts=cuts * (length / cuts[-1]))


def stretches(reel: Reel) -> tuple[tuple[Passage, float, float], ...]:
    """Every passage with the times at which it begins and ends.

    Parameters
    ----------
    reel : Reel
        The film.

    Returns
    -------
    stretches : tuple of (Passage, float, float)
        In order. [s]
    """
    times = pairwise(reel.cuts.tolist())
    return tuple((p, a, b) for p, (a, b) in zip(reel.passages, times, strict=True))
