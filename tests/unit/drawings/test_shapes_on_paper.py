"""Laws of what drawings are made of: cuts, hidden lines, hatching, lengths and boxes."""

from fractions import Fraction
from math import atan2, hypot, pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from towerlift.drawings.cuts import Body, Plane, clear_between, cut_loops, hull
from towerlift.drawings.easel import scale_for, spread
from towerlift.drawings.hatching import hatch_lines
from towerlift.drawings.lengths import INCH, Measure, level_words, size_words
from towerlift.drawings.paper import A4, LETTER, Room
from towerlift.drawings.pens import Box, line_box, words_width
from towerlift.drawings.seen import pieces_beyond, seen_beyond
from towerlift.drawings.titles import fitted, stem, wrapped
from towerlift.drawings.windows import clipped, parts_within

TRIANGLES = np.array(
    [
        [0, 3, 2], [0, 2, 1], [4, 5, 6], [4, 6, 7], [0, 1, 5], [0, 5, 4],
        [1, 2, 6], [1, 6, 5], [2, 3, 7], [2, 7, 6], [3, 0, 4], [3, 4, 7],
    ]
)  # fmt: skip
LEVEL = Plane(origin=np.zeros(3), right=np.array([1.0, 0, 0]), up=np.array([0, 1.0, 0]))
FRONT = Plane(origin=np.zeros(3), right=np.array([1.0, 0, 0]), up=np.array([0, 0, 1.0]))
lengths = st.floats(-500, 500)


def boxes(*spans):
    """A body of upright boxes, each given by two corners."""
    vertices: list[list[tuple[float, float, float]]] = []
    faces = []
    for low, high in spans:
        (a, b, c), (d, e, f) = low, high
        faces.append(TRIANGLES + 8 * len(vertices))
        vertices.append([(a, b, c), (d, b, c), (d, e, c), (a, e, c),
                         (a, b, f), (d, b, f), (d, e, f), (a, e, f)])  # fmt: skip
    return Body(
        name="body",
        vertices=np.array(vertices, dtype=float).reshape(-1, 3),
        faces=np.concatenate(faces),
        members=np.repeat(np.arange(len(spans)), 12),
        marks=tuple(f"piece {k}" for k in range(len(spans))),
    )


def area(ring):
    """Signed area of a closed outline."""
    x, y = np.asarray(ring).T
    return 0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))


@given(z=st.floats(-0.99, 0.99), half=st.floats(0.1, 3), turn=st.floats(0, pi))
def test_a_level_cut_of_a_turned_post_has_its_area(z, half, turn):
    post = boxes(((-half, -half, -1), (half, half, 1)))
    c, s = np.cos(turn), np.sin(turn)
    spin = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
    body = Body(name="b", vertices=post.vertices @ spin.T, faces=post.faces,
                members=post.members, marks=post.marks)  # fmt: skip
    plane = Plane(origin=np.array([0, 0, z]), right=LEVEL.right, up=LEVEL.up)
    ((ring, closed),) = cut_loops(body, plane)[0]
    assert closed
    assert len(ring) == 4
    assert abs(area(ring)) == pytest.approx(4 * half * half, rel=1e-9)


def test_a_face_in_the_plane_is_cut_on_the_side_asked_for():
    body = boxes(((0, 0, -1), (1, 1, 0)), ((2, 0, 0), (3, 1, 1)))
    # Looking down, what is beyond lies below.
    beyond = cut_loops(body, LEVEL, touching="beyond")
    before = cut_loops(body, LEVEL, touching="before")
    assert set(beyond) == {1}
    assert set(before) == {0}


def test_a_skin_whose_corners_are_not_shared_is_one_outline():
    body = boxes(((0, 0, -1), (4, 4, 1)))
    loose = Body(
        name="shaft", vertices=body.vertices[body.faces].reshape(-1, 3),
        faces=np.arange(36).reshape(-1, 3), members=np.repeat(np.arange(6), 2),
        marks=tuple("abcdef"),
    )  # fmt: skip
    ((ring, closed),) = cut_loops(loose, LEVEL, whole=True)[0]
    assert closed
    assert abs(area(ring)) == pytest.approx(16)


