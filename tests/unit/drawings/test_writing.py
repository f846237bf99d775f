"""One description, two files: what holds of every drawing in SVG and in DXF."""

import re
from dataclasses import replace
from itertools import pairwise
from math import pi
from xml.etree import ElementTree

import pytest

from tests.unit.drawings.made import block, clashes, points_on, read_back, sizes, texts
from towerlift.drawings import (
    A4,
    Drawing,
    Measure,
    gap_drawing,
    leads_drawing,
    least_margin,
    reeving_drawing,
    stage_elevation,
    to_dxf,
    to_svg,
    wall_drawing,
)
from towerlift.drawings.as_dxf import model_offsets
from towerlift.drawings.drawing import (
    Arc,
    Filled,
    Layer,
    Pattern,
    Size,
    Stroke,
    View,
    Words,
)
from towerlift.drawings.lengths import size_words
from towerlift.drawings.pens import PENS

SVG = "{http://www.w3.org/2000/svg}"


def trial(*marks, measure=Measure.METRIC, notes=()):
    """A drawing of some marks at 1:50."""
    view = View(title="v", scale=50, low=(-2, -2), high=(6, 6), corner=(5, 5), marks=marks)
    return Drawing(
        key="trial", title="Trial", says="a trial", width=200, height=180, measure=measure,
        views=(view,), notes=notes,
    )  # fmt: skip


def test_every_dxf_is_sound_and_in_metres(metric, docs):
    for key, drawing in metric.items():
        doc = docs[key]
        audit = doc.audit()
        assert not audit.errors, drawing.key
        assert not audit.fixes, drawing.key
        assert doc.header["$INSUNITS"] == 6
        assert doc.header["$MEASUREMENT"] == 1
        used = {e.dxf.layer for e in doc.modelspace()} | {
            e.dxf.layer for e in doc.layout("SHEET")
        }
        assert used <= {str(layer) for layer in Layer} | {"0", "Defpoints", "VIEWPORTS"}, (
            drawing.key
        )


def test_every_layer_prints_black_enough_and_has_a_weight():
    assert set(PENS) == set(Layer)
    for layer, pen in PENS.items():
        red, green, blue = (int(pen.colour[k : k + 2], 16) / 255 for k in (1, 3, 5))
        assert 0.2126 * red + 0.7152 * green + 0.0722 * blue < 0.4, layer
        assert pen.weight >= 0.13, layer


def test_the_same_drawing_gives_the_same_bytes(metric, starter, benches):
    lift = starter.plan.lifts[0]
    room = A4.landscape.room()
    margin = least_margin(starter, "S1")
    assert margin is not None
    for again in (
        stage_elevation(starter, "S2", room),
        leads_drawing(starter, lift.name, room),
        reeving_drawing(starter, lift.name, lift.lines[0].tackle, room),
        gap_drawing(starter, margin, room),
        wall_drawing(benches[0], room),
    ):
        drawing = metric[again.key]
        assert to_dxf(drawing, block()) == to_dxf(again, block()), again.key
        assert to_svg(drawing, block()) == to_svg(again, block()), again.key
    assert to_dxf(drawing, block()) != to_dxf(drawing, block(version="D"))


def test_every_svg_is_well_formed_and_of_its_size(drawn):
    for drawings in drawn.values():
        for drawing in drawings:
            root = ElementTree.fromstring(to_svg(drawing))
            assert root.tag == f"{SVG}svg"
            assert root.get("viewBox") == f"0 0 {drawing.width:g} {drawing.height:g}"
            assert root.get("width") == f"{drawing.width:g}mm"
            said = [e.text or "" for e in root.iter(f"{SVG}text")]
            assert said
            assert all(each.strip() for each in said)


def test_no_words_lie_over_words_or_dimensions_or_outside(drawn):
    found = [
        (room, drawing.key, clash)
        for room, drawings in drawn.items()
        for drawing in drawings
        for clash in clashes(drawing)
    ]
    assert not found


