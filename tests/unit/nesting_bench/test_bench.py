"""The framer's bench: what-ifs, pare list, room to grow, prices and the calendar."""

from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from tests.plans.factory import legs, section, tiny_plan
from tests.unit.nesting_bench.test_movement import piece, species
from towerlift.errors import PlanError
from towerlift.motion import follow_stages
from towerlift.nesting.answers import face_chances, pare_list, price_list, room_to_grow
from towerlift.nesting.bench import Bench, Pared, Setting, build_bench
from towerlift.nesting.budget import FreeHangCurve
from towerlift.nesting.humidity import (
    Air,
    Weather,
    masonry_calendar,
    nest_calendar,
    read_climate,
)
from towerlift.nesting.pairs import Workshop
from towerlift.plan.bodies import Face
from towerlift.shapes import build_shapes

FEW = 20_000
# A ledge on the north face, from 5 to 6 m, that comes 0.2 m nearer.
SURVEY = [
    {"z": f"{z} m", "west": "-3.1 m", "east": "3.1 m", "south": "-3.1 m", "north": f"{n} m"}
    for z, n in ((0, 3.1), (4.99, 3.1), (5, 2.9), (6, 2.9), (6.01, 3.1), (30, 3.1))
]


@cache
def bench_of(name="belfry", half=2.25, foot=0.0) -> Bench:
    """A belfry that hangs true, with a foot on its north side where asked."""
    return bench_and_shop(name, half, foot)[0]


def bench_and_shop(name="belfry", half=2.25, foot=0.0) -> tuple[Bench, Workshop]:
    """The same, with the workshop that it was put together in."""
    members = legs(half, 12.5)
    if foot:
        members.append(piece("foot", (half - 0.1, half, 3.0), (half - 0.1, half + foot, 3.0)))
    sections = [
        section("base", 3.0, 13.0, nest_height="0.34 m"),
        section("belfry", half, 12.5, nest_height="6.8 m", members=members),
        section("spire", 1.75, 13.5),
    ]
    plan = tiny_plan(
        sections=sections,
        species=[species()],
        shaft={"survey": SURVEY, "uncertainty": "4 mm", "wall_head": "30 m"},
    )
    shop = Workshop(plan=plan, shapes=build_shapes(plan, Path()), raise_=follow_stages(plan))
    free = {
        p.index: FreeHangCurve(
            heels=np.array([0.0, 20.0]),
            tilt=np.zeros(2),
            sway=np.zeros(2),
            lean=np.zeros(2),
            pivot=0.1,
        )
        for p in shop.raise_.moving_passages
    }
    bench = build_bench(shop, name, running=0.02, free=free)
    assert bench is not None
    return bench, shop


# Legs to the ledge: 2.9 - 2.25. Budget: 20 running, 3 swelling, 6 and 4 by squares.
GAP, NEED = 0.65, 0.020 + 0.003 + np.hypot(0.006, 0.004)


def spare(bench, setting):
    gaps = bench.gaps(setting)
    return float(gaps.spare[gaps.worst()])


def test_least_to_spare_is_at_the_ledge():
    bench = bench_of()
    gaps = bench.gaps(Setting())
    worst = gaps.worst()
    assert worst is not None
    row, k = worst
    assert k == 0
    assert gaps.edges[row + 1] >= 5.0
    assert gaps.edges[row] <= 6.0
    assert gaps.gap[row, k] == pytest.approx(GAP)
    assert gaps.need[row, k] == pytest.approx(NEED)


@pytest.mark.parametrize(
    ("setting", "loss"),
    [
        (Setting(out_of_square=0.010), 0.010),
        (Setting(drift=0.015), 0.015),
        (Setting(y=0.030), 0.030),
        (Setting(y=-0.030), -0.030),
        (Setting(x=0.030), 0.0),
        # 4 % at 0.25 on a 0.2 m leg is 2 mm, in place of the 3 mm of the plan.
        (Setting(moisture=0.04), -0.001),
        (Setting(quarter_turns=1), 0.0),
    ],
)
def test_each_control_costs_what_it_says(setting, loss):
    bench = bench_of()
    assert spare(bench, setting) == pytest.approx(GAP - NEED - loss, abs=1e-9)


@pytest.mark.parametrize("name", ["out_of_square", "drift"])
@pytest.mark.parametrize("bad", [float("nan"), -0.001])
def test_a_setting_that_is_no_length_is_refused(name, bad):
    with pytest.raises(ValueError, match=name):
        Setting(**{name: bad})


