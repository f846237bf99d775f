"""Free bodies of a state: every section cut free, with its forces to scale."""

from dataclasses import dataclass

import numpy as np

from towerlift.drawings.svg import (
    BOLD,
    FAINT,
    GRID,
    INK,
    LIMIT,
    LINES,
    MARK,
    QUIET,
    Ink,
    Sheet,
    round_ticks,
    shorten,
    text_width,
    write_number,
)
from towerlift.nesting.pairs import Workshop
from towerlift.rig.curves import Floats
from towerlift.rig.out_of_true import OUTLINE_STEP, gust_pressure
from towerlift.rig.states import TowerState
from towerlift.rig.states_forces import Force, FreeBody, free_bodies
from towerlift.rig.wind import half_widths

WOOD = "#efece2"
STONE = "#d9d6cd"
# Longest arrow over the width of a column, and its head over its length.
LONGEST, HEAD = 0.30, 6.0
# A force below this share of the greatest is not drawn.
LEAST = 0.004
COLOURS = {
    "weight": INK,
    "wind": LINES[0][0],
    "support": MARK,
    "rope": MARK,
    "shoe": LIMIT,
    "wedge": LIMIT,
    "from above": FAINT,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeBodyPicture:
    """Size of the drawing, and what it is drawn for.

    Attributes
    ----------
    gust : float
        Told at the wall head. [m/s]
    wedged : bool
        Whether what is locked to be wedged already is.
    along : int
        0 for wind towards east, 1 for wind towards north.
    width, height, text : float
        Of the drawing and its letters. [px]
    """

    gust: float
    wedged: bool = True
    along: int = 0
    width: float = 900.0
    height: float = 640.0
    text: float = 10.0


def free_body(shop: Workshop, state: TowerState, picture: FreeBodyPicture) -> str:
    """Every section of a state beside the others, each with all forces on it, in kN.

    Parameters
    ----------
    shop : Workshop
        Plan and shapes.
    state : TowerState
        Sections and joints.
    picture : FreeBodyPicture
        Gust, size, and which of the two states.

    Returns
    -------
    svg : str
        Heights to one scale, arrows to another; both are drawn beside the bodies.

    Raises
    ------
    ValueError
        If nothing stands on the site then.
    """
    pressure = gust_pressure(picture.gust)
    bodies = free_bodies(shop, state, pressure, wedged=picture.wedged, along=picture.along)
    if not bodies:
        raise ValueError(f"nothing stands on the site in stage {state.stage}")
    sheet = Sheet(picture.width, picture.height, picture.text)
    paper = _Paper.fitted(shop, state, bodies, picture)
    title = f"Free bodies: stage {state.stage}, {_doing(state)}, gust {picture.gust:g} m/s"
    if any(joint.lock is not None and joint.lock.wedged_within for joint in state.joints):
        title += ", wedged" if picture.wedged else ", not yet wedged"
    sheet.write((4, 1.3 * picture.text), title, ink=BOLD)
    paper.heights(sheet)
    for column, body in enumerate(bodies):
        paper.column(sheet, shop, state, column, body)
    paper.scale(sheet)
    return sheet.svg(title, "; ".join(_in_words(body) for body in bodies))


def _doing(state: TowerState) -> str:
    step = state.passage.step
    subject = state.passage.subject
    words = {
        "rest": "when it is done",
        "lift": f"hauling the {subject}",
        "lower": f"letting the {subject} down",
    }
    return words.get(step, f"while: {step} {subject}".rstrip())


def _in_words(body: FreeBody) -> str:
    told = [
        f"{each.what} {np.hypot(each.across, each.up) / 1e3:.1f} kN at {each.z:.1f} m"
        for each in body.forces
    ]
    return f"{body.section}: {', '.join(told)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Paper:
    """Scales and places of one drawing."""

    picture: FreeBodyPicture
    left: float
    column_width: float
    top: float
    bottom: float
    low: float
    high: float
    metre: float
    newton: float
    greatest: float
    shelter: float

    @classmethod
    def fitted(
        cls,
        shop: Workshop,
        state: TowerState,
        bodies: tuple[FreeBody, ...],
        picture: FreeBodyPicture,
    ) -> "_Paper":
        text = picture.text
        left, top = 5.0 * text, 5.2 * text
        column = (picture.width - left) / len(bodies)
        sizes = [
            (each.what, float(np.hypot(each.across, each.up)))
            for body in bodies
            for each in body.forces
        ]
        greatest = max(size for _, size in sizes)
        newton = LONGEST * min(column, 260.0) / greatest
        below = max((size for what, size in sizes if what == "support"), default=0.0)
        # Below the arrows of the supports: their sizes, one under the other, then the sums.
        bottom = picture.height - 5.8 * text - newton * below
        lengths = {section.name: section.length for section in shop.plan.sections}
        low = min(state.heels[body.section] for body in bodies) - 0.5
        high = max(state.heels[body.section] + lengths[body.section] for body in bodies) + 1.0
        metre = (bottom - top) / (high - low)
        return cls(
            picture=picture,
            left=left,
            column_width=column,
            top=top,
            bottom=bottom,
            low=low,
            high=high,
            metre=metre,
            newton=newton,
            greatest=greatest,
            shelter=shop.plan.shaft.wall_head,
        )

    def y(self, z: float) -> float:
        return self.bottom - (z - self.low) * self.metre

    def middle(self, column: int) -> float:
        return self.left + (column + 0.5) * self.column_width

    def heights(self, sheet: Sheet) -> None:
        text, right = self.picture.text, self.picture.width - 2
        for z in round_ticks(self.low, self.high, 10):
            sheet.line([(self.left - 6, self.y(z)), (right, self.y(z))], colour=GRID)
            sheet.write((self.left - 9, self.y(z) + 0.35 * text), write_number(z), "end")
        sheet.write((4, self.top - 1.2 * text), "z, m", ink=QUIET)
        if self.low < self.shelter < self.high:
            y = self.y(self.shelter)
            sheet.line([(self.left - 6, y), (right, y)], colour=FAINT, dash="6 4")
            sheet.write((right, y - 4), "wall head", "end", ink=QUIET)

    def column(
        self, sheet: Sheet, shop: Workshop, state: TowerState, column: int, body: FreeBody
    ) -> None:
        text, x = self.picture.text, self.middle(column)
        joint = next(each for each in state.joints if each.section == body.section)
        room = self.column_width - text
        sheet.write((x, self.top - 2.2 * text), body.section, "middle", ink=BOLD)
        words = f"{joint.state}, on {joint.carrier}"
        sheet.write((x, self.top - 1.0 * text), shorten(words, text, room), "middle", ink=QUIET)
        self._outline(sheet, shop, state, body.section, x)
        taken: list[tuple[float, float]] = []
        for force in sorted(body.forces, key=lambda each: -each.z):
            self._arrow(sheet, force, x, taken)
        across, up, turn = body.unbalance
        sheet.write(
            (x, self.picture.height - 2.4 * text),
            f"sums: {_kilo(across)} kN across, {_kilo(up)} up, {_kilo(turn)} kN m",
            "middle",
            ink=QUIET,
        )

    def _outline(
        self, sheet: Sheet, shop: Workshop, state: TowerState, section: str, x: float
    ) -> None:
        if shop.shapes.sections[section].solid is None:
            return
        heights, half = half_widths(shop, state.passage, section)
        heel = state.heels[section]
        edge: list[tuple[float, float]] = []
        for s, wide in zip(heights, half, strict=True):
            foot, head = self.y(heel + float(s)), self.y(heel + float(s) + OUTLINE_STEP)
            sheet.box(
                (x - wide * self.metre, head),
                (2 * wide * self.metre, foot - head + 0.3),
                fill=WOOD,
            )
            edge += [(wide, foot), (wide, head)]
        for side in (-1, 1):
            sheet.line(
                [(x + side * float(w) * self.metre, y) for w, y in edge],
                colour=FAINT,
                width=0.8,
            )

    def _arrow(
        self, sheet: Sheet, force: Force, x: float, taken: list[tuple[float, float]]
    ) -> None:
        size = float(np.hypot(force.across, force.up))
        if size < LEAST * self.greatest:
            return
        colour = COLOURS[force.what]
        point = np.array([x + force.x * self.metre, self.y(force.z)])
        along = np.array([force.across, -force.up]) * self.newton
        if force.what in ("shoe", "wedge"):
            # A shoe presses from beside the section: the arrow ends at its edge.
            point[0] += -np.sign(force.across) * self._edge(force)
        tail, tip = point - along, point
        hangs = force.what in ("weight", "from above", "rope")
        if hangs and abs(force.up) > abs(force.across):
            tail, tip = point, point + along
        sheet.line(
            [(tail[0], tail[1]), (tip[0], tip[1])], colour=colour, width=1.8, role="force"
        )
        self._head(sheet, tail, tip, colour)
        self._label(sheet, force, (tail, tip), taken)

    def _edge(self, force: Force) -> float:
        return 0.0 if force.what == "wind" else 0.25 * self.metre

    def _head(self, sheet: Sheet, tail: Floats, tip: Floats, colour: str) -> None:
        way = tip - tail
        length = float(np.linalg.norm(way))
        if length < 1e-6:
            return
        way = way / length
        side = np.array([-way[1], way[0]])
        back = min(HEAD, length)
        for sign in (-1, 1):
            end = tip - back * way + sign * 0.45 * back * side
            sheet.line([(tip[0], tip[1]), (end[0], end[1])], colour=colour, width=1.8)

    def _label(
        self,
        sheet: Sheet,
        force: Force,
        ends: tuple[Floats, Floats],
        taken: list[tuple[float, float]],
    ) -> None:
        text, (tail, tip) = self.picture.text, ends
        size = float(np.hypot(force.across, force.up)) / 1e3
        words = f"{force.what} {size:.1f}"
        right = tail[0] >= tip[0] if abs(force.across) > abs(force.up) else force.x >= 0
        x = float(max(tail[0], tip[0]) + 4 if right else min(tail[0], tip[0]) - 4)
        y = float(tail[1]) + 0.35 * text
        width = text_width(words, text)
        while any(abs(y - b) < 1.15 * text and abs(x - a) < width for a, b in taken):
            y += 1.2 * text
        taken.append((x, y))
        ink = Ink(colour=COLOURS[force.what], halo=True)
        sheet.write((x, y), words, "start" if right else "end", ink=ink, role="size")

    def scale(self, sheet: Sheet) -> None:
        text = self.picture.text
        step = round_ticks(0.0, self.greatest, 3)
        size = step[1] if len(step) > 1 else self.greatest
        y, x = self.picture.height - 0.9 * text, self.left
        sheet.line([(x, y), (x + size * self.newton, y)], width=1.8)
        sheet.write((x + size * self.newton + 6, y + 0.35 * text), f"{size / 1e3:g} kN")
        legend = (
            ("weight", "weight"),
            ("wind", "wind"),
            ("support", "supports and ropes"),
            ("shoe", "shoes and wedges"),
            ("from above", "from another section"),
        )
        at = x + size * self.newton + 10 * text
        for what, words in legend:
            sheet.line([(at, y), (at + 14, y)], colour=COLOURS[what], width=1.8)
            sheet.write((at + 18, y + 0.35 * text), words)
            at += 18 + text_width(words, text) + 1.5 * text


def _kilo(value: float) -> str:
    return f"{value / 1e3 + 0.0:.1f}".replace("-0.0", "0.0")
