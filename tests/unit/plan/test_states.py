"""The states a plan may ask for are the states the raise goes through."""

from typing import get_args

from towerlift.motion.passages import State
from towerlift.plan.quantities import StateName


def test_the_plan_and_the_raise_name_the_same_states():
    assert set(get_args(StateName)) == {str(state) for state in State}
