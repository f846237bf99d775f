"""Tolerance stacks and intervals against printed answers and exact integrals.

Sources: the mechanical engineers' worked stack of ten parts of plus or minus 0.1 mm,
printed as 1.0 mm at worst and 0.316 mm by root-sum-square; the normal integral
(Abramowitz and Stegun, table 26.1: 0.841345 at one standard deviation, 0.977250 at two,
0.998650 at three); the interval without a hit, 1 - 0.025^(1/n), in closed form.
"""

import numpy as np
import pytest

from towerlift.nesting.tolerance import (
    N_SAMPLES,
    Part,
    Spread,
    Stack,
    chance,
    root_sum_square,
    sample_stack,
    worst_case,
)


def test_ten_parts_of_a_tenth():
    parts = [0.1] * 10
    assert worst_case(parts) == pytest.approx(1.0, abs=0.05)
    assert root_sum_square(parts) == pytest.approx(0.316, abs=0.0005)


# Below so many standard deviations lies so much of a normal gap.
NORMAL = [(1.0, 1 - 0.841345), (2.0, 1 - 0.977250), (3.0, 1 - 0.998650)]


@pytest.mark.parametrize(("deviations", "below"), NORMAL)
def test_sampling_against_the_normal_integral(deviations, below):
    # Two normal inputs make a normal gap: its deviation by the rule of squares.
    parts = (
        Part(name="fabrication", size=0.006, spread=Spread.NORMAL, independent=True),
        Part(name="survey", size=0.008, spread=Spread.NORMAL, independent=True),
    )
    sigma = 0.010 / 3
    stack = Stack(gaps=np.array([deviations * sigma]), shifts=np.zeros(1), parts=parts)
    # Ten runs together, and an interval that misses once in a thousand.
    hits = sum(sample_stack(stack, seed=seed).touching.hits for seed in range(10))
    found = chance(hits, 10 * N_SAMPLES, confidence=0.999)
    assert found.low <= below <= found.high
    sampled = sample_stack(stack)
    assert sampled.deviation == pytest.approx(sigma, rel=0.005)
    assert sampled.shares["fabrication"] == pytest.approx(0.36, abs=0.003)
    assert sampled.shares["survey"] == pytest.approx(0.64, abs=0.003)


def test_three_deviations_of_a_normal_gap_are_the_root_sum_square():
    parts = (
        Part(name="a", size=0.006, spread=Spread.NORMAL, independent=True),
        Part(name="b", size=0.008, spread=Spread.NORMAL, independent=True),
    )
    stack = Stack(gaps=np.array([0.05]), shifts=np.zeros(1), parts=parts)
    assert stack.root_sum_square == pytest.approx(0.040)
    assert sample_stack(stack).low == pytest.approx(0.040, abs=0.0001)


@pytest.mark.parametrize("samples", [10, 1000, 1_000_000])
def test_interval_without_a_hit(samples):
    found = chance(0, samples)
    assert found.low == 0.0
    assert found.high == pytest.approx(1 - 0.025 ** (1 / samples), rel=1e-6)


def test_sum_of_two_even_inputs_is_a_triangle():
    # A gap of 1.5 parts less two inputs that each lie evenly within one part: exactly
    # 0.5^2 / 2 / 4 of the square is beyond, by the area of a corner.
    parts = tuple(Part(name=n, size=1.0, spread=Spread.EVEN) for n in ("a", "b"))
    stack = Stack(gaps=np.array([1.5]), shifts=np.zeros(1), parts=parts)
    hits = sum(sample_stack(stack, seed=seed).touching.hits for seed in range(10))
    found = chance(hits, 10 * N_SAMPLES, confidence=0.999)
    assert found.low <= 0.125 / 4 <= found.high
