"""The view as one file from disk, in a browser that reaches nothing."""

import io
from base64 import b64decode

import numpy as np
import pytest
from PIL import Image

from tests.browser.looking import (
    READY,
    looks_like,
    offline_page,
    screen,
    settled,
    tell,
)
from towerlift.drawings import course_of
from towerlift.motion.passages import PoseChange
from towerlift.motion.travel import locate
from towerlift.scene import (
    Standpoint,
    build_scene,
    close_up,
    from_above,
    nearest_gap,
    on_section,
    whole_tower,
)
from towerlift.scene.colours import LARCH, STONE
from towerlift.scrub import standalone_html

pytestmark = pytest.mark.browser

CHOOSE = (
    "const list = view.layout.part('.tlv-list'); list.value = '{0}';"
    " list.dispatchEvent(new Event('change'));"
)
RISING = 5  # the passage in which the base rises


@pytest.fixture(scope="module")
def page_file(starter_outcome, tmp_path_factory):
    """The view of the starter plan as a file."""
    file = tmp_path_factory.mktemp("page") / "view.html"
    file.write_text(standalone_html(starter_outcome), encoding="utf-8")
    return file


@pytest.fixture(scope="module")
def opened(page_file):
    """The file in a browser without a network."""
    with offline_page() as page:
        page.goto(page_file.as_uri())
        page.wait_for_function(READY)
        yield page


@pytest.fixture
def looked(opened):
    """The same page, back at the whole tower with nothing chosen or measured."""
    tell(
        opened,
        """view.play(false); view.lookFrom("whole tower"); view.goTo(0); view.finding = null;
        for (const [name, flag, usual] of [["cut", "cut", true], ["gaps", "colouring", false],
            ["loads", "loads", true], ["danger", "danger", true], ["lensed", "lensed", true],
            ["tape", "measuring", false]]) if (view[flag] !== usual) view.toggle(name, flag);
        view.setUnit("m"); view.setText(13); view.saidUntil = 0;""",
    )
    settled(opened)
    return opened


@pytest.fixture(scope="module")
def scene(starter_outcome):
    return build_scene(starter_outcome)


def size_of(page):
    size = tell(page, "return view.sightSize();")
    return round(size["width"]), round(size["height"])


def from_south(page, scene):
    """The view from due south in the browser, and the same by Python."""
    tell(page, 'view.lookFrom("south side");')
    whole = whole_tower(scene, size_of(page))
    return Standpoint(focus=whole.focus, span=whole.span, azimuth=np.pi, rise=0.0)


def heel_of(outcome, position, section):
    moment = locate(outcome.raise_, position)
    return moment.passage.heel(section, moment.share)


def test_it_opens_from_disk_and_asks_nobody(opened):
    assert opened.refused == []
    assert opened.errors == []
    text = opened.locator(".tlv").inner_text()
    assert "does not replace a licensed engineer and a competent rigger" in text
    assert "Every finding passes." in text


def test_it_opens_at_the_worst_that_has_a_place(opened, page_file, starter_outcome):
    with offline_page(beside=opened) as page:
        page.goto(page_file.as_uri())
        page.wait_for_function(READY)
        finding = tell(page, "return view.finding;")
        first = next(n for n, f in enumerate(starter_outcome.findings) if f.where is not None)
        assert finding == first
        assert (
            starter_outcome.findings[first].check in page.locator(".tlv-finding").inner_text()
        )


# ------------------------------------------------------------- the same numbers as Python's


def test_gaps_at_every_position_are_pythons(looked, scene, starter_outcome):
    raise_ = starter_outcome.raise_
    positions = np.linspace(0, len(raise_.passages) - 0.01, 150).tolist()
    found = looked.evaluate(
        "positions => { const v = globalThis[Symbol.for('towerlift.views')][0];"
        "return positions.map(p => v.story.nearest(p)); }",
        positions,
    )
    n_gaps = 0
    for position, told in zip(positions, found, strict=True):
        moment = locate(raise_, position)
        nearest = nearest_gap(scene.gaps, moment.passage, moment.share)
        if nearest is None:
            assert told is None
            continue
        n_gaps += 1
        assert told["gap"] == pytest.approx(nearest.gap, abs=1e-5)
        assert (told["mark"], told["oppositeMark"]) == (nearest.mark, nearest.opposite_mark)
        np.testing.assert_allclose(told["where"], nearest.where, atol=2e-5)
        np.testing.assert_allclose(told["opposite"], nearest.opposite, atol=2e-5)
    assert n_gaps > 20


