"""Pictures by their content: the right colour at the right pixel."""

import gc
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from tests.views import made
from towerlift.gaps import Hole
from towerlift.plan.bodies import Face
from towerlift.scene import (
    Standpoint,
    build_scene,
    close_up,
    from_above,
    nearest_gap,
    on_section,
    painter,
    picture,
    whole_tower,
)
from towerlift.scene.colours import (
    BOARD,
    FIR,
    LEGEND,
    MARK,
    NOT_SEEN,
    OAK,
    PAPER,
    STONE,
    colour_of,
)
from towerlift.scene.studio import STUDIO
from towerlift.shapes.solids import Unseen
from towerlift.shapes.unseen import UNSEEN

SIZE = (300, 460)
OUTCOME = made.made_outcome()
PASSAGES = OUTCOME.raise_.passages
LIFT_INNER, LIFT_OUTER, BOTH = PASSAGES[2], PASSAGES[6], PASSAGES[7]
# From due south, level, 23 m high: 20 pixels to the metre, worked out by hand below.
SOUTH = Standpoint(focus=(0.0, 0.0, 10.0), span=23.0, azimuth=np.pi, rise=0.0)
PER_METRE = 460 / 23.0


@pytest.fixture(scope="module")
def scene():
    return build_scene(OUTCOME)


def shot(scene, passage, share, standpoint=SOUTH, size=SIZE):
    return picture(scene, passage, share, standpoint=standpoint, size=size)


def at(x, z):
    """Row and column of a point seen from due south."""
    return round(230 - PER_METRE * (z - 10)), round(150 + PER_METRE * x)


def looks_like(pixel, colour):
    """Whether a lit pixel has the hue of a colour: its channels in the same proportion."""
    pixel, colour = np.asarray(pixel, float), np.asarray(colour, float)
    return (
        np.linalg.norm(pixel / np.linalg.norm(pixel) - colour / np.linalg.norm(colour)) < 0.03
        and pixel.max() > 0.3 * colour.max()
    )


def test_size_and_kind_of_the_picture(scene):
    image = shot(scene, LIFT_OUTER, 0.5, size=(200, 310))
    assert image.shape == (310, 200, 3)
    assert image.dtype == np.uint8


def test_each_body_has_its_colour_where_it_must_be(scene):
    image = shot(scene, LIFT_OUTER, 0.5)  # outer heel 2, inner heel 6
    x0 = made.PLUMB[0]
    leg = made.OUTER_HALF - made.LEG / 2
    assert looks_like(image[at(x0 - leg, 5.0)], OAK)
    assert looks_like(image[at(x0 + leg, 5.0)], OAK)
    assert looks_like(image[at(x0, 12.5)], BOARD)  # skin at s 5 to 8 of the inner frame
    assert looks_like(image[at(x0 - made.INNER_HALF + 0.1, 14.6)], FIR)
    assert looks_like(image[at(-2.8, 9.0)], STONE)
    assert np.array_equal(image[at(-3.2, 9.0)], PAPER)
    assert np.array_equal(image[at(0.0, 16.3)], PAPER)


def test_the_wall_nearest_to_the_viewer_is_left_out(scene):
    # The legs stand behind the south wall; seen from the north, behind the north wall.
    for azimuth in (0.0, np.pi):
        view = Standpoint(focus=(0.0, 0.0, 10.0), span=23.0, azimuth=azimuth)
        image = shot(scene, LIFT_OUTER, 0.5, view)
        side = -1 if azimuth == 0.0 else 1
        row, column = at(side * (made.PLUMB[0] - made.OUTER_HALF + 0.2), 5.0)
        assert looks_like(image[row, column], OAK)


@pytest.mark.parametrize(("share", "heel"), [(0.0, 0.0), (0.25, 1.5), (1.0, 6.0)])
def test_a_section_stands_at_its_heel(scene, share, heel):
    image = shot(scene, LIFT_INNER, share)
    column = round(150 + PER_METRE * (made.PLUMB[0] + made.INNER_HALF - 0.15))
    rows = [row for row in range(460) if looks_like(image[row, column], FIR)]
    assert min(rows) == pytest.approx(
        230 - PER_METRE * (heel + made.INNER_LENGTH - 10), abs=1.5
    )
    assert max(rows) == pytest.approx(230 - PER_METRE * (heel - 10), abs=1.5)


