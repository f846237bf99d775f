"""What a trial assembly asks of every budget."""

import numpy as np
import pytest

from tests.plans.factory import tiny_plan
from towerlift.nesting.budget import GapBudget
from towerlift.nesting.built import built_outward
from towerlift.plan.bodies import AsBuilt


def base(*rows):
    section = tiny_plan().sections[0]
    built = tuple(AsBuilt.model_validate(row) for row in rows)
    return section.model_copy(update={"as_built": built})


def test_nothing_measured_asks_nothing():
    assert built_outward(base()) == 0.0
    assert built_outward(base(), (0.0, 1.0)) == 0.0


def test_the_worst_face_at_its_height():
    section = base({"s": "0 m", "north": "2 mm"}, {"s": "10 m", "east": "12 mm"})
    assert built_outward(section, (0.0, 0.0)) == pytest.approx(0.002)
    assert built_outward(section, (4.0, 5.0)) == pytest.approx(0.006)
    assert built_outward(section, (9.0, 13.0)) == pytest.approx(0.012)


def test_a_height_between_two_is_not_passed_over():
    section = base({"s": "0 m"}, {"s": "1 m", "south": "9 mm"}, {"s": "2 m"})
    assert built_outward(section, (0.0, 2.0)) == pytest.approx(0.009)


def test_standing_in_gives_nothing_but_may_stand_out_within():
    section = base({"s": "0 m", "west": "-8 mm", "east": "-8 mm", "north": "-8 mm",
                    "south": "-8 mm"})  # fmt: skip
    assert built_outward(section, (0.0, 13.0)) == 0.0
    # For what moves within it, a side that stands in is a side that stands out.
    assert built_outward(section) == pytest.approx(0.008)


def test_twist_and_diagonals_bring_corners_out():
    section = base({"s": "0 m", "twist": "2 mrad", "diagonals": "-16 mm"})
    # Legs reach 2.8 m: their ends are at 2.7 and they are 0.2 m thick.
    expected = 2.8 * 0.002 + 0.016 / (4 * np.sqrt(2))
    assert built_outward(section, (0.0, 1.0)) == pytest.approx(expected)


def test_the_budget_adds_it_directly_and_says_so():
    parts = {"running": 0.02, "play": 0.0, "swelling": 0.003, "fabrication": 0.006,
             "survey": 0.008, "tilt": 0.0, "sway": 0.0}  # fmt: skip
    plain, built = GapBudget(**parts), GapBudget(**parts, built=0.007)
    assert built.total - plain.total == pytest.approx(0.007)
    assert "7.0 farther out as built" in built.in_words()
    assert "as built" not in plain.in_words()
    with pytest.raises(ValueError, match="built"):
        GapBudget(**parts, built=float("nan"))
