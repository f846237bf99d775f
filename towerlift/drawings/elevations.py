"""Elevations by stage: the shaft cut on its axis, and what stands and hangs in it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from towerlift.drawings.cuts import Body, Loop, Plane, clear_between, cut_loops
from towerlift.drawings.drawing import Drawing, Layer, Pattern, Place, View, Words
from towerlift.drawings.easel import UPRIGHT, Easel, scale_for, spread
from towerlift.drawings.instants import (
    Instant,
    elevation_plane,
    shaft_body,
    stage_instants,
    standing_bodies,
)
from towerlift.drawings.lengths import level_words, size_words
from towerlift.drawings.paper import Room
from towerlift.drawings.pens import words_width
from towerlift.drawings.seen import Piece, Seen, pieces_beyond, seen_beyond
from towerlift.drawings.titles import fitted, stem, wrapped
from towerlift.motion.passages import Standing
from towerlift.plan.bodies import Face
from towerlift.workflow import Outcome

STRIP, NEAR = 0.5, 0.3
"""Depth of masonry that is hatched where its thickness is not known. [m]"""
GROUND = 0.6
ABOVE = 0.005
"""What stands above a head by less than this is not told. [m]"""
BELOW, HEAD = 4.2, 1.5
"""Room below and above the picture, in letters."""
TITLES, LINE = 2.2, 1.75
"""Letters of a view's title [mm], and distance of lines in letters."""
NARROW = 75.0
"""Below this width of a panel the one between before and after is left out. [mm]"""
LETTERS = 0.82
"""Letters of an elevation over those of other drawings: it has many, and little room."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Extent:
    """What all panels of a drawing show, so that they stand beside one another. [m]"""

    left: float
    right: float
    top: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One moment, ready to be drawn.

    Attributes
    ----------
    outcome : Outcome
        Of a checked plan.
    instant : Instant
        What stands.
    plane : Plane
        That cuts it.
    walls : tuple of Loop
        Faces of the masonry in the plane. [m]
    bodies : tuple of Body
        Sections, then fixtures.
    seen : tuple of Seen
        Beyond the plane.
    cuts : mapping of str to dict
        What the plane cuts, by body and member.
    """

    outcome: Outcome
    instant: Instant
    plane: Plane
    walls: tuple[Loop, ...]
    bodies: tuple[Body, ...]
    seen: tuple[Seen, ...]
    cuts: Mapping[str, dict[int, list[Loop]]]

    @property
    def axis(self) -> float:
        """Where the axis of the tower stands in the drawing. [m]"""
        line = self.outcome.plan.plumb_line
        return float(self.plane.flat(np.array([[line.x, line.y, 0.0]]))[0, 0])

    def levels(self, name: str) -> list[tuple[str, float]]:
        """Heel and head of a section, and the top of what is fitted above its head. [m]"""
        length = next(s.length for s in self.outcome.plan.sections if s.name == name)
        heel = self.instant.heel(name)
        found = [("heel", heel), ("head", heel + length)]
        top = self.ends(name)[1]
        if top > heel + length + ABOVE:
            found.append(("top", top))
        return found

    def ends(self, name: str) -> tuple[float, float]:
        """Least and greatest height of a body. [m]"""
        body = next(each for each in self.bodies if each.name == name)
        return float(body.vertices[:, 2].min()), float(body.vertices[:, 2].max())


def panel_of(outcome: Outcome, instant: Instant, plane: Plane) -> Panel:
    """Everything that is drawn of one moment."""
    shop = outcome.nesting.workshop
    bodies = standing_bodies(outcome, instant)
    from_where = tuple(plane.right.tolist())
    pieces: list[Piece] = []
    cuts: dict[str, dict[int, list[Loop]]] = {}
    for body in bodies:
        # What stands as in another picture of this plan is worked out once.
        heel = instant.heel(body.name) if body.name in instant.standing else None
        key = ("drawn", from_where, body.name, heel, body.marks)

        def found(body: Body = body) -> tuple[list[Piece], dict[int, list[Loop]]]:
            return pieces_beyond(body, plane), cut_loops(body, plane)

        beyond, cuts[body.name] = shop.kept(key, found)
        pieces += beyond
    walls = cut_loops(shaft_body(outcome), plane, whole=True).get(0, [])
    return Panel(
        outcome=outcome,
        instant=instant,
        plane=plane,
        walls=tuple(walls),
        bodies=tuple(bodies),
        seen=tuple(seen_beyond(pieces)),
        cuts=cuts,
    )


