"""Every function of the statics refuses what it cannot answer, NaN among it."""

import numpy as np
import pytest

from towerlift.errors import NoEquilibriumError
from towerlift.mechanics import capstan, jam, polygon, rope, slings, tackle

NAN = float("nan")
GEAR = capstan.CapstanGear(barrel_radius=0.15, rope_diameter=0.032, bar_radius=1.8)


def bridle(lugs, hook=(0, 0, 1), centre=(0, 0, -1)):
    return slings.Bridle(
        hook=np.array(hook, dtype=float),
        lugs=np.array(lugs, dtype=float),
        centre=np.array(centre, dtype=float),
    )


TWO = bridle([[1, 0, 0], [-1, 0, 0]])
THREE = bridle([[1, 0, 0], [-1, 1, 0], [-1, -1, 0]])
FOUR = bridle([[1, 0, 0], [0, 1, 0], [-1, 0, 0], [0, -1, 0]])


@pytest.mark.parametrize("wrong", [0.0, -1.0, NAN])
@pytest.mark.parametrize("field", ["barrel_radius", "rope_diameter", "bar_radius"])
def test_gear_has_sizes(field, wrong):
    sizes = {"barrel_radius": 0.15, "rope_diameter": 0.032, "bar_radius": 1.8}
    with pytest.raises(ValueError, match=field):
        capstan.CapstanGear(**{**sizes, field: wrong})


@pytest.mark.parametrize(
    "call",
    [
        lambda: capstan.rope_speed(GEAR, 0.0),
        lambda: capstan.rope_speed(GEAR, NAN),
        lambda: capstan.rope_pull(GEAR, -1.0, efficiency=0.85),
        lambda: capstan.rope_pull(GEAR, NAN, efficiency=0.85),
        lambda: capstan.rope_pull(GEAR, 1.0, efficiency=0.0),
        lambda: capstan.rope_pull(GEAR, 1.0, efficiency=1.01),
        lambda: capstan.rope_pull(GEAR, 1.0, efficiency=NAN),
        lambda: capstan.hands_needed(GEAR, -1.0, push=150, efficiency=0.85),
        lambda: capstan.hands_needed(GEAR, 1.0, push=0.0, efficiency=0.85),
        lambda: capstan.hands_needed(GEAR, NAN, push=150, efficiency=0.85),
        lambda: capstan.held_pull(-1.0, 2, friction=0.2),
        lambda: capstan.held_pull(1.0, NAN, friction=0.2),
        lambda: capstan.holding_turns(0.0, 1.0, friction=0.2),
        lambda: capstan.holding_turns(1.0, 1.0, friction=0.0),
        lambda: tackle.raising_advantage(0, 0.93),
        lambda: tackle.raising_advantage(4, 0.0),
        lambda: tackle.raising_advantage(4, 1.01),
        lambda: tackle.raising_advantage(4, NAN),
        lambda: tackle.lowering_advantage(0, 0.93),
        lambda: tackle.manual_pull(1.0, 0, sheaves=1),
        lambda: tackle.manual_pull(NAN, 4, sheaves=4),
        lambda: tackle.pull_after_leads(1.0, -1, 0.93),
        lambda: tackle.pull_after_leads(NAN, 1, 0.93),
        lambda: tackle.block_resultant(1.0, -0.1),
        lambda: tackle.block_resultant(1.0, 3.2),
        lambda: tackle.block_resultant(1.0, NAN),
        lambda: tackle.tackle_stiffness(0.0, 1.0, parts=4, axial_stiffness=1.0),
        lambda: tackle.tackle_stiffness(1.0, -1.0, parts=4, axial_stiffness=1.0),
        lambda: tackle.tackle_stiffness(1.0, 1.0, parts=0, axial_stiffness=1.0),
        lambda: tackle.tackle_stiffness(1.0, 1.0, parts=4, axial_stiffness=NAN),
        lambda: tackle.snatch_tight(-0.1, 0.1),
        lambda: tackle.snatch_tight(0.1, 0.0),
        lambda: tackle.snatch_slack(NAN, 0.1),
        lambda: rope.rope_stretch(1.0, 1.0, axial_stiffness=0.0),
        lambda: rope.strength_factor(1.0, 0.0),
        lambda: rope.strength_factor(NAN, 1.0),
        lambda: rope.strength_factor(1.0, 1.0, kept=1.1),
        lambda: jam.jam_share(-0.1, 0.1, 0.1, 1.0),
        lambda: jam.jam_share(0.1, 0.1, 0.1, 0.0),
        lambda: jam.jam_share(NAN, 0.1, 0.1, 1.0),
        lambda: jam.drawer_pull(1.0, 1.0),
        lambda: jam.drawer_pull(1.0, NAN),
        lambda: polygon.margin_inside(np.zeros(2), np.zeros((0, 2))),
        lambda: polygon.margin_inside(np.array([NAN, 0]), np.zeros((3, 2))),
        lambda: polygon.margin_between(np.zeros(2), np.zeros((2, 2))),
        lambda: slings.load_factor(np.pi / 2 + 1e-9),
        lambda: slings.load_factor(-0.1),
        lambda: slings.load_factor(NAN),
        lambda: slings.choker_rating(1.0, share=0.0),
        lambda: slings.leg_tensions(0.0, TWO),
        lambda: slings.leg_tensions(NAN, TWO),
        lambda: slings.leg_tensions(1.0, FOUR),
        lambda: slings.leg_tensions(1.0, bridle([[1, 0, 0], [-1, 0, 0], [0.2, 0, 0]])),
        lambda: slings.sharing_tensions(0.0, FOUR),
        lambda: slings.rated_tension(1.0, bridle([[1, 0, 0]]), carrying=2),
        lambda: slings.rated_tension(1.0, FOUR, carrying=4),
        lambda: slings.swung_level(THREE),
        lambda: bridle([[0, 0, 1]]),
        lambda: bridle([[0, 0, 0]], hook=(0, 0, -1)),
        lambda: bridle([0, 0, 0]),
    ],
)
def test_refused(call):
    with pytest.raises(ValueError, match=r".+"):
        call()