def shown(body, plane=FRONT):
    """Length of the visible lines of each piece."""
    return {
        piece.mark: sum(
            float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum()) for line in piece.lines
        )
        for piece in seen_beyond(pieces_beyond(body, plane))
    }


def test_what_stands_before_hides_what_stands_behind():
    # A wide board from one metre behind the plane, a post behind it that stands out above.
    board = ((-1, 1, 0), (1, 1.1, 2))
    post = ((-0.1, 2, 0.5), (0.1, 2.2, 3))
    seen = shown(boxes(board, post))
    assert seen["piece 0"] == pytest.approx(8.0, abs=1e-3)
    assert seen["piece 1"] == pytest.approx(0.2 + 2 * 1.0, abs=1e-3)
    # The other way about, the post is whole and takes nothing but its width from the board.
    seen = shown(boxes(((-1, 2, 0.5), (1, 2.1, 2)), ((-0.1, 1, 0), (0.1, 1.2, 3))))
    assert seen["piece 1"] == pytest.approx(6.4, abs=1e-3)
    assert seen["piece 0"] == pytest.approx(7.0 - 2 * 0.2, abs=1e-3)


def test_what_lies_before_the_plane_is_not_drawn_and_what_it_cuts_is_cut():
    body = boxes(((0, -2, 0), (1, -1, 1)), ((0, -1, 2), (1, 1, 3)))
    seen = seen_beyond(pieces_beyond(body, FRONT))
    assert [(piece.mark, piece.cut) for piece in seen] == [("piece 1", True)]


@given(st.lists(st.tuples(st.floats(-5, 5), st.floats(-5, 5)), min_size=3, max_size=30))
def test_a_hull_holds_its_points_and_turns_left(points):
    corners = hull(np.array(points))
    if len(corners) < 3:
        return
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        side = [(b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0]) for x, y in points]
        assert min(side) >= -1e-6


@given(
    turn=st.floats(0, pi), spacing=st.floats(0.01, 0.05),
    wide=st.floats(1, 4), tall=st.floats(1, 4), hole=st.floats(0.1, 0.8),
)  # fmt: skip
def test_hatching_covers_the_area_less_its_hole(turn, spacing, wide, tall, hole):
    ring = [(0, 0), (wide, 0), (wide, tall), (0, tall)]
    gap = [(0.1, 0.1), (0.1 + hole, 0.1), (0.1 + hole, 0.1 + hole), (0.1, 0.1 + hole)]
    lines = hatch_lines([ring, gap], turn, spacing)
    covered = spacing * sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in lines)
    assert covered == pytest.approx(wide * tall - hole * hole, rel=0.05, abs=0.1)
    for a, b in lines:
        assert (atan2(b[1] - a[1], b[0] - a[0]) - turn + pi / 2) % pi == pytest.approx(
            pi / 2, abs=1e-6
        ) or hypot(b[0] - a[0], b[1] - a[1]) < 1e-6
        for x, y in (a, b):
            assert -1e-9 <= x <= wide + 1e-9
            assert -1e-9 <= y <= tall + 1e-9


def inches(words):
    """Feet and inches read back, in sixteenths."""
    sign = -1 if words.startswith("−") else 1
    feet, _, rest = words.lstrip("+−").rpartition("' ")
    total = Fraction(12 * int(feet)) if feet else Fraction(0)
    for part in rest.rstrip('"').split():
        total += Fraction(part)
    return sign * total


@given(length=lengths)
def test_feet_and_inches_read_back_within_half_a_sixteenth(length):
    near = float(inches(size_words(length, Measure.FEET))) * INCH
    assert near == pytest.approx(length, abs=INCH / 32 + 1e-6)
    down = float(inches(size_words(length, Measure.FEET, rounding="down"))) * INCH
    up = float(inches(size_words(length, Measure.FEET, rounding="up"))) * INCH
    assert down <= length + 1e-6
    assert length <= up + 1e-6
    assert up - down <= INCH / 16 + 1e-6


