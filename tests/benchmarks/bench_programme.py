"""Benchmarks of the programme: the example's, and instances of thirty activities."""

import statistics
import time
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks.rows import AT_MOST, Row
from tests.unit.programme.networks import made_thirty, read_sm
from towerlift.motion import follow_stages
from towerlift.plan import read_plan
from towerlift.programme import schedule
from towerlift.programme.solving import shortest

FOLDER = Path(__file__).parents[2] / "meshes" / "tidewatch"
THIRTIES = 12


def tidewatch_row() -> Row:
    """The shortest programme of the corrected plan, with its proof or its gap."""
    plan = read_plan(FOLDER / "plan-corrected.toml")
    raise_ = follow_stages(plan)
    began = time.perf_counter()
    programme = schedule(plan, raise_)
    seconds = time.perf_counter() - began
    gap = f"gap {programme.gap}" if programme.gap else "proved shortest"
    return Row(
        name="programme.tidewatch",
        value=seconds,
        unit="s",
        against=f"{programme.n_days} working days, {gap}",
        goal=30.0,
        bound=AT_MOST,
    )


def thirty_row() -> Row:
    """Median time to a proved optimum of instances of thirty activities."""
    instances = [read_sm("j301_1.sm"), *(made_thirty(seed) for seed in range(THIRTIES))]
    times, proved = [], 0
    for instance in instances:
        began = time.perf_counter()
        proved += shortest(instance, seconds=60, tidy=False).proved
        times.append(time.perf_counter() - began)
    return Row(
        name="programme.j30.median",
        value=statistics.median(times),
        unit="s",
        against=f"{proved} of {len(instances)} proved, slowest {max(times):.2f} s",
        goal=5.0,
        bound=AT_MOST,
    )


def rows() -> Iterator[Row]:
    """All rows of the subject."""
    yield tidewatch_row()
    yield thirty_row()
