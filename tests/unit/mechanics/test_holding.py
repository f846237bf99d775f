"""A load held out of true, against balances written out by hand."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from towerlift.mechanics.energy import Pose
from towerlift.mechanics.guided import Disturbance, settle_guided
from towerlift.mechanics.hang import HungLoad, settle
from towerlift.mechanics.holding import hold, level_haul
from towerlift.mechanics.shoes import Guides, Wind

WEIGHT, STIFFNESS, LENGTH, HALF = 60e3, 150e3, 12.0, 2.0
CORNERS = np.array([[1, 1], [1, -1], [-1, -1], [-1, 1]], dtype=float)


def load(*, centre=(0.0, 0.0, 3.0), splay=0.0, groups=(0, 1, 2, 3)):
    """Four lines at the corners, straight up unless splayed."""
    lower = np.column_stack([HALF * CORNERS, np.zeros(4)])
    upper = np.column_stack([(HALF - splay) * CORNERS, np.full(4, LENGTH)])
    return HungLoad(
        upper=upper[None],
        lower=lower[None],
        stiffness=np.full((1, 4), STIFFNESS),
        weight=np.array([WEIGHT]),
        centre=np.array([centre]),
        groups=np.array(groups),
    )


def shoes(gap=None):
    """None, or one on the east face at the height of the lift points."""
    n = 0 if gap is None else 1
    return Guides(
        at=np.array([[2.2, 0.0, 0.0]] * n).reshape(1, n, 3),
        outward=np.array([[1.0, 0.0, 0.0]] * n).reshape(1, n, 3),
        gap=np.full((1, n), gap or 0.0),
        friction=np.zeros(1),
    )


def pose(shift=(0.0, 0.0, 0.0), turn=(0.0, 0.0, 0.0)):
    return Pose(shift=np.array([shift]), turn=Rotation.from_rotvec(turn).as_matrix()[None])


def by_hand(held, out_of_true):
    """Forces and moments of lines and weight, reckoned afresh from the tensions."""
    given = load()
    turn = out_of_true.turn[0]
    lower = given.lower[0] @ turn.T + held.shift[0]
    along = given.upper[0] - lower
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    pulls = held.tensions[0][:, None] * along
    centre = turn @ given.centre[0]
    down = np.array([0.0, 0.0, -WEIGHT])
    moment = np.cross(lower - held.shift[0], pulls).sum(axis=0) + np.cross(centre, down)
    return pulls.sum(axis=0) + down, moment


def test_held_true_nothing_need_hold_it():
    held = hold(load(), shoes(), pose())
    assert held.balances.all()
    assert held.tensions == pytest.approx(np.full((1, 4), WEIGHT / 4), rel=1e-9)
    assert held.force == pytest.approx(0, abs=1e-6)
    assert held.moment == pytest.approx(0, abs=1e-6)


def test_drifted_it_is_a_pendulum():
    drift = 0.4
    held = hold(load(), shoes(), pose(shift=(drift, 0, 0)))
    # Four like lines, all as slanted: the level pull is W times the slope.
    drop = LENGTH - held.shift[0, 2]
    assert held.force[0, 0] == pytest.approx(WEIGHT * drift / drop, rel=1e-9)
    assert held.force[0, 1] == pytest.approx(0, abs=1e-6)
    slant = np.hypot(drift, drop)
    assert held.tensions[0] == pytest.approx(WEIGHT / 4 * slant / drop, rel=1e-9)


@pytest.mark.parametrize(
    "turn", [(0.01, 0, 0), (0, -0.02, 0), (0, 0, 0.05), (0.01, 0.02, 0.03)]
)
def test_what_holds_it_is_what_lines_and_weight_leave_over(turn):
    out_of_true = pose(shift=(0.05, -0.02, 0.3), turn=turn)
    held = hold(load(), shoes(), out_of_true)
    force, moment = by_hand(held, out_of_true)
    assert force[2] == pytest.approx(0, abs=1e-4)
    assert held.force[0] == pytest.approx(-force[:2], abs=1e-4)
    assert held.moment[0] == pytest.approx(-moment, abs=1e-3)


def test_a_small_lean_is_held_by_stiffness_less_toppling():
    lean = 1e-5
    held = hold(load(), shoes(), pose(turn=(0, lean, 0)))
    # k sum x^2 against the weight at its height; lines' own slant is of second order.
    expected = (STIFFNESS * 4 * HALF**2 - WEIGHT * 3.0) * lean
    assert held.moment[0, 1] == pytest.approx(expected, rel=1e-3)


def test_where_it_rests_nothing_need_hold_it():
    disturbed = Disturbance(
        hauled=np.array([[0.01, 0.0, -0.005, 0.0]]),
        wind=Wind(force=np.array([[500.0, 200.0, 0.0]]), at=np.array([[0, 0, 2.0]])),
    )
    given, at = load(centre=(0.1, 0.05, 1.5)), shoes(0.01)
    rest = settle_guided(given, at, disturbed=disturbed)
    assert rest.rests.all()
    there = Pose(shift=rest.shift, turn=Rotation.from_rotvec(rest.turn).as_matrix())
    held = hold(given, at, there, disturbed=disturbed)
    assert held.tensions == pytest.approx(rest.tensions, rel=1e-6)
    assert held.pressures == pytest.approx(rest.pressures, rel=1e-4, abs=1.0)
    assert np.abs(held.force).max() < 1e-5 * WEIGHT
    assert np.abs(held.moment).max() < 1e-5 * WEIGHT


def test_a_shoe_pushes_back_by_what_it_is_pressed_in():
    held = hold(load(), shoes(0.01), pose(shift=(0.012, 0, 0)))
    assert held.pressures[0, 0] == pytest.approx(1e7 * 0.002, rel=1e-6)
    free = hold(load(), shoes(), pose(shift=(0.012, 0, 0)))
    assert held.force[0, 0] - free.force[0, 0] == pytest.approx(1e7 * 0.002, rel=1e-6)


def test_far_over_lines_go_slack_and_never_push():
    held = hold(load(), shoes(), pose(turn=(0, 0.3, 0)))
    assert held.balances.all()
    assert held.tensions.min() == 0
    force, _ = by_hand(held, pose(turn=(0, 0.3, 0)))
    assert force[2] == pytest.approx(0, abs=1e-3)


def test_with_every_line_lost_no_height_balances():
    lost = Disturbance(lost=np.ones((1, 4), dtype=bool))
    held = hold(load(), shoes(), pose(), disturbed=lost)
    assert not held.balances.any()
    assert np.isnan(held.tensions).all()
    assert np.isnan(held.force).all()
    assert np.isnan(held.shift).all()


@pytest.mark.parametrize("splay", [0.0, 1.0])
def test_hauled_level_it_hangs_level(splay):
    given = load(centre=(0.3, -0.2, 2.0), splay=splay)
    before = settle(given)
    assert np.abs(before.turn[0, :2]).max() > 1e-3
    haul, levels = level_haul(given)
    assert levels.all()
    after = settle(given, hauled=haul)
    assert after.rests.all()
    assert np.abs(after.turn[0, :2]).max() < 1e-7
    # Highest to lowest in one plane.
    plane = np.column_stack([np.ones(4), CORNERS])
    left = haul[0] - plane @ np.linalg.lstsq(plane, haul[0])[0]
    assert np.abs(left).max() < 1e-9


def test_a_load_that_hangs_level_needs_no_haul():
    haul, levels = level_haul(load())
    assert levels.all()
    assert haul == pytest.approx(0, abs=1e-12)


def test_what_no_haul_levels_is_said():
    # One tension in all lines: they pull at their middle, whatever is hauled.
    haul, levels = level_haul(load(centre=(0.3, 0.0, 2.0), groups=(0, 0, 0, 0)))
    assert not levels.any()
    assert haul == pytest.approx(0)


def test_nothing_may_be_pushed_to_level_it():
    # The weight stands outside its lift points: a line would have to push.
    _, levels = level_haul(load(centre=(2.5, 0.0, 2.0)))
    assert not levels.any()
