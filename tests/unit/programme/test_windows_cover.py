"""Fewest and cheapest parks against every set of them tried."""

from itertools import chain, combinations
from math import inf

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from towerlift.programme.windows_cover import Choice, cheapest_cover, unreached

heights = st.integers(0, 12).map(float)
choices_of = st.lists(
    st.tuples(heights, heights, st.integers(1, 5)), min_size=0, max_size=8
).map(
    lambda rows: [
        Choice(name=f"park {n}", low=min(a, b), high=max(a, b) + 1.0, cost=float(cost))
        for n, (a, b, cost) in enumerate(rows)
    ]
)


def every_set(choices):
    return chain.from_iterable(combinations(choices, n) for n in range(len(choices) + 1))


def length(gaps):
    return sum(b - a for a, b in gaps)


@settings(max_examples=150)
@given(choices=choices_of, low=st.integers(0, 6), more=st.integers(1, 8))
def test_without_staging_all_that_can_be_is_reached_for_least(choices, low, more):
    low, high = float(low), float(low + more)
    lost = unreached(choices, low, high)
    best = min(
        sum(each.cost for each in some)
        for some in every_set(choices)
        if unreached(some, low, high) == lost
    )
    cover = cheapest_cover(choices, low, high)
    assert cover.cost == best
    assert cover.left == lost
    chosen = [each for each in choices if each.name in cover.parks]
    assert sum(each.cost for each in chosen) == best
    assert unreached(chosen, low, high) == lost


@settings(max_examples=150)
@given(
    choices=choices_of,
    low=st.integers(0, 6),
    more=st.integers(1, 8),
    staging=st.integers(0, 4),
)
def test_with_staging_the_sum_is_least(choices, low, more, staging):
    low, high = float(low), float(low + more)
    best = min(
        sum(each.cost for each in some) + staging * length(unreached(some, low, high))
        for some in every_set(choices)
    )
    cover = cheapest_cover(choices, low, high, staging=float(staging))
    assert cover.cost == pytest.approx(best)
    chosen = [each for each in choices if each.name in cover.parks]
    real = sum(e.cost for e in chosen) + staging * length(unreached(chosen, low, high))
    assert real == pytest.approx(best)


@given(choices=choices_of, low=st.integers(0, 6), more=st.integers(1, 8))
def test_unreached_is_what_no_park_reaches(choices, low, more):
    gaps = unreached(choices, low, low + more)
    for half in range(2 * low, 2 * (low + more)):
        middle = half / 2 + 0.25
        reached = any(each.low <= middle <= each.high for each in choices)
        assert reached != any(a <= middle <= b for a, b in gaps)


def test_parks_are_told_from_the_top_down():
    parks = [Choice(name=str(n), low=float(n), high=n + 1.5) for n in range(4)]
    assert cheapest_cover(parks, 0.0, 4.5).parks == ("3", "2", "1", "0")
    assert cheapest_cover([], 1.0, 2.0).left == ((1.0, 2.0),)
    assert cheapest_cover(parks, 2.0, 2.0).parks == ()
    assert cheapest_cover([], 1.0, 2.0, staging=inf).cost == 0.0
