"""Compiling every kernel ahead of the first question."""

import time
from collections.abc import Callable

import numpy as np

from towerlift.gaps.body import build_body
from towerlift.gaps.lines import Line, line_gap
from towerlift.gaps.members import member_gaps
from towerlift.gaps.minimum import least_gap
from towerlift.gaps.montecarlo import build_margins, sample_bounds
from towerlift.gaps.path import Path
from towerlift.gaps.pose import pose_gap
from towerlift.gaps.sweep import gap_series


def warm_up(report: Callable[[str], None] | None = None) -> float:
    """Compile all kernels, or load them where they are kept from an earlier run.

    Parameters
    ----------
    report : callable or None, optional
        Given one line before each stage, to show as progress.

    Returns
    -------
    seconds : float
        Time it took. [s]
    """
    began = time.perf_counter()
    corners = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    faces = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])
    bodies = []
    apart, crossing = np.eye(4), np.eye(4)
    apart[0, 3], crossing[:3, 3] = 2.0, 0.1
    path = Path(stations=np.array([0.0, 1.0]), poses=np.stack([apart, apart]))
    line = Line(stations=np.array([0.0, 1.0]), ends=np.full((2, 2, 3), 2.0), radius=0.0)
    still = np.zeros((1, 9))
    stages: tuple[tuple[str, Callable[[], object]], ...] = (
        (
            "trees",
            lambda: bodies.append(build_body(corners, faces, np.zeros(4, int), closed=True)),
        ),
        ("distances at a pose", lambda: pose_gap(bodies[0], bodies[0], apart)),
        ("depths", lambda: pose_gap(bodies[0], bodies[0], crossing)),
        ("steps of a path", lambda: gap_series(bodies[0], bodies[0], path)),
        ("whole paths", lambda: least_gap(bodies[0], bodies[0], path)),
        ("members", lambda: member_gaps(bodies[0], bodies[0], path)),
        ("margins", lambda: sample_bounds(build_margins(bodies[0], bodies[0], path), still)),
        ("lines", lambda: line_gap(line, bodies[0])),
    )
    for number, (name, stage) in enumerate(stages, start=1):
        if report is not None:
            report(f"clearance kernels {number} of {len(stages)}: {name}")
        stage()
    return time.perf_counter() - began
