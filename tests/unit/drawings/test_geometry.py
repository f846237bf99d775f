"""What the drawings show, read back from their DXF and held against the plan's numbers."""

from dataclasses import replace
from itertools import pairwise
from math import atan2, degrees, hypot

import numpy as np
import pytest

from tests.unit.drawings.made import clashes, points_on, read_back, sizes, texts
from tests.unit.nesting_bench.test_bench import bench_and_shop
from towerlift import check_plan
from towerlift.drawings import (
    A4,
    gap_drawing,
    leads_drawing,
    least_margin,
    reeving_drawing,
    stage_elevation,
    to_dxf,
    wall_drawing,
)
from towerlift.drawings.as_dxf import model_offsets
from towerlift.drawings.instants import stage_instants
from towerlift.drawings.lengths import level_words, size_words
from towerlift.drawings.reeving import sheaves_of
from towerlift.nesting.answers import pare_list
from towerlift.nesting.bench import Setting
from towerlift.plan.bodies import Face
from towerlift.plan.model import Plan
from towerlift.plan.starting import new_plan

ROOM = A4.landscape.room()


def heights(outcome, rest, name):
    """Heights of all corners of a section and of what is fitted to it. [m]"""
    shapes, heel = outcome.shapes, rest.standing[name].heel_to
    items = [i for i in rest.fitted if shapes.fitted_on[i] == name]
    solids = [shapes.sections[name].solid, *(shapes.fit_out[i].solid for i in items)]
    return [heel + float(z) for s in solids if s is not None for z in s.vertices[:, 2]]


def last_view(drawing):
    """Shift and span of the last view of a drawing in its DXF."""
    shift = model_offsets(drawing)[-1][0]
    view = drawing.views[-1]
    return shift, view.low[0] + shift, view.high[0] + shift


def test_an_elevation_shows_heels_and_heads_where_the_raise_leaves_them(starter, metric, docs):
    for rest in starter.raise_.rests:
        drawing = metric[f"elevation-{rest.stage}"]
        space = docs[drawing.key].modelspace()
        _, left, right = last_view(drawing)
        ys = [y for x, y in points_on(space, "TIMBER BEYOND") if left <= x <= right]
        ends = [z for name in rest.standing for z in heights(starter, rest, name)]
        assert min(ys) == pytest.approx(min(ends), abs=1e-6)
        assert max(ys) == pytest.approx(max(ends), abs=1e-6)
        said = [text for text, at in texts(space) if left <= at[0] <= right]
        lengths = {section.name: section.length for section in starter.plan.sections}
        for name, place in rest.standing.items():
            assert {f"{name} heel", f"{name} head"} <= set(said)
            for height in (place.heel_to, place.heel_to + lengths[name]):
                assert level_words(height, drawing.measure) in said
            top = max(heights(starter, rest, name))
            above = top > place.heel_to + lengths[name] + 0.005
            assert (f"{name} top" in said) == above
            assert not above or level_words(top, drawing.measure) in said
        notes = " ".join(text for text, _ in texts(docs[drawing.key].layout("SHEET")))
        for name, place in rest.standing.items():
            assert f"{name}: {place.state}" in notes


def test_an_elevation_sizes_the_shaft_and_stacks_the_heights(starter, metric, docs):
    foot = starter.plan.shaft.survey[0]
    drawing = metric["elevation-S2"]
    found = sizes(docs["elevation-S2"].modelspace())
    level = [m for m, _, d in found if abs(d.dxf.angle) < 1e-9]
    assert level == pytest.approx([foot.east - foot.west] * len(drawing.views))
    _, left, right = last_view(drawing)
    upright = sorted(
        (d.dxf.defpoint2.y, d.dxf.defpoint3.y)
        for _, _, d in found
        if abs(d.dxf.angle - 90) < 1e-9 and left <= d.dxf.defpoint2.x <= right
    )
    rest = next(r for r in starter.raise_.rests if r.stage == "S2")
    due = {0.0}
    lengths = {section.name: section.length for section in starter.plan.sections}
    for name, place in rest.standing.items():
        due |= {place.heel_to, place.heel_to + lengths[name]}
        due.add(max(heights(starter, rest, name)))
    assert upright
    for pair in upright:
        assert all(min(abs(end - h) for h in due) < 1e-6 for end in pair)


