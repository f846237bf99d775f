"""The narrowest place: what passes there, cut through both ends of the gap."""

from dataclasses import dataclass
from math import atan2, pi

import numpy as np

from towerlift.drawings.cuts import Body, Loop, Plane, clear_between, cut_loops
from towerlift.drawings.drawing import Drawing, Layer, Pattern, Place, View, Words
from towerlift.drawings.easel import Easel, scale_for
from towerlift.drawings.instants import Instant, shaft_body, standing_bodies
from towerlift.drawings.lengths import level_words, size_words
from towerlift.drawings.paper import Room
from towerlift.drawings.titles import stem, wrapped
from towerlift.drawings.windows import Window, clipped, parts_within
from towerlift.nesting.margins import Margin
from towerlift.rig.curves import Floats
from towerlift.workflow import Outcome

CLOSE = (1, 2, 5, 10, 20)
"""Scales of the detail."""
AROUND = 0.5
"""Shown of the pieces on either side of the gap, at least. [m]"""
LEVEL = 0.5
"""Rise of the gap over its length up to which it is cut level. [1]"""
DEPTH = 0.9
"""Masonry shown behind its face. [m]"""
SHOWN = 0.4
"""Masonry shown behind its face where it is cut all round. [m]"""


def least_margin(outcome: Outcome, stage: str | None = None) -> Margin | None:
    """The gap that leaves least to spare.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    stage : str or None
        One stage, or all.

    Returns
    -------
    margin : Margin or None
        None where no gap could be held against a budget.
    """
    found = [
        margin
        for margin in outcome.nesting.margins
        if margin.spare is not None and stage in (None, margin.stage)
    ]
    return min(found, key=lambda m: m.spare if m.spare is not None else np.inf, default=None)


def gap_plane(margin: Margin) -> Plane:
    """A plane through both ends of a gap: level where the gap is, else upright.

    Parameters
    ----------
    margin : Margin
        Its two nearest points.

    Returns
    -------
    plane : Plane
        A plan has east to the right, turned only as the gap's slope makes it; an upright
        cut has the level part of the gap to the right, or east where it has none.
    """
    start, end = np.array(margin.where), np.array(margin.across)
    run = end - start
    length = float(np.linalg.norm(run))
    middle = (start + end) / 2
    if length > 0 and abs(run[2]) > LEVEL * length:
        level = np.array([run[0], run[1], 0.0])
        wide = float(np.linalg.norm(level))
        right = level / wide if wide > 1e-6 else np.array([1.0, 0.0, 0.0])
        # Seen so that east, or else north, is to the right.
        if right[0] < -1e-9 or (abs(right[0]) <= 1e-9 and right[1] < 0):
            right = -right
        origin = middle - (middle @ right) * right
        return Plane(
            origin=np.array([origin[0], origin[1], 0.0]),
            right=right,
            up=np.array([0.0, 0.0, 1.0]),
        )
    normal = np.array([0.0, 0.0, 1.0])
    if length > 0 and abs(run[2]) > 1e-9:
        along = run / length
        normal = normal - (normal @ along) * along
        normal /= np.linalg.norm(normal)
    right = np.array([1.0, 0.0, 0.0])
    right = right - (right @ normal) * normal
    right /= np.linalg.norm(right)
    up = np.cross(normal, right)
    # The datum's upright falls on the drawing's origin.
    height = float(middle @ normal) / float(normal[2])
    return Plane(origin=np.array([0.0, 0.0, height]), right=right, up=up)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cut:
    margin: Margin
    plane: Plane
    level: bool
    masonry: tuple[Loop, ...]
    pieces: tuple[tuple[Body, dict[int, list[Loop]]], ...]
    ends: tuple[Place, Place]

    @property
    def chosen(self) -> dict[tuple[str, str], str]:
        """The two pieces the gap is between, by body and mark, as they are named."""
        margin = self.margin
        return {
            (margin.moving, margin.label.within(margin.moving)): (
                f"{margin.moving}: {margin.label.within(margin.moving)}"
            ),
            (margin.against, margin.opposite.within(margin.against)): _other(margin),
        }


