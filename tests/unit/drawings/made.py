"""Reading drawings back: what a DXF says, and where words stand on paper."""

import io
from dataclasses import replace
from itertools import combinations

from ezdxf.filemanagement import read

from towerlift.drawings import A4, Block, to_dxf
from towerlift.drawings.drawing import Size, Words
from towerlift.drawings.pens import line_box, size_on_paper, words_box


def block(**changes):
    """A block of words for A4."""
    return replace(
        Block(paper=A4.landscape, plan="Plan", version="C", fingerprint="0f3a9c71"), **changes
    )


def read_back(drawing, block=None):
    """The DXF of a drawing, read by the library as any reader would."""
    return read(io.StringIO(to_dxf(drawing, block).decode("utf-8")))


def points_on(space, *layers):
    """Corners of every line on some layers."""
    return [
        (x, y)
        for line in space.query("LWPOLYLINE")
        if line.dxf.layer in layers
        for x, y, *_ in line.get_points()
    ]


def texts(space):
    """Every line of words with its place."""
    return [
        (text.dxf.text, text.get_placement()[1] or text.dxf.insert)
        for text in space.query("TEXT")
    ]


def sizes(space):
    """Every dimension: what it measures by its points, and what it writes."""
    found = []
    for dimension in space.query("DIMENSION"):
        written = [e.text for e in dimension.virtual_entities() if e.dxftype() == "MTEXT"]
        found.append((float(dimension.get_measurement()), written[0], dimension))
    return found


def words_on_paper(drawing):
    """Boxes of all words, and of the lines of all dimensions. [mm]"""
    boxes, lines = [], []
    for view in drawing.views:
        for mark in view.marks:
            if isinstance(mark, Words):
                boxes.append((mark.text, words_box(mark, view.on_paper(mark.at))))
            elif isinstance(mark, Size):
                printed = size_on_paper(mark, view, drawing.measure)
                boxes.append((printed.text, printed.box))
                lines += [line_box(*line) for line in printed.lines]
    for mark in drawing.notes:
        if isinstance(mark, Words):
            boxes.append((mark.text, words_box(mark, mark.at)))
    return boxes, lines


def clashes(drawing):
    """Words over words, words over a dimension's lines, words outside the room."""
    boxes, lines = words_on_paper(drawing)
    found = [f"{a!r} over {b!r}" for (a, x), (b, y) in combinations(boxes, 2) if x.meets(y)]
    found += [f"{a!r} over a dimension" for a, x in boxes for y in lines if x.meets(y)]
    for said, box in boxes:
        for x, y in box.corners:
            if not (-0.5 <= x <= drawing.width + 0.5 and -0.5 <= y <= drawing.height + 0.5):
                found.append(f"{said!r} outside the room")
    return found
