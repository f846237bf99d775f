"""Recovery rehearsed: every single failure of every haul, and the way back from it.

A rope, a corner, a pawl, a crew or a jam: at each half metre the section must stand after
it, on ropes that still bear, with a safe place that it can reach and a crew told off to
take it there.
"""

from collections.abc import Iterable, Iterator
from math import isfinite

from towerlift.checks.case import Case, limit_for
from towerlift.checks.hauls import Said, Unreckoned, haul_finding, hauls, not_reckoned
from towerlift.checks.lowering import speed_share
from towerlift.checks.recovery_swing import swing_findings
from towerlift.checks.strength import mass_factor
from towerlift.findings import Bound, Finding
from towerlift.motion.masses import moving_mass
from towerlift.plan.limits import UsualLimit, limit_in_plan
from towerlift.plan.model import Plan
from towerlift.rig.recovery import Rehearsed, rehearse
from towerlift.rig.recovery_ways import Drill, Ways, plan_lift, ways_of
from towerlift.units import Dimension

CHECK = "recovery"
# A factor or a time beyond these is told as these.
LARGEST, LONGEST = 999.0, 9999.0
MINUTE = 60.0


def _time(name: str, value: float, what: str) -> UsualLimit:
    return UsualLimit(
        name=name,
        value=value,
        unit="min",
        bound=Bound.AT_MOST,
        dimension=Dimension.TIME,
        source=f"no published source: {what}; the master rigger times it at the drill",
    )


SPARE = _time("time to hang a spare tackle", 60.0, "spare with its pendant slung ready")
STOPPERS = _time("time to set stoppers", 20.0, "a stopper on every fall, a pawl made good")
RELIEF = _time("time to relieve a crew", 10.0, "reserve hands beside their capstan")
JAM = _time("time to free a jam", 60.0, "from fixed staging, with the load held")
LANDING = _time("time to land and make fast", 30.0, "seated, wedged and hammered")
SAFE = UsualLimit(
    name="time to a safe state",
    value=240.0,
    unit="min",
    bound=Bound.AT_MOST,
    dimension=Dimension.TIME,
    source="no published source: half a working day, within one forecast and one daylight; "
    "the person in charge sets it",
)
TO_SPARE = UsualLimit(
    name="time to spare when it is fast",
    value=15.0,
    unit="min",
    bound=Bound.AT_LEAST,
    dimension=Dimension.TIME,
    source="no published source: a quarter of an hour for what the day brings; the person in "
    "charge sets it",
)
STANDS = UsualLimit(
    name="single failures it does not stand",
    value=0.0,
    unit="count",
    bound=Bound.AT_MOST,
    dimension=Dimension.COUNT,
    source="common practice: no single rope, pawl, crew or jam may bring a section down",
)
FACTOR = UsualLimit(
    name="rope factor after a single failure",
    value=5.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice after a loss, no published source; US 29 CFR 1926.1431(g) asks 5 "
    "of hardware that lifts people",
)
WAY_OUT = UsualLimit(
    name="heights with no way to a safe state",
    value=0.0,
    unit="count",
    bound=Bound.AT_MOST,
    dimension=Dimension.COUNT,
    source="common practice: from every height a section can go back or on to a lock",
)
PROOF = UsualLimit(
    name="proof of a corner",
    value=2.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice for temporary gear whose failure nothing else catches: proved to "
    "twice the load, no published source",
)
LIMITS = (
    SPARE,
    STOPPERS,
    RELIEF,
    JAM,
    LANDING,
    SAFE,
    TO_SPARE,
    STANDS,
    FACTOR,
    WAY_OUT,
    PROOF,
)


def drill_of(plan: Plan) -> Drill:
    """Times of a plan's drills.

    Parameters
    ----------
    plan : Plan
        May choose other times than the usual.

    Returns
    -------
    drill : Drill
        In SI.
    """

    def seconds(usual: UsualLimit) -> float:
        return MINUTE * limit_in_plan(plan, usual).value

    return Drill(
        spare=seconds(SPARE),
        stoppers=seconds(STOPPERS),
        relief=seconds(RELIEF),
        jam=seconds(JAM),
        landing=seconds(LANDING),
        lowering=speed_share(plan),
    )


def rehearsal(case: Case) -> tuple[Rehearsed, ...]:
    """Every single failure at every half metre of every haul, worked out once.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Returns
    -------
    rehearsed : tuple of Rehearsed
        For stage cards and lift plans as much as for the check.
    """
    shop = case.workshop

    def work() -> tuple[Rehearsed, ...]:
        factors = {
            curve.passage: mass_factor(
                case.plan, moving_mass(case.shapes, case.raise_.passages[curve.passage])
            )
            for curve in case.hangs
        }
        return rehearse(shop, case.hangs, drill_of(case.plan), factors)

    return shop.kept(("rehearsal",), work)


def check_recovery(case: Case) -> Iterable[Finding]:
    """The rehearsal of every haul against its limits.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        For each section, lift and stage: what it does not stand, least rope factor, proof
        of the corners where the loss of one would topple it, heights with no way out, and
        the longest time to a safe state.
    """
    for haul in hauls(case):
        if isinstance(haul, Unreckoned):
            yield not_reckoned(case, CHECK, STANDS, haul)
    for ways in ways_of(case.workshop, drill_of(case.plan)):
        key = (ways.section, ways.stage, ways.lift)
        own = [each for each in rehearsal(case) if (each.section, each.stage, each.lift) == key]
        if own:
            yield from _of_haul(case, ways, own)
    yield from swing_findings(case)