@pytest.mark.parametrize(
    "change",
    [
        PoseChange(),
        PoseChange(tilt_x=0.02, tilt_y=-0.013, yaw=0.05, drift_x=0.04, drift_y=-0.03),
    ],
)
def test_poses_are_pythons(looked, starter_outcome, change):
    raise_ = starter_outcome.raise_
    for position in (4.5, 5.2, 17.7):
        heel = heel_of(starter_outcome, position, "base")
        told = tell(
            looked,
            f"return view.story.pose(0, {position}, {{tiltX: {change.tilt_x}, "
            f"tiltY: {change.tilt_y}, yaw: {change.yaw}, driftX: {change.drift_x}, "
            f"driftY: {change.drift_y}}});",
        )
        pose = raise_.shaft_from_section(heel, change)
        np.testing.assert_allclose(np.reshape(told, (4, 4)).T, pose, atol=1e-12)


def test_standpoints_and_pixels_are_pythons(looked, scene, starter_outcome):
    size = size_of(looked)
    position = RISING + 0.4
    moment = locate(starter_outcome.raise_, position)
    nearest = nearest_gap(scene.gaps, moment.passage, moment.share)
    assert nearest is not None
    along = nearest.opposite - nearest.where
    span = min(1.6, max(0.8, 20 * float(np.linalg.norm(along))))
    heel = heel_of(starter_outcome, position, "base")
    known = {
        "whole tower": whole_tower(scene, size),
        "what moves": on_section(scene, moment.passage, moment.share),
        "plan at the heel": from_above(scene, heel + 1.0),
        "least gap": close_up(nearest.where, along, span=span),
    }
    points = np.random.default_rng(3).uniform([-3, -3, 0], [3, 3, 12], (40, 3))
    tell(looked, f"view.goTo({position});")
    for name, standpoint in known.items():
        tell(looked, f'view.lookFrom("{name}");')
        told = looked.evaluate(
            "points => { const v = globalThis[Symbol.for('towerlift.views')][0];"
            "return points.map(p => v.pixelOf(p)); }",
            points.tolist(),
        )
        exact = tell(looked, "return view.sightSize();")
        pixels = standpoint.pixels(points, (exact["width"], exact["height"]))
        np.testing.assert_allclose(told, pixels, atol=0.05 if name == "least gap" else 0.01)


# ------------------------------------------------------------- what is on the screen


@pytest.mark.parametrize("share", [0.1, 0.45, 0.9])
def test_a_girt_is_where_it_must_be(looked, scene, starter_outcome, share):
    """South girt 2 of the base, s 1.8 to 2.0: larch there, and stone seen past it above."""
    position = RISING + share
    tell(looked, 'view.toggle("danger", "danger"); view.toggle("lensed", "lensed");')
    south = from_south(looked, scene)
    tell(looked, f"view.goTo({position});")
    settled(looked)
    heel = heel_of(starter_outcome, position, "base")
    points = np.array([[0.5, -1.65, heel + s] for s in (1.86, 1.94, 1.68, 2.12)])
    seen = screen(looked)
    low, high, below, above = (
        seen[round(y), round(x)] for x, y in south.pixels(points, size_of(looked))
    )
    assert looks_like(low, LARCH)
    assert looks_like(high, LARCH)
    assert looks_like(below, STONE)
    assert looks_like(above, STONE)


