"""Ropes along the way they are rove: blocks, parts, lead blocks, turns on the barrel."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, cos, pi, sin

import numpy as np

from towerlift.motion.passages import Floats
from towerlift.plan.model import Plan
from towerlift.plan.rigging import Capstan, Line, Tackle
from towerlift.rig.hanging import moving_block

SHEAVE = 0.26  # diameter drawn where the plan gives none [m]
CHEEK = 0.07  # between two sheaves of a block, along their pin [m]
TURNS, SIDES = 4, 8  # round the barrel, and corners of one turn as drawn


@dataclass(frozen=True, slots=True, kw_only=True)
class Knot:
    """A point that a rope passes, and what carries it.

    Attributes
    ----------
    rides : str or None
        Section that carries it; None for the shaft.
    at : tuple of float
        In that section's frame, else shaft frame. [m]
    """

    rides: str | None
    at: tuple[float, float, float]

    def placed(self, poses: Mapping[str, Floats]) -> Floats | None:
        """Where it is.

        Parameters
        ----------
        poses : mapping of str to (4, 4) float
            ``shaft_from_section`` of every section on the site.

        Returns
        -------
        at : (3,) float or None
            Shaft frame; None while its carrier is not on the site. [m]
        """
        if self.rides is None:
            return np.array(self.at)
        pose = poses.get(self.rides)
        if pose is None:
            return None
        at: Floats = pose[:3, :3] @ np.array(self.at) + pose[:3, 3]
        return at


@dataclass(frozen=True, slots=True, kw_only=True)
class Rope:
    """One tackle with its fall, from the standing end to the barrel.

    Attributes
    ----------
    lift, name : str
        Lift in whose passages it is seen, and the tackle's name.
    path : tuple of Knot
        In order along the rope.
    radius : float
        Of the rope. [m]
    upper, lower : Knot
        Top block and moving block.
    parts : int
        Parts between the two: the first of the path, two knots each.
    leads : int
        Lead blocks that come after them.
    """

    lift: str
    name: str
    path: tuple[Knot, ...]
    radius: float
    upper: Knot
    lower: Knot
    parts: int
    leads: int

    @property
    def runs(self) -> tuple[tuple[Knot, Knot], ...]:
        """Both ends of every straight run: the parts, then the fall up to the barrel."""
        tackle = [(self.path[2 * k], self.path[2 * k + 1]) for k in range(self.parts)]
        fall = self.path[2 * self.parts - 1 : 2 * self.parts + self.leads + 1]
        return (*tackle, *pairwise(fall))

    def points(self, poses: Mapping[str, Floats]) -> Floats | None:
        """The rope's corners at one place of the raise.

        Parameters
        ----------
        poses : mapping of str to (4, 4) float
            ``shaft_from_section`` of every section on the site.

        Returns
        -------
        points : (n, 3) float or None
            Shaft frame; None while one of its ends has no place. [m]
        """
        placed = [knot.placed(poses) for knot in self.path]
        found = [point for point in placed if point is not None]
        return np.array(found) if len(found) == len(placed) else None


def ropes_of(plan: Plan) -> Iterator[Rope]:
    """Every tackle of every lift.

    Parameters
    ----------
    plan : Plan
        Lifts, tackles, coils and capstans.

    Returns
    -------
    ropes : iterator of Rope
        In the order of the lifts and their lines.
    """
    sections = {section.name: section for section in plan.sections}
    tackles = {tackle.name: tackle for tackle in plan.tackles}
    capstans = {each.mark: each for each in plan.capstans}
    thick = {coil.tag: coil.diameter for coil in plan.coils}
    for lift in plan.lifts:
        section = sections.get(lift.section)
        marks = () if section is None else tuple(point.mark for point in section.lift_points)
        carrier = lift.hung_from if lift.hung_from in sections else None
        for line in lift.lines:
            if section is None or line.lift_point not in marks:
                continue
            upper = Knot(rides=carrier, at=line.upper)
            lower = Knot(rides=lift.section, at=moving_block(section, line))
            tackle = tackles.get(lift.pattern)
            diameter = thick.get(line.coil, 0.03)
            path = _parts(plan, tackle, line, (upper, lower), diameter)
            path += _fall(line, capstans.get(line.capstan), diameter)
            yield Rope(
                lift=lift.name,
                name=line.tackle,
                path=tuple(path),
                radius=diameter / 2,
                upper=upper,
                lower=lower,
                parts=1 if tackle is None else tackle.parts,
                leads=len(line.leads),
            )


def _parts(
    plan: Plan, tackle: Tackle | None, line: Line, ends: tuple[Knot, Knot], diameter: float
) -> list[Knot]:
    """Up and down between the blocks, the fall leaving the upper one."""
    upper, lower = ends
    path = []
    for k, (side, cheek) in enumerate(_places(tackle, diameter)):
        way = broad_side(line, lower.at)
        for end in _order(tackle, upper, lower, k):
            # A block on the shaft lies in the shaft's frame, turned as the section hangs.
            turn = way + (plan.plumb_line.turn if end.rides is None else 0.0)
            x, y, z = end.at
            moved = (
                x + side * cos(turn) + cheek * sin(turn),
                y + side * sin(turn) - cheek * cos(turn),
                z,
            )
            path.append(Knot(rides=end.rides, at=moved))
    return path


def _places(tackle: Tackle | None, diameter: float) -> list[tuple[float, float]]:
    """Where each part is, along the broad side of its tackle and across it. [m]

    The diameter of a sheave is that of the bottom of its groove: the rope lies outside it.
    """
    n = 1 if tackle is None else tackle.parts
    wide = diameter + (SHEAVE if tackle is None or tackle.sheave is None else tackle.sheave)
    return [
        (
            wide * ((k % 2) - 0.5) if n > 1 else 0.0,
            CHEEK * (k // 2 - (sheaves_in_block(n) - 1) / 2),
        )
        for k in range(n)
    ]


def sheaves_in_block(parts: int) -> int:
    """Sheaves of the block of a tackle that has more of them.

    Parameters
    ----------
    parts : int
        Of rope at the moving block.

    Returns
    -------
    sheaves : int
        One for two parts.
    """
    return -(-parts // 2)


def _order(tackle: Tackle | None, upper: Knot, lower: Knot, k: int) -> tuple[Knot, Knot]:
    n = 1 if tackle is None else tackle.parts
    ends = (upper, lower) if n % 2 == 0 else (lower, upper)
    return ends[k % 2], ends[(k + 1) % 2]


def broad_side(line: Line, lower: tuple[float, float, float]) -> float:
    """Which way the parts of a tackle lie side by side.

    Parameters
    ----------
    line : Line
        Says so, or leaves the pins to point at the axis.
    lower : tuple of float
        Moving block, frame of the section. [m]

    Returns
    -------
    way : float
        From the section's east, anticlockwise. [rad]
    """
    if line.broad_side is not None:
        return line.broad_side
    return atan2(lower[1], lower[0]) + pi / 2


def _fall(line: Line, drum: Capstan | None, diameter: float) -> list[Knot]:
    """From the top block over the lead blocks to the barrel, and round it."""
    path = [Knot(rides=None, at=at) for at in line.leads]
    if drum is None or not path:
        return path
    x, y, _ = path[-1].at
    radius, height = (drum.barrel_diameter + diameter) / 2, drum.barrel_height or 0.0
    # Tangent point on the side from which an anticlockwise turn winds the rope in.
    away = np.hypot(x - drum.x, y - drum.y)
    start = atan2(y - drum.y, x - drum.x) - np.arccos(min(1.0, radius / max(away, radius)))
    for k in range(TURNS * SIDES + 1):
        angle = start - 2 * pi * k / SIDES
        rise = height + diameter * (k / SIDES - TURNS / 2)
        at = (
            drum.x + radius * cos(angle),
            drum.y + radius * sin(angle),
            rise,
        )
        path.append(Knot(rides=None, at=(float(at[0]), float(at[1]), float(at[2]))))
    return path
