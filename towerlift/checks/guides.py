"""Shoes of guided hauls: what they bear, what they drag, and who bears it in the end.

The wind on a hauled section and the offset of its weight press its shoes on the rails of
the section round it, and that on its own, down to the runners on the masonry. Every one
of them drags, and the ropes must haul that too.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from towerlift.checks.case import Case, limit_for, overrule_for
from towerlift.checks.uneven import shoe_friction
from towerlift.checks.wind import HAULING, asked_of, rules_of, states_of
from towerlift.findings import Bound, Finding
from towerlift.mechanics.overturning import SidePair, side_reactions
from towerlift.plan.limits import UsualLimit, limit_in_plan
from towerlift.rig.curves import Floats
from towerlift.rig.out_of_true import gust_pressure
from towerlift.rig.states import Joint, TowerState
from towerlift.units import Dimension

CHECK = "guides"

REACTION = UsualLimit(
    name="load on a shoe",
    value=0.0,  # of each section by its plan; see `check_guides`
    unit="kN",
    bound=Bound.AT_MOST,
    dimension=Dimension.FORCE,
    source="the rating that the plan gives",
)
FRICTION = UsualLimit(
    name="guide friction",
    value=0.0,  # of each lift by its plan
    unit="1",
    bound=Bound.AT_MOST,
    dimension=None,
    source="the extra pull that the plan allows the lift, which ropes and crews are reckoned "
    "with",
)
LIMITS = (REACTION, FRICTION)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShoeLoads:
    """What the shoes of one section bear, in the worst wind of one gust.

    Attributes
    ----------
    upper, lower : float
        Sum on the upper and on the lower shoes of the worse axis. [N]
    n_upper, n_lower : int
        Shoes that share it.
    total : float
        Of all shoes on both axes together, in the direction in which it is most. [N]
    spacing : float
        From the lower to the upper shoes. [m]
    foot : float
        Height of the lower shoes above the heel. [m]
    towards : tuple of float
        Way along the worse axis that the wind then blows, shaft frame seen from above;
        the other way is as bad.
    across : bool
        Whether the lower shoes bear on the side that the wind comes from; else on the
        side of the upper ones.
    """

    upper: float
    lower: float
    n_upper: int
    n_lower: int
    total: float
    spacing: float
    foot: float
    towards: tuple[float, float]
    across: bool

    @property
    def most(self) -> float:
        """On one shoe. [N]"""
        return max(self.upper / self.n_upper, self.lower / self.n_lower)


def shoe_loads(joint: Joint, pressure: float, offset: float) -> ShoeLoads | None:
    """Loads on the shoes of a section, whatever holds its weight.

    Parameters
    ----------
    joint : Joint
        Section, wind and shoes.
    pressure : float
        Where the gust is told. [Pa]
    offset : float
        Distance of the weight from the middle, along either axis. [m]

    Returns
    -------
    loads : ShoeLoads or None
        None where shoes do not hold it on every side.

    Notes
    -----
    Shoes on the faces react along x and y apart, so both axes add to the friction. The
    lines help to keep a hanging section upright; that is left out. The offset is taken
    along one axis, the worse.
    """
    if not all(joint.sides):
        return None
    total: Floats = np.zeros(len(joint.push.directions))
    worst = None
    for axis, sides in enumerate(joint.sides):
        if sides is None:
            return None
        share = np.abs(joint.push.along @ joint.axes[axis]) * pressure
        pair = SidePair(foot=sides.foot, spacing=sides.spacing)
        force, moment = joint.push.force * share, joint.push.moment * share
        upper, lower = side_reactions(pair, force, moment)
        worse = int(np.argmax(upper + lower))
        x, y = (joint.axes[axis] * np.sign(joint.push.along[worse] @ joint.axes[axis])).tolist()
        twist = joint.stand.weight * offset / sides.spacing
        total += upper + lower
        loads = ShoeLoads(
            upper=float(upper.max()) + twist,
            lower=float(lower.max()) + twist,
            n_upper=sides.n_upper,
            n_lower=sides.n_lower,
            total=0.0,
            spacing=sides.spacing,
            foot=sides.foot,
            towards=(x, y),
            across=bool(moment[worse] > force[worse] * (sides.foot + sides.spacing)),
        )
        worst = loads if worst is None or loads.most > worst.most else worst
    if worst is None:
        return None
    twist = joint.stand.weight * offset / worst.spacing
    return replace(worst, total=float(total.max()) + 2 * twist)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShoeCurve:
    """What the shoes of a hauled section bear along one passage, in the worst wind.

    Attributes
    ----------
    passage : int
        Index of the passage in the raise.
    section : str
        The hauled one.
    on : tuple of str
        What carries its rails.
    gust : float
        At which hauling stops, told at the wall head. [m/s]
    heels : (k,) float
        Heel heights of the section, in the order travelled. [m]
    loads : tuple of ShoeLoads
        One for each heel.
    """

    passage: int
    section: str
    on: tuple[str, ...]
    gust: float
    heels: Floats
    loads: tuple[ShoeLoads, ...]


def shoe_curves(case: Case) -> tuple[ShoeCurve, ...]:
    """Loads on the shoes of every guided haul, at the gust at which hauling stops.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Returns
    -------
    curves : tuple of ShoeCurve
        None for a passage in which shoes do not hold the hauled section on every side,
        nor where the plan does not say what the wind is like.
    """
    hauls: dict[int, list[tuple[Joint, ShoeLoads]]] = {}
    for state in states_of(case):
        hauled = next((j for j in state.joints if j.section in state.passage.moving[:1]), None)
        loads = None if hauled is None else _at_gust(case, hauled)
        if hauled is not None and loads is not None and _guided(case, hauled):
            hauls.setdefault(state.passage.index, []).append((hauled, loads))
    return tuple(
        ShoeCurve(
            passage=index,
            section=rows[0][0].section,
            on=_carriers(rows[0][0]),
            gust=limit_in_plan(case.plan, HAULING).value,
            heels=np.array([joint.heel for joint, _ in rows]),
            loads=tuple(loads for _, loads in rows),
        )
        for index, rows in hauls.items()
    )


def _carriers(joint: Joint) -> tuple[str, ...]:
    """What the shoes of a section run on."""
    return tuple(
        sorted({name for sides in joint.sides if sides is not None for name in sides.on})
    )


def check_guides(case: Case) -> Iterable[Finding]:
    """Load on shoes and friction of every guided haul, at the gust at which hauling stops.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        For each haul: the load on one shoe of every section that the wind presses, down
        to the masonry, and the friction of the hauled one. [kN], share of the weight.
    """
    if rules_of(case.plan) is None:
        return
    shoes: dict[tuple[str, str], tuple[float, TowerState, Joint]] = {}
    drags: dict[tuple[str, str, str], tuple[float, TowerState, Joint]] = {}
    for state in states_of(case):
        if not state.moves:
            continue
        for joint in _chain(state):
            loads = _at_gust(case, joint)
            if loads is None:
                continue
            key = (joint.section, state.stage)
            if key not in shoes or loads.most > shoes[key][0]:
                shoes[key] = (loads.most, state, joint)
        hauled = next(j for j in state.joints if j.section == state.passage.moving[0])
        drag = _drag(case, hauled)
        if drag is not None and _guided(case, hauled):
            name = (hauled.section, state.stage, hauled.carrier)
            if name not in drags or drag > drags[name][0]:
                drags[name] = (drag, state, hauled)
    for _, state, joint in shoes.values():
        yield _shoe_finding(case, state, joint)
    for drag, state, joint in drags.values():
        yield _drag_finding(case, drag, state, joint)


def _guided(case: Case, joint: Joint) -> bool:
    return any(lift.name == joint.carrier and lift.guided for lift in case.plan.lifts)


def _chain(state: TowerState) -> Iterator[Joint]:
    """The hauled section and every section that its shoes press on, down to the runners."""
    joints = {joint.section: joint for joint in state.joints}
    todo = [state.passage.moving[0]]
    for name in todo:
        if name not in joints:
            continue
        yield joints[name]
        for sides in joints[name].sides:
            todo += [] if sides is None else [on for on in sides.on if on not in todo]


def _at_gust(case: Case, joint: Joint) -> ShoeLoads | None:
    gust = limit_in_plan(case.plan, HAULING).value
    return shoe_loads(joint, gust_pressure(gust), asked_of(case.plan).offset)


def _drag(case: Case, joint: Joint) -> float | None:
    loads = _at_gust(case, joint)
    if loads is None:
        return None
    return shoe_friction(case.plan) * loads.total / joint.stand.weight


def _shoe_finding(case: Case, state: TowerState, joint: Joint) -> Finding:
    loads = _at_gust(case, joint)
    section = next(each for each in case.plan.sections if each.name == joint.section)
    rated = section.shoe_rating is not None and bool(section.rating_source.strip())
    usual = REACTION
    if section.shoe_rating is not None and rated:
        usual = replace(REACTION, value=section.shoe_rating / 1e3, source=section.rating_source)
    limit = limit_for(case, usual)
    gust = limit_in_plan(case.plan, HAULING).value
    why = f"{REACTION.name}: section {section.name} gives no shoe_rating with its rating_source"
    if rated and loads is not None:
        why = (
            f"{REACTION.name}: at {gust:g} m/s the upper shoes of the {joint.section} press "
            f"{loads.upper / 1e3:.1f} kN and the lower {loads.lower / 1e3:.1f} kN on the "
            f"{' and '.join(_carriers(joint))}, {loads.spacing:.2f} m apart, "
            f"{loads.n_upper} and {loads.n_lower} shoes abreast, from the wind on "
            f"{', '.join(joint.pushing)}"
        )
    value = loads.most / 1e3 if rated and loads is not None else None
    return Finding(
        check=CHECK,
        subject=joint.section,
        stage=state.stage,
        heel=joint.heel,
        where=None,
        limit=limit,
        overrule=overrule_for(case, usual, joint.section, state.stage),
        value=value,
        why=why,
        remedy=()
        if value is None or value <= limit.value
        else ("bury it deeper: shoes farther apart bear less", "haul in less wind"),
    )


def _drag_finding(case: Case, drag: float, state: TowerState, joint: Joint) -> Finding:
    lift = next(each for each in case.plan.lifts if each.name == joint.carrier)
    usual = replace(FRICTION, value=lift.friction)
    limit = limit_for(case, usual)
    loads = _at_gust(case, joint)
    gust = limit_in_plan(case.plan, HAULING).value
    friction = shoe_friction(case.plan)
    total = 0.0 if loads is None else loads.total
    why = (
        f"{FRICTION.name}: at {gust:g} m/s and with the weight "
        f"{asked_of(case.plan).offset * 1e3:.0f} mm out, shoes press {total / 1e3:.1f} kN in "
        f"all and drag {friction:g} of it, {drag:.1%} of {joint.stand.weight / 1e3:.0f} kN; "
        f"lift {lift.name} allows {lift.friction:.1%}"
    )
    return Finding(
        check=CHECK,
        subject=joint.section,
        stage=state.stage,
        heel=joint.heel,
        where=None,
        limit=limit,
        overrule=overrule_for(case, usual, joint.section, state.stage),
        value=round(drag, 9),
        why=why,
        remedy=()
        if drag <= limit.value
        else (
            f"allow lift {lift.name} a friction of {np.ceil(drag * 100) / 100:.0%}: ropes and "
            "crews are then reckoned with it",
            "grease the shoes",
            "haul in less wind",
        ),
    )
