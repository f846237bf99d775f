"""Going down: every haul must be able to come back to its last lock, held all the way.

Friction is turned round: sheaves, leads, barrel and shoes hold with the tailer. So the load
must still draw its ropes, the tailer must hold it with turns that can be surged, and no
capstan may hang on one stop. What hangs up in its shoes must never be slacked.
"""

from collections.abc import Iterable, Iterator

import numpy as np

from towerlift.checks.case import Case, limit_for
from towerlift.checks.guides import shoe_loads
from towerlift.checks.hauls import Haul, Said, Unreckoned, haul_finding, hauls, not_reckoned
from towerlift.checks.strength import mass_factor
from towerlift.checks.uneven import shoe_friction
from towerlift.checks.wind import HAULING, asked_of, states_of, told_once
from towerlift.findings import Bound, Finding
from towerlift.mechanics.lowering import carried_going_down, fall_onto_ropes
from towerlift.motion.masses import moving_mass
from towerlift.plan.limits import UsualLimit, limit_in_plan
from towerlift.plan.model import Plan
from towerlift.rig.lowering import DRY, WET, LettingDown, letting_down, lowering_speed
from towerlift.rig.out_of_true import gust_pressure
from towerlift.rig.pulls import line_capstans
from towerlift.units import Dimension

CHECK = "lowering"

STOPS = UsualLimit(
    name="independent stops of a capstan",
    value=2.0,
    unit="count",
    bound=Bound.AT_LEAST,
    dimension=Dimension.COUNT,
    source="common practice: a pawl that fails must not let the bars run; no published source",
)
WAY = UsualLimit(
    name="lets down by walking back",
    value=0.0,
    unit="count",
    bound=Bound.AT_MOST,
    dimension=Dimension.COUNT,
    source="common practice: lower on a brake or by surging, nobody inside the ring; hands "
    "that walk back are run over when the load runs",
)
CARRIED = UsualLimit(
    name="load on the ropes going down",
    value=80.0,
    unit="%",
    bound=Bound.AT_LEAST,
    dimension=Dimension.SHARE,
    source="derived here: ropes eased to a share f of the weight snatch 2 - f times when what "
    "hung up comes free, 1.2 times at 80 %; common practice sets 80 %",
)
DRAWS = UsualLimit(
    name="pull left at the barrel going down",
    value=20.0,
    unit="%",
    bound=Bound.AT_LEAST,
    dimension=Dimension.SHARE,
    source="no published source: of the pull that hauls it; with less a stiff rope or a dry "
    "block may keep it from coming down",
)
TAIL = UsualLimit(
    name="pull of the tailer",
    value=300.0,
    unit="N",
    bound=Bound.AT_MOST,
    dimension=Dimension.FORCE,
    source="common practice: the force of two hands, no published source",
)
SPEED = UsualLimit(
    name="speed down over speed up",
    value=0.5,
    unit="1",
    bound=Bound.AT_MOST,
    dimension=None,
    source="no published source: what is surged goes no faster than half of what is hauled",
)
LIMITS = (STOPS, WAY, CARRIED, DRAWS, TAIL, SPEED)


def check_lowering(case: Case) -> Iterable[Finding]:
    """Every haul let down to its last lock.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        For each section, lift and stage: stops, way of lowering, load left on the ropes,
        pull left at the barrel, and pull of the tailer where turns are surged.
    """
    yield from told_once(list(_of_hauls(case)))


def _of_hauls(case: Case) -> Iterator[Finding]:
    for haul in hauls(case):
        if isinstance(haul, Unreckoned):
            yield not_reckoned(case, CHECK, STOPS, haul)
            continue
        yield _stops(case, haul)
        yield _way(case, haul)
        share = carried_share(case, haul.section, haul.stage, guided=haul.lift.guided)
        yield _carried(case, haul, share)
        yield from _held(case, haul, share)


def _said(case: Case, haul: Haul | Unreckoned, usual: UsualLimit, said: Said) -> Finding:
    return haul_finding(case, CHECK, haul, usual, said)


def _stops(case: Case, haul: Haul) -> Finding:
    capstans = line_capstans(case.plan, haul.lift)
    unknown = sorted({each.mark for each in capstans if each.pawls is None})
    if unknown:
        why = f"the plan does not say how many stops capstan {', '.join(unknown)} has (pawls)"
        return _said(case, haul, STOPS, Said(value=None, why=why))
    fewest = min(capstans, key=lambda each: each.pawls or 0)
    value = float(fewest.pawls or 0)
    short = value < limit_for(case, STOPS).value
    return _said(
        case,
        haul,
        STOPS,
        Said(
            value=value,
            why=f"capstan {fewest.mark} has {value:.0f} that each hold it by themselves; bars "
            "are pinned, and nobody is inside the ring while it is let down",
            remedy=("a second pawl on a wheel of its own, or a brake",) if short else (),
        ),
    )


def _way(case: Case, haul: Haul) -> Finding:
    way = haul.lift.lowered_by
    if way is None:
        why = f"the plan does not say how lift {haul.lift.name} is let down (lowered_by)"
        return _said(case, haul, WAY, Said(value=None, why=why))
    walks = way == "walking back"
    speed = lowering_speed(case.plan, haul.lift, limit_in_plan(case.plan, SPEED).value)
    return _said(
        case,
        haul,
        WAY,
        Said(
            value=float(walks),
            why=f"lift {haul.lift.name} is let down by {way}, at {speed * 60:.2f} m/min",
            remedy=("surge the turns round a barrel held by its stops",) if walks else (),
        ),
    )