def test_both_files_say_the_same_words(metric, docs):
    for key, drawing in metric.items():
        root = ElementTree.fromstring(to_svg(drawing, block()))
        in_svg = sorted(e.text or "" for e in root.iter(f"{SVG}text"))
        doc = docs[key]
        model, sheet = doc.modelspace(), doc.layout("SHEET")
        in_dxf = [text for text, _ in texts(model)] + [text for text, _ in texts(sheet)]
        in_dxf += [written for _, written, _ in sizes(model)]
        assert sorted(in_dxf) == in_svg, drawing.key


def test_every_dimension_writes_what_its_points_measure(drawn, metric, docs):
    read = [(drawing, docs[key]) for key, drawing in metric.items()]
    for drawing in drawn["US Letter, portrait, feet and inches"]:
        if drawing.key in ("elevation-S2", "gap-S1-base-shaft"):
            read.append((drawing, read_back(drawing)))
    checked = 0
    for drawing, doc in read:
        for measured, written, dimension in sizes(doc.modelspace()):
            if written.startswith("gap"):
                continue
            assert written == size_words(measured, drawing.measure), drawing.key
            # A metric length is left to the reader to write, from the points themselves.
            live = dimension.dxf.text == "<>"
            assert live == (drawing.measure is Measure.METRIC)
            checked += 1
    assert checked > 10


def test_a_dimension_stands_at_its_points():
    size = Size(start=(0.5, 1.0), end=(3.75, 2.0), line=(0, 4), turn=0.0, height=2.5)
    dimension = sizes(read_back(trial(size)).modelspace())[0]
    assert dimension[0] == pytest.approx(3.25)
    assert dimension[1] == "3250"
    assert dimension[2].dxf.layer == "SIZES"
    ends = [dimension[2].dxf.defpoint2, dimension[2].dxf.defpoint3]
    assert [(p.x, p.y) for p in ends] == [(0.5, 1.0), (3.75, 2.0)]


def test_letters_of_a_dxf_print_at_their_height(metric, docs):
    for key, drawing in metric.items():
        doc = docs[key]
        heights = {round(t.dxf.height, 6) for t in doc.modelspace().query("TEXT")}
        words = [m for v in drawing.views for m in v.marks if isinstance(m, Words)]
        due = {round(m.height * v.scale / 1000, 6)
               for v in drawing.views for m in v.marks if isinstance(m, Words)}  # fmt: skip
        assert heights == due
        assert all(word.height >= 1.5 for word in words)


def test_views_stand_apart_and_the_first_where_the_shaft_is(metric):
    for drawing in metric.values():
        offsets = model_offsets(drawing)
        assert offsets[0] == (0.0, 0.0)
        spans = [
            (view.low[0] + dx, view.high[0] + dx)
            for view, (dx, _) in zip(drawing.views, offsets, strict=True)
        ]
        assert all(a[1] < b[0] for a, b in pairwise(spans))


def test_a_sheet_shows_each_view_at_its_scale(metric, docs):
    for key, drawing in metric.items():
        sheet = docs[key].layout("SHEET")
        views = [v for v in sheet.query("VIEWPORT") if v.dxf.id != 1]
        assert len(views) == len(drawing.views)
        for port, view in zip(views, drawing.views, strict=True):
            assert 1000 * port.dxf.view_height / port.dxf.height == pytest.approx(view.scale)


def test_a_block_names_plan_version_content_scale_units_and_caution(metric):
    drawing = metric["elevation-S2"]
    said = " ".join(
        text for text, _ in texts(read_back(drawing, block(number="2 of 9")).layout("SHEET"))
    )
    for words in (
        *("Plan", "version C", "0f3a9c71", f"Scale 1:{drawing.scales[0]:g}", "2 of 9"),
        *("millimetres", "does not replace a licensed engineer", "local codes govern"),
    ):
        assert words in said
    assert "NOT RELEASED" not in said
    stamped = to_svg(drawing, block(stamp="NOT RELEASED"))
    assert "NOT RELEASED" in stamped


WILD = "Łukasz & <Søn> \x07 %%u ^J 東 مرحبا"