def stage_elevation(
    outcome: Outcome, stage: str, room: Room, *, seen_from: Face = Face.SOUTH
) -> Drawing:
    """A stage before, hauled and after, cut on the axis, with levels and sizes.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    stage : str
        Its name.
    room : Room
        On paper.
    seen_from : Face
        Side that is looked from; what lies nearer than the axis is taken away.

    Returns
    -------
    drawing : Drawing
        One view for each moment.

    Raises
    ------
    ValueError
        If the raise has no such stage with steps.
    """
    title = next((s.title for s in outcome.plan.stages if s.name == stage), stage)
    return _drawn(
        outcome,
        stage_instants(outcome, stage),
        room,
        words=(
            f"elevation-{stem(stage)}",
            f"{stage}: {title}, cut on the axis, from the {seen_from}",
        ),
        seen_from=seen_from,
    )


def _drawn(
    outcome: Outcome,
    instants: Sequence[Instant],
    room: Room,
    *,
    words: tuple[str, str],
    seen_from: Face,
) -> Drawing:
    plane = elevation_plane(outcome, seen_from)
    if len(instants) > 2 and room.width / len(instants) < NARROW:
        instants = (instants[0], instants[-1])
    room = replace(room, text=LETTERS * room.text)
    panels = [panel_of(outcome, instant, plane) for instant in instants]
    extent = extent_of(panels)
    left, right = _columns(panels, room)
    wide = room.width / len(panels)
    foot = _foot(max(len(_states(panel, room, wide)) for panel in panels), room)
    taken = foot + (BELOW + HEAD) * room.text
    scale = scale_for(
        (extent.right - extent.left, extent.top + GROUND),
        (wide - left - right, room.height - taken),
    )
    views = []
    notes: list[Words] = []
    for n, panel in enumerate(panels):
        easel = Easel(scale, room)
        view = _view(panel, easel, extent, (left, right))
        spare = wide - view.width
        corner = (n * wide + spare / 2, foot)
        views.append(easel.view(panel.instant.title, view.low, view.high, corner))
        notes += _under(panel, room, (n * wide + wide / 2, wide), scale, foot)
    return Drawing(
        key=words[0],
        title=words[1],
        says=" ".join(panel_words(panel) for panel in panels),
        width=room.width,
        height=room.height,
        measure=room.measure,
        views=tuple(views),
        notes=tuple(notes),
    )


def _under(panel: Panel, room: Room, place: Place, scale: float, foot: float) -> list[Words]:
    """Title of a panel, and the state of each section in words, below it."""
    middle, wide = place
    title = fitted(f"{panel.instant.title}, 1:{scale:g}", TITLES, wide - 4, bold=True)
    lines = _states(panel, room, wide)
    found = [
        Words(at=(middle, foot - 2.0), text=title, height=TITLES, across="middle", bold=True)
    ]
    for n, line in enumerate(lines):
        at = (middle, foot - 2.0 - TITLES - (n + 0.6) * LINE * room.text)
        found.append(Words(at=at, text=line, height=room.text, across="middle"))
    return found


def _states(panel: Panel, room: Room, wide: float) -> list[str]:
    if not panel.instant.standing:
        return ["no section stands in the shaft"]
    return [
        line
        for name, place in panel.instant.standing.items()
        for line in wrapped(f"{name}: {_state(panel.outcome, place)}", room.text, wide - 4)
    ]


def _foot(n_lines: int, room: Room) -> float:
    """Room below a picture for its title and so many lines. [mm]"""
    return 3.0 + TITLES + 1.5 + n_lines * LINE * room.text


def panel_words(panel: Panel) -> str:
    """Where every section is, and in which state."""
    parts = [f"{name} {_state(panel.outcome, place)}, heel {panel.instant.heel(name):.3f} m"
             for name, place in panel.instant.standing.items()]  # fmt: skip
    return f"{panel.instant.title}: {'; '.join(parts) or 'no section stands'}."


