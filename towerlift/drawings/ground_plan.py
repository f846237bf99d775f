"""Plan of leads: shaft, falls, blocks, capstans and who keeps out of where."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from math import atan2, cos, pi, sin

import numpy as np

from towerlift.checks.capstan_ground import BODY, SNAP, worst_leads
from towerlift.checks.case import Case
from towerlift.checks.hauls import Unreckoned, hauls
from towerlift.drawings.drawing import Drawing, Layer, Pattern, Place, Words
from towerlift.drawings.easel import Easel, scale_for
from towerlift.drawings.paper import SCALES, Room
from towerlift.drawings.titles import stem, wrapped
from towerlift.plan.model import Plan
from towerlift.plan.rigging import Capstan, Lift
from towerlift.rig.curves import Floats
from towerlift.rig.leads import Lead
from towerlift.workflow import Outcome

REACH = 1.35
"""Length of a snap-back sector over the run it guards against."""
ARROW = 9.0
"""Length on paper of the greatest resultant. [mm]"""
BLOCK = 0.9
"""Half of the sign of a lead block on paper. [mm]"""
TRIES = 4
"""Scales tried until all words find room."""
EDGE = 0.8
"""Ground shown beyond the outermost ring. [m]"""


def lift_leads(outcome: Outcome, lift: str) -> tuple[Lead, ...] | str:
    """Falls of a lift where it pulls hardest in the whole raise, or what is missing.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    lift : str
        Its name.

    Returns
    -------
    leads : tuple of Lead, or str
        In the order of the lines; in words why there are none.

    Raises
    ------
    ValueError
        If the plan has no such lift.
    """
    _lift(outcome.plan, lift)
    nesting = outcome.nesting
    case = Case(
        plan=outcome.plan,
        shapes=outcome.shapes,
        raise_=outcome.raise_,
        gaps=nesting.curves,
        hangs=outcome.hangs,
        margins=nesting.margins,
        rests=nesting.rests,
        contacts=nesting.contacts,
        shop=nesting.workshop,
    )
    found: list[tuple[Lead, ...]] = []
    for haul in hauls(case):
        if isinstance(haul, Unreckoned) or haul.lift.name != lift:
            continue
        leads = worst_leads(case, haul)
        if isinstance(leads, str):
            return leads
        found.append(leads)
    if not found:
        return f"no haul of lift {lift} was reckoned in this raise"
    return max(found, key=lambda leads: max(float(lead.pulls[-1]) for lead in leads))


def _lift(plan: Plan, name: str) -> Lift:
    found = next((lift for lift in plan.lifts if lift.name == name), None)
    if found is None:
        raise ValueError(f"the plan has no lift called {name!r}")
    return found


def leads_drawing(outcome: Outcome, lift: str, room: Room) -> Drawing:
    """Plan of the capstan ground in one lift, north up.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    lift : str
        Its name.
    room : Room
        On paper.

    Returns
    -------
    drawing : Drawing
        Rings, falls, blocks with their loads, snap-back sectors and anchors. Where the
        plan does not place the lead blocks it says so, and draws what there is.

    Raises
    ------
    ValueError
        If the plan has no such lift.
    """
    plan = outcome.plan
    body = _lift(plan, lift)
    room = replace(room, text=0.86 * room.text)
    leads = lift_leads(outcome, lift)
    falls = () if isinstance(leads, str) else leads
    low, high = _ground(plan, falls)
    notes = _notes(leads, room)
    foot = 3.0 + len(notes) * 1.8 * room.text
    tall = room.height - foot
    scale = scale_for((high[0] - low[0], high[1] - low[1]), (room.width, tall))
    middle = ((low[0] + high[0]) / 2, (low[1] + high[1]) / 2)
    # Where the words find no room at the largest scale, the next smaller ones are tried.
    for smaller in [each for each in SCALES if each >= scale][:TRIES] or [scale]:
        easel = Easel(smaller, room)
        half = (room.width * easel.unit / 2, tall * easel.unit / 2)
        window = (
            (middle[0] - half[0], middle[1] - half[1]),
            (middle[0] + half[0], middle[1] + half[1]),
        )
        easel.keep_within(*window)
        if _draw(easel, plan, body, falls):
            break
    view = easel.view(f"Leads of {lift}", *window, (0.0, foot))
    lines = tuple(
        Words(at=(1.0, foot - 2.0 - (n + 0.5) * 1.8 * room.text), text=line, height=room.text)
        for n, line in enumerate(notes)
    )
    return Drawing(
        key=f"leads-{stem(lift)}",
        title=f"Leads of {lift}, from above, north up",
        says=_in_words(falls) or "; ".join(notes),
        width=room.width,
        height=room.height,
        measure=room.measure,
        views=(view,),
        notes=lines,
    )


def _notes(leads: tuple[Lead, ...] | str, room: Room) -> list[str]:
    if isinstance(leads, str):
        text = f"NOT EVALUATED: {leads}."
    else:
        most = max((np.linalg.norm(b) for lead in leads for b in lead.blocks), default=0.0)
        text = (
            f"Arrows: level part of the load on each lead block, the greatest {most / 1e3:.1f} "
            "kN; beside each capstan the pull at its barrel, hauling at worst. Outer ring: "
            "room for those at the bars. Dash-dot sectors: nobody stands there while a "
            f"rope is under load ({np.degrees(SNAP):.0f} degrees each side of the last run)."
        )
    return wrapped(text, room.text, room.width - 4)


def _in_words(leads: Sequence[Lead]) -> str:
    return "; ".join(
        f"{lead.line.tackle} to {lead.capstan.mark}, {lead.pulls[-1] / 1e3:.1f} kN"
        for lead in leads
    )


def _ground(plan: Plan, leads: Sequence[Lead]) -> tuple[Place, Place]:
    reach = [
        (c.x + sx * (c.bar_radius + BODY), c.y + sy * (c.bar_radius + BODY))
        for c in plan.capstans
        for sx, sy in ((-1, -1), (1, 1))
    ]
    reach += [(float(p[0]), float(p[1])) for lead in leads for p in lead.points]
    reach += [point for lead in leads for point in _sector(lead)]
    corners = _wall(plan)
    if corners is not None:
        reach += [tuple(c) for ring in corners for c in ring.tolist()]
    points = np.array(reach or [(-5.0, -5.0), (5.0, 5.0)])
    low, high = points.min(axis=0) - EDGE, points.max(axis=0) + EDGE
    return (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))


def _wall(plan: Plan) -> tuple[Floats, ...] | None:
    """Inside of the masonry at its foot, and the outside where its thickness is known."""
    survey = plan.shaft.survey
    if not survey:
        return None
    s = survey[0]
    inside = np.array(
        [(s.west, s.south), (s.east, s.south), (s.east, s.north), (s.west, s.north)]
    )
    thick = plan.shaft.wall_thickness
    if not thick:
        return (inside,)
    out = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * thick
    return inside + out, inside


def _draw(easel: Easel, plan: Plan, lift: Lift, leads: Sequence[Lead]) -> bool:
    """Draw it all; whether all words found room."""
    rings = _wall(plan)
    if rings is not None:
        for ring in rings:
            easel.line(ring, Layer.STONE, closed=True)
        if len(rings) > 1:
            easel.fill(rings, Pattern.STONE, Layer.STONE)
    used = {line.capstan for line in lift.lines}
    for lead in leads:
        _guard(easel, lead)
    for lead in leads:
        _fall(easel, lead)
    for capstan in plan.capstans:
        _ring(easel, capstan, at_work=capstan.mark in used)
    _sizes(easel, plan, leads)
    _north(easel)
    most = max((float(np.linalg.norm(b[:2])) for ld in leads for b in ld.blocks), default=1.0)
    placed = [_forces(easel, lead, most) for lead in leads]
    for capstan in plan.capstans:
        lead_here = next((ld for ld in leads if ld.capstan.mark == capstan.mark), None)
        placed.append(_named(easel, capstan, lead_here, at_work=capstan.mark in used))
    for lead in leads:
        x, y = float(lead.points[0][0]), float(lead.points[0][1])
        placed.append(easel.note((x, y), lead.line.tackle, reach=2.0))
    return all(placed)


def _ring(easel: Easel, capstan: Capstan, *, at_work: bool) -> None:
    centre = (capstan.x, capstan.y)
    bars = Layer.FIXTURE if at_work else Layer.FAINT
    easel.arc(centre, capstan.bar_radius, bars)
    easel.arc(centre, capstan.bar_radius + BODY, Layer.PEOPLE)
    easel.arc(centre, capstan.barrel_diameter / 2, Layer.IRON)
    easel.hold_ring(centre, capstan.bar_radius + BODY)
    _mark(easel, capstan)
    n_bars = max(2, (capstan.hands + 1) // 2)
    for n in range(n_bars):
        angle = 2 * pi * (n + 0.5) / n_bars
        c, s = cos(angle), sin(angle)
        inner, outer = capstan.barrel_diameter / 2, capstan.bar_radius + 0.25
        ends = [(capstan.x + r * c, capstan.y + r * s) for r in (inner, outer)]
        easel.line(ends, Layer.FAINT)


def _mark(easel: Easel, capstan: Capstan) -> None:
    """The capstan's mark in its own ring, on the side the rope does not come from."""
    away = np.array([capstan.x, capstan.y])
    run = float(np.linalg.norm(away))
    way = away / run if run > 0 else np.array([0.0, 1.0])
    middle = (capstan.barrel_diameter / 2 + capstan.bar_radius) / 2
    at = (capstan.x + middle * float(way[0]), capstan.y + middle * float(way[1]))
    easel.words(at, capstan.mark, across="middle", bold=True)


