"""A mast past a ledge: every figure worked out by hand."""

import numpy as np
import pytest

from tests.plans.factory import fixture, hoist, install, stage
from tests.unit.nesting.small import (
    FOOT,
    LEDGE,
    hanging,
    margins_of,
    mast,
    piece,
    reckoned,
    small_plan,
    survey,
    workshop,
)
from towerlift.nesting.budget import FreeHangCurve

TENTH_MM = 1e-4


@pytest.fixture(scope="module")
def past_the_ledge(tmp_path_factory):
    return reckoned(small_plan(), tmp_path_factory.mktemp("small"))


def the_foot(nesting):
    (margin,) = margins_of(nesting, "shaft")
    return margin


def test_the_foot_falls_short_of_the_ledge(past_the_ledge):
    margin = the_foot(past_the_ledge)
    assert margin.label.mark == "foot"
    assert margin.face == "north"
    # Ledge at 1.360, foot to 1.320.
    assert margin.gap == pytest.approx(0.040, abs=TENTH_MM)
    assert margin.gap <= 0.040
    assert 1.9 < margin.heel < 3.1
    assert margin.across[1] == pytest.approx(1.36, abs=1e-9)


def test_its_budget_is_that_of_the_slab_it_reaches_into(past_the_ledge):
    # The foot lies across s = 2; the slab above reaches s = 3, 2.5 m over the lift points:
    # 20 + 3 + 10 + 2.5 x 2 + 5 + 2.5 x 1.
    budget = the_foot(past_the_ledge).budget
    assert budget.total == pytest.approx(0.0455, abs=1e-12)
    assert budget.tilt == pytest.approx(0.005)
    assert budget.sway == pytest.approx(0.0075)


def test_heels_between_which_it_falls_short(past_the_ledge):
    # Within 45.5 mm of the ledge's edge, 40 mm level and 21.7 mm upright: heel 1.929 to
    # 3.072, looked up every 10 mm.
    low, high = the_foot(past_the_ledge).heels
    assert low == pytest.approx(4.001 - 2.05 - np.sqrt(0.0455**2 - 0.04**2), abs=0.011)
    assert high == pytest.approx(5.0 - 1.95 + np.sqrt(0.0455**2 - 0.04**2), abs=0.011)
    assert low <= 1.9293
    assert high >= 3.0717


def test_what_paring_and_moving_the_plumb_line_would_buy(past_the_ledge):
    # 5.5 mm short: 10 mm is the next cut. Then 50 mm, either way.
    cure = the_foot(past_the_ledge).cure
    assert cure.pare == pytest.approx(0.010)
    assert cure.gap_with_pared == pytest.approx(0.050, abs=TENTH_MM)
    assert cure.next_label == ""
    assert cure.shift == pytest.approx((0.0, -0.010))
    assert cure.gap_when_shifted == pytest.approx(0.050, abs=TENTH_MM)


def test_a_shorter_tilt_lets_it_pass(tmp_path):
    # 20 + 3 + 10 + 2.5 x 1 + 2 = 37.5 < 40.
    nesting = reckoned(small_plan(), tmp_path, tilt=0.001, sway=0.002, lean=0.0)
    margin = the_foot(nesting)
    assert margin.budget.total == pytest.approx(0.0375, abs=1e-12)
    assert margin.spare == pytest.approx(0.0025, abs=TENTH_MM)
    assert margin.cure is None


@pytest.mark.parametrize(("running_mm", "short"), [(14.3, False), (14.6, True)])
def test_just_inside_and_just_outside(tmp_path, running_mm, short):
    # 40 - 25.5 = 14.5 mm is what may be asked as running clearance; the engine proves
    # the gap to a tenth of a millimetre.
    margin = the_foot(reckoned(small_plan(), tmp_path, running=running_mm / 1000.0))
    assert (margin.spare < 0) is short


def test_every_member_that_falls_short_is_named(tmp_path):
    other = piece("foot 2", "brace foot", (0.5, 1.2, 3.0), (0.5, 1.33, 3.0))
    plan = small_plan(sections=[mast((FOOT, other))])
    (margin,) = margins_of(reckoned(plan, tmp_path), "shaft")
    assert margin.label.mark == "foot 2"  # the worst; the other is named with it
    assert margin.gap == pytest.approx(0.030, abs=TENTH_MM)
    ((also, spare),) = margin.also
    assert also == "foot"
    # 10 mm more gap, 3 m above the heel instead of 2 m: its own height has its own budget.
    assert margin.spare < spare < 0
    # With foot 2 pared by 20 mm to 50 mm, the other foot is the nearest piece.
    assert margin.cure.next_label == "foot"
    assert margin.cure.gap_with_pared == pytest.approx(0.040, abs=TENTH_MM)


def test_a_foot_into_the_ledge_strikes(tmp_path):
    plan = small_plan(
        sections=[mast((piece("foot", "brace foot", (0, 1.2, 2.0), (0, 1.4, 2.0)),))]
    )
    margin = the_foot(reckoned(plan, tmp_path))
    assert margin.gap <= 0
    assert margin.label.mark == "foot"