def _state(outcome: Outcome, place: Standing) -> str:
    if place.carrier == "ground":
        on = "on the ground"
    elif any(lift.name == place.carrier for lift in outcome.plan.lifts):
        on = f"on the tackles of {place.carrier}"
    else:
        on = f"on {place.carrier}"
    return f"{place.state} {on}"


def extent_of(panels: Sequence[Panel]) -> Extent:
    """What all of some panels show."""
    xs = [points[:, 0] for panel in panels for points, _ in panel.walls]
    tops = [float(points[:, 1].max()) for panel in panels for points, _ in panel.walls]
    for panel in panels:
        for body in panel.bodies:
            flat = panel.plane.flat(body.vertices)
            xs.append(flat[:, 0])
            tops.append(float(flat[:, 1].max()))
    across = np.concatenate(xs) if xs else np.array([-1.0, 1.0])
    thick = panels[0].outcome.plan.shaft.wall_thickness or STRIP
    return Extent(
        left=float(across.min()) - thick,
        right=float(across.max()) + thick,
        top=max([1.0, *tops]) + 0.3,
    )


def _levels(panel: Panel, room: Room) -> list[tuple[float, list[str], str]]:
    """Heel and head of each section."""
    rows = []
    for name in panel.instant.standing:
        for part, height in panel.levels(name):
            rows.append((height, [f"{name} {part}", level_words(height, room.measure)], name))
    return sorted(rows, key=lambda row: row[0])


def _fixtures(panel: Panel, room: Room) -> list[tuple[float, list[str], str]]:
    """Upper side of each fixture, and the wall-head."""
    head = panel.outcome.plan.shaft.wall_head
    rows = [(head, [f"wall-head {level_words(head, room.measure)}"], "")]
    for body in panel.bodies:
        if body.name in panel.instant.fixtures:
            top = panel.ends(body.name)[1]
            rows.append((top, [body.name, level_words(top, room.measure)], body.name))
    return sorted(rows, key=lambda row: row[0])


def _columns(panels: Sequence[Panel], room: Room) -> tuple[float, float]:
    """Width of the words left and right of the picture. [mm]"""
    widths = []
    for rows in (_levels, _fixtures):
        lines = [
            line for panel in panels for _, block, _ in rows(panel, room) for line in block
        ]
        widths.append(max((words_width(line, room.text) for line in lines), default=0.0) + 5.5)
    return widths[0] + 5.5, widths[1]


def _view(panel: Panel, easel: Easel, extent: Extent, columns: tuple[float, float]) -> View:
    unit = easel.unit
    low = (extent.left - columns[0] * unit, -GROUND - BELOW * easel.text * unit)
    high = (extent.right + columns[1] * unit, extent.top + HEAD * easel.text * unit)
    draw_masonry(panel, easel, extent)
    draw_timber(panel, easel)
    _ropes(panel, easel)
    _axis(panel, easel, extent)
    _sizes(panel, easel, extent)
    _labels(panel, easel, extent, left=True)
    _labels(panel, easel, extent, left=False)
    return View(title="", scale=easel.scale, low=low, high=high, corner=(0, 0), marks=())


def draw_masonry(panel: Panel, easel: Easel, extent: Extent) -> None:
    """The walls in the plane, hatched, and the floor."""
    thick, axis = panel.outcome.plan.shaft.wall_thickness, panel.axis
    for points, closed in panel.walls:
        easel.line(points, Layer.STONE, closed=closed)
        if closed:
            easel.fill([points], Pattern.STONE, Layer.STONE)
            continue
        if np.ptp(points[:, 1]) < 1.0:
            continue
        inside = points if points[0, 1] < points[-1, 1] else points[::-1]
        side = 1.0 if points[:, 0].mean() > axis else -1.0
        outer = inside[0, 0] + side * (thick or STRIP)
        back = np.array([[outer, inside[-1, 1]], [outer, inside[0, 1]]])
        easel.fill([np.concatenate([inside, back])], Pattern.STONE, Layer.STONE)
        if thick:
            easel.line([inside[-1], back[0], back[1]], Layer.STONE)
    floor = [(extent.left, 0.0), (extent.right, 0.0)]
    easel.line(floor, Layer.STONE)