def test_five_metres_up_is_a_hundred_pixels_up(scene):
    column = round(150 + PER_METRE * (made.PLUMB[0] + made.INNER_HALF - 0.15))
    tops = []
    for share in (0.1 / 6, 5.1 / 6):
        image = shot(scene, LIFT_INNER, share)
        tops.append(min(r for r in range(460) if looks_like(image[r, column], FIR)))
    assert tops[0] - tops[1] == pytest.approx(5.0 * PER_METRE, abs=1)


def test_a_picture_does_not_depend_on_the_one_before(scene):
    first = shot(scene, LIFT_INNER, 0.3)
    shot(scene, BOTH, 0.9, close_up(np.array([1.0, 2.0, 5.0])), (120, 90))
    assert np.array_equal(shot(scene, LIFT_INNER, 0.3), first)


def test_a_picture_does_not_depend_on_the_thread_that_asks(scene):
    # A notebook's cells and its widgets' callbacks run in different threads.
    sizes = [(190, 300), (260, 120), (150, 150), (190, 300)]
    expected = [shot(scene, LIFT_INNER, 0.3, size=size) for size in sizes]
    for _ in range(3):
        with ThreadPoolExecutor(max_workers=1) as other:
            asked = [other.submit(shot, scene, LIFT_INNER, 0.3, size=size) for size in sizes]
            found = [future.result() for future in asked]
        for image, drawn in zip(expected, found, strict=True):
            assert np.array_equal(image, drawn)


def test_what_goes_wrong_in_the_studio_is_raised_where_it_was_asked_for():
    with pytest.raises(ZeroDivisionError):
        STUDIO.do(lambda: 1 / 0)
    assert STUDIO.do(lambda: STUDIO.do(lambda: 7)) == 7


def test_a_painter_goes_with_its_scene():
    scene = build_scene(OUTCOME)
    shot(scene, LIFT_INNER, 0.3)
    key = id(scene)
    assert key in painter._painters
    del scene
    gc.collect()
    STUDIO.do(lambda: None)
    assert key not in painter._painters


def test_only_what_is_in_place_is_seen(scene):
    bare, fitted = (shot(scene, passage, 1.0) for passage in (PASSAGES[0], PASSAGES[1]))
    skin = at(made.PLUMB[0], 6.5)
    assert looks_like(fitted[skin], BOARD)
    assert not looks_like(bare[skin], BOARD)
    needle = at(-2.8, 5.85)
    before, during = (shot(scene, passage, 0.0) for passage in (PASSAGES[2], PASSAGES[3]))
    assert looks_like(before[needle], STONE)
    assert not np.array_equal(during[needle], before[needle])
    outer = at(made.PLUMB[0] - made.OUTER_HALF + 0.2, 3.0)
    assert looks_like(during[outer], STONE)
    assert looks_like(shot(scene, PASSAGES[4], 0.0)[outer], OAK)


def test_the_least_gap_is_marked_where_the_curve_says(scene):
    nearest = nearest_gap(OUTCOME.gaps, LIFT_OUTER, 0.75)
    assert nearest is not None
    assert (nearest.mark, nearest.opposite_mark) == ("brace N3", "ledge N")
    assert nearest.gap == pytest.approx(0.011)
    image = shot(scene, LIFT_OUTER, 0.75)
    marked = np.argwhere((image == MARK).all(axis=2))
    row, column = at(0.5, 6.0)
    ring = marked[np.hypot(marked[:, 0] - row, marked[:, 1] - column) < 9]
    assert len(ring) > 20
    assert ring.mean(axis=0) == pytest.approx((row, column), abs=1.5)


def test_no_curve_means_no_mark(scene):
    image = shot(scene, PASSAGES[3], 0.0)
    assert not (image == MARK).all(axis=2).any()


def test_the_scale_has_its_marks_at_round_heights(scene):
    image = shot(scene, LIFT_OUTER, 0.5)
    dark = image[:, 27].max(axis=1) < 100
    for z in (0, 2, 4, 10, 18):
        row = at(0, z)[0]
        assert dark[row - 1 : row + 2].any(), z
        assert not dark[row + 4 : row + 16].any(), z


