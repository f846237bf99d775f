"""Overturning of what stands unwedged, at the gust that its state must survive."""

from collections.abc import Iterable, Iterator

from towerlift.checks.case import Case, limit_for, overrule_for
from towerlift.checks.wind import (
    HAULING,
    OVERTURNING,
    Held,
    compass,
    held_states,
    rules_of,
    told_once,
)
from towerlift.findings import Finding
from towerlift.mechanics.overturning import overturning_factor, stands, support_forces
from towerlift.plan.limits import limit_in_plan
from towerlift.rig.out_of_true import gust_pressure

CHECK = "overturning"
# A factor above this, or without bound, is told as this.
LARGEST = 99.0


def check_overturning(case: Case) -> Iterable[Finding]:
    """Moment that holds over moment that overturns, for every section that stands unwedged.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        For each section and stage the least factor, where the wind reaches it; none for a
        plan that does not say what the wind is like, of which the check of wind tells.
    """
    if rules_of(case.plan) is None:
        return
    worst: dict[tuple[str, str], tuple[float, int, Held]] = {}
    unknown: dict[tuple[str, str], Held] = {}
    for held in _unwedged(case):
        key = (held.joint.section, held.state.stage)
        if not stands(held.joint.stand):
            unknown.setdefault(key, held)
            continue
        stand, push = held.joint.stand, held.joint.push
        factor, way = overturning_factor(stand, push, _pressure(case, held))
        if key not in worst or factor < worst[key][0]:
            worst[key] = (factor, way, held)
    yield from told_once([_finding(case, *each) for each in worst.values()])
    for held in unknown.values():
        yield _not_known(case, held)


def _unwedged(case: Case) -> Iterator[Held]:
    for held in held_states(case):
        if held.joint.kind != "tackles" and not held.wedged and held.joint.push.force.max() > 0:
            yield held


def _not_known(case: Case, held: Held) -> Finding:
    return Finding(
        check=CHECK,
        subject=held.joint.section,
        stage=held.state.stage,
        heel=held.joint.heel,
        where=None,
        limit=limit_for(case, OVERTURNING),
        value=None,
        why="; ".join(held.missing),
        remedy=("mark its lift points and fids at all its corners",),
    )


def _gust(case: Case, held: Held) -> float:
    return limit_in_plan(case.plan, held.demand).value


def _pressure(case: Case, held: Held) -> float:
    return gust_pressure(_gust(case, held))


def _finding(case: Case, factor: float, way: int, held: Held) -> Finding:
    joint, stage, gust = held.joint, held.state.stage, _gust(case, held)
    limit = limit_for(case, OVERTURNING)
    pressure = _pressure(case, held)
    moment = pressure * float(joint.push.moment[way])
    forces = support_forces(
        joint.stand, pressure * joint.push.moment[:, None] * joint.push.along
    )
    least = float(forces.min())
    lifted = (
        f"the least support keeps {least / 1e3:.1f} kN"
        if least >= 0
        else f"one support lifts: it would have to pull {-least / 1e3:.1f} kN"
    )
    told = "hauling" if held.demand is HAULING else held.demand.name.removeprefix("gust ")
    why = (
        f"{joint.section} {held.words}, at {gust:g} m/s {told}: "
        f"{pressure * float(joint.push.force[way]) / 1e3:.1f} kN of wind towards "
        f"{compass(float(joint.push.directions[way]))} overturn with {moment / 1e3:.0f} kN m, "
        f"{joint.stand.weight / 1e3:.0f} kN of weight ({', '.join(joint.carried)}) hold; "
        f"{lifted}"
    )
    remedy: tuple[str, ...] = ()
    if factor < limit.value:
        remedy = (
            "wedge it the same day, and wait for a forecast below the gust it survives",
            "tie it down, or hold it by side ropes",
            "let it stand deeper in what is round it",
        )
    return Finding(
        check=CHECK,
        subject=joint.section,
        stage=stage,
        heel=joint.heel,
        where=None,
        limit=limit,
        overrule=overrule_for(case, OVERTURNING, joint.section, stage),
        value=min(factor, LARGEST),
        why=why,
        remedy=remedy,
    )
