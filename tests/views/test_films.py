"""Strips, the nest, and films: by what is to be seen in them."""

from dataclasses import replace
from typing import Any

import imageio.v2 as imageio
import numpy as np
import pytest
from PIL import Image

from tests.unit.what_if.made import tiny_outcome
from tests.views import made
from tests.views.test_pictures import at, looks_like
from towerlift.motion.raises import Raise
from towerlift.scene import Standpoint, build_scene
from towerlift.scene.colours import BOARD, FIR, MARK, OAK, PAPER, STONE
from towerlift.scene.gear import CLOTHES
from towerlift.scene.lettering import SMALL, width_of, wrapped
from towerlift.scene.movie import Film, raise_frames, write_movie
from towerlift.scene.nearest import nearest_gap
from towerlift.scene.nest import exploded_nest
from towerlift.scene.pictures import Shot, shoot
from towerlift.scene.reel import reel_of
from towerlift.scene.stage_strip import stage_strip
from towerlift.scene.standpoints import whole_site, whole_tower

OUTCOME = made.made_outcome()
PASSAGES = OUTCOME.raise_.passages
LIFT_OUTER = PASSAGES[6]
SOUTH = Standpoint(focus=(0.0, 0.0, 10.0), span=23.0, azimuth=np.pi, rise=0.0)
SIZE = (300, 460)


@pytest.fixture(scope="module")
def scene():
    return build_scene(OUTCOME)


def near(picture, colour, *, by=2):
    """Rows and columns of the pixels that have a colour, nearly."""
    return np.argwhere(np.abs(picture.astype(int) - colour).max(axis=2) <= by)


def test_a_section_out_of_true_is_drawn_there(scene):
    pose = scene.raise_.shaft_from_section(5.0)
    pose[0, 3] += 0.3
    shot = Shot(
        passage=LIFT_OUTER, share=0.5, standpoint=SOUTH, size=SIZE, moved={"outer": pose}
    )
    image = shoot(scene, shot)
    leg = made.PLUMB[0] + 0.3 + made.OUTER_HALF - made.LEG / 2
    assert looks_like(image[at(leg, 12.9)], OAK)
    assert looks_like(image[at(leg - 0.3 - made.LEG / 2 - 0.08, 12.9)], STONE)
    # Its gap is not that of the raise, so none is marked.
    assert not len(near(image, MARK, by=0))
    back = shoot(scene, replace(shot, moved=None))
    assert looks_like(back[at(made.PLUMB[0] + made.OUTER_HALF - made.LEG / 2, 8.0)], OAK)
    assert len(near(back, MARK, by=0))


def test_a_gap_of_a_what_if_is_marked_where_it_is(scene):
    found = nearest_gap(scene.gaps, LIFT_OUTER, 0.75)
    assert found is not None
    there = replace(
        found, where=np.array([1.0, 2.9, 12.0]), opposite=np.array([1.0, 3.0, 12.0])
    )
    shot = Shot(
        passage=LIFT_OUTER, share=0.75, standpoint=SOUTH, size=SIZE, moved={}, nearest=there
    )
    marked = near(shoot(scene, shot), MARK, by=0)
    row, column = at(1.0, 12.0)
    ring = marked[np.hypot(marked[:, 0] - row, marked[:, 1] - column) < 9]
    assert len(ring) > 20
    assert not len(near(shoot(scene, replace(shot, gap=False)), MARK, by=0))


