"""The chance that a section keeps a gap over its whole raise, every sample proven.

Each sample is one way in which the section may have been made, surveyed and hung. It is
held against the stone on all sides at once, over every stretch of travel, by the clearance
engine; what its bound does not decide is measured, and what is not measured counts against
the section.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from towerlift.errors import NotEvaluatedError
from towerlift.gaps import Margins, MarginScope, build_margins, settle_samples
from towerlift.nesting.bench import Bench, Setting
from towerlift.nesting.certified import MOST_MEASURED, CertifiedChance
from towerlift.nesting.curves import Floats
from towerlift.nesting.faces import Travel
from towerlift.nesting.pairs import SHAFT, Pair, Workshop
from towerlift.nesting.tolerance import N_SAMPLES, SEED, SIGMAS
from towerlift.nesting.unseen import doubtful

STEP = 0.05
SCOPE = 0.10
"""Gap beyond the farthest departure up to which stone is looked at. [m]"""
LEAST_TURN = 0.001


@dataclass(frozen=True, slots=True, kw_only=True)
class Lean:
    """How far a section may stand off its line: as far as its budget allows, or farther.

    Attributes
    ----------
    middle : float
        Height s at which it moves least. [m]
    play : float
        What it moves there, to either side. [m]
    tilt : float
        What it turns about that height, to either side. [rad]
    """

    middle: float
    play: float
    tilt: float

    def at(self, height: Floats) -> Floats:
        """Farthest shift at a height.

        Parameters
        ----------
        height : (n,) float
            Heights s. [m]

        Returns
        -------
        shift : (n,) float
            To either side. [m]
        """
        return np.asarray(self.play + self.tilt * np.abs(height - self.middle))


def lean_of(travel: Travel, edges: Floats) -> Lean:
    """The straight lean that covers play, tilt and sway of a stretch of travel.

    Parameters
    ----------
    travel : Travel
        What may happen in it, band by band.
    edges : (n + 1,) float
        Edges of the bands, heights s. [m]

    Returns
    -------
    lean : Lean
        At no height less than what the budget allows there.

    Raises
    ------
    NotEvaluatedError
        If play or shift of the travel is not known.
    """
    if travel.unknown:
        raise NotEvaluatedError(f"{travel.stage}: {travel.unknown}")
    off = (travel.play[:, None] + travel.shift).max(axis=0)
    middles = 0.5 * (edges[:-1] + edges[1:])
    least = int(np.argmin(off))
    middle, play = float(middles[least]), float(off[least])
    # The edge of a band that is nearer the middle, so that the whole band is covered.
    arms = np.minimum(np.abs(edges[:-1] - middle), np.abs(edges[1:] - middle))
    excess = off - play
    beside = arms <= 0.5 * (edges[least + 1] - edges[least]) + 1e-9
    play += float(excess[beside].max(initial=0.0))
    excess = off - play
    far = (excess > 0) & ~beside
    tilt = float((excess[far] / arms[far]).max(initial=0.0))
    return Lean(middle=middle, play=play, tilt=tilt)


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """How a section is made and its shaft surveyed, besides how it hangs.

    Attributes
    ----------
    swelling : float
        Growth of a side, anywhere from nothing to the whole. [m]
    extra : float
        Out of square and drift, likewise. [m]
    built : float
        How much farther out than drawn it stands for certain. [m]
    fabrication, survey : float
        Tolerances, three standard deviations of a normal error. [m]
    moved : tuple of float
        Where the axis hangs beside where it was planned, x and y. [m]
    """

    swelling: float
    extra: float
    built: float
    fabrication: float
    survey: float
    moved: tuple[float, float] = (0.0, 0.0)

    def drawn(self, samples: int, random: np.random.Generator) -> tuple[Floats, Floats]:
        """Samples of growth and of the error of the survey.

        Parameters
        ----------
        samples : int
            How many.
        random : Generator
            Where from.

        Returns
        -------
        growth, survey : (n,) float
            Growth is never less than nothing: what is smaller than drawn is not
            counted on. [m]
        """
        growth = random.uniform(0.0, 1.0, samples) * self.swelling
        growth += random.uniform(0.0, 1.0, samples) * self.extra + self.built
        growth += random.standard_normal(samples) * (self.fabrication / SIGMAS)
        survey = random.standard_normal(samples) * (self.survey / SIGMAS)
        return np.maximum(growth, 0.0), survey


def made_as(bench: Bench, setting: Setting) -> Made:
    """How the section on a bench is made, as the bench is set.

    Parameters
    ----------
    bench : Bench
        The section.
    setting : Setting
        What is turned.

    Returns
    -------
    made : Made
        The largest growth of any side is taken on every side.

    Raises
    ------
    NotEvaluatedError
        If the setting turns or pares the section: its solid would be another.
    """
    if setting.quarter_turns % 4 or setting.pared:
        raise NotEvaluatedError(
            "samples are of the section as drawn: put turned or pared pieces in the plan"
        )
    line, planned = bench.line(setting), bench.plan.plumb_line
    drawn = bench.drawn.reach
    # Where a piece reaches nothing there is nothing to be farther out.
    farther = bench.built.reach - np.where(np.isfinite(drawn), drawn, 0.0)
    return Made(
        swelling=float(bench.swelling(setting).max()),
        extra=setting.out_of_square + setting.drift,
        built=float(np.where(np.isfinite(drawn), farther, 0.0).max(initial=0.0)),
        fabrication=bench.section.fabrication,
        survey=bench.plan.shaft.uncertainty,
        moved=(line.x - planned.x, line.y - planned.y),
    )


def whole_raise_chance(  # noqa: PLR0913
    shop: Workshop,
    bench: Bench,
    setting: Setting,
    *,
    samples: int = N_SAMPLES,
    at_most: int = MOST_MEASURED,
    told: Callable[[str], None] | None = None,
) -> CertifiedChance:
    """Hold samples of a section against touching the stone, over its whole raise.

    Parameters
    ----------
    shop : Workshop
        Plan, shapes and raise.
    bench : Bench
        The section, its travel and what it is made like.
    setting : Setting
        What is turned.
    samples : int
        How many.
    at_most : int
        How many the engine may measure in each stretch, where its bound does not decide.
    told : callable or None
        Told in words what is looked at, since it takes seconds.

    Returns
    -------
    chance : CertifiedChance
        A sample is kept if it keeps off in every stretch of travel, and broken if in
        one of them it certainly touches.

    Raises
    ------
    NotEvaluatedError
        If play, tilt or sway is not known somewhere, the section is turned or pared, it
        is meant to touch the stone, or it comes by a hole of the scan.
    """
    made = made_as(bench, setting)
    random = np.random.default_rng(SEED)
    growth, survey = made.drawn(samples, random)
    most = float((growth + np.abs(survey)).max())
    lower, upper = np.full(samples, np.inf), np.full(samples, np.inf)
    travels = bench.moving(setting)
    for number, travel in enumerate(travels, start=1):
        if told is not None:
            told(f"{travel.stage}, stretch {number} of {len(travels)}")
        lean = lean_of(travel, bench.drawn.edges)
        margins = _margins(shop, bench, travel, (lean, made), told)
        middle = float(margins.moving.centre[2])
        rows = _leaning(lean, made.moved, middle, random.uniform(-1.0, 1.0, (samples, 4)))
        verdicts = settle_samples(margins, rows, most, at_most=at_most)
        # Growth only ever takes; the survey may be wrong either way.
        np.minimum(lower, verdicts.lower - growth - np.abs(survey), out=lower)
        np.minimum(upper, verdicts.upper - growth + np.abs(survey), out=upper)
    kept, broken = int((lower > 0.0).sum()), int((upper <= 0.0).sum())
    return CertifiedChance(
        kept=kept, broken=broken, undecided=samples - kept - broken, limit=0.0
    )


def _margins(
    shop: Workshop,
    bench: Bench,
    travel: Travel,
    how: tuple[Lean, Made],
    told: Callable[[str], None] | None,
) -> Margins:
    lean, made = how
    passage = shop.raise_.passages[travel.passage]
    pair = Pair(shop=shop, passage=passage, moving=bench.section.name, against=SHAFT)
    if len(pair.meant):
        raise NotEvaluatedError(
            f"{travel.stage}: {bench.section.name} is meant to touch the stone, and samples "
            "leave nothing out"
        )
    farthest = float(lean.at(bench.drawn.edges).max()) + max(map(abs, made.moved))
    growth = made.swelling + made.extra + made.built + made.fabrication + made.survey
    reach = SCOPE + 2.0 * (farthest + growth)
    scope = MarginScope(reach=reach, turn=max(LEAST_TURN, 1.5 * lean.tilt))
    hidden = doubtful(pair, reach)
    if hidden:
        raise NotEvaluatedError(f"{travel.stage}: {hidden}")
    path = pair.path(*pair.travel, STEP)
    return build_margins(pair.moving_body, pair.other_body, path, scope=scope, report=told)


def _leaning(lean: Lean, moved: tuple[float, float], middle: float, units: Floats) -> Floats:
    """Rows for the engine, whose turns go through the body's middle."""
    rows = np.zeros((len(units), 9))
    arm = middle - lean.middle
    tilts = units[:, 2:] * lean.tilt
    rows[:, :2] = units[:, :2] * lean.play + tilts * arm + np.array(moved)
    # A turn about y carries what is above towards x, a turn about x towards minus y.
    rows[:, 3], rows[:, 2] = tilts[:, 0], -tilts[:, 1]
    return rows
