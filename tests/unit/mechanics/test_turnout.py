"""Odds that enough people come: against the binomial, and laws of the sum."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from towerlift.mechanics.turnout import chance_of, sign_ups_for, turnout


@given(signed=st.integers(0, 120), show=st.floats(0.0, 1.0), need=st.integers(0, 130))
def test_alike_people_are_binomial(signed, show, need):
    assert chance_of(need, [show] * signed) == pytest.approx(
        binom.sf(need - 1, signed, show), abs=1e-12
    )


@given(shows=st.lists(st.floats(0.0, 1.0), max_size=40))
def test_odds_sum_to_one_with_the_mean_that_is_expected(shows):
    odds = turnout(shows)
    assert odds.sum() == pytest.approx(1)
    assert sum(n * each for n, each in enumerate(odds)) == pytest.approx(sum(shows), abs=1e-9)


@given(shows=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=20), need=st.integers(1, 20))
def test_one_more_person_never_harms(shows, need):
    assert chance_of(need, [*shows, 0.5]) >= chance_of(need, shows) - 1e-12


def test_three_people_by_hand():
    # 0.9, 0.5, 0.2: all three 0.09; exactly two 0.9*0.5*0.8 + 0.9*0.5*0.2 + 0.1*0.5*0.2.
    odds = turnout([0.9, 0.5, 0.2])
    assert odds[3] == pytest.approx(0.09)
    assert odds[2] == pytest.approx(0.36 + 0.09 + 0.01)


@pytest.mark.parametrize("need", [1, 8, 72])
@pytest.mark.parametrize("wanted", [0.5, 0.95, 0.99])
def test_fewest_sign_ups_are_the_fewest(need, wanted):
    signed = sign_ups_for(need, 0.9, wanted=wanted)
    assert signed is not None
    assert chance_of(need, [0.9] * signed) >= wanted
    assert chance_of(need, [0.9] * (signed - 1)) < wanted


def test_what_cannot_be():
    assert sign_ups_for(10, 0.01, wanted=0.99, most=20) is None
    with pytest.raises(ValueError, match="probability"):
        turnout([1.1])
    with pytest.raises(ValueError, match="probability"):
        turnout([float("nan")])
    with pytest.raises(ValueError, match="above 0"):
        sign_ups_for(3, 0.0, wanted=0.9)
