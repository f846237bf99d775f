"""The example's programme as a network: its order kept, light and bells by chance."""

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from towerlift.motion import follow_stages
from towerlift.plan import read_plan
from towerlift.programme.posing import pose
from towerlift.programme.risk import Chance, Draw, RiskNetwork, draw_programmes
from towerlift.programme.risk_network import Varies, network_of, starts_of
from towerlift.programme.risk_report import RiskAsk, Weather, risk_of
from towerlift.programme.risk_spread import USUAL_SOURCE, Spread
from towerlift.programme.risk_words import percent, told_risk
from towerlift.programme.scheduling import programme_of
from towerlift.programme.solving import Solution
from towerlift.programme.weather import WeatherNeed
from towerlift.programme.weather_files import read_weather
from towerlift.programme.weather_height import Exposure

FOLDER = Path(__file__).parents[3] / "meshes" / "tidewatch"
DRAW = Draw(n=400)


@pytest.fixture(scope="module")
def plan():
    return read_plan(FOLDER / "plan-corrected.toml")


@pytest.fixture(scope="module")
def raise_(plan):
    return follow_stages(plan)


@pytest.fixture(scope="module")
def posed(plan, raise_):
    return pose(plan, raise_)


@pytest.fixture(scope="module")
def programme(posed):
    """The plan's own dates, which keep every rule: no search is needed here."""
    ends = [posed.dated[task.name] + task.duration for task in posed.problem.tasks]
    return programme_of(
        posed, Solution(starts=posed.dated, finish=max(ends), bound=0, seconds=0.0)
    )


@pytest.fixture(scope="module")
def network(posed):
    return network_of(posed, posed.dated, Varies(spreads={}, weather={}))


def sure(network):
    tasks = tuple(
        replace(
            task,
            spread=Spread(
                least=task.spread.likely,
                likely=task.spread.likely,
                most=task.spread.likely,
                source="sure",
            ),
        )
        for task in network.tasks
    )
    return RiskNetwork(tasks=tasks, links=network.links)


def test_starts_are_those_of_the_programme(posed, programme):
    starts = starts_of(posed, programme)
    moved = {
        name: (starts[name], minute) for name, minute in posed.dated.items()
        if starts[name] != minute
    }  # fmt: skip
    # A stage that only fits something is booked when its work begins.
    assert all(not task.duration for task in posed.problem.tasks if task.name in moved)


def test_what_takes_as_long_as_planned_keeps_its_dates(posed, network):
    drawn = draw_programmes(sure(network), Draw(n=1))
    for row, name in enumerate(drawn.names):
        assert drawn.starts[row, 0] / 60.0 == pytest.approx(posed.dated[name]), name


def test_every_draw_keeps_the_order(posed, network):
    """Each link with its lag, and each crew in one place, in draws of its own."""
    drawn = draw_programmes(network, DRAW)
    at = {name: row for row, name in enumerate(drawn.names)}
    for link in posed.problem.links:
        one, other = posed.dated[link.before], posed.dated[link.after]
        if one >= other or str(link.to_edge) == "end":
            continue
        edge = drawn.ends if str(link.from_edge) == "end" else drawn.starts
        waited = edge[at[link.before]] + 60.0 * link.lag
        assert (drawn.starts[at[link.after]] >= waited - 1e-3).all(), link.reason
    for crew, there_are in posed.problem.capacities.items():
        users = [t for t in posed.problem.tasks if t.demands.get(crew) and t.duration]
        for n in range(0, DRAW.n, 40):
            moments = sorted({drawn.starts[at[t.name], n] for t in users})
            for moment in moments:
                busy = sum(
                    t.demands[crew]
                    for t in users
                    if drawn.starts[at[t.name], n] <= moment < drawn.ends[at[t.name], n] - 1e-3
                )
                assert busy <= there_are


def test_nothing_starts_before_its_date(posed, network):
    drawn = draw_programmes(network, DRAW)
    earliest = np.array([60.0 * posed.dated[name] for name in drawn.names])
    assert (drawn.starts >= earliest[:, None] - 1e-6).all()


def test_report_of_the_example(posed, programme):
    report = risk_of(posed, programme, RiskAsk(draw=DRAW))
    assert [each.stage for each in report.lifts][:3] == ["L1", "S1", "S2"]
    assert 0.9 < report.all_in_light.share <= min(e.in_light.share for e in report.lifts)
    assert report.n_stuck == 0
    low, middle, high = report.finish
    assert low is not None
    assert middle is not None
    assert high is not None
    assert low <= middle <= high
    assert report.by.date() == programme.finish.date() + timedelta(days=1)
    # The last work of all is on every chain of what was waited for last.
    last = max(programme.bookings, key=lambda each: each.ends)
    assert next(e.critical for e in report.drivers if e.name == last.name) > 0.9
    assert all(-1 <= each.correlation <= 1 for each in report.drivers)


def test_wider_durations_and_rougher_weather_make_it_later(posed, programme):
    easy = risk_of(posed, programme, RiskAsk(draw=DRAW))
    slow = {
        "L2": Spread(least=3 * 3600.0, likely=4 * 3600.0, most=30 * 3600.0, source="a test")
    }
    wide = risk_of(posed, programme, RiskAsk(draw=DRAW, spreads=slow))

    def light(report):
        return next(each.in_light.share for each in report.lifts if each.stage == "L2")

    assert light(wide) < light(easy)
    weather = Weather(
        hours=read_weather(FOLDER / "hours.csv"),
        exposure=Exposure(station="0", site="0"),
        lifts=WeatherNeed(mean=8.0, gust=11.0, source="a test"),
        aloft=WeatherNeed(mean=10.3, gust=15.6, source="a test"),
        height=28.0,
    )
    rough = risk_of(posed, programme, RiskAsk(draw=DRAW, weather=weather))
    assert rough.in_time.share <= easy.in_time.share
    assert np.median(rough.programmes.finish) >= np.median(easy.programmes.finish)
    far = datetime.fromisoformat("2027-09-01T00:00:00-02:00")
    late = risk_of(posed, programme, RiskAsk(draw=DRAW, by=far))
    assert late.in_time.share == 1.0


def test_words(posed, programme):
    report = risk_of(posed, programme, RiskAsk(draw=DRAW))
    told = [text for _, text in told_risk(report, weather=False)]
    assert told[0].startswith("400 programmes drawn")
    assert "the weather is left out" in told[0]
    assert sum("over in the light" in text for text in told) == len(report.lifts)
    assert told[-1] == f"Durations of all of these: {USUAL_SOURCE}."


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (1.0, "100.0 %"),
        (0.99999, "99.9 %"),
        (0.00001, "0.1 %"),
        (0.0, "0.0 %"),
        (0.5, "50.0 %"),
    ],
)
def test_nothing_is_rounded_to_certain(share, said):
    assert percent(Chance(share=share, error=0.001)).startswith(said)