def test_a_turned_foot_looks_another_way():
    bench = bench_of(foot=0.64)
    for turns, face in enumerate((Face.NORTH, Face.WEST, Face.SOUTH, Face.EAST)):
        gaps = bench.gaps(Setting(quarter_turns=turns))
        least = {f: float(gaps.gap[gaps.worst(f)]) for f in Face}
        expected = 0.01 if face is Face.NORTH else 0.21
        assert least[face] == pytest.approx(expected), face


def test_nothing_to_pare_where_nothing_falls_short():
    assert pare_list(bench_of(), Setting()) == ()


def test_the_foot_is_pared_by_what_is_short():
    bench = bench_of(foot=0.64)
    (paring,) = pare_list(bench, Setting())
    assert (paring.mark, paring.face) == ("foot", Face.NORTH)
    assert paring.gap == pytest.approx(0.010)
    # 30.2 mm are asked: 20.2 short, cut to a size a hand can cut.
    assert paring.depth == pytest.approx(0.025)
    cured = Setting(pared=(Pared(mark="foot", face=Face.NORTH, depth=paring.depth),))
    assert spare(bench, cured) == pytest.approx(0.035 - NEED)
    assert pare_list(bench, cured) == ()


def test_more_than_a_piece_can_lose_is_no_paring():
    # 0.70 m of foot would have to lose 80 mm and more.
    assert pare_list(bench_of(foot=0.70), Setting()) == ()


def test_a_turned_section_is_pared_on_its_own_side():
    bench = bench_of(foot=0.84)
    (paring,) = pare_list(bench, Setting(quarter_turns=1))
    # Turned once anticlockwise, what looked north looks west; the side keeps its name.
    assert (paring.mark, paring.face) == ("foot", Face.NORTH)


def test_prices_rank_what_suffices_first_and_cheapest_first():
    prices = price_list(bench_of(foot=0.64), Setting())
    assert prices[0].what.startswith("pare 25 mm off the north side of foot")
    assert prices[0].buys == pytest.approx(0.025)
    enough = [price.enough for price in prices]
    assert enough == sorted(enough, reverse=True)
    hours = [price.hours for price in prices if price.enough]
    assert hours == sorted(hours)
    kinds = {price.what.split()[0] for price in prices}
    assert kinds == {"pare", "hang", "turn", "cut"}


def test_every_price_keeps_what_it_says():
    bench = bench_of(foot=0.64)
    before = spare(bench, Setting())
    shown = [price for price in price_list(bench, Setting()) if price.setting is not None]
    assert len(shown) > 2
    for price in shown:
        assert price.setting is not None
        assert spare(bench, price.setting) == pytest.approx(price.spare)
        assert price.buys == pytest.approx(price.spare - before)


def test_waiting_for_dry_weather_has_its_price():
    wet = Setting(moisture=0.08)
    waits = [p for p in price_list(bench_of(foot=0.64), wet) if p.what.startswith("wait")]
    assert [p.buys for p in waits] == pytest.approx([0.2 * 0.25 * 0.08])


def test_three_ways_on_every_face():
    chances = {c.face: c for c in face_chances(bench_of(), Setting(), samples=FEW)}
    assert set(chances) == set(Face)
    north = chances[Face.NORTH]
    assert north.stack.worst_case == pytest.approx(GAP - 0.003 - 0.006 - 0.004)
    assert north.stack.root_sum_square == pytest.approx(GAP - 0.003 - np.hypot(0.006, 0.004))
    assert north.sampled.touching.hits == 0
    assert sum(north.sampled.shares.values()) == pytest.approx(1.0)


def test_room_to_grow_by_exact_quantile():
    # Nothing but a normal spread: 97.725 % keep the gap less two standard deviations.
    bench = bench_of()
    dry = Setting(moisture=0.0)
    room = room_to_grow(face_chances(bench, dry), 0.02, 0.97725)
    sigma = np.hypot(0.006, 0.004) / 3
    assert room[Face.NORTH] == pytest.approx(GAP - 2 * sigma - 0.02, abs=3e-5)


@pytest.mark.parametrize("sure", [0.0, 1.0, float("nan"), 0.9999])
def test_room_that_cannot_be_told(sure):
    with pytest.raises(ValueError, match=r"chance|too few"):
        room_to_grow(face_chances(bench_of(), Setting(), samples=1000), 0.02, sure)