@pytest.mark.parametrize("nearer", [1.0, 0.35])
def test_a_print_of_the_base_is_the_picture_of_it(looked, scene, nearer):
    """Moved by whole pixels it must be what drawing every triangle anew gives."""
    from_south(looked, scene)
    differing, moved = tell(
        looked,
        f"""view.zoom({nearer});
        const {{ picture }} = view;
        const gl = picture.renderer.getContext();
        const {{ width, height }} = picture.size;
        const usual = picture.many;
        const drawn = (position, many, times) => {{
            picture.many = many;
            view.goTo(position);
            for (let n = 0; n < times; n++) view.frame();
            clearTimeout(view.settling);
            const texels = new Uint8Array(4 * width * height);
            gl.readPixels(0, 0, width, height, gl.RGBA, gl.UNSIGNED_BYTE, texels);
            return new Uint32Array(texels.buffer);
        }};
        const apart = (a, b) => a.reduce((sum, texel, n) => sum + (texel !== b[n]), 0);
        const metres = view.at.span / height;
        const passage = view.story.passages[{RISING}];
        const share = (pixels) => pixels * metres / (passage.heels[0][1] - passage.heels[0][0]);
        const found = [];
        let before = drawn({RISING}, 1, 3);
        const moved = [];
        for (const pixels of [7, 31, 60]) {{
            const printed = drawn({RISING} + share(pixels), 1, 1);
            const laid = () => picture.movers.filter((mover) => mover.print.mesh.visible);
            if (!laid().some((each) => each.name === "base" && each.moving)) throw Error();
            moved.push(apart(printed, before));
            before = printed;
            const plain = drawn({RISING} + share(pixels), Infinity, 2);
            if (laid().length) throw Error("a print");
            found.push(apart(printed, plain));
            drawn({RISING} + share(pixels), 1, 1);
        }}
        picture.many = usual;
        return [found, moved];""",
    )
    # Corners come to lie on pixels' middles only as nearly as the arithmetic goes.
    assert max(differing) < 60
    assert min(moved) > 1500


def test_the_near_wall_comes_and_goes(looked, scene, starter_outcome):
    tell(looked, 'view.toggle("lensed", "lensed"); view.toggle("danger", "danger");')
    south = from_south(looked, scene)
    tell(looked, f"view.goTo({RISING + 0.5});")
    settled(looked)
    heel = heel_of(starter_outcome, RISING + 0.5, "base")
    (girt,) = south.pixels(np.array([[0.5, -1.65, heel + 1.9]]), size_of(looked))
    x, y = np.round(girt).astype(int)
    before = screen(looked)
    looked.locator(".tlv-cut").click()
    assert looked.locator(".tlv-cut").get_attribute("aria-pressed") == "false"
    settled(looked)
    after = screen(looked)
    assert looks_like(before[y, x], LARCH)
    assert looks_like(after[y, x], STONE)


def test_gap_colours_tell_near_from_far(looked, scene, starter_outcome):
    position = RISING + 0.45
    tell(looked, 'view.toggle("lensed", "lensed"); view.toggle("danger", "danger");')
    south = from_south(looked, scene)
    tell(looked, f"view.goTo({position});")
    settled(looked)
    heel = heel_of(starter_outcome, position, "base")
    (point,) = south.pixels(np.array([[0.5, -1.65, heel + 1.9]]), size_of(looked))
    x, y = np.round(point).astype(int)
    assert looks_like(screen(looked)[y, x], LARCH)
    looked.locator(".tlv-gaps").click()
    settled(looked)
    # A girt stands back from its legs: it is the nearest to nothing.
    assert looks_like(screen(looked)[y, x], (222, 220, 214))
    assert "not measured here" in tell(looked, "return view.layout.over.textContent;")


def test_words_over_the_picture_do_not_lie_on_one_another(looked):
    """At many steps and from several sides, with letters as large as on a projector too."""
    for text in (13, 20):
        tell(looked, f"view.setText({text});")
        written, over = tell(
            looked,
            """let written = 0;
            const over = [];
            for (const from of ["whole tower", "east side", "what moves", "least gap"]) {
              view.lookFrom(from);
              for (let at = 4.5; at < view.story.count; at += 0.37) {
                view.goTo(at);
                view.frame();
                const texts = [...view.layout.over.querySelectorAll("text:not(svg svg *)")];
                const boxes = texts.map((e) => {
                  const { x, y, width, height } = e.getBBox();
                  // The font's own room above and below its letters is not in the way.
                  return [e.textContent, x, y + 0.15 * height, x + width, y + 0.85 * height];
                });
                written += boxes.length;
                boxes.forEach((a, n) => boxes.slice(n + 1).forEach((b) => {
                  const across = Math.min(a[3], b[3]) - Math.max(a[1], b[1]);
                  const high = Math.min(a[4], b[4]) - Math.max(a[2], b[2]);
                  if (across > 1 && high > 1) over.push([from, at, a[0], b[0]]);
                }));
              }
            }
            return [written, over];""",
        )
        assert written > 1000
        assert over == []


# ------------------------------------------------------------- hands on it


