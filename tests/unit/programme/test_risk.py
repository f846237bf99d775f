"""Programmes drawn by thousands, against closed forms and against one by one."""

from datetime import UTC, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.programme.test_weather_windows import hours_of
from towerlift.errors import PlanError
from towerlift.programme.problem import Edge
from towerlift.programme.risk import (
    Draw,
    RiskLink,
    RiskNetwork,
    RiskTask,
    chance_of,
    draw_programmes,
)
from towerlift.programme.risk_spread import (
    USUAL_SOURCE,
    Spread,
    from_scores,
    quantiles,
    read_spreads,
    usual_spread,
)
from towerlift.programme.risk_weather import HeldUp, courses_of_weather
from towerlift.programme.weather import CLEAR, SHUT

H = 3600.0
CHRISTMAS = datetime(2027, 12, 25, tzinfo=UTC)


def sure(length):
    return Spread(least=length, likely=length, most=length, source="a test")


def chain(*tasks, lag=0.0):
    links = tuple(RiskLink(before=a.name, after=b.name, lag=lag) for a, b in pairwise(tasks))
    return RiskNetwork(tasks=tasks, links=links)


ONE = Draw(n=1, correlation=0.0)

# A textbook network of arcs: durations, and what each waits for; length 20 weeks, the
# critical path 1-3-4-5-6, slack 2, 0, 2, 0, 4, 0, 0. (Introduction to Management Science,
# instructor's solutions, chapter 8, problem 5.)
ARCS = {
    "1-2": (7, ()),
    "1-3": (10, ()),
    "2-4": (6, ("1-2",)),
    "3-4": (5, ("1-3",)),
    "3-5": (4, ("1-3",)),
    "4-5": (3, ("2-4", "3-4")),
    "5-6": (2, ("3-5", "4-5")),
}


def textbook(delay=None):
    tasks = tuple(
        RiskTask(name=name, spread=sure(length + (0.5 if name == delay else 0)))
        for name, (length, _) in ARCS.items()
    )
    links = tuple(
        RiskLink(before=each, after=name) for name, (_, waits) in ARCS.items() for each in waits
    )
    return draw_programmes(RiskNetwork(tasks=tasks, links=links), ONE)


def test_sure_durations_give_the_critical_path():
    drawn = textbook()
    assert drawn.finish.tolist() == [20.0]
    on = [name for name, share in zip(drawn.names, drawn.critical, strict=True) if share]
    assert on == ["1-3", "3-4", "4-5", "5-6"]
    # Half a week more on a task of the path is half a week more in all, and only there.
    for name in ARCS:
        assert textbook(delay=name).finish[0] == (20.5 if name in on else 20.0)


def test_the_longer_of_two_has_the_chance_that_both_are_over():
    """Two equal tasks side by side: the chance squared, by quantiles in closed form."""
    spread = Spread(least=1.0, likely=2.0, most=5.0, source="a test")
    net = RiskNetwork(tasks=tuple(RiskTask(name=name, spread=spread) for name in "ab"))
    drawn = draw_programmes(net, Draw(n=40_000, correlation=0.0))
    half = float(quantiles(spread, np.array(0.5)))
    both = drawn.chance_finished(half)
    assert both.share == pytest.approx(0.25, abs=4 * both.error)
    one = drawn.chance("a", half)
    assert one.share == pytest.approx(0.5, abs=4 * one.error)
    assert drawn.critical.sum() == pytest.approx(1.0)


def test_what_varies_together_adds_up():
    """The variance of a sum of k: k times one, and k (k - 1) rho times one besides."""
    spread = Spread(least=0.0, likely=5.0, most=10.0, source="a test")
    net = chain(*(RiskTask(name=str(n), spread=spread) for n in range(10)))
    for rho in (0.0, 0.3):
        drawn = draw_programmes(net, Draw(n=60_000, correlation=rho))
        want = 10 * spread.beta_deviation**2 * (1 + 9 * rho)
        # The shape between is nearly normal, so scores pass on their correlation.
        assert drawn.finish.var() == pytest.approx(want, rel=0.04)


@given(
    least=st.floats(0, 10),
    more=st.floats(0.01, 10),
    most=st.floats(0.01, 10),
    chance=st.floats(0.001, 0.999),
)
def test_durations_keep_to_their_ends(least, more, most, chance):
    spread = Spread(least=least, likely=least + more, most=least + more + most, source="x")
    value = float(quantiles(spread, np.array(chance)))
    assert spread.least <= value <= spread.most
    score = np.array([-9.0, 0.0, 9.0])
    table = from_scores(spread, score)
    assert table[0] >= spread.least
    assert table[2] <= spread.most
    width = spread.most - spread.least
    assert table[1] == pytest.approx(float(quantiles(spread, np.array(0.5))), abs=5e-5 * width)