def _sector(lead: Lead) -> list[Place]:
    """Foot of the sector and points along its arc."""
    start, end = lead.points[-2, :2], lead.points[-1, :2]
    run = end - start
    far = REACH * float(np.linalg.norm(run))
    if not far > 0:
        return []
    turn = atan2(run[1], run[0])
    angles = np.linspace(turn - SNAP, turn + SNAP, 9).tolist()
    x, y = float(start[0]), float(start[1])
    return [(x, y), *((x + far * cos(a), y + far * sin(a)) for a in angles)]


def _guard(easel: Easel, lead: Lead) -> None:
    points = _sector(lead)
    if not points:
        return
    foot, edges = points[0], points[1:]
    easel.line([edges[0], foot, edges[-1]], Layer.KEEP_OUT)
    far = float(np.hypot(edges[0][0] - foot[0], edges[0][1] - foot[1]))
    angles = [atan2(p[1] - foot[1], p[0] - foot[0]) for p in (edges[0], edges[-1])]
    easel.arc(foot, far, Layer.KEEP_OUT, ends=(angles[0], angles[0] + 2 * SNAP))
    for a, b in zip(points, [*edges, foot], strict=True):
        easel.hold_line(a, b)


def _fall(easel: Easel, lead: Lead) -> None:
    easel.line(lead.points[:, :2], Layer.ROPE)
    for a, b in zip(lead.points[:-1], lead.points[1:], strict=True):
        easel.hold_line((float(a[0]), float(a[1])), (float(b[0]), float(b[1])))
    half = BLOCK * easel.unit
    for point in lead.points[1:-1]:
        x, y = float(point[0]), float(point[1])
        box = [(x - half, y - half), (x + half, y - half), (x + half, y + half),
               (x - half, y + half)]  # fmt: skip
        easel.fill([box], Pattern.SOLID, Layer.IRON)