def draw_timber(panel: Panel, easel: Easel, *, light: bool = False) -> None:
    """What is seen beyond the plane, and what the plane cuts; thin lines for a small scale."""
    sections = set(panel.instant.standing)
    for seen in panel.seen:
        layer = Layer.TIMBER if seen.body in sections else Layer.FIXTURE
        for line in seen.lines:
            easel.line(line, Layer.FAINT if light else layer)
    for body in panel.bodies:
        for loops in panel.cuts[body.name].values():
            for points, closed in loops:
                if closed and not light:
                    easel.fill([points], Pattern.TIMBER, Layer.CUT)
                easel.line(points, Layer.FAINT if light else Layer.CUT, closed=closed)


def _ropes(panel: Panel, easel: Easel) -> None:
    passage = panel.instant.passage
    if passage is None:
        return
    curve = next((c for c in panel.outcome.hangs if c.passage == passage.index), None)
    if curve is None:
        return
    heel = panel.instant.heel(passage.moving[0])
    k = int(np.argmin(np.abs(curve.heels - heel)))
    drop = heel - float(curve.heels[k])
    drawn = set()
    for upper, lower in zip(curve.upper[k], curve.lower[k], strict=True):
        ends = panel.plane.flat(np.array([upper, lower + np.array([0.0, 0.0, drop])]))
        key = tuple(np.round(ends, 3).ravel().tolist())
        if key not in drawn:
            drawn.add(key)
            easel.line(ends, Layer.ROPE)


def _axis(panel: Panel, easel: Easel, extent: Extent) -> None:
    x = panel.axis
    easel.line([(x, -0.4 * GROUND), (x, extent.top)], Layer.AXIS)


def _sizes(panel: Panel, easel: Easel, extent: Extent) -> None:
    """Clear width at the foot and at the wall-head, and how far the sections stand up."""
    unit, text = easel.unit, easel.text
    below = -GROUND - 3.2 * text * unit
    pairs = clear_between(panel.walls, (panel.axis, 0.0), 0)
    if pairs is not None:
        easel.size((pairs[0], 0.0), (pairs[1], 0.0), (0.0, below), 0.0)
    # On the side of the levels: their lines meet the ends of these sizes, never the words.
    out = extent.left - 4.2 * unit
    heights = {0.0}
    for name in panel.instant.standing:
        heights |= {round(height, 6) for _, height in panel.levels(name)}
    chain = sorted(heights)
    for low, high in pairwise(chain):
        said = size_words(high - low, easel.measure)
        if (high - low) / unit > words_width(said, text) + 2.0:
            easel.size((extent.left, low), (extent.left, high), (out, 0.0), UPRIGHT)


def _labels(panel: Panel, easel: Easel, extent: Extent, *, left: bool) -> None:
    room = Room(width=1, height=1, text=easel.text, measure=easel.measure)
    rows = _levels(panel, room) if left else _fixtures(panel, room)
    unit, text = easel.unit, easel.text
    line = 1.75 * text * unit
    if not rows:
        return
    edge = extent.left - 5.5 * unit if left else extent.right
    away = -1.0 if left else 1.0
    # One row for each line, upwards from the last line of each block.
    flat: list[tuple[float, str, str | None]] = []
    for height, block, whose in rows:
        for n, words in enumerate(reversed(block)):
            flat.append((height, words, whose if n == len(block) - 1 else None))
    wished = [height for height, _, _ in flat]
    places = spread(wished, line, -GROUND, extent.top)
    for (height, words, name), place in zip(flat, places, strict=True):
        near, far = edge + away * 0.5 * unit, edge + away * 4.0 * unit
        if name is not None:
            start = _edge_of(panel, (name, height), extent, left=left)
            easel.line([(start, height), (near, height), (far, place)], Layer.LEVELS)
        at: Place = (far + away * 0.8 * unit, place)
        heavy = left and name is not None
        easel.words(at, words, across="right" if left else "left", bold=heavy)


def _edge_of(panel: Panel, level: tuple[str, float], extent: Extent, *, left: bool) -> float:
    """Where the line of a level begins: at the side of what it speaks of."""
    name, height = level
    body = next((each for each in panel.bodies if each.name == name), None)
    if body is None:
        return extent.left if left else extent.right
    across = panel.plane.flat(body.vertices)[:, 0]
    there = across[np.abs(body.vertices[:, 2] - height) < NEAR]
    across = there if len(there) else across
    return float(across.min() if left else across.max())
