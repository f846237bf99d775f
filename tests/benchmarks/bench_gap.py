"""The clearance engine against Coal, in the same run.

Coal 3 with OBB-RSS volumes, built once; its build and the filling of its lists
are not counted. It is asked for the distance at sampled poses on one thread;
one distance takes the median over poses spread along the raise, and a series
of 600 is taken as 600 of them.
"""

import resource
import statistics
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import coal
import numpy as np

from tests.benchmarks.gap_meshes import (
    Mesh,
    boarded_section,
    framed_section,
    raise_path,
    rotation,
    round_section,
    round_shaft,
    square_shaft,
    turned,
    turned_path,
)
from tests.benchmarks.rows import AT_MOST, Row, median_time
from towerlift.gaps import (
    Body,
    Path,
    best_plumb_line,
    build_body,
    build_margins,
    fixed_map,
    gap_series,
    least_gap,
    member_gaps,
    moving_map,
    plumb_ceiling,
    pose_gap,
    sample_bounds,
    warm_up,
)

SHAFT_FACES = 500_000
STEPS = 600
COAL_POSES = 24
WARM_POSES = range(200, 400)
N_SAMPLES = 1_000_000
GROWTH = (10_000, 50_000, 200_000, 500_000, 2_000_000)


def coal_model(mesh: Mesh) -> object:
    """The mesh as Coal's tree of oriented boxes and swept rectangles."""
    model = coal.BVHModelOBBRSS()
    model.beginModel(len(mesh.faces), len(mesh.vertices))
    points, triangles = coal.StdVec_Vec3s(), coal.StdVec_Triangle()
    for vertex in mesh.vertices:
        points.append(vertex)
    for face in mesh.faces:
        triangles.append(coal.Triangle(*(int(k) for k in face)))
    model.addSubModel(points, triangles)
    model.endModel()
    return model


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """A moving and a fixed body on a path, for both libraries."""

    name: str
    moving: Body
    fixed: Body
    path: Path
    models: tuple[object, object]

    def coal_time(self) -> float:
        """Median time of Coal's distance at poses along the path. [s]"""
        request, result = coal.DistanceRequest(), coal.DistanceResult()
        times = []
        for k in np.linspace(0, STEPS, COAL_POSES).astype(int):
            pose = self.path.poses[k]
            result.clear()
            began = time.perf_counter()
            coal.distance(
                self.models[0],
                coal.Transform3s(pose[:3, :3], pose[:3, 3]),
                self.models[1],
                coal.Transform3s(),
                request,
                result,
            )
            times.append(time.perf_counter() - began)
        return statistics.median(times)

    def pose_time(self) -> float:
        """Median time of a pose query given the last answer. [s]"""
        times = []
        gap = pose_gap(self.moving, self.fixed, self.path.poses[WARM_POSES[0]])
        for k in WARM_POSES:
            began = time.perf_counter()
            gap = pose_gap(self.moving, self.fixed, self.path.poses[k], guess=gap)
            times.append(time.perf_counter() - began)
        return statistics.median(times)


def case(name: str, section: Mesh, shaft: tuple[Body, object], path: Path) -> Case:
    """Build the moving side of a case; the fixed side is built once and shared."""
    moving = build_body(section.vertices, section.faces, section.members)
    models = (coal_model(section), shaft[1])
    return Case(name=name, moving=moving, fixed=shaft[0], path=path, models=models)


def fixed_side(shaft: Mesh) -> tuple[Body, object]:
    """A shaft for both libraries."""
    return build_body(shaft.vertices, shaft.faces, shaft.members), coal_model(shaft)


def ratios(work: str, one: Case, run: Callable[[int], object], goal: float) -> Iterator[Row]:
    """Ratio of 600 of Coal's distances to `run`, on two threads and on one."""
    reference = STEPS * one.coal_time()
    for workers, name, asked in ((2, "", goal), (1, ".one_thread", None)):
        own = median_time(lambda n=workers: run(n), repeats=3)  # type: ignore[misc]
        yield Row(
            name=f"gap.{work}.{one.name}{name}",
            value=reference / own,
            unit="x",
            against=f"{STEPS} Coal distances on 1 thread, {reference:.2f} s; own "
            f"{own * 1e3:.0f} ms on {workers}",
            goal=asked,
        )


def series_rows(one: Case, goal: float) -> Iterator[Row]:
    """The certified series against sampled distances."""
    yield from ratios(
        "series", one, lambda n: gap_series(one.moving, one.fixed, one.path, workers=n), goal
    )


def minimum_rows(one: Case, goal: float) -> Iterator[Row]:
    """The certified least of the whole path against sampled distances."""
    yield from ratios(
        "minimum", one, lambda n: least_gap(one.moving, one.fixed, one.path, workers=n), goal
    )


def pose_row(one: Case, goal: float) -> Row:
    """One distance against one distance, one thread each."""
    reference, own = one.coal_time(), one.pose_time()
    return Row(
        name=f"gap.pose.{one.name}",
        value=reference / own,
        unit="x",
        against=f"Coal {reference * 1e3:.1f} ms, own {own * 1e3:.2f} ms, 1 thread each",
        goal=goal,
    )


