"""Where nobody may be while something moves, as shapes on the ground and in the shaft."""

from itertools import pairwise
from math import pi
from typing import Any

import numpy as np

from towerlift.plan.model import Plan
from towerlift.plan.rigging import Line
from towerlift.scene.bodies import Scene

ROPE_SIDE = 2.0  # kept clear either side of a fall [m]
BEYOND = 4.0  # how far the snap-back sector reaches past either end of a fall [m]
SECTOR = pi / 12  # half its opening, seen from the end it may leave [rad]
LEAST_RADIUS, HEIGHT_SHARE = 6.0, 0.25


def hazards_of(plan: Plan, scene: Scene) -> dict[str, Any]:
    """Shadow of each section, ground beside the falls, circle of what is dropped.

    Parameters
    ----------
    plan : Plan
        Lifts, capstans, decks.
    scene : Scene
        Drawn sections.

    Returns
    -------
    hazards : dict
        ``shadows``: half the width of each section [m], by name; ``falls``: for each
        lift, corner triples (x, y) of triangles on the ground [m]; ``dropped``: its
        least radius [m], and share of the height of what is aloft. Common practice:
        2 m each side of a fall; the larger of 6 m and a quarter of the height beside
        what is lifted.
    """
    shadows = {
        body.name: float(np.abs(body.vertices[:, :2]).max())
        for body in scene.bodies
        if body.rides == body.name
    }
    drums = {each.mark: (each.x, each.y) for each in plan.capstans}
    falls = {
        lift.name: [
            [round(value, 3) for value in corner]
            for line in lift.lines
            if line.capstan in drums and line.leads
            for corner in _fall_ground(line, drums[line.capstan])
        ]
        for lift in plan.lifts
    }
    return {
        "shadows": shadows,
        "falls": falls,
        "dropped": {"least": LEAST_RADIUS, "share": HEIGHT_SHARE},
    }


def _fall_ground(line: Line, drum: tuple[float, float]) -> list[tuple[float, float]]:
    # A strip along the rope, and beyond its ends a sector that opens away from the rope.
    start, end = np.array(line.leads[-1][:2]), np.array(drum)
    along = end - start
    length = float(np.hypot(*along))
    if not length > 0:
        return []
    along = along / length
    side = ROPE_SIDE * np.array([-along[1], along[0]])
    wide = side * (1 + BEYOND * np.tan(SECTOR) / ROPE_SIDE)
    rows = [
        (start - BEYOND * along, wide),
        (start, side),
        (end, side),
        (end + BEYOND * along, wide),
    ]
    corners: list[tuple[float, float]] = []
    for (a, u), (b, v) in pairwise(rows):
        quad = (a - u, a + u, b + v, a - u, b + v, b - v)
        corners += [(float(p[0]), float(p[1])) for p in quad]
    return corners
