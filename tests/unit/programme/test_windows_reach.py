"""Reach, leaf boards, bands, courses and laps against sums by hand."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plans.factory import fixture
from towerlift.plan import read_plan
from towerlift.plan.bodies import Face, Fixture, PlumbLine
from towerlift.programme.windows_bands import (
    Band,
    Rates,
    bands_of,
    face_area,
    hours_for,
    laps_of,
    n_courses,
    rates_of,
    shortest_course,
)
from towerlift.programme.windows_net import net_fault
from towerlift.programme.windows_reach import (
    Reach,
    WorkDeck,
    leaf_boards,
    reachable,
    work_deck,
)

FOLDER = Path(__file__).parents[3] / "meshes" / "tidewatch"
RATES = Rates(area_rate=2.5 / 3600, lap_time=2700.0, gauge=0.15, head_lap=0.05, source="x")
# A pyramid 10.3 m high over a square of 3.50 m, from s 3.2 to 13.5: half width, area and
# hours of each band by hand, four roofers at 2.5 m2/h and 0.75 h a lap.
PYRAMID = [
    # low, high, half at the middle, m2, h
    pytest.param(11.1, 12.9, 0.25, 3.7, 2.2, id="B1"),
    pytest.param(9.3, 11.1, 0.56, 8.2, 4.0, id="B2"),
    pytest.param(7.5, 9.3, 0.87, 12.7, 5.8, id="B3"),
    pytest.param(5.9, 7.5, 1.16, 15.0, 6.8, id="B4"),
    pytest.param(4.5, 5.9, 1.41, 16.0, 7.2, id="B5"),
    pytest.param(3.2, 4.5, 1.64, 17.3, 7.7, id="B6"),
]


def band(low, high, **changes):
    halves = [1.75 * (13.5 - s) / 10.3 for s in (low, high)]
    area = face_area(halves[0], halves[1], high - low)
    given_ = {
        "name": "B",
        "section": "spire",
        "low": low,
        "high": high,
        "half_low": halves[0],
        "half_high": halves[1],
        "area": area,
        "mass": 25.0 * area,
        "sheets": False,
    }
    return Band(**{**given_, **changes})


@pytest.mark.parametrize(("low", "high", "half", "area", "hours"), PYRAMID)
def test_bands_of_a_pyramid(low, high, half, area, hours):
    one = band(low, high)
    assert one.half((low + high) / 2) == pytest.approx(half, abs=0.006)
    assert one.area == pytest.approx(area, abs=0.05)
    assert hours_for(one, RATES, 4) / 3600 == pytest.approx(hours, abs=0.06)
    # Twice the roofers lay twice as much; the lap takes as long.
    assert hours_for(one, RATES, 8) - 2700 == pytest.approx(
        (hours_for(one, RATES, 4) - 2700) / 2
    )


def test_the_whole_pyramid_is_its_bands():
    whole = face_area(1.75, 0.0, 10.3)
    parts = [band(low, high).area for low, high in ((3.2, 7.5), (7.5, 11.1), (11.1, 13.5))]
    assert sum(parts) == pytest.approx(whole)
    assert whole == pytest.approx(73.1, abs=0.05)


def test_nobody_clads_nothing():
    with pytest.raises(ValueError, match="clad nothing"):
        hours_for(band(3.2, 4.5), RATES, 0)


def test_courses():
    # 1.3 m of height at 1.3 * sqrt(1 + (1.75 / 10.3)^2) = 1.3187 m of slope: 8.79 gauges.
    assert n_courses(band(3.2, 4.5), RATES) == 9
    around = 8 * 1.75 * 0.15 / (2.5 / 3600)
    assert shortest_course(band(3.2, 4.5), RATES, 4) == pytest.approx(around)


def test_bands_of_the_example():
    plan = read_plan(FOLDER / "plan-corrected.toml")
    bands = bands_of(plan)
    assert [each.name for each in bands] == ["band F", *(f"band B{n}" for n in range(1, 7))]
    # Outside of the shingles 2 mm inside the nominal pyramid, as the tables are drawn.
    for each in bands[1:6]:
        for s in (each.low, each.high):
            assert each.half(s) == pytest.approx(1.75 * (13.5 - s) / 10.3 - 0.002, abs=0.001)
    assert sum(each.mass for each in bands) == pytest.approx(1828, abs=2)
    assert rates_of(plan).source.count("no source") >= 1


def test_laps_follow_the_order_of_laying():
    upper, lower = band(5.9, 7.5, name="upper"), band(4.5, 5.9, name="lower")
    (risen,) = laps_of([upper, lower], ["upper", "lower"], RATES)
    assert risen.slid_under
    assert "slides under" in risen.words
    assert risen.s == 5.9
    assert risen.overlap == pytest.approx(0.2)
    (plain,) = laps_of([upper, lower], ["lower", "upper"], RATES)
    assert not plain.slid_under
    assert laps_of([upper, band(1.0, 2.0)], ["upper"], RATES) == ()


REACH = Reach(lowest=0.2, highest=2.0, lean=0.6)


@given(top=st.floats(10, 40), heel=st.floats(0, 40))
def test_a_reach_is_as_high_as_it_says(top, heel):
    low, high = reachable(top, heel, REACH)
    assert heel + low == pytest.approx(top + 0.2)
    assert high - low == pytest.approx(1.8)


def test_heel_that_reaches_the_foot_of_a_band():
    """From a deck at 28.0: heel 17.1 for a band from s 11.1, 20.7 for one from 7.5."""
    for low, heel in ((11.1, 17.1), (9.3, 18.9), (7.5, 20.7), (5.9, 22.3), (4.5, 23.7)):
        assert reachable(28.0, heel, REACH)[0] == pytest.approx(low)


def ring(edge):
    return WorkDeck(name="ring", top=28.0, edges=dict.fromkeys(Face, edge))


@pytest.mark.parametrize(
    ("low", "high", "heel", "gap", "board"),
    [
        pytest.param(11.1, 12.9, 17.1, 1.85, 1.55, id="B1"),
        pytest.param(9.3, 11.1, 18.9, 1.54, 1.24, id="B2"),
        pytest.param(7.5, 9.3, 20.7, 1.23, 0.93, id="B3"),
        pytest.param(5.9, 7.5, 22.3, 0.94, 0.64, id="B4"),
        pytest.param(4.5, 5.9, 23.7, 0.69, 0.39, id="B5"),
        pytest.param(3.2, 4.5, 25.0, 0.46, 0.16, id="B6"),
    ],
)
def test_reach_gaps_and_leaf_boards(low, high, heel, gap, board):
    """From a deck edge 2.10 m off the axis, by hand."""
    found = leaf_boards(ring(2.1), band(low, high), heel)
    assert found.gap_middle == pytest.approx(gap, abs=0.006)
    assert found.width == pytest.approx(board, abs=0.006)
    assert found.gap_foot < found.gap_middle < found.gap_head
    assert found.lean == pytest.approx(found.gap_head - found.width)


def test_boards_stay_off_the_face_below_them():
    """A steep band on a wide foot: the board would meet the face at the deck's height."""
    steep = band(4.0, 5.8, half_low=1.6, half_high=0.2)
    found = leaf_boards(ring(2.1), steep, heel=24.2)
    at_deck = steep.half(28.0 - 24.2)
    assert found.width == pytest.approx(2.1 - at_deck - 0.05)
    assert leaf_boards(ring(0.5), steep, heel=24.2).width == 0.0