def weather(*humid, lag=0.0):
    days = tuple(
        Air(day=date(2027, 4, 1 + k), temperature_c=10.0, humidity=h)
        for k, h in enumerate(humid)
    )
    return Weather(days=days, lag_100=lag)


def test_the_calendar_follows_the_air():
    bench = bench_of()
    found = masonry_calendar(bench, Setting(), weather(0.5, 0.8, 0.9))
    assert not isinstance(found, str)
    # 80 % at 10 degrees gives 16.4 %, by the equation: 8.4 % above the 8 % of cutting.
    loss = 0.2 * 0.25 * (found.moisture["oak"][1] - 0.08)
    assert found.moisture["oak"][1] == pytest.approx(0.164, abs=0.001)
    assert found.left[1] == pytest.approx(GAP - (NEED - 0.003) - loss)
    assert found.left[0] > found.left[1] > found.left[2]


def test_a_lag_keeps_the_wood_drier_in_a_wet_spell():
    bench = bench_of()
    quick = masonry_calendar(bench, Setting(), weather(0.5, 0.9, 0.9))
    slow = masonry_calendar(bench, Setting(), weather(0.5, 0.9, 0.9, lag=30 * 86400.0))
    assert not isinstance(quick, str)
    assert not isinstance(slow, str)
    assert slow.left[-1] > quick.left[-1]


def test_last_safe_day():
    bench = bench_of(foot=0.625)
    # 25 mm are left and 27.2 asked without swelling: dry wood falls short already.
    found = masonry_calendar(bench, Setting(), weather(0.5, 0.9))
    assert not isinstance(found, str)
    assert found.last_safe is None
    assert found.falls_short == found.days
    eased = masonry_calendar(bench, Setting(y=-0.0025), weather(0.3, 0.9, 0.3))
    assert not isinstance(eased, str)
    assert eased.last_safe == date(2027, 4, 1)
    assert eased.falls_short == (date(2027, 4, 2),)
    calm = masonry_calendar(bench, Setting(y=-0.1), weather(0.3, 0.9, 0.3))
    assert not isinstance(calm, str)
    assert calm.last_safe == date(2027, 4, 3)
    assert calm.falls_short == ()


def test_a_calendar_needs_the_moisture_at_cutting():
    bench = bench_of()
    dry = tuple(s.model_copy(update={"moisture": None}) for s in bench.plan.species)
    unknown = replace(bench, plan=bench.plan.model_copy(update={"species": dry}))
    said = masonry_calendar(unknown, Setting(), weather(0.5, 0.6))
    assert isinstance(said, str)
    assert "oak" in said


def test_a_nest_without_shoes_has_no_calendar():
    said = nest_calendar(bench_of(), bench_of(), weather(0.5, 0.6), limit=0.01)
    assert said == "no shoe of belfry runs on belfry"


CLIMATE = "date,temperature [degC],humidity [%]\n"


def test_reading_a_climate_file(tmp_path):
    path = tmp_path / "climate.csv"
    path.write_text(CLIMATE + "2027-04-01,8.5,70\n2027-04-02,9,75\n\n", encoding="utf-8")
    days = read_climate(path)
    assert days[1] == Air(day=date(2027, 4, 2), temperature_c=9.0, humidity=0.75)


def test_a_broken_climate_file_names_every_row(tmp_path):
    path = tmp_path / "climate.csv"
    rows = "2027-04-01,8.5,170\nfirst,8,70\n2027-04-03,8,70,1\n2027-04-04,nan,70\n"
    path.write_text(CLIMATE + rows, encoding="utf-8")
    with pytest.raises(PlanError) as caught:
        read_climate(path)
    said = str(caught.value)
    for row in ("row 2", "row 3", "row 4", "row 5", "4 problem(s)"):
        assert row in said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "nothing"),
        ("day,t,h\n", "first row"),
        (CLIMATE, "two or more"),
        (CLIMATE + "2027-04-02,8,70\n2027-04-01,8,70\n", "not after"),
    ],
)
def test_a_climate_file_that_is_none(tmp_path, text, said):
    path = tmp_path / "climate.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(PlanError, match=said):
        read_climate(path)
    with pytest.raises(PlanError, match="cannot be read"):
        read_climate(tmp_path / "none.csv")