def _cut(outcome: Outcome, margin: Margin) -> _Cut:
    plane = gap_plane(margin)
    passage = outcome.raise_.passages[margin.passage]
    place = passage.standing[margin.moving]
    run = place.heel_to - place.heel_from
    share = (margin.heel - place.heel_from) / run if run else 0.0
    instant = Instant(
        title="",
        standing=passage.standing,
        share=share,
        fixtures=passage.fixtures,
        fitted=passage.fitted,
    )
    ends = plane.flat(np.array([margin.where, margin.across]))
    near = {
        margin.moving: (np.array(margin.where), margin.label.within(margin.moving)),
        margin.against: (np.array(margin.across), margin.opposite.within(margin.against)),
    }
    pieces = [
        (body, _through(body, plane, near.get(body.name)))
        for body in standing_bodies(outcome, instant)
    ]
    shaft = _through(shaft_body(outcome), plane, near.get("shaft"), whole=True)
    return _Cut(
        margin=margin,
        plane=plane,
        level=abs(float(plane.normal[2])) > 0.5,
        masonry=tuple(shaft.get(0, [])),
        pieces=tuple((body, loops) for body, loops in pieces if loops),
        ends=((float(ends[0, 0]), float(ends[0, 1])), (float(ends[1, 0]), float(ends[1, 1]))),
    )


def _through(
    body: Body, plane: Plane, near: tuple[Floats, str] | None, *, whole: bool = False
) -> dict[int, list[Loop]]:
    """What a plane cuts; a face that lies in it is cut where the named piece is."""
    beyond = cut_loops(body, plane, whole=whole, touching="beyond")
    if near is None:
        return beyond
    before = cut_loops(body, plane, whole=whole, touching="before")
    point, mark = plane.flat(near[0][None])[0], near[1]
    member = body.marks.index(mark) if mark in body.marks and not whole else 0

    def off(loops: dict[int, list[Loop]]) -> float:
        return _off({member: loops.get(member, [])}, point)

    return min((beyond, before), key=off)


def _off(loops: dict[int, list[Loop]], point: Floats) -> float:
    """How far a point lies from the nearest outline. [m]"""
    least = np.inf
    for each in loops.values():
        for points, closed in each:
            ring = np.vstack([points, points[:1]]) if closed else points
            a, way = ring[:-1], np.diff(ring, axis=0)
            span = np.maximum((way**2).sum(axis=1), 1e-30)
            t = np.clip(((point - a) * way).sum(axis=1) / span, 0.0, 1.0)
            away = np.linalg.norm(a + t[:, None] * way - point, axis=1)
            least = min(least, float(away.min()))
    # Rounded, so that a tie of both sides does not hang on a last bit.
    return round(least, 9)


def gap_drawing(outcome: Outcome, margin: Margin, room: Room) -> Drawing:
    """The cut through the least gap: all of it, and the gap itself large.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    margin : Margin
        Which gap.
    room : Room
        On paper.

    Returns
    -------
    drawing : Drawing
        Two views, true outlines of masonry and members. The gap is dimensioned with its
        proven value, rounded down, and both pieces are named.
    """
    cut = _cut(outcome, margin)
    notes = _notes(cut, room)
    line = 1.8 * room.text
    foot = 3.0 + line * len(notes)
    title = 2.0 + 1.6 * room.text
    half = (room.width - 6.0) / 2
    tall = room.height - foot - title
    views = [
        _whole(outcome, cut, room, (half, tall), foot + title),
        _close(cut, room, (half, tall), (half + 6.0, foot + title)),
    ]
    words = [
        Words(
            at=(view.corner[0] + view.width / 2, foot + title / 2),
            text=f"{view.title}, 1:{view.scale:g}",
            height=room.text,
            across="middle",
            bold=True,
        )
        for view in views
    ]
    words += [
        Words(at=(1.0, foot - 1.5 - (n + 0.5) * line), text=text, height=room.text)
        for n, text in enumerate(notes)
    ]
    return Drawing(
        key=f"gap-{stem(margin.stage)}-{stem(margin.moving)}-{stem(margin.against)}",
        title=f"{margin.stage}: least gap of {margin.moving} to {margin.against}",
        says=" ".join(notes),
        width=room.width,
        height=room.height,
        measure=room.measure,
        views=tuple(views),
        notes=tuple(words),
    )


def gap_words(margin: Margin, room: Room) -> str:
    """The proven gap, rounded down.

    Parameters
    ----------
    margin : Margin
        Which gap.
    room : Room
        How lengths are written.

    Returns
    -------
    words : str
        Or that it was not evaluated.
    """
    if margin.gap is None:
        return "not evaluated"
    unit = "" if room.measure.value != "metric" else " mm"
    return size_words(margin.gap, room.measure, rounding="down") + unit


