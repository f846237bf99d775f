"""Capstan ground: who stands where, where the ropes run, and what their blocks carry."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from towerlift.checks.case import Case, limit_for, overrule_for
from towerlift.checks.hauls import Haul, Unreckoned, hauls
from towerlift.checks.strength import mass_factor
from towerlift.findings import Bound, Finding
from towerlift.mechanics.ground import (
    distance_to_box,
    distance_to_run,
    distance_to_sector,
    runs_cross,
)
from towerlift.motion.masses import moving_mass
from towerlift.plan.limits import UsualLimit
from towerlift.plan.rigging import Capstan
from towerlift.rig.curves import Floats
from towerlift.rig.leads import BURST, Lead, leads_of
from towerlift.rig.pulls import rope_path
from towerlift.units import Dimension

CHECK = "capstan ground"
# People walk outside their hands; a rope that parts flies within this of its line.
BODY, SNAP = 0.6, np.radians(15.0)

APART = UsualLimit(
    name="room between rings",
    value=1.0,
    unit="m",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="common practice, no published source: a walk of 1 m round each ring of bars, 0.6 m "
    "of it for those who push counted to the ring",
)
WALL = replace(APART, name="room to the wall")
ROPE = UsualLimit(
    name="rope past a ring",
    value=0.5,
    unit="m",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="common practice, no published source: nobody within reach of another crew's fall",
)
SNAP_BACK = UsualLimit(
    name="snap-back",
    value=0.0,
    unit="m",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="common practice, no published source: no other crew within 15 degrees of the line "
    "of a fall, as far as it may fly",
)
CROSSING = UsualLimit(
    name="falls that cross",
    value=0.0,
    unit="count",
    bound=Bound.AT_MOST,
    dimension=None,
    source="common practice: falls run clear of each other on the ground",
)
SQUARE = UsualLimit(
    name="lead to the barrel",
    value=2.0,
    unit="deg",
    bound=Bound.AT_MOST,
    dimension=Dimension.ANGLE,
    source="common practice for turns that neither ride nor climb, no published source",
)
BLOCK = UsualLimit(
    name="rating of lead blocks",
    value=1.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="statics: rated load of block and strop over its resultant, by the burst of a crew "
    "where that is more",
)
ANCHOR = UsualLimit(
    name="anchor test",
    value=1.25,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice for temporary gear: tested to 1.25 of the worst pull",
)
ANCHOR_BURST = UsualLimit(
    name="anchor under a burst",
    value=1.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice: anchors tested for all that the hands at the bars can give for a "
    "few seconds, 300 N each",
)
LIMITS = (APART, WALL, ROPE, SNAP_BACK, CROSSING, SQUARE, BLOCK, ANCHOR, ANCHOR_BURST)


def check_capstan_ground(case: Case) -> Iterable[Finding]:
    """Rings, ropes, walls and blocks on the ground, for every haul.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        For the capstans of the whole plan, then for each lift at its hardest pull.
    """
    yield _rings(case)
    yield _walls(case)
    hardest: dict[str, tuple[float, Haul]] = {}
    for haul in hauls(case):
        if isinstance(haul, Unreckoned):
            continue
        pull = max(float(np.nan_to_num(each.weight).max()) for each in haul.curves)
        if haul.lift.name not in hardest or pull > hardest[haul.lift.name][0]:
            hardest[haul.lift.name] = pull, haul
    for _, haul in hardest.values():
        yield from _lift(case, haul)


def ring(capstan: Capstan) -> float:
    """Radius that a capstan takes with those who push. [m]"""
    return capstan.bar_radius + BODY


def middle(capstan: Capstan) -> Floats:
    """Centre of a capstan, seen from above, (2,). [m]"""
    return np.array([capstan.x, capstan.y])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    subject: str
    stage: str
    value: float | None
    why: str
    where: tuple[float, float, float] | None = None
    remedy: tuple[str, ...] = ()


def _finding(case: Case, usual: UsualLimit, said: _Said) -> Finding:
    limit = limit_for(case, usual)
    short = said.value is not None and (
        said.value < limit.value if limit.bound is Bound.AT_LEAST else said.value > limit.value
    )
    return Finding(
        check=CHECK,
        subject=said.subject,
        stage=said.stage,
        heel=None,
        where=said.where,
        limit=limit,
        overrule=overrule_for(case, usual, said.subject, said.stage),
        value=None if said.value is None else round(said.value, 9),
        why=f"{usual.name}: {said.why}",
        remedy=said.remedy if short else (),
    )


def _rings(case: Case) -> Finding:
    pairs = list(combinations(case.plan.capstans, 2))
    if not pairs:
        why = f"{len(case.plan.capstans)} capstans are planned: no two to stand apart"
        return _finding(case, APART, _Said(subject="capstans", stage="", value=None, why=why))
    apart = [float(np.linalg.norm(middle(a) - middle(b))) - ring(a) - ring(b) for a, b in pairs]
    n = int(np.argmin(apart))
    first, second = pairs[n]
    return _finding(
        case,
        APART,
        _Said(
            subject="capstans",
            stage="",
            value=apart[n],
            where=(first.x, first.y, 0.0),
            why=f"rings of {first.mark} and {second.mark} are {apart[n]:.2f} m apart",
            remedy=(f"set {first.mark} and {second.mark} farther apart",),
        ),
    )


def _wall_box(case: Case) -> tuple[Floats, Floats] | None:
    shaft = case.plan.shaft
    if shaft.wall_thickness is None or not shaft.survey:
        return None
    low = np.array([min(s.west for s in shaft.survey), min(s.south for s in shaft.survey)])
    high = np.array([max(s.east for s in shaft.survey), max(s.north for s in shaft.survey)])
    return low - shaft.wall_thickness, high + shaft.wall_thickness


def _walls(case: Case) -> Finding:
    box = _wall_box(case)
    if box is None or not case.plan.capstans:
        why = "the plan does not say how thick the wall is at its foot, or has no capstans"
        return _finding(case, WALL, _Said(subject="capstans", stage="", value=None, why=why))
    room = [distance_to_box(middle(each), *box) - ring(each) for each in case.plan.capstans]
    n = int(np.argmin(room))
    capstan = case.plan.capstans[n]
    return _finding(
        case,
        WALL,
        _Said(
            subject="capstans",
            stage="",
            value=room[n],
            where=(capstan.x, capstan.y, 0.0),
            why=f"the ring of {capstan.mark} is {room[n]:.2f} m from the outside of the wall",
            remedy=(f"set {capstan.mark} farther out",),
        ),
    )


def worst_leads(case: Case, haul: Haul) -> tuple[Lead, ...] | str:
    """The falls of a haul where they pull hardest, or what is missing.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.
    haul : Haul
        Which.

    Returns
    -------
    leads : tuple of Lead, or str
        From the curve with the greatest load.
    """
    curve = max(haul.curves, key=lambda each: float(np.nan_to_num(each.tensions).max()))
    passage = case.raise_.passages[curve.passage]
    factor = mass_factor(case.plan, moving_mass(case.shapes, passage))
    return leads_of(case.plan, curve, rope_path(haul.lift, haul.pattern, factor))


def _lift(case: Case, haul: Haul) -> Iterator[Finding]:
    leads = worst_leads(case, haul)
    subject = f"lift {haul.lift.name}"
    if isinstance(leads, str):
        for usual in (ROPE, SNAP_BACK, CROSSING, SQUARE, BLOCK):
            yield _finding(
                case, usual, _Said(subject=subject, stage=haul.stage, value=None, why=leads)
            )
    else:
        yield _past(case, haul, leads)
        yield _snap(case, haul, leads)
        yield _cross(case, haul, leads)
        yield _square(case, haul, leads)
        yield _blocks(case, haul, leads)
    yield from _anchors(case, haul, leads)


def _others(leads: tuple[Lead, ...], lead: Lead) -> list[Capstan]:
    marks = {each.capstan.mark: each.capstan for each in leads}
    return [capstan for mark, capstan in marks.items() if mark != lead.capstan.mark]


def _past(case: Case, haul: Haul, leads: tuple[Lead, ...]) -> Finding:
    rooms = [
        (
            distance_to_run(middle(other), lead.points[-2, :2], lead.points[-1, :2])
            - ring(other),
            lead,
            other,
        )
        for lead in leads
        for other in _others(leads, lead)
    ]
    return _nearest(case, haul, ROPE, rooms)


def _snap(case: Case, haul: Haul, leads: tuple[Lead, ...]) -> Finding:
    rooms = []
    for lead in leads:
        start, end = lead.points[-2, :2], lead.points[-1, :2]
        for apex, towards in ((start, end - start), (end, start - end)):
            # Beyond the last block the fall goes up, and what parts there falls inside.
            if apex is end and _behind_wall(case, start, towards):
                continue
            rooms += [
                (
                    distance_to_sector(middle(other), apex, towards, SNAP) - ring(other),
                    lead,
                    other,
                )
                for other in _others(leads, lead)
            ]
    return _nearest(case, haul, SNAP_BACK, rooms)


def _behind_wall(case: Case, block: Floats, towards: Floats) -> bool:
    """Whether the wall stands behind a block, to catch what flies past it."""
    box = _wall_box(case)
    if box is None:
        return False
    way = towards / np.linalg.norm(towards)
    return any(
        distance_to_box(block + far * way, *box) <= 0 for far in np.linspace(0.1, 3.0, 30)
    )


def _nearest(
    case: Case, haul: Haul, usual: UsualLimit, rooms: list[tuple[float, Lead, Capstan]]
) -> Finding:
    subject = f"lift {haul.lift.name}"
    if not rooms:
        why = f"lift {haul.lift.name} has one capstan, and no other crew near its fall"
        value = limit_for(case, usual).value
        return _finding(
            case, usual, _Said(subject=subject, stage=haul.stage, value=value, why=why)
        )
    room, lead, other = min(rooms, key=lambda each: each[0])
    return _finding(
        case,
        usual,
        _Said(
            subject=subject,
            stage=haul.stage,
            value=room,
            where=(other.x, other.y, 0.0),
            why=(
                f"the ring of {other.mark} is {abs(room):.2f} m "
                f"{'clear of' if room >= 0 else 'in'}"
                f" {'the line' if usual is ROPE else 'the sector'} of the fall of "
                f"{lead.line.tackle} to {lead.capstan.mark}"
            ),
            remedy=(f"lead the fall of {lead.line.tackle} another way, or move {other.mark}",),
        ),
    )


def _cross(case: Case, haul: Haul, leads: tuple[Lead, ...]) -> Finding:
    crossing = [
        f"{a.line.tackle} and {b.line.tackle}"
        for a, b in combinations(leads, 2)
        if runs_cross(
            (a.points[-2, :2], a.points[-1, :2]), (b.points[-2, :2], b.points[-1, :2])
        )
    ]
    named = ", ".join(crossing[:3])
    return _finding(
        case,
        CROSSING,
        _Said(
            subject=f"lift {haul.lift.name}",
            stage=haul.stage,
            value=float(len(crossing)),
            why=f"falls of {named}" if crossing else "no two falls cross on the ground",
            remedy=("change over the capstans of falls that cross",),
        ),
    )


def _square(case: Case, haul: Haul, leads: tuple[Lead, ...]) -> Finding:
    worst = max(leads, key=lambda each: each.rise)
    x, y, z = worst.points[-1].tolist()
    return _finding(
        case,
        SQUARE,
        _Said(
            subject=f"lift {haul.lift.name}",
            stage=haul.stage,
            value=float(np.degrees(worst.rise)),
            where=(x, y, z),
            why=(
                f"the fall of {worst.line.tackle} comes onto the barrel of "
                f"{worst.capstan.mark} {np.degrees(worst.rise):.1f} deg off level"
            ),
            remedy=("set the last lead block at the height of the turns on the barrel",),
        ),
    )


def _blocks(case: Case, haul: Haul, leads: tuple[Lead, ...]) -> Finding:
    subject = f"lift {haul.lift.name}"
    rating = haul.pattern.lead_rating
    loads = [
        (float(np.linalg.norm(load)) * max(1.0, lead.burst / float(lead.pulls[-1])), lead, n)
        for lead in leads
        for n, load in enumerate(lead.blocks)
    ]
    if rating is None or not loads:
        why = f"the plan gives no rating of the lead blocks of {haul.pattern.name}"
        if not loads:
            why = f"{haul.pattern.name} has no lead blocks"
        return _finding(
            case, BLOCK, _Said(subject=subject, stage=haul.stage, value=None, why=why)
        )
    load, lead, n = max(loads, key=lambda each: each[0])
    x, y, z = lead.points[n + 1].tolist()
    hauling = float(np.linalg.norm(lead.blocks[n]))
    return _finding(
        case,
        BLOCK,
        _Said(
            subject=subject,
            stage=haul.stage,
            value=rating / load,
            where=(x, y, z),
            why=(
                f"lead block {n + 1} of {lead.line.tackle} carries {hauling / 1e3:.1f} kN "
                "hauling "
                f"at worst and {load / 1e3:.1f} kN in a burst, of {rating / 1e3:.1f} kN rated"
            ),
            remedy=(f"blocks and strops rated {load / 1e3:.1f} kN",),
        ),
    )


def _anchors(case: Case, haul: Haul, leads: tuple[Lead, ...] | str) -> Iterator[Finding]:
    subject = f"lift {haul.lift.name}"
    untested = [line.capstan for line in haul.lift.lines]
    untested = [
        each.mark for each in case.plan.capstans if each.mark in untested and not each.anchor
    ]
    if untested or isinstance(leads, str):
        why = leads if isinstance(leads, str) else f"no test of the anchor of {untested[0]}"
        for usual in (ANCHOR, ANCHOR_BURST):
            yield _finding(
                case, usual, _Said(subject=subject, stage=haul.stage, value=None, why=why)
            )
        return
    for usual, pulls, how in (
        (ANCHOR, [float(each.pulls[-1]) for each in leads], "hauling at worst"),
        (ANCHOR_BURST, [each.burst for each in leads], f"in a burst of {BURST:.0f} N a hand"),
    ):
        factors = [
            (each.capstan.anchor or 0.0) / pull for each, pull in zip(leads, pulls, strict=True)
        ]
        n = int(np.argmin(factors))
        capstan = leads[n].capstan
        asked = limit_for(case, usual).value * pulls[n] / 1e3
        yield _finding(
            case,
            usual,
            _Said(
                subject=subject,
                stage=haul.stage,
                value=factors[n],
                where=(capstan.x, capstan.y, 0.0),
                why=(
                    f"capstan {capstan.mark} pulls {pulls[n] / 1e3:.1f} kN {how}; its anchor "
                    "is "
                    f"tested to {(capstan.anchor or 0.0) / 1e3:.1f} kN"
                ),
                remedy=(f"test the anchors to {asked:.1f} kN",),
            ),
        )
