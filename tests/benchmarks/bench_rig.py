"""Benchmarks of the rig: equilibria, the check of a whole plan, a slider, and MuJoCo."""

import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from tests.benchmarks.rows import AT_MOST, Row, median_time
from tests.unit.mechanics.test_against_mujoco import free_tower, guided_tower, guides, loaded
from tests.unit.mechanics.tower_in_mujoco import Engine, Settings
from towerlift.checks.case import Case
from towerlift.checks.centre_of_gravity import check_centre_of_gravity
from towerlift.checks.coils import check_coils
from towerlift.checks.crew import check_crew
from towerlift.checks.strength import check_strength
from towerlift.checks.uneven import check_uneven
from towerlift.mechanics.guided import settle_guided
from towerlift.mechanics.hang import HungLoad, settle
from towerlift.motion import follow_stages
from towerlift.nesting.pairs import Workshop
from towerlift.plan import read_plan
from towerlift.rig import hang_curves
from towerlift.rig.trial import Trouble, lift_trial
from towerlift.shapes import build_shapes

FOLDER = Path(__file__).parents[2] / "meshes" / "tidewatch"
CASES = 10_000
AGAINST = 8
CHECKS = (check_strength, check_coils, check_crew, check_uneven, check_centre_of_gravity)


def many_hangs(m: int) -> tuple[HungLoad, np.ndarray]:
    """A section on eight lines, hauled unevenly in as many ways."""
    rng = np.random.default_rng(1)
    corners = np.array([[1.0, 1.0], [1.0, -1.0], [-1.0, -1.0], [-1.0, 1.0]])
    lower = np.repeat(np.column_stack([corners * 2.05, np.zeros(4)]), 2, axis=0)
    load = HungLoad(
        upper=np.tile(lower + np.array([0.0, 0.0, 12.7]), (m, 1, 1)),
        lower=np.tile(lower, (m, 1, 1)),
        stiffness=rng.uniform(0.9, 1.1, (m, 8)) * 120e3,
        weight=rng.uniform(0.9, 1.1, m) * 2e5,
        centre=np.column_stack([rng.uniform(-0.05, 0.05, (m, 2)), np.full(m, 8.0)]),
        groups=np.arange(8),
    )
    return load, rng.uniform(-0.02, 0.02, (m, 8))


def plan_rows() -> Iterator[Row]:
    """The rig check of the example, and one move of a slider."""
    plan = read_plan(FOLDER / "plan-corrected.toml")
    shapes, raise_ = build_shapes(plan, FOLDER), follow_stages(plan)
    shop = Workshop(plan=plan, shapes=shapes, raise_=raise_)

    def check() -> int:
        hangs = hang_curves(plan, shapes, raise_)
        case = Case(plan=plan, shapes=shapes, raise_=raise_, hangs=hangs, shop=shop)
        return sum(len(list(each(case))) for each in CHECKS)

    seconds = median_time(check)
    yield Row(
        name="rig.check.tidewatch",
        value=seconds,
        unit="s",
        against=f"{check()} findings, heels 50 mm apart",
        goal=1.0,
        bound=AT_MOST,
    )
    passage = next(
        each for each in raise_.moving_passages if "picks up the spire" in each.event
    )
    trial = lift_trial(shop, passage)
    known: dict[int, tuple[float, np.ndarray]] = {}
    lags = iter(np.linspace(0.0, 0.02, 1000))

    def slide() -> object:
        astray = trial.at(13.92, Trouble(behind="K2", by=float(next(lags))), "up")
        return trial.nearest(astray, known)

    yield Row(
        name="rig.slider",
        value=1e3 * median_time(slide, repeats=15),
        unit="ms",
        against="hang, shoes and nearest gap just after the pick-up",
        goal=50.0,
        bound=AT_MOST,
    )


def mujoco_row() -> Row:
    """Time of our rests and of the engine's for the same sections."""
    rng = np.random.default_rng(6)
    free = [free_tower(rng, rng.uniform(1.5, 4)) for _ in range(AGAINST)]
    held = [guided_tower(rng) for _ in range(AGAINST)]

    def ours() -> None:
        for tower in free:
            settle(loaded(tower))
        for tower in held:
            settle_guided(loaded(tower), guides(tower))

    began = time.perf_counter()
    still = [Engine(tower, Settings(step=2e-3)).run(240) for tower in (*free, *held)]
    theirs = time.perf_counter() - began
    return Row(
        name="rig.hang.mujoco",
        value=theirs / median_time(ours),
        unit="x",
        against=f"MuJoCo to rest {theirs:.2f} s, {sum(still)} of {len(still)} at rest",
    )


def rows() -> Iterator[Row]:
    """All rows of the subject."""
    load, hauled = many_hangs(CASES)
    yield Row(
        name="rig.hang.10k",
        value=median_time(lambda: settle(load, hauled=hauled)),
        unit="s",
        against=f"{CASES} sections on eight lines",
        goal=2.0,
        bound=AT_MOST,
    )
    yield from plan_rows()
    yield mujoco_row()