def _notes(cut: _Cut, room: Room) -> list[str]:
    margin = cut.margin
    heel = level_words(margin.heel, room.measure)
    place = level_words((margin.where[2] + margin.across[2]) / 2, room.measure)
    said = [
        f"{margin.moving} heel {heel}: {margin.label.within(margin.moving)} to "
        f"{_other(margin)}, gap {gap_words(margin, room)} at {place}."
    ]
    if margin.budget is None or margin.gap is None:
        said.append(f"NOT EVALUATED: {margin.why or 'no budget'}.")
    else:
        need = size_words(margin.budget.total, room.measure, rounding="up")
        spare = margin.gap - margin.budget.total
        if spare >= 0:
            word = f"to spare {size_words(spare, room.measure, rounding='down')}"
        else:
            word = f"FALLS SHORT by {size_words(-spare, room.measure, rounding='up')}"
        said.append(f"Budget {need}, {word}.")
    if margin.note:
        said.append(margin.note)
    return wrapped(" ".join(said), room.text, room.width - 4)


def _other(margin: Margin) -> str:
    within = margin.opposite.within(margin.against)
    return f"{margin.against}: {within}" if within != margin.against else within


def _title(cut: _Cut) -> str:
    if cut.level:
        return "Cut level, north up"
    return f"Cut upright, looking {_looking(cut.plane)}"


def _looking(plane: Plane) -> str:
    """Where one looks who sees an upright cut, by the compass."""
    east, north = -plane.normal[0], -plane.normal[1]
    east_about = "east north-east north north-west west south-west south south-east"
    names = east_about.split()
    return names[round(float(np.arctan2(north, east)) / (pi / 4)) % 8]


def _whole(outcome: Outcome, cut: _Cut, room: Room, size: Place, foot: float) -> View:
    points = [p for p, _ in cut.masonry]
    points += [p for _, loops in cut.pieces for each in loops.values() for p, _ in each]
    every = np.concatenate([*points, np.array(cut.ends)])
    low, high = every.min(axis=0) - SHOWN, every.max(axis=0) + SHOWN
    if not cut.level:
        # All of a tall cut says nothing of the gap: what is within reach of it.
        middle = np.mean(cut.ends, axis=0)
        reach = 4.0 * size[1] / max(size)
        low = np.maximum(low, middle - np.array([1e3, reach]))
        high = np.minimum(high, middle + np.array([1e3, reach]))
    beside = (4.0 + 3.0 * room.text) if cut.level else 1.0
    scale = scale_for(
        (float(high[0] - low[0]), float(high[1] - low[1])),
        (size[0] - beside, size[1] - beside),
    )
    low = low - beside * scale / 1000.0
    easel = Easel(scale, room)
    window = ((float(low[0]), float(low[1])), (float(high[0]), float(high[1])))
    _outlines(easel, cut, window)
    easel.line(cut.ends, Layer.GAP)
    middle = (np.array(cut.ends[0]) + np.array(cut.ends[1])) / 2
    easel.arc((float(middle[0]), float(middle[1])), 3.0 * easel.unit, Layer.GAP)
    _across(easel, cut, outcome, window)
    return _placed(easel, window, _title(cut), (0.0, foot), size)


def _close(cut: _Cut, room: Room, size: Place, corner: Place) -> View:
    (x0, y0), (x1, y1) = cut.ends
    gap = float(np.hypot(x1 - x0, y1 - y0))
    around = max(AROUND, 3.0 * gap)
    scale = scale_for((around, around), (size[0], size[1]), CLOSE)
    easel = Easel(scale, room)
    mx, my = (x0 + x1) / 2, (y0 + y1) / 2
    hx, hy = size[0] * easel.unit / 2, size[1] * easel.unit / 2
    window = ((mx - hx, my - hy), (mx + hx, my + hy))
    _outlines(easel, cut, window)
    if gap > 1e-9:
        turn = atan2(y1 - y0, x1 - x0)
        # Beside the gap, where its extension lines do not run along it.
        off = 9.0 * easel.unit
        line = (x0 - off * np.sin(turn), y0 + off * np.cos(turn))
        easel.line(cut.ends, Layer.GAP)
        easel.size(cut.ends[0], cut.ends[1], (float(line[0]), float(line[1])), turn,
                   text=_said(cut, room))  # fmt: skip
    easel.keep_within(*window)
    _names(easel, cut, window)
    corners = [window[0], (window[1][0], window[0][1]), window[1], (window[0][0], window[1][1])]
    easel.line(corners, Layer.LEVELS, closed=True)
    return _placed(easel, window, "The gap", corner, size)


