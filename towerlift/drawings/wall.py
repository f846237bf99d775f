"""The shaft unrolled: where runners are packed, masonry cut and pieces pared, with depths."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from towerlift.drawings.drawing import Drawing, Layer, Pattern, Place, Words
from towerlift.drawings.easel import Easel, scale_for, spread
from towerlift.drawings.lengths import Measure, level_words, size_words
from towerlift.drawings.paper import Room
from towerlift.drawings.pens import words_width
from towerlift.drawings.titles import fitted, stem, wrapped
from towerlift.nesting.answers import Paring, pare_list
from towerlift.nesting.bench import Bench, Setting
from towerlift.nesting.movement import FACES
from towerlift.nesting.shims import Shim, guide_of, shim_list
from towerlift.plan.bodies import Face, Member
from towerlift.rig.curves import Floats

ORDER = (Face.NORTH, Face.EAST, Face.SOUTH, Face.WEST)
"""As one turns to the right inside the shaft."""
# Direction along each face, to the right of one who stands inside and looks at it.
_ALONG: dict[Face, tuple[float, float]] = {
    Face.NORTH: (1.0, 0.0),
    Face.EAST: (0.0, -1.0),
    Face.SOUTH: (-1.0, 0.0),
    Face.WEST: (0.0, 1.0),
}
COLUMN = 15.0
"""Room for the figures beside each face. [mm]"""
LETTERS = 0.85
"""Letters of this drawing over those of others."""
LISTED = 6
"""Pieces to be pared that are named below the drawing."""
BEARS = 0.6
"""A runner lies this near the face it is fixed to. [m]"""


def wall_drawing(bench: Bench, room: Room, *, setting: Setting | None = None) -> Drawing:
    """Four faces of the shaft side by side, height against face, for one section.

    Parameters
    ----------
    bench : Bench
        The section, on the framer's bench.
    room : Room
        On paper.
    setting : Setting or None
        What the framer has turned; None as planned.

    Returns
    -------
    drawing : Drawing
        Packing behind the runners at every station of the survey, masonry to be cut
        where there is no room, pieces to be pared and the least gap of each face.
    """
    setting = setting or Setting()
    room = replace(room, text=LETTERS * room.text)
    plan, section = bench.plan, bench.section.name
    guide = guide_of(plan, section)
    shims: tuple[Shim, ...] = ()
    if guide is not None:
        heights = bench.walls.heights.tolist()
        shims = shim_list(bench.walls, guide, bench.line(setting), heights)
    parings = pare_list(bench, setting)
    notes = _notes(bench, setting, (shims, parings), room)
    line = 1.8 * room.text
    foot = 2.0 + line * len(notes)
    panels = _Panels(bench, room, foot)
    for n, face in enumerate(ORDER):
        panels.face(n, face)
        panels.runners(n, face, [shim for shim in shims if shim.face is face])
        panels.figures(n, [shim for shim in shims if shim.face is face])
        panels.pared(n, face, [each for each in parings if each.face is face])
        panels.least(n, face, setting)
    view = panels.easel.view("The shaft from inside", *panels.window, (0.0, foot))
    words = tuple(
        Words(at=(1.0, foot - 1.0 - (n + 0.5) * line), text=text, height=room.text)
        for n, text in enumerate(notes)
    )
    return Drawing(
        key=f"wall-{stem(section)}",
        title=f"Shaft unrolled, from inside: {section}",
        says=" ".join(notes),
        width=room.width,
        height=room.height,
        measure=room.measure,
        views=(view,),
        notes=words,
    )


def _notes(
    bench: Bench,
    setting: Setting,
    lists: tuple[Sequence[Shim], Sequence[Paring]],
    room: Room,
) -> list[str]:
    shims, parings = lists
    unit = "mm" if room.measure is Measure.METRIC else "inches"
    said = []
    if shims:
        said.append(
            "Circles: where least is left. Figures beside a face: packing behind its runners "
            f"at that height, {unit}, rounded "
            'down; "cut" is masonry to be cut, rounded up.'
        )
    else:
        said.append(f"No shoe of {bench.section.name} runs on a runner fixed to the masonry.")
    if parings:
        listed = [
            f"{p.mark} {size_words(p.depth, room.measure, rounding='up')} at "
            f"{level_words(p.height, room.measure)}"
            for p in parings[:LISTED]
        ]
        more = f" and {len(parings) - LISTED} more" if len(parings) > LISTED else ""
        said.append(f"Wedges: pieces to be pared, {'; '.join(listed)}{more}.")
    elif _falls_short(bench, setting):
        said.append("A FACE FALLS SHORT, and no paring that a piece can bear cures it.")
    else:
        said.append("Nothing need be pared.")
    if bench.unknown:
        said.append(f"NOT EVALUATED: {bench.unknown}.")
    return wrapped(" ".join(said), room.text, room.width - 4)


def _falls_short(bench: Bench, setting: Setting) -> bool:
    gaps = bench.gaps(setting)
    worst = gaps.worst()
    return worst is not None and not bool(gaps.spare[worst] >= 0)


class _Panels:
    """Four faces beside one another in one view."""

    def __init__(self, bench: Bench, room: Room, foot: float) -> None:
        self.bench, self.room = bench, room
        self.heights = bench.walls.heights
        edges = [self._edges(face) for face in ORDER]
        self.wide = max(float((right - left).max()) for left, right in edges)
        self.low, self.high = float(self.heights[0]), float(self.heights[-1])
        head = 6.8 * room.text
        column = max(COLUMN, words_width("cut 0' 11 15/16\"", room.text) + 4.0)
        if room.measure is Measure.METRIC:
            column = max(COLUMN, words_width("cut 000", room.text) + 4.0)
        first = words_width(level_words(28.888, room.measure), room.text) + 4.0
        scale = scale_for(
            (4 * self.wide, self.high - self.low),
            (room.width - first - 4 * column, room.height - foot - head - 4.0),
        )
        self.easel = Easel(scale, room)
        unit = self.easel.unit
        self.first = first * unit
        each = (room.width - first) / 4 * unit
        self.pitch, self.column = each, column * unit
        below = 3.0 * unit
        self.window: tuple[Place, Place] = (
            (0.0, self.low - below),
            (room.width * unit, self.low - below + (room.height - foot) * unit),
        )
        self.easel.keep_within(*self.window)
        self.top = self.high
        self._levels()

    def _levels(self) -> None:
        """Heights of the survey's stations, left of the faces."""
        unit, line = self.easel.unit, 1.6 * self.room.text * self.easel.unit
        heights = self.heights.tolist()
        places = spread(heights, line, self.low, 1e9)
        # Where stations lie close on small paper, the words reach above the wall-head.
        self.top = max(self.high, places[-1] + 0.7 * line)
        for height, place in zip(heights, places, strict=True):
            near, far = self.first - 1.5 * unit, self.first
            self.easel.line([(near, place), (far, height)], Layer.LEVELS)
            words = level_words(height, self.room.measure)
            self.easel.words((near - 0.5 * unit, place), words, across="right")

    def _edges(self, face: Face) -> tuple[Floats, Floats]:
        """Where the corners are along a face at each station, left and right. [m]"""
        walls = self.bench.walls
        k = ORDER.index(face)
        before, after = FACES.index(ORDER[k - 1]), FACES.index(ORDER[(k + 1) % 4])
        # Faces are distances outward: the one on the left lies at minus its distance.
        return -walls.faces[:, before], walls.faces[:, after]

    def at(self, n: int, along: float, height: float) -> Place:
        """Place of a point of a face in the view."""
        left = self.first + n * self.pitch + 2.0 * self.easel.unit
        return left + self.wide / 2 + along, height

    def face(self, n: int, face: Face) -> None:
        """Outline of a face, its name and its ledges."""
        left, right = self._edges(face)
        heights = self.heights.tolist()
        up = [self.at(n, float(t), z) for t, z in zip(left, heights, strict=True)]
        down = [self.at(n, float(t), z) for t, z in zip(right, heights, strict=True)]
        self.easel.line([*up, *reversed(down)], Layer.STONE, closed=True)
        for height, a, b in zip(heights, up, down, strict=True):
            self.easel.line([a, b], Layer.FAINT)
            del height
        middle = self.at(n, 0.0, self.top)
        above = (middle[0], middle[1] + 5.4 * self.room.text * self.easel.unit)
        self.easel.words(above, str(face).upper(), across="middle", bold=True)
        self._ledges(n, face, (left, right))

    def _ledges(self, n: int, face: Face, edges: tuple[Floats, Floats]) -> None:
        for ledge in self.bench.plan.shaft.ledges:
            if ledge.face is not face:
                continue
            ends = [
                [float(np.interp(z, self.heights, edge)) for edge in edges]
                for z in (ledge.foot, ledge.head)
            ]
            ring = [
                self.at(n, ends[0][0], ledge.foot),
                self.at(n, ends[0][1], ledge.foot),
                self.at(n, ends[1][1], ledge.head),
                self.at(n, ends[1][0], ledge.head),
            ]
            self.easel.fill([ring], Pattern.STONE, Layer.STONE)
            self.easel.line(ring, Layer.STONE, closed=True)

    def runners(self, n: int, face: Face, shims: Sequence[Shim]) -> None:
        """Runners on a face, hatched where they are packed or the masonry is cut."""
        for member in self._on(face):
            along = np.array(_ALONG[face])
            t = float(along @ np.array(member.start[:2]))
            half = (member.breadth if abs(along[0]) > 0.5 else member.depth) / 2
            foot, head = sorted((member.start[2], member.end[2]))
            self._packed(n, (t - half, t + half), (foot, head), shims)
            ring = [self.at(n, t - half, foot), self.at(n, t + half, foot),
                    self.at(n, t + half, head), self.at(n, t - half, head)]  # fmt: skip
            self.easel.line(ring, Layer.FIXTURE, closed=True)

    def _packed(self, n: int, sides: Place, ends: Place, shims: Sequence[Shim]) -> None:
        for lower, upper in pairwise(shims):
            foot, head = max(lower.height, ends[0]), min(upper.height, ends[1])
            if not head > foot:
                continue
            short = min(lower.packing, upper.packing) < 0
            ring = [self.at(n, sides[0], foot), self.at(n, sides[1], foot),
                    self.at(n, sides[1], head), self.at(n, sides[0], head)]  # fmt: skip
            pattern = Pattern.PARE if short else Pattern.PACK
            self.easel.fill([ring], pattern, Layer.CUT)

    def _on(self, face: Face) -> list[Member]:
        """Upright runners fixed to a face of the masonry."""
        k = FACES.index(face)
        walls, found = self.bench.walls, []
        axis, sign = (1, 1.0) if face is Face.NORTH else (1, -1.0)
        if face in (Face.EAST, Face.WEST):
            axis, sign = 0, (1.0 if face is Face.EAST else -1.0)
        for fixture in self.bench.plan.fixtures:
            if fixture.kind != "runner":
                continue
            for member in fixture.members:
                out = sign * member.start[axis]
                if 0 <= float(walls.faces[:, k].max()) - out < BEARS:
                    found.append(member)
        return found

    def figures(self, n: int, shims: Sequence[Shim]) -> None:
        """Depth of packing at every station, beside the face."""
        if not shims:
            return
        unit = self.easel.unit
        line = 1.6 * self.room.text * unit
        right = max(self.at(n, float(t), 0.0)[0] for t in self._edges(ORDER[n])[1])
        places = spread([shim.height for shim in shims], line, self.low, 1e9)
        for shim, place in zip(shims, places, strict=True):
            cut = shim.packing < 0
            depth = size_words(
                abs(shim.packing), self.room.measure, rounding="up" if cut else "down"
            )
            words = f"cut {depth}" if cut else depth
            edge = self.at(n, float(np.interp(shim.height, self.heights,
                           self._edges(ORDER[n])[1])), shim.height)  # fmt: skip
            self.easel.line([edge, (right + 2.0 * unit, place)], Layer.LEVELS)
            self.easel.words((right + 2.6 * unit, place), words, bold=cut)

    def _along(self, face: Face, mark: str) -> float:
        """Where a piece of the section lies along a face; its middle where not drawn. [m]"""
        member = next((m for m in self.bench.section.members if m.mark == mark), None)
        if member is None:
            return 0.0
        line = self.bench.plan.plumb_line
        outward = {
            Face.NORTH: (0.0, 1.0),
            Face.EAST: (1.0, 0.0),
            Face.SOUTH: (0.0, -1.0),
            Face.WEST: (-1.0, 0.0),
        }[face]
        c, s = np.cos(line.turn), np.sin(line.turn)
        ends = [
            np.array([line.x + c * p[0] - s * p[1], line.y + s * p[0] + c * p[1]])
            for p in (member.start, member.end)
        ]
        reach = [float(np.array(outward) @ end) for end in ends]
        # The end that stands out, or the middle of a piece that lies along the face.
        if abs(reach[0] - reach[1]) < 1e-6:
            point = (ends[0] + ends[1]) / 2
        else:
            point = ends[int(np.argmax(reach))]
        return float(np.array(_ALONG[face]) @ point)

    def pared(self, n: int, face: Face, parings: Sequence[Paring]) -> None:
        """Pieces to be pared, where they come nearest."""
        unit = self.easel.unit
        for each in parings:
            x, y = self.at(n, self._along(face, each.mark), each.height)
            wedge = [(x - 1.2 * unit, y + 1.6 * unit), (x + 1.2 * unit, y + 1.6 * unit), (x, y)]
            self.easel.fill([wedge], Pattern.SOLID, Layer.GAP)
            depth = size_words(each.depth, self.room.measure, rounding="up")
            self.easel.note((x, y), f"pare {depth}", layer=Layer.GAP, bold=True, reach=3.0)

    def least(self, n: int, face: Face, setting: Setting) -> None:
        """Where least is left to spare on a face, and by which piece."""
        gaps = self.bench.gaps(setting)
        worst = gaps.worst(face)
        below = (self.at(n, 0.0, self.high)[0],
                 self.top + 1.5 * self.room.text * self.easel.unit)  # fmt: skip
        if worst is None:
            self.easel.words(below, "nothing passes", across="middle")
            return
        row = worst[0]
        mark = self.bench.drawn.marks[int(gaps.member[worst])]
        height = float(gaps.edges[row : row + 2].mean())
        point = self.at(n, self._along(face, mark), height)
        gap = size_words(float(gaps.gap[worst]), self.room.measure, rounding="down")
        wide = self.pitch / self.easel.unit - 2.0
        above = (below[0], below[1] + 1.9 * self.room.text * self.easel.unit)
        self.easel.words(above, f"least gap {gap}", across="middle")
        self.easel.words(below, fitted(mark, self.room.text, wide), across="middle")
        self.easel.arc(point, 1.6 * self.easel.unit, Layer.GAP)
