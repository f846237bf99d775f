"""Benchmark of the what-ifs: sliders dragged at every haul of the example."""

import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from tests.benchmarks.rows import AT_MOST, Row
from tests.unit.what_if.made import outcome_of
from towerlift.plan import read_plan
from towerlift.what_if import WhatIf, WhatIfBench

FOLDER = Path(__file__).parents[2] / "meshes" / "tidewatch"
EACH = 16


def drags(bench: WhatIfBench, passage: int, rng: np.random.Generator) -> Iterator[WhatIf]:
    """Sliders dragged at one height, then the travel with them set."""
    capstans = bench.capstans(passage)
    for n in range(EACH):
        lean, drift = rng.normal(0, 0.002, 2), rng.normal(0, 0.01, 2)
        yield WhatIf(
            passage=passage,
            share=0.5 if n < EACH // 2 else 0.5 + 0.5 * (n - EACH // 2) / EACH,
            lean_east=lean[0],
            lean_north=lean[1],
            yaw=rng.normal(0, 0.001),
            drift_east=drift[0],
            drift_north=drift[1],
            behind=capstans[n % len(capstans)],
            by=rng.normal(0, 0.005),
            gust=abs(rng.normal(0, 4)),
            towards=rng.uniform(0, 6.28),
        )


def rows() -> Iterator[Row]:
    """All rows of the subject."""
    outcome = outcome_of(read_plan(FOLDER / "plan-corrected.toml"), FOLDER)
    bench, rng = WhatIfBench(outcome), np.random.default_rng(1)
    times, worked = [], []
    hauled = [p.index for p in outcome.raise_.moving_passages if p.lift is not None]
    for passage in hauled:
        bench.make_ready(passage)
        for asked in drags(bench, passage, rng):
            began, busy = time.perf_counter(), time.process_time()
            bench.answer(asked)
            worked.append(1e3 * (time.process_time() - busy))
            times.append(1e3 * (time.perf_counter() - began))
    said = f"{len(times)} settings at {len(hauled)} hauls, slowest {max(times):.0f} ms"
    for name, share in (("scrub.what_if", 95), ("scrub.what_if.median", 50)):
        yield Row(
            name=name,
            value=float(np.percentile(times, share)),
            unit="ms",
            against=said,
            goal=100.0,
            bound=AT_MOST,
        )
    # What is left of it where other work does not take the processors away.
    yield Row(
        name="scrub.what_if.processor",
        value=float(np.percentile(worked, 95)),
        unit="ms",
        against="processor time of the same settings, 95 in a hundred",
    )