def test_wild_words_break_neither_file():
    drawing = replace(trial(Words(at=(1, 1), text=WILD, height=2.5)), title=WILD, says=WILD)
    root = ElementTree.fromstring(to_svg(drawing, block(plan=WILD)))
    plain = WILD.replace("\x07", " ")
    assert plain in [e.text for e in root.iter(f"{SVG}text")]
    doc = read_back(drawing, block(plan=WILD))
    assert not doc.audit().errors
    # "%%%" is a percent sign and "^ " a caret to every reader of the format.
    raw = texts(doc.modelspace())[0][0]
    assert raw.replace("%%%", "%").replace("^ ", "^") == plain


def test_arcs_keep_centre_radius_and_ends():
    arcs = (
        Arc(centre=(1.0, 2.0), radius=0.75, layer=Layer.PEOPLE),
        Arc(centre=(3.0, 2.0), radius=0.5, layer=Layer.KEEP_OUT, start=pi / 6, end=pi),
    )
    space = read_back(trial(*arcs)).modelspace()
    circle, arc = space.query("CIRCLE")[0], space.query("ARC")[0]
    assert (circle.dxf.center.x, circle.dxf.center.y, circle.dxf.radius) == (1.0, 2.0, 0.75)
    assert (arc.dxf.start_angle, arc.dxf.end_angle) == pytest.approx((30.0, 180.0))
    path = re.search(
        r'd="M([\d. ]+)A25\.000', to_svg(trial(arcs[1])).replace("A10.000", "A25.000")
    )
    assert path is not None


def test_areas_are_hatched_by_patterns_of_our_own():
    ring = ((0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0))
    hole = ((0.5, 0.5), (1.5, 0.5), (1.5, 1.5), (0.5, 1.5))
    areas = [Filled(rings=(ring, hole), pattern=p, layer=Layer.CUT) for p in Pattern]
    hatches = list(read_back(trial(*areas)).modelspace().query("HATCH"))
    assert len(hatches) == len(list(Pattern))
    for hatch, pattern in zip(hatches, Pattern, strict=True):
        assert len(hatch.paths) == 2
        if pattern is not Pattern.SOLID:
            assert hatch.dxf.pattern_name == f"TOWER {pattern}".upper()


@pytest.mark.parametrize(
    "make",
    [
        lambda: Stroke(points=((0, 0),), layer=Layer.ROPE),
        lambda: Stroke(points=((0, 0), (float("nan"), 1)), layer=Layer.ROPE),
        lambda: Arc(centre=(0, 0), radius=0.0, layer=Layer.ROPE),
        lambda: Arc(centre=(0, 0), radius=float("nan"), layer=Layer.ROPE),
        lambda: Filled(rings=(((0, 0), (1, 1)),), pattern=Pattern.SOLID, layer=Layer.CUT),
        lambda: Words(at=(0, 0), text=" ", height=2),
        lambda: Words(at=(0, 0), text="two\nlines", height=2),
        lambda: Size(start=(0, 0), end=(0, 1), line=(0, 0), turn=0.0, height=2),
        lambda: View(title="", scale=0, low=(0, 0), high=(1, 1), corner=(0, 0), marks=()),
    ],
)
def test_what_cannot_be_drawn_is_refused(make):
    with pytest.raises(ValueError, match=r"\w"):
        make()


def test_a_dimension_among_the_notes_is_refused():
    size = Size(start=(0, 0), end=(1, 0), line=(0, 1), turn=0.0, height=2)
    for write in (to_svg, to_dxf):
        with pytest.raises(ValueError, match="scale"):
            write(trial(notes=(size,)))


def test_dashes_and_points_survive():
    line = Stroke(
        points=((0.1, 0.2), (1.3, 2.4), (2.5, 0.6)), layer=Layer.KEEP_OUT, closed=True
    )
    space = read_back(trial(line)).modelspace()
    assert points_on(space, "KEEP OUT") == [(0.1, 0.2), (1.3, 2.4), (2.5, 0.6)]
    assert space.query("LWPOLYLINE")[0].closed
    assert 'stroke-dasharray="2.4 0.9 0.5 0.9"' in to_svg(trial(line))