@pytest.mark.parametrize("face", list(Face))
def test_an_elevation_from_any_side_sizes_the_walls_left_and_right_of_it(starter, face):
    foot = starter.plan.shaft.survey[0]
    drawing = stage_elevation(starter, "S2", ROOM, seen_from=face)
    wide = (
        foot.east - foot.west if face in (Face.SOUTH, Face.NORTH) else foot.north - foot.south
    )
    level = [m for m, _, d in sizes(read_back(drawing).modelspace()) if abs(d.dxf.angle) < 1e-9]
    assert level == pytest.approx([wide] * len(level))


def test_what_is_cut_lies_within_the_masonry(starter, metric, docs):
    drawing = metric["elevation-S1"]
    space = docs["elevation-S1"].modelspace()
    survey = starter.plan.shaft.survey
    west, east = min(s.west for s in survey), max(s.east for s in survey)
    head = starter.plan.shaft.wall_head
    view = drawing.views[0]
    inside = [(x, y) for x, y in points_on(space, "TIMBER BEYOND")
              if view.low[0] <= x <= view.high[0] and y < head]  # fmt: skip
    assert all(west - 1e-6 <= x <= east + 1e-6 for x, _ in inside)


def test_leads_run_from_top_block_over_lead_blocks_to_the_barrel(starter):
    plan = starter.plan
    lift = plan.lifts[0]
    space = read_back(leads_drawing(starter, lift.name, ROOM)).modelspace()
    ropes = [line for line in space.query("LWPOLYLINE") if line.dxf.layer == "ROPE"]
    assert len(ropes) == len(lift.lines)
    capstans = {c.mark: c for c in plan.capstans}
    for rope, line in zip(ropes, lift.lines, strict=True):
        points = [(x, y) for x, y, *_ in rope.get_points()]
        barrel = capstans[line.capstan]
        due = [line.upper[:2], *(lead[:2] for lead in line.leads), (barrel.x, barrel.y)]
        np.testing.assert_allclose(points, due, atol=1e-9)
    rings = {(round(c.dxf.center.x, 6), round(c.dxf.center.y, 6), round(c.dxf.radius, 6))
             for c in space.query("CIRCLE")}  # fmt: skip
    for capstan in plan.capstans:
        assert (capstan.x, capstan.y, capstan.bar_radius) in rings


def test_nobody_stands_within_fifteen_degrees_of_the_last_run(starter):
    plan, lift = starter.plan, starter.plan.lifts[0]
    space = read_back(leads_drawing(starter, lift.name, ROOM)).modelspace()
    arcs = [a for a in space.query("ARC") if a.dxf.layer == "KEEP OUT"]
    capstans = {c.mark: c for c in plan.capstans}
    for arc, line in zip(arcs, lift.lines, strict=True):
        barrel = capstans[line.capstan]
        start = line.leads[-1] if line.leads else line.upper
        run = (barrel.x - start[0], barrel.y - start[1])
        along = degrees(atan2(run[1], run[0]))
        for end, sign in ((arc.dxf.start_angle, -1), (arc.dxf.end_angle, 1)):
            assert (end - along - sign * 15 + 180) % 360 - 180 == pytest.approx(0, abs=1e-6)
        assert arc.dxf.radius > hypot(*run)


def test_leads_that_are_not_placed_are_not_made_up(starter):
    lift = starter.plan.lifts[0]
    lines = tuple(line.model_copy(update={"leads": ()}) for line in lift.lines)
    bare = lift.model_copy(update={"lines": lines})
    plan = starter.plan.model_copy(update={"lifts": (bare, *starter.plan.lifts[1:])})
    outcome = _with_plan(starter, plan)
    drawing = leads_drawing(outcome, lift.name, ROOM)
    doc = read_back(drawing)
    assert not [e for e in doc.modelspace().query("LWPOLYLINE") if e.dxf.layer == "ROPE"]
    notes = " ".join(text for text, _ in texts(doc.layout("SHEET")))
    assert "NOT EVALUATED" in notes
    assert "NOT EVALUATED" in drawing.says


def _with_plan(outcome, plan):

    return replace(outcome, plan=plan)