def test_dragging_the_slider_moves_the_base(looked, scene, starter_outcome):
    course = course_of(starter_outcome.raise_)
    box = looked.locator(".tlv-way input").bounding_box()
    x = [box["x"] + 8 + share * (box["width"] - 16) for share in (0.1, 0.3)]
    y = box["y"] + box["height"] / 2
    looked.mouse.move(x[0], y)
    looked.mouse.down()
    looked.mouse.move(x[1], y, steps=8)
    looked.mouse.up()
    position = tell(looked, "return view.position;")
    assert course.along(position) == pytest.approx(0.3 * course.length, rel=0.02)
    moment = locate(starter_outcome.raise_, position)
    told = looked.locator(".tlv-way input").get_attribute("aria-valuetext")
    assert f"heel {moment.passage.standing['base'].heel_from:.2f}" in told or "base" in told


def test_keys_move_by_steps_of_travel(looked, starter_outcome):
    course = course_of(starter_outcome.raise_)
    slider = looked.locator(".tlv-way input")
    slider.focus()

    def along():
        return course.along(tell(looked, "return view.position;"))

    start = along()
    looked.keyboard.press("ArrowRight")
    assert along() == pytest.approx(start + 0.05)
    looked.keyboard.press("ArrowLeft")
    assert along() == pytest.approx(start)
    looked.keyboard.press("PageUp")
    assert along() == pytest.approx(start + 1.0)
    looked.keyboard.press("PageDown")
    assert along() == pytest.approx(start)
    looked.keyboard.press("End")
    assert along() == pytest.approx(course.length)
    looked.keyboard.press("Home")
    assert along() == 0.0


def test_keys_for_the_page_pass_through(looked):
    looked.locator(".tlv-way input").focus()
    looked.evaluate(
        "() => { globalThis.heardKeys = []; "
        "document.addEventListener('keydown', (e) => globalThis.heardKeys.push(e.key)); }"
    )
    looked.keyboard.press("ArrowRight")
    looked.keyboard.press("Control+s")
    assert looked.evaluate("() => globalThis.heardKeys") == ["Control", "s"]


def test_play_runs_to_the_end_and_stops(looked, starter_outcome):
    tell(looked, "view.goTo(20.2);")
    looked.locator(".tlv-speed").select_option("1000")
    looked.locator(".tlv-play").click()
    looked.wait_for_function(
        "() => !globalThis[Symbol.for('towerlift.views')][0].playing", timeout=20_000
    )
    assert tell(looked, "return view.position;") == len(starter_outcome.raise_.passages)
    assert looked.locator(".tlv-play").get_attribute("aria-pressed") == "false"


def test_true_speed_is_the_clocks(looked, starter_outcome):
    passage = starter_outcome.raise_.passages[RISING]
    tell(looked, f"view.goTo({RISING});")
    looked.locator(".tlv-speed").select_option("60")
    moved = tell(
        looked,
        """view.play(true);
        await new Promise((go) => setTimeout(go, 300));
        const [from, at] = [view.position, performance.now()];
        await new Promise((go) => setTimeout(go, 900));
        const [to, then] = [view.position, performance.now()];
        view.play(false);
        return [to - from, (then - at) / 1000];""",
    )
    assert moved[0] * passage.duration / 60 == pytest.approx(moved[1], abs=0.6)


def test_jumps_go_where_they_say(looked, starter_outcome):
    raise_ = starter_outcome.raise_
    looked.locator(".tlv-stage").select_option("S3")
    first = next(p.index for p in raise_.passages if p.stage == "S3")
    assert tell(looked, "return view.position;") == pytest.approx(first)
    tell(looked, "view.goTo(3);")
    looked.locator(".tlv-hold").click()
    signed = [stage for stage in starter_outcome.plan.stages if stage.hold_points]
    starts = {
        stage.name: next(p.index for p in raise_.passages if p.stage == stage.name)
        for stage in signed
    }
    later = next(stage for stage in signed if starts[stage.name] > 3)
    assert tell(looked, "return view.position;") == pytest.approx(starts[later.name])
    words = looked.locator(".tlv-now-words").inner_text()
    assert f"{', '.join(later.hold_points)} must be signed" in words


