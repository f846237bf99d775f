"""Laws that beams, pins, pads and feet obey."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from towerlift.mechanics.bearing import (
    across_area,
    eccentric_pressure,
    overlap,
    polygon_area,
    rectangle,
    shared_area,
)
from towerlift.mechanics.bending import PinGeometry, bend_beam, pin_loads
from towerlift.mechanics.masonry import (
    Stance,
    foot_loads,
    leg_patterns,
    pack_feet,
    two_leg_loads,
)

SIZES = st.floats(0.02, 2.0)
SQUARE = np.array([[1.0, 1.0], [1.0, -1.0], [-1.0, -1.0], [-1.0, 1.0]])


@given(load=st.floats(1.0, 1e6), leg=SIZES, gap=st.floats(0, 0.2), ledge=SIZES)
def test_a_pin_on_equal_ledges(load, leg, gap, ledge):
    pin = PinGeometry(leg=leg, gap=gap, ledges=(ledge, ledge), breadth=0.09, depth=0.09)
    found = pin_loads(load, pin)
    by_hand = load / 2 * (leg + 2 * gap + ledge) / 2 - load / 2 * leg / 4
    assert found.moment == pytest.approx(by_hand, rel=1e-9)
    assert found.reactions.sum() == pytest.approx(load)
    assert found.shear == pytest.approx(load / 2)


@given(
    load=st.floats(1.0, 1e6), leg=SIZES, gap=st.floats(0, 0.2), ledges=st.tuples(SIZES, SIZES)
)
def test_a_pin_is_in_balance_about_both_ledges(load, leg, gap, ledges):
    pin = PinGeometry(leg=leg, gap=gap, ledges=ledges, breadth=0.09, depth=0.12)
    found = pin_loads(load, pin)
    arms = [leg / 2 + gap + each / 2 for each in ledges]
    assert found.reactions[0] * arms[0] == pytest.approx(found.reactions[1] * arms[1])
    turned = pin_loads(load, PinGeometry(
        leg=leg, gap=gap, ledges=ledges[::-1], breadth=0.09, depth=0.12
    ))  # fmt: skip
    assert turned.moment == pytest.approx(found.moment, rel=1e-9)


@given(span=st.floats(0.5, 10), share=st.floats(0.01, 0.99), load=st.floats(1, 1e5))
def test_a_beam_under_one_load(span, share, load):
    at = share * span
    found = bend_beam(np.array([0.0, span]), np.array([at]), np.array([load]))
    assert found.moment == pytest.approx(load * at * (span - at) / span, rel=1e-9)
    assert found.reactions.sum() == pytest.approx(load)
    assert found.shear == pytest.approx(max(found.reactions), rel=1e-9)


def test_a_beam_against_closed_forms():
    middle = bend_beam(np.array([0.0, 4.0]), np.array([2.0]), np.array([10.0]))
    assert middle.deflection == pytest.approx(10 * 4**3 / 48, rel=1e-4)  # P L^3 / 48
    overhang = bend_beam(np.array([0.0, 4.0]), np.array([5.0]), np.array([8.0]))
    assert overhang.moment == pytest.approx(8.0)  # P a over the support
    np.testing.assert_allclose(overhang.reactions, [-2.0, 10.0])
    assert overhang.deflection == pytest.approx(8 * 1 * 16 / (9 * np.sqrt(3)), rel=1e-3)


@given(load=st.floats(1, 1e6), length=SIZES, breadth=SIZES, share=st.floats(-0.499, 0.499))
def test_pressure_balances_the_load(load, length, breadth, share):
    assume(0.5 - abs(share) > 1e-3)
    found = eccentric_pressure(load, length, breadth, share * length)
    mean = (found.most + found.least) / 2
    assert mean * found.contact * breadth == pytest.approx(load, rel=1e-9)
    inside = abs(share) <= 1 / 6
    assert (found.contact == length) == inside
    assert found.least >= 0


def test_pressure_is_without_bound_on_the_edge():
    assert eccentric_pressure(1.0, 2.0, 1.0, 1.0).most == np.inf
    for wrong in (np.nan, np.inf):
        with pytest.raises(ValueError, match="positive"):
            eccentric_pressure(1.0, 2.0, 1.0, wrong)
    with pytest.raises(ValueError, match="positive"):
        eccentric_pressure(np.nan, 2.0, 1.0, 0.1)


@given(
    x=st.floats(-1, 1), y=st.floats(-1, 1), turn=st.floats(0, np.pi), width=st.floats(0.1, 1)
)
def test_what_two_rectangles_share(x, y, turn, width):
    first = rectangle(np.array([-1.0, 0.0]), np.array([1.0, 0.0]), 0.8)
    way = np.array([np.cos(turn), np.sin(turn)])
    second = rectangle(np.array([x, y]) - way, np.array([x, y]) + way, width)
    shared = polygon_area(overlap(first, second))
    assert shared == pytest.approx(polygon_area(overlap(second, first)), abs=1e-9)
    assert 0 <= shared + 1e-12 <= min(1.6, 2 * width) + 1e-9
    union = shared_area(first, [second, second])
    assert union == pytest.approx(shared, abs=1e-9)


def test_a_foot_on_two_halved_beams_bears_once():
    foot = rectangle(np.array([-0.1, 0.0]), np.array([0.1, 0.0]), 0.2)
    east = rectangle(np.array([-1.0, 0.0]), np.array([1.0, 0.0]), 0.3)
    north = rectangle(np.array([0.0, -1.0]), np.array([0.0, 1.0]), 0.3)
    assert shared_area(foot, [east, north]) == pytest.approx(0.04)


def test_wood_beside_a_bearing_helps_only_where_there_is_some():
    foot = rectangle(np.array([-0.1, 0.0]), np.array([0.1, 0.0]), 0.2)
    way = np.array([1.0, 0.0])
    # 30 mm on either side of 200; none past an end of the beam.
    assert across_area(foot, way, (-1.0, 1.0)) == pytest.approx(0.2 * 0.26)
    assert across_area(foot, way, (-0.1, 1.0)) == pytest.approx(0.2 * 0.23)
    assert across_area(foot, way, (-0.1, 0.11)) == pytest.approx(0.2 * 0.21)


@given(
    weight=st.floats(1e3, 1e6),
    x=st.floats(-0.3, 0.3),
    y=st.floats(-0.3, 0.3),
    raised=st.lists(st.floats(0, 0.02), min_size=4, max_size=4),
    stiffness=st.floats(1e5, 1e9),
)
def test_feet_carry_the_weight_where_it_is(weight, x, y, raised, stiffness):
    stance = Stance(feet=SQUARE, weight=weight, centre=np.array([x, y]), moment=np.zeros(2))
    loads = foot_loads(stance, np.array(raised), stiffness)
    assert loads.min() >= 0
    assert loads.sum() == pytest.approx(weight, rel=1e-3)
    np.testing.assert_allclose(SQUARE.T @ loads / weight, [x, y], atol=2e-3)


def test_one_high_ledge_twists_the_loads_by_a_quarter():
    # k e / 4 on each, in pairs: derived from w = e / 4 of the twist of four springs.
    stance = Stance(feet=SQUARE, weight=100.0, centre=np.zeros(2), moment=np.zeros(2))
    loads = foot_loads(stance, np.array([0.005, 0, 0, 0]), 1e4)
    np.testing.assert_allclose(loads, [37.5, 12.5, 37.5, 12.5], rtol=1e-9)
    # A corner goes slack once e reaches four times its own sink: 4 R / k = 10 mm.
    edge = foot_loads(stance, np.array([0.010, 0, 0, 0]), 1e4)
    np.testing.assert_allclose(edge, [50, 0, 50, 0], atol=1e-6)
    past = foot_loads(stance, np.array([0.030, 0, 0, 0]), 1e4)
    np.testing.assert_allclose(past, [50, 0, 50, 0], atol=1e-2)


def test_packing_brings_the_worst_leg_under_its_share():
    stance = Stance(feet=SQUARE, weight=100.0, centre=np.zeros(2), moment=np.zeros(2))
    found = pack_feet(stance, np.array([0.005, 0, 0, 0]), 1e4)
    assert found.ratio_before == pytest.approx(1.5)
    assert found.ratio_after <= 1.3 + 1e-9
    steps = found.packs / 1e-3
    np.testing.assert_allclose(steps, np.round(steps), atol=1e-9)


def test_two_legs_carry_all():
    stance = Stance(feet=SQUARE, weight=100.0, centre=np.zeros(2), moment=np.zeros(2))
    np.testing.assert_allclose(two_leg_loads(stance), 50.0)
    assert len(leg_patterns(stance)) == 3
    off = Stance(feet=SQUARE, weight=100.0, centre=np.array([0.2, 0.2]), moment=np.zeros(2))
    # Toward the first foot by 0.2 of its 1: (1 + 0.2) / 2 of the weight along the diagonal.
    assert two_leg_loads(off)[0] == pytest.approx(60.0)


def test_a_side_push_moves_the_load_and_at_last_throws_it_over():
    def pushed(moment):
        return Stance(
            feet=SQUARE, weight=100.0, centre=np.zeros(2), moment=np.array([moment, 0.0])
        )

    np.testing.assert_allclose(foot_loads(pushed(50.0)), [37.5, 37.5, 12.5, 12.5])
    np.testing.assert_allclose(foot_loads(pushed(99.0)), [49.75, 49.75, 0.25, 0.25], atol=0.02)
    with pytest.raises(ValueError, match="falls over"):
        foot_loads(pushed(101.0))


@pytest.mark.parametrize("weight", [0.0, -1.0, np.nan])
def test_no_weight_is_no_stance(weight):
    with pytest.raises(ValueError, match="weight"):
        Stance(feet=SQUARE, weight=weight, centre=np.zeros(2), moment=np.zeros(2))