def test_every_gap_is_drawn_at_its_two_nearest_points(starter):
    seen = set()
    for margin in starter.nesting.margins:
        kind = (margin.moving, margin.against, margin.face in ("above", "below"))
        if kind in seen:
            continue
        seen.add(kind)
        drawing = gap_drawing(starter, margin, ROOM)
        space = read_back(drawing).modelspace()
        away = float(np.linalg.norm(np.subtract(margin.across, margin.where)))
        lines = [
            [p[:2] for p in e.get_points()]
            for e in space.query("LWPOLYLINE")
            if e.dxf.layer == "GAP"
        ]
        assert len(lines) == 2
        for a, b in lines:
            assert hypot(b[0] - a[0], b[1] - a[1]) == pytest.approx(away, abs=1e-9)
        said = [written for _, written, _ in sizes(space) if written.startswith("gap")]
        measured = [m for m, written, _ in sizes(space) if written.startswith("gap")]
        if away > 1e-9:
            due = size_words(margin.gap, drawing.measure, rounding="down")
            assert said == [f"gap {due} mm"]
            assert measured == pytest.approx([away], abs=1e-9)
            # Never written larger than it is proven, nor larger than it is drawn.
            assert float(due) / 1000 <= margin.gap + 1e-9
            assert margin.gap <= away + 1e-9
        words = " ".join(text for text, _ in texts(space))
        assert margin.label.mark in words
    assert len(seen) > 1


def test_a_level_cut_shows_the_survey_at_its_height(starter):
    margins = [
        m
        for m in starter.nesting.margins
        if m.against == "shaft" and m.face not in ("above", "below")
    ]
    margin = min(margins, key=lambda m: m.gap)
    drawing = gap_drawing(starter, margin, ROOM)
    space = read_back(drawing).modelspace()
    z = (margin.where[2] + margin.across[2]) / 2
    survey = starter.plan.shaft.survey
    heights = [s.z for s in survey]
    at = {f: np.interp(z, heights, [getattr(s, f) for s in survey])
          for f in ("west", "east", "south", "north")}  # fmt: skip
    view = drawing.views[0]
    stone = [p for p in points_on(space, "STONE CUT") if view.low[0] <= p[0] <= view.high[0]]
    xs, ys = [p[0] for p in stone], [p[1] for p in stone]
    assert (min(xs), max(xs)) == pytest.approx((at["west"], at["east"]), abs=1e-4)
    assert (min(ys), max(ys)) == pytest.approx((at["south"], at["north"]), abs=1e-4)
    clear = sorted(m for m, w, _ in sizes(space) if not w.startswith("gap"))
    due = sorted([at["east"] - at["west"], at["north"] - at["south"]])
    assert clear == pytest.approx(due, abs=1e-4)


@pytest.mark.parametrize("parts", range(1, 7))
def test_the_fall_leaves_the_top_block_over_as_many_sheaves_as_parts(starter, parts):
    top, lower = sheaves_of(parts)
    assert sorted([*top, *lower]) == list(range(parts))
    assert parts - 1 in top
    # With parts even the rope ends at the top block, with parts odd at the lower one.
    assert (0 in lower) == (parts % 2 == 0)
    tackles = tuple(t.model_copy(update={"parts": parts}) for t in starter.plan.tackles)
    plan = starter.plan.model_copy(update={"tackles": tackles})
    line = plan.lifts[0].lines[0]
    drawing = reeving_drawing(_with_plan(starter, plan), plan.lifts[0].name, line.tackle, ROOM)
    space = read_back(drawing).modelspace()
    said = [text for text, _ in texts(space)]
    assert [s for s in said if s.isdigit()] == [str(k + 1) for k in range(parts)]
    sheaves = [c for c in space.query("CIRCLE") if c.dxf.layer == "IRONWORK"]
    turned = [a for a in space.query("ARC") if a.dxf.layer == "ROPE"]
    leads = plan.tackles[0].leads
    # Rope lies round every sheave of the tackle; of several leads round the first two.
    assert len(turned) == parts + (2 if leads > 1 else 0)
    assert len(sheaves) >= 2 * parts
    assert {"becket", "fall", line.capstan} <= set(said)
    assert line.coil in drawing.says


def points_of(mark):
    """Ends of what a mark draws: corners of lines and fills, the box round an arc."""
    if hasattr(mark, "centre"):
        (x, y), r = mark.centre, mark.radius
        return [(x - r, y - r), (x + r, y + r)]
    rings = getattr(mark, "rings", None) or [getattr(mark, "points", ())]
    return [point for ring in rings for point in ring]


