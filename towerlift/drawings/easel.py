"""Collects the marks of one view, and finds room for words."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from math import pi

import numpy as np

from towerlift.drawings.drawing import (
    Across,
    Arc,
    Filled,
    Layer,
    Mark,
    Pattern,
    Place,
    Size,
    Stroke,
    View,
    Words,
)
from towerlift.drawings.paper import SCALES, Room
from towerlift.drawings.pens import Box, line_box, size_on_paper, words_box
from towerlift.drawings.titles import fitted
from towerlift.rig.curves import Floats

UPRIGHT = pi / 2
_BOUND = 1e6


def scale_for(size: Place, room: Place, scales: Sequence[int] = SCALES) -> int:
    """The largest picture that fits.

    Parameters
    ----------
    size : tuple of float
        What is to be drawn. [m]
    room : tuple of float
        What there is on paper. [mm]
    scales : sequence of int
        Rising.

    Returns
    -------
    scale : int
        First at which it fits; beyond the last, a round number that does.
    """
    need = max(1000.0 * size[0] / max(room[0], 1e-9), 1000.0 * size[1] / max(room[1], 1e-9))
    fits = next((scale for scale in scales if scale >= need - 1e-9), None)
    return fits if fits is not None else int(500 * np.ceil(need / 500))


def spread(wished: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Places as near as can be to those wished for, in the same order, apart.

    Parameters
    ----------
    wished : sequence of float
        Rising.
    gap : float
        Least distance of two.
    low, high : float
        Ends of the room; overrun at the top only where there are too many.

    Returns
    -------
    places : list of float
        Rising by `gap` at least.
    """
    # Each block of labels that push one another stands about its mean wish.
    blocks: list[list[float]] = []
    for k, wish in enumerate(wished):
        blocks.append([wish - k * gap])
        while len(blocks) > 1 and np.mean(blocks[-2]) >= np.mean(blocks[-1]):
            last = blocks.pop()
            blocks[-1] += last
    places: list[float] = []
    for block in blocks:
        places += [float(np.mean(block))] * len(block)
    top = high - gap * (len(wished) - 1)
    return [min(max(place, low), max(top, low)) + k * gap for k, place in enumerate(places)]