def _finding(case: Case, ways: Ways, usual: UsualLimit, said: Said) -> Finding:
    return haul_finding(case, CHECK, ways, usual, said)


def _of_haul(case: Case, ways: Ways, own: list[Rehearsed]) -> Iterator[Finding]:
    corner_topples = any(each.failure == "corner" and not each.stands for each in own)
    judged = [each for each in own if each.failure != "corner" or not corner_topples]
    fallen = [each for each in judged if not each.stands]
    yield _stands(case, ways, fallen)
    if corner_topples:
        yield _proof(case, ways, own)
    standing = [each for each in judged if each.stands]
    if not standing:
        return
    yield _factor(case, ways, standing)
    lost = [each for each in standing if not isfinite(each.minutes)]
    yield _way_out(case, ways, lost)
    reached = [each for each in standing if isfinite(each.minutes)]
    if reached:
        yield _minutes(case, ways, reached)


def _stands(case: Case, ways: Ways, fallen: list[Rehearsed]) -> Finding:
    kinds = sorted({each.failure for each in fallen})
    why = "rope, pawl, crew and jam rehearsed at every half metre: it stands them all"
    heel = None
    if fallen:
        first = fallen[0]
        heel = first.heel
        why = (
            f"the {ways.section} does not stand the loss of {', '.join(kinds)}: {first.what} "
            f"at heel {first.heel:.2f} m"
        )
    return _finding(
        case,
        ways,
        STANDS,
        Said(
            value=float(len(kinds)),
            why=why,
            heel=heel,
            remedy=("two tackles a corner, on capstans of their own", "a second stop", "guides")
            if kinds
            else (),
        ),
    )


def _proof(case: Case, ways: Ways, own: list[Rehearsed]) -> Finding:
    lift = plan_lift(case.plan, ways.lift)
    shared: dict[str, int] = {}
    for line in lift.lines:
        shared[line.lift_point] = shared.get(line.lift_point, 0) + 1
    curves = [
        curve
        for curve in case.hangs
        if curve.passage in {passage.index for passage in ways.passages}
    ]
    load = max(
        float(curve.weight.max())
        / len(shared)
        * lift.worst_corner
        * mass_factor(case.plan, moving_mass(case.shapes, case.raise_.passages[curve.passage]))
        for curve in curves
    )
    topples = next(each for each in own if each.failure == "corner" and not each.stands)
    why = (
        f"the {ways.section} hangs free and topples if {topples.what} goes: nothing catches "
        f"it, so each lift point with its strops must be proved beyond doubt; a corner takes "
        f"{load / 1e3:.0f} kN, "
    )
    if lift.corner_proof is None:
        why += f"and lift {lift.name} gives no corner_proof"
        return _finding(case, ways, PROOF, Said(value=None, why=why))
    value = lift.corner_proof / load
    return _finding(
        case,
        ways,
        PROOF,
        Said(
            value=value,
            why=f"{why}proved to {lift.corner_proof / 1e3:.0f} kN",
            remedy=("prove them higher", "side ropes or guides that keep it upright")
            if value < limit_for(case, PROOF).value
            else (),
        ),
    )


def _factor(case: Case, ways: Ways, standing: list[Rehearsed]) -> Finding:
    worst = min(standing, key=lambda each: each.factor)
    short = worst.factor < limit_for(case, FACTOR).value
    return _finding(
        case,
        ways,
        FACTOR,
        Said(
            value=min(worst.factor, LARGEST),
            why=f"{worst.failure} ({worst.what}): {worst.load / 1e3:.1f} kN on a tackle at the "
            f"peak; {worst.do}; then {worst.safe}; {worst.who}",
            heel=worst.heel,
            remedy=("stronger rope, or more tackles",) if short else (),
        ),
    )


def _way_out(case: Case, ways: Ways, lost: list[Rehearsed]) -> Finding:
    heels = sorted({round(each.heel, 3) for each in lost})
    turning = ways.turning_point
    back = (
        "no lock" if ways.back is None else f"the {ways.back.carrier} at {ways.back.heel:.2f} m"
    )
    on = "no lock" if ways.on is None else f"the {ways.on.carrier} at {ways.on.heel:.2f} m"
    why = f"back to {back}, on to {on}"
    if turning is not None:
        why += f"; going on is quicker from heel {turning:.2f} m"
    if ways.shut:
        why += "; " + "; ".join(f"above {above:.2f} m {what}" for _, above, what in ways.shut)
    return _finding(
        case,
        ways,
        WAY_OUT,
        Said(
            value=float(len(heels)),
            why=why,
            heel=heels[0] if heels else None,
            remedy=("a lock to come back to, or to go on to, in the same stage",)
            if heels
            else (),
        ),
    )


def _minutes(case: Case, ways: Ways, reached: list[Rehearsed]) -> Finding:
    worst = max(reached, key=lambda each: each.minutes)
    return _finding(
        case,
        ways,
        SAFE,
        Said(
            value=round(min(worst.minutes, LONGEST), 6),
            why=f"{worst.failure} at heel {worst.heel:.2f} m, {worst.safe}: {worst.do}",
            heel=worst.heel,
            remedy=("a lock on the way", "quicker drills: spare tackles slung and rove")
            if worst.minutes > limit_for(case, SAFE).value
            else (),
        ),
    )