def test_choosing_a_finding_goes_to_stage_height_and_place(looked, starter_outcome):
    number, finding = next(
        (n, f)
        for n, f in enumerate(starter_outcome.findings)
        if f.check == "clearance" and f.where is not None and f.heel is not None and f.heel > 1
    )
    looked.locator(".tlv-sieve").select_option("")
    looked.locator(".tlv-words").fill("")
    looked.locator(".tlv-list").select_option(str(number))
    position = tell(looked, "return view.position;")
    moment = locate(starter_outcome.raise_, position)
    assert moment.passage.stage == finding.stage
    moving = finding.subject.partition(":")[0]
    assert moment.passage.heel(moving, moment.share) == pytest.approx(finding.heel, abs=1e-6)
    width, height = size_of(looked)
    assert tell(looked, f"return view.pixelOf({list(finding.where)});") == pytest.approx(
        [width / 2, height / 2], abs=1
    )
    text = looked.locator(".tlv-finding").inner_text()
    assert "passes: clearance" in text
    assert "to spare" in text
    assert "Limit by:" in text


def test_next_finding_follows_the_list(looked):
    tell(looked, "view.finding = null;")
    looked.locator(".tlv-sieve").select_option("")
    looked.locator(".tlv-words").fill("clearance")
    listed = tell(looked, "return view.listed;")
    looked.locator(".tlv-next").click()
    looked.locator(".tlv-next").click()
    assert tell(looked, "return view.finding;") == listed[1]
    looked.locator(".tlv-before").click()
    assert tell(looked, "return view.finding;") == listed[0]
    looked.locator(".tlv-words").fill("")


def test_pointing_names_the_member(looked, scene, starter_outcome):
    position = RISING + 0.45
    tell(looked, 'view.toggle("lensed", "lensed");')
    south = from_south(looked, scene)
    tell(looked, f"view.goTo({position});")
    settled(looked)
    heel = heel_of(starter_outcome, position, "base")
    box = looked.locator(".tlv-sight canvas").bounding_box()
    points = np.array([[0.5, -1.65, heel + 1.9], [0.5, -1.65, heel + 0.4]])
    for mark, (x, y) in zip(("BS2", "BS1"), south.pixels(points, size_of(looked)), strict=True):
        looked.mouse.move(box["x"] + x, box["y"] + y)
        looked.wait_for_function(
            "(words) => document.querySelector('.tlv-hover').textContent.startsWith(words)",
            arg=f"base: {mark}",
            timeout=10_000,
        )


def test_members_are_reached_by_keys(looked, scene, starter_outcome):
    """South girt 2 of the base, from the list: it is marked, and its name and height told."""
    position = RISING + 0.45
    tell(looked, 'view.toggle("lensed", "lensed"); view.toggle("danger", "danger");')
    south = from_south(looked, scene)
    tell(looked, f"view.goTo({position});")
    settled(looked)
    looked.locator(".tlv-members summary").focus()
    looked.keyboard.press("Enter")
    looked.locator(".tlv-body").select_option(label="base")
    listed = looked.locator(".tlv-memberlist option").all_inner_texts()
    base = next(s for s in starter_outcome.plan.sections if s.name == "base")
    assert [each.split(" ")[0] for each in listed] == [m.mark for m in base.members]
    looked.locator(".tlv-memberlist").focus()
    looked.keyboard.press("Home")
    for _ in range(next(n for n, each in enumerate(listed) if each.startswith("BS2"))):
        looked.keyboard.press("ArrowDown")
    heel = heel_of(starter_outcome, position, "base")
    told = looked.locator(".tlv-unseen").inner_text()
    assert told.startswith("base: BS2")
    assert "gap not measured here" in told  # a girt stands back from its legs
    assert f"from {heel + 1.8:.2f} m to {heel + 2.0:.2f} m up" in told
    settled(looked)
    (point,) = south.pixels(np.array([[0.5, -1.65, heel + 1.9]]), size_of(looked))
    x, y = np.round(point).astype(int)
    assert looks_like(screen(looked)[y, x], (244, 196, 48))
    assert "base: BS2" in tell(looked, "return view.layout.over.textContent;")
    looked.keyboard.press("Enter")
    middle = tell(looked, "return view.at.focus;")
    assert middle[2] == pytest.approx(heel + 1.9, abs=0.01)
    looked.locator(".tlv-unchoose").click()
    settled(looked)
    assert "base: BS2" not in tell(looked, "return view.layout.over.textContent;")


