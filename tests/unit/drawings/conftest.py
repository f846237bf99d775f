"""One small checked plan, and every drawing of it."""

import pytest

from tests.unit.drawings.made import block, read_back
from towerlift import check_plan, new_plan, read_plan
from towerlift.checks.clearance import RUNNING
from towerlift.drawings import (
    A4,
    LETTER,
    Measure,
    gap_drawing,
    leads_drawing,
    least_margin,
    reeving_drawing,
    stage_elevation,
    wall_drawing,
    whole_strip,
)
from towerlift.nesting.bench import build_bench
from towerlift.plan.limits import limit_in_plan
from towerlift.rig.out_of_true import free_hang_curves
from towerlift.workflow import GUST


@pytest.fixture(scope="session")
def starter(tmp_path_factory):
    """The plan to start from, checked."""
    path = new_plan(tmp_path_factory.mktemp("drawn") / "mine")
    return check_plan(read_plan(path), path.parent)


@pytest.fixture(scope="session")
def benches(starter):
    """Its sections on the framer's bench."""
    gust = limit_in_plan(starter.plan, GUST).value
    free = free_hang_curves(
        starter.plan, starter.shapes, starter.raise_.passages, starter.hangs, gust
    )
    running = limit_in_plan(starter.plan, RUNNING).value / 1000.0
    found = (
        build_bench(starter.nesting.workshop, s.name, running=running, free=free)
        for s in starter.plan.sections
    )
    return [bench for bench in found if bench is not None]


def every_drawing(outcome, benches, room):
    """All kinds, for one room."""
    for stage in dict.fromkeys(passage.stage for passage in outcome.raise_.passages):
        yield stage_elevation(outcome, stage, room)
    yield whole_strip(outcome, room)
    for lift in outcome.plan.lifts:
        yield leads_drawing(outcome, lift.name, room)
        yield reeving_drawing(outcome, lift.name, lift.lines[0].tackle, room)
    for stage in dict.fromkeys(margin.stage for margin in outcome.nesting.margins):
        margin = least_margin(outcome, stage)
        assert margin is not None
        yield gap_drawing(outcome, margin, room)
    for bench in benches:
        yield wall_drawing(bench, room)


ROOMS = {
    f"{paper.name}, {'landscape' if paper.width > paper.height else 'portrait'}, {measure}": (
        paper.room(measure=measure)
    )
    for paper, measure in (
        (A4.landscape, Measure.METRIC),
        (A4, Measure.METRIC),
        (LETTER, Measure.FEET),
        (LETTER.landscape, Measure.FEET),
    )
}


@pytest.fixture(scope="session")
def drawn(starter, benches):
    """Every drawing by room."""
    return {name: list(every_drawing(starter, benches, room)) for name, room in ROOMS.items()}


@pytest.fixture(scope="session")
def metric(drawn):
    """Drawings for A4 landscape, metric, by the name of their file."""
    return {d.key: d for d in drawn["A4, landscape, metric"]}


@pytest.fixture(scope="session")
def docs(metric):
    """Their DXF files, read back, each with its sheet."""
    return {key: read_back(drawing, block()) for key, drawing in metric.items()}