def reeved(starter, parts, size):
    tackles = tuple(t.model_copy(update={"parts": parts}) for t in starter.plan.tackles)
    plan = starter.plan.model_copy(update={"tackles": tackles})
    room = replace(ROOM, width=size[0], height=size[1], text=2.1)
    lift = plan.lifts[0]
    return reeving_drawing(_with_plan(starter, plan), lift.name, lift.lines[0].tackle, room)


@pytest.mark.parametrize(
    ("parts", "size"),
    [*((n, (182.0, 104.0)) for n in range(1, 5)), *((n, (220.0, 110.0)) for n in range(1, 7))],
)
def test_a_reeving_lies_whole_within_its_room(starter, parts, size):
    drawing = reeved(starter, parts, size)
    assert clashes(drawing) == []
    (view,) = drawing.views
    places = np.array([p for mark in view.marks for p in points_of(mark)])
    assert np.all(places >= np.array(view.low))
    assert np.all(places <= np.array(view.high))


@pytest.mark.parametrize("parts", range(1, 7))
@pytest.mark.parametrize("size", [(88.0, 118.0), (182.0, 60.0)])
def test_a_reeving_that_does_not_fit_is_refused(starter, parts, size):
    with pytest.raises(ValueError, match="too small for the reeving"):
        reeved(starter, parts, size)


def with_runners(plan, section, *, reach, runner, running):
    """The plan with a shoe on each side of a section, and a runner on each wall."""
    record = plan.model_dump(mode="json")
    body = next(s for s in record["sections"] if s["name"] == section)
    out = {"north": (0, 1), "east": (1, 0), "south": (0, -1), "west": (-1, 0)}
    pads, boards = [], []
    for side, (x, y) in out.items():
        piece = {"species": plan.species[0].name, "breadth": "0.1 m", "depth": "0.1 m"}
        at = [f"{x * (reach - 0.05)} m", f"{y * (reach - 0.05)} m"]
        pads.append({"mark": f"pad {side}", "part": "shoe", **piece,
                     "start": [*at, "1 m"], "end": [*at, "1.3 m"]})  # fmt: skip
        at = [f"{1.95 * x} m", f"{1.95 * y} m"]
        boards.append({"mark": f"board {side}", "part": "runner", **piece,
                       "depth": f"{runner} m",
                       "start": [*at, "0 m"], "end": [*at, "9 m"]})  # fmt: skip
        body["shoes"].append({"member": f"pad {side}", "face": side, "running": f"{running} m"})
    body["members"] += pads
    record["fixtures"].append({"name": "boards", "kind": "runner", "members": boards})
    record["contacts"].append({"kind": "shoe on runner", "of": section, "marks": ["pad*"],
                               "on": "boards", "on_marks": ["board*"]})  # fmt: skip
    return Plan.model_validate(record)


@pytest.mark.parametrize("reach", [1.6, 1.95])
def test_packing_on_the_wall_is_what_the_survey_leaves(benches, reach):
    bench = benches[0]
    plan = with_runners(bench.plan, bench.section.name, reach=reach, runner=0.05, running=0.02)
    section = next(s for s in plan.sections if s.name == bench.section.name)
    drawing = wall_drawing(replace(bench, plan=plan, section=section), ROOM)
    said = [text for text, _ in texts(read_back(drawing).modelspace())]
    assert {str(face).upper() for face in Face} <= set(said)
    line, found = plan.plumb_line, []
    for station in plan.shaft.survey:
        assert level_words(station.z, drawing.measure) in said
        walls = (station.north - line.y, station.east - line.x,
                 line.y - station.south, line.x - station.west)  # fmt: skip
        for wall in walls:
            # What is left behind a board of 50 mm that leaves 20 mm to the pad.
            packing = wall - reach - 0.05 - 0.02
            if packing >= 0:
                found.append(size_words(packing, drawing.measure, rounding="down"))
            else:
                cut = size_words(-packing, drawing.measure, rounding="up")
                found.append(f"cut {cut}")
    figures = [t for t in said if t.isdigit() or t.startswith("cut ")]
    assert sorted(figures) == sorted(found)
    assert any(t.startswith("cut ") for t in found) == (reach > 1.9)
    hatched = [h.dxf.pattern_name for h in read_back(drawing).modelspace().query("HATCH")]
    assert ("TOWER PARE" if reach > 1.9 else "TOWER PACK") in hatched