def test_the_ground_kept_clear_is_a_ring(looked, scene, starter_outcome):
    """Six metres beside the base, or a quarter of its head's height, whichever is more."""
    position = RISING + 0.5
    heel = heel_of(starter_outcome, position, "base")
    length = next(s.length for s in starter_outcome.plan.sections if s.name == "base")
    beside = max(6.0, 0.25 * (heel + length))
    base = next(body for body in scene.bodies if body.name == "base")
    half = float(np.abs(base.vertices[:, :2]).max())
    line = starter_outcome.raise_.plumb_line
    tell(looked, f'view.lookFrom("from above, askew"); view.goTo({position}); view.zoom(2);')
    settled(looked)
    east = looked.locator('.tlv-over polyline[stroke-dasharray="9 4"]').get_attribute("points")
    x, y = map(float, east.split()[0].split(","))
    there = tell(looked, f"return view.pixelOf([{line.x + half + beside}, {line.y}, 0]);")
    assert [x, y] == pytest.approx(there, abs=0.06)
    assert f"{beside:.2f} m beside the load" in tell(
        looked, "return view.layout.over.textContent;"
    )
    looked.locator(".tlv-danger").click()
    settled(looked)
    assert looked.locator('.tlv-over polyline[stroke-dasharray="9 4"]').count() == 0


def test_the_tape_measures_between_two_places(looked, scene, starter_outcome):
    """From leg to leg across the south side: their middles are 3.3 m apart."""
    position = RISING + 0.45
    tell(looked, 'view.toggle("lensed", "lensed"); view.toggle("danger", "danger");')
    south = from_south(looked, scene)
    tell(looked, f"view.goTo({position}); view.zoom(0.5);")
    near = Standpoint(focus=south.focus, span=south.span / 2, azimuth=np.pi, rise=0.0)
    settled(looked)
    looked.locator(".tlv-tape").click()
    heel = heel_of(starter_outcome, position, "base")
    box = looked.locator(".tlv-sight canvas").bounding_box()
    points = np.array([[x, -1.65, heel + 3.0] for x in (-1.65, 1.65)])
    line = starter_outcome.raise_.plumb_line
    points[:, 0] += line.x
    for x, y in near.pixels(points, size_of(looked)):
        looked.mouse.click(box["x"] + x, box["y"] + y)
    tape = np.array(tell(looked, "return view.tape;"))
    pixel = near.span / size_of(looked)[1]
    assert tape[1] - tape[0] == pytest.approx([3.3, 0.0, 0.0], abs=1.5 * pixel)
    assert tape[0][1] == pytest.approx(-1.75 + line.y, abs=0.003)  # the leg's south side
    assert "m (east" in looked.locator(".tlv-now-words").inner_text()


def test_the_lens_says_gap_and_both_marks(looked, scene, starter_outcome):
    for share in (0.05, 0.6, 0.95):
        tell(looked, f"view.goTo({RISING + share});")
        settled(looked)
        moment = locate(starter_outcome.raise_, RISING + share)
        nearest = nearest_gap(scene.gaps, moment.passage, moment.share)
        assert nearest is not None
        text = looked.locator(".tlv-lens").inner_text()
        assert f"least gap {int(1000 * nearest.gap)} mm" in text
        assert f"{nearest.moving}: {nearest.mark}" in text
        assert f"{nearest.against}: {nearest.opposite_mark}" in text


def test_the_view_turns_and_comes_nearer_by_keys(looked):
    looked.locator(".tlv-sight canvas").focus()
    before = tell(looked, "return [view.at.azimuth, view.at.rise, view.at.span];")
    looked.keyboard.press("ArrowRight")
    looked.keyboard.press("ArrowDown")
    looked.keyboard.press("+")
    after = tell(looked, "return [view.at.azimuth, view.at.rise, view.at.span];")
    assert after[0] > before[0]
    assert after[1] > before[1]
    assert after[2] == pytest.approx(0.85 * before[2])