class Easel:
    """Marks of a view, in metres, and the room on paper that its words take.

    Parameters
    ----------
    scale : float
        Metres drawn over metres printed.
    room : Room
        Gives height of letters and how lengths are written.
    """

    def __init__(self, scale: float, room: Room) -> None:
        self.scale, self.text, self.measure = scale, room.text, room.measure
        self.marks: list[Mark] = []
        self.taken: list[Box] = []
        self.limits: tuple[Place, Place] | None = None

    def keep_within(self, low: Place, high: Place) -> None:
        """Find room for notes only between two corners, given in metres."""
        self.limits = self.paper(low), self.paper(high)

    @property
    def unit(self) -> float:
        """Metres for a millimetre of paper."""
        return self.scale / 1000.0

    def paper(self, point: Place) -> Place:
        """A place in millimetres, from the view's origin."""
        return point[0] / self.unit, point[1] / self.unit

    def line(
        self, points: Iterable[Sequence[float]] | Floats, layer: Layer, *, closed: bool = False
    ) -> None:
        """Draw a line; of a single place nothing."""
        places = tuple((float(p[0]), float(p[1])) for p in points)
        if len(places) > 1:
            self.marks.append(Stroke(points=places, layer=layer, closed=closed))

    def arc(
        self, centre: Place, radius: float, layer: Layer, *, ends: Place = (0.0, 2 * pi)
    ) -> None:
        """Draw a circle, or a part of one between two angles."""
        self.marks.append(
            Arc(centre=centre, radius=radius, layer=layer, start=ends[0], end=ends[1])
        )

    def fill(
        self,
        rings: Iterable[Sequence[Sequence[float]] | Floats],
        pattern: Pattern,
        layer: Layer,
    ) -> None:
        """Fill an area."""
        closed = tuple(tuple((float(p[0]), float(p[1])) for p in ring) for ring in rings)
        self.marks.append(Filled(rings=closed, pattern=pattern, layer=layer))

    def words(
        self,
        at: Place,
        text: str,
        *,
        across: Across = "left",
        layer: Layer = Layer.WORDS,
        bold: bool = False,
    ) -> None:
        """Write words at a place, and hold their room."""
        mark = Words(at=at, text=text, height=self.text, layer=layer, across=across, bold=bold)
        self.marks.append(mark)
        self.taken.append(words_box(mark, self.paper(at)))

    def size(
        self, start: Place, end: Place, line: Place, turn: float, *, text: str = ""
    ) -> None:
        """Draw a dimension, and hold its room; nothing where there is nothing to measure."""
        run = np.array([np.cos(turn), np.sin(turn)]) @ (np.array(end) - np.array(start))
        if not abs(float(run)) > 1e-9:
            return
        mark = Size(start=start, end=end, line=line, turn=turn, height=self.text, text=text)
        self.marks.append(mark)
        self.hold(mark)

    def hold(self, mark: Size) -> None:
        """Hold the room that a dimension takes."""
        printed = size_on_paper(mark, self._bare(), self.measure)
        self.taken += [printed.box, *(line_box(*line) for line in printed.lines)]

    def hold_line(self, start: Place, end: Place) -> None:
        """Keep words off a line."""
        self.taken.append(line_box(self.paper(start), self.paper(end)))

    def hold_ring(self, centre: Place, radius: float) -> None:
        """Keep words off a disc."""
        half = radius / self.unit
        for turn in (0.0, pi / 4):
            self.taken.append(
                Box(
                    middle=self.paper(centre),
                    half_width=half * np.cos(pi / 8),
                    half_height=half * np.cos(pi / 8),
                    turn=turn,
                )
            )

    def block(self, centre: Place, rows: Sequence[str], *, clear: float) -> bool:
        """Write lines of words beside a disc, the first in heavy letters.

        Parameters
        ----------
        centre : tuple of float
            Of the disc. [m]
        rows : sequence of str
            Downwards.
        clear : float
            Radius of the disc. [m]

        Returns
        -------
        free : bool
            False where there was no room all round: they then stand at its right.
        """
        line = 1.8 * self.text
        marks = [
            Words(at=(0.0, 0.0), text=row, height=self.text, across="middle", bold=n == 0)
            for n, row in enumerate(rows)
        ]
        half = max(words_box(mark, (0.0, 0.0)).half_width for mark in marks)
        tall = line * len(rows) / 2
        x, y = self.paper(centre)
        ring = clear / self.unit + 1.0
        places = []
        for extra in (0.0, 2.0, 5.0, 9.0, 14.0, 20.0, 28.0, 36.0):
            for turn in range(24):
                c, s = np.cos(2 * pi * turn / 24), np.sin(2 * pi * turn / 24)
                # As near as the block can stand in that direction.
                far = ring + extra + min(half / max(abs(c), 1e-9), tall / max(abs(s), 1e-9))
                places.append((x + far * float(c), y + far * float(s)))
        boxes = [Box(middle=place, half_width=half, half_height=tall) for place in places]
        # Away from the middle of the drawing first.
        order = sorted(
            range(len(places)), key=lambda n: (n // 24, -np.hypot(places[n][0], places[n][1]))
        )
        chosen = next((n for n in order if self.free(boxes[n])), None)
        n = 0 if chosen is None else chosen
        self.taken.append(boxes[n])
        if n >= 24:
            # Not beside its disc: a line says whose it is.
            (u, v), box = places[n], boxes[n]
            run = float(np.hypot(u - x, v - y))
            start = (x + (ring - 1.0) * (u - x) / run, y + (ring - 1.0) * (v - y) / run)
            end = (
                float(np.clip(x, u - box.half_width, u + box.half_width)),
                float(np.clip(y, v - box.half_height, v + box.half_height)),
            )
            ends = [(p[0] * self.unit, p[1] * self.unit) for p in (start, end)]
            self.line(ends, Layer.LEVELS)
        for k, mark in enumerate(marks):
            at = (places[n][0], places[n][1] + tall - (k + 0.5) * line)
            self.marks.append(replace(mark, at=(at[0] * self.unit, at[1] * self.unit)))
        return chosen is not None

    def free(self, box: Box) -> bool:
        """Whether a box lies within the limits, and nothing held is in it."""
        if self.limits is not None:
            (left, foot), (right, head) = self.limits
            for x, y in box.corners:
                if not (left <= x <= right and foot <= y <= head):
                    return False
        return not any(box.meets(other, apart=0.2) for other in self.taken)

    def note(
        self,
        point: Place,
        text: str,
        *,
        layer: Layer = Layer.WORDS,
        bold: bool = False,
        reach: float = 3.0,
    ) -> bool:
        """Write words near a point, where there is room, with a line to it.

        Parameters
        ----------
        point : tuple of float
            What they speak of. [m]
        text : str
            One line.
        layer : Layer
            Where they lie.
        bold : bool
            Whether in heavy letters.
        reach : float
            Distance first tried. [mm]

        Returns
        -------
        written : bool
            False where there was no room within nine times that distance.
        """
        if self.limits is not None:
            text = fitted(text, self.text, self.limits[1][0] - self.limits[0][0] - 2, bold=bold)
        for place, across in self._around(point, reach):
            mark = Words(
                at=(place[0] * self.unit, place[1] * self.unit),
                text=text,
                height=self.text,
                layer=layer,
                across=across,
                bold=bold,
            )
            box = words_box(mark, place)
            if self.free(box):
                shift = {"left": -0.6, "right": 0.6, "middle": 0.0}[across]
                end = ((place[0] + shift) * self.unit, place[1] * self.unit)
                self.line((point, end), Layer.LEVELS)
                self.marks.append(mark)
                self.taken += [box, line_box(self.paper(point), self.paper(end))]
                return True
        return False

    def _around(self, point: Place, reach: float) -> Iterator[tuple[Place, Across]]:
        """Places to try for a note, nearest first, then all over the limits. [mm]"""
        x, y = self.paper(point)
        for far in (1.0, 1.7, 2.6, 3.8, 5.5, 7.0, 9.0):
            for turn in range(16):
                angle = 2 * pi * turn / 16 + pi / 8
                dx, dy = float(np.cos(angle)) * reach * far, float(np.sin(angle)) * reach * far
                across: Across = "left" if dx > 0.3 else "right" if dx < -0.3 else "middle"
                shift = {"left": 0.6, "right": -0.6, "middle": 0.0}[across]
                yield (x + dx + shift, y + dy), across
        if self.limits is None:
            return
        (left, foot), (right, head) = self.limits
        grid = [
            (float(u), float(v))
            for u in np.arange(left + 1.0, right, 4.0)
            for v in np.arange(foot + 2.0, head, 3.0)
        ]
        for place in sorted(grid, key=lambda g: (g[0] - x) ** 2 + (g[1] - y) ** 2):
            yield place, "left"

    def view(self, title: str, low: Place, high: Place, corner: Place) -> View:
        """The finished view.

        Parameters
        ----------
        title : str
            Of the view.
        low, high : tuple of float
            Corners of what is shown. [m]
        corner : tuple of float
            Where it stands in the drawing's room. [mm]

        Returns
        -------
        view : View
            With all that was drawn.
        """
        return View(
            title=title,
            scale=self.scale,
            low=low,
            high=high,
            corner=corner,
            marks=tuple(self.marks),
        )

    def _bare(self) -> View:
        return View(
            title="",
            scale=self.scale,
            low=(0.0, 0.0),
            high=(_BOUND, _BOUND),
            corner=(0.0, 0.0),
            marks=(),
        )