def carried_share(case: Case, section: str, stage: str, *, guided: bool) -> tuple[float, float]:
    """Least share of the weight that the ropes carry while a section goes down.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.
    section, stage : str
        Of the haul.
    guided : bool
        Whether shoes hold it.

    Returns
    -------
    share : float
        1 where no shoes drag.
    heel : float
        Heel height at which it is least; not a number where it is the same everywhere. [m]
    """
    least, at = 1.0, float("nan")
    if not guided:
        return least, at
    friction = shoe_friction(case.plan)
    pressure = gust_pressure(limit_in_plan(case.plan, HAULING).value)
    offset = asked_of(case.plan).offset
    for state in states_of(case):
        if state.stage != stage or not state.moves or state.passage.moving[0] != section:
            continue
        joint = next(each for each in state.joints if each.section == section)
        loads = shoe_loads(joint, pressure, 0.0)
        if loads is None:
            continue
        jam = 2 * friction * offset / loads.spacing
        wind = friction * loads.total / joint.stand.weight
        share = float(carried_going_down(jam, wind))
        if share < least:
            least, at = share, joint.heel
    return least, at


def _carried(case: Case, haul: Haul, share: tuple[float, float]) -> Finding:
    least, heel = share
    weight = max(float(curve.weight.max()) for curve in haul.curves)
    held = len(haul.lift.lines)
    keep = limit_for(case, CARRIED).value / 100
    why = (
        f"shoes greased to {shoe_friction(case.plan):g} leave {least:.1%} of "
        f"{weight / 1e3:.0f} kN on the ropes"
        if haul.lift.guided
        else f"it hangs free: all of {weight / 1e3:.0f} kN stays on the ropes"
    )
    why += (
        f"; if it hangs up, never ease below {keep * weight / 1e3:.0f} kN in all, "
        f"{keep * weight / held / 1e3:.1f} kN a tackle: freed then it snatches "
        f"{fall_onto_ropes(-keep, 1.0):.2f} times, 2 times on ropes just slack and more "
        "beyond; stop, pawls down, stoppers on, free it from fixed staging"
    )
    return _said(
        case,
        haul,
        CARRIED,
        Said(
            value=round(least * 100, 9),
            why=why,
            heel=None if np.isnan(heel) else heel,
            remedy=("grease the shoes, wait for less wind",) if least < keep else (),
        ),
    )


def _held(case: Case, haul: Haul, share: tuple[float, float]) -> Iterator[Finding]:
    downs = []
    for curve in haul.curves:
        if not np.isfinite(curve.tensions).any():
            why = f"{haul.section} finds no rest on its lines, so no rope has a load"
            for usual in (DRAWS, TAIL):
                yield _said(case, haul, usual, Said(value=None, why=why))
            return
        passage = case.raise_.passages[curve.passage]
        factor = mass_factor(case.plan, moving_mass(case.shapes, passage))
        downs.append(letting_down(case.plan, curve, factor, share[0]))
    yield _draws(case, haul, downs)
    if haul.lift.lowered_by != "brake":
        yield _tail(case, haul, downs)


def _draws(case: Case, haul: Haul, downs: list[LettingDown]) -> Finding:
    ratios = [each.least / each.hauling for each in downs]
    which = min(range(len(ratios)), key=lambda n: float(np.nanmin(ratios[n])))
    row, line = np.unravel_index(int(np.nanargmin(ratios[which])), ratios[which].shape)
    down, value = downs[which], float(ratios[which][row, line])
    curve = down.curve
    return _said(
        case,
        haul,
        DRAWS,
        Said(
            value=round(value * 100, 9),
            why=f"tackle {curve.lines[line]} draws {down.least[row, line] / 1e3:.2f} kN at its "
            "barrel going down, the least, and "
            f"{down.hauling[row, line] / 1e3:.2f} kN haul it: the rest is friction of sheaves "
            "and leads, which holds with the tailer",
            heel=float(curve.heels[row]),
            remedy=("fewer lead blocks, or blocks that run more freely",)
            if value * 100 < limit_for(case, DRAWS).value
            else (),
        ),
    )


def _tail(case: Case, haul: Haul, downs: list[LettingDown]) -> Finding:
    worst = max(downs, key=lambda each: each.tail)
    row, line = np.unravel_index(int(np.nanargmax(worst.most)), worst.most.shape)
    turns = min(each.turns for each in downs)
    return _said(
        case,
        haul,
        TAIL,
        Said(
            value=round(worst.tail, 6),
            why=f"{worst.turns:g} turns still surge on the least pull at {DRY:g} friction "
            f"({turns:g} at least along the haul); with them {worst.tail:.0f} N hold the most, "
            f"{worst.most[row, line] / 1e3:.2f} kN of tackle {worst.curve.lines[line]}, at "
            f"{WET:g}; to stand still take on a turn and drop the pawls",
            heel=float(worst.curve.heels[row]),
            remedy=("a brake or friction post beside the barrel", "two tailers a capstan")
            if worst.tail > limit_for(case, TAIL).value
            else (),
        ),
    )


def speed_share(plan: Plan) -> float:
    """Share of the hauling speed at which a section is let down.

    Parameters
    ----------
    plan : Plan
        May choose it.

    Returns
    -------
    share : float
        For lifts that do not say their speed.
    """
    return limit_in_plan(plan, SPEED).value