def askew_rows() -> Iterator[Row]:
    """Shafts that stand askew to the axes, and a round one."""
    shaft, section = square_shaft(SHAFT_FACES), framed_section()
    turns = {
        "yaw30": rotation((0.0, 0.0, float(np.radians(30)))),
        "yaw45": rotation((0.0, 0.0, float(np.radians(45)))),
        "skew": rotation((0.4, -0.5, 0.7)),
    }
    for name, turn in turns.items():
        path = turned_path(raise_path(STEPS), turn)
        yield from series_rows(case(name, section, fixed_side(turned(shaft, turn)), path), 20)
    fixed = fixed_side(round_shaft(SHAFT_FACES))
    yield from series_rows(case("round", round_section(), fixed, raise_path(STEPS)), 20)


def tree_rows() -> Iterator[Row]:
    """Time and memory of the tree of two million triangles."""
    mesh = square_shaft(GROWTH[-1])
    build_body(mesh.vertices[:3], np.array([[0, 1, 2]]), np.zeros(1, int))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    began = time.perf_counter()
    body = build_body(mesh.vertices, mesh.faces, mesh.members)
    seconds = time.perf_counter() - began
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) * 1024
    held = sum(column.nbytes for column in body.tree) + body.sources.nbytes
    yield Row(name="gap.tree.2M", value=seconds, unit="s", goal=3.0, bound=AT_MOST)
    yield Row(
        name="gap.tree.memory",
        value=max(held, grown) / 1e6,
        unit="MB",
        against=f"above the mesh: peak {grown / 1e6:.0f} MB, held {held / 1e6:.0f} MB",
        goal=300.0,
        bound=AT_MOST,
    )


def growth_rows() -> Iterator[Row]:
    """How the series grows with triangles and with steps."""
    mesh = framed_section()
    moving = build_body(mesh.vertices, mesh.faces, mesh.members)
    for n_faces in GROWTH:
        shaft = square_shaft(n_faces)
        fixed = build_body(shaft.vertices, shaft.faces, shaft.members)
        yield growth_row(f"faces_{n_faces}", moving, fixed, STEPS)
        if n_faces == SHAFT_FACES:
            for steps in (150, 300, 1200):
                yield growth_row(f"steps_{steps}", moving, fixed, steps)


def growth_row(name: str, moving: Body, fixed: Body, steps: int) -> Row:
    """Time of one series."""
    path = raise_path(steps)
    seconds = median_time(lambda: gap_series(moving, fixed, path), repeats=1)
    return Row(
        name=f"gap.growth.{name}",
        value=seconds * 1e3,
        unit="ms",
        against=f"{steps} steps, {len(fixed.faces)} fixed triangles",
    )


def montecarlo_row(one: Case) -> Row:
    """Whole-path samples a second, once the margins of the usual scope are worked out."""
    began = time.perf_counter()
    margins = build_margins(one.moving, one.fixed, one.path)
    once = time.perf_counter() - began
    spread = np.array([2e-3, 2e-3, 4e-4, 4e-4, 4e-4, 1e-3, 1e-3, 1e-5, 1e-5])
    samples = np.random.default_rng(0).normal(size=(N_SAMPLES, 9)) * spread
    seconds = median_time(lambda: sample_bounds(margins, samples))
    began = time.process_time()
    sample_bounds(margins, samples)
    worked = len(samples) / (time.process_time() - began) / 1e6
    return Row(
        name="gap.montecarlo.rate",
        value=len(samples) / seconds / 1e6,
        unit="M/s",
        against=f"whole-path samples on 2 threads; {worked:.1f} M a second "
        f"of processor time; margins once {once:.0f} s, {len(one.fixed.faces)} fixed triangles",
        goal=5.0,
    )


def developed_rows(one: Case) -> Iterator[Row]:
    """Best plumb line, least gap of every member, and both gap maps."""
    works: dict[str, tuple[Callable[..., object], float | None]] = {
        "plumb": (best_plumb_line, 1.0),
        "members": (member_gaps, None),
        "map_moving": (moving_map, None),
        "map_fixed": (fixed_map, None),
    }
    for name, (work, goal) in works.items():
        began, worked = time.perf_counter(), time.process_time()
        work(one.moving, one.fixed, one.path)
        worked = time.process_time() - worked
        yield Row(
            name=f"gap.{name}.{one.name}",
            value=time.perf_counter() - began,
            unit="s",
            against=f"{STEPS} steps, one run; {worked:.1f} s of processor time",
            goal=goal,
            bound=AT_MOST,
        )
    yield ceiling_row(one)


def ceiling_row(one: Case) -> Row:
    """Time to prove that no plumb line leaves half a millimetre more than the best found."""
    line = best_plumb_line(one.moving, one.fixed, one.path)
    began = time.perf_counter()
    found = plumb_ceiling(one.moving, one.fixed, one.path, line)
    return Row(
        name=f"gap.plumb_ceiling.{one.name}",
        value=time.perf_counter() - began,
        unit="s",
        against=f"no other leaves {found.left * 1e3:.2f} mm more, proved",
    )


def rows() -> Iterator[Row]:
    """All rows of the subject, the tree first while the process is small."""
    yield Row(name="gap.compile", value=warm_up(), unit="s", against="or loaded, if kept")
    yield from tree_rows()
    fixed = fixed_side(square_shaft(SHAFT_FACES))
    path = raise_path(STEPS)
    framed = case("framed", framed_section(), fixed, path)
    yield pose_row(framed, 75)
    yield from series_rows(framed, 150)
    yield from minimum_rows(framed, 500)
    yield from developed_rows(framed)
    yield montecarlo_row(framed)
    boarded = case("boarded", boarded_section(), fixed, path)
    yield pose_row(boarded, 30)
    yield from series_rows(boarded, 60)
    yield from minimum_rows(boarded, 180)
    yield from askew_rows()
    yield from growth_rows()
