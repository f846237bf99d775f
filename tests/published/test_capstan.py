"""Turns that hold, and what hands give, against textbook and reference answers."""

import numpy as np
import pytest

from towerlift.mechanics.capstan import (
    CapstanGear,
    hand_power,
    hands_needed,
    held_pull,
    holding_turns,
    rope_pull,
    rope_speed,
    turns_per_rise,
    walk_per_rise,
)


def test_hawser_problem_of_vector_mechanics():
    """Beer and Johnston, Vector Mechanics: Statics, 10th ed., problem 8.104.

    Two turns let 80 lb hold 5 000 lb: friction 0.329; 20 000 lb then take 2.67 turns.
    """
    friction = np.log(5000 / 80) / (2 * np.pi * 2)
    assert friction == pytest.approx(0.329, abs=0.0005)
    assert held_pull(80, 2, friction=0.329) == pytest.approx(5000, rel=0.007)
    assert holding_turns(5000, 80, friction=friction) == pytest.approx(2.0, abs=1e-12)
    assert holding_turns(20000, 80, friction=0.329) == pytest.approx(2.67, abs=0.005)


@pytest.mark.parametrize(
    ("turns", "friction", "printed", "within"),
    [
        pytest.param(3, 0.25, 111, 0.5, id="encyclopaedia-3-turns"),
        pytest.param(1, 0.3, 6.6, 0.05, id="quiz-page-1-turn"),
    ],
)
def test_ratio_held_by_turns(turns, friction, printed, within):
    assert held_pull(1.0, turns, friction=friction) == pytest.approx(printed, abs=within)


def test_tail_over_load_of_the_engineering_reference():
    """One turn at friction 0.5: the tail holds 0.043 of the load."""
    assert 1 / held_pull(1.0, 1, friction=0.5) == pytest.approx(0.043, abs=0.0005)


# Encyclopaedia's table of load held over tail: turns down, friction across.
RATIOS = [
    (1, 0.1, 1.874, 0.0005),
    (1, 0.2, 3.514, 0.0005),
    (1, 0.3, 6.586, 0.0005),
    (2, 0.2, 12.35, 0.005),
    (2, 0.3, 43.38, 0.005),
    (3, 0.3, 285.7, 0.05),
]


class TestOwnArithmetic:
    """Cross-checks, not published: sums of our own done by hand beside the code."""

    gear = CapstanGear(barrel_radius=0.150, rope_diameter=0.032, bar_radius=1.80)

    @pytest.mark.parametrize(("turns", "friction", "ratio", "within"), RATIOS)
    def test_ratio_table(self, turns, friction, ratio, within):
        assert held_pull(1.0, turns, friction=friction) == pytest.approx(ratio, abs=within)

    def test_rope_and_lift_speed(self):
        speed = rope_speed(self.gear, 0.55)
        assert speed == pytest.approx(0.051, abs=0.0005)
        assert speed / 4 * 60 == pytest.approx(0.76, abs=0.005)

    def test_turns_walk_and_power(self):
        assert turns_per_rise(self.gear, 4) == pytest.approx(3.84, abs=0.006)
        assert 15 * walk_per_rise(self.gear, 4) == pytest.approx(650, abs=1)
        assert hand_power(150, 0.55) == pytest.approx(82.5)

    @pytest.mark.parametrize(
        ("capstan_kn", "mean", "worst"),
        [(4.19, 3.0, 3.6), (6.31, 4.6, 5.5), (8.68, 6.3, 7.5), (9.48, 6.9, 8.2)],
    )
    def test_hands(self, capstan_kn, mean, worst):
        hands = hands_needed(self.gear, capstan_kn * 1e3, push=150, efficiency=0.85)
        assert hands == pytest.approx(mean, abs=0.05)
        assert 1.2 * hands == pytest.approx(worst, abs=0.06)

    def test_bar_force_example(self):
        gear = CapstanGear(barrel_radius=0.19, rope_diameter=0.02, bar_radius=1.8)
        push = 4e3 / rope_pull(gear, 1.0, efficiency=0.85)
        assert push == pytest.approx(523, abs=0.5)
        assert push / 4 == pytest.approx(131, abs=0.5)
        assert push / 6 == pytest.approx(87, abs=0.5)