def test_people_and_capstans_are_drawn_only_when_asked():
    outcome = tiny_outcome()
    scene = build_scene(outcome)
    passage = next(p for p in outcome.raise_.passages if p.moving and p.travel > 5)
    size = (900, 420)
    view = whole_site(scene, size)
    shot = Shot(passage=passage, share=0.5, standpoint=view, size=size, site=True)
    with_people, without = shoot(scene, shot), shoot(scene, replace(shot, site=False))
    hue = np.array(CLOTHES[0]) / np.linalg.norm(CLOTHES[0])
    clothes = []
    for picture in (with_people, without):
        pixels = picture.reshape(-1, 3).astype(float)
        bright = np.linalg.norm(pixels, axis=1, keepdims=True)
        off = np.linalg.norm(pixels / np.maximum(bright, 1) - hue, axis=1)
        clothes.append(int((off < 0.03).sum()))
    assert clothes[0] > clothes[1] + 100
    # A capstan of the lift, where the plan has it.
    drum = next(
        each
        for each in outcome.plan.capstans
        if any(
            line.capstan == each.mark
            for lift in outcome.plan.lifts
            if lift.name == passage.lift
            for line in lift.lines
        )
    )
    ((column, row),) = view.pixels(np.array([[drum.x, drum.y, 0.9]]), size)
    box = (slice(int(row) - 8, int(row) + 8), slice(int(column) - 8, int(column) + 8))
    assert np.abs(with_people[box].astype(int) - without[box]).max() > 40


@pytest.mark.parametrize("share", [-0.1, 1.1, float("nan")])
def test_a_made_up_shot_is_refused(share):
    with pytest.raises(ValueError, match="share"):
        Shot(passage=LIFT_OUTER, share=share)
    with pytest.raises(ValueError, match="size"):
        Shot(passage=LIFT_OUTER, share=0.5, size=(5, 300))


def test_the_strip_has_every_stage_as_it_ends(scene):
    size = (150, 300)
    strip = stage_strip(scene, OUTCOME.plan, size=size, across=4)
    assert (near(strip, PAPER, by=0)).size > 0
    # Four stages in a row; margins of 8, a title of 26 above them.
    view = whole_tower(scene, size)
    for n, (stage, inner) in enumerate((("A0", 0.0), ("A1", 6.0), ("A2", 12.0), ("A3", 11.5))):
        skin = np.array([[made.PLUMB[0], made.PLUMB[1] - 1.45, inner + 6.5]])
        column, row = view.pixels(skin, size)[0]
        pixel = strip[int(row) + 34, int(column) + 8 + n * 158]
        assert looks_like(pixel, BOARD), stage
    alone = stage_strip(scene, OUTCOME.plan, stages=["A2"], size=size)
    assert alone.shape[1] == 150 + 16
    with pytest.raises(ValueError, match="Z9"):
        stage_strip(scene, OUTCOME.plan, stages=["A0", "Z9"])
    with pytest.raises(ValueError, match="across"):
        stage_strip(scene, OUTCOME.plan, across=0)


def test_the_nest_is_shown_nested_and_taken_apart(scene):
    size = (600, 500)
    picture = exploded_nest(scene, OUTCOME.plan, size=size)
    # Outer 8 m and inner 9 m, 2 m between them when apart: 19 m in all.
    span = 1.08 * 19.0
    view = Standpoint(focus=(*made.PLUMB, 9.5), span=span)

    def pixel(x, z, pane):
        column, row = view.pixels(np.array([[x, made.PLUMB[1], z]]), (300, 500))[0]
        return picture[int(row) + 34, int(column) + 8 + 300 * pane]

    # Nested by 2 m the skin is at 7 to 10 m; apart at 15 to 18 m.
    assert looks_like(pixel(made.PLUMB[0], 9.0, 0), BOARD)
    assert np.array_equal(pixel(made.PLUMB[0] + 0.5, 13.5, 0), PAPER)
    assert looks_like(pixel(made.PLUMB[0], 16.5, 1), BOARD)
    assert np.array_equal(pixel(made.PLUMB[0] + 0.5, 9.0, 1), PAPER)
    dashes = near(picture, MARK, by=0)
    assert len(dashes)
    assert (dashes[:, 1] > 308).all()
    assert len(near(picture, FIR, by=60))


