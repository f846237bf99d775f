"""One lift with something going wrong: against hand arithmetic and the curves."""

from pathlib import Path

import numpy as np
import pytest

from tests.plans.hand_ropes import with_hand_ropes
from towerlift.motion import follow_stages
from towerlift.nesting.pairs import Workshop
from towerlift.plan import read_plan
from towerlift.rig.hanging import hang_curve
from towerlift.rig.losses import guided_losses, guiding
from towerlift.rig.trial import LiftTrial, Trouble, lift_trial
from towerlift.shapes import build_shapes

FOLDER = Path(__file__).parents[3] / "meshes" / "tidewatch"


@pytest.fixture(scope="module")
def shop():
    plan = with_hand_ropes(read_plan(FOLDER / "plan-corrected.toml"))
    return Workshop(plan=plan, shapes=build_shapes(plan, FOLDER), raise_=follow_stages(plan))


def passage_of(shop, stage, heel):
    return next(
        each
        for each in shop.raise_.moving_passages
        if each.stage == stage and each.standing[each.moving[0]].heel_to >= heel
    )


def trial_of(shop, stage, heel) -> LiftTrial:
    return lift_trial(shop, passage_of(shop, stage, heel))


def test_nothing_wrong_is_as_the_curves_have_it(shop):
    passage = passage_of(shop, "L2", 13.95)
    curve = hang_curve(shop.plan, shop.shapes, shop.raise_, passage)
    trial = lift_trial(shop, passage)
    found = trial.at(13.95, Trouble())
    row = int(np.abs(curve.heels - 13.95).argmin())
    np.testing.assert_allclose(found.hang.tensions[0], curve.tensions[row], rtol=1e-6)
    assert np.abs(found.corners).max() < 1e-5


def test_a_tackle_lost_in_l2_swings_it_into_the_wall(shop):
    # Just after the pick-up, by the three equations of hand arithmetic for springs at the
    # blocks: 35 mrad about the east axis, 58 about the north, the block 0.282 m down, the
    # partner 2.17 times its share; the head then meets what stands 0.75 m off.
    trial = trial_of(shop, "L2", 13.95)
    found = trial.at(13.90, Trouble(lost="T2"))
    assert found.change is not None
    assert abs(found.change.tilt_x) == pytest.approx(0.0347, rel=0.03)
    assert abs(found.change.tilt_y) == pytest.approx(0.0583, rel=0.03)
    assert found.corners.min() == pytest.approx(-0.282, abs=0.01)
    mean = trial.weight / 8
    assert found.hang.tensions.max() / mean == pytest.approx(2.17, rel=0.015)
    near = trial.nearest(found)
    assert near is not None
    assert near.gap < 0


def test_shoes_keep_l4_upright_with_a_tackle_lost(shop):
    passage = passage_of(shop, "L4", 24.0)
    curve = hang_curve(shop.plan, shop.shapes, shop.raise_, passage)
    reckoned = guided_losses(curve, guiding(shop, passage, curve.heels))
    trial = lift_trial(shop, passage)
    for heel in (15.2, 20.0):
        found = trial.at(heel, Trouble(lost="T2", friction=0.0))
        row = int(np.abs(curve.heels - heel).argmin())
        # The closed form takes play without swelling, and so a little more.
        assert found.hang.tensions.max() < reckoned[row].max()
        assert found.hang.tensions.max() == pytest.approx(reckoned[row].max(), rel=0.06)
        assert found.hang.touching.any()


def test_lean_grows_with_the_lag_up_to_the_play(shop):
    trial = trial_of(shop, "L4", 24.0)
    leans = []
    for by in (0.0, 0.02, 0.04, 0.2, 0.4):
        change = trial.at(15.2, Trouble(behind="K2", by=by)).change
        assert change is not None
        leans.append(np.hypot(change.tilt_x, change.tilt_y))
    assert leans == sorted(leans)
    # 2 c / a about both axes at the most, with 13.5 mm of play left and 9.95 m from the
    # lowest to the highest pad that bears there; the pads give a little under 0.4 m.
    assert leans[-1] == pytest.approx(np.sqrt(2) * 2 * 0.0135 / 9.95, rel=0.03)


def test_gaps_known_before_change_no_answer(shop):
    trial = trial_of(shop, "L2", 13.95)
    known: dict[int, tuple[float, np.ndarray]] = {}
    for by in (0.0, 0.01, 0.03, 0.02):
        astray = trial.at(13.92, Trouble(behind="K5", by=by))
        assert trial.nearest(astray, known) == trial.nearest(astray)


def test_wind_leans_what_stands_above_the_wall(shop):
    trial = trial_of(shop, "L2", 13.95)
    calm = trial.at(13.92, Trouble())
    blown = trial.at(13.92, Trouble(gust=11.0))
    turned = trial.at(13.92, Trouble(gust=11.0, towards=np.pi / 2))
    assert calm.change is not None
    assert blown.change is not None
    assert turned.change is not None
    assert abs(calm.change.drift_x) < 1e-4
    assert blown.change.drift_x > 0.01
    assert blown.change.tilt_y > 0
    # The ropes splay otherwise that way.
    assert turned.change.drift_y == pytest.approx(blown.change.drift_x, rel=0.3)


def test_names_that_are_not_there(shop):
    trial = trial_of(shop, "L4", 24.0)
    with pytest.raises(ValueError, match="no capstan"):
        trial.at(20.0, Trouble(behind="K99", by=0.01))
    with pytest.raises(ValueError, match="no tackle"):
        trial.at(20.0, Trouble(lost="T99"))
    standing = next(each for each in shop.raise_.passages if not each.moving)
    with pytest.raises(ValueError, match="no lift hauls"):
        lift_trial(shop, standing)
