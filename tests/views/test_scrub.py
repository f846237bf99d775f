"""What goes to the browser, read back in Python and held to the plan and the raise."""

import gzip
import re
from base64 import b64decode
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from math import pi
from time import sleep
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import traitlets
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from tests.views import made
from towerlift.findings import Verdict
from towerlift.motion.travel import locate
from towerlift.scene import build_scene, nearest_gap
from towerlift.scene.gear import HANDS_A_BAR
from towerlift.scene.hazards import hazards_of
from towerlift.scene.models import box, capstan, drum, figure
from towerlift.scene.movers import GRID, feature_edges, pack_movers, shown_bodies
from towerlift.scene.parcel import pack_parcel, unpack_parcel
from towerlift.scrub import ScrubView, standalone_html
from towerlift.scrub.cargo import raise_parcel
from towerlift.scrub.story import story_of
from towerlift.scrub.words import opening_position, position_of, said, summary

MADE = made.made_outcome()


@pytest.fixture(scope="module")
def parcel(starter_outcome):
    """Head and arrays of the starter plan's parcel."""
    return unpack_parcel(raise_parcel(starter_outcome))


@pytest.fixture(scope="module")
def scene(starter_outcome):
    return build_scene(starter_outcome)


# ------------------------------------------------------------------------ the parcel


@given(
    st.lists(st.integers(0, 2**16 - 1), max_size=20),
    st.lists(st.floats(-1e6, 1e6, width=32), max_size=9),
    st.text(max_size=20),
)
def test_a_parcel_gives_back_what_was_put_in(small, wide, words):
    arrays: dict[str, Any] = {
        "a": np.array(small, dtype=np.uint16),
        "b": np.array(wide, dtype=np.float32),
    }
    head, found = unpack_parcel(pack_parcel({"words": words}, arrays))
    assert head["words"] == words
    assert_allclose(found["a"], arrays["a"])
    assert_allclose(found["b"], arrays["b"])


def test_a_parcel_refuses_other_numbers():
    with pytest.raises(TypeError, match="float64"):
        pack_parcel({}, {"a": np.zeros(3)})
    with pytest.raises(ValueError, match="not a parcel"):
        unpack_parcel(b"something else")
    with pytest.raises(ValueError, match=r"[Nn]a[Nn]|Out of range"):
        pack_parcel({"a": float("nan")}, {})


# ------------------------------------------------------------------------ shapes


