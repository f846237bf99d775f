"""A drawing as SVG, in millimetres of paper, with or without its sheet."""

from collections.abc import Iterator, Sequence
from html import escape
from math import cos, degrees, sin

from towerlift.drawings.drawing import (
    Arc,
    Drawing,
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
from towerlift.drawings.hatching import hatch_lines
from towerlift.drawings.lengths import Measure
from towerlift.drawings.paper import Block
from towerlift.drawings.pens import CAPITALS, PENS, STRIPES, printable, size_on_paper
from towerlift.drawings.titles import block_marks

FACE = "DejaVu Sans, Noto Sans, Verdana, sans-serif"


def to_svg(drawing: Drawing, block: Block | None = None) -> str:
    """A drawing as one SVG element, at its size on paper.

    Parameters
    ----------
    drawing : Drawing
        What is drawn.
    block : Block or None
        Sheet to put it on, with frame and block of words; None gives the drawing alone.

    Returns
    -------
    svg : str
        Lengths of its coordinate system are millimetres of paper.
    """
    width, height, origin = drawing.width, drawing.height, (0.0, 0.0)
    if block is not None:
        paper = block.paper
        width, height = paper.width, paper.height
        origin = (paper.margin + 2.0, paper.margin + paper.block + 2.0)
    writer = _Writer(top=height, measure=drawing.measure)
    parts: list[str] = []
    for view in drawing.views:
        shown = _Shown(view=view, origin=origin)
        parts.append(f'<g class="view" data-scale="{view.scale:g}">')
        parts += [each for mark in view.marks for each in writer.mark(mark, shown)]
        parts.append("</g>")
    parts += [
        each for mark in drawing.notes for each in writer.mark(mark, _Shown(origin=origin))
    ]
    if block is not None:
        parts.append('<g class="sheet">')
        for mark in block_marks(drawing, block):
            parts += writer.mark(mark, _Shown())
        parts.append("</g>")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{width:g}mm" '
        f'height="{height:g}mm" viewBox="0 0 {width:g} {height:g}" '
        f'font-family="{FACE}" fill="none" stroke-linejoin="round" stroke-linecap="butt">'
        f"<title>{_clean(drawing.title)}</title><desc>{_clean(drawing.says)}</desc>"
        f'<rect width="{width:g}" height="{height:g}" fill="#fff"/>' + "".join(parts) + "</svg>"
    )


def _clean(text: str) -> str:
    return escape(printable(text))


class _Shown:
    """From a view's metres, or from a sheet's millimetres, to millimetres of paper."""

    def __init__(self, *, view: View | None = None, origin: Place = (0.0, 0.0)) -> None:
        self.view, self.origin = view, origin
        self.factor = 1.0 if view is None else 1000.0 / view.scale

    def at(self, point: Place) -> Place:
        x, y = point if self.view is None else self.view.on_paper(point)
        return x + self.origin[0], y + self.origin[1]


