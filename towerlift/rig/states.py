"""What carries what at each moment of the raise, down to the masonry.

Every section has a joint with what carries it: ground, needles, pendants, the ledge of
another section, or tackles. Through it come the weight and the wind of all above, and at
its shoes it is held sideways by the section or the runners round it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Literal

import numpy as np

from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.mechanics.overturning import Push, Stand
from towerlift.motion.masses import hanging_mass
from towerlift.motion.passages import Passage, Rest, State
from towerlift.nesting.guides import Guide, bearing_stretch, section_guides
from towerlift.nesting.pairs import Workshop
from towerlift.plan.bodies import Face, Section
from towerlift.plan.work import Lock
from towerlift.rig.curves import Floats
from towerlift.rig.wind import DIRECTIONS, Exposure, WindRules, by_direction, exposures

Kind = Literal["ground", "needle", "pendant", "ledge", "tackles"]
# A haul is looked at this often. [m]
LOOK = 0.5
# Shoes whose heights differ by less bear as one level. [m]
LEVEL = 0.05
_ACROSS = ((Face.EAST, Face.WEST), (Face.NORTH, Face.SOUTH))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """How shoes hold a section along one axis, in the worse of the two senses.

    Attributes
    ----------
    foot : float
        Height of the lower shoes above the heel. [m]
    spacing : float
        From the lower to the upper shoes. [m]
    n_upper, n_lower : int
        Shoes that bear at either level.
    play : float
        Gap left at each, hanging true. [m]
    on : tuple of str
        What carries the rails.
    """

    foot: float
    spacing: float
    n_upper: int
    n_lower: int
    play: float
    on: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """One section and what holds it at one moment.

    Attributes
    ----------
    section, carrier : str
        The section, and what carries it.
    kind : str
        Ground, needle, pendant, ledge of a section, or tackles.
    state : State
        Of the section.
    heel : float
        Heel height, shaft frame. [m]
    carried : tuple of str
        Sections whose weight comes down here, this one first.
    pushing : tuple of str
        Sections whose wind comes in here, this one first.
    stand : Stand
        Weight and supports, shaft frame seen from above.
    height : float
        Of the centre of gravity of `carried` above the heel. [m]
    push : Push
        Wind of `pushing` about the heel.
    axes : (2, 2) float
        Along x and along y of the section, in the shaft frame seen from above.
    sides : tuple of (Sides or None)
        Along x and along y of the section; None where shoes do not hold it.
    lock : Lock or None
        The step that locked it here; None where it only rests or hangs.
    wedged_by : datetime or None
        When what is buried is to be wedged; None where that is not planned or not dated.
    """

    section: str
    carrier: str
    kind: Kind
    state: State
    heel: float
    carried: tuple[str, ...]
    pushing: tuple[str, ...]
    stand: Stand
    height: float
    push: Push
    axes: Floats
    sides: tuple[Sides | None, Sides | None]
    lock: Lock | None
    wedged_by: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Locked:
    """How a section was locked where it is.

    Attributes
    ----------
    step : Lock
        The step that did it.
    at : datetime or None
        When it was done, None where that is not dated.
    """

    step: Lock
    at: datetime | None

    @property
    def wedged_by(self) -> datetime | None:
        """When what is buried is to be wedged; None where not planned or not dated."""
        if self.at is None or self.step.wedged_within is None:
            return None
        return self.at + timedelta(seconds=self.step.wedged_within)


@dataclass(frozen=True, slots=True, kw_only=True)
class TowerState:
    """Every section with its joint at one moment.

    Attributes
    ----------
    passage : Passage
        During which it is; the one after the last of a stage stands for its rest.
    share : float
        Of the travel that is done.
    heels : mapping of str to float
        Heel heights, shaft frame. [m]
    joints : tuple of Joint
        Outermost section first.
    winds : mapping of str to Exposure
        Wind on each section.
    """

    passage: Passage
    share: float
    heels: Mapping[str, float]
    joints: tuple[Joint, ...]
    winds: Mapping[str, Exposure]

    @property
    def stage(self) -> str:
        """Stage it belongs to."""
        return self.passage.stage

    @property
    def moves(self) -> bool:
        """Whether something is being hauled or let down."""
        return bool(self.passage.moving)


def rest_passage(rest: Rest, index: int) -> Passage:
    """A rest between two stages as a passage in which nothing is done.

    Parameters
    ----------
    rest : Rest
        What stands when a stage is done.
    index : int
        Of the passage before it.

    Returns
    -------
    passage : Passage
        Its step is "rest".
    """
    return Passage(
        index=index,
        stage=rest.stage,
        step="rest",
        subject="",
        lift=None,
        moving=(),
        standing=rest.standing,
        fixtures=rest.fixtures,
        fitted=rest.fitted,
        begins=rest.begins,
        duration=0.0,
    )


def _moments(shop: Workshop) -> Iterator[Passage]:
    last = {passage.stage: passage.index for passage in shop.raise_.passages}
    rests = {rest.stage: rest for rest in shop.raise_.rests}
    for passage in shop.raise_.passages:
        yield passage
        if last[passage.stage] == passage.index and passage.stage in rests:
            yield rest_passage(rests[passage.stage], passage.index)


def _alike(passage: Passage) -> tuple[object, ...]:
    standing = tuple(
        (name, each.state, each.carrier, each.heel_to)
        for name, each in sorted(passage.standing.items())
    )
    return passage.stage, standing, passage.fixtures, passage.fitted


def tower_states(shop: Workshop, rules: WindRules) -> Iterator[TowerState]:
    """Every state of the raise, hauls cut at every half metre.

    Parameters
    ----------
    shop : Workshop
        Plan, shapes and raise.
    rules : WindRules
        Of the same plan.

    Yields
    ------
    state : TowerState
        In order; what does not change is not told twice within a stage.
    """
    locks: dict[str, Locked] = {}
    steps = _lock_steps(shop)
    seen: set[tuple[object, ...]] = set()
    for passage in _moments(shop):
        _follow_locks(passage, locks, steps)
        if not passage.standing:
            continue
        if not passage.moving:
            key = _alike(passage)
            if key in seen:
                continue
            seen.add(key)
        n = max(1, int(np.ceil(abs(passage.travel) / LOOK - 1e-9)))
        shares = np.linspace(0.0, 1.0, n + 1) if passage.moving else np.zeros(1)
        for share in shares.tolist():
            yield tower_state(shop, passage, rules, share=share, locks=locks)


def _lock_steps(shop: Workshop) -> dict[tuple[str, str], list[Lock]]:
    found: dict[tuple[str, str], list[Lock]] = {}
    for stage in shop.plan.stages:
        for step in stage.steps:
            if isinstance(step, Lock):
                found.setdefault((stage.name, step.section), []).append(step)
    return found


def _follow_locks(
    passage: Passage, locks: dict[str, Locked], steps: dict[tuple[str, str], list[Lock]]
) -> None:
    for name in passage.moving:
        if passage.standing[name].carrier not in passage.standing:
            locks.pop(name, None)
    if passage.step == "lock":
        waiting = steps.get((passage.stage, passage.subject), [])
        if waiting:
            done = None
            if passage.begins is not None:
                done = passage.begins + timedelta(seconds=passage.duration)
            locks[passage.subject] = Locked(step=waiting.pop(0), at=done)


def tower_state(
    shop: Workshop,
    passage: Passage,
    rules: WindRules,
    *,
    share: float = 0.0,
    locks: Mapping[str, Locked] | None = None,
) -> TowerState:
    """Joints and wind of every section at one moment.

    Parameters
    ----------
    shop : Workshop
        Plan, shapes and raise.
    passage : Passage
        Which.
    rules : WindRules
        Of the same plan.
    share : float
        Of the travel that is done.
    locks : mapping of str to Locked, optional
        How each section was locked that is locked.

    Returns
    -------
    state : TowerState
        For that moment.
    """
    heels = {name: passage.heel(name, share) for name in passage.standing}
    winds = exposures(shop, passage, heels, rules)
    sides = {name: standing_sides(shop, passage, heels, name) for name in heels}
    scene = _Scene(
        shop=shop,
        passage=passage,
        heels=heels,
        winds=winds,
        sides=sides,
        locks=dict(locks or {}),
    )
    names = [section.name for section in shop.plan.sections if section.name in heels]
    joints = tuple(scene.joint(name) for name in names)
    return TowerState(passage=passage, share=share, heels=heels, joints=joints, winds=winds)


def standing_sides(
    shop: Workshop, passage: Passage, heels: Mapping[str, float], name: str
) -> tuple[Sides | None, Sides | None]:
    """How shoes hold a section at one moment, whether it moves or stands.

    Parameters
    ----------
    shop : Workshop
        Plan and shapes.
    passage : Passage
        What is on the site.
    heels : mapping of str to float
        Heel height of each section, shaft frame. [m]
    name : str
        Which section.

    Returns
    -------
    sides : tuple of (Sides or None)
        Along x and along y of the section; None where shoes do not hold it.
    """
    key = (name, passage.stage, frozenset(passage.standing), passage.fixtures)

    def bearers() -> tuple[Guide, ...]:
        # Two shoes abreast on a face are two rows; alike they stay, to be counted.
        return section_guides(shop, replace(passage, moving=(name,)))

    guides = shop.kept(("standing guides", *key), bearers)
    bases = tuple(sorted({(guide.on, heels.get(guide.on, 0.0)) for guide in guides}))

    def both() -> tuple[Sides | None, Sides | None]:
        first, second = (_axis(guides, heels, name, faces) for faces in _ACROSS)
        return first, second

    return shop.kept(("standing sides", *key, heels[name], bases), both)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scene:
    """One moment, with what is needed to put its joints together."""

    shop: Workshop
    passage: Passage
    heels: Mapping[str, float]
    winds: Mapping[str, Exposure]
    sides: Mapping[str, tuple[Sides | None, Sides | None]]
    locks: Mapping[str, Locked]

    def section(self, name: str) -> Section:
        return next(each for each in self.shop.plan.sections if each.name == name)

    def weight_goes_to(self, name: str) -> str:
        """What bears a section in the end: under a lift, what that hangs from."""
        carrier = self.passage.standing[name].carrier
        lifts = {lift.name: lift.hung_from for lift in self.shop.plan.lifts}
        return lifts.get(carrier, carrier)

    def kind(self, name: str) -> Kind:
        carrier = self.passage.standing[name].carrier
        if carrier in self.heels:
            return "ledge"
        if carrier in {lift.name for lift in self.shop.plan.lifts}:
            return "tackles"
        fixtures = {each.name: each.kind for each in self.shop.plan.fixtures}
        if carrier not in fixtures:
            return "ground"
        return "pendant" if fixtures[carrier] == "pendant" else "needle"

    def carried(self, name: str) -> tuple[str, ...]:
        return self._all_above(name, lambda each: {self.weight_goes_to(each)})

    def pushing(self, name: str) -> tuple[str, ...]:
        def held_by(each: str) -> set[str]:
            sides = self.sides[each]
            on = {carrier for side in sides if side is not None for carrier in side.on}
            return on | {self.weight_goes_to(each)}

        return self._all_above(name, held_by)

    def _all_above(self, name: str, held_by) -> tuple[str, ...]:  # type: ignore[no-untyped-def]
        found = [name]
        for one in found:
            found += [each for each in self.heels if each not in found and one in held_by(each)]
        return tuple(found)

    def joint(self, name: str) -> Joint:
        carried, pushing = self.carried(name), self.pushing(name)
        weight, centre = self._weight(carried)
        heel = self.heels[name]
        force, moment = self._push(pushing, heel)
        kind = self.kind(name)
        standing = self.passage.standing[name]
        locked = self.locks.get(name) if kind in ("ledge", "needle") else None
        return Joint(
            section=name,
            carrier=standing.carrier,
            kind=kind,
            state=standing.state,
            heel=heel,
            carried=carried,
            pushing=pushing,
            stand=Stand(weight=weight, centre=centre[:2], supports=self._supports(name, kind)),
            height=float(centre[2]) - heel,
            push=Push(directions=DIRECTIONS, force=force, moment=np.maximum(0.0, moment)),
            axes=self.shop.raise_.shaft_from_section(0.0)[:2, :2].T,
            sides=self.sides[name],
            lock=None if locked is None else locked.step,
            wedged_by=None if locked is None else locked.wedged_by,
        )

    def _push(self, names: tuple[str, ...], level: float) -> tuple[Floats, Floats]:
        turn = self.shop.raise_.plumb_line.turn
        force, moment = np.zeros(len(DIRECTIONS)), np.zeros(len(DIRECTIONS))
        for name in names:
            wind = self.winds[name]
            factor = by_direction(wind.corner, DIRECTIONS, turn)
            force += wind.force * factor
            moment += (wind.moment - wind.force * level) * factor
        return force, moment

    def _weight(self, names: tuple[str, ...]) -> tuple[float, Floats]:
        total, moment = 0.0, np.zeros(3)
        for name in names:
            mass = hanging_mass(self.shop.shapes, self.passage, name)
            pose = self.shop.raise_.shaft_from_section(self.heels[name])
            total += mass.mass
            moment += mass.mass * (pose[:3, :3] @ mass.centre + pose[:3, 3])
        return total * STANDARD_GRAVITY, moment / total

    def _supports(self, name: str, kind: Kind) -> Floats:
        pose = self.shop.raise_.shaft_from_section(self.heels[name])
        if kind == "pendant":
            chains = self._chains(self.passage.standing[name].carrier)
            if len(chains) >= 3:
                return chains
        section = self.section(name)
        # A bar through a leg stands at its middle, and so does the leg on a needle.
        at_legs = section.fids if kind != "tackles" and len(section.fids) >= 3 else ()
        points = np.array([point.at[:2] for point in at_legs or section.lift_points])
        return np.asarray(points @ pose[:2, :2].T + pose[:2, 3])

    def _chains(self, fixture: str) -> Floats:
        members = next(each for each in self.shop.plan.fixtures if each.name == fixture).members
        upright = []
        for member in members:
            along = np.subtract(member.end, member.start)
            if abs(along[2]) > 0.5 * float(np.linalg.norm(along)):
                upright.append(member.start[:2])
        return np.array(upright, dtype=np.float64).reshape(-1, 2)


def _axis(
    guides: tuple[Guide, ...], heels: Mapping[str, float], name: str, faces: tuple[Face, Face]
) -> Sides | None:
    """Shoes along one axis: the closer pair of upper and lower level of the two senses."""
    reach: dict[Face, list[tuple[float, float]]] = {face: [] for face in faces}
    known: dict[tuple[object, ...], tuple[float, float] | None] = {}
    for guide in guides:
        if guide.face in reach:
            alike = (guide.shoe, guide.rails.tobytes(), guide.on)
            if alike not in known:
                base = heels.get(guide.on, 0.0)
                known[alike] = bearing_stretch(guide, heels[name], base)
            stretch = known[alike]
            reach[guide.face] += [stretch] if stretch else []
    found = None
    for lee, luff in (faces, faces[::-1]):
        if not (reach[lee] and reach[luff]):
            return None
        head, foot = max(s[1] for s in reach[lee]), min(s[0] for s in reach[luff])
        if not head > foot:
            return None
        if found is None or head - foot < found.spacing:
            found = Sides(
                foot=foot,
                spacing=head - foot,
                n_upper=sum(s[1] > head - LEVEL for s in reach[lee]),
                n_lower=sum(s[0] < foot + LEVEL for s in reach[luff]),
                play=max(guide.play for guide in guides),
                on=tuple(sorted({guide.on for guide in guides})),
            )
    return found
