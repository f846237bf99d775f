"""Pick-ups: where a rising ledge meets the heel hung above it, exactly.

The figures are geometry by hand: the ledge of the base stands 0.34 m above its heel, so
a belfry hung at heel 15.00 m is met when the base's heel is at 14.66 m; the belfry's
stands 6.80 m above its own, so a spire at 20.70 m is met at 13.90 m.
"""

import pytest

from tests.plans.factory import assemble, fixture, hoist, install, lift, stage, tiny_plan
from towerlift.motion.follow import follow_stages
from towerlift.motion.passages import State
from towerlift.motion.rules import Rule

LIFTS = [
    lift("spire lift", "spire", "gantry", (1, 2, 3, 4)),
    lift("belfry lift", "belfry", "gantry", (5, 6, 7, 8)),
    lift("base lift", "base", "gantry", (5, 6, 7, 8)),
]
FIXTURES = [
    fixture("gantry", "gantry", 40.0),
    fixture("pendants", "pendant", 35.0),
    fixture("low pendants", "pendant", 30.0),
    fixture("deck", "deck", 14.5),
]


def hung(name, by, heel, on):
    """Steps that hang a section on pendants at a heel height, its tackles off."""
    return [
        assemble(name),
        *([{"do": "fit", "item": "bell frame"}] if name == "belfry" else []),
        *hoist(name, by, heel),
        {"do": "secure", "section": name, "on": on},
        {"do": "transfer", "section": name},
    ]


def follow(*steps):
    first = install("gantry", "pendants", "low pendants", "deck")
    plan = tiny_plan(lifts=LIFTS, fixtures=FIXTURES, stages=[stage("L", [*first, *steps])])
    return follow_stages(plan)


def base_under_belfry(heel, to, picks_up=()):
    return follow(
        *hung("belfry", "belfry lift", heel, "low pendants"),
        assemble("base"),
        *hoist("base", "base lift", to, picks_up),
    )


def pick_up_breaches(raise_):
    return [breach for breach in raise_.breaches if breach.rule == Rule.PICK_UP]


def test_a_hidden_pick_up_is_found_at_its_height():
    (breach,) = pick_up_breaches(base_under_belfry(15.0, 14.7))
    assert breach.heel == pytest.approx(14.66, abs=1e-12)
    assert (breach.subject, breach.stage) == ("belfry", "L")
    assert "14.66 m" in breach.why
    assert "40 mm" in breach.why
    hang, stop, plan_it = breach.remedy
    assert "15.09 m or higher" in hang  # 15.04 m and the usual 50 mm of clearance
    assert "14.61 m or lower" in stop
    assert "picks_up" in plan_it


def test_the_passage_is_cut_at_the_pick_up():
    raise_ = base_under_belfry(15.0, 14.7)
    alone, loaded = [each for each in raise_.passages if each.step == "lift"][-2:]
    assert alone.moving == ("base",)
    assert loaded.moving == ("base", "belfry")
    assert alone.standing["base"].heel_to == loaded.standing["base"].heel_from
    assert loaded.standing["base"].heel_from == pytest.approx(14.66, abs=1e-12)
    assert loaded.standing["base"].heel_to == 14.7
    assert loaded.standing["belfry"].carrier == "base"
    assert loaded.standing["belfry"].heel_to == pytest.approx(15.04, abs=1e-12)
    assert (alone.event, loaded.event) == ("", "picks up the belfry at heel 14.66 m")


@pytest.mark.parametrize(
    ("heel", "meets"),
    [(15.03, True), (15.04, True), (15.04 + 1e-6, False), (15.05, False), (15.1, False)],
)
def test_a_pick_up_just_before_at_and_just_beyond_the_end_of_travel(heel, meets):
    raise_ = base_under_belfry(heel, 14.7)
    assert bool(pick_up_breaches(raise_)) is meets
    assert raise_.rests[-1].standing["belfry"].carrier == ("base" if meets else "low pendants")


def test_a_pick_up_at_the_very_end_moves_nothing_more():
    raise_ = base_under_belfry(15.04, 14.7, picks_up=["belfry"])
    assert pick_up_breaches(raise_) == []
    assert all(abs(each.travel) > 1e-6 for each in raise_.moving_passages)
    assert raise_.rests[-1].standing["belfry"].heel_to == 15.04
    last = raise_.passages[-1]
    assert (last.step, last.event) == ("lift", "picks up the belfry at heel 14.70 m")
    assert last.standing["belfry"].carrier == "base"


def test_time_taken_after_a_haul_is_spent_parked_at_its_end():
    steps = hoist("spire", "spire lift", 3.0)
    raise_ = follow(assemble("spire"), *steps[:3], steps[3] | {"takes": "10 min"})
    without = follow(assemble("spire"), *steps)
    assert raise_.passages[-1].duration - without.passages[-1].duration == pytest.approx(600)


def test_a_pick_up_at_the_very_beginning():
    raise_ = follow(
        {"do": "assemble", "section": "belfry", "at": "0.34 m"},
        {"do": "fit", "item": "bell frame"},
        assemble("base"),
        *hoist("base", "base lift", 3.0, picks_up=["belfry"]),
    )
    # Met as soon as the base floats, which is not the step that plans it.
    met, missed = pick_up_breaches(raise_)
    assert met.heel == 0.0
    assert "stands on it already" in missed.why
    assert [each.moving for each in raise_.moving_passages] == [("base", "belfry")] * 2


