"""Meant contacts: left out of the gaps only where they are meant, and watched there."""

import pytest

from tests.plans.factory import fixture, hoist, install, stage
from tests.unit.nesting.small import margins_of, mast, piece, reckoned, small_plan

# Two needles under the legs on the north and south side, tops at z.
HEEL_ON_NEEDLE = {
    "kind": "heel on needle",
    "of": "mast",
    "marks": ["leg*"],
    "on": "needles",
    "on_marks": ["N*"],
}


def needles(top, y=1.1, breadth="0.2 m"):
    size = (breadth, "0.2 m")
    return {
        "name": "needles",
        "kind": "needle",
        "members": [
            piece("N1", "needle", (-1.4, y, top - 0.1), (1.4, y, top - 0.1), size),
            piece("N2", "needle", (-1.4, -y, top - 0.1), (1.4, -y, top - 0.1), size),
        ],
    }


def on_needles(top, heel, to, *, extra=(), **changes):
    """The mast assembled at a heel above needles whose tops are at a height, and lifted."""
    steps = [
        *install("gantry", "needles"),
        {"do": "assemble", "section": "mast", "at": f"{heel} m"},
        *hoist("mast", "mast lift", to),
    ]
    return small_plan(
        sections=[mast(extra)],
        fixtures=[fixture("gantry", "gantry", 11.5), needles(top, **changes)],
        stages=[stage("up", steps)],
        contacts=[HEEL_ON_NEEDLE],
    )


def worst(nesting, step=None):
    passages = nesting.workshop.raise_.passages
    gaps = [
        c.gap
        for c in nesting.contacts
        if c.against == "needles" and (step is None or passages[c.passage].step == step)
    ]
    return min(gaps)


def test_a_heel_that_stands_on_its_needle_touches_and_no_more(tmp_path):
    nesting = reckoned(on_needles(3.0, 3.0, 5.0), tmp_path)
    assert worst(nesting) == pytest.approx(0.0, abs=1e-9)
    assert [m for m in nesting.margins if m.against == "needles"] == []


def test_bedding_is_measured_where_it_stands(tmp_path):
    nesting = reckoned(on_needles(3.002, 3.0, 5.0), tmp_path)
    assert worst(nesting, "assemble") == pytest.approx(-0.002, abs=1e-9)
    assert worst(nesting, "float") == pytest.approx(-0.002, abs=1e-9)


def test_a_needle_slid_through_a_standing_leg_is_found_at_rest(tmp_path):
    steps = [
        *install("gantry"),
        {"do": "assemble", "section": "mast"},
        *install("needles"),
    ]
    plan = small_plan(
        sections=[mast(())],
        fixtures=[fixture("gantry", "gantry", 11.5), needles(0.1)],
        stages=[stage("up", steps)],
        contacts=[HEEL_ON_NEEDLE],
    )
    assert worst(reckoned(plan, tmp_path), "install") == pytest.approx(-0.1, abs=1e-9)


def test_legs_that_go_through_the_needle_on_the_way_are_not_excused(tmp_path):
    # Meant or not, a leg cannot rise through a needle at z 7: found both as a strike on
    # the way and as an overlap of 0.2 m, the whole thickness.
    nesting = reckoned(on_needles(7.0, 0.0, 5.0), tmp_path)
    assert worst(nesting, "lift") == pytest.approx(-0.2, abs=1e-9)
    struck = margins_of(nesting, "needles")
    (margin,) = struck
    named = {margin.label.mark, *(mark for mark, _ in margin.also)}
    assert named == {"leg 1", "leg 2", "leg 3", "leg 4"}
    assert all(m.gap <= 0 and "contact" in m.note for m in struck)


def test_a_contact_does_not_excuse_a_near_miss_on_the_way(tmp_path):
    # Needles 5 mm inside of the legs: no overlap, and far less than must be kept.
    plan = on_needles(7.0, 0.0, 5.0, y=0.945, breadth="0.1 m")
    nesting = reckoned(plan, tmp_path)
    assert worst(nesting, "lift") == pytest.approx(0.005, abs=1e-9)
    short = margins_of(nesting, "needles")
    assert min(m.gap for m in short) == pytest.approx(0.005, abs=1e-4)
    assert all(m.spare < 0 for m in short)


def test_what_is_no_contact_keeps_its_gap_beside_one(tmp_path):
    # A girt 10 mm over the needle is not in the contact: it falls short at once.
    girt = piece("girt", "girt", (-1.0, 1.1, 0.06), (1.0, 1.1, 0.06))
    nesting = reckoned(on_needles(3.0, 3.0, 5.0, extra=(girt,)), tmp_path)
    (margin,) = margins_of(nesting, "needles", "float")
    assert margin.label.mark == "girt"
    assert margin.gap == pytest.approx(0.010, abs=1e-4)
    assert margin.face == "below"


def test_a_contact_of_another_stage_excuses_nothing(tmp_path):
    plan = on_needles(3.0, 3.0, 5.0)
    later = plan.contacts[0].model_copy(update={"stages": ("later",)})
    nesting = reckoned(plan.model_copy(update={"contacts": (later,)}), tmp_path)
    assert min(m.gap for m in margins_of(nesting, "needles", "float")) <= 0
    assert nesting.contacts == ()
