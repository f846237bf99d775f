"""Ways out of a haul with a halt on the way: times by hand, and the height to turn at."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plans.factory import tiny_plan
from towerlift.motion import follow_stages
from towerlift.motion.passages import Passage, Standing, State
from towerlift.plan import read_plan
from towerlift.rig.recovery_ways import Drill, Raising, SafePlace, Ways, ways_of

UP, DOWN, FIXING, LANDING = 100.0, 50.0, 600.0, 300.0
TOP = 15.0
FOLDER = Path(__file__).parents[3] / "meshes" / "tidewatch"
DRILL = Drill(
    spare=3600.0, stoppers=1200.0, relief=600.0, jam=3600.0, landing=LANDING, lowering=0.5
)


def ways(*halts, shut=()):
    standing = Standing(state=State.MOVING, carrier="L2", heel_from=0.0, heel_to=TOP)
    passage = Passage(
        index=5, stage="L2", step="lift", subject="belfry", lift="L2", moving=("belfry",),
        standing={"belfry": standing}, fixtures=frozenset(), fitted=frozenset(), begins=None,
        duration=TOP * UP,
    )  # fmt: skip
    return Ways(
        section="belfry",
        stage="L2",
        lift="L2",
        passages=(passage,),
        back=SafePlace(heel=0.0, carrier="ground", fixing=LANDING),
        on=SafePlace(heel=TOP, carrier="needles", fixing=FIXING),
        shut=shut,
        halts=tuple((6, *each) for each in halts),
        up=UP,
        down=DOWN,
    )


def test_without_a_halt_the_turning_point_is_where_both_ways_take_as_long():
    plain = ways()
    # 15 x 100 + 600 - 300 = 150 h.
    assert plain.turning_point == pytest.approx(12.0)
    assert plain.time_on(12.0) == pytest.approx(plain.time_back(12.0, 5)) == 900.0


def test_a_halt_still_to_come_counts_on_the_way_on_and_not_after_it():
    halted = ways((13.9, 1800.0))
    assert halted.time_on(10.0) == pytest.approx(5 * UP + FIXING + 1800)
    assert halted.time_on(13.9) == pytest.approx(1.1 * UP + FIXING + 1800)
    assert halted.time_on(14.0) == pytest.approx(1.0 * UP + FIXING)
    # Below the halt going back is always quicker, above it going on.
    assert halted.turning_point == pytest.approx(13.9)


halts = st.lists(
    st.tuples(st.floats(0.5, 14.5), st.floats(1.0, 2000.0)),
    max_size=3,
    unique_by=lambda x: x[0],
)


@given(halts=halts)
def test_above_the_turning_point_going_on_is_no_slower_and_below_it_is(halts):
    found = ways(*halts)
    turn = found.turning_point
    assert turn is not None
    for heel in np.linspace(0.01, TOP - 0.01, 97):
        quicker_on = found.time_on(heel) <= found.time_back(heel, 5)
        if heel > turn + 1e-3 and not any(abs(heel - at) < 1e-3 for at, _ in halts):
            assert quicker_on
        if heel < turn - 1e-3:
            assert not quicker_on


def test_where_the_way_back_is_shut_it_is_on():
    shut = ways((13.9, 1800.0), shut=((5, 8.0, "the needles are out"),))
    assert shut.turning_point == pytest.approx(8.0)
    assert shut.time_back(9.0, 5) == np.inf


def test_the_way_on_is_the_stages_own_passages_added_up():
    plan = tiny_plan()
    raise_ = follow_stages(plan)
    found = list(ways_of(Raising(plan=plan, raise_=raise_), DRILL))
    assert found
    for each in found:
        lift = next(p for p in each.passages if p.step == "lift")
        later = [p for p in raise_.passages[lift.index :] if p.stage == each.stage]
        fast = next(
            n
            for n, p in enumerate(later)
            if p.step in ("lock", "secure") and p.subject == each.section
        )
        takes = sum(p.duration for p in later[: fast + 1])
        heel = lift.standing[each.section].heel_from
        assert each.time_on(heel, lift.index) == pytest.approx(takes)
        assert each.time_back(each.back.heel, lift.index) == LANDING


def test_what_is_done_while_it_only_floats_is_still_to_come():
    """In P3 bearers 60, pendants 60, needles 120 min; lowered 50 mm, 15 min to secure."""
    plan = read_plan(FOLDER / "plan-corrected.toml")
    found = ways_of(Raising(plan=plan, raise_=follow_stages(plan)), DRILL)
    hung = next(each for each in found if each.stage == "P3")
    floated, lowered = hung.passages[0].index, hung.passages[-1].index
    before, after = hung.time_on(15.25, floated), hung.time_on(15.25, lowered)
    assert before - after == pytest.approx(240 * 60.0)
    assert after == pytest.approx(15 * 60.0, abs=30.0)


def test_a_halt_counts_until_it_is_done_and_then_there_is_no_way_back():
    """In L2 the haul stops for the slack pendants: 30 min."""
    plan = read_plan(FOLDER / "plan-corrected.toml")
    found = ways_of(Raising(plan=plan, raise_=follow_stages(plan)), DRILL)
    belfry = next(each for each in found if each.stage == "L2")
    *_, before, last = belfry.passages[:-1]
    assert last.standing["belfry"].heel_from == pytest.approx(13.95)
    on = belfry.time_on(13.95, before.index) - belfry.time_on(13.95, last.index)
    assert on == pytest.approx(30 * 60.0)
    assert "spire pendants" in belfry.shut_at(last.index)
    assert belfry.time_back(14.0, last.index) == np.inf
    assert belfry.shut_at(before.index) == ""
