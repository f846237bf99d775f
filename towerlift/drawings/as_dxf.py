"""A drawing as DXF: model space in metres at full size, and a sheet in millimetres.

The first view lies in model space where it lies in the shaft, so that a point picked
there reads as the plan writes it; each further view stands to the right of the one
before it, moved by what `model_offsets` says.
"""

import io
from collections.abc import Iterator
from contextlib import contextmanager
from math import cos, degrees, sin
from threading import Lock
from typing import Any

from ezdxf._options import options
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.layouts.base import BaseLayout

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
from towerlift.drawings.lengths import INCH, Measure
from towerlift.drawings.paper import Block
from towerlift.drawings.pens import (
    PAST,
    PENS,
    STRIPES,
    TICK,
    Pen,
    printable,
    size_on_paper,
    size_text,
)
from towerlift.drawings.titles import block_marks

METRES, METRIC = 6, 1
"""Codes of $INSUNITS and $MEASUREMENT."""
GAP_BETWEEN = 2.0
"""Between two views in model space, over the width of the wider. [1]"""
STYLES = {False: "LETTERS", True: "LETTERS HEAVY"}
FONTS = {False: "arial.ttf", True: "arialbd.ttf"}
_ALIGN = {
    "left": TextEntityAlignment.MIDDLE_LEFT,
    "middle": TextEntityAlignment.MIDDLE_CENTER,
    "right": TextEntityAlignment.MIDDLE_RIGHT,
}
# Weights that the format knows. [0.01 mm]
_WEIGHTS = (0, 5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100)
_LOCK = Lock()


def model_offsets(drawing: Drawing) -> tuple[Place, ...]:
    """How far each view is moved in model space.

    Parameters
    ----------
    drawing : Drawing
        What is drawn.

    Returns
    -------
    offsets : tuple of (float, float)
        Nothing for the first view. [m]
    """
    offsets: list[Place] = []
    right = 0.0
    for n, view in enumerate(drawing.views):
        wide = view.high[0] - view.low[0]
        shift = 0.0 if n == 0 else right + GAP_BETWEEN * wide - view.low[0]
        offsets.append((shift, 0.0))
        right = max(right, view.high[0] + shift) if n else view.high[0]
    return tuple(offsets)


def to_dxf(drawing: Drawing, block: Block | None = None) -> bytes:
    """A drawing as a DXF file of the year 2010.

    Parameters
    ----------
    drawing : Drawing
        What is drawn.
    block : Block or None
        Sheet of the layout, with frame and block of words; None leaves them out.

    Returns
    -------
    content : bytes
        The same for the same drawing: it carries neither date nor random number.
    """
    with _without_dates():
        doc = new("R2010", units=METRES)
        doc.header["$MEASUREMENT"] = METRIC
        doc.header["$PSLTSCALE"] = 0
        doc.header["$LWDISPLAY"] = 1
        _tables(doc)
        for view, offset in zip(drawing.views, model_offsets(drawing), strict=True):
            writer = _Writer(doc.modelspace(), drawing.measure, view=view, offset=offset)
            for mark in view.marks:
                writer.put(mark)
        _sheet(doc, drawing, block)
        _in_order(doc)
        out = io.StringIO()
        doc.write(out)
    return out.getvalue().encode("utf-8")


@contextmanager
def _without_dates() -> Iterator[None]:
    # The library stamps files with the hour and a random number unless told not to.
    with _LOCK:
        before = options.write_fixed_meta_data_for_testing
        options.write_fixed_meta_data_for_testing = True
        try:
            yield
        finally:
            options.write_fixed_meta_data_for_testing = before


def _in_order(doc: Any) -> None:
    # The library takes its list of classes from a set, whose order changes from run to run.
    doc.classes.add_required_classes(doc.dxfversion)
    classes = doc.classes.classes
    for key in sorted(classes):
        classes[key] = classes.pop(key)


def _weight(pen: Pen) -> int:
    return min(_WEIGHTS, key=lambda each: abs(each - 100 * pen.weight))


def _tables(doc: Any) -> None:
    for bold, name in STYLES.items():
        doc.styles.add(name, font=FONTS[bold])
    for layer, pen in PENS.items():
        kind = "CONTINUOUS"
        if pen.dashes:
            kind = f"{layer} DASHES"
            run = [(-1) ** n * d for n, d in enumerate(pen.dashes)]
            doc.linetypes.add(kind, pattern=[sum(pen.dashes), *run], description=str(layer))
        doc.layers.add(str(layer), color=pen.index, linetype=kind, lineweight=_weight(pen))


def _text(words: str) -> str:
    # "%%" and "^" begin codes in a line of text.
    plain = printable(words).replace("^", "^ ")
    return plain.replace("%", "%%%") if "%%" in plain else plain


def _rich(words: str) -> str:
    plain = printable(words)
    for sign in ("\\", "{", "}"):
        plain = plain.replace(sign, "\\" + sign)
    return plain