def test_feet_and_larger_letters(looked, starter_outcome):
    tell(looked, f"view.goTo({RISING + 0.5});")
    looked.locator(".tlv-unit").click()
    settled(looked)
    text = looked.locator(".tlv-states").inner_text()
    assert " ft " in text
    assert " in," in text
    assert " ft " in looked.locator(".tlv-now-words").inner_text()
    assert "Gap, in, along the heel of the base, ft" in (
        looked.locator(".tlv-gapstrip").text_content()
    )
    number, finding = next(
        (n, f)
        for n, f in enumerate(starter_outcome.findings)
        if f.check == "clearance" and f.limit.unit == "mm" and (f.value or 0) > 0
    )
    tell(looked, f"view.layout.part('.tlv-sieve').value = ''; {CHOOSE.format(number)}")
    # Found is never rounded up, asked never down.
    found = np.floor(finding.value / 25.4 * 100) / 100
    asked = np.ceil(finding.limit_in_force.value / 25.4 * 100) / 100
    told = looked.locator(".tlv-finding").inner_text()
    assert f"{found:.2f} in, asked at least {asked:.2f} in" in told
    before = looked.locator(".tlv-states").bounding_box()["height"]
    for _ in range(6):
        looked.locator(".tlv-larger").click()
    settled(looked)
    assert looked.locator(".tlv-states").bounding_box()["height"] > 1.3 * before
    assert looked.locator(".tlv").evaluate("e => e.scrollWidth <= e.clientWidth + 1")


def test_a_lost_context_comes_back_with_the_same_picture(looked, scene):
    tell(looked, f"view.goTo({RISING + 0.5});")
    settled(looked)
    before = screen(looked)
    tell(
        looked,
        """const lose = view.picture.renderer.getContext().getExtension("WEBGL_lose_context");
        lose.loseContext();
        await new Promise((go) => setTimeout(go, 200));
        if (!view.lost) throw new Error("the loss was not noticed");
        view.goTo(2);
        await new Promise((go) => setTimeout(go, 100));
        lose.restoreContext();
        await new Promise((go) => setTimeout(go, 400));""",
    )
    tell(looked, f"view.goTo({RISING + 0.5});")
    settled(looked)
    after = screen(looked)
    assert np.mean(np.abs(before.astype(int) - after.astype(int)).max(axis=2) > 8) < 0.002


def test_everything_has_a_name_for_a_screen_reader(looked):
    nameless = looked.evaluate(
        """() => [...document.querySelectorAll(
            ".tlv button, .tlv select, .tlv input, .tlv canvas, .tlv svg[role=img]")]
          .filter((e) => !(e.getAttribute("aria-label") || e.textContent.trim()
            || e.labels?.length || e.closest("label")?.textContent.trim()))
          .map((e) => e.outerHTML.slice(0, 80))"""
    )
    assert nameless == []


def test_no_page_asked_for_anything(opened):
    assert opened.refused == []
    assert opened.errors == []


def test_without_webgl_words_strips_and_stills_remain(opened, page_file, scene):
    with offline_page("--disable-3d-apis", beside=opened) as page:
        page.goto(page_file.as_uri())
        page.wait_for_function(READY)
        tell(page, f"view.goTo({RISING + 0.5});")
        page.wait_for_timeout(300)
        assert "cannot draw in 3D" in page.locator(".tlv-away").inner_text()
        assert "least gap" in page.locator(".tlv-lens").inner_text()
        assert page.locator(".tlv-gapstrip svg text").count() > 5
        # The still of the stage is that of the middle of its longest haul.
        still = page.locator(".tlv-sight img")
        assert "stage S1, heel of the base at" in page.locator(".tlv-away").inner_text()
        assert "stage S1" in still.get_attribute("alt")
        png = still.get_attribute("src").partition("base64,")[2]
        image = np.asarray(Image.open(io.BytesIO(b64decode(png))).convert("RGB"))
        size = (image.shape[1], image.shape[0])
        heel = scene.raise_.passages[RISING].heel("base", 0.5)
        ((x, y),) = whole_tower(scene, size).pixels(np.array([[0.4, -1.7, heel + 1.9]]), size)
        assert looks_like(image[round(y), round(x)], LARCH)
        before = page.locator(".tlv-now-gap").get_attribute("transform")
        tell(page, f"view.goTo({RISING + 0.8});")
        page.wait_for_timeout(300)
        assert page.locator(".tlv-now-gap").get_attribute("transform") != before
        page.locator(".tlv-stage").select_option("S3")
        page.wait_for_timeout(300)
        assert "stage S3" in page.locator(".tlv-away").inner_text()
        assert still.get_attribute("src").partition("base64,")[2] != png