@given(length=lengths)
def test_millimetres_never_round_a_gap_up_nor_a_cut_down(length):
    read = {r: int(size_words(length, Measure.METRIC, rounding=r).replace("−", "-"))
            for r in ("near", "down", "up")}  # fmt: skip
    assert read["down"] <= 1000 * length + 1e-6
    assert read["up"] >= 1000 * length - 1e-6
    assert abs(read["near"] - 1000 * length) <= 0.5 + 1e-6


@pytest.mark.parametrize(
    ("length", "metric", "feet"),
    [
        (0.0, "0", '0"'),
        (0.0254, "25", '1"'),  # the inch of 1959 is 25.4 mm exactly
        (0.3048, "305", "1' 0\""),
        (0.3048 + 13 * 0.0254 / 16, "325", "1' 0 13/16\""),
        (14.7, "14700", "48' 2 3/4\""),  # 14.7 / 0.0254 = 578.74 inches
        (-0.01905, "−19", '−3/4"'),
    ],
)
def test_lengths_as_a_carpenter_reads_them(length, metric, feet):
    assert size_words(length, Measure.METRIC) == metric
    assert size_words(length, Measure.FEET) == feet


def test_levels_have_their_sign():
    assert level_words(14.7, Measure.METRIC) == "+14.700"
    assert level_words(-0.35, Measure.METRIC) == "−0.350"
    assert level_words(-0.0001, Measure.METRIC) == "+0.000"
    assert level_words(0.3048, Measure.FEET) == "+1' 0\""


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
@pytest.mark.parametrize("write", [size_words, level_words])
def test_no_number_is_not_written(write, value):
    with pytest.raises(ValueError, match="finite"):
        write(value, Measure.METRIC)


@given(
    wished=st.lists(st.floats(0, 30), min_size=1, max_size=12).map(sorted),
    gap=st.floats(0.1, 2),
)
def test_labels_are_spread_in_order_and_no_more_than_need_be(wished, gap):
    places = spread(wished, gap, 0.0, 60.0)
    steps = np.diff(places)
    assert (steps >= gap - 1e-9).all()
    free = [k for k in range(len(wished) - 1) if wished[k + 1] - wished[k] < gap]
    if not free and wished[0] >= 0:
        assert places == pytest.approx(wished)


def test_the_largest_scale_that_fits_is_taken():
    assert scale_for((6.0, 3.0), (120.0, 60.0)) == 50
    assert scale_for((6.001, 3.0), (120.0, 60.0)) == 75
    assert scale_for((1000.0, 1.0), (100.0, 100.0)) == 10000


def test_boxes_meet_as_they_do_on_paper():
    one = Box(middle=(0, 0), half_width=2, half_height=1)
    assert one.meets(Box(middle=(3.9, 0), half_width=2, half_height=1))
    assert not one.meets(Box(middle=(4.0, 0), half_width=2, half_height=1))
    assert one.meets(line_box((-5, -0.9), (5, -0.9)))
    assert not one.meets(line_box((-5, -1.0), (5, -1.0)))
    # A turned one whose corners' rectangle would overlap, but which itself does not.
    assert not one.meets(Box(middle=(3, 2), half_width=3, half_height=0.2, turn=-pi / 4))


@given(st.text(max_size=60), st.floats(5, 60))
def test_words_are_cut_to_their_room(text, width):
    assert (
        words_width(fitted(text, 2.2, width), 2.2) <= width or fitted(text, 2.2, width) == "…"
    )
    for line in wrapped(text, 2.2, width):
        assert words_width(line, 2.2) <= width or line == "…"