def _names(easel: Easel, cut: _Cut, window: Window) -> None:
    """The two pieces by name, with a line into each."""
    (x0, y0), (x1, y1) = cut.ends
    gap = max(float(np.hypot(x1 - x0, y1 - y0)), 1e-9)
    away = np.array([x1 - x0, y1 - y0]) / gap
    inside = {
        (body.name, body.marks[member]): ring.mean(axis=0)
        for body, loops in cut.pieces
        for member, each in loops.items()
        for points, closed in each
        if closed
        for ring in clipped(points, window)
    }
    for (key, name), end, sign in zip(cut.chosen.items(), cut.ends, (-1.0, 1.0), strict=True):
        point = inside.get(key, np.array(end) + sign * 6.0 * easel.unit * away)
        easel.note((float(point[0]), float(point[1])), name, bold=True, reach=5.0)


def _said(cut: _Cut, room: Room) -> str:
    words = gap_words(cut.margin, room)
    return words if cut.margin.gap is None else f"gap {words}"


def _placed(easel: Easel, window: Window, title: str, corner: Place, size: Place) -> View:
    low, high = window
    wide, tall = ((b - a) / easel.unit for a, b in zip(low, high, strict=True))
    at = (corner[0] + (size[0] - wide) / 2, corner[1] + (size[1] - tall) / 2)
    return easel.view(title, low, high, at)


def _outlines(easel: Easel, cut: _Cut, window: Window) -> None:
    for points, closed in cut.masonry:
        _masonry(easel, points, closed, window)
    for body, loops in cut.pieces:
        for member, each in loops.items():
            named = (body.name, body.marks[member]) in cut.chosen
            layer = Layer.STONE if named else Layer.CUT
            for points, closed in each:
                if closed:
                    for ring in clipped(points, window):
                        easel.fill([ring], Pattern.TIMBER, Layer.CUT)
                _stroke(easel, points, closed, (layer, window))


def _stroke(easel: Easel, points: Floats, closed: bool, how: tuple[Layer, Window]) -> None:
    """The outline as far as it lies in the window, without the window's own edges."""
    layer, window = how
    low, high = np.array(window[0]), np.array(window[1])
    if np.all(points >= low) and np.all(points <= high):
        easel.line(points, layer, closed=closed)
        return
    ring = np.vstack([points, points[:1]]) if closed else points
    for part in parts_within(ring, window):
        easel.line(part, layer)


def _masonry(easel: Easel, points: Floats, closed: bool, window: Window) -> None:
    """The face of the stone, and hatching behind it, away from the middle."""
    _stroke(easel, points, closed, (Layer.STONE, window))
    if closed:
        low, high = points.min(axis=0) - SHOWN, points.max(axis=0) + SHOWN
        outer = np.array([low, (high[0], low[1]), high, (low[0], high[1])])
        rings = [*clipped(outer, window), *clipped(points, window)]
    else:
        behind = _behind(points, DEPTH)
        rings = clipped(np.concatenate([points, behind[::-1]]), window)
    if rings:
        easel.fill(rings, Pattern.STONE, Layer.STONE)


def _behind(points: Floats, depth: float) -> Floats:
    """The line of a wall's face moved outward, the room lying about the middle."""
    middle = points.mean(axis=0)
    run = points[-1] - points[0]
    out = np.array([run[1], -run[0]])
    length = float(np.linalg.norm(out))
    if not length > 0:
        return points
    out = out / length
    if out @ middle < 0:
        out = -out
    return np.asarray(points + depth * out)


def _across(easel: Easel, cut: _Cut, outcome: Outcome, window: Window) -> None:
    """Clear width of the shaft at the cut, both ways, where the cut is level."""
    if not cut.level or not cut.masonry:
        return
    line = outcome.plan.plumb_line
    flat = cut.plane.flat(np.array([[line.x, line.y, cut.plane.origin[2]]]))[0]
    x, y = float(flat[0]), float(flat[1])
    unit = easel.unit
    across = clear_between(cut.masonry, (x, y), 0)
    if across is not None:
        place = (0.0, window[0][1] + 2.0 * unit)
        easel.size((across[0], y), (across[1], y), place, 0.0)
    upward = clear_between(cut.masonry, (x, y), 1)
    if upward is not None:
        # Words stand to the left of an upright line.
        place = (window[0][0] + (2.0 + 2.2 * easel.text) * unit, 0.0)
        easel.size((x, upward[0]), (x, upward[1]), place, pi / 2)