def test_centre_outside_the_legs_has_no_equilibrium():
    with pytest.raises(NoEquilibriumError, match="least leg force"):
        slings.leg_tensions(
            1.0, bridle([[1, 0, 0], [-1, 1, 0], [-1, -1, 0]], centre=(3, 0, -1))
        )


def test_centre_above_two_lugs_turns_over():
    with pytest.raises(NoEquilibriumError, match="turns over"):
        slings.rated_tension(
            1.0, bridle([[1, 0, 0], [-1, 0, 0]], centre=(0, 0, 0.5)), carrying=2
        )


@pytest.mark.parametrize(
    ("point", "margin"),
    [
        ((0, 0), 1.0),
        ((0.75, 0), 0.25),
        ((1, 0), 0.0),
        ((1, 1), 0.0),
        ((1.5, 0), -0.5),
        ((4, 5), -5.0),
    ],
)
def test_margin_inside_a_square(point, margin):
    corners = np.array([[1, 1], [-1, -1], [1, -1], [-1, 1], [0.2, 0.1], [1, 0]], dtype=float)
    found = polygon.margin_inside(np.array(point, dtype=float), corners)
    assert found == pytest.approx(margin, abs=1e-12)


def test_margin_of_points_in_a_line():
    ends = np.array([[0, 0], [2, 0]], dtype=float)
    assert polygon.margin_inside(np.array([1.0, 0.0]), ends) == 0.0
    assert polygon.margin_inside(np.array([1.0, 0.5]), ends) == pytest.approx(-0.5)
    assert polygon.margin_inside(np.array([3.0, 0.0]), ends) == pytest.approx(-1.0)
    assert polygon.margin_between(np.array([0.5, 9.0]), ends) == pytest.approx(0.5)
    assert polygon.margin_between(np.array([2.5, 0.0]), ends) == pytest.approx(-0.5)


def test_one_point_has_no_inside():
    corners = np.zeros((1, 2))
    assert polygon.margin_inside(np.zeros(2), corners) == 0.0
    assert polygon.margin_inside(np.array([0.0, 2.0]), corners) == pytest.approx(-2.0)
