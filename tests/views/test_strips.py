"""Strips read back from their SVG: marks where the numbers say, no label on another."""

import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.views.made import made_outcome
from towerlift.drawings import (
    Strip,
    course_of,
    gap_strip,
    load_strip,
    raise_strip,
    run_of,
    strip_insets,
)
from towerlift.drawings.svg import apart, round_ticks, shorten, text_width
from towerlift.findings import Verdict

OUTCOME = made_outcome()
PASSAGES = OUTCOME.raise_.passages
NS = "{http://www.w3.org/2000/svg}"
# Widest letters of the face the strips ask for, as shares of its height, measured once
# in a browser: a line of text is never wider than this.
EM_WIDTH, EM_WIDTH_BOLD = 0.64, 0.71
MOVING = [PASSAGES[n] for n in (2, 6, 7, 8)]


@dataclass(frozen=True)
class Box:
    left: float
    top: float
    right: float
    bottom: float
    words: str

    def meets(self, other):
        return (
            self.left < other.right - 0.5
            and other.left < self.right - 0.5
            and self.top < other.bottom - 0.5
            and other.top < self.bottom - 0.5
        )


def read(svg):
    return ET.fromstring(svg)


def numbers_on_frame(root, anchor="end"):
    """Numbers beside the frame with the height of the middle of their letters."""
    size = float(root.get("font-size"))
    return [
        (float(e.text.replace("−", "-")), float(e.get("y")) - 0.35 * size)
        for e in root.iter(f"{NS}text")
        if e.get("text-anchor") == anchor and re.fullmatch(r"−?[\d.]+", e.text or "")
    ]


def line_through(pairs):
    """Slope and offset from two marks of an axis: pixels over values."""
    (v0, p0), (v1, p1) = pairs[0], pairs[-1]
    slope = (p1 - p0) / (v1 - v0)
    return lambda value: p0 + slope * (value - v0)


def across(root):
    marks = [
        (float(e.text.replace("−", "-")), float(e.get("x")))
        for e in root.iter(f"{NS}text")
        if e.get("class") == "across"
    ]
    return line_through(marks)


def lines(root, role):
    return [
        np.array([[float(v) for v in p.split(",")] for p in e.get("points").split()])
        for e in root.iter(f"{NS}polyline")
        if e.get("class") == role
    ]


def words(root, role=None):
    return [e.text for e in root.iter(f"{NS}text") if role in (None, e.get("class"))]


def text_boxes(root):
    size = float(root.get("font-size"))
    boxes = []
    for e in root.iter(f"{NS}text"):
        em = EM_WIDTH_BOLD if e.get("font-weight") == "bold" else EM_WIDTH
        width = min(len(e.text) * em * size, text_width(e.text, size) * em / EM_WIDTH)
        x, y = float(e.get("x")), float(e.get("y"))
        left = {"start": x, "middle": x - width / 2, "end": x - width}[e.get("text-anchor")]
        boxes.append(Box(left, y - 0.75 * size, left + width, y + 0.2 * size, e.text))
    return boxes


def assert_tidy(svg):
    root = read(svg)
    _, _, width, height = (float(v) for v in root.get("viewBox").split())
    boxes = text_boxes(root)
    for box in boxes:
        assert box.left >= -1, box
        assert box.right <= width + 1, box
        assert box.top >= -1, box
        assert box.bottom <= height + 1, box
    overlaps = [(a.words, b.words) for a, b in combinations(boxes, 2) if a.meets(b)]
    assert not overlaps
    return root


STRIPS = [
    Strip(),
    Strip(width=576, height=146),
    Strip(width=460, height=150, text=10),
    Strip(width=900, height=260, text=16),
]


@pytest.mark.parametrize("strip", STRIPS)
@pytest.mark.parametrize("passage", PASSAGES, ids=lambda p: f"{p.stage}-{p.step}-{p.index}")
@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("draw", [gap_strip, load_strip])
def test_no_label_touches_another(draw, passage, strip, share):
    assert_tidy(draw(OUTCOME, passage, replace(strip, share=share)))


@pytest.mark.parametrize(
    ("size", "text"), [((1150, 100), 10), ((700, 120), 11), ((900, 150), 15)]
)
def test_no_label_of_the_whole_raise_touches_another(size, text):
    assert_tidy(raise_strip(OUTCOME, 6.5, [(6.75, Verdict.FAIL)], size=size, text=text))


