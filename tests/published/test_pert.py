"""Three-point durations against textbook answers.

Source: Introduction to Management Science, instructor's solutions, chapter 8, problems 5
and 6: means and deviations to two decimals, the chance by a table of the normal
distribution entered at 1.79.
"""

import numpy as np
import pytest

from towerlift.programme.risk import Draw, RiskLink, RiskNetwork, RiskTask, draw_programmes
from towerlift.programme.risk_spread import Spread, chance_of_sum

WEEK = 604800.0
PATH = ((5, 8, 17), (3, 5, 7), (4, 6, 8), (3, 4, 5))
SINGLE = [
    pytest.param((5, 5, 7), 5.33, 0.33, id="5-5-7"),
    pytest.param((4, 8, 13), 8.17, 1.50, id="4-8-13"),
    pytest.param((1, 10, 17), 9.67, 2.67, id="1-10-17"),
]


def spread(points):
    least, likely, most = (WEEK * each for each in points)
    return Spread(least=least, likely=likely, most=most, source="textbook")


@pytest.mark.parametrize(("points", "mean", "deviation"), SINGLE)
def test_mean_and_deviation(points, mean, deviation):
    assert spread(points).mean / WEEK == pytest.approx(mean, abs=0.005)
    assert spread(points).deviation / WEEK == pytest.approx(deviation, abs=0.005)


def test_the_path_and_its_chance():
    path = [spread(each) for each in PATH]
    assert sum(each.mean for each in path) / WEEK == pytest.approx(24)
    assert sum((each.deviation / WEEK) ** 2 for each in path) == pytest.approx(5)
    # Exact to five figures; the table's 0.9633 is entered at a rounded 1.79.
    chance = chance_of_sum(path, 28 * WEEK)
    assert chance == pytest.approx(0.96318, abs=5e-6)
    assert chance == pytest.approx(0.9633, abs=2e-4)


def test_drawn_programmes_have_the_textbook_mean():
    """And the spread of the beta distribution they are drawn from, in closed form."""
    tasks = tuple(RiskTask(name=str(n), spread=spread(each)) for n, each in enumerate(PATH))
    links = tuple(RiskLink(before=str(n), after=str(n + 1)) for n in range(len(PATH) - 1))
    n = 200_000
    drawn = draw_programmes(
        RiskNetwork(tasks=tasks, links=links), Draw(n=n, seed=3, correlation=0.0)
    )
    variance = sum(each.spread.beta_deviation**2 for each in tasks)
    error = np.sqrt(variance / n)
    assert drawn.finish.mean() == pytest.approx(24 * WEEK, abs=4 * error)
    assert drawn.finish.var() == pytest.approx(variance, rel=0.02)
    assert drawn.critical.tolist() == [1.0, 1.0, 1.0, 1.0]
