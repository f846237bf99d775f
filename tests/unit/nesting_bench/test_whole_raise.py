"""A whole section over its whole raise, sample by sample, against exact chances."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.nesting_bench.test_bench import bench_and_shop
from towerlift.errors import NotEvaluatedError
from towerlift.nesting.bench import Pared, Setting
from towerlift.nesting.faces import Travel
from towerlift.nesting.whole_raise import lean_of, whole_raise_chance
from towerlift.plan.bodies import Face

HALF = 2.86
"""Half the width of the belfry: 40 mm are left at the ledge, which stands 2.9 m off."""
LEDGE = 2.9
FEW = 4000


@cache
def put_together():
    return bench_and_shop(half=HALF)


def swaying(sway):
    """The bench, its section moving so far to each side at every height."""
    bench, shop = put_together()
    travels = tuple(replace(t, shift=np.full_like(t.shift, sway)) for t in bench.travels)
    return shop, replace(bench, travels=travels)


def chance_of(sway, setting=None):
    shop, bench = swaying(sway)
    return whole_raise_chance(shop, bench, setting or Setting(), samples=FEW, at_most=5)


heights = st.lists(st.floats(0.1, 3.0), min_size=2, max_size=12)


@given(heights=heights, play=st.floats(0.0, 0.05), seed=st.integers(0, 10_000))
def test_a_lean_is_nowhere_less_than_what_may_happen(heights, play, seed):
    edges = np.concatenate([[0.0], np.cumsum(heights)])
    shift = np.random.default_rng(seed).uniform(0.0, 0.1, (3, len(heights)))
    travel = Travel(
        stage="up", passage=0, heels=np.arange(4.0), play=np.full(3, play), shift=shift
    )
    lean = lean_of(travel, edges)
    most = (play + shift).max(axis=0)
    nearest = np.clip(lean.middle, edges[:-1], edges[1:])
    for height in (edges[:-1], edges[1:], nearest):
        assert np.all(lean.at(height) >= most - 1e-12)


def test_what_keeps_well_off_never_touches():
    found = chance_of(0.005)
    assert (found.kept, found.broken, found.undecided) == (FEW, 0, 0)


def test_hung_beside_its_line_it_touches_just_outside_and_not_just_inside():
    # Certain growth: 3 mm of swelling at most, 6 mm and 4 mm at three deviations each.
    room = LEDGE - HALF
    inside = chance_of(0.0, Setting(y=room - 0.020))
    outside = chance_of(0.0, Setting(y=room + 0.020))
    assert inside.kept == FEW
    assert outside.kept == 0
    assert outside.broken > 0


@pytest.mark.slow
def test_a_sway_against_the_exact_chance():
    # To the north anywhere within 50 mm either way, past a ledge 40 mm off.
    exact = 0.5 * (1 - 0.040 / 0.050)
    found = chance_of(0.050)
    assert found.broken > 0
    assert found.least.low <= exact
    assert found.most.high >= exact
    # Each stretch of travel leans on its own; growth of 15 mm is next to impossible.
    near = 0.5 * (1 - 0.025 / 0.050)
    assert found.most.share < 1 - (1 - near) ** len(put_together()[0].travels)


def test_what_is_not_known_is_not_proved():
    shop, bench = swaying(0.0)
    unknown = tuple(replace(t, unknown="no shoe bears") for t in bench.travels)
    with pytest.raises(NotEvaluatedError, match="no shoe bears"):
        whole_raise_chance(shop, replace(bench, travels=unknown), Setting(), samples=FEW)


@pytest.mark.parametrize(
    "setting",
    [Setting(quarter_turns=1), Setting(pared=(Pared(mark="a", face=Face.EAST, depth=0.01),))],
)
def test_another_solid_is_not_proved(setting):
    with pytest.raises(NotEvaluatedError, match="as drawn"):
        chance_of(0.0, setting)