def test_a_nest_needs_its_sections_on_the_site(scene):
    early = Raise(passages=PASSAGES[:3], breaches=(), plumb_line=OUTCOME.raise_.plumb_line)
    with pytest.raises(ValueError, match="every section"):
        exploded_nest(replace(scene, raise_=early), OUTCOME.plan)


def test_hauls_run_at_one_speed_and_the_ends_are_shown():
    reel = reel_of(OUTCOME.raise_, 20.0)
    assert reel.length == pytest.approx(20.0)
    hauled = [
        (ends - begins) / abs(p.travel)
        for p, begins, ends in zip(reel.passages, reel.cuts, reel.cuts[1:], strict=False)
        if p.moving
    ]
    assert hauled == pytest.approx([hauled[0]] * len(hauled))
    frames = reel.frames(5.0)
    assert len(frames) == 101
    assert (frames[0].passage.index, frames[0].share) == (0, 0.0)
    assert (frames[-1].passage.index, frames[-1].share) == (len(PASSAGES) - 1, 1.0)
    positions = [moment.position for moment in frames]
    assert positions == sorted(positions)
    with pytest.raises(ValueError, match="rate"):
        reel.frames(0.0)
    with pytest.raises(ValueError, match="no passages"):
        reel_of(replace(OUTCOME.raise_, passages=()))


FILM = Film(length=4.0, rate=2.0, size=(320, 256))


def test_a_film_shows_the_raise_from_end_to_end(scene, tmp_path):
    done = []
    path = write_movie(
        scene,
        OUTCOME.plan,
        tmp_path / "raise.mp4",
        film=FILM,
        tell=lambda n, of: done.append((n, of)),
    )
    assert done[-1] == (9, 9)
    reader: Any = imageio.get_reader(path)
    # A reader says it is endless, so it is not to be asked for its length.
    pictures = [picture for picture in reader]  # noqa: C416
    assert len(pictures) == 9
    assert pictures[0].shape == (256, 320, 3)
    assert reader.get_meta_data()["fps"] == 2.0
    drawn = list(raise_frames(scene, OUTCOME.plan, FILM))
    for film, made_one in zip(pictures, drawn, strict=True):
        assert np.abs(film.astype(int) - made_one).mean() < 6
    # Nothing is built in the first picture; the boarded frame stands high in the last.
    assert np.abs(drawn[0].astype(int) - drawn[-1]).mean() > 2


def test_a_gif_plays_at_its_rate(scene, tmp_path):
    path = write_movie(scene, OUTCOME.plan, tmp_path / "raise.gif", film=FILM)
    film: Any = Image.open(path)
    # Pictures that do not change may be joined, so their times are what counts.
    total = 0
    for n in range(film.n_frames):
        film.seek(n)
        total += film.info["duration"]
    assert total == 9 * 500
    last = np.asarray(film.convert("RGB")).astype(int)
    drawn = list(raise_frames(scene, OUTCOME.plan, FILM))[-1]
    assert np.abs(last - drawn).mean() < 6


def test_other_endings_and_odd_films_are_refused(scene, tmp_path):
    with pytest.raises(ValueError, match="mp4"):
        write_movie(scene, OUTCOME.plan, tmp_path / "raise.avi", film=FILM)
    for wrong in (
        {"length": 0.0},
        {"rate": float("nan")},
        {"size": (321, 256)},
        {"size": (32, 32)},
    ):
        with pytest.raises(ValueError, match="got"):
            Film(**wrong)


def test_words_are_broken_where_they_must_be():
    words = "The belfry rises round the spire and picks it up on the way"
    for width in (60.0, 120.0, 300.0):
        lines = wrapped(words, SMALL, width, 40)
        assert " ".join(lines) == words
        assert all(width_of(line, SMALL) <= width for line in lines)
    assert len(wrapped(words, SMALL, 100.0, 2)) == 2
    assert wrapped(words, SMALL, 100.0, 2)[-1].endswith("…")
    assert wrapped("", SMALL, 100.0, 2) == []
