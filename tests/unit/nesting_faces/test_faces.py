"""The framer's table of gaps: reach, walls, packing and the trial assembly."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plans.factory import tiny_plan
from towerlift.motion import follow_stages
from towerlift.nesting.asbuilt import as_built_cost, as_built_reach
from towerlift.nesting.faces import Allowances, Travel, best_plumb_line, face_gaps, meetings
from towerlift.nesting.movement import FACES
from towerlift.nesting.pairs import Workshop
from towerlift.nesting.reaches import Walls, section_reach, shaft_edges, surveyed_walls
from towerlift.nesting.shims import Guide, shim_list
from towerlift.nesting.travels import section_travels
from towerlift.plan.bodies import AsBuilt, Face, PlumbLine
from towerlift.shapes import build_shapes

# Survey of an invented shaft, metres from the plumb datum (z, west, east, south, north),
# and the packing worked out from it by hand: gap of legs 2.80 m from an axis at
# (0.050, -0.065), less a 75 mm runner and 20 mm running gap. A cross-check of our own
# arithmetic, done apart from this code.
SURVEY = [
    (0.0, -3.040, 3.045, -3.050, 3.040),
    (8.0, -3.016, 3.060, -3.040, 3.034),
    (16.0, -2.986, 3.074, -3.022, 3.012),
    (17.8, -2.982, 3.078, -3.018, 3.006),
    (17.9, -2.980, 3.078, -3.018, 2.868),
    (18.5, -2.978, 3.078, -3.018, 2.866),
    (18.6, -2.978, 3.079, -3.018, 3.002),
    (28.0, -2.944, 3.098, -2.996, 2.980),
]
PACKING = {  # z: west, east, south, north in mm
    0.0: (195, 100, 90, 210),
    8.0: (171, 115, 80, 204),
    16.0: (141, 129, 62, 182),
    17.9: (135, 133, 58, 38),
    18.5: (133, 133, 58, 36),
    28.0: (99, 153, 36, 150),
}
LINE = PlumbLine.model_validate({"x": "50 mm", "y": "-65 mm"})


def walls():
    table = np.array(SURVEY)
    z, west, east, south, north = table.T
    return Walls(heights=z, faces=np.column_stack([north, east, -south, -west]))


def nothing_extra(swelling=0.0):
    return Allowances(swelling=np.full(4, swelling), spread=0.0)


def met(surveyed, reach, low, high, *, running=0.0):
    edges = shaft_edges(surveyed)
    return meetings(edges, reach.edges, [still(reach, low, high)], running)


def drawn(plan=None):
    plan = plan or tiny_plan()
    shapes = build_shapes(plan, Path())
    shop = Workshop(plan=plan, shapes=shapes, raise_=follow_stages(plan))
    return plan, shop


def still(reach, low, high):
    n = len(reach.edges) - 1
    return Travel(
        stage="A",
        passage=0,
        heels=np.array([low, high]),
        play=np.zeros(1),
        shift=np.zeros((1, n)),
    )


def test_packing_against_hand_arithmetic():
    guide = Guide(reach=np.full(4, 2.80), runner=0.075, running=0.020)
    shims = shim_list(walls(), guide, LINE, list(PACKING))
    found = {(shim.face, shim.height): shim.packing for shim in shims}
    for height, row in PACKING.items():
        for face, packing in zip(
            (Face.WEST, Face.EAST, Face.SOUTH, Face.NORTH), row, strict=True
        ):
            assert found[face, height] * 1000 == pytest.approx(packing, abs=0.5)


def test_taper_is_the_slope_to_the_next_height():
    guide = Guide(reach=np.full(4, 2.80), runner=0.075, running=0.020)
    west = [s for s in shim_list(walls(), guide, LINE, [0.0, 8.0]) if s.face is Face.WEST]
    assert west[0].taper == pytest.approx((171 - 195) / 8 / 1000)
    assert west[1].taper is None


def test_masonry_to_be_cut_is_packing_below_nothing():
    guide = Guide(reach=np.full(4, 2.90), runner=0.075, running=0.020)
    north = [s for s in shim_list(walls(), guide, LINE, [18.0]) if s.face is Face.NORTH]
    assert north[0].packing < 0


def test_heights_outside_the_survey_are_refused():
    guide = Guide(reach=np.full(4, 2.80), runner=0.075, running=0.020)
    with pytest.raises(ValueError, match="within the survey"):
        shim_list(walls(), guide, LINE, [28.1])


def test_a_band_holds_the_ledge_that_lies_within_it():
    edges = np.array([17.0, 17.85, 17.9, 18.7, 19.0])
    near = walls().nearest(edges)
    assert near[0, 0] == pytest.approx(0.5 * (3.006 + 2.868))
    assert near[1, 0] == pytest.approx(2.868)
    assert near[2, 0] == pytest.approx(2.866)
    assert near[3, 0] == pytest.approx(3.002 - 0.1 / 9.4 * 0.022 - 0.3 / 9.4 * 0.022, abs=1e-4)


def test_bands_outside_the_survey_are_not_known():
    assert np.isnan(walls().nearest(np.array([27.5, 28.5]))).all()


def test_reach_of_four_legs():
    _, shop = drawn()
    reach = section_reach(shop.assembly("base", frozenset()))
    np.testing.assert_allclose(reach.farthest, 2.8)
    assert reach.marks == ("leg 1", "leg 2", "leg 3", "leg 4")
    # Leg 1 stands in the south-west.
    np.testing.assert_allclose(reach.reach[0, 5], [-2.6, -2.6, 2.8, 2.8])


def test_a_section_turned_by_an_eighth_reaches_with_its_corners():
    _, shop = drawn()
    reach = section_reach(shop.assembly("base", frozenset()), np.pi / 4)
    np.testing.assert_allclose(reach.farthest, 2.8 * np.sqrt(2))


@given(x=st.floats(-0.05, 0.05), y=st.floats(-0.05, 0.05), swelling=st.floats(0.0, 0.01))
def test_what_is_to_spare_in_a_straight_shaft(x, y, swelling):
    plan, shop = drawn()
    reach = section_reach(shop.assembly("base", frozenset()))
    surveyed = surveyed_walls(plan.shaft)
    assert surveyed is not None
    line = PlumbLine.model_validate({"x": f"{x} m", "y": f"{y} m"})
    gaps = face_gaps(
        surveyed,
        reach,
        met(surveyed, reach, 0.0, 5.0, running=0.02),
        line,
        nothing_extra(swelling=swelling),
    )
    # The shaft is 3.1 m from the datum, the legs 2.8 m from the axis.
    expected = [0.3 - y, 0.3 - x, 0.3 + y, 0.3 + x]
    for k, face in enumerate(FACES):
        row = gaps.worst(face)
        assert row is not None
        assert gaps.gap[row] == pytest.approx(expected[k], abs=1e-9)
        assert gaps.spare[row] == pytest.approx(expected[k] - 0.02 - swelling, abs=1e-9)


def test_heights_that_nothing_passes_are_left_open():
    plan, shop = drawn()
    reach = section_reach(shop.assembly("base", frozenset()))
    surveyed = surveyed_walls(plan.shaft)
    assert surveyed is not None
    gaps = face_gaps(
        surveyed, reach, met(surveyed, reach, 5.0, 10.0), plan.plumb_line, nothing_extra()
    )
    passed = (gaps.edges[1:] >= 5.0) & (gaps.edges[:-1] <= 23.0)
    assert np.isfinite(gaps.gap[passed]).all()
    assert np.isnan(gaps.gap[gaps.edges[1:] < 4.9]).all()
    assert (gaps.member[gaps.edges[1:] < 4.9] == -1).all()


def test_the_best_plumb_line_is_the_middle():
    gaps = {Face.NORTH: 0.011, Face.SOUTH: 0.099, Face.EAST: 0.17, Face.WEST: 0.17}
    x, y, spare = best_plumb_line(gaps, LINE)
    assert x == pytest.approx(0.050)
    assert y == pytest.approx(-0.065 - 0.044)
    assert spare == pytest.approx(0.055)


def measured(plan, *rows):
    base = plan.sections[0].model_copy(
        update={"as_built": tuple(AsBuilt.model_validate(row) for row in rows)}
    )
    return base


def test_without_a_trial_assembly_the_drawing_stands():
    plan, shop = drawn()
    reach = section_reach(shop.assembly("base", frozenset()))
    assert as_built_reach(plan.sections[0], reach) is reach


def test_an_offset_moves_its_face_and_no_other():
    plan, shop = drawn()
    reach = section_reach(shop.assembly("base", frozenset()))
    base = measured(plan, {"s": "0 m", "north": "10 mm"}, {"s": "13 m", "north": "10 mm"})
    built = as_built_reach(base, reach)
    np.testing.assert_allclose(
        built.farthest, np.array([2.81, 2.8, 2.8, 2.8]) + np.zeros((130, 4)), atol=1e-12
    )


@pytest.mark.parametrize("sign", [1, -1])
def test_a_twist_takes_half_the_width_times_the_angle(sign):
    plan, shop = drawn()
    reach = section_reach(shop.assembly("base", frozenset()))
    turn = f"{2 * sign} mrad"
    base = measured(plan, {"s": "0 m", "twist": turn}, {"s": "13 m", "twist": turn})
    built = as_built_reach(base, reach)
    # A corner comes out by the half width times the angle, on every face.
    np.testing.assert_allclose(built.farthest, 2.8 + 2.8 * 0.002, atol=1e-9)


def test_unequal_diagonals_bring_two_corners_out():
    plan, shop = drawn()
    reach = section_reach(shop.assembly("base", frozenset()))
    row = {"diagonals": "16 mm"}
    base = measured(plan, {"s": "0 m", **row}, {"s": "13 m", **row})
    built = as_built_reach(base, reach)
    # 16 mm between diagonals is 8 mm at either, 4 mm at each end: 4 / sqrt(2) a face.
    np.testing.assert_allclose(built.farthest, 2.8 + 0.004 / np.sqrt(2), atol=1e-9)


def test_what_the_trial_assembly_costs():
    plan, shop = drawn()
    reach = section_reach(shop.assembly("base", frozenset()))
    surveyed = surveyed_walls(plan.shaft)
    assert surveyed is not None
    base = measured(plan, {"s": "0 m", "east": "7 mm"}, {"s": "13 m", "east": "-5 mm"})
    both = [
        face_gaps(surveyed, r, met(surveyed, r, 0.0, 5.0), plan.plumb_line, nothing_extra())
        for r in (reach, as_built_reach(base, reach))
    ]
    cost = {each.face: each for each in as_built_cost(*both)}
    assert cost[Face.EAST].lost == pytest.approx(0.007, abs=0.0001)
    assert cost[Face.NORTH].lost == pytest.approx(0.0, abs=1e-12)


def test_travels_of_a_plan():
    _, shop = drawn()
    reach = section_reach(shop.assembly("belfry", frozenset()))
    travels = section_travels(shop, "belfry", reach.edges, running=0.02, free={})
    assert {travel.stage for travel in travels} == {"belfry up"}
    # Without the loads of its lift nobody knows how it hangs.
    assert all("could not be found" in travel.unknown for travel in travels)