class _Writer:
    def __init__(self, *, top: float, measure: Measure) -> None:
        self.top, self.measure = top, measure

    def mark(self, mark: Mark, shown: _Shown) -> Iterator[str]:
        """Elements of one mark."""
        if isinstance(mark, Stroke):
            yield self._path([shown.at(p) for p in mark.points], mark.layer, closed=mark.closed)
        elif isinstance(mark, Arc):
            yield self._arc(mark, shown)
        elif isinstance(mark, Filled):
            yield from self._filled(mark, shown)
        elif isinstance(mark, Words):
            yield self._words(mark, shown.at(mark.at))
        else:
            yield from self._size(mark, shown)

    def _y(self, y: float) -> float:
        return self.top - y

    def _points(self, points: Sequence[Place]) -> str:
        return "L".join(f"{x:.3f} {self._y(y):.3f}" for x, y in points)

    def _pen(self, layer: Layer) -> str:
        pen = PENS[layer]
        dashes = " ".join(f"{d:g}" for d in pen.dashes)
        dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
        name = str(layer).lower().replace(" ", "-")
        return f'stroke="{pen.colour}" stroke-width="{pen.weight:g}"{dashed} class="{name}"'

    def _path(self, points: Sequence[Place], layer: Layer, *, closed: bool = False) -> str:
        end = "Z" if closed else ""
        return f'<path d="M{self._points(points)}{end}" {self._pen(layer)}/>'

    def _arc(self, arc: Arc, shown: _Shown) -> str:
        x, y = shown.at(arc.centre)
        radius = arc.radius * shown.factor
        if arc.whole:
            return (
                f'<circle cx="{x:.3f}" cy="{self._y(y):.3f}" r="{radius:.3f}" '
                f"{self._pen(arc.layer)}/>"
            )
        ends = [
            (x + radius * cos(angle), y + radius * sin(angle)) for angle in (arc.start, arc.end)
        ]
        large = int(arc.end - arc.start > 3.141592653589793)
        (x0, y0), (x1, y1) = ends
        return (
            f'<path d="M{x0:.3f} {self._y(y0):.3f}A{radius:.3f} {radius:.3f} 0 {large} 0 '
            f'{x1:.3f} {self._y(y1):.3f}" {self._pen(arc.layer)}/>'
        )

    def _filled(self, area: Filled, shown: _Shown) -> Iterator[str]:
        rings = [[shown.at(point) for point in ring] for ring in area.rings]
        pen = PENS[area.layer]
        if area.pattern is Pattern.SOLID:
            path = "".join(f"M{self._points(ring)}Z" for ring in rings)
            yield f'<path d="{path}" fill="{pen.colour}" fill-rule="evenodd" class="solid"/>'
            return
        lines = [
            line
            for turn, spacing in STRIPES[area.pattern]
            for line in hatch_lines(rings, turn, spacing)
        ]
        if lines:
            path = "".join(f"M{self._points(line)}" for line in lines)
            yield (
                f'<path d="{path}" stroke="{pen.colour}" stroke-width="0.1" '
                f'class="hatch-{area.pattern}"/>'
            )

    def _words(self, words: Words, at: Place) -> str:
        anchor = {"left": "start", "middle": "middle", "right": "end"}[words.across]
        x, y = at[0], self._y(at[1])
        # Half of the capitals below the place: the baseline of the letters.
        dx, dy = words.height / 2 * sin(words.turn), words.height / 2 * cos(words.turn)
        x, y = x + dx, y + dy
        turned = (
            f' transform="rotate({-degrees(words.turn):.3f} {x:.3f} {y:.3f})"'
            if words.turn
            else ""
        )
        weight = ' font-weight="bold"' if words.bold else ""
        return (
            f'<text x="{x:.3f}" y="{y:.3f}" font-size="{words.height / CAPITALS:.3f}" '
            f'text-anchor="{anchor}" {self._ink(words)}{weight}{turned}>'
            f"{_clean(words.text)}</text>"
        )

    @staticmethod
    def _ink(words: Words) -> str:
        colour = PENS[words.layer].colour
        if words.hollow:
            return f'stroke="{colour}" stroke-width="0.4"'
        # White round the letters keeps them readable over hatching and lines.
        return f'fill="{colour}" stroke="#fff" stroke-width="0.7" paint-order="stroke"'

    def _size(self, size: Size, shown: _Shown) -> Iterator[str]:
        if shown.view is None:
            raise ValueError("a dimension belongs in a view, which has a scale")
        printed = size_on_paper(size, shown.view, self.measure)
        x, y = shown.origin

        def moved(line: Sequence[Place]) -> list[Place]:
            return [(p[0] + x, p[1] + y) for p in line]

        for line in printed.lines:
            yield self._path(moved(line), size.layer)
        tick = PENS[size.layer]
        for line in printed.ticks:
            yield (
                f'<path d="M{self._points(moved(line))}" stroke="{tick.colour}" '
                f'stroke-width="0.4"/>'
            )
        yield self._words(
            Words(
                at=printed.at,
                text=printed.text,
                height=printed.height,
                layer=size.layer,
                across="middle",
                turn=printed.turn,
            ),
            moved([printed.at])[0],
        )
