"""The chance that a whole section keeps a gap over a whole travel, sample by sample proven.

The stacks of `tolerance` take the faces one by one. Here the clearance engine bounds the
least gap of every sample on all sides at once; what its bound does not decide is measured,
and what is not measured counts against the section.
"""

from dataclasses import dataclass

import numpy as np

from towerlift.gaps import Margins, MarginScope, build_margins, settle_samples
from towerlift.nesting.curves import Floats
from towerlift.nesting.pairs import Pair
from towerlift.nesting.tolerance import N_SAMPLES, SEED, SIGMAS, Chance, chance

STEP = 0.05
MOST_MEASURED = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Departures:
    """How far a section may depart from how it is drawn and how it hangs.

    Attributes
    ----------
    play : float
        Shift to either side, x and y each anywhere within it. [m]
    tilt : float
        Turn about x and about y, each anywhere within it. [rad]
    swelling : float
        Growth of a side, anywhere from nothing to the whole. [m]
    fabrication, survey : float
        Tolerances, three standard deviations of a normal error. [m]
    """

    play: float = 0.0
    tilt: float = 0.0
    swelling: float = 0.0
    fabrication: float = 0.0
    survey: float = 0.0

    def __post_init__(self) -> None:
        for name in ("play", "tilt", "swelling", "fabrication", "survey"):
            value = getattr(self, name)
            if not (value >= 0 and np.isfinite(value)):
                raise ValueError(f"{name} must be finite and not negative, got {value}")

    def drawn(self, samples: int, seed: int) -> Floats:
        """Samples as the engine takes them.

        Parameters
        ----------
        samples : int
            How many.
        seed : int
            Of the random numbers.

        Returns
        -------
        samples : (n, 9) float
            Shift, turn, growth, error of the survey and lean.
        """
        random = np.random.default_rng(seed)
        rows = np.zeros((samples, 9))
        rows[:, :2] = random.uniform(-self.play, self.play, (samples, 2))
        rows[:, 2:4] = random.uniform(-self.tilt, self.tilt, (samples, 2))
        made = random.standard_normal(samples) * (self.fabrication / SIGMAS)
        rows[:, 5] = random.uniform(0.0, self.swelling, samples) + made
        rows[:, 6] = random.standard_normal(samples) * (self.survey / SIGMAS)
        return rows


@dataclass(frozen=True, slots=True, kw_only=True)
class CertifiedChance:
    """How many samples certainly keep a gap, certainly do not, or were not settled.

    Attributes
    ----------
    kept, broken, undecided : int
        They add up to the samples.
    limit : float
        The gap asked for. [m]
    """

    kept: int
    broken: int
    undecided: int
    limit: float

    @property
    def samples(self) -> int:
        """How many there are."""
        return self.kept + self.broken + self.undecided

    @property
    def least(self) -> Chance:
        """Chance of falling short, if every sample that was not settled keeps the gap."""
        return chance(self.broken, self.samples)

    @property
    def most(self) -> Chance:
        """The same, if none of them does: what a section is held against."""
        return chance(self.broken + self.undecided, self.samples)


def pair_margins(pair: Pair, *, reach: float, turn: float = 0.004) -> Margins:
    """What bounds every small departure of a section from its travel, worked out once.

    Parameters
    ----------
    pair : Pair
        What moves past what.
    reach : float
        Distance beyond which the other body is not looked at: least gap and farthest
        departure together. [m]
    turn : float
        Greatest tilt that can be bounded. [rad]

    Returns
    -------
    margins : Margins
        For `certified_chance`; it takes a minute or two for a large section.
    """
    path = pair.path(*pair.travel, STEP)
    scope = MarginScope(reach=reach, turn=turn)
    return build_margins(pair.moving_body, pair.other_body, path, scope=scope)


def certified_chance(
    margins: Margins,
    departures: Departures,
    *,
    limit: float = 0.0,
    samples: int = N_SAMPLES,
    seed: int = SEED,
) -> CertifiedChance:
    """Hold samples of a section's departures against a gap.

    Parameters
    ----------
    margins : Margins
        From `pair_margins`.
    departures : Departures
        How far it may depart.
    limit : float
        Gap asked for; 0 asks whether it touches. [m]
    samples : int
        How many.
    seed : int
        Of the random numbers.

    Returns
    -------
    found : CertifiedChance
        Growth and survey errors are taken off in full whichever way they go, so that
        the chance of falling short is never stated too small.
    """
    rows = departures.drawn(samples, seed)
    verdicts = settle_samples(margins, rows, limit, at_most=MOST_MEASURED)
    return CertifiedChance(
        kept=verdicts.kept,
        broken=verdicts.broken,
        undecided=verdicts.undecided,
        limit=limit,
    )
