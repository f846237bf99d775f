"""The Tidewatch example: what is drawn, what it weighs, and what its two plans say.

The figures of the frame (counts, sizes, masses, centres of gravity, the gap of the
brace foot at the ledge) are our own arithmetic, done by hand from the list of pieces
before this package was written: cross-checks, not outside evidence.
"""

from collections.abc import Mapping
from datetime import datetime
from math import dist
from pathlib import Path

import numpy as np
import pytest

from tests.plans.hand_ropes import with_hand_ropes
from towerlift.checks.bury import check_bury
from towerlift.checks.case import Case
from towerlift.checks.occupancy import check_occupancy
from towerlift.checks.slings import check_slings
from towerlift.findings import Finding, Verdict
from towerlift.motion import follow_stages
from towerlift.motion.raises import Raise
from towerlift.plan import read_plan
from towerlift.plan.bodies import Member
from towerlift.plan.model import Plan
from towerlift.rig import hang_curves
from towerlift.shapes import build_shapes
from towerlift.shapes.solids import MassProperties, Shapes, combine

FOLDER = Path(__file__).parents[2] / "meshes" / "tidewatch"
DRAFT, CORRECTED = "plan.toml", "plan-corrected.toml"
BOTH = pytest.mark.parametrize("name", [DRAFT, CORRECTED])
MAY_STAND_OUT = {"shoe", "brace foot"}
WITHIN = 1e-6
ORIGIN = np.zeros(3)


@pytest.fixture(scope="module")
def plans() -> Mapping[str, Plan]:
    return {
        DRAFT: read_plan(FOLDER / DRAFT),
        CORRECTED: with_hand_ropes(read_plan(FOLDER / CORRECTED)),
    }


@pytest.fixture(scope="module")
def shapes(plans) -> Mapping[str, Shapes]:
    return {name: build_shapes(plan, FOLDER) for name, plan in plans.items()}


@pytest.fixture(scope="module")
def raises(plans) -> Mapping[str, Raise]:
    return {name: follow_stages(plan) for name, plan in plans.items()}


@pytest.fixture(scope="module")
def cases(plans, shapes, raises) -> Mapping[str, Case]:
    return {
        name: Case(
            plan=plan,
            shapes=shapes[name],
            raise_=raises[name],
            gaps=(),
            hangs=hang_curves(plan, shapes[name], raises[name]),
            margins=(),
            rests=(),
            contacts=(),
        )
        for name, plan in plans.items()
    }


def pieces(plan: Plan, owner: str, part: str) -> list[Member]:
    bodies = {each.name: each.members for each in plan.sections}
    bodies |= {each.name: each.members for each in plan.fit_out}
    return [member for member in bodies[owner] if member.part == part]


# Section, piece, count, length, its two sizes and its species: the list of pieces.
PIECES = [
    ("base", "corner leg", 4, 13.0, (320, 320), "oak"),
    ("base", "mid-face post", 4, 12.4, (240, 240), "Douglas fir"),
    ("base", "girt", 20, 4.96, (260, 240), "oak"),
    ("base", "face brace", 32, 3.6, (220, 180), "Douglas fir"),
    ("base", "guide rail", 8, 12.0, (150, 200), "larch"),
    ("base", "sill (nest) beam", 4, 5.0, (280, 320), "oak"),
    ("base", "head cap", 4, 5.6, (300, 340), "oak"),
    ("belfry", "corner leg", 4, 12.5, (260, 260), "oak"),
    ("belfry", "mid-face post", 4, 12.0, (180, 180), "larch"),
    ("belfry", "girt", 20, 3.98, (220, 200), "oak"),
    ("belfry", "face brace", 32, 3.2, (180, 150), "larch"),
    ("belfry", "guide rail", 8, 6.0, (160, 160), "larch"),
    ("belfry", "nest beam", 4, 3.9, (240, 280), "oak"),
    ("belfry", "head cap", 4, 4.5, (240, 260), "oak"),
    ("bell frame", "bell-frame sill", 4, 3.9, (220, 260), "oak"),
    ("bell frame", "bell-frame long head", 4, 3.6, (180, 220), "oak"),
    ("bell frame", "bell-frame brace", 8, 3.6, (180, 220), "oak"),
    ("bell frame", "bell-frame post", 8, 2.3, (180, 180), "oak"),
    ("spire", "heel leg", 4, 3.2, (200, 200), "Douglas fir"),
    ("spire", "hip rafter", 4, 10.6, (180, 180), "Douglas fir"),
    ("spire", "jack rafter", 4, 10.45, (160, 160), "Douglas fir"),
    ("spire", "king mast", 1, 9.0, (220, 220), "Douglas fir"),
    ("spire", "cross beam", 6, 3.5, (200, 240), "oak"),
    ("spire", "heel brace", 16, 2.4, (140, 120), "Douglas fir"),
]