@pytest.mark.parametrize("degrees", [0, 35, 90, 157, 230, 300])
@pytest.mark.parametrize("rise", [0.0, 0.3, np.pi / 2])
def test_pixels_agree_with_what_is_drawn(scene, degrees, rise):
    # The top of the north-east leg of the inner frame, marked by its own colour.
    view = Standpoint(focus=(0, 0, 14.0), span=12.0, azimuth=np.radians(degrees), rise=rise)
    image = picture(scene, PASSAGES[1], 0.0, standpoint=view, size=(240, 240))
    x, y = np.array(made.PLUMB) + made.INNER_HALF - made.LEG / 2
    top = np.array([[x, y, made.INNER_LENGTH - 0.01]])
    away, scale = top[0] - (0, 0, 14.0), 240 / 12.0
    theta = np.radians(degrees)
    right = -np.cos(theta) * away[0] + np.sin(theta) * away[1]
    toward = np.sin(theta) * away[0] + np.cos(theta) * away[1]
    up = np.cos(rise) * away[2] - np.sin(rise) * toward
    column, row = 120 + scale * right, 120 - scale * up
    assert view.pixels(top, (240, 240))[0] == pytest.approx((column, row))
    near = image[int(row) - 3 : int(row) + 5, int(column) - 4 : int(column) + 5]
    assert any(looks_like(pixel, FIR) for pixel in near.reshape(-1, 3))


def test_the_whole_tower_fits(scene):
    for size in (SIZE, (230, 460), (600, 300)):
        view = whole_tower(scene, size)
        corners = np.array([[x, y, z] for x in (-3, 3) for y in (-3, 3) for z in (0.0, 21.0)])
        pixels = view.pixels(corners, size)
        assert (pixels > 0).all()
        assert (pixels < size).all()


def test_other_standpoints_look_at_what_they_say(scene):
    view = on_section(scene, LIFT_OUTER, 0.5)
    assert view.focus[2] == pytest.approx(2.0 + made.OUTER_LENGTH / 2)
    assert on_section(scene, PASSAGES[4], 0.0).focus[2] == pytest.approx(4.0)
    gap = close_up(np.array([0.5, 2.9, 6.0]), np.array([0.0, 0.011, 0.0]))
    assert gap.towards_viewer @ (0, 1, 0) < 0  # from inside, so that the wall is seen
    assert abs(gap.towards_viewer @ (0, 1, 0)) < 0.5
    plan = from_above(scene, 6.2)
    image = picture(scene, LIFT_OUTER, 0.5, standpoint=plan, size=(300, 300))
    column, row = plan.pixels(
        np.array([[made.PLUMB[0] + 2.1, made.PLUMB[1] + 2.1, 6]]), (300, 300)
    )[0]
    assert looks_like(image[int(row), int(column)], OAK)


def test_a_made_up_place_is_refused(scene):
    for share in (-0.1, 1.1, float("nan")):
        with pytest.raises(ValueError, match="share"):
            picture(scene, LIFT_OUTER, share)
    with pytest.raises(ValueError, match="size"):
        picture(scene, LIFT_OUTER, 0.5, size=(5, 300))
    for span in (0.0, float("nan")):
        with pytest.raises(ValueError, match="span"):
            Standpoint(focus=(0, 0, 0), span=span)


def test_colours_are_told_apart_in_grey():
    def grey(colour):
        return np.asarray(Image.new("RGB", (1, 1), colour).convert("L"))[0, 0]

    greys = sorted(int(grey(colour)) for colour in LEGEND.values())
    assert np.diff(greys).min() >= 8


def test_colours_follow_the_species_before_the_part():
    assert colour_of("oak", "boarding") == OAK
    assert colour_of("Douglas fir", "corner leg") == FIR
    assert colour_of("", "boarding") == BOARD


def test_a_hole_of_the_scan_is_shown_and_named():
    """In the north wall, 5 mm behind the wall of the survey, seen from the south."""
    h = made.HALF_SHAFT
    y = h + 0.005
    rim = np.array([[-2.4, y, 13.0], [2.4, y, 13.0], [2.4, y, 15.5], [-2.4, y, 15.5]])
    hole = Unseen(number=1, hole=Hole(rim=rim, outline=False), face=Face.NORTH, round=False)
    shapes = replace(OUTCOME.shapes, unseen=(hole,))
    scene = build_scene(replace(OUTCOME, shapes=shapes))
    (body,) = (body for body in scene.bodies if body.name == UNSEEN)
    assert body.marks == ("hole 1 in the scan, north wall, z 13.00 to 15.50 m",)
    assert UNSEEN not in {body.name for body in build_scene(OUTCOME).bodies}
    shown, bare = (shot(each, PASSAGES[0], 0.0) for each in (scene, build_scene(OUTCOME)))
    changed = np.argwhere((shown != bare).any(axis=2))
    # The hole itself, and its name at the right edge.
    assert looks_like(shown[at(0.0, 14.5)], NOT_SEEN)
    assert not looks_like(bare[at(0.0, 14.5)], NOT_SEEN)
    assert (changed[:, 1] > SIZE[0] - 20).any()
