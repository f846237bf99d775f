"""Reeving of each tackle: blocks, sheaves, parts in order, fall, leads and capstan."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import pi

import numpy as np

from towerlift.drawings.drawing import Across, Drawing, Layer, Pattern, Place, Words
from towerlift.drawings.easel import Easel
from towerlift.drawings.ground_plan import lift_leads
from towerlift.drawings.lengths import Measure, level_words, size_words
from towerlift.drawings.paper import Room
from towerlift.drawings.pens import words_width
from towerlift.drawings.titles import stem, wrapped
from towerlift.plan.model import Plan
from towerlift.plan.rigging import Capstan, Coil, Lift, Line, Tackle
from towerlift.rig.leads import Lead
from towerlift.workflow import Outcome

NOMINAL = 50.0
"""Metres for a metre of paper in model space, for a diagram that has no scale."""
PITCH, BARREL = 11.0, 6.0
"""Between two parts of rope, and radius of the barrel. [mm]"""
MARGIN, TALLEST, NARROWEST = 18.0, 78.0, 40.0
"""Beside the diagram for its words, its least height, and words beside it. [mm]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Gear:
    lift: Lift
    line: Line
    pattern: Tackle
    coil: Coil
    capstan: Capstan


def _gear(plan: Plan, lift: str, tackle: str) -> _Gear:
    body = next((each for each in plan.lifts if each.name == lift), None)
    line = None if body is None else next((n for n in body.lines if n.tackle == tackle), None)
    if body is None or line is None:
        raise ValueError(f"the plan has no tackle {tackle!r} in a lift {lift!r}")
    return _Gear(
        lift=body,
        line=line,
        pattern=next(each for each in plan.tackles if each.name == body.pattern),
        coil=next(each for each in plan.coils if each.tag == line.coil),
        capstan=next(each for each in plan.capstans if each.mark == line.capstan),
    )


def reeving_drawing(outcome: Outcome, lift: str, tackle: str, room: Room) -> Drawing:
    """How one tackle is rove, with what it is made of beside it.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    lift, tackle : str
        Which line of which lift.
    room : Room
        On paper.

    Returns
    -------
    drawing : Drawing
        A diagram, not to scale. Parts are numbered from the becket to the fall.

    Raises
    ------
    ValueError
        If the plan has no such tackle in that lift, or the diagram does not fit the room.
    """
    gear = _gear(outcome.plan, lift, tackle)
    found = lift_leads(outcome, lift)
    lead = None
    if not isinstance(found, str):
        lead = next((each for each in found if each.line.tackle == tackle), None)
    wide, tall = room.width >= room.height, room.height
    needed = _left(gear, room.text) + _across(gear.pattern) + MARGIN
    share = max(0.55, needed / room.width) if wide else 1.0
    title = 2.0 + 1.6 * room.text
    rows = _rows(outcome, gear, (lead, found if isinstance(found, str) else ""), room)
    beside = room.width * (1 - share) - 4 if wide else room.width - 4
    lines = [line for row in rows for line in wrapped(row, room.text, beside)]
    step = 1.9 * room.text
    foot = title if wide else title + step * len(lines) + 3.0
    easel = Easel(NOMINAL, room)
    size = (room.width * share, tall - foot)
    if size[0] < needed or size[1] < TALLEST or (wide and beside < NARROWEST):
        raise ValueError(
            f"{room.width:.0f} x {tall:.0f} mm are too small for the reeving of "
            f"{gear.pattern.parts} parts and {gear.pattern.leads} leads"
        )
    _diagram(easel, gear, lead, size)
    view = easel.view(
        "Reeving",
        (0.0, 0.0),
        (size[0] * easel.unit, size[1] * easel.unit),
        (0.0, foot),
    )
    left = room.width * share + 2 if wide else 2.0
    top = tall - 4.0 if wide else foot - title - 2.0
    words = [
        Words(at=(left, top - n * step), text=line, height=room.text)
        for n, line in enumerate(lines)
    ]
    words.append(
        Words(
            at=(size[0] / 2, foot - title / 2),
            text=f"Tackle {tackle} of {lift}, not to scale",
            height=room.text,
            across="middle",
            bold=True,
        )
    )
    return Drawing(
        key=f"reeving-{stem(lift)}-{stem(tackle)}",
        title=f"{lift}: reeving of tackle {tackle}",
        says=" ".join(rows),
        width=room.width,
        height=room.height,
        measure=room.measure,
        views=(replace(view, to_scale=False),),
        notes=tuple(words),
    )