def test_a_listed_pick_up_that_never_happens():
    (breach,) = pick_up_breaches(base_under_belfry(15.2, 14.7, picks_up=["belfry"]))
    assert "never reached" in breach.why
    assert breach.heel == 14.7


def test_a_listed_pick_up_of_what_is_not_there():
    raise_ = follow(assemble("base"), *hoist("base", "base lift", 3.0, picks_up=["spire"]))
    (breach,) = pick_up_breaches(raise_)
    assert "not in the shaft" in breach.why


def test_pick_ups_follow_one_another_and_carry_on():
    # Base meets the belfry (14.9) at 14.56; the belfry, carried, meets the spire (21.8)
    # when its own heel is at 15.0 and so the base's at 14.66.
    raise_ = follow(
        *hung("spire", "spire lift", 21.8, "pendants"),
        *hung("belfry", "belfry lift", 14.9, "low pendants"),
        assemble("base"),
        *hoist("base", "base lift", 14.9, picks_up=["belfry", "spire"]),
    )
    assert pick_up_breaches(raise_) == []
    parts = [each for each in raise_.moving_passages if each.subject == "base"][1:]
    assert [each.moving for each in parts] == [
        ("base",),
        ("base", "belfry"),
        ("base", "belfry", "spire"),
    ]
    heels = [each.standing["base"].heel_from for each in parts]
    assert heels[1:] == [pytest.approx(14.56, abs=1e-12), pytest.approx(14.66, abs=1e-12)]
    assert parts[-1].event == "the belfry picks up the spire at heel 14.66 m"


def test_a_picked_up_section_is_free_of_its_pendants():
    raise_ = follow(
        *hung("belfry", "belfry lift", 15.0, "low pendants"),
        assemble("base"),
        *hoist("base", "base lift", 14.7, picks_up=["belfry"]),
        {"do": "strike", "fixture": "low pendants"},
    )
    assert [breach.rule for breach in raise_.breaches if breach.rule == Rule.HELD] == []
    assert raise_.rests[-1].standing["belfry"].state is State.PARKED


def test_picking_up_what_is_still_locked():
    raise_ = follow(
        assemble("belfry"),
        {"do": "fit", "item": "bell frame"},
        *hoist("belfry", "belfry lift", 15.0),
        {"do": "lock", "section": "belfry", "on": "low pendants"},
        {"do": "transfer", "section": "belfry"},
        assemble("base"),
        *hoist("base", "base lift", 14.7, picks_up=["belfry"]),
    )
    (breach,) = [each for each in raise_.breaches if each.rule == Rule.HELD]
    assert (breach.subject, breach.heel) == ("belfry", pytest.approx(14.66))


def test_picking_up_what_still_hangs_in_its_own_tackles():
    raise_ = follow(
        assemble("spire"),
        *hoist("spire", "spire lift", 20.7),
        {"do": "secure", "section": "spire", "on": "pendants"},
        assemble("belfry"),
        {"do": "fit", "item": "bell frame"},
        *hoist("belfry", "belfry lift", 15.0, picks_up=["spire"]),
    )
    (breach,) = [each for each in raise_.breaches if each.rule == Rule.TACKLES]
    assert breach.subject == "spire"


def test_a_lowering_picks_nothing_up():
    raise_ = follow(
        *hung("belfry", "belfry lift", 15.0, "low pendants"),
        assemble("base"),
        *hoist("base", "base lift", 14.66 - 1e-3),
        {"do": "lower", "section": "base", "to": "10 m"},
    )
    assert raise_.breaches == ()
    assert raise_.rests[-1].standing["belfry"].heel_to == 15.0


def test_a_belfry_hung_clear_and_lowered_on_its_sill():
    raise_ = follow(
        *hung("belfry", "belfry lift", 15.3, "low pendants"),
        assemble("base"),
        *hoist("base", "base lift", 14.7),
        {"do": "lock", "section": "base", "on": "pendants"},
        {"do": "transfer", "section": "base"},
        {"do": "sling", "section": "belfry", "lift": "belfry lift"},
        {"do": "clear the column"},
        {"do": "float", "section": "belfry"},
        {"do": "lower", "section": "belfry", "to": "15.04 m"},
        {"do": "lock", "section": "belfry", "on": "base"},
        {"do": "transfer", "section": "belfry"},
    )
    assert raise_.breaches == ()
    landed = raise_.rests[-1].standing["belfry"]
    assert (landed.carrier, landed.heel_to) == ("base", 15.04)


def test_the_time_of_a_pick_up():
    # Our own arithmetic: 13.9 m from the start take 73.9 min with all ropes of 32 mm.
    raise_ = follow(
        *hung("spire", "spire lift", 20.7, "pendants"),
        assemble("belfry"),
        {"do": "fit", "item": "bell frame"},
        *hoist("belfry", "belfry lift", 15.0, picks_up=["spire"]),
    )
    belfry = [each for each in raise_.moving_passages if each.subject == "belfry"]
    floated, alone, loaded = belfry
    assert loaded.standing["belfry"].heel_from == pytest.approx(13.9, abs=1e-12)
    assert (floated.duration + alone.duration) / 60 == pytest.approx(73.9, abs=0.05)
