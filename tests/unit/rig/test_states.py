"""States of a small tower: what carries what, what the wind reaches, and who is wedged."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.plans.factory import at, hoist, install, land, section, stage, tiny_plan
from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.mechanics.wind import TERRAINS, pressure_profile
from towerlift.motion import follow_stages
from towerlift.nesting.pairs import Workshop
from towerlift.rig.out_of_true import FORCE_COEFFICIENT
from towerlift.rig.states import tower_states
from towerlift.rig.states_forces import free_bodies
from towerlift.rig.wind import exposures, site_gust, wind_rules
from towerlift.shapes import build_shapes

WIND = {"terrain": "0", "basic_speed": "24 m/s", "return_years": 50, "source": "chart"}
LOW_WALL = {
    "survey": [
        {"z": z, "west": "-3.1 m", "east": "3.1 m", "south": "-3.1 m", "north": "3.1 m"}
        for z in ("0 m", "30 m")
    ],
    "uncertainty": "5 mm",
    "wall_head": "20 m",
}


def shop_of(**changes):
    plan = tiny_plan(**({"wind": WIND, "shaft": LOW_WALL} | changes))
    return Workshop(plan=plan, shapes=build_shapes(plan, Path()), raise_=follow_stages(plan))


def rules_of(plan, corner):
    rules = wind_rules(plan, corner)
    assert rules is not None
    return rules


@pytest.fixture(scope="module")
def shop():
    return shop_of()


@pytest.fixture(scope="module")
def states(shop):
    return tuple(tower_states(shop, rules_of(shop.plan, 4.0 / 3.6)))


def one(states, stage_name, step, section_name):
    state = [s for s in states if s.stage == stage_name and s.passage.step == step][-1]
    return state, next(j for j in state.joints if j.section == section_name)


def test_without_wind_there_are_no_rules():
    assert wind_rules(tiny_plan(), 1.1) is None


def test_wind_reaches_only_what_stands_above_the_wall(shop, states):
    state, _ = one(states, "spire up", "lift", "spire")
    wind = state.winds["spire"]
    # Heel at 15.3, wall head at 20, a tower 13.5 m long and 3.5 m wide.
    assert wind.foot == pytest.approx(20.0)
    assert wind.head == pytest.approx(28.8, abs=0.26)
    assert wind.area == pytest.approx(3.5 * (wind.head - wind.foot), rel=1e-9)
    grows = float(pressure_profile((20 + wind.head) / 2, 20.0, TERRAINS["0"]))
    assert wind.force == pytest.approx(FORCE_COEFFICIENT * wind.area * grows, rel=0.01)
    assert wind.centre == pytest.approx((20 + wind.head) / 2, abs=0.2)


def test_what_stands_below_the_wall_is_sheltered(shop, states):
    state = next(s for s in states if s.passage.step == "assemble")
    assert state.winds["spire"].force == 0.0
    assert state.winds["spire"].area == 0.0


def test_one_within_another_is_sheltered_by_the_one_outside(shop):
    rules = rules_of(shop.plan, 1.0)
    passage = next(p for p in shop.raise_.passages if len(p.standing) == 2)
    both = exposures(shop, passage, {"belfry": 10.0, "spire": 16.0}, rules)
    # Where both stand the wider takes the wind: the belfry to 22.5, the spire above.
    assert both["belfry"].head == pytest.approx(22.5, abs=0.26)
    assert both["spire"].foot == pytest.approx(both["belfry"].head, abs=1e-9)
    thinner = replace(rules, coefficients=dict(rules.coefficients) | {"belfry": 0.5})
    clad = exposures(shop, passage, {"belfry": 10.0, "spire": 16.0}, thinner)
    assert clad["belfry"].force == 0.0, "the wind passes an open frame to what is in it"


def test_weights_and_winds_come_down_the_chain(shop, states):
    _, belfry = one(states, "belfry up", "lock", "belfry")
    assert set(belfry.carried) == {"belfry", "spire"}
    assert set(belfry.pushing) == {"belfry", "spire"}
    masses = shop.shapes.sections
    frame = shop.shapes.fit_out["bell frame"].mass.mass
    total = masses["belfry"].mass.mass + masses["spire"].mass.mass + frame
    assert belfry.stand.weight == pytest.approx(total * STANDARD_GRAVITY)
    _, spire = one(states, "belfry up", "lock", "spire")
    assert spire.carried == ("spire",)
    assert spire.carrier == "belfry"
    assert spire.kind == "ledge"


def test_kinds_of_joints(states):
    kinds = {(s.stage, j.section, j.kind) for s in states for j in s.joints}
    assert ("spire up", "spire", "ground") in kinds
    assert ("spire up", "spire", "tackles") in kinds
    assert ("spire up", "spire", "needle") in kinds
    assert ("spire hung", "spire", "pendant") in kinds
    assert ("belfry up", "spire", "ledge") in kinds


def test_nothing_is_told_twice(states):
    still = [
        (s.stage, s.passage.fixtures, s.passage.fitted,
         tuple((j.section, j.state, j.carrier, j.heel) for j in s.joints))
        for s in states
        if not s.moves
    ]  # fmt: skip
    assert len(still) == len(set(still))


def test_hauls_are_cut_at_half_metres(states):
    heels = [s.heels["spire"] for s in states if s.stage == "spire up" and s.moves]
    assert max(np.diff(heels)) <= 0.5 + 1e-9
    assert heels[0] == 0.0
    assert heels[-1] == pytest.approx(15.3)


@pytest.mark.parametrize("along", [0, 1])
@pytest.mark.parametrize("wedged", [True, False])
def test_every_free_body_is_in_balance(shop, states, along, wedged):
    for state in states:
        for body in free_bodies(shop, state, 250.0, wedged=wedged, along=along):
            weight = -sum(each.up for each in body.forces if each.what == "weight")
            across, up, turn = body.unbalance
            assert abs(across) < 1e-9 * weight
            assert abs(up) < 1e-9 * weight
            assert abs(turn) < 1e-7 * weight


def test_a_lock_holds_until_the_section_is_lifted_off():
    steps = [
        *install("gantry"),
        {"do": "assemble", "section": "spire"},
        *hoist("spire", "spire lift", 15.3),
        *install("high needles"),
        {"do": "lock", "section": "spire", "on": "high needles", "wedged_within": "8 h"},
        {"do": "transfer", "section": "spire"},
    ]
    again = [*hoist("spire", "spire lift", 16.0), *land("spire", "high needles")]
    shop = shop_of(
        stages=[stage("up", steps, starts=at("08:00")), stage("on", again, starts=at("14:00"))]
    )
    states = tuple(tower_states(shop, rules_of(shop.plan, 1.0)))
    locked = [s.joints[0] for s in states if s.joints[0].kind == "needle"]
    first = [each for each in locked if each.heel == pytest.approx(15.3)]
    assert all(each.lock is not None and each.lock.wedged_within == 8 * 3600 for each in first)
    assert all(each.wedged_by is not None for each in first)
    hauled = [s.joints[0] for s in states if s.moves]
    assert all(each.lock is None for each in hauled)
    later = [each for each in locked if each.heel == pytest.approx(16.0)]
    assert later
    assert all(each.lock is not None and each.lock.wedged_within is None for each in later)


def test_supports_are_fid_holes_where_there_are_any():
    fids = [
        {"mark": f"F{n}", "at": [f"{x} m", f"{y} m", "0.5 m"]}
        for n, (x, y) in enumerate([(1.6, 1.6), (1.6, -1.6), (-1.6, -1.6), (-1.6, 1.6)])
    ]
    shop = shop_of(
        sections=[
            section("base", 2.8, 13.0, nest_height="0.34 m"),
            section("belfry", 2.25, 12.5, nest_height="6.8 m"),
            section("spire", 1.75, 13.5, fids=fids),
        ]
    )
    states = tuple(tower_states(shop, rules_of(shop.plan, 1.0)))
    _, spire = one(states, "spire up", "lock", "spire")
    assert spire.kind == "tackles"
    assert np.abs(spire.stand.supports).max() == pytest.approx(1.75)
    _, spire = one(states, "spire up", "transfer", "spire")
    assert np.abs(spire.stand.supports).max() == pytest.approx(1.6)


def test_the_gust_of_a_site():
    plan = tiny_plan(wind=WIND)
    assert plan.wind is not None
    # By hand: k_r 0.1560, c_r 1.426, I_v 0.1094 at 28 m over the sea: q_p = 2.244 v_b^2.
    assert site_gust(plan.wind, 28.0) == pytest.approx(24 * np.sqrt(2.244 / 0.625), abs=0.02)
    rarer = plan.wind.model_copy(update={"return_years": 2})
    assert site_gust(rarer, 28.0) == pytest.approx(
        0.7765 * site_gust(plan.wind, 28.0), abs=0.02
    )
