"""Capstans, people and the outside of the wall: what the plan tells, drawn to scale."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np

from towerlift.motion.passages import Floats, Passage
from towerlift.motion.raises import Raise
from towerlift.plan.model import Plan
from towerlift.plan.rigging import Capstan, Lift
from towerlift.plan.work import Activity
from towerlift.scene.colours import GROUND, STONE, Rgb
from towerlift.scene.models import Model, box, capstan, figure, joined

BED = 0.6  # height of the turns above the ground where the plan gives none [m]
HANDS_A_BAR = 2
REACH_UP = 0.2  # what is worked on begins so far above the worker's feet [m]
GROUND_RADIUS = 26.0
CLOTHES: tuple[Rgb, ...] = (
    (52, 88, 128),
    (122, 92, 40),
    (96, 84, 124),
    (52, 112, 118),
    (88, 92, 98),
    (150, 128, 78),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gear:
    """A body that the plan names without drawing it.

    Attributes
    ----------
    name, mark, part : str
        What it is called, and what it is.
    rides : str or None
        Capstan or section it moves with; None for what stands still.
    model : Model
        In the frame of what it rides, else shaft frame.
    seen : frozenset of int
        Passages in which it is seen.
    """

    name: str
    mark: str
    part: str
    rides: str | None
    model: Model
    seen: frozenset[int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Winder:
    """How a capstan turns with the travel of what its lift hauls.

    Attributes
    ----------
    name : str
        As its gear rides it.
    at : tuple of float
        Foot of its axis, shaft frame. [m]
    turns : mapping of str to float
        By lift, its turn for a metre of the hauled section's heel. [rad/m]
    """

    name: str
    at: tuple[float, float, float]
    turns: Mapping[str, float]

    def pose(self, passage: Passage, share: float) -> Floats:
        """Where it is turned to at one place of the raise.

        Parameters
        ----------
        passage : Passage
            Where the raise is.
        share : float
            Share of its travel that is done.

        Returns
        -------
        shaft_from_capstan : (4, 4) float
            A turn about its own axis.
        """
        angle = 0.0
        if passage.moving and passage.lift is not None and passage.lift in self.turns:
            angle = self.turns[passage.lift] * passage.heel(passage.moving[0], share)
        pose = np.eye(4)
        pose[:2, :2] = [[cos(angle), -sin(angle)], [sin(angle), cos(angle)]]
        pose[:3, 3] = self.at
        return pose


def winders(plan: Plan) -> tuple[Winder, ...]:
    """Every capstan of the plan, with what turns it.

    Parameters
    ----------
    plan : Plan
        Lifts, tackles, coils and capstans.

    Returns
    -------
    winders : tuple of Winder
        In the plan's order.
    """
    parts = {tackle.name: tackle.parts for tackle in plan.tackles}
    ropes = {coil.tag: coil.diameter for coil in plan.coils}
    found = []
    for each in plan.capstans:
        turns = {}
        for lift in plan.lifts:
            for line in lift.lines:
                known = line.capstan == each.mark and line.coil in ropes
                if known and lift.pattern in parts:
                    radius = (each.barrel_diameter + ropes[line.coil]) / 2
                    turns[lift.name] = parts[lift.pattern] / radius
        at = (each.x, each.y, _foot(each))
        found.append(Winder(name=f"capstan {each.mark}", at=at, turns=turns))
    return tuple(found)


def gear_of(plan: Plan, raise_: Raise) -> tuple[Gear, ...]:
    """All that the plan names and does not draw.

    Parameters
    ----------
    plan : Plan
        Capstans, hands, activities.
    raise_ : Raise
        Says when each is there.

    Returns
    -------
    gear : tuple of Gear
        Capstans first, then the hands at their bars, then people at work.
    """
    always = frozenset(passage.index for passage in raise_.passages)
    return (
        *_capstans(plan, raise_, always),
        *_people(plan, raise_),
        *_outside(plan, always),
    )


def _foot(each: Capstan) -> float:
    return 0.0 if each.barrel_height is None else each.barrel_height - BED


def _capstans(plan: Plan, raise_: Raise, always: frozenset[int]) -> Iterator[Gear]:
    lifts = {lift.name: lift for lift in plan.lifts}
    for each in plan.capstans:
        n_bars = max(2, -(-each.hands // HANDS_A_BAR))
        model = capstan(each.barrel_diameter / 2, each.bar_radius + 0.5, n_bars, BED)
        name = f"capstan {each.mark}"
        yield Gear(name=name, mark=name, part="capstan", rides=name, model=model, seen=always)
        hauled = frozenset(
            p.index
            for p in raise_.passages
            if p.moving and _winds(lifts.get(p.lift or ""), each)
        )
        if hauled:
            yield Gear(
                name=f"hands at {name}",
                mark=f"{each.hands} hands",
                part="people",
                rides=name,
                model=_hands(each, n_bars),
                seen=hauled,
            )


def _winds(lift: Lift | None, each: Capstan) -> bool:
    return lift is not None and any(line.capstan == each.mark for line in lift.lines)


def _hands(each: Capstan, n_bars: int) -> Model:
    """The hands at the bars, pushing round anticlockwise."""
    body = figure(CLOTHES[0], leaning=0.16)
    people = []
    for k in range(each.hands):
        angle = 2 * pi * (k % n_bars) / n_bars
        radius = each.bar_radius + (0.3 if k // n_bars % 2 == 0 else -0.35)
        # Behind the bar, facing the way it goes.
        x = radius * cos(angle) + 0.42 * sin(angle)
        y = radius * sin(angle) - 0.42 * cos(angle)
        people.append(body.placed(x, y, 0.0, turn=angle))
    return joined(people)


def _people(plan: Plan, raise_: Raise) -> Iterator[Gear]:
    crews = [crew.name for crew in plan.crews]
    bars = {lift.crew for lift in plan.lifts}
    for activity in plan.activities:
        if activity.place == "outside" and activity.crew in bars:
            continue  # they are drawn at their bars
        seen = _while_at_work(activity, raise_)
        if not seen:
            continue
        number = crews.index(activity.crew) if activity.crew in crews else 0
        body = figure(CLOTHES[(number + 1) % len(CLOTHES)])
        yield Gear(
            name=activity.name,
            mark=f"{activity.count} {activity.crew}",
            part="people",
            rides=None,
            model=joined(_stood(activity, plan, body)),
            seen=seen,
        )


def _while_at_work(activity: Activity, raise_: Raise) -> frozenset[int]:
    return frozenset(
        passage.index
        for passage in raise_.passages
        if passage.begins is not None and activity.starts <= passage.begins < activity.ends
    )


def _stood(activity: Activity, plan: Plan, body: Model) -> Iterable[Model]:
    """People in a ring where they work: on the floor, on a deck, or at the wall's foot."""
    line, n = plan.plumb_line, activity.count
    radius, height = 1.6, activity.lowest or 0.0
    if activity.place == "outside":
        radius, height = 9.0, 0.0
    elif activity.place == "on":
        radius, height = 2.5, max(0.0, (activity.lowest or 0.0) - REACH_UP)
    for k in range(n):
        angle = 2 * pi * (k + 0.5) / n
        x, y = line.x + radius * cos(angle), line.y + radius * sin(angle)
        yield body.placed(x, y, height, turn=angle + pi / 2)


