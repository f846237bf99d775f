"""Where each section stands or hangs without its tackles, and the most it weighs there."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.motion.passages import Passage, Rest, State
from towerlift.motion.raises import Raise
from towerlift.plan.holding import Hold
from towerlift.plan.model import Plan
from towerlift.rig.curves import Floats
from towerlift.shapes.solids import MassProperties, Shapes, combine
from towerlift.timber import Duration

# A heel this near to the ledge of its parent stands on it. [m]
ON_LEDGE = 2e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """One section on one carrier, when it weighs most there.

    Attributes
    ----------
    section, carrier : str
        What stands, and on what.
    how : str
        "heel", "fid" or "pendant".
    lock : Hold or None
        Row of the plan; None where it has none.
    heel, carrier_heel : float
        Heel heights; of a fixture 0. [m]
    weight : float
        Of the section with all that it carries. [N]
    centre : (3,) float
        Centre of gravity of it, frame of the section. [m]
    tolerance : float
        Share by which the mass may be out.
    carries : tuple of str
        Sections it carries.
    stages : tuple of str
        Stages in which it stands there, the one of the greatest weight first.
    last : bool
        Whether it stands there when the raise is done.
    fixtures, fitted : frozenset of str
        What is in place at that time.
    heels : tuple of (str, float)
        Every section on the site then, with its heel height. [m]
    """

    section: str
    carrier: str
    how: str
    lock: Hold | None
    heel: float
    carrier_heel: float
    weight: float
    centre: Floats
    tolerance: float
    carries: tuple[str, ...]
    stages: tuple[str, ...]
    last: bool
    fixtures: frozenset[str]
    fitted: frozenset[str]
    heels: tuple[tuple[str, float], ...]

    @property
    def subject(self) -> str:
        """What a finding calls it."""
        by = {"heel": "", "fid": ", fids", "pendant": ", pendants"}[self.how]
        return f"{self.section} on {self.carrier}{by}"

    @property
    def duration(self) -> Duration:
        """How long its load lies on: for good where it is the last."""
        if self.last or self.lock is None:
            return Duration.PERMANENT
        return Duration(self.lock.lasts)


def carried_mass(
    shapes: Shapes, moment: Passage | Rest, section: str
) -> tuple[MassProperties, tuple[str, ...]]:
    """A section with its fit-out and every section that it carries.

    Parameters
    ----------
    shapes : Shapes
        Of the same plan.
    moment : Passage or Rest
        Says what stands on what.
    section : str
        Which.

    Returns
    -------
    mass : MassProperties
        In the frame of the section.
    carries : tuple of str
        Sections it carries.
    """
    names = [section]
    for name in names:
        names += [
            each
            for each, place in moment.standing.items()
            if place.carrier == name and each not in names
        ]
    foot = moment.standing[section].heel_to
    pieces = []
    for name in names:
        up = np.array([0.0, 0.0, moment.standing[name].heel_to - foot])
        pieces.append((shapes.sections[name].mass, up))
        pieces += [
            (shapes.fit_out[item].mass, up)
            for item in sorted(moment.fitted)
            if shapes.fitted_on[item] == name
        ]
    return combine(pieces), tuple(names[1:])


def stands(plan: Plan, shapes: Shapes, raise_: Raise) -> tuple[Stand, ...]:
    """Every section on every carrier that is not the ground and not its tackles.

    Parameters
    ----------
    plan : Plan
        What is planned.
    shapes : Shapes
        What it draws.
    raise_ : Raise
        What it does.

    Returns
    -------
    stands : tuple of Stand
        In the order of the raise, each at its greatest weight.
    """
    found: dict[tuple[str, str, str], Stand] = {}
    stages: dict[tuple[str, str, str], list[str]] = {}
    for moment, last in _moments(raise_):
        for stand in stands_at(plan, shapes, moment, last=last):
            key = (stand.section, stand.carrier, stand.how)
            told = stages.setdefault(key, [])
            if moment.stage not in told:
                told.append(moment.stage)
            known = found.get(key)
            if known is None or stand.weight > known.weight + 1.0:
                found[key] = stand
            if stand.last:
                found[key] = replace(found[key], last=True)
    return tuple(_with_stages(stand, stages[key]) for key, stand in found.items())


def _moments(raise_: Raise) -> Iterator[tuple[Passage | Rest, bool]]:
    rests = {rest.stage: rest for rest in raise_.rests}
    stage = None
    for passage in raise_.passages:
        if stage is not None and passage.stage != stage and stage in rests:
            yield rests[stage], False
        stage = passage.stage
        yield passage, False
    if raise_.rests:
        yield raise_.rests[-1], True


def _with_stages(stand: Stand, told: list[str]) -> Stand:
    first = stand.stages[0]
    return replace(stand, stages=(first, *(each for each in told if each != first)))


def stands_at(
    plan: Plan, shapes: Shapes, moment: Passage | Rest, *, last: bool
) -> Iterator[Stand]:
    """What stands on what at one moment, but on the ground or in its tackles.

    Parameters
    ----------
    plan : Plan
        What is planned.
    shapes : Shapes
        What it draws.
    moment : Passage or Rest
        When.
    last : bool
        Whether the raise is then done.

    Yields
    ------
    stand : Stand
        One for each section.
    """
    fixtures = {each.name: each.kind for each in plan.fixtures}
    for section, place in moment.standing.items():
        carrier = place.carrier
        if carrier in fixtures:
            hangs = fixtures[carrier] in ("pendant", "gantry")
            how, base = ("pendant" if hangs or place.state is State.SECURED else "heel"), 0.0
        elif carrier in moment.standing:
            base = moment.standing[carrier].heel_to
            how = "heel" if _on_ledge(plan, carrier, place.heel_to - base) else "fid"
        else:
            continue
        mass, carries = carried_mass(shapes, moment, section)
        yield Stand(
            section=section,
            carrier=carrier,
            how=how,
            lock=_lock(plan, section, carrier, how),
            heel=place.heel_to,
            carrier_heel=base,
            weight=mass.mass * STANDARD_GRAVITY,
            centre=mass.centre,
            tolerance=mass.tolerance,
            carries=carries,
            stages=(moment.stage,),
            last=last,
            fixtures=moment.fixtures,
            fitted=moment.fitted,
            heels=tuple((name, each.heel_to) for name, each in moment.standing.items()),
        )


def _on_ledge(plan: Plan, carrier: str, height: float) -> bool:
    ledge = next(each.nest_height for each in plan.sections if each.name == carrier)
    return ledge is not None and abs(height - ledge) <= ON_LEDGE


def _lock(plan: Plan, section: str, carrier: str, how: str) -> Hold | None:
    return next(
        (lock for lock in plan.locks if (lock.of, lock.on, lock.by) == (section, carrier, how)),
        None,
    )