def test_gap_is_drawn_where_the_numbers_say():
    root = read(gap_strip(OUTCOME, PASSAGES[6], Strip(share=0.75)))
    x, y = across(root), line_through(numbers_on_frame(root))
    low, high = lines(root, "gap")[-1], PASSAGES[6]
    curve = OUTCOME.gaps[1]
    assert high.index == curve.passage
    for start, end, gap in zip(curve.heels[:-1], curve.heels[1:], curve.least, strict=True):
        if 1000 * gap < 100:
            # The step line passes through both corners of the step.
            for heel in (start, end):
                off = np.hypot(low[:, 0] - x(heel), low[:, 1] - y(1000 * gap))
                assert off.min() < 0.3


def test_one_haul_is_one_strip_and_the_pick_up_only_cuts_it():
    assert [p.index for p in run_of(OUTCOME.raise_, PASSAGES[6])] == [6, 7]
    assert [p.index for p in run_of(OUTCOME.raise_, PASSAGES[7])] == [6, 7]
    assert [p.index for p in run_of(OUTCOME.raise_, PASSAGES[8])] == [8]
    assert run_of(OUTCOME.raise_, PASSAGES[0]) == ()


def test_least_gaps_are_named_with_both_members():
    root = read(gap_strip(OUTCOME, PASSAGES[6]))
    assert words(root, "pair") == [
        "outer: brace N3 – shaft: ledge N",
        "outer: girt E1 – inner: leg NE",
    ]
    assert words(root, "letter") == ["a", "b"]
    x, y = across(root), line_through(numbers_on_frame(root))
    dots = [
        (float(e.get("cx")), float(e.get("cy")))
        for e in root.iter(f"{NS}circle")
        if e.get("class") == "least"
    ]
    curve = OUTCOME.gaps[1]
    step = int(curve.least.argmin())
    assert dots[0] == pytest.approx((x(curve.at[step]), y(11.0)), abs=0.3)


def test_the_limit_is_a_line_with_its_name():
    root = read(gap_strip(OUTCOME, PASSAGES[6]))
    (limit,) = lines(root, "limit")
    y = line_through(numbers_on_frame(root))
    assert limit[:, 1] == pytest.approx([y(31.0)] * 2, abs=0.3)
    assert words(root, "limit") == ["clearance ≥ 31 mm"]
    assert not lines(read(gap_strip(OUTCOME, PASSAGES[8])), "limit")


def test_lines_differ_in_black_and_white():
    root = read(gap_strip(OUTCOME, PASSAGES[6]))
    dashes = [
        e.get("stroke-dasharray")
        for e in root.iter(f"{NS}polyline")
        if e.get("class") in ("gap", "limit")
    ]
    assert len(set(dashes)) == len(dashes) == 3


@pytest.mark.parametrize("draw", [gap_strip, load_strip])
@pytest.mark.parametrize("passage", MOVING, ids=lambda p: str(p.index))
def test_the_mark_moves_with_the_heel(draw, passage):
    for share in (0.0, 0.3, 1.0):
        root = read(draw(OUTCOME, passage, Strip(share=share)))
        heel = passage.heel(passage.moving[0], share)
        marks = lines(root, "now")
        assert marks
        assert all(mark[:, 0] == pytest.approx(across(root)(heel), abs=0.3) for mark in marks)
        assert words(root, "now") == [f"heel {heel:.2f} m"]


def test_a_pick_up_is_a_step_with_its_name():
    root = read(load_strip(OUTCOME, PASSAGES[6]))
    (weight,) = lines(root, "weight")
    x = across(root)
    at_step = weight[np.abs(weight[:, 0] - x(4.0)) < 0.3]
    kilonewtons = [(v, p) for v, p in numbers_on_frame(root) if v in (0.0, 100.0)]
    y = line_through(kilonewtons[:2])
    assert at_step[:, 1] == pytest.approx([y(88.3), y(127.5)], abs=0.3)
    said = words(root, "key")
    assert said[said.index("+39.2 kN at heel 4.00 m:") + 1] == "picks up inner"


def test_stability_is_named_with_its_least_and_its_limit():
    said = words(read(load_strip(OUTCOME, PASSAGES[7])), "key")
    assert "ratio least 2.35 at 4.00 m" in said
    assert "stability at least 2" in said
    hanging_below = words(read(load_strip(OUTCOME, PASSAGES[8])), "key")
    assert "ratio unlimited: stable" in hanging_below


@pytest.mark.parametrize("draw", [gap_strip, load_strip])
def test_a_stage_without_travel_says_so(draw):
    root = read(draw(OUTCOME, PASSAGES[0]))
    assert any(text.startswith("No ") and "nothing moves" in text for text in words(root))
    assert not lines(root, "now")