def _outside(plan: Plan, always: frozenset[int]) -> Iterator[Gear]:
    """The ground, and the outside of the wall where its thickness is known."""
    shaft = plan.shaft
    line = plan.plumb_line
    angles = 2 * pi * np.arange(48) / 48
    rim = np.column_stack(
        [line.x + GROUND_RADIUS * np.cos(angles), line.y + GROUND_RADIUS * np.sin(angles)]
    )
    fan = np.column_stack([np.zeros(46, dtype=int), np.arange(1, 47), np.arange(2, 48)])
    disc = Model(
        vertices=np.column_stack([rim, np.full(48, -0.02)]),
        faces=fan,
        colours=np.tile(np.array(GROUND, dtype=np.uint8), (46, 1)),
    )
    yield Gear(name="ground", mark="ground", part="ground", rides=None, model=disc, seen=always)
    if shaft.wall_thickness is not None and shaft.survey:
        yield Gear(
            name="masonry",
            mark="outside of the wall",
            part="wall",
            rides=None,
            model=_wall(plan, shaft.wall_thickness),
            seen=always,
        )


def _wall(plan: Plan, thickness: float) -> Model:
    # Four outer faces and the top; the inside is the survey's own.
    survey, head = plan.shaft.survey, plan.shaft.wall_head
    west, east = min(s.west for s in survey), max(s.east for s in survey)
    south, north = min(s.south for s in survey), max(s.north for s in survey)
    top = survey[-1]
    low = (west - thickness, south - thickness, 0.0)
    high = (east + thickness, north + thickness, head)
    whole = box(low, high, STONE)
    sides = whole.faces[:8]
    inner = np.array(
        [
            [top.west, top.south, head], [top.east, top.south, head],
            [top.east, top.north, head], [top.west, top.north, head],
        ]
    )  # fmt: skip
    vertices = np.concatenate([whole.vertices, inner])
    ring = [
        face
        for k in range(4)
        for face in (
            (4 + k, 4 + (k + 1) % 4, 8 + (k + 1) % 4),
            (4 + k, 8 + (k + 1) % 4, 8 + k),
        )
    ]
    faces = np.concatenate([sides, np.array(ring)])
    return Model(
        vertices=vertices,
        faces=faces,
        colours=np.tile(np.array(STONE, dtype=np.uint8), (len(faces), 1)),
    )
