"""A mast in a square shaft with a ledge, in figures that a hand can work with.

The shaft is 3 m square. On its north wall a ledge stands out 140 mm between z 4.0
and 5.0, its top and underside 1 mm out of level. The mast has four legs whose outer
faces are 1.2 m from its axis, and one foot at s 1.95 to 2.05 that reaches 1.32 m to
the north: 180 mm off the wall, 40 mm off the ledge.
"""

from typing import Any

import numpy as np

from tests.plans.factory import fixture, hoist, install, lift, section, stage, tiny_plan
from towerlift.motion import follow_stages
from towerlift.nesting import Nesting, reckon_nesting
from towerlift.nesting.budget import FreeHangCurve
from towerlift.nesting.pairs import Pair, Workshop, passing_pairs
from towerlift.plan.model import Plan
from towerlift.shapes import build_shapes

LEDGE = ((0.0, 1.5), (4.0, 1.5), (4.001, 1.36), (5.0, 1.36), (5.001, 1.5), (12.0, 1.5))
# Tilt 2 mrad and lean 1 mrad about s 0.5, and 5 mm of sway.
HANG = {"tilt": 0.002, "sway": 0.005, "lean": 0.001, "pivot": 0.5}
TO = 5.0


def survey(north=LEDGE, half=1.5):
    """Stations of a square shaft, its north wall as given."""
    return [
        {
            "z": f"{z} m",
            "west": f"{-half} m",
            "east": f"{half} m",
            "south": f"{-half} m",
            "north": f"{y} m",
        }
        for z, y in north
    ]


def piece(mark, part, start, end, size=("0.2 m", "0.1 m")):
    """A member from one point to another, breadth level, depth upright. [m]"""
    return {
        "mark": mark,
        "part": part,
        "species": "oak",
        "breadth": size[0],
        "depth": size[1],
        "start": [f"{x} m" for x in start],
        "end": [f"{x} m" for x in end],
    }


FOOT = piece("foot", "brace foot", (0, 1.2, 2.0), (0, 1.32, 2.0))


def mast(extra=(FOOT,), **changes: Any):
    """The mast, with its foot."""
    body = section("mast", 1.2, 5.0)
    body["members"] = [*body["members"], *extra]
    return body | changes


def small_plan(**changes: Any) -> Plan:
    """The mast, lifted from the floor to heel 5 m on free lines."""
    stages = [
        stage("up", [
            *install("gantry"),
            {"do": "assemble", "section": "mast"},
            *hoist("mast", "mast lift", TO),
        ]),
    ]  # fmt: skip
    body: dict[str, Any] = {
        "shaft": {"survey": survey(), "uncertainty": "8 mm", "wall_head": "12 m"},
        "sections": [mast()],
        "fixtures": [fixture("gantry", "gantry", 11.5)],
        "fit_out": [],
        "lifts": [lift("mast lift", "mast", "gantry", (1, 2, 3, 4))],
        "stages": stages,
    }
    return tiny_plan(**(body | changes))


def workshop(plan: Plan, folder) -> Workshop:
    """Bodies of a plan and what it does."""
    return Workshop(plan=plan, shapes=build_shapes(plan, folder), raise_=follow_stages(plan))


def hanging(shop: Workshop, **changes: float) -> dict[int, FreeHangCurve]:
    """Every hauled passage hanging alike."""
    hang = HANG | changes
    curves = {}
    for passage in shop.raise_.moving_passages:
        place = passage.standing[passage.moving[0]]
        ends = np.array(sorted((place.heel_from, place.heel_to)))
        curves[passage.index] = FreeHangCurve(
            heels=ends,
            tilt=np.full(2, hang["tilt"]),
            sway=np.full(2, hang["sway"]),
            lean=np.full(2, hang["lean"]),
            pivot=hang["pivot"],
        )
    return curves


def reckoned(plan: Plan, folder, *, running=0.02, free=None, **changes: float) -> Nesting:
    """Every gap of a plan, its sections hanging as `hanging` says unless told otherwise."""
    shop = workshop(plan, folder)
    return reckon_nesting(
        plan,
        shop.shapes,
        shop.raise_,
        running=running,
        free=hanging(shop, **changes) if free is None else free,
    )


def pair_against(shop: Workshop, against: str, step: str = "lift") -> Pair:
    """The pair of a step of hauling and one body."""
    return next(
        pair
        for pair in passing_pairs(shop)
        if pair.against == against and pair.passage.step == step
    )


def margins_of(nesting: Nesting, against: str, step_of: str = "lift"):
    """Margins against one body in the passages of one kind of step."""
    passages = nesting.workshop.raise_.passages
    return [
        margin
        for margin in nesting.margins
        if margin.against == against and passages[margin.passage].step == step_of
    ]
