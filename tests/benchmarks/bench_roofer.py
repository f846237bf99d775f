"""Benchmarks of the programme's risk and of the roofer's panel."""

import time
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

from tests.benchmarks.rows import AT_MOST, Row, median_time
from towerlift.motion import follow_stages
from towerlift.panels import RooferPanel
from towerlift.plan import read_plan
from towerlift.programme.hours import midnight
from towerlift.programme.posing import pose
from towerlift.programme.risk import Draw, draw_programmes
from towerlift.programme.risk_network import ALOFT, LIFTS, Varies, network_of
from towerlift.programme.risk_weather import courses_of_weather
from towerlift.programme.weather import Aloft, WeatherNeed, judge_hours
from towerlift.programme.weather_files import read_weather
from towerlift.programme.weather_height import Exposure

FOLDER = Path(__file__).parents[2] / "meshes" / "tidewatch"
SEA = Exposure(station="0", site="0")
PROGRAMMES = 10_000


def montecarlo_row() -> Row:
    """Programmes of the example, its weather with them."""
    plan = read_plan(FOLDER / "plan-corrected.toml")
    posed = pose(plan, follow_stages(plan))
    hours = read_weather(FOLDER / "hours.csv")
    aloft = Aloft(height=28.0, exposure=SEA)
    states = {
        LIFTS: judge_hours(hours, WeatherNeed(mean=8.0, gust=11.0, source="bench"), aloft),
        ALOFT: judge_hours(hours, WeatherNeed(mean=10.3, gust=15.6, source="bench"), aloft),
    }

    begins = midnight(plan.site.day_1, posed.clock.zone)

    def draw() -> object:
        weather = courses_of_weather(hours, states, begins, 78)
        network = network_of(posed, posed.dated, Varies(spreads={}, weather=weather))
        drawn = draw_programmes(network, Draw(n=PROGRAMMES))
        return drawn.drives(drawn.finish)

    tasks = len(posed.problem.tasks)
    return Row(
        name="programme.montecarlo",
        value=median_time(draw),
        unit="s",
        against=f"{PROGRAMMES} programmes of {tasks} tasks, with weather",
        goal=5.0,
        bound=AT_MOST,
    )


def slider_rows() -> Iterator[Row]:
    """From a moved slider to every drawing redrawn."""
    plan = read_plan(FOLDER / "plan.toml")
    panel = RooferPanel(plan, follow_stages(plan), read_weather(FOLDER / "hours.csv"), SEA)
    times: dict[str, list[float]] = {"wind": [], "date": [], "crew": []}
    for n in range(1, 16):
        for name, move in (
            ("wind", lambda n=n: setattr(panel.wind, "value", 5.0 + 0.3 * n)),
            ("date", lambda n=n: setattr(panel.day, "value", panel.days[n])),
            ("crew", lambda n=n: setattr(panel.roofers, "value", 1 + n % 8)),
        ):
            began = time.perf_counter()
            move()
            times[name].append(1e3 * (time.perf_counter() - began))
    worst = max(sorted(each)[len(each) // 2] for each in times.values())
    told = ", ".join(
        f"{name} {sorted(each)[len(each) // 2]:.0f}" for name, each in times.items()
    )
    days = timedelta(days=len(panel.days)).days
    yield Row(
        name="programme.slider",
        value=worst,
        unit="ms",
        against=f"medians: {told}; {days} dates",
        goal=200.0,
        bound=AT_MOST,
    )


def rows() -> Iterator[Row]:
    """All rows of the subject."""
    yield montecarlo_row()
    yield from slider_rows()
