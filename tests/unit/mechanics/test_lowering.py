"""Letting down: hand sums, laws and refusals."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from towerlift.mechanics.capstan import held_pull
from towerlift.mechanics.lowering import (
    barrel_hold,
    carried_going_down,
    carried_going_up,
    fall_onto_ropes,
    most_turns_that_surge,
    tail_to_hold,
)
from towerlift.mechanics.tackle import lowering_advantage, raising_advantage, snatch_slack


def test_hold_of_a_twofold_tackle():
    # Advantage 4.81 going down at 0.93 a sheave; two lead blocks leave 0.865 of the fall.
    hold = float(barrel_hold(25.9e3, 4, 0.93, 2))
    assert hold / 1e3 == pytest.approx(25.9 / 4.812 * 0.8649, abs=0.002)


@given(parts=st.integers(1, 8), ratio=st.floats(0.7, 1.0), leads=st.integers(0, 4))
def test_less_is_held_than_was_hauled(parts, ratio, leads):
    hauled = 1.0 / raising_advantage(parts, ratio) / ratio**leads
    held = float(barrel_hold(1.0, parts, ratio, leads))
    assert held <= hauled * (1 + 1e-12)
    assert held == pytest.approx(ratio**leads / lowering_advantage(parts, ratio), rel=1e-12)


@given(pull=st.floats(100, 1e5), tail=st.floats(1, 90), friction=st.floats(0.1, 0.5))
def test_turns_and_tail_undo_each_other(pull, tail, friction):
    turns = most_turns_that_surge(pull, tail, friction=friction)
    assert tail_to_hold(pull, turns, friction=friction) == pytest.approx(tail, rel=1e-9)
    assert held_pull(tail, turns, friction=friction) == pytest.approx(pull, rel=1e-9)


def test_a_light_pull_surges_with_no_turn():
    assert most_turns_that_surge(5.0, 10.0, friction=0.3) == 0.0


@given(jam=st.floats(0, 0.95), wind=st.floats(0, 0.9))
def test_down_and_up_lie_on_either_side_of_the_weight(jam, wind):
    assert 0 <= float(carried_going_down(jam, wind)) <= 1 <= float(carried_going_up(jam, wind))


def test_locked_going_up_still_comes_down():
    assert float(carried_going_up(1.0)) == np.inf
    assert float(carried_going_down(1.0)) == pytest.approx(0.5)
    assert float(carried_going_down(0.0, 1.2)) == 0.0


def test_freed_at_four_fifths_it_snatches_a_fifth_more():
    assert fall_onto_ropes(-0.8, 1.0) == pytest.approx(1.2)
    assert fall_onto_ropes(-1.0, 1.0) == pytest.approx(1.0)
    assert fall_onto_ropes(0.0, 1.0) == pytest.approx(2.0)
    assert fall_onto_ropes(0.5, 0.25) == pytest.approx(snatch_slack(0.5, 0.25))


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: barrel_hold(1.0, 4, 0.93, -1), "leads"),
        (lambda: tail_to_hold(-1.0, 2.0, friction=0.2), "negative"),
        (lambda: tail_to_hold(np.nan, 2.0, friction=0.2), "negative"),
        (lambda: most_turns_that_surge(0.0, 1.0, friction=0.2), "positive"),
        (lambda: carried_going_down(-0.1), "negative"),
        (lambda: carried_going_up(np.nan), "negative"),
        (lambda: fall_onto_ropes(0.1, 0.0), "stretch"),
        (lambda: fall_onto_ropes(-2.0, 1.0), "more than the weight"),
    ],
)
def test_refusals(call, says):
    with pytest.raises(ValueError, match=says):
        call()