def test_words_are_as_wide_as_the_face_draws_them():
    # DejaVu Sans advances by 636 thousandths for a digit, and capitals stand 729 high.
    assert words_width("0000000000", 7.29) == pytest.approx(63.6)
    assert words_width("é", 2.2) == words_width("e", 2.2)
    assert words_width("東", 2.2) > words_width("W", 2.2)


@given(
    st.lists(
        st.tuples(st.floats(-9, 9), st.floats(-9, 9)), min_size=2, max_size=12, unique=True
    )
)
def test_a_line_is_cut_off_at_the_window(points):
    window = ((-3.0, -2.0), (4.0, 5.0))
    for part in parts_within(np.array(points), window):
        assert (part >= np.array(window[0]) - 1e-9).all()
        assert (part <= np.array(window[1]) + 1e-9).all()


def test_an_outline_is_cut_off_at_the_window():
    ring = np.array([(-10.0, -10.0), (10.0, -10.0), (10.0, 10.0), (-10.0, 10.0)])
    (cut,) = clipped(ring, ((-1.0, -2.0), (3.0, 4.0)))
    assert abs(area(cut)) == pytest.approx(24.0)
    assert clipped(ring + 100.0, ((-1.0, -2.0), (3.0, 4.0))) == []


def test_paper_has_room_inside_its_frame():
    for paper in (A4, A4.landscape, LETTER, LETTER.landscape):
        room = paper.room()
        assert room.width < paper.width - 2 * paper.margin
        assert room.height < paper.height - 2 * paper.margin - paper.block
    assert (A4.width, A4.height) == (210.0, 297.0)  # ISO 216
    assert (LETTER.width, LETTER.height) == (215.9, 279.4)  # 8.5 by 11 inches
    with pytest.raises(ValueError, match="width"):
        Room(width=float("nan"), height=10)


def test_file_names_are_plain():
    assert stem("L3 b/..") == "L3-b"
    assert stem("東") == "x"


def test_the_clear_width_is_between_the_nearest_faces_of_a_thick_wall():
    inner = np.array([(-3.0, -3.0), (3.1, -3.0), (3.1, 3.2), (-3.0, 3.2)])
    outer = 1.5 * inner
    loops = [(outer, True), (inner, True)]
    assert clear_between(loops, (0.05, 0.1), 0) == pytest.approx((-3.0, 3.1))
    assert clear_between(loops, (0.05, 0.1), 1) == pytest.approx((-3.0, 3.2))
    # Two open faces that begin at the height asked for.
    faces = [(np.array([(-3.0, 0.0), (-2.9, 8.0)]), False),
             (np.array([(3.1, 8.0), (3.0, 0.0)]), False)]  # fmt: skip
    assert clear_between(faces, (0.0, 0.0), 0) == pytest.approx((-3.0, 3.0))
    assert clear_between(faces[:1], (0.0, 0.0), 0) is None


def split(body):
    """The same body with every triangle made into four."""
    number: dict[tuple[float, ...], int] = {}
    faces = []

    def place(point):
        return number.setdefault(tuple(point.tolist()), len(number))

    for face in body.faces:
        p, q, r = body.vertices[face]
        a, b, c, ab, bc, ca = (
            place(x) for x in (p, q, r, (p + q) / 2, (q + r) / 2, (r + p) / 2)
        )
        faces += [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
    return Body(
        name="scan",
        vertices=np.array(list(number)),
        faces=np.array(faces),
        members=np.zeros(len(faces), dtype=int),
        marks=("scan",),
    )


def test_a_piece_of_many_triangles_is_drawn_by_its_sharp_edges():
    body = split(split(boxes(((0, 1, 0), (2, 3, 4)))))
    (piece,) = seen_beyond(pieces_beyond(body, FRONT))
    assert not len(piece.outline)
    # Front and back outline, one over the other, 2 wide and 4 high; edges in depth are dots.
    drawn = sum(
        float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum()) for line in piece.lines
    )
    assert drawn == pytest.approx(2 * (2 * 2 + 2 * 4))
