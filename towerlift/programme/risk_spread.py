"""Three-point durations: what a piece of work takes if all goes well, as expected, badly."""

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import isfinite, sqrt
from pathlib import Path

import numpy as np
from scipy.special import betaincinv, ndtr

from towerlift.errors import PlanError, UnitError
from towerlift.programme.weather import Floats
from towerlift.units import Dimension, parse_quantity

_SCORES = np.linspace(-5.0, 5.0, 1001)
COLUMNS = ("name", "least", "likely", "most", "source")
USUAL_LEAST, USUAL_MOST = 0.85, 1.5
USUAL_SOURCE = (
    "no three-point durations given, so 0.85 to 1.5 of the planned time: "
    "common practice, no source"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """A duration that is not certain.

    Attributes
    ----------
    least, likely, most : float
        If all goes well, as expected, and badly. [s]
    source : str
        Who says so.

    Raises
    ------
    ValueError
        If they are not in order, or not numbers.
    """

    least: float
    likely: float
    most: float
    source: str

    def __post_init__(self) -> None:
        if not (0 <= self.least <= self.likely <= self.most and isfinite(self.most)):
            raise ValueError(
                f"durations must be in order, got {self.least}, {self.likely}, {self.most} s"
            )

    @property
    def mean(self) -> float:
        """A sixth of the ends and four times the likely one, as PERT has it. [s]"""
        return (self.least + 4.0 * self.likely + self.most) / 6.0

    @property
    def deviation(self) -> float:
        """A sixth of the range, as PERT has it. [s]"""
        return (self.most - self.least) / 6.0

    @property
    def beta_deviation(self) -> float:
        """Standard deviation of what `quantiles` draws from. [s]"""
        return sqrt((self.mean - self.least) * (self.most - self.mean) / 7.0)


def usual_spread(planned: float) -> Spread:
    """Spread taken where nobody has given one. [s]"""
    return Spread(
        least=USUAL_LEAST * planned,
        likely=planned,
        most=USUAL_MOST * planned,
        source=USUAL_SOURCE,
    )


def quantiles(spread: Spread, chances: Floats) -> Floats:
    r"""Durations that are not exceeded with given chances.

    Parameters
    ----------
    spread : Spread
        Its ends and its likely value.
    chances : array of float
        From 0 to 1.

    Returns
    -------
    durations : array of float
        [s]

    Notes
    -----
    A beta distribution over the range with :math:`\alpha = 1 + 4 (m - a)/(b - a)` and
    :math:`\beta = 1 + 4 (b - m)/(b - a)`: its mean is that of PERT,
    :math:`(a + 4 m + b)/6`, whatever the three; its variance is
    :math:`(\mu - a)(b - \mu)/7`, which is the sixth of the range only where
    the likely value lies near a third of it from one end (derived here).
    """
    width = spread.most - spread.least
    if not width > 0:
        return np.full(np.shape(chances), spread.likely)
    share: Floats = betaincinv(*_shape(spread), chances)
    return spread.least + width * share


def _shape(spread: Spread) -> tuple[float, float]:
    width = spread.most - spread.least
    alpha = 1.0 + 4.0 * (spread.likely - spread.least) / width
    beta = 1.0 + 4.0 * (spread.most - spread.likely) / width
    return round(alpha, 12), round(beta, 12)


@lru_cache(maxsize=1024)
def _score_table(alpha: float, beta: float) -> Floats:
    return np.asarray(betaincinv(alpha, beta, ndtr(_SCORES)), dtype=np.float64)


def from_scores(spread: Spread, scores: Floats) -> Floats:
    """Durations for standard normal scores, by a table of `quantiles`.

    Parameters
    ----------
    spread : Spread
        Its ends and its likely value.
    scores : array of float
        Standard normal; beyond 5 either way taken as 5.

    Returns
    -------
    durations : array of float
        Within 5e-5 of the range of what `quantiles` gives. [s]
    """
    width = spread.most - spread.least
    if not width > 0:
        return np.full(np.shape(scores), spread.likely)
    table = _score_table(*_shape(spread))
    share: Floats = np.interp(scores, _SCORES, table)
    return spread.least + width * share


def chance_of_sum(spreads: Sequence[Spread], moment: float) -> float:
    """Chance that work done one piece after another is over in time, as PERT reckons it.

    Parameters
    ----------
    spreads : sequence of Spread
        Independent of each other.
    moment : float
        Time allowed. [s]

    Returns
    -------
    chance : float
        By the normal distribution with the sums of PERT's means and variances.

    Raises
    ------
    ValueError
        If nothing varies.
    """
    mean = sum(each.mean for each in spreads)
    variance = sum(each.deviation**2 for each in spreads)
    if not variance > 0:
        raise ValueError("no duration varies, so there is no chance to reckon")
    return float(ndtr((moment - mean) / sqrt(variance)))


def read_spreads(path: Path) -> Mapping[str, Spread]:
    """Read three-point durations.

    Parameters
    ----------
    path : Path
        CSV with the columns name, least, likely, most and source; durations with their
        units, such as "95 min".

    Returns
    -------
    spreads : mapping of str to Spread
        By name of the stage or activity.

    Raises
    ------
    PlanError
        If it cannot be read; every row that is wrong is named.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.reader(file))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise PlanError(path, [f"{path.name} cannot be read: {error}"]) from None
    if not rows or tuple(cell.strip() for cell in rows[0]) != COLUMNS:
        got = ",".join(rows[0]) if rows else "nothing"
        raise PlanError(path, [f'first row is "{got}"; write "{",".join(COLUMNS)}"'])
    spreads: dict[str, Spread] = {}
    problems = []
    for number, row in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in row):
            continue
        try:
            name, spread = _row(row)
            if name in spreads:
                raise ValueError(f'"{name}" is given a second time')
            spreads[name] = spread
        except (ValueError, UnitError) as error:
            problems.append(f"row {number}: {error}")
    if problems:
        raise PlanError(path, problems)
    return spreads


def _row(row: list[str]) -> tuple[str, Spread]:
    if len(row) != len(COLUMNS):
        raise ValueError(f"{len(row)} cells; write {len(COLUMNS)}: {', '.join(COLUMNS)}")
    name, *durations, source = (cell.strip() for cell in row)
    if not name or not source:
        raise ValueError("name and source must be given")
    least, likely, most = (parse_quantity(each, Dimension.TIME) for each in durations)
    return name, Spread(least=least, likely=likely, most=most, source=source)