def sheaves_of(parts: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Which turns of the rope are at the top block and which at the lower one.

    Parameters
    ----------
    parts : int
        Parts of rope at the lower block.

    Returns
    -------
    top, lower : tuple of int
        Turn k lies between part k + 1 and the next, the last one between the last part
        and the fall; the fall leaves the top block, so turns alternate up from it.
    """
    turns = range(parts)
    top = tuple(k for k in turns if (parts - 1 - k) % 2 == 0)
    return top, tuple(k for k in turns if k not in top)


class _Millimetres:
    """Draws in millimetres of paper."""

    def __init__(self, easel: Easel) -> None:
        self.easel = easel

    def at(self, point: Place) -> Place:
        """A place in the view's metres."""
        return point[0] * self.easel.unit, point[1] * self.easel.unit

    def rope(self, points: Sequence[Place]) -> None:
        """A run of rope."""
        self.easel.line([self.at(p) for p in points], Layer.ROPE)

    def arc(self, centre: Place, radius: float, ends: Place) -> None:
        """Rope round a sheave."""
        self.easel.arc(self.at(centre), radius * self.easel.unit, Layer.ROPE, ends=ends)

    def sheave(self, centre: Place, radius: float, ends: Place) -> None:
        """A sheave with the rope round part of it."""
        self.easel.arc(self.at(centre), 0.82 * radius * self.easel.unit, Layer.IRON)
        self.easel.arc(self.at(centre), 0.7 * self.easel.unit, Layer.IRON)
        self.arc(centre, radius, ends)

    def cheeks(self, xs: Sequence[float], y: float, radius: float, *, up: bool) -> None:
        """The shell of a block, with its hook or shackle."""
        away = 1.0 if up else -1.0
        left, right = min(xs) - 0.55 * radius, max(xs) + 0.55 * radius
        back = y + away * 1.45 * radius
        middle = (left + right) / 2
        shape = [(left, y), (left, back), (right, back), (right, y)]
        self.easel.line([self.at(p) for p in shape], Layer.IRON)
        self.easel.line([self.at((min(xs), y)), self.at((max(xs), y))], Layer.IRON)
        self.easel.arc(self.at((middle, back + away * 2.0)), 2.0 * self.easel.unit, Layer.IRON)

    def block(self, centre: Place, radius: float) -> None:
        """A lead block."""
        self.easel.arc(self.at(centre), 0.8 * radius * self.easel.unit, Layer.IRON)
        self.easel.arc(self.at(centre), 0.5 * self.easel.unit, Layer.IRON)

    def becket(self, at: Place) -> None:
        """Where the rope is made fast."""
        half = 1.1
        x, y = at
        box = [(x - half, y - half), (x + half, y - half), (x + half, y + half),
               (x - half, y + half)]  # fmt: skip
        self.easel.fill([[self.at(p) for p in box]], Pattern.SOLID, Layer.IRON)

    def barrel(self, centre: Place, gear: _Gear) -> None:
        """The barrel, and who is at its bars."""
        self.easel.arc(self.at(centre), BARREL * self.easel.unit, Layer.ROPE)
        self.easel.arc(self.at(centre), 0.8 * BARREL * self.easel.unit, Layer.IRON)
        self.write(centre, gear.capstan.mark, across="middle", bold=True)

    def number(self, at: Place, text: str) -> None:
        """Number of a part."""
        self.write(at, text, bold=True)

    def write(
        self, at: Place, text: str, *, across: Across = "left", bold: bool = False
    ) -> None:
        """Words at a place."""
        self.easel.words(self.at(at), text, across=across, bold=bold)


def _left(gear: _Gear, text: float) -> float:
    """Room that the words under the lower block need at the left of the parts. [mm]"""
    parts = PITCH * gear.pattern.parts
    longest = max(words_width(words, text) for words in _below(gear))
    if gear.pattern.leads > 1:
        return max(MARGIN, (longest - parts) / 2 + 1.0)
    return max(MARGIN, longest - parts + 4.0)


def _below(gear: _Gear) -> tuple[str, str]:
    _, lower = sheaves_of(gear.pattern.parts)
    return (
        f"lower block, {_count(len(lower))}",
        f"at {gear.line.lift_point} of {gear.lift.section}",
    )


def _across(pattern: Tackle) -> float:
    """Width of parts, leads and barrel. [mm]"""
    leads = 24.0 + 20.0 + 14.0 * max(pattern.leads - 2, 0) if pattern.leads else 0.0
    return PITCH * pattern.parts + leads + 2 * BARREL


def _diagram(easel: Easel, gear: _Gear, lead: Lead | None, size: Place) -> None:
    parts = gear.pattern.parts
    radius = PITCH / 2
    left = max(_left(gear, easel.text), (size[0] - _across(gear.pattern)) / 2)
    runs = [left + PITCH * k for k in range(parts + 1)]
    top_y, low_y = size[1] - 22.0, 0.34 * size[1]
    ground = 16.0
    top, lower = sheaves_of(parts)
    pen = _Millimetres(easel)
    becket_up = 0 not in top
    for k in top:
        # The last turn lets the fall go level where lead blocks take it aside.
        last = k == parts - 1 and gear.pattern.leads > 1
        pen.sheave((runs[k] + radius, top_y), radius, (pi / 2 if last else 0.0, pi))
    for k in lower:
        pen.sheave((runs[k] + radius, low_y), radius, (pi, 2 * pi))
    made_fast = [runs[0] + 0.55 * radius]
    above = [runs[k] + radius for k in top] + (made_fast if becket_up else [])
    below = [runs[k] + radius for k in lower] + ([] if becket_up else made_fast)
    pen.cheeks(above, top_y, radius, up=True)
    pen.cheeks(below, low_y, radius, up=False)
    for k in range(parts):
        pen.rope([(runs[k], low_y), (runs[k], top_y)])
        middle = (runs[k] + 2.2, (top_y + low_y) / 2)
        pen.number(middle, str(k + 1))
    becket = (runs[0], top_y if becket_up else low_y)
    pen.becket(becket)
    _fall(pen, gear, (runs[-1], top_y, radius, ground), lead)
    _words(pen, gear, (runs, top_y, low_y, radius), becket)


def _fall(
    pen: _Millimetres,
    gear: _Gear,
    place: tuple[float, float, float, float],
    lead: Lead | None,
) -> None:
    x, top, radius, ground = place
    n = gear.pattern.leads
    small = 3.2
    right = x + 24.0
    barrel_x = right + 20.0 + 14.0 * max(n - 2, 0)
    if n == 0:
        pen.rope([(x, top), (x, ground + BARREL)])
        pen.barrel((x + BARREL, ground), gear)
        return
    blocks = []
    if n == 1:
        pen.rope([(x, top), (x, ground + small)])
        blocks = [(x + small, ground)]
        end = (x + small, ground - small)
    else:
        level = top + radius
        pen.rope([(x - radius, level), (right - small, level)])
        blocks = [(right - small, level - small)]
        pen.arc((right - small, level - small), small, (0.0, pi / 2))
        pen.rope([(right, level - small), (right, ground)])
        for k in range(n - 1):
            blocks.append((right + small + 14.0 * k, ground))
        pen.arc(blocks[1], small, (pi, 3 * pi / 2))
        end = (right + small, ground - small)
    pen.rope([end, (barrel_x, ground - small)])
    loads = None if lead is None else [float(np.linalg.norm(b)) / 1e3 for b in lead.blocks]
    for k, block in enumerate(blocks):
        pen.block(block, small)
        rows = [f"lead {k + 1}"]
        if loads is not None:
            rows.append(f"{loads[k]:.1f} kN")
        up = k == 0 and n > 1
        for m, row in enumerate(rows):
            if up:
                at = (block[0] + 5.5, block[1] - 4.0 * m)
                pen.write(at, row)
            else:
                pen.write((block[0], block[1] - 8.0 - 4.0 * m), row, across="middle")
    pen.barrel((barrel_x, ground - small + BARREL), gear)


def _words(
    pen: _Millimetres,
    gear: _Gear,
    place: tuple[Sequence[float], float, float, float],
    becket: Place,
) -> None:
    runs, top, low, radius = place
    middle = (runs[0] + runs[-1]) / 2
    upper, _ = sheaves_of(gear.pattern.parts)
    pen.write((middle, top + 18.5), f"top block, {_count(len(upper))}", across="middle")
    pen.write((middle, top + 14.5), f"on {gear.lift.hung_from}", across="middle")
    for n, words in enumerate(_below(gear)):
        # A fall that runs straight down passes at the right of the words.
        at = (middle if gear.pattern.leads > 1 else runs[-1] - 3.0, low - 15.5 - 4.2 * n)
        pen.write(at, words, across="middle" if gear.pattern.leads > 1 else "right")
    pen.write((becket[0] - 2.5, becket[1]), "becket", across="right")
    if gear.pattern.leads > 1:
        pen.write((runs[-1] + 3.0, top + radius + 2.2), "fall", across="left")
    else:
        pen.write((runs[-1] + 1.5, (top + low) / 2), "fall", across="left")


def _count(sheaves: int) -> str:
    words = {0: "no sheave", 1: "1 sheave"}
    return words.get(sheaves, f"{sheaves} sheaves")


def _rows(
    outcome: Outcome, gear: _Gear, pulls: tuple[Lead | None, str], room: Room
) -> list[str]:
    lead, missing = pulls
    coil, pattern, capstan = gear.coil, gear.pattern, gear.capstan
    measure = room.measure
    unit = " mm" if measure is Measure.METRIC else ""
    sheave = "not given"
    if pattern.sheave is not None:
        sheave = size_words(pattern.sheave, measure) + unit
    rows = [
        f"Lift {gear.lift.name}, tackle {gear.line.tackle}, {pattern.name}: parts of rope at "
        f"the lower block {pattern.parts}, lead blocks {pattern.leads}.",
        f"Rope: coil {coil.tag}, {coil.material}, {size_words(coil.diameter, measure)}{unit} "
        f"diameter, {_metres(coil.length, measure)} long.",
        f"Certificate {coil.breaking_force / 1e3:.0f} kN, {100 * coil.derating:.0f} % of it "
        f"kept ({coil.source}).",
        f"Sheaves at least {sheave} in the groove.",
        f"Top block {level_words(gear.line.upper[2], measure)}"
        + _above(outcome.plan, gear)
        + f"; never nearer the lift point than {_metres(pattern.shortest, measure)}.",
        f"Capstan {capstan.mark}: {capstan.hands} at the bars and {capstan.reserve} to spare.",
    ]
    lengths = [
        curve.lengths[:, curve.lines.index(gear.line.tackle)]
        for curve in outcome.hangs
        if curve.lift == gear.lift.name and gear.line.tackle in curve.lines
    ]
    if lengths:
        every = np.concatenate(lengths)
        rows.append(
            f"Block to block {_metres(float(every.max()), measure)} at the longest, "
            f"{_metres(float(every.min()), measure)} at the shortest."
        )
    if lead is None:
        rows.append(f"Pull NOT EVALUATED: {missing or 'the plan does not place this fall'}.")
    else:
        rows.append(
            f"Hauling at worst: {lead.pulls[0] / 1e3:.1f} kN in the fall, "
            f"{lead.pulls[-1] / 1e3:.1f} kN at the barrel; {lead.burst / 1e3:.1f} kN if every "
            "hand gives all it can."
        )
    return rows


def _above(plan: Plan, gear: _Gear) -> str:
    if any(fixture.name == gear.lift.hung_from for fixture in plan.fixtures):
        return ""
    return f" above the heel of {gear.lift.hung_from}"


def _metres(length: float, measure: Measure) -> str:
    if measure is Measure.METRIC:
        return f"{length:.2f} m"
    return size_words(length, measure)