@BOTH
@pytest.mark.parametrize("row", PIECES, ids=[f"{row[0]}-{row[1]}" for row in PIECES])
def test_the_pieces_are_those_of_the_list(plans, name, row):
    owner, part, count, length, size, species = row
    placed = pieces(plans[name], owner, part)
    assert len(placed) == count
    for member in placed:
        assert dist(member.start, member.end) == pytest.approx(length, abs=2e-4)
        assert sorted((member.breadth, member.depth)) == pytest.approx(
            sorted(side / 1000 for side in size)
        )
        assert member.species == species


@BOTH
def test_the_rings_run_47_m_in_six_levels(plans, name):
    rings = pieces(plans[name], "spire", "ring frame")
    assert sum(dist(ring.start, ring.end) for ring in rings) == pytest.approx(47.3, abs=1e-3)
    assert len({ring.start[2] for ring in rings}) == 6


def together(shapes: Shapes, *names: str) -> MassProperties:
    bodies = {**shapes.sections, **shapes.fit_out}
    return combine([(bodies[name].mass, ORIGIN) for name in names])


BANDS = tuple(f"band {mark}" for mark in ("F", "B1", "B2", "B3", "B4", "B5", "B6"))
# What is weighed, mass [kg] and height of its centre of gravity [m].
WEIGHTS = [
    pytest.param(("base",), 18858, 6.62, id="base"),
    pytest.param(("belfry",), 11790, 6.87, id="belfry"),
    pytest.param(("belfry", "bell frame"), 14471, 6.46, id="belfry with frame"),
    pytest.param(("spire", "boarding", "finial"), 4806, 5.46, id="spire bare"),
    pytest.param(("spire", "boarding", "finial", *BANDS), 6634, 5.78, id="spire clad"),
]


@BOTH
@pytest.mark.parametrize(("names", "mass", "height"), WEIGHTS)
def test_masses_and_centres_agree_within_half_a_per_cent(shapes, name, names, mass, height):
    found = together(shapes[name], *names)
    assert found.mass == pytest.approx(mass, rel=5e-4)
    assert found.centre[2] == pytest.approx(height, rel=5e-3)
    assert np.abs(found.centre[:2]).max() < 1e-3


@BOTH
def test_the_bell_frame_and_the_bells_weigh_what_the_list_says(shapes, name):
    bells = tuple(f"bell {number}" for number in range(1, 6))
    assert together(shapes[name], "bell frame").mass == pytest.approx(2681, rel=5e-4)
    assert together(shapes[name], *bells).mass == pytest.approx(2156, rel=5e-4)


@BOTH
@pytest.mark.parametrize(
    ("band", "mass"),
    list(zip(BANDS, (6, 93, 205, 316, 375, 401, 432), strict=True)),
)
def test_a_band_weighs_25_kg_for_each_square_metre_of_the_nominal_face(
    shapes, name, band, mass
):
    assert shapes[name].fit_out[band].mass.mass == pytest.approx(mass, abs=0.6)