class _Writer:
    """Puts marks into a layout, moved by an offset; letters get their model height."""

    def __init__(
        self,
        layout: BaseLayout,
        measure: Measure,
        *,
        view: View | None = None,
        offset: Place = (0.0, 0.0),
    ) -> None:
        self.layout, self.measure, self.view, self.offset = layout, measure, view, offset
        # Model units for a millimetre of paper.
        self.unit = 1.0 if view is None else view.scale / 1000.0

    def at(self, point: Place) -> Place:
        """Where a place lies in the layout."""
        return point[0] + self.offset[0], point[1] + self.offset[1]

    def put(self, mark: Mark) -> None:
        """Add the entity of one mark."""
        if isinstance(mark, Stroke):
            self._stroke(mark)
        elif isinstance(mark, Arc):
            self._arc(mark)
        elif isinstance(mark, Filled):
            self._filled(mark)
        elif isinstance(mark, Words):
            self._words(mark)
        else:
            self._size(mark)

    def _on(self, layer: Layer) -> dict[str, Any]:
        return {"layer": str(layer), "ltscale": self.unit}

    def _stroke(self, stroke: Stroke) -> None:
        points = [self.at(point) for point in stroke.points]
        self.layout.add_lwpolyline(
            points, close=stroke.closed, dxfattribs=self._on(stroke.layer)
        )

    def _arc(self, arc: Arc) -> None:
        on = self._on(arc.layer)
        if arc.whole:
            self.layout.add_circle(self.at(arc.centre), arc.radius, dxfattribs=on)
        else:
            ends = degrees(arc.start), degrees(arc.end)
            self.layout.add_arc(self.at(arc.centre), arc.radius, *ends, dxfattribs=on)

    def _filled(self, area: Filled) -> None:
        hatch = self.layout.add_hatch(dxfattribs=self._on(area.layer))
        hatch.dxf.color = 256
        hatch.dxf.lineweight = 9
        if area.pattern is Pattern.SOLID:
            hatch.set_solid_fill(color=256)
        else:
            rows = [
                [
                    degrees(turn),
                    (0.0, 0.0),
                    _across(turn, spacing * self.unit),
                    [],
                ]
                for turn, spacing in STRIPES[area.pattern]
            ]
            name = f"TOWER {area.pattern}".upper()
            hatch.set_pattern_fill(name, color=256, definition=rows, pattern_type=2)
        for n, ring in enumerate(area.rings):
            flags = 1 if n == 0 else 16
            points = [self.at(point) for point in ring]
            hatch.paths.add_polyline_path(points, is_closed=True, flags=flags)

    def _words(self, words: Words) -> None:
        heavy = words.bold and not words.hollow
        text = self.layout.add_text(
            _text(words.text),
            height=words.height * self.unit,
            rotation=degrees(words.turn),
            dxfattribs={
                **self._on(words.layer),
                "style": STYLES[heavy],
            },
        )
        text.set_placement(self.at(words.at), align=_ALIGN[words.across])

    def _size(self, size: Size) -> None:
        if self.view is None:
            raise ValueError("a dimension belongs in a view, which has a scale")
        printed = size_on_paper(size, self.view, self.measure)
        # Back from paper to the model, where the words stand.
        corner, low = self.view.corner, self.view.low
        where = (
            low[0] + (printed.at[0] - corner[0]) * self.unit,
            low[1] + (printed.at[1] - corner[1]) * self.unit,
        )
        said = size_text(size, self.measure)
        live = self.measure is Measure.METRIC and said == f"{1000.0 * size.length:.0f}"
        dimension = self.layout.add_linear_dim(
            base=self.at(size.line),
            p1=self.at(size.start),
            p2=self.at(size.end),
            angle=degrees(size.turn),
            text="<>" if live else _rich(said),
            text_rotation=degrees(printed.turn),
            dimstyle=self._style(size.height),
            dxfattribs=self._on(size.layer),
        )
        dimension.set_location(self.at(where))
        dimension.render()

    def _style(self, height: float) -> str:
        assert self.view is not None
        name = f"SIZES 1 TO {self.view.scale:g} LETTERS {height:g}"
        doc = self.layout.doc
        assert doc is not None
        if name not in doc.dimstyles:
            unit = self.unit
            style = doc.dimstyles.new(name)
            style.dxf.dimscale = 1.0
            style.dxf.dimtxt = height * unit
            style.dxf.dimtxsty = STYLES[False]
            style.dxf.dimtsz = TICK * unit
            style.dxf.dimexo = 0.8 * unit
            style.dxf.dimexe = PAST * unit
            style.dxf.dimdle = 0.0
            style.dxf.dimgap = 0.7 * unit
            style.dxf.dimtad = 1
            style.dxf.dimtih = 0
            style.dxf.dimtoh = 0
            style.dxf.dimdec = 0
            style.dxf.dimzin = 0
            style.dxf.dimlunit = 2
            style.dxf.dimlfac = 1000.0 if self.measure is Measure.METRIC else 1.0 / INCH
        return name


def _across(turn: float, spacing: float) -> tuple[float, float]:
    return -spacing * sin(turn), spacing * cos(turn)


def _sheet(doc: Any, drawing: Drawing, block: Block | None) -> None:
    layout = doc.layout("Layout1")
    width, height, origin = drawing.width, drawing.height, (0.0, 0.0)
    if block is not None:
        paper = block.paper
        width, height = paper.width, paper.height
        origin = (paper.margin + 2.0, paper.margin + paper.block + 2.0)
    layout.page_setup(size=(width, height), margins=(0, 0, 0, 0), units="mm")
    doc.layouts.rename("Layout1", "SHEET")
    for view, offset in zip(drawing.views, model_offsets(drawing), strict=True):
        middle = [
            (low + high) / 2 + shift
            for low, high, shift in zip(view.low, view.high, offset, strict=True)
        ]
        layout.add_viewport(
            center=(
                origin[0] + view.corner[0] + view.width / 2,
                origin[1] + view.corner[1] + view.height / 2,
            ),
            size=(view.width, view.height),
            view_center_point=middle,
            view_height=view.high[1] - view.low[1],
            dxfattribs={"layer": str(Layer.SHEET)},
        )
    notes = _Writer(layout, drawing.measure, offset=origin)
    for mark in drawing.notes:
        notes.put(mark)
    if block is not None:
        writer = _Writer(layout, drawing.measure)
        for mark in block_marks(drawing, block):
            writer.put(mark)