AXIS = PlumbLine(x="50 mm", y="-65 mm")


def planks(*rows):
    return Fixture.model_validate(
        {
            "name": "deck",
            "kind": "deck",
            "members": [
                {
                    "mark": f"plank {n}",
                    "part": "deck planks",
                    "species": "fir",
                    "breadth": f"{breadth} m",
                    "depth": "50 mm",
                    "start": [f"{x0} m", f"{y0} m", "28 m"],
                    "end": [f"{x1} m", f"{y1} m", "28 m"],
                }
                for n, (x0, y0, x1, y1, breadth) in enumerate(rows)
            ],
        }
    )


RING = (
    (-3.0, 2.535, 3.0, 2.535, 1.0),
    (-3.0, -2.665, 3.0, -2.665, 1.0),
    (2.65, -2.0, 2.65, 2.0, 1.0),
    (-2.55, -2.0, -2.55, 2.0, 1.0),
)


def test_the_opening_of_a_ring_deck():
    deck = work_deck(planks(*RING), AXIS)
    assert deck is not None
    assert deck.top == pytest.approx(28.025)
    for edge in deck.edges.values():
        assert edge == pytest.approx(2.1)


def test_no_ring():
    assert work_deck(planks(*RING[:3]), AXIS) is None
    across = (-3.0, 0.0, 3.0, 0.0, 1.0)
    assert work_deck(planks(*RING, across), AXIS) is None


def net(z, **changes):
    return Fixture.model_validate({**fixture("net", "net", z), **changes})


FAULTS = [
    pytest.param({}, 27.0, "no debris mesh", id="no-mesh"),
    pytest.param({"fine_mesh": True}, 27.0, "does not say how far", id="no-reach"),
    pytest.param({"fine_mesh": True, "reach": "2.4 m"}, 27.0, "2.44 m is asked", id="short"),
    pytest.param({"fine_mesh": True, "reach": "4 m"}, 18.0, "must hang 0 to 9.1 m", id="deep"),
    pytest.param({"fine_mesh": True, "reach": "4 m"}, 29.0, "must hang 0 to 9.1 m", id="above"),
]


@pytest.mark.parametrize(("changes", "z", "said"), FAULTS)
def test_nets_that_will_not_do(changes, z, said):
    name, fault = net_fault([net(z, **changes)], 28.0)
    assert name is None
    assert said in fault


def test_a_net_that_will_do():
    good = net(27.0, fine_mesh=True, reach="2.44 m")
    assert net_fault([net(20.0), good], 28.0) == ("net", "")
    assert net_fault([], 28.0) == (None, "no net is in")
