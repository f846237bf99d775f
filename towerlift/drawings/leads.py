"""Plan of the capstan ground: rings, falls, lead blocks and what they carry."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from towerlift.checks.capstan_ground import BODY, SNAP
from towerlift.drawings.svg import (
    BOLD,
    FAINT,
    GRID,
    INK,
    LINES,
    MARK,
    OVER_LINES,
    QUIET,
    Ink,
    Sheet,
    shorten,
)
from towerlift.plan.model import Plan
from towerlift.rig.curves import Floats
from towerlift.rig.leads import Lead

RING_SIDES = 40
ARROW = 0.12  # length of an arrow head over the arrow


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadPlan:
    """Size of the drawing, and what is marked in it.

    Attributes
    ----------
    width, height, text : float
        Of the drawing and its letters. [px]
    marked : frozenset of str
        Capstans and tackles that are in trouble.
    """

    width: float = 560.0
    height: float = 400.0
    text: float = 10.0
    marked: frozenset[str] = field(default_factory=frozenset)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Map:
    scale: float
    left: float
    top: float

    def at(self, point: Floats | Sequence[float]) -> tuple[float, float]:
        return (
            self.left + self.scale * float(point[0]),
            self.top - self.scale * float(point[1]),
        )


def lead_plan(plan: Plan, leads: Sequence[Lead], options: LeadPlan | None = None) -> str:
    """Rings, falls, snap-back sectors and resultants, seen from above, north up.

    Parameters
    ----------
    plan : Plan
        Wall and capstans.
    leads : sequence of Lead
        Falls of one lift at its hardest pull.
    options : LeadPlan or None
        Size, and what is marked.

    Returns
    -------
    svg : str
        Arrows are the level part of the resultants on the last lead blocks, to scale;
        their numbers are whole resultants in kN.
    """
    options = options or LeadPlan()
    sheet = Sheet(options.width, options.height, options.text)
    title = "Leads from above, north up; arrows: load on the last block, kN"
    sheet.write(
        (2, 1.1 * options.text), shorten(title, 1.13 * options.text, options.width), ink=BOLD
    )
    placed = _fitted(plan, options)
    _wall(sheet, plan, placed)
    marked = options.marked
    for lead in leads:
        _sector(sheet, lead, placed)
    for capstan in plan.capstans:
        used = any(lead.capstan.mark == capstan.mark for lead in leads)
        colour = MARK if capstan.mark in marked else (INK if used else GRID)
        centre = np.array([capstan.x, capstan.y])
        _circle(sheet, placed, centre, (capstan.bar_radius, capstan.bar_radius + BODY), colour)
        x, y = placed.at(centre)
        ink = Ink(colour=MARK, bold=True) if capstan.mark in marked else OVER_LINES
        sheet.write(
            (x, y + 0.35 * options.text), capstan.mark, "middle", ink=ink, role="capstan"
        )
    most = max((float(np.linalg.norm(b)) for lead in leads for b in lead.blocks), default=1.0)
    for lead in leads:
        _fall(sheet, lead, placed, lead.line.tackle in marked or lead.capstan.mark in marked)
        _resultant(sheet, lead, placed, most)
    if not leads:
        words = "no falls to draw: the plan does not place its lead blocks"
        sheet.write((2, 2.6 * options.text), words, ink=QUIET)
    said = "; ".join(
        f"{lead.line.tackle} to {lead.capstan.mark}: {lead.pulls[-1] / 1e3:.1f} kN"
        for lead in leads
    )
    return sheet.svg("Plan of leads", said or "no falls")


def _fitted(plan: Plan, options: LeadPlan) -> _Map:
    reach = [
        (abs(c.x) + c.bar_radius + BODY + 0.5, abs(c.y) + c.bar_radius + BODY + 0.5)
        for c in plan.capstans
    ] or [(10.0, 10.0)]
    east, north = (max(each[k] for each in reach) for k in (0, 1))
    top = 1.8 * options.text
    scale = min(options.width / (2 * east), (options.height - top) / (2 * north))
    return _Map(scale=scale, left=options.width / 2, top=top + (options.height - top) / 2)


def _wall(sheet: Sheet, plan: Plan, placed: _Map) -> None:
    survey = plan.shaft.survey
    if not survey:
        return
    low = np.array([min(s.west for s in survey), min(s.south for s in survey)])
    high = np.array([max(s.east for s in survey), max(s.north for s in survey)])
    thick = plan.shaft.wall_thickness or 0.0
    for grow, fill in ((thick, GRID), (0.0, "#fff")):
        x, y = placed.at((low[0] - grow, high[1] + grow))
        size = placed.scale * (high - low + 2 * grow)
        sheet.box((x, y), (float(size[0]), float(size[1])), fill=fill, role="wall")


def _circle(
    sheet: Sheet, placed: _Map, centre: Floats, radii: tuple[float, float], colour: str
) -> None:
    angles = np.linspace(0, 2 * np.pi, RING_SIDES + 1)
    for radius, dash in zip(radii, ("", "2 2"), strict=True):
        around = centre + radius * np.column_stack([np.cos(angles), np.sin(angles)])
        points = [placed.at(point) for point in around]
        sheet.line(points, colour=colour, width=1.2, dash=dash, role="ring")


def _sector(sheet: Sheet, lead: Lead, placed: _Map) -> None:
    start, end = lead.points[-2, :2], lead.points[-1, :2]
    run = end - start
    far = 1.35 * float(np.linalg.norm(run))
    turn = np.arctan2(run[1], run[0])
    edges = [
        start + far * np.array([np.cos(turn + a), np.sin(turn + a)]) for a in (-SNAP, SNAP)
    ]
    points = [placed.at(edges[0]), placed.at(start), placed.at(edges[1])]
    sheet.line(points, colour=GRID, width=1.0, role="snap-back")


def _fall(sheet: Sheet, lead: Lead, placed: _Map, wrong: bool) -> None:
    points = [placed.at(point) for point in lead.points]
    colour, dash = (MARK, "") if wrong else LINES[0]
    sheet.line(points, colour=colour, width=2.2 if wrong else 1.5, dash=dash, role="fall")


def _resultant(sheet: Sheet, lead: Lead, placed: _Map, most: float) -> None:
    if not len(lead.blocks):
        return
    foot, load = lead.points[-2], lead.blocks[-1]
    length = 5.0 / most
    tip = foot[:2] + length * load[:2]
    way = tip - foot[:2]
    aside = np.array([-way[1], way[0]])
    barbs = [tip - ARROW * 2 * way + ARROW * sign * aside for sign in (1, -1)]
    sheet.line([placed.at(foot), placed.at(tip)], colour=MARK, width=1.8, role="resultant")
    sheet.line(
        [placed.at(barbs[0]), placed.at(tip), placed.at(barbs[1])], colour=MARK, width=1.8
    )
    # Written past the tip, where the ropes have parted.
    x, y = placed.at(tip + 1.6 * way / max(float(np.linalg.norm(way)), 1e-9))
    whole = float(np.linalg.norm(load)) / 1e3
    anchor = "end" if foot[0] < 0 else "start"
    off = -3 if foot[0] < 0 else 3
    sheet.write((x + off, y + 3), f"{whole:.1f}", anchor, ink=Ink(colour=FAINT, halo=True))
