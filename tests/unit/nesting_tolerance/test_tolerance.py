"""What a stack refuses and how its three answers stand to each other."""

import coal
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from towerlift.nesting.tolerance import (
    Part,
    Spread,
    Stack,
    chance,
    root_sum_square,
    sample_stack,
    worst_case,
)

FEW = 20_000


def stack_of(gaps, shifts, *parts):
    return Stack(gaps=np.array(gaps), shifts=np.array(shifts), parts=parts)


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -0.001])
def test_a_part_that_is_no_size_is_refused(bad):
    with pytest.raises(ValueError, match="survey"):
        Part(name="survey", size=bad, spread=Spread.NORMAL)


def test_a_stack_needs_places():
    with pytest.raises(ValueError, match="place"):
        stack_of([], [])
    with pytest.raises(ValueError, match="finite"):
        stack_of([float("nan")], [0.0])
    with pytest.raises(ValueError, match="hits"):
        chance(3, 2)


def test_known_parts_never_go_under_the_root():
    swelling = Part(name="swelling", size=0.004, spread=Spread.ONE_WAY)
    made = Part(name="fabrication", size=0.003, spread=Spread.NORMAL, independent=True)
    read = Part(name="survey", size=0.004, spread=Spread.NORMAL, independent=True)
    stack = stack_of([0.030, 0.050], [0.001, 0.002], swelling, made, read)
    assert stack.worst_case == pytest.approx(0.029 - 0.011)
    assert stack.root_sum_square == pytest.approx(0.029 - 0.004 - 0.005)


def test_one_gust_moves_every_place_at_once():
    # The second place is nearer once a quarter of the lean is there.
    stack = stack_of([0.030, 0.035], [0.000, 0.020])
    share = np.array([0.0, 0.25, 0.5, 1.0])
    np.testing.assert_allclose(stack.leaned(share), [0.030, 0.030, 0.025, 0.015])


def test_nothing_varies():
    sampled = sample_stack(stack_of([0.02], [0.0]), samples=FEW)
    assert sampled.deviation == 0.0
    assert set(sampled.shares.values()) == {0.0}
    assert sampled.touching.hits == 0


def test_the_same_seed_gives_the_same_answer():
    stack = stack_of([0.004], [0.003], Part(name="a", size=0.003, spread=Spread.NORMAL))
    one, other = (sample_stack(stack, samples=FEW, seed=7) for _ in range(2))
    assert one.touching == other.touching
    assert sample_stack(stack, samples=FEW, seed=8).touching != one.touching


def test_less_than_the_running_clearance_is_counted_apart():
    stack = stack_of([0.020], [0.0], Part(name="a", size=0.010, spread=Spread.EVEN))
    sampled = sample_stack(stack, running=0.020, samples=FEW)
    assert sampled.touching.hits == 0
    assert sampled.short.low < 0.5 < sampled.short.high


sizes = st.lists(st.floats(0.0, 0.05), min_size=1, max_size=6)


@given(sizes=sizes)
def test_root_sum_square_is_never_more_than_the_worst_case(sizes):
    assert root_sum_square(sizes) <= worst_case(sizes) * (1 + 1e-12)
    if sum(size > 1e-6 for size in sizes) == 1:
        assert root_sum_square(sizes) == pytest.approx(worst_case(sizes), rel=1e-4)


@given(
    lines=st.lists(
        st.tuples(st.floats(0.0, 0.2), st.floats(0.0, 0.2)), min_size=1, max_size=12
    ),
    share=st.floats(0.0, 1.0),
)
def test_the_least_of_the_kept_lines_is_the_least_of_all(lines, share):
    gaps, shifts = np.array(lines).T
    stack = Stack(gaps=gaps, shifts=shifts, parts=())
    least = (gaps - shifts * share).min()
    assert stack.leaned(np.array([share]))[0] == pytest.approx(least, abs=1e-15)


@given(sizes=sizes, gap=st.floats(0.0, 0.2))
def test_no_sample_is_worse_than_the_worst_case(sizes, gap):
    parts = tuple(
        Part(name=f"part {n}", size=size, spread=Spread.EVEN) for n, size in enumerate(sizes)
    )
    stack = Stack(gaps=np.array([gap]), shifts=np.zeros(1), parts=parts)
    assert sample_stack(stack, samples=500).gaps[0] >= stack.worst_case - 1e-12


def test_against_direct_sampling_with_another_engine():
    """A box in a box, moved and grown sample by sample, measured by Coal."""
    random = np.random.default_rng(11)
    half, wall, n = 1.0, 1.012, 4000
    made, read = (random.standard_normal(n) * size / 3 for size in (0.006, 0.009))
    swollen = random.uniform(0.0, 0.006, n)
    touching = 0
    side = coal.Box(0.2, 4.0, 4.0)
    for grown, moved in zip(swollen + made, read, strict=True):
        body = coal.Box(2 * half, 2 * half, 2 * half)
        # Growth of one side moves that side: the box stands off by as much.
        at = coal.Transform3s(np.eye(3), np.array([grown, 0.0, 0.0]))
        beyond = coal.Transform3s(np.eye(3), np.array([wall - moved + 0.1, 0.0, 0.0]))
        result = coal.DistanceResult()
        gap = coal.distance(body, at, side, beyond, coal.DistanceRequest(), result)
        touching += gap <= 0
    stack = stack_of(
        [wall - half],
        [0.0],
        Part(name="swelling", size=0.006, spread=Spread.ONE_WAY),
        Part(name="fabrication", size=0.006, spread=Spread.NORMAL, independent=True),
        Part(name="survey", size=0.009, spread=Spread.NORMAL, independent=True),
    )
    direct, sampled = chance(touching, n), sample_stack(stack).touching
    assert touching > 20
    assert direct.low <= sampled.share <= direct.high