@BOTH
@pytest.mark.parametrize(("owner", "half"), [("base", 2.80), ("belfry", 2.25), ("spire", 1.75)])
def test_nothing_but_feet_and_shoes_stands_out_of_the_plan_of_a_section(
    shapes, name, owner, half
):
    solid = shapes[name].sections[owner].solid
    assert solid is not None
    kept = [k for k, part in enumerate(solid.parts) if part not in MAY_STAND_OUT]
    corners = solid.vertices[solid.faces[np.isin(solid.members, kept)].ravel()]
    assert np.abs(corners[:, :2]).max() == pytest.approx(half, abs=WITHIN)


@BOTH
def test_the_spire_stays_inside_its_pyramid(shapes, name):
    built = shapes[name]
    bodies = [built.sections["spire"], *(built.fit_out[band] for band in BANDS)]
    bodies.append(built.fit_out["boarding"])
    for body in bodies:
        assert body.solid is not None
        corners = body.solid.vertices[np.unique(body.solid.faces)]
        # The eaves beams end within the pyramid but for the middle one's top 5 mm.
        above = corners[corners[:, 2] > 3.206]
        face = 1.75 * (13.5 - above[:, 2]) / 10.3
        assert np.all(np.abs(above[:, :2]).max(axis=1) <= face + WITHIN)


@BOTH
@pytest.mark.parametrize(
    ("outer", "inner", "clear"), [("base", "belfry", 4.66), ("belfry", "spire", 3.66)]
)
def test_shoes_leave_20_mm_to_the_rails(plans, name, outer, inner, clear):
    rails = pieces(plans[name], outer, "guide rail")
    half = min(max(abs(rail.start[0]), abs(rail.start[1])) - rail.depth / 2 for rail in rails)
    assert 2 * half == pytest.approx(clear, abs=WITHIN)
    pads = pieces(plans[name], inner, "shoe")
    reach = max(max(abs(pad.end[0]), abs(pad.end[1])) for pad in pads)
    assert half - reach == pytest.approx(0.020, abs=WITHIN)


@pytest.mark.parametrize(("name", "reach"), [(DRAFT, 2.92), (CORRECTED, 2.86)])
def test_the_north_brace_foot_stands_out(plans, name, reach):
    feet = {foot.mark: foot for foot in pieces(plans[name], "base", "brace foot")}
    assert feet.pop("brace N4 east foot").end[1] == pytest.approx(reach)
    for foot in feet.values():
        assert max(abs(foot.end[0]), abs(foot.end[1])) == pytest.approx(2.84)
        low, high = foot.start[2] - foot.depth / 2, foot.start[2] + foot.depth / 2
        assert (low, high) == pytest.approx((9.2, 9.4))


def test_the_two_plans_differ_in_one_piece_of_the_frame(plans):
    draft, corrected = plans[DRAFT], plans[CORRECTED]
    for before, after in zip(draft.sections, corrected.sections, strict=True):
        changed = [
            piece.mark
            for piece, other in zip(before.members, after.members, strict=True)
            if piece != other
        ]
        assert changed == (["brace N4 east foot"] if before.name == "base" else [])


def breaches(raise_: Raise) -> list[tuple[str, str, str]]:
    return [(str(each.rule), each.subject, each.stage) for each in raise_.breaches]


def test_the_draft_picks_the_belfry_up_unplanned_at_14_66(raises):
    assert breaches(raises[DRAFT]) == [("every pick-up is planned", "belfry", "L3")]
    assert raises[DRAFT].breaches[0].heel == pytest.approx(14.66)


def test_the_corrected_stages_break_no_rule_of_order(raises):
    assert breaches(raises[CORRECTED]) == []


@pytest.mark.parametrize(
    ("name", "clock"),
    [(DRAFT, "2027-05-01T17:14:00-02:00"), (CORRECTED, "2027-05-01T10:13:30-02:00")],
)
def test_the_spire_is_picked_up_at_13_90_in_due_time(raises, name, clock):
    picked = next(each for each in raises[name].passages if "picks up the spire" in each.event)
    assert picked.stage == "L2"
    assert picked.heel("belfry", 0.0) == pytest.approx(13.90)
    assert picked.begins is not None
    late = picked.begins - datetime.fromisoformat(clock)
    assert abs(late.total_seconds()) < 60


