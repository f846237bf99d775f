"""Every permitted change of state, and every forbidden one."""

from itertools import product

import pytest

from towerlift.motion.passages import State
from towerlift.motion.states import CHANGES, literal, permitted, states_before

# Written out again from the order of work, not read from the table under test.
PERMITTED = {
    ("assemble", "ground"): ("assembling", "complete"),
    ("sling", "complete"): ("slung", "slung"),
    ("sling", "secured"): ("slung", "slung"),
    ("sling", "locked"): ("slung", "slung"),
    ("sling", "transferred"): ("slung", "slung"),
    ("float", "slung"): ("floated", "floated"),
    ("lift", "floated"): ("moving", "parked"),
    ("lift", "parked"): ("moving", "parked"),
    ("lower", "floated"): ("moving", "parked"),
    ("lower", "parked"): ("moving", "parked"),
    ("secure", "parked"): ("parked", "secured"),
    ("lock", "parked"): ("parked", "locked"),
    ("lock", "secured"): ("secured", "locked"),
    ("transfer", "secured"): ("secured", "secured"),
    ("transfer", "locked"): ("locked", "transferred"),
}
STEPS = ("assemble", "sling", "float", "lift", "lower", "secure", "lock", "transfer")
ALL = list(product(STEPS, State))


@pytest.mark.parametrize(("step", "state"), [pair for pair in ALL if pair in PERMITTED])
def test_permitted_change(step, state):
    change = permitted(step, state)
    assert change is not None
    assert (change.before, change.during, change.after) == (state, *PERMITTED[step, state])
    assert literal(step, state) == change


@pytest.mark.parametrize(("step", "state"), [pair for pair in ALL if pair not in PERMITTED])
def test_forbidden_change(step, state):
    assert permitted(step, state) is None
    assert state not in states_before(step)


def test_table_holds_nothing_else():
    assert set(CHANGES) == set(PERMITTED)


@pytest.mark.parametrize(("step", "state"), ALL)
def test_a_step_followed_against_the_rule_leads_where_it_always_leads(step, state):
    ends = {after for (name, _), (_, after) in PERMITTED.items() if name == step}
    assert literal(step, state).after in ends


def test_states_before_are_told_in_the_order_they_are_passed_through():
    assert states_before("lock") == (State.PARKED, State.SECURED)
    assert states_before("install") == ()