def test_scores_and_quantiles_agree():
    from scipy.special import ndtr

    spread = Spread(least=3.0, likely=4.0, most=9.0, source="x")
    scores = np.linspace(-4, 4, 3001)
    got, want = from_scores(spread, scores), quantiles(spread, ndtr(scores))
    assert np.abs(got - want).max() < 5e-5 * 6.0


def test_a_draw_can_be_seen_again():
    net = chain(*(RiskTask(name=str(n), spread=usual_spread(H)) for n in range(4)))
    once, again = (draw_programmes(net, Draw(n=50)) for _ in range(2))
    np.testing.assert_array_equal(once.ends, again.ends)
    other = draw_programmes(net, Draw(n=50, seed=2))
    assert (other.ends != once.ends).any()


def test_what_drives_the_finish():
    wide = Spread(least=0.0, likely=10.0, most=40.0, source="x")
    net = chain(RiskTask(name="wide", spread=wide), RiskTask(name="sure", spread=sure(10.0)))
    drawn = draw_programmes(net, Draw(n=2000, correlation=0.0))
    assert drawn.drives(drawn.finish).tolist() == pytest.approx([1.0, 0.0])


LINKS = [
    pytest.param(Edge.END, Edge.START, 2 * H, 6 * H, id="end-to-start"),
    pytest.param(Edge.START, Edge.START, 2 * H, 2 * H, id="start-to-start"),
    pytest.param(Edge.END, Edge.END, 2 * H, 5 * H, id="end-to-end"),
    pytest.param(Edge.START, Edge.END, 2 * H, 1 * H, id="start-to-end"),
    pytest.param(Edge.END, Edge.START, -1 * H, 3 * H, id="overlap"),
]


@pytest.mark.parametrize(("from_edge", "to_edge", "lag", "starts"), LINKS)
def test_links(from_edge, to_edge, lag, starts):
    link = RiskLink(before="a", after="b", lag=lag, from_edge=from_edge, to_edge=to_edge)
    tasks = (RiskTask(name="a", spread=sure(4 * H)), RiskTask(name="b", spread=sure(H)))
    drawn = draw_programmes(RiskNetwork(tasks=tasks, links=(link,)), ONE)
    assert drawn.starts[1, 0] == pytest.approx(starts)


DAYS = np.array([[8 * H, 17 * H], [32 * H, 41 * H], [56 * H, 65 * H]])
ROOM = [
    # ready, length, goes on: start, end
    pytest.param(0, 4, False, 8, 12, id="waits-for-the-day"),
    pytest.param(14, 4, False, 32, 36, id="does-not-fit-today"),
    pytest.param(13, 4, False, 13, 17, id="just-fits"),
    pytest.param(14, 4, True, 14, 33, id="goes-on-tomorrow"),
    pytest.param(17, 1, True, 32, 33, id="at-the-end-of-a-day"),
    pytest.param(8, 9, True, 8, 17, id="a-whole-day"),
    pytest.param(8, 20, True, 8, 58, id="over-three-days"),
    pytest.param(8, 27, True, 8, 65, id="all-there-is"),
    pytest.param(8, 28, True, 8, np.inf, id="more-than-there-is"),
    pytest.param(8, 10, False, np.inf, np.inf, id="longer-than-any"),
    pytest.param(66, 1, True, np.inf, np.inf, id="too-late"),
]


@pytest.mark.parametrize(("ready", "length", "goes_on", "start", "end"), ROOM)
def test_windows(ready, length, goes_on, start, end):
    task = RiskTask(
        name="a",
        spread=sure(length * H),
        earliest=ready * H,
        windows=DAYS,
        goes_on=goes_on,
    )
    drawn = draw_programmes(RiskNetwork(tasks=(task,)), ONE)
    assert drawn.starts[0, 0] / H == pytest.approx(start)
    assert drawn.ends[0, 0] / H == pytest.approx(end)
    assert bool(drawn.stuck[0, 0]) == (not np.isfinite(end))


def test_a_haul_is_begun_by_its_likely_length_and_runs_on():
    """What takes longer than was expected ends in the dark: that is the chance asked for."""
    spread = Spread(least=2 * H, likely=3 * H, most=6 * H, source="a test")
    task = RiskTask(name="lift", spread=spread, earliest=14 * H, windows=DAYS)
    drawn = draw_programmes(RiskNetwork(tasks=(task,)), Draw(n=20_000, correlation=0.0))
    assert (drawn.starts == 14 * H).all()
    light = drawn.chance("lift", 17 * H)
    from scipy.special import betainc

    want = betainc(1 + 4 * 0.25, 1 + 4 * 0.75, 0.25)
    assert light.share == pytest.approx(want, abs=4 * light.error)


def one_by_one(starts, clear, length):
    """First moment from which every hour touched is clear, tried minute by minute."""
    for minute in range(round(starts / 60), len(clear) * 60):
        first, last = minute // 60, int(np.ceil((minute * 60 + length) / 3600 - 1e-9))
        if last <= len(clear) and all(clear[first:last]):
            return minute * 60.0
    return np.inf


