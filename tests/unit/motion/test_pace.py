"""How long a haul takes.

The figures of the example's second lift are our own arithmetic, by hand: rope speed
0.55 (0.150 + 0.016) / 1.8 = 0.050722 m/s, over four parts 0.012681 m/s or
0.761 m/min; 13.9 m at that speed take 18.27 min, and 27.8 checks of 2 min 55.6 min.
"""

import pytest

from tests.plans.factory import lift, tiny_plan
from towerlift.motion.pace import haul_duration, haul_speed


def belfry_lift(plan):
    return next(each for each in plan.lifts if each.name == "belfry lift")


def test_speed_is_rope_speed_over_parts():
    plan = tiny_plan()
    assert 60 * haul_speed(plan, belfry_lift(plan)) == pytest.approx(0.76, abs=0.005)


@pytest.mark.parametrize("travel", [13.9, -13.9])
def test_travel_and_checks_both_take_time_up_and_down(travel):
    plan = tiny_plan()
    hauling = belfry_lift(plan)
    minutes = haul_duration(travel, haul_speed(plan, hauling), hauling) / 60
    assert minutes == pytest.approx(73.9, abs=0.05)


def test_no_travel_takes_no_time():
    plan = tiny_plan()
    assert haul_duration(0.0, 0.01, belfry_lift(plan)) == 0.0


def test_the_thinnest_rope_sets_the_pace():
    plan = tiny_plan()
    coils = [coil.model_dump() for coil in plan.coils]
    coils[2]["diameter"] = "24 mm"
    slow = tiny_plan(coils=coils)
    # 0.150 + 0.012 against 0.150 + 0.016, by hand
    assert haul_speed(slow, belfry_lift(slow)) / haul_speed(plan, belfry_lift(plan)) == (
        pytest.approx(0.162 / 0.166, rel=1e-12)
    )


def test_a_lift_without_its_pattern_has_no_speed():
    broken = lift("belfry lift", "belfry", "gantry", (5, 6, 7, 8), pattern="six parts")
    plan = tiny_plan(lifts=[broken])
    with pytest.raises(ValueError, match="six parts"):
        haul_speed(plan, plan.lifts[0])


@pytest.mark.parametrize("lost", ["coils", "capstans"])
def test_a_line_without_coil_or_capstan_has_no_speed(lost):
    plan = tiny_plan(**{lost: []})
    with pytest.raises(ValueError, match="no capstan"):
        haul_speed(plan, plan.lifts[0])