def test_a_piece_that_must_be_pared_is_marked_where_it_comes_nearest():
    bench, _ = bench_and_shop(foot=0.64)
    (paring,) = pare_list(bench, Setting())
    drawing = wall_drawing(bench, ROOM)
    space = read_back(drawing).modelspace()
    depth = size_words(paring.depth, drawing.measure, rounding="up")
    assert f"pare {depth}" in [text for text, _ in texts(space)]
    assert paring.mark in drawing.says
    wedges = [h for h in space.query("HATCH") if h.dxf.layer == "GAP"]
    assert len(wedges) == 1
    assert min(v[1] for v in wedges[0].paths[0].vertices) == pytest.approx(paring.height)


def moved(plan, dx, dy):
    """The same plan with everything in the shaft frame carried along."""
    record = plan.model_dump(mode="json")

    def shift(text, by):
        return f"{float(text.split()[0]) + by!r} m"

    for station in record["shaft"]["survey"]:
        for key, by in (("west", dx), ("east", dx), ("south", dy), ("north", dy)):
            station[key] = shift(station[key], by)
    line = record["plumb_line"]
    line["x"], line["y"] = shift(line["x"], dx), shift(line["y"], dy)

    def point(at):
        return [shift(at[0], dx), shift(at[1], dy), at[2]]

    for fixture in record["fixtures"]:
        for member in fixture["members"]:
            member["start"], member["end"] = point(member["start"]), point(member["end"])
    names = {fixture["name"] for fixture in record["fixtures"]}
    for lift in record["lifts"]:
        for each in lift["lines"]:
            if lift["hung_from"] in names:
                each["upper"] = point(each["upper"])
            each["leads"] = [point(at) for at in each["leads"]]
    for capstan in record["capstans"]:
        capstan["x"], capstan["y"] = shift(capstan["x"], dx), shift(capstan["y"], dy)
    return Plan.model_validate(record)


def test_a_plan_carried_aside_gives_the_same_drawing_aside(starter, tmp_path):
    dx, dy = 0.25, -0.5
    folder = new_plan(tmp_path / "mine").parent
    other = check_plan(moved(starter.plan, dx, dy), folder)
    for draw, by in (
        (lambda o: stage_elevation(o, "S2", ROOM), (dx, 0.0)),
        (lambda o: leads_drawing(o, o.plan.lifts[0].name, ROOM), (dx, dy)),
    ):
        one, two = (sorted(points_on(read_back(draw(o)).modelspace(), "ROPE", "STONE CUT"))
                    for o in (starter, other))  # fmt: skip
        assert len(one) == len(two) > 10
        np.testing.assert_allclose(np.array(two) - np.array(one), [by] * len(one), atol=1e-6)


def test_units_change_words_and_not_geometry(drawn):
    metric = {d.key: d for d in drawn["A4, landscape, metric"]}
    feet = {d.key: d for d in drawn["US Letter, landscape, feet and inches"]}
    for key, drawing in metric.items():
        if key not in ("elevation-S2", "leads-L1"):
            continue
        one, two = (
            {(round(x, 6), round(y, 6))
             for x, y in points_on(read_back(d).modelspace(), "STONE CUT")
             if d.views[0].low[0] <= x <= d.views[0].high[0]}
            for d in (drawing, feet[key])
        )  # fmt: skip
        assert one == two, key


def test_what_is_not_in_the_plan_is_refused(starter):
    with pytest.raises(ValueError, match="no stage"):
        stage_elevation(starter, "S99", ROOM)
    with pytest.raises(ValueError, match="no lift"):
        leads_drawing(starter, "L99", ROOM)
    with pytest.raises(ValueError, match="no tackle"):
        reeving_drawing(starter, starter.plan.lifts[0].name, "T99", ROOM)
    assert least_margin(starter, "S99") is None


def test_a_dxf_has_no_date_of_its_own(metric):
    text = to_dxf(metric["whole-raise"]).decode("utf-8")
    lines = text.splitlines()
    day = float(lines[lines.index("$TDUPDATE") + 2])
    # The first of January 2000, which stands for none.
    assert 2451544.0 <= day < 2451546.0


def test_before_a_stage_stands_what_the_stage_before_left(starter):
    rests = list(starter.raise_.rests)
    for earlier, rest in pairwise(rests):
        before = stage_instants(starter, rest.stage)[0]
        assert before.standing == earlier.standing
        assert before.fixtures == earlier.fixtures
        assert before.fitted == earlier.fitted
    assert not stage_instants(starter, rests[0].stage)[0].standing