def test_lowering_past_the_ledge_is_looked_at_too(tmp_path):
    steps = [
        *install("gantry"),
        {"do": "assemble", "section": "mast", "at": "5 m"},
        *hoist("mast", "mast lift", 5.5)[:-1],
        {"do": "lower", "section": "mast", "to": "0 m"},
    ]
    nesting = reckoned(small_plan(stages=[stage("down", steps)]), tmp_path)
    (margin,) = margins_of(nesting, "shaft", "lower")
    assert margin.label.mark == "foot"
    assert margin.gap == pytest.approx(0.040, abs=TENTH_MM)
    curve = next(c for c in nesting.curves if c.passage == margin.passage)
    assert (np.diff(curve.heels) > 0).all()


def test_a_float_has_its_own_gaps(past_the_ledge):
    (margin,) = margins_of(past_the_ledge, "shaft", "float")
    # At heel 0 to 0.05 the foot is 180 mm off the wall, and the legs 160 mm off the ledge.
    assert margin.gap == pytest.approx(0.160, abs=TENTH_MM)
    assert margin.label.part == "corner leg"
    assert margin.heel <= 0.05


def test_a_fixture_that_stands_in_the_way_is_struck(tmp_path):
    steps = [
        *install("gantry", "beam"),
        {"do": "assemble", "section": "mast"},
        *hoist("mast", "mast lift", 5.0),
    ]
    beam = piece("beam 1", "beam", (-1.4, 1.1, 8.0), (1.4, 1.1, 8.0))
    plan = small_plan(
        fixtures=[
            fixture("gantry", "gantry", 11.5),
            {"name": "beam", "kind": "other", "members": [beam]},
        ],
        stages=[stage("up", steps)],
    )
    margins = margins_of(reckoned(plan, tmp_path), "beam")
    named = {mark for m in margins for mark in (m.label.mark, *(also for also, _ in m.also))}
    assert named >= {"leg 3", "leg 4"}
    assert all(m.gap <= 0 for m in margins)


def test_a_section_behind_the_wall_does_not_pass(tmp_path):
    # Four bare legs 500 mm outside every wall: near to nothing, and on the wrong side.
    plan = small_plan(
        shaft={
            "survey": survey(half=0.7, north=((0.0, 0.7), (12.0, 0.7))),
            "uncertainty": "8 mm",
            "wall_head": "12 m",
        },
        sections=[mast(())],
    )
    nesting = reckoned(plan, tmp_path)
    margins = margins_of(nesting, "shaft")
    assert {m.label.mark for m in margins} == {"leg 1", "leg 2", "leg 3", "leg 4"}
    assert all(m.spare < 0 for m in margins)
    assert min(m.gap for m in margins) == pytest.approx(-0.5)  # 1.2 - 0.7
    at_rest = [r.gap for r in nesting.rests if r.against == "shaft" and r.gap is not None]
    assert min(at_rest) == pytest.approx(-0.5)


@pytest.mark.parametrize(
    ("north", "head", "missing"),
    [
        (LEDGE, 12.0, ""),
        ([(z, y) for z, y in LEDGE if z > 0], 12.0, "to 4.00 m"),
        ([*LEDGE[:-1], (9.0, 1.5)], 12.0, "z 9.00 to 10.00"),
        ([*LEDGE[:-1], (9.0, 1.5)], 9.0, ""),  # the wall ends where the survey does
    ],
    ids=["all", "foot missing", "head missing", "above the wall head"],
)
def test_heights_that_were_not_surveyed_are_not_passed(tmp_path, north, head, missing):
    plan = small_plan(
        shaft={"survey": survey(north), "uncertainty": "8 mm", "wall_head": f"{head} m"},
        sections=[mast(())],
    )
    nesting = reckoned(plan, tmp_path)
    unknown = [m for m in margins_of(nesting, "shaft") if m.spare is None]
    assert bool(unknown) is bool(missing)
    assert all(missing in m.why for m in unknown)
    at_rest = [r for r in nesting.rests if r.against == "shaft" and r.gap is None]
    assert bool(at_rest) is (missing == "to 4.00 m")


def test_a_section_that_topples_has_no_budget(tmp_path):
    shop = workshop(small_plan(), tmp_path)
    free = {
        index: FreeHangCurve(
            heels=c.heels,
            tilt=c.tilt,
            sway=c.sway,
            lean=c.lean,
            pivot=0.5,
            unknown="it topples",
        )
        for index, c in hanging(shop).items()
    }
    for margin in reckoned(small_plan(), tmp_path, free=free).margins:
        assert margin.spare is None
        assert margin.why == "it topples"


def test_without_loads_no_margin_is_known(tmp_path):
    for margin in reckoned(small_plan(), tmp_path, free={}).margins:
        assert margin.spare is None
        assert "could not be found" in margin.why


def test_a_sway_that_is_no_number_is_refused(tmp_path):
    with pytest.raises(ValueError, match="sway"):
        reckoned(small_plan(), tmp_path, sway=float("nan"))
