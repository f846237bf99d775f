"""Laws of slings, tackles, capstans and jamming guides."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from towerlift.errors import NoEquilibriumError
from towerlift.mechanics.capstan import (
    CapstanGear,
    hands_needed,
    held_pull,
    holding_turns,
    rope_pull,
    rope_speed,
    turns_per_rise,
    walk_per_rise,
)
from towerlift.mechanics.jam import drawer_pull, guide_force, jam_share
from towerlift.mechanics.polygon import margin_inside
from towerlift.mechanics.rope import rope_needed
from towerlift.mechanics.slings import (
    Bridle,
    basket_rating,
    inward_force,
    leg_tensions,
    load_factor,
    rated_tension,
    sharing_tensions,
)
from towerlift.mechanics.tackle import (
    block_resultant,
    lowering_advantage,
    pull_after_leads,
    raising_advantage,
    snatch_slack,
    snatch_tight,
    tackle_stiffness,
    top_block_load,
)

RATIO = st.floats(0.5, 1.0)
PARTS = st.integers(1, 8)


@st.composite
def bridles(draw, least=3, most=4):
    """A bridle that can hold its load: the centre lies well among the lugs."""
    n = draw(st.integers(least, most))
    reach = [draw(st.floats(0.5, 3.0)) for _ in range(n)]
    turns = 2 * np.pi * (np.arange(n) + draw(st.floats(0, 1))) / n
    drop = np.array([draw(st.floats(1.0, 4.0)) for _ in range(n)])
    lugs = np.column_stack([reach * np.cos(turns), reach * np.sin(turns), -drop])
    centre = np.array([draw(st.floats(-0.05, 0.05)), draw(st.floats(-0.05, 0.05)), -5.0])
    return Bridle(hook=np.zeros(3), lugs=lugs, centre=centre)


@given(bridle=bridles(most=3), weight=st.floats(1.0, 1e6), seed=st.integers(0, 2**32 - 1))
def test_three_legs_do_not_know_which_way_is_up(bridle, weight, seed):
    """Turning and shifting the whole changes no tension: only the centre matters."""
    turn, _ = np.linalg.qr(np.random.default_rng(seed).normal(size=(3, 3)))
    shift = np.random.default_rng(seed).uniform(-9, 9, 3)
    there = Bridle(
        hook=turn @ bridle.hook + shift,
        lugs=bridle.lugs @ turn.T + shift,
        centre=turn @ bridle.centre + shift,
    )
    np.testing.assert_allclose(
        leg_tensions(weight, there), leg_tensions(weight, bridle), rtol=1e-7
    )


@given(bridle=bridles(), weight=st.floats(1.0, 1e6))
def test_legs_balance_the_weight(bridle, weight):
    try:
        tensions = sharing_tensions(weight, bridle)
    except NoEquilibriumError:
        assume(False)
    force = tensions @ bridle.directions
    np.testing.assert_allclose(force, weight * bridle.up, atol=1e-6 * weight)


@given(bridle=bridles(), weight=st.floats(1.0, 1e6))
def test_rating_never_falls_below_what_statics_asks(bridle, weight):
    try:
        least = sharing_tensions(weight, bridle).max()
    except NoEquilibriumError:
        assume(False)
    two = rated_tension(weight, bridle, carrying=2)
    three = rated_tension(weight, bridle, carrying=3)
    assert two >= three * (1 - 1e-12)
    assert three >= least * (1 - 1e-12)


@given(reach=st.floats(0.1, 3.0), weight=st.floats(1.0, 1e6), beside=st.floats(-0.5, 0.5))
def test_two_legs_swing_under_the_hook(reach, weight, beside):
    """A centre beside the plane of two legs swings into it and loads them the same."""
    lugs = np.array([[reach, 0, -2.0], [-reach, 0, -2.0]])
    sink = np.hypot(1.0, beside)
    hook = np.zeros(3)
    askew = Bridle(hook=hook, lugs=lugs, centre=np.array([0, beside, -3.0]))
    true = Bridle(hook=hook, lugs=lugs, centre=np.array([0, 0, -2.0 - sink]))
    assert rated_tension(weight, askew, carrying=2) == pytest.approx(
        rated_tension(weight, true, carrying=2), rel=1e-9
    )


@given(angle=st.floats(0, 1.5), share=st.floats(1.0, 1e6))
def test_leg_is_the_hypotenuse_of_lift_and_inward_pull(angle, share):
    tension = share * load_factor(angle)
    assert np.hypot(share, inward_force(share, angle)) == pytest.approx(tension, rel=1e-9)
    assert basket_rating(tension, angle) == pytest.approx(2 * share, rel=1e-9)


@given(parts=PARTS, ratio=RATIO)
def test_friction_helps_to_lower_and_hinders_to_raise(parts, ratio):
    up, down = raising_advantage(parts, ratio), lowering_advantage(parts, ratio)
    assert up <= parts <= down
    if ratio < 1:
        assert up == pytest.approx(ratio * (1 - ratio**parts) / (1 - ratio), rel=1e-9)
        back = 1 / ratio
        assert down == pytest.approx(back * (back**parts - 1) / (back - 1), rel=1e-9)


@given(parts=PARTS, length=st.floats(0.5, 50), fall=st.floats(0, 80), pull=st.floats(1, 1e5))
def test_stiffness_stores_the_energy_of_its_parts(parts, length, fall, pull):
    """Energy of all rope at the same tension equals that of the tackle as one spring."""
    ea, load = 690e3, parts * pull
    rope = pull**2 * (parts * length + fall) / (2 * ea)
    one = load**2 / (2 * tackle_stiffness(length, fall, parts=parts, axial_stiffness=ea))
    assert one == pytest.approx(rope, rel=1e-9)


@given(pull=st.floats(0, 1e5), angle=st.floats(0, np.pi))
def test_block_resultant_is_the_sum_of_two_pulls(pull, angle):
    both = pull * np.array([1 + np.cos(angle), np.sin(angle)])
    assert block_resultant(pull, angle) == pytest.approx(float(np.hypot(*both)), abs=1e-9 * 1e5)
    assert top_block_load(3 * pull, pull) == pytest.approx(4 * pull)


@given(fall=st.floats(0, 1e5), leads=st.integers(0, 6), ratio=RATIO)
def test_each_lead_block_costs_its_share(fall, leads, ratio):
    more = pull_after_leads(fall, leads + 1, ratio)
    assert more * ratio == pytest.approx(pull_after_leads(fall, leads, ratio), rel=1e-9)
    assert more >= fall


@given(drop=st.floats(0, 1.0), stretch=st.floats(0.001, 1.0))
def test_snatch_gives_back_the_energy_of_the_drop(drop, stretch):
    """Weight W on k = W/d: W (h + stretch gained) = energy stored, either way of falling."""
    tight, slack = snatch_tight(drop, stretch), snatch_slack(drop, stretch)
    assert 1 <= tight <= slack
    # Slack: from no tension, W (h + phi d) = (phi d)^2 k / 2.
    assert drop + slack * stretch == pytest.approx(
        (slack * stretch) ** 2 / (2 * stretch), rel=1e-9
    )
    # Tight: caught at stretch d, W (h + (phi - 1) d) = k (phi^2 - 1) d^2 / 2.
    gained = drop + (tight - 1) * stretch
    assert gained == pytest.approx((tight**2 - 1) * stretch / 2, rel=1e-6, abs=1e-12)


GEARS = st.builds(
    CapstanGear,
    barrel_radius=st.floats(0.05, 0.5),
    rope_diameter=st.floats(0.005, 0.1),
    bar_radius=st.floats(0.5, 4.0),
)


@given(gear=GEARS, walk=st.floats(0.1, 1.0), force=st.floats(1, 5000), eta=st.floats(0.3, 1))
def test_capstan_gives_out_what_is_put_in(gear, walk, force, eta):
    pull = rope_pull(gear, force, efficiency=eta)
    assert pull * rope_speed(gear, walk) == pytest.approx(eta * force * walk, rel=1e-9)
    assert hands_needed(gear, pull, push=force / 7, efficiency=eta) == pytest.approx(7)
    circle = 2 * np.pi * gear.bar_radius
    assert walk_per_rise(gear, 4) == pytest.approx(turns_per_rise(gear, 4) * circle, rel=1e-9)


@given(tail=st.floats(1, 1000), turns=st.floats(0, 6), mu=st.floats(0.05, 0.5))
def test_turns_hold_what_they_are_reckoned_to_hold(tail, turns, mu):
    pull = held_pull(tail, turns, friction=mu)
    assert holding_turns(pull, tail, friction=mu) == pytest.approx(turns, abs=1e-9)
    assert held_pull(tail, turns + 1, friction=mu) > pull or turns > 5


@given(mu=st.floats(0, 0.6), x=st.floats(-2, 2), y=st.floats(-2, 2), a=st.floats(0.5, 13))
def test_jam_follows_from_friction_at_both_shoes(mu, x, y, a):
    share = float(jam_share(mu, x, y, a))
    assert share == pytest.approx(float(jam_share(mu, -y, x, a)))
    if share < 1:
        pull = drawer_pull(1.0, share)
        rub = 2 * mu * float(guide_force(pull, x, a) + guide_force(pull, y, a))
        assert pull == pytest.approx(1 + rub, rel=1e-6)
    else:
        with pytest.raises(NoEquilibriumError):
            drawer_pull(1.0, share)


@given(seed=st.integers(0, 2**32 - 1), turn=st.floats(0, 2 * np.pi), shift=st.floats(-20, 20))
def test_margin_turns_and_shifts_with_its_points(seed, turn, shift):
    rng = np.random.default_rng(seed)
    points, point = rng.normal(size=(6, 2)), rng.normal(size=2)
    about = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    there = margin_inside(about @ point + shift, points @ about.T + shift)
    assert there == pytest.approx(margin_inside(point, points), abs=1e-8)
    assert margin_inside(points.mean(axis=0), points) > 0


@given(longest=st.floats(1, 50), fall=st.floats(0, 80), parts=PARTS, spare=st.floats(0, 20))
def test_rope_needed_is_every_metre_of_it(longest, fall, parts, spare):
    pieces = [longest] * parts + [fall, spare]
    assert rope_needed(longest, fall, parts=parts, spare=spare) == pytest.approx(sum(pieces))
