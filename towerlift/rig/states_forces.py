"""Every force on every section of a state, cut free, in the plane of the wind.

What one section presses on another comes back on it turned round, so that each body by
itself is in balance: that is what a free-body picture shows, and what its tests ask.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.motion.masses import hanging_mass
from towerlift.nesting.pairs import Workshop
from towerlift.rig.curves import Floats
from towerlift.rig.states import Joint, Sides, TowerState
from towerlift.rig.wind_gusts import WEDGES, bury_of

What = Literal["weight", "wind", "support", "rope", "shoe", "wedge", "from above"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Force:
    """One force on one body.

    Attributes
    ----------
    what : str
        Weight, wind, support, rope, shoe, wedge, or what another section presses on it.
    x, z : float
        Where it acts, x down the wind from the plumb line and z in the shaft. [m]
    across, up : float
        Down the wind, and upward. [N]
    by : str
        Who exerts it; empty for weight and wind.
    """

    what: What
    x: float
    z: float
    across: float
    up: float
    by: str = ""

    def back(self, by: str) -> "Force":
        """The same force turned round, as it acts on whoever exerts it."""
        return Force(
            what="from above", x=self.x, z=self.z, across=-self.across, up=-self.up, by=by
        )

    def moment(self, x: float, z: float) -> float:
        """Moment about a place, overturning down the wind positive. [N m]"""
        return self.across * (self.z - z) - self.up * (self.x - x)


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeBody:
    """One section cut free.

    Attributes
    ----------
    section : str
        Which.
    forces : tuple of Force
        All that act on it.
    """

    section: str
    forces: tuple[Force, ...]

    @property
    def unbalance(self) -> tuple[float, float, float]:
        """What is left of forces across and up, and of moments about the floor. [N], [N m]"""
        return (
            sum(each.across for each in self.forces),
            sum(each.up for each in self.forces),
            sum(each.moment(0.0, 0.0) for each in self.forces),
        )


def free_bodies(
    shop: Workshop, state: TowerState, pressure: float, *, wedged: bool = True, along: int = 0
) -> tuple[FreeBody, ...]:
    """Every section of a state with the forces on it, wind square to a face.

    Parameters
    ----------
    shop : Workshop
        Plan and shapes.
    state : TowerState
        Sections and joints.
    pressure : float
        Where the gust is told. [Pa]
    wedged : bool
        Whether what is locked to be wedged already is.
    along : int
        0 for wind along x, 1 for wind along y of the sections.

    Returns
    -------
    bodies : tuple of FreeBody
        Outermost section first; each in balance.

    Notes
    -----
    Shoes and wedges take what would turn the section, and its supports or ropes the
    weight alike; without them the supports take it, unlike, and their friction or the
    slant of the ropes takes the wind.
    """
    scene = _Bodies(shop=shop, state=state, pressure=pressure, wedged=wedged, along=along)
    return scene.all()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bodies:
    shop: Workshop
    state: TowerState
    pressure: float
    wedged: bool
    along: int

    def all(self) -> tuple[FreeBody, ...]:
        joints = {joint.section: joint for joint in self.state.joints}
        forces: dict[str, list[Force]] = {name: list(self._own(name)) for name in joints}
        for joint in self._from_the_top(joints):
            for force, bearer in self._reactions(joint, forces[joint.section]):
                forces[joint.section].append(force)
                if bearer in forces:
                    forces[bearer].append(force.back(joint.section))
        return tuple(
            FreeBody(section=joint.section, forces=tuple(forces[joint.section]))
            for joint in self.state.joints
        )

    def _from_the_top(self, joints: dict[str, Joint]) -> list[Joint]:
        """Sections in such an order that all that bear on one come before it."""
        return sorted(joints.values(), key=lambda each: len({*each.pushing, *each.carried}))

    def _along(self, points: Floats) -> Floats:
        """Places in the shaft, seen from above, down the wind from the plumb line."""
        pose = self.shop.raise_.shaft_from_section(0.0)
        return np.asarray((points - pose[:2, 3]) @ pose[:2, self.along])

    def _own(self, name: str) -> Iterator[Force]:
        mass = hanging_mass(self.shop.shapes, self.state.passage, name)
        pose = self.shop.raise_.shaft_from_section(self.state.heels[name])
        centre = pose[:3, :3] @ mass.centre + pose[:3, 3]
        yield Force(
            what="weight",
            x=float(self._along(centre[:2])),
            z=float(centre[2]),
            across=0.0,
            up=-mass.mass * STANDARD_GRAVITY,
        )
        wind = self.state.winds[name]
        if wind.force > 0:
            yield Force(
                what="wind",
                x=0.0,
                z=wind.centre,
                across=wind.force * self.pressure,
                up=0.0,
            )

    def _reactions(self, joint: Joint, on: list[Force]) -> Iterator[tuple[Force, str]]:
        """Reactions that balance what is on a section, and who gives each."""
        sides = joint.sides[self.along]
        bearer = self._bearer(joint)
        points, level, what = self._supports(joint)
        middle = float(points.mean())
        across = sum(each.across for each in on)
        up = sum(each.up for each in on)
        turning = sum(each.moment(middle, level) for each in on)
        held = self._held(joint, sides)
        if held is not None:
            name, foot, spacing, givers = held
            upper = (turning - across * (foot - level)) / spacing
            for force, z in ((-upper, foot + spacing), (upper - across, foot)):
                yield (
                    Force(what=name, x=0.0, z=z, across=force, up=0.0, by=givers),
                    givers,
                )
            turning, across = 0.0, 0.0
        low, high = float(points.min()), float(points.max())
        lever = high - low
        share = turning / lever if lever > 0 else 0.0
        for x, load in ((high, -up / 2 + share), (low, -up / 2 - share)):
            yield (
                Force(what=what, x=x, z=level, across=-across / 2, up=load, by=joint.carrier),
                bearer,
            )

    def _bearer(self, joint: Joint) -> str:
        lifts = {lift.name: lift.hung_from for lift in self.shop.plan.lifts}
        return lifts.get(joint.carrier, joint.carrier)

    def _supports(self, joint: Joint) -> tuple[Floats, float, What]:
        points = self._along(joint.stand.supports)
        if joint.kind != "tackles":
            return points, joint.heel, "support"
        section = next(s for s in self.shop.plan.sections if s.name == joint.section)
        level = joint.heel + float(np.mean([point.at[2] for point in section.lift_points]))
        return points, level, "rope"

    def _held(self, joint: Joint, sides: Sides | None) -> tuple[What, float, float, str] | None:
        """What holds it sideways: name, foot, spacing and who; None where nothing does."""
        locked = joint.lock is not None and joint.lock.wedged_within is not None
        wedgeable = joint.kind == "ledge" or (joint.kind == "needle" and sides is not None)
        if self.wedged and locked and wedgeable:
            sections = {each.name: each for each in self.shop.plan.sections}
            wall = self.shop.plan.shaft.wall_head
            bury = bury_of(joint, sections, dict(self.state.heels), wall)
            if bury > 2 * WEDGES:
                by = joint.carrier if joint.kind == "ledge" else "masonry"
                return "wedge", joint.heel + WEDGES / 2, bury - WEDGES, by
        if sides is None:
            return None
        by = sides.on[0] if len(sides.on) == 1 else " and ".join(sides.on)
        return "shoe", joint.heel + sides.foot, sides.spacing, by
