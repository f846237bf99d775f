"""Checks of the capstan ground and of uneven hauling: inside, on, outside, no value."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.plans.hand_ropes import with_hand_ropes
from towerlift.checks.capstan_ground import check_capstan_ground
from towerlift.checks.case import Case
from towerlift.checks.uneven import check_uneven
from towerlift.findings import Verdict
from towerlift.motion import follow_stages
from towerlift.nesting.pairs import Workshop
from towerlift.plan import read_plan
from towerlift.plan.model import Plan
from towerlift.rig import hang_curves
from towerlift.shapes import build_shapes

PASS, FAIL, NOT = Verdict.PASS, Verdict.FAIL, Verdict.NOT_EVALUATED
FOLDER = Path(__file__).parents[3] / "meshes" / "tidewatch"


@pytest.fixture(scope="module")
def sound():
    plan = with_hand_ropes(read_plan(FOLDER / "plan-corrected.toml"))
    shapes, raise_ = build_shapes(plan, FOLDER), follow_stages(plan)
    hangs = tuple(
        each for each in hang_curves(plan, shapes, raise_) if each.stage in ("L3", "L4")
    )
    kept = {each.passage for each in hangs}
    raised = replace(
        raise_,
        passages=tuple(
            each
            if each.index in kept or not each.moving
            else replace(each, moving=(), lift=None)
            for each in raise_.passages
        ),
    )
    shop = Workshop(plan=plan, shapes=shapes, raise_=raised)
    return Case(plan=plan, shapes=shapes, raise_=raised, hangs=hangs, shop=shop)


def with_plan(case, **changes):
    body = case.plan.model_dump(mode="json") | changes
    plan = Plan.model_validate(body)
    return replace(case, plan=plan, shop=replace(case.workshop, plan=plan, shelf={}))


def rows(case, key, change):
    """The rows of a table of the plan, each changed by its place and what it holds."""
    body = case.plan.model_dump(mode="json")[key]
    return {key: [row | change(n, row) for n, row in enumerate(body)]}


def of(findings, limit):
    found = [each for each in findings if each.why.startswith(f"{limit}: ")]
    assert found, limit
    return found


def verdicts(findings, limit):
    return {each.verdict for each in of(findings, limit)}


def moved(case, mark, x, y):
    def change(_, row):
        return {"x": f"{x} m", "y": f"{y} m"} if row["mark"] == mark else {}

    return with_plan(case, **rows(case, "capstans", change))


# K1 stands at (10, 14.97); rings reach 1.8 + 0.6 m from their middles.
@pytest.mark.parametrize(("x", "verdict"), [(4.21, PASS), (4.20, PASS), (4.19, FAIL)])
def test_rings_stand_apart(sound, x, verdict):
    # K2 put level with K1, so far to the east of it that 1 m is left or not.
    case = moved(sound, "K2", 10 + x + 1.6, 14.97)
    assert verdicts(check_capstan_ground(case), "room between rings") == {verdict}


@pytest.mark.parametrize(("y", "verdict"), [(8.0, PASS), (7.9, PASS), (7.7, FAIL)])
def test_rings_stand_off_the_wall(sound, y, verdict):
    # The north wall stands out to 3.041 + 1.35 = 4.392 m.
    case = moved(sound, "K1", 0.0, y)
    found = of(check_capstan_ground(case), "room to the wall")
    assert {each.verdict for each in found} == {verdict}
    assert found[0].value == pytest.approx(y - 2.4 - 4.392, abs=0.01)


def test_no_wall_and_no_leads_are_not_evaluated(sound):
    shaft = sound.plan.model_dump(mode="json")["shaft"] | {"wall_thickness": None}
    assert verdicts(
        check_capstan_ground(with_plan(sound, shaft=shaft)), "room to the wall"
    ) == {NOT}

    def without(_, row):
        return {"lines": [line | {"leads": []} for line in row["lines"]]}

    findings = list(check_capstan_ground(with_plan(sound, **rows(sound, "lifts", without))))
    for limit in ("rope past a ring", "snap-back", "falls that cross", "rating of lead blocks"):
        assert verdicts(findings, limit) == {NOT}
        assert all("does not say where" in each.why for each in of(findings, limit))
    flat = with_plan(sound, **rows(sound, "capstans", lambda *_: {"barrel_height": None}))
    assert verdicts(check_capstan_ground(flat), "lead to the barrel") == {NOT}


def test_a_ring_in_the_way_of_a_fall(sound):
    # K2 put upon the fall that runs from (2.6, 4.75) to K1 at (10, 14.97).
    findings = list(check_capstan_ground(moved(sound, "K2", 7.0, 10.8)))
    for limit in ("rope past a ring", "snap-back"):
        for found in of(findings, limit):
            assert found.verdict is FAIL
            assert "K2" in found.why
            assert found.remedy


def test_falls_that_cross(sound):
    swap = {"K1": "K8", "K8": "K1"}

    def change(_, row):
        lines = [
            line | {"capstan": swap.get(line["capstan"], line["capstan"])}
            for line in row["lines"]
        ]
        return {"lines": lines}

    crossed = with_plan(sound, **rows(sound, "lifts", change))
    for found in of(check_capstan_ground(crossed), "falls that cross"):
        assert found.verdict is FAIL
        assert found.value == 1
        assert "T1 and T8" in found.why


# The last block is at (2.6, 4.75, 0.6), 12.62 m from K1: 2 degrees are 0.4406 m.
@pytest.mark.parametrize(
    ("height", "verdict"), [("1.04 m", PASS), ("1.05 m", FAIL), ("0.15 m", FAIL)]
)
def test_leads_enter_square(sound, height, verdict):
    case = with_plan(sound, **rows(sound, "capstans", lambda *_: {"barrel_height": height}))
    assert verdicts(check_capstan_ground(case), "lead to the barrel") == {verdict}


@pytest.mark.parametrize(
    ("anchor", "verdict"), [("24.88 kN", PASS), ("24.87 kN", FAIL), (None, NOT)]
)
def test_anchors_hold_a_burst(sound, anchor, verdict):
    # 9 hands, 300 N each, 1.8 m, 85 %, 0.166 m: 24.886 kN.
    burst = 9 * 300 * 1.8 * 0.85 / 0.166
    assert burst == pytest.approx(24886, abs=1)
    written = anchor and f"{burst / 1e3 + (0.001 if verdict is PASS else -0.001)} kN"
    case = with_plan(sound, **rows(sound, "capstans", lambda *_: {"anchor": written}))
    assert verdicts(check_capstan_ground(case), "anchor under a burst") == {verdict}


def test_anchor_test_is_a_quarter_over_the_worst_pull(sound):
    found = of(check_capstan_ground(sound), "anchor test")
    least = min(each.value for each in found if each.value is not None)
    # 12.6 kN in L4, tested to 25.
    assert least == pytest.approx(25 / 12.6, rel=0.01)
    tight = with_plan(sound, **rows(sound, "capstans", lambda *_: {"anchor": "15.5 kN"}))
    assert FAIL in verdicts(check_capstan_ground(tight), "anchor test")


def test_blocks_by_burst(sound):
    tackles = rows(sound, "tackles", lambda *_: {"lead_rating": "35 kN"})
    for found in of(check_capstan_ground(with_plan(sound, **tackles)), "rating of lead blocks"):
        assert found.verdict is FAIL
        # A right angle: 1.414 times 24.9 kN.
        assert "in a burst" in found.why
    unrated = rows(sound, "tackles", lambda *_: {"lead_rating": None})
    assert verdicts(
        check_capstan_ground(with_plan(sound, **unrated)), "rating of lead blocks"
    ) == {NOT}


# L4 at its start: 13.5 mm of play left on 11.6 m of shoes. Blocks 1.72 and 2.415 m out lean
# it as if they were 2 x (1.72^2 + 2.415^2) / (1.72 + 2.415) = 4.25 m apart: 9.89 mm, half 4.95.
@pytest.mark.parametrize(
    ("tolerance", "verdict"), [("4.94 mm", PASS), ("4.95 mm", FAIL), ("6 mm", FAIL)]
)
def test_level_tolerance(sound, tolerance, verdict):
    def change(_, row):
        return {"level_tolerance": tolerance} if row["name"] == "L4" else {}

    case = with_plan(sound, **rows(sound, "lifts", change))
    found = next(
        each for each in of(check_uneven(case), "level tolerance") if each.stage == "L4"
    )
    assert found.verdict is verdict
    assert "stop and level at 4 mm, abort at 7 mm" in found.why
    if verdict is FAIL:
        assert found.remedy[0] == "set the tolerance of lift L4 to 4 mm"


def test_no_shoes_no_allowance(sound):
    case = with_plan(sound, contacts=[])
    for limit in ("level tolerance", "jam share with a corner lost"):
        assert verdicts(check_uneven(case), limit) == {NOT}


def chosen(value):
    return [{"limit": "friction of shoes", "value": str(value), "source": "the rigger"}]


@pytest.mark.parametrize(("friction", "verdict"), [(0.34, PASS), (0.35, FAIL), (0.7, FAIL)])
def test_jam(sound, friction, verdict):
    case = with_plan(sound, limits=chosen(friction))
    found = next(
        each
        for each in of(check_uneven(case), "jam share with a corner lost")
        if each.stage == "L4"
    )
    # Without a corner's two blocks, 1.75 and 2.42 m out, the six left pull 4.17 / 6 m off the
    # middle, east and north; shoes 1.9 m apart at the top.
    assert found.value == pytest.approx(2 * friction * 2 * 4.17 / 6 / 1.9, rel=0.01)
    assert found.verdict is verdict
    assert found.heel is not None
    # From heel 23.55 the third row of shoes is above the rails.
    assert found.heel > 23.5
    if friction == 0.7:
        assert "no pull moves it" in found.why


def test_a_section_that_finds_no_rest_is_not_passed(sound):
    curves = tuple(
        replace(each, tensions=np.full_like(each.tensions, np.nan)) for each in sound.hangs
    )
    case = replace(sound, hangs=curves)
    assert verdicts(check_uneven(case), "jam share with a corner lost") == {NOT}
    assert verdicts(check_capstan_ground(case), "snap-back") == {NOT}
    assert verdicts(check_capstan_ground(case), "anchor test") == {NOT}