@pytest.mark.parametrize("draw", [gap_strip, load_strip])
@pytest.mark.parametrize(("standing", "heel"), [(3, 6.0), (4, 0.0), (5, 0.0)])
def test_a_standing_step_shows_the_haul_it_belongs_to(draw, standing, heel):
    root = read(draw(OUTCOME, PASSAGES[standing]))
    assert words(root, "now") == [f"heel {heel:.2f} m"]
    assert all(
        mark[:, 0] == pytest.approx(across(root)(heel), abs=0.3) for mark in lines(root, "now")
    )


def test_pairs_without_room_in_the_key_are_drawn_but_not_lettered():
    root = assert_tidy(gap_strip(OUTCOME, PASSAGES[6], Strip(height=72)))
    assert words(root, "pair") == ["outer: brace N3 – shaft: ledge N"]
    assert "b" not in words(root, "letter")
    assert len(lines(root, "gap")) == 2
    assert any(text.startswith("and 1 more, each 77 mm or more") for text in words(root))


def test_axes_say_what_and_in_which_unit():
    assert any("mm" in t for t in words(read(gap_strip(OUTCOME, PASSAGES[6]))))
    said = words(read(load_strip(OUTCOME, PASSAGES[6])))
    assert {"kN", "ratio"} <= set(said)
    assert any(t.startswith("heel of outer, m") and "raised" in t for t in said)
    lowered = words(read(gap_strip(OUTCOME, PASSAGES[8])))
    assert any("lowered" in t for t in lowered)


def test_every_drawing_says_in_words_what_it_shows():
    desc = read(gap_strip(OUTCOME, PASSAGES[6])).find(f"{NS}desc")
    assert desc is not None
    assert "least 11 mm" in (desc.text or "")


def test_names_are_written_as_they_are():
    svg = gap_strip(OUTCOME, PASSAGES[6])
    assert "<script" not in svg
    assert "&lt;" not in svg


def test_the_whole_raise_has_every_stage_and_section():
    root = read(raise_strip(OUTCOME, 0.0, size=(1150.0, 92.0)))
    assert words(root, "stage") == ["A0", "A1", "A2", "A3"]
    assert words(root, "section") == ["inner", "outer"]


@pytest.mark.parametrize("position", [0.0, 2.5, 6.75, 9.0])
def test_the_mark_of_the_whole_raise_stands_where_the_slider_does(position):
    width = 1150.0
    root = read(raise_strip(OUTCOME, position, size=(width, 92.0)))
    course = course_of(OUTCOME.raise_)
    before, after = strip_insets(width)
    left, right = before * width, (1 - after) * width
    share = course.along(position) / course.length
    (mark,) = lines(root, "now")
    assert mark[:, 0] == pytest.approx(left + share * (right - left), abs=0.2)


def test_failures_and_open_findings_are_marked_differently():
    marks = [(6.75, Verdict.FAIL), (1.0, Verdict.NOT_EVALUATED), (7.0, Verdict.PASS)]
    root = read(raise_strip(OUTCOME, 0.0, marks))
    assert len(lines(root, "fail")) == 1
    assert len(lines(root, "open")) == 1


@given(st.floats(0, len(PASSAGES)))
def test_the_course_goes_both_ways(position):
    course = course_of(OUTCOME.raise_)
    assert course.position(course.along(position)) == pytest.approx(position, abs=1e-9)


def test_the_course_is_as_long_as_the_way_hauled():
    course = course_of(OUTCOME.raise_)
    hauled = 6.0 + 4.0 + 6.0 + 0.5
    assert course.length == pytest.approx(hauled + 0.25 * 5)
    assert [name for name, _, _ in course.stages()] == ["A0", "A1", "A2", "A3"]


@given(st.floats(-1e3, 1e3), st.floats(1e-3, 1e3), st.integers(2, 9))
def test_ticks_are_round_and_within(low, span, most):
    ticks = round_ticks(low, low + span, most)
    assert len(ticks) <= max(most, 1)
    slack = 1e-6 * span + 1e-9 * abs(low)
    assert all(low - slack <= tick <= low + span + slack for tick in ticks)


@given(
    st.lists(st.tuples(st.floats(0, 100), st.floats(0.1, 30)), max_size=12), st.integers(1, 4)
)
def test_labels_of_one_row_keep_apart(places, rows):
    extents = [(left, left + width) for left, width in places]
    chosen = apart(extents, rows, 2.0)
    for row in range(rows):
        inside = sorted(e for e, r in zip(extents, chosen, strict=True) if r == row)
        assert all(a[1] + 2.0 <= b[0] for a, b in pairwise(inside))


@given(st.text(max_size=60), st.floats(20, 300))
def test_shortened_words_fit(text, width):
    assert text_width(shorten(text, 11, width), 11) <= max(width, text_width("…", 11))