def _forces(easel: Easel, lead: Lead, most: float) -> bool:
    length = ARROW * easel.unit / most
    for n, load in enumerate(lead.blocks):
        foot = lead.points[1 + n, :2]
        way = length * load[:2]
        run = float(np.linalg.norm(way))
        if run < 1.5 * easel.unit:
            continue
        tip = foot + way
        aside = np.array([-way[1], way[0]]) / run
        along = way / run
        barb = 1.6 * easel.unit
        barbs = [tip - barb * along + sign * 0.4 * barb * aside for sign in (1, -1)]
        easel.line(np.array([foot, tip]), Layer.FORCE)
        easel.line(np.array([barbs[0], tip, barbs[1]]), Layer.FORCE)
        easel.hold_line((float(foot[0]), float(foot[1])), (float(tip[0]), float(tip[1])))
    if len(lead.blocks):
        foot, load = lead.points[-2], lead.blocks[-1]
        tip = foot[:2] + length * load[:2]
        words = f"{float(np.linalg.norm(load)) / 1e3:.1f} kN"
        return easel.note((float(tip[0]), float(tip[1])), words, reach=1.6)
    return True


def _named(easel: Easel, capstan: Capstan, lead: Lead | None, *, at_work: bool) -> bool:
    rows = [f"{capstan.mark}: {capstan.hands} + {capstan.reserve} spare"]
    if lead is not None:
        rows.append(f"{lead.line.tackle}, {lead.line.coil}")
        rows.append(f"pull {lead.pulls[-1] / 1e3:.1f} kN")
    elif at_work:
        rows.append("pull not evaluated")
    if capstan.anchor is not None:
        rows.append(f"anchor {capstan.anchor / 1e3:.0f} kN")
    return easel.block((capstan.x, capstan.y), rows, clear=capstan.bar_radius + BODY)


def _sizes(easel: Easel, plan: Plan, leads: Sequence[Lead]) -> None:
    """Where capstans stand: across and up from the plumb datum."""
    if not plan.capstans:
        return
    _, high = _ground(plan, leads)
    least = 12.0 * easel.unit
    # From the edges of the rings, so that no line crosses what is written in them.
    row = [c for c in plan.capstans if c.y == max(each.y for each in plan.capstans)]
    tops = {0.0: 0.0} | {c.x: c.y + c.bar_radius + BODY for c in row}
    line = high[1] - 0.3 * EDGE
    for a, b in pairwise(sorted(tops)):
        if b - a > least:
            easel.size((a, tops[a]), (b, tops[b]), (0.0, line), 0.0)
    column = [c for c in plan.capstans if c.x == max(each.x for each in plan.capstans)]
    sides = {0.0: 0.0} | {c.y: c.x + c.bar_radius + BODY for c in column}
    line = high[0] - 0.3 * EDGE
    for a, b in pairwise(sorted(sides)):
        if b - a > least:
            easel.size((sides[a], a), (sides[b], b), (line, 0.0), pi / 2)


def _north(easel: Easel) -> None:
    if easel.limits is None:
        return
    unit = easel.unit
    x, y = easel.limits[0][0] * unit + 4 * unit, easel.limits[1][1] * unit - 9 * unit
    easel.line([(x, y), (x, y + 7 * unit)], Layer.WORDS)
    tip = [(x - unit, y + 5 * unit), (x + unit, y + 5 * unit), (x, y + 7 * unit)]
    easel.fill([tip], Pattern.SOLID, Layer.WORDS)
    easel.words((x + 2 * unit, y + 4 * unit), "N", bold=True)
    easel.hold_line((x, y), (x, y + 7 * unit))