@settings(max_examples=200)
@given(
    clear=st.lists(st.booleans(), min_size=3, max_size=40),
    start=st.integers(0, 45 * 60),
    minutes=st.integers(1, 400),
)
def test_next_clear_is_the_first(clear, start, minutes):
    course = HeldUp(clear=np.array([clear]))
    got = course.next_clear(np.array([start * 60.0]), np.array([0]), minutes * 60.0)
    assert got[0] == one_by_one(start * 60.0, clear, minutes * 60.0)


def test_weather_holds_work_up():
    clear = np.ones((2, 72), dtype=bool)
    clear[0, 10:40] = False
    task = RiskTask(
        name="lift",
        spread=sure(3 * H),
        earliest=8 * H,
        windows=DAYS,
        held_up=HeldUp(clear=clear),
    )
    drawn = draw_programmes(RiskNetwork(tasks=(task,)), Draw(n=400))
    assert sorted(set(drawn.starts[0] / H)) == [8.0, 56.0]
    share = float((drawn.starts[0] == 8 * H).mean())
    assert 0.4 < share < 0.6


def test_courses_begin_about_the_date_and_go_round_the_year():
    wind = np.zeros(8760)
    hours = hours_of(wind, first="2001-01-01T00")
    states = np.full(8760, CLEAR, dtype=np.int8)
    states[-1] = SHUT
    courses = courses_of_weather(hours, {"lift": states}, CHRISTMAS, 20)["lift"]
    assert courses.clear.shape == (21, 480)
    # The last hour of the year is in those that begin from 15 to 31 December.
    assert (~courses.clear).sum() == 17
    with pytest.raises(ValueError, match="no unbroken 20 days"):
        courses_of_weather(
            hours_of(wind[:2000], first="2001-01-01T00"),
            {"lift": states[:2000]},
            CHRISTMAS,
            20,
            around=3,
        )


def test_courses_of_a_site_on_summer_time_begin_an_hour_earlier_on_the_records_clock():
    hours = hours_of(np.zeros(8760), first="2001-01-01T00")
    states = (np.arange(8760) % 24 == 5).astype(np.int8)
    for zone, first in (("Atlantic/Reykjavik", 5), ("Atlantic/Azores", 6)):
        begins = datetime(2027, 6, 1, tzinfo=ZoneInfo(zone))
        found = courses_of_weather(hours, {"lift": states}, begins, 2, around=0)["lift"]
        assert np.flatnonzero(found.clear[0]).tolist() == [first, first + 24]


def test_networks_that_cannot_be_are_refused():
    a, b = RiskTask(name="a", spread=sure(1)), RiskTask(name="b", spread=sure(1))
    ring = (RiskLink(before="a", after="b"), RiskLink(before="b", after="a"))
    with pytest.raises(ValueError, match=r"wait for each other: . waits for"):
        draw_programmes(RiskNetwork(tasks=(a, b), links=ring), ONE)
    with pytest.raises(ValueError, match="named twice: \\['a'\\]"):
        RiskNetwork(tasks=(a, a))
    with pytest.raises(ValueError, match="links to no task: \\['c'\\]"):
        RiskNetwork(tasks=(a,), links=(RiskLink(before="c", after="a"),))
    with pytest.raises(ValueError, match="cannot draw"):
        Draw(correlation=1.0)
    with pytest.raises(ValueError, match="in order"):
        Spread(least=2, likely=1, most=3, source="x")
    with pytest.raises(ValueError, match="in order"):
        Spread(least=0, likely=float("nan"), most=3, source="x")


def test_a_chance_that_always_came_is_not_certain():
    always = chance_of(np.ones(98, dtype=bool))
    assert always.share == 1.0
    assert always.error == pytest.approx(0.01, abs=1e-3)


def test_three_points_from_a_table(tmp_path):
    path = tmp_path / "durations.csv"
    head = "name,least,likely,most,source\n"
    path.write_text(head + "L2,170 min,185 min,4.5 h,Maren Tolliver\n", encoding="utf-8")
    got = read_spreads(path)["L2"]
    assert (got.least, got.likely, got.most) == (10200.0, 11100.0, 16200.0)
    path.write_text(
        head + "L2,170,185 min,4 h,x\nL3,5 h,4 h,6 h,x\nL4,1 h,2 h,3 h,\nL1,1 h,1 h\n",
        encoding="utf-8",
    )
    with pytest.raises(PlanError) as caught:
        read_spreads(path)
    assert [each.split(":")[0] for each in caught.value.problems] == [
        "row 2", "row 3", "row 4", "row 5"
    ]  # fmt: skip
    assert usual_spread(60.0).source == USUAL_SOURCE
    assert "no source" in USUAL_SOURCE
