"""How the wood of a section is used where its tackles take hold."""

from dataclasses import dataclass

import numpy as np

from towerlift.plan.bodies import Section
from towerlift.plan.limits import limit_in_plan
from towerlift.plan.model import Plan
from towerlift.rig.curves import Floats, HangCurve
from towerlift.rig.locks import FACTOR
from towerlift.rig.pieces import Piece, pieces_of
from towerlift.rig.strengths import Material, material_of
from towerlift.timber import Duration, Sourced

# A lift point this near to a piece takes hold of it. [m]
REACH = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Grip:
    """How the wood is used where the tackles take hold of a section.

    Attributes
    ----------
    section, stage : str
        Which, and when it is hung hardest.
    load : float
        Greatest design load of one lift point. [N]
    piece : Piece or None
        That it is on.
    kind : str
        "end grain" or "across the grain".
    stress : float or None
        [Pa]
    strength : Sourced or None
        [Pa]
    below : float or None
        For a pin, wood from the hole to the end of the piece, over its diameter.
    missing : str
        What the plan does not say.
    """

    section: str
    stage: str
    load: float
    piece: Piece | None
    kind: str
    stress: float | None
    strength: Sourced | None
    below: float | None
    missing: str


def lift_grips(plan: Plan, hangs: tuple[HangCurve, ...]) -> tuple[Grip, ...]:
    """Where the tackles take hold of each section that is hauled.

    Parameters
    ----------
    plan : Plan
        Lift points, how they are taken hold of, and strengths.
    hangs : tuple of HangCurve
        Loads of the hauls.

    Returns
    -------
    grips : tuple of Grip
        One for each section, at its hardest loaded lift point, worst corner and guide
        friction on top.
    """
    found = []
    for section in plan.sections:
        mine = [each for each in hangs if each.hauled[0] == section.name]
        loads = [_point_loads(plan, each) for each in mine]
        if not loads:
            continue
        n = max(range(len(mine)), key=lambda k: max(loads[k].values()))
        mark = max(loads[n], key=lambda key: loads[n][key])
        found.append(_grip(plan, section, (mine[n].stage, mark, loads[n][mark])))
    return tuple(found)


def _point_loads(plan: Plan, curve: HangCurve) -> dict[str, float]:
    lift = next(each for each in plan.lifts if each.name == curve.lift)
    factor = limit_in_plan(plan, FACTOR).value * lift.worst_corner * (1 + lift.friction)
    loads: dict[str, float] = {}
    most = np.nan_to_num(curve.tensions).max(axis=0) * factor
    for line, load in zip(lift.lines, most.tolist(), strict=True):
        loads[line.lift_point] = loads.get(line.lift_point, 0.0) + load
    return loads


def _grip(plan: Plan, section: Section, at: tuple[str, str, float]) -> Grip:
    stage, mark, load = at
    point = next(np.array(each.at) for each in section.lift_points if each.mark == mark)
    piece = _nearest_piece(plan, section, point)
    missing = ""
    if section.lifted_by is None or section.lift_bearing is None:
        missing = f"the plan does not say how tackles take hold of {section.name} at {mark}"
    elif piece is None:
        missing = f"no piece of {section.name} is drawn at lift point {mark}"
    if missing or piece is None or section.lift_bearing is None:
        return Grip(section=section.name, stage=stage, load=load, piece=None, kind="end grain",
                    stress=None, strength=None, below=None, missing=missing)  # fmt: skip
    kind = "end grain" if piece.upright else "across the grain"
    width = min(piece.member.breadth, piece.member.depth) if piece.upright else piece.width
    material = material_of(plan, piece.member.species, Duration.SHORT)
    strength = None
    if isinstance(material, Material):
        strength = material.compression if piece.upright else material.across
    below = None
    if section.lifted_by == "pin":
        below = (
            float(point[2]) - section.lift_bearing / 2 - piece.bottom
        ) / section.lift_bearing
    return Grip(
        section=section.name,
        stage=stage,
        load=load,
        piece=piece,
        kind=kind,
        stress=load / (section.lift_bearing * width),
        strength=strength,
        below=below,
        missing=material if isinstance(material, str) else "",
    )


def _nearest_piece(plan: Plan, section: Section, point: Floats) -> Piece | None:
    line = plan.plumb_line
    centred = plan.model_copy(
        update={"plumb_line": line.model_copy(update={"x": 0.0, "y": 0.0, "turn": 0.0})}
    )
    pieces = [
        each for each in pieces_of(centred, section.name, 0.0) if each.upright or each.level
    ]
    away = [_away(each, point) for each in pieces]
    if not away or not min(away) <= REACH:
        return None
    return pieces[int(np.argmin(away))]


def _away(piece: Piece, point: Floats) -> float:
    """Distance of a place from the box of a level or upright piece."""
    if piece.upright:
        low = np.array([*piece.outline.min(axis=0), piece.bottom])
        high = np.array([*piece.outline.max(axis=0), piece.top])
        out = np.maximum(np.maximum(low - point, point - high), 0.0)
        return float(np.linalg.norm(out))
    along = piece.along(point)
    beyond = max(0.0, -along, along - piece.length)
    beside = max(0.0, piece.aside(point) - piece.width / 2)
    over = max(0.0, float(point[2]) - piece.top, piece.bottom - float(point[2]))
    return float(np.linalg.norm([beyond, beside, over]))