def volume(model):
    a, b, c = (model.vertices[model.faces[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6)


def test_shapes_are_closed_and_face_outwards():
    assert volume(box((0, 0, 0), (2, 3, 4), (1, 2, 3))) == pytest.approx(24)
    n = 16
    ring = n / 2 * np.sin(2 * pi / n)
    assert volume(drum(2.0, 1.0, 4.0, (1, 2, 3))) == pytest.approx(ring * 4 * 3)
    turned = box((0, 0, 0), (1, 2, 3), (0, 0, 0)).placed(5, 6, 7, turn=1.0)
    assert volume(turned) == pytest.approx(6)


def test_people_and_capstans_are_to_scale():
    person = figure((1, 2, 3))
    assert person.vertices[:, 2].max() - person.vertices[:, 2].min() == pytest.approx(1.75)
    gear = capstan(0.165, 2.3, 5, 0.6)
    assert np.hypot(*gear.vertices[:, :2].T).max() == pytest.approx(2.3, abs=0.01)


def test_edges_of_a_box_are_twelve():
    model = box((0, 0, 0), (1, 1, 1), (0, 0, 0))
    edges = feature_edges(model.vertices, model.faces, np.zeros(8, dtype=np.int64))
    assert len(edges) == 12
    lengths = np.linalg.norm(np.diff(model.vertices[edges], axis=1)[:, 0], axis=1)
    assert_allclose(lengths, 1.0)


# ------------------------------------------------------------------------ movers


def test_every_triangle_arrives_with_its_member(scene):
    shown = shown_bodies(scene)
    movers = pack_movers(shown)
    marks = [(body.name, mark) for body in shown for mark in body.marks]
    assert [m.name for m in movers[:4]] == ["shaft", "still", "base", "cap"]
    for mover in movers:
        bodies = [body for body in shown if body.mover == mover.name]
        assert len(mover.faces) == sum(len(body.faces) for body in bodies)
        vertices = mover.low + mover.size * mover.places / GRID
        found = {
            (marks[mover.members[f[0]]], *np.round(vertices[f].mean(axis=0), 2).tolist())
            for f in mover.faces
        }
        for body in bodies:
            for face, member in zip(body.faces, body.members, strict=True):
                centre = body.vertices[face].mean(axis=0)
                near = any(
                    (body.name, body.marks[member]) == key[0]
                    and np.abs(np.array(key[1:]) - centre).max() < 0.011
                    for key in found
                )
                assert near, (body.name, body.marks[member])


def test_places_are_within_half_a_step_of_the_grid(scene):
    shown = shown_bodies(scene)
    for mover in pack_movers(shown):
        vertices = mover.low + mover.size * mover.places / GRID
        every = np.concatenate(
            [b.vertices[b.faces.ravel()] for b in shown if b.mover == mover.name]
        )
        steps = mover.size / GRID
        assert_allclose(vertices.min(axis=0), every.min(axis=0), atol=steps.max())
        assert_allclose(vertices.max(axis=0), every.max(axis=0), atol=steps.max())


@given(azimuth=st.floats(0, 2 * pi), rise=st.floats(-pi / 2, pi / 2))
def test_chunks_that_are_left_out_face_away(azimuth, rise):
    """The browser leaves out a chunk by its way and spread: nothing that faces it is lost."""
    towards = np.array(
        [np.cos(rise) * np.sin(azimuth), np.cos(rise) * np.cos(azimuth), np.sin(rise)]
    )
    for mover in pack_movers(shown_bodies(build_scene(MADE))):
        vertices = mover.low + mover.size * mover.places / GRID
        a, b, c = (vertices[mover.faces[:, k]] for k in range(3))
        facing = np.cross(b - a, c - a) @ towards
        bounds = pairwise(mover.firsts.tolist())
        for (first, end), row in zip(bounds, mover.boxes, strict=True):
            middle, half, way, spread = row[:3], row[3:6], row[6:9], row[9]
            part = slice(first, end)
            corners = vertices[mover.faces[part]].reshape(-1, 3)
            assert np.all(np.abs(corners - middle) <= half + 1e-5)
            if spread >= 0 and np.dot(way, towards) <= -spread:
                assert facing[part].max() <= 1e-6


def test_chunks_hold_every_triangle_once(scene):
    for mover in pack_movers(shown_bodies(scene)):
        assert mover.firsts[0] == 0
        assert mover.firsts[-1] == len(mover.faces)
        assert np.all(np.diff(mover.firsts.astype(int)) > 0)
        assert len(mover.boxes) == len(mover.firsts) - 1


# ------------------------------------------------------------------------ what is seen when


def test_bodies_are_seen_in_their_passages(parcel, starter_outcome):
    head, _ = parcel
    seen = {body["name"]: body["seen"] for body in head["bodies"]}
    for passage in starter_outcome.raise_.passages:
        for section in ("base", "cap"):
            there = section in passage.standing
            assert seen[section][passage.index] == "01"[there]
        for fixture in ("gantry", "needles", "deck", "bearers"):
            assert seen[fixture][passage.index] == "01"[fixture in passage.fixtures]
        hands = [name for name in seen if name.startswith("hands at")]
        assert any(seen[name][passage.index] == "1" for name in hands) == bool(passage.moving)


def test_as_many_people_as_the_plan_has_hands(scene, starter_outcome):
    one = len(figure((0, 0, 0)).faces)
    for each in starter_outcome.plan.capstans:
        gear = next(g for g in scene.gear if g.name == f"hands at capstan {each.mark}")
        assert len(gear.model.faces) == each.hands * one
        assert -(-each.hands // HANDS_A_BAR) >= 1


# ------------------------------------------------------------------------ ropes


def test_ropes_are_rove_with_as_many_parts_as_the_tackle(scene, starter_outcome):
    plan, raise_ = starter_outcome.plan, starter_outcome.raise_
    passage = raise_.moving_passages[1]
    poses = {
        name: raise_.shaft_from_section(passage.heel(name, 0.4)) for name in passage.standing
    }
    parts = {tackle.name: tackle.parts for tackle in plan.tackles}
    lifts = {lift.name: lift for lift in plan.lifts}
    ropes = [rope for rope in scene.ropes if rope.lift == passage.lift]
    assert len(ropes) == len(lifts[passage.lift].lines)
    for rope, line in zip(ropes, lifts[passage.lift].lines, strict=True):
        points = rope.points(poses)
        assert points is not None
        n = parts[lifts[passage.lift].pattern]
        upper, lower = rope.upper.placed(poses), rope.lower.placed(poses)
        heights = points[: 2 * n, 2]
        assert_allclose(
            sorted(set(heights.round(6))), sorted({lower[2].round(6), upper[2].round(6)})
        )
        for lead, point in zip(line.leads, points[2 * n :], strict=False):
            assert_allclose(point, lead)
        drum = next(c for c in plan.capstans if c.mark == line.capstan)
        radii = np.hypot(points[-20:, 0] - drum.x, points[-20:, 1] - drum.y)
        coil = next(c for c in plan.coils if c.tag == line.coil)
        assert_allclose(radii, (drum.barrel_diameter + coil.diameter) / 2)
        # The fall meets the barrel square to its radius.
        run = points[2 * n + len(line.leads)] - points[2 * n + len(line.leads) - 1]
        out = points[2 * n + len(line.leads)] - [drum.x, drum.y, 0.0]
        assert abs(run[:2] @ out[:2]) < 1e-6 * np.linalg.norm(run)


def test_a_capstan_takes_in_what_its_tackle_gives(scene, starter_outcome):
    """Turn times radius of the rope's middle is parts times travel."""
    plan, raise_ = starter_outcome.plan, starter_outcome.raise_
    passage = raise_.moving_passages[1]
    lift = next(each for each in plan.lifts if each.name == passage.lift)
    tackle = next(each for each in plan.tackles if each.name == lift.pattern)
    for line in lift.lines:
        drum = next(c for c in plan.capstans if c.mark == line.capstan)
        coil = next(c for c in plan.coils if c.tag == line.coil)
        winder = next(w for w in scene.winders if w.name == f"capstan {drum.mark}")
        step = 0.001
        first, second = (winder.pose(passage, share) for share in (0.3, 0.3 + step))
        turn = np.arctan2(*(second[:2, :2] @ first[:2, :2].T)[[1, 0], 0])
        taken = turn * (drum.barrel_diameter + coil.diameter) / 2
        assert taken == pytest.approx(tackle.parts * step * passage.travel, rel=1e-6)


# ------------------------------------------------------------------------ hazards


def test_ground_beside_a_fall_is_kept_clear(starter_outcome, scene):
    hazards = hazards_of(starter_outcome.plan, scene)
    for lift in starter_outcome.plan.lifts:
        corners = np.array(hazards["falls"][lift.name]).reshape(-1, 3, 2)
        for line in lift.lines:
            drum = next(c for c in starter_outcome.plan.capstans if c.mark == line.capstan)
            start, end = np.array(line.leads[-1][:2]), np.array([drum.x, drum.y])
            along = (end - start) / np.linalg.norm(end - start)
            side = np.array([-along[1], along[0]])
            middle = (start + end) / 2
            assert inside(middle + 1.95 * side, corners)
            assert inside(middle - 1.95 * side, corners)
            assert inside(end + 3.9 * along + 2.5 * side, corners)


def inside(point, triangles):
    a, b, c = (triangles[:, k] for k in range(3))

    def turn(p, q):
        u, v = q - p, point - p
        return u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]

    turns = np.array([turn(a, b), turn(b, c), turn(c, a)])
    return bool(np.any(np.all(turns >= -1e-9, axis=0) | np.all(turns <= 1e-9, axis=0)))


# ------------------------------------------------------------------------ the story


def test_the_story_holds_the_gaps_and_loads_of_the_outcome():
    story = story_of(MADE)
    assert len(story["gaps"]) == len(MADE.gaps)
    for told, curve in zip(story["gaps"], MADE.gaps, strict=True):
        assert_allclose(told["least"], curve.least, atol=1e-5)
        assert told["marks"] == list(curve.marks)
    assert story["loads"][-1]["ratio"] == [None] * len(MADE.hangs[-1].ratio)
    assert story["summary"] == summary(MADE.findings)


def test_a_long_curve_keeps_its_least(monkeypatch):
    monkeypatch.setattr("towerlift.scrub.story.MOST_STEPS", 7)
    story = story_of(MADE)
    for told, curve in zip(story["gaps"], MADE.gaps, strict=True):
        assert len(told["least"]) <= 7
        assert min(told["least"]) == pytest.approx(curve.least.min(), abs=1e-5)
        assert len(told["heels"]) == len(told["least"]) + 1
        k = int(np.argmin(told["least"]))
        low, high = sorted(told["heels"][k : k + 2])
        assert low <= told["at"][k] <= high


def test_findings_are_told_with_verdict_limit_and_overrule():
    told = [said(finding) for finding in MADE.findings]
    for words, finding in zip(told, MADE.findings, strict=True):
        assert words["verdict"] == str(finding.verdict)
        assert finding.limit_in_force.source in str(words["source"])
    missing = next(w for w in told if w["verdict"] == str(Verdict.NOT_EVALUATED))
    assert (missing["word"], missing["found"]) == ("NOT EVALUATED", "not evaluated")
    overruled = next(w for w in told if w["overrule"])
    assert "Wenna Holt, engineer" in str(overruled["overrule"])
    assert "in place of at least 5 m" in str(overruled["overrule"])


def test_a_finding_is_at_its_stage_and_heel():
    for finding in MADE.findings:
        position = position_of(MADE.raise_, finding)
        if not finding.stage:
            assert position is None
            continue
        assert position is not None
        moment = locate(MADE.raise_, position)
        assert moment.passage.stage == finding.stage
        if finding.heel is not None:
            name = moment.passage.moving[0]
            assert moment.passage.heel(name, moment.share) == pytest.approx(finding.heel)


def test_it_opens_at_the_worst_with_a_place():
    worst = next(f for f in MADE.findings if f.where is not None)
    assert opening_position(MADE) == position_of(MADE.raise_, worst)


# ------------------------------------------------------------------------ widget and page


def test_the_widget_keeps_what_is_heavy_out_of_its_state(starter_outcome):
    view = ScrubView(starter_outcome)
    state = view.get_state()
    assert sum(len(str(value)) for value in state.values()) < 20_000
    head, _ = unpack_parcel(gzip.decompress(view.parcel))
    assert head["name"] == starter_outcome.plan.name


def test_the_raise_is_packed_once_however_many_ask(monkeypatch):
    packed = []

    def slow(outcome):
        packed.append(outcome)
        sleep(0.05)
        return b"the raise"

    monkeypatch.setattr("towerlift.scrub.view.raise_parcel", slow)
    view = ScrubView(MADE)
    with ThreadPoolExecutor(4) as pool:
        parcels = list(pool.map(lambda _: view.parcel, range(8)))
    assert packed == [MADE]
    assert {gzip.decompress(each) for each in parcels} == {b"the raise"}


def test_the_widget_answers_what_it_is_asked(starter_outcome, monkeypatch):
    view = ScrubView(starter_outcome)
    sent = []
    monkeypatch.setattr(
        view, "send", lambda content, buffers=None: sent.append((content, buffers))
    )
    view._heard(view, {"ask": "all"}, [])
    view._heard(view, {"ask": "parcel"}, [])
    view._heard(view, {"ask": "still", "number": 7, "position": 5.5, "size": [200, 300]}, [])
    assert [content["give"] for content, _ in sent] == ["all", "parcel", "still"]
    assert sent[0][1][1] == sent[1][1][0] == view.parcel
    assert sent[2][0]["number"] == 7
    assert sent[2][1][0].startswith(b"\x89PNG")


def test_the_still_is_left_once_when_the_live_picture_is_there(starter_outcome, monkeypatch):
    view = ScrubView(starter_outcome)
    left = []
    monkeypatch.setattr(view, "send", lambda content, buffers=None: None)
    view._left = SimpleNamespace(update=lambda shown: left.append(shown.data))
    view._heard(view, {"ask": "parcel"}, [])
    assert left == []
    for _ in range(2):
        view._heard(view, {"ask": "left"}, [])
    assert len(left) == 1
    assert f"towerlift-{view.key}" in left[0]
    assert starter_outcome.plan.name in left[0]


@pytest.mark.parametrize("position", [-0.1, float("nan"), 1e9])
def test_the_widget_refuses_places_that_are_not(starter_outcome, position):
    view = ScrubView(starter_outcome)
    with pytest.raises(traitlets.TraitError, match="position must be within"):
        view.position = position


def test_the_page_holds_everything_and_names_no_address(starter_outcome):
    html = standalone_html(starter_outcome)
    assert "does not replace a licensed engineer" in html
    packed = re.search(r'<script id="parcel" type="text/plain">([^<]*)', html)
    assert packed is not None
    head, _ = unpack_parcel(gzip.decompress(b64decode(packed.group(1))))
    assert len(head["findings"]) == len(starter_outcome.findings)
    assert re.findall(r'(?:src|href)="?https?:', html) == []
    assert "default-src 'none'" in html


def test_the_page_refuses_what_it_cannot_show(starter_outcome):
    with pytest.raises(ValueError, match="unit must be"):
        standalone_html(starter_outcome, unit="yd")
    with pytest.raises(ValueError, match="position must be"):
        standalone_html(starter_outcome, position=1e6)


def test_gap_of_the_story_is_that_of_the_pictures(parcel, scene, starter_outcome):
    head, _ = parcel
    for curve in head["gaps"]:
        passage = starter_outcome.raise_.passages[curve["passage"]]
        nearest = nearest_gap(scene.gaps, passage, 0.5)
        assert nearest is not None
        assert (
            min(curve["least"])
            >= min(float(g.least.min()) for g in scene.gaps if g.passage == passage.index)
            - 1e-5
        )