def failures(findings: list[Finding]) -> set[tuple[str, str]]:
    return {(each.subject, each.stage) for each in findings if each.verdict is not Verdict.PASS}


def test_the_draft_has_people_under_or_on_what_moves_twice(cases):
    found = list(check_occupancy(cases[DRAFT]))
    assert failures(found) == {("cladding B3", "L2"), ("belfry framed, D16", "S3")}
    roofers = next(each for each in found if each.subject == "cladding B3" and each.value)
    assert "17:14" in roofers.why
    assert roofers.remedy


def test_the_corrected_plan_has_nobody_where_something_moves(cases):
    assert failures(list(check_occupancy(cases[CORRECTED]))) == set()


def test_the_draft_breaks_the_rule_of_bury(cases):
    assert {subject for subject, _ in failures(list(check_bury(cases[DRAFT])))} == {
        "belfry",
        "spire",
    }


def test_the_corrected_bury_is_answered_for_by_name(cases):
    found = list(check_bury(cases[CORRECTED]))
    assert failures(found) == set()
    least = min(
        (each for each in found if each.subject == "spire" and each.stage == "S6"),
        key=lambda each: each.value or 0.0,
    )
    assert least.value == pytest.approx(2.75)
    assert least.overrule is not None
    assert "structural engineer" in least.overrule.by


@BOTH
def test_every_sling_will_bear(cases, name):
    found = list(check_slings(cases[name]))
    assert failures(found) == set()
    carried = {item.carries for item in cases[name].plan.slings}
    assert carried >= {"bell frame", "finial", "bell 1", "spire", "belfry", "base"}


# Load on one tackle and ratio of tilting stiffness to toppling, from the same hand
# arithmetic (ropes plumb, blocks under the corners): stage, load [kN], ratio; then arm of
# the corners, arms of the blocks as rove about the softer axis [m], and height of the centre
# of gravity above the corners over that above the blocks. The ratio goes with the mean of
# the squares of the arms, and against the height.
HANGS = [
    pytest.param("L1", 5.9, 5.7, (1.60, 1.365, 1.815, 1.0), id="L1"),
    pytest.param("L2", 24.4, 2.35, (2.05, 1.82, 2.27, 1.0), id="L2 just after the pick-up"),
    pytest.param("L3", 23.1, 3.14, (2.60, 1.32, 1.77, 6.62 / 6.17), id="L3"),
    # One tackle of each corner hangs before either face.
    pytest.param("L4", 25.9, 2.07, (2.05, 1.72, 2.415, 9.32 / 8.97), id="L4"),
]


@pytest.mark.parametrize(("stage", "load", "ratio", "rove"), HANGS)
def test_the_corrected_lifts_hang_as_reckoned_by_hand(cases, stage, load, ratio, rove):
    hung = [each for each in cases[CORRECTED].hangs if each.stage == stage]
    # Ropes out of plumb are softer (here by up to a tenth) and pull a little more.
    assert max(each.tensions.max() for each in hung) / 1e3 == pytest.approx(load, rel=0.02)
    corner, near, far, lower = rove
    as_rove = ratio * (near**2 + far**2) / 2 / corner**2 * lower
    least = min(each.ratio.min() for each in hung)
    assert 0.88 * as_rove < least < 1.02 * as_rove


def test_the_draft_topples_in_l1_when_a_line_is_lost(cases):
    hung = [each for each in cases[DRAFT].hangs if each.stage == "L1"]
    assert hung
    assert max(each.lost_ratio.max() for each in hung) == 0.0


def test_the_corrected_l1_and_l2_stand_with_a_line_lost(cases):
    hung = [each for each in cases[CORRECTED].hangs if each.stage in ("L1", "L2", "P3")]
    assert min(each.lost_ratio.min() for each in hung) > 1.0
