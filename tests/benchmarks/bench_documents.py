"""Benchmark of the papers: every one of the example, printed; the check is not counted."""

import time
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks.rows import AT_MOST, Row
from towerlift.documents.binder import paper_files
from towerlift.documents.edition import Edition
from towerlift.plan import read_plan
from towerlift.workflow import check_plan

FOLDER = Path(__file__).parents[2] / "meshes" / "tidewatch"


def rows() -> Iterator[Row]:
    """Time of all papers, lists and drawings."""
    outcome = check_plan(read_plan(FOLDER / "plan-corrected.toml"), FOLDER)
    began = time.perf_counter()
    files = list(paper_files(Edition(outcome=outcome)))
    seconds = time.perf_counter() - began
    size = sum(len(content) for _, content in files) / 1e6
    yield Row(
        name="documents.tidewatch",
        value=seconds,
        unit="s",
        against=f"{len(files)} files, {size:.0f} MB, the check not counted",
        goal=20.0,
        bound=AT_MOST,
    )
