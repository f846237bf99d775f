"""Following the stages: what is recorded, and each rule that can be broken."""

import pickle
from datetime import timedelta

import pytest

from tests.plans import factory
from tests.plans.factory import (
    assemble,
    at,
    fixture,
    hoist,
    install,
    land,
    lift,
    orderly_stages,
    section,
    stage,
    strike,
    tiny_plan,
)
from towerlift.errors import RaiseError
from towerlift.motion.follow import follow_stages
from towerlift.motion.passages import State
from towerlift.motion.rules import Rule


def follow(*steps, **changes):
    """The raise of a plan with one stage of these steps."""
    return follow_stages(tiny_plan(stages=[stage("only", steps)], **changes))


def rules(raise_):
    return [breach.rule for breach in raise_.breaches]


def only_breach(raise_):
    (breach,) = raise_.breaches
    return breach


UP = [*install("gantry"), assemble("spire")]
BELFRY_UNDER_SPIRE = [step for each in orderly_stages()[:3] for step in each["steps"]]


def test_an_orderly_plan_breaks_no_rule():
    assert follow_stages(tiny_plan()).breaches == ()


def test_states_and_carriers_of_the_spire_through_an_orderly_raise():
    raise_ = follow_stages(tiny_plan())
    seen = [
        (str(passage.standing["spire"].state), passage.standing["spire"].carrier)
        for passage in raise_.passages
        if "spire" in passage.standing
    ]
    assert list(dict.fromkeys(seen)) == [
        ("assembling", "ground"),
        ("slung", "ground"),
        ("floated", "spire lift"),
        ("moving", "spire lift"),
        ("parked", "spire lift"),
        ("locked", "high needles"),
        ("transferred", "high needles"),
        ("slung", "high needles"),
        ("secured", "pendants"),
        ("moving", "belfry"),
        ("parked", "belfry"),
        ("locked", "belfry"),
    ]
    assert raise_.rests[-1].standing["spire"].state is State.TRANSFERRED


def test_the_column_holds_what_was_put_in_it():
    raise_ = follow_stages(tiny_plan())
    last = raise_.rests[-1]
    assert last.fixtures == {"gantry", "pendants", "low needles"}
    assert last.fitted == {"bell frame"}
    assert [rest.stage for rest in raise_.rests] == [each["name"] for each in orderly_stages()]


def test_a_fixture_is_there_only_after_the_step_that_puts_it_in():
    raise_ = follow(*install("gantry"), {"do": "clear the column"}, *strike("gantry"))
    assert [passage.fixtures for passage in raise_.passages] == [
        frozenset(),
        {"gantry"},
        {"gantry"},
    ]


def test_passages_cannot_be_changed():
    passage = follow_stages(tiny_plan()).passages[-1]
    with pytest.raises(TypeError):
        passage.standing["spire"] = None


def test_a_raise_can_be_sent_to_another_process():
    raise_ = follow_stages(tiny_plan())
    assert pickle.loads(pickle.dumps(raise_)) == raise_  # noqa: S301  (our own bytes)


def test_times_run_on_within_a_dated_stage():
    steps = [
        {"do": "install", "fixture": "gantry", "takes": "30 min"},
        {"do": "assemble", "section": "spire", "takes": "4 h"},
        {"do": "clear the column"},
    ]
    raise_ = follow_stages(tiny_plan(stages=[stage("dated", steps, starts=at("08:00"))]))
    begins = [passage.begins for passage in raise_.passages if passage.begins]
    assert [each - begins[0] for each in begins] == [
        timedelta(0),
        timedelta(minutes=30),
        timedelta(hours=4.5),
    ]
    assert raise_.rests[0].begins == begins[2]


def test_an_undated_stage_has_no_times():
    assert {passage.begins for passage in follow_stages(tiny_plan()).passages} == {None}


# ---------------------------------------------------------------- state and presence


@pytest.mark.parametrize(
    ("step", "rule"),
    [
        ({"do": "float", "section": "spire"}, Rule.STATE),
        ({"do": "lift", "section": "spire", "to": "1 m"}, Rule.STATE),
        ({"do": "lower", "section": "spire", "to": "-1 m"}, Rule.STATE),
        ({"do": "secure", "section": "spire", "on": "pendants"}, Rule.STATE),
        ({"do": "lock", "section": "spire", "on": "high needles"}, Rule.STATE),
        ({"do": "transfer", "section": "spire"}, Rule.STATE),
        ({"do": "assemble", "section": "spire"}, Rule.STATE),
    ],
)
def test_a_step_that_its_state_forbids(step, rule):
    raise_ = follow(*UP, *install("high needles", "pendants"), step)
    assert rule in rules(raise_)
    (breach,) = [breach for breach in raise_.breaches if breach.rule == rule]
    assert (breach.subject, breach.stage) == ("spire", "only")
    assert breach.remedy


@pytest.mark.parametrize(
    "step",
    [
        {"do": "sling", "section": "spire", "lift": "spire lift"},
        {"do": "float", "section": "spire"},
        {"do": "lift", "section": "spire", "to": "15 m"},
        {"do": "lower", "section": "spire", "to": "1 m"},
        {"do": "secure", "section": "spire", "on": "pendants"},
        {"do": "lock", "section": "spire", "on": "high needles"},
        {"do": "transfer", "section": "spire"},
    ],
)
def test_a_step_about_a_section_that_is_not_there_is_left_out(step):
    raise_ = follow(*install("gantry", "high needles", "pendants"), step)
    assert only_breach(raise_).rule == Rule.PRESENCE
    assert len(raise_.passages) == 3


@pytest.mark.parametrize(
    "step",
    [
        {"do": "assemble", "section": "lantern"},
        {"do": "fit", "item": "clock"},
        {"do": "install", "fixture": "crane"},
        {"do": "strike", "fixture": "crane"},
    ],
)
def test_a_name_that_the_plan_does_not_hold(step):
    assert only_breach(follow(*install("gantry"), step)).rule == Rule.PRESENCE


@pytest.mark.parametrize(
    "steps", [install("deck", "deck"), strike("deck"), install("gantry") + strike("deck")]
)
def test_a_fixture_put_in_twice_or_taken_out_of_nowhere(steps):
    assert only_breach(follow(*steps)).rule == Rule.PRESENCE


def test_every_breach_is_told_and_the_rest_is_still_followed():
    raise_ = follow(
        {"do": "lift", "section": "base", "to": "3 m"},
        *UP,
        {"do": "fit", "item": "bell frame"},
        *hoist("spire", "spire lift", 15.3),
    )
    assert rules(raise_) == [Rule.PRESENCE, Rule.FITTING]
    assert raise_.rests[-1].standing["spire"].heel_to == 15.3


@pytest.mark.parametrize("steps", [[], [{"do": "transfer", "section": "base"}]])
def test_a_raise_without_a_single_passage_is_an_error(steps):
    with pytest.raises(RaiseError, match="no step"):
        follow(*steps)


# ---------------------------------------------------------------- stages


def test_a_stage_before_the_one_it_depends_on():
    stages = [stage("b", install("deck"), after=["a"]), stage("a", install("gantry"))]
    breach = only_breach(follow_stages(tiny_plan(stages=stages)))
    assert (breach.rule, breach.subject) == (Rule.PRECEDENCE, "b")


def test_a_stage_after_the_one_it_depends_on():
    stages = [stage("a", install("gantry")), stage("b", install("deck"), after=["a"])]
    assert follow_stages(tiny_plan(stages=stages)).breaches == ()


@pytest.mark.parametrize(
    ("second", "broken"), [("08:59", True), ("09:00", False), ("09:01", False)]
)
def test_a_stage_that_starts_before_the_last_one_ends(second, broken):
    hour = {"do": "install", "fixture": "gantry", "takes": "1 h"}
    stages = [
        stage("a", [hour], starts=at("08:00")),
        stage("b", install("deck"), starts=at(second)),
    ]
    found = rules(follow_stages(tiny_plan(stages=stages)))
    assert found == ([Rule.TIMES] if broken else [])


def test_a_stage_whose_head_is_nobody():
    stages = [stage("a", install("gantry"), in_charge="Nobody Known")]
    assert only_breach(follow_stages(tiny_plan(stages=stages))).rule == Rule.IN_CHARGE


# ---------------------------------------------------------------- holding


def test_striking_what_still_carries():
    raise_ = follow(
        *UP,
        *hoist("spire", "spire lift", 15.3),
        *install("high needles"),
        *land("spire", "high needles"),
        *strike("high needles"),
    )
    breach = only_breach(raise_)
    assert (breach.rule, breach.subject, breach.heel) == (Rule.HELD, "high needles", 15.3)
    assert raise_.rests[-1].standing["spire"].carrier == "nothing"


def test_striking_what_tackles_hang_from_while_they_are_fast():
    raise_ = follow(*UP, {"do": "sling", "section": "spire", "lift": "spire lift"},
                    *strike("gantry"))  # fmt: skip
    breach = only_breach(raise_)
    assert (breach.rule, breach.subject) == (Rule.HELD, "gantry")


def test_striking_the_gantry_when_the_tackles_are_off():
    raise_ = follow(
        *UP,
        *hoist("spire", "spire lift", 15.3),
        *install("high needles"),
        *land("spire", "high needles"),
        *strike("gantry"),
    )
    assert raise_.breaches == ()


@pytest.mark.parametrize(
    "held",
    [
        [{"do": "secure", "section": "spire", "on": "pendants"}],
        [{"do": "lock", "section": "spire", "on": "pendants"}],
        land("spire", "pendants"),
    ],
)
def test_moving_what_is_still_held(held):
    raise_ = follow(
        *UP,
        *install("pendants"),
        *hoist("spire", "spire lift", 15.3),
        *held,
        {"do": "clear the column"},
        {"do": "lift", "section": "spire", "to": "16 m"},
    )
    assert Rule.HELD in rules(raise_)
    assert raise_.rests[-1].standing["spire"].heel_to == 16.0


def test_taking_the_tackles_off_what_nothing_else_carries():
    raise_ = follow(
        *UP, *hoist("spire", "spire lift", 15.3), {"do": "transfer", "section": "spire"}
    )
    breach = only_breach(raise_)
    assert (breach.rule, breach.heel) == (Rule.HELD, 15.3)
    assert raise_.rests[-1].standing["spire"].carrier == "nothing"


@pytest.mark.parametrize(
    ("do", "on", "rule"),
    [
        ("lock", "high needles", Rule.PRESENCE),
        ("secure", "pendants", Rule.PRESENCE),
        ("lock", "belfry", Rule.PRESENCE),
        ("lock", "spire", Rule.HELD),
        ("secure", "base", Rule.PRESENCE),
    ],
)
def test_handing_a_section_to_what_is_not_there(do, on, rule):
    raise_ = follow(
        *UP, *hoist("spire", "spire lift", 15.3), {"do": do, "section": "spire", "on": on}
    )
    assert only_breach(raise_).rule == rule
    assert raise_.rests[-1].standing["spire"].carrier == "spire lift"


def test_locking_on_a_section_that_hangs_itself():
    raise_ = follow(
        *BELFRY_UNDER_SPIRE,
        {"do": "sling", "section": "belfry", "lift": "belfry lift"},
        {"do": "lock", "section": "spire", "on": "belfry"},
    )
    assert only_breach(raise_).rule == Rule.HELD


def test_securing_on_a_section_which_is_no_pendant():
    raise_ = follow(
        *BELFRY_UNDER_SPIRE,
        *hoist("spire", "spire lift", 16.0),
        {"do": "secure", "section": "spire", "on": "belfry"},
    )
    assert only_breach(raise_).rule == Rule.HELD
    assert raise_.rests[-1].standing["spire"].carrier == "belfry"


def test_two_sections_cannot_stand_on_each_other():
    raise_ = follow(
        *UP,
        assemble("belfry"),
        {"do": "lock", "section": "spire", "on": "belfry"},
        {"do": "lock", "section": "belfry", "on": "spire"},
    )
    assert Rule.HELD in rules(raise_)
    assert raise_.rests[-1].standing["belfry"].carrier == "ground"


def test_a_section_locked_on_one_that_is_only_secured_is_only_secured():
    raise_ = follow(
        *BELFRY_UNDER_SPIRE,
        *hoist("belfry", "belfry lift", 10.0, picks_up=["spire"]),
        {"do": "secure", "section": "belfry", "on": "pendants"},
        {"do": "lock", "section": "spire", "on": "belfry"},
    )
    assert raise_.breaches == ()
    assert raise_.rests[-1].standing["spire"].state is State.SECURED


# ---------------------------------------------------------------- tackles


def test_a_lift_hung_from_what_is_not_there():
    raise_ = follow(
        assemble("spire"), {"do": "sling", "section": "spire", "lift": "spire lift"}
    )
    assert only_breach(raise_).rule == Rule.TACKLES


@pytest.mark.parametrize(
    ("before", "broken"),
    [
        ([], True),
        ([assemble("belfry")], False),
        ([assemble("belfry"), {"do": "fit", "item": "bell frame"},
          {"do": "sling", "section": "belfry", "lift": "belfry lift"}], True),
    ],
)  # fmt: skip
def test_a_lift_hung_from_a_section(before, broken):
    lifts = [
        lift("spire lift", "spire", "belfry", (1, 2, 3, 4)),
        lift("belfry lift", "belfry", "gantry", (5, 6, 7, 8)),
    ]
    raise_ = follow(
        *UP, *before, {"do": "sling", "section": "spire", "lift": "spire lift"}, lifts=lifts
    )
    assert (Rule.TACKLES in rules(raise_)) is broken


def test_a_lift_that_is_not_in_the_plan():
    raise_ = follow(*UP, {"do": "sling", "section": "spire", "lift": "crane"})
    assert only_breach(raise_).rule == Rule.PRESENCE


def test_a_lift_that_is_drawn_for_another_section():
    raise_ = follow(*UP, {"do": "sling", "section": "spire", "lift": "base lift"})
    assert only_breach(raise_).rule == Rule.TACKLES


@pytest.mark.parametrize(("off", "broken"), [(True, False), (False, True)])
def test_two_lifts_on_the_same_capstans(off, broken):
    taken_off = [{"do": "transfer", "section": "belfry"}] if off else []
    raise_ = follow(
        *install("gantry", "low needles", "low deck"),
        assemble("belfry"),
        {"do": "fit", "item": "bell frame"},
        *hoist("belfry", "belfry lift", 10.0),
        {"do": "lock", "section": "belfry", "on": "low needles"},
        *taken_off,
        assemble("base"),
        {"do": "sling", "section": "base", "lift": "base lift"},
        fixtures=[
            fixture("gantry", "gantry", 30.0),
            fixture("low needles", "needle", 9.8),
            fixture("low deck", "deck", 9.0),
        ],
    )
    assert rules(raise_) == ([Rule.TACKLES] if broken else [])


def test_a_lift_may_be_made_fast_again_before_it_is_taken_off():
    raise_ = follow(
        *UP,
        *hoist("spire", "spire lift", 15.3),
        *install("high needles"),
        {"do": "lock", "section": "spire", "on": "high needles"},
        *hoist("spire", "spire lift", 17.1),
    )
    assert raise_.breaches == ()


def test_moving_with_no_tackles_fast():
    raise_ = follow(*UP, {"do": "clear the column"}, {"do": "float", "section": "spire"})
    assert set(rules(raise_)) == {Rule.STATE, Rule.TACKLES}


def test_moving_with_no_lift_in_the_plan_at_all():
    raise_ = follow(
        *UP,
        {"do": "clear the column"},
        {"do": "lift", "section": "spire", "to": "3 m"},
        lifts=[],
    )
    assert set(rules(raise_)) == {Rule.STATE, Rule.TACKLES}
    last = raise_.passages[-1]
    assert (last.lift, last.duration) == (None, 0.0)
    assert raise_.rests[-1].standing["spire"].carrier == "nothing"


def test_a_lift_whose_pace_cannot_be_known():
    lifts = [lift("spire lift", "spire", "gantry", (1, 2, 3, 4), pattern="six parts")]
    raise_ = follow(*UP, *hoist("spire", "spire lift", 3.0), lifts=lifts)
    assert "six parts" in only_breach(raise_).why


def test_a_lift_that_hangs_from_what_it_moves():
    lifts = [lift("belfry lift", "belfry", "spire", (5, 6, 7, 8))]
    raise_ = follow(
        assemble("belfry"),
        {"do": "fit", "item": "bell frame"},
        *install("gantry"),
        {"do": "assemble", "section": "spire", "at": "6.8 m"},
        *hoist("belfry", "belfry lift", 3.0, picks_up=["spire"]),
        lifts=lifts,
    )
    assert Rule.TACKLES in rules(raise_)


def test_moving_a_section_while_another_hangs_from_it():
    lifts = [
        lift("spire lift", "spire", "gantry", (1, 2, 3, 4)),
        lift("upper lift", "spire", "belfry", (1, 2, 3, 4)),
        lift("belfry lift", "belfry", "gantry", (5, 6, 7, 8)),
    ]
    raise_ = follow(
        *BELFRY_UNDER_SPIRE,
        {"do": "sling", "section": "spire", "lift": "upper lift"},
        *hoist("belfry", "belfry lift", 3.0),
        lifts=lifts,
    )
    breach = only_breach(raise_)
    assert (breach.rule, breach.subject) == (Rule.HELD, "belfry")


# ---------------------------------------------------------------- people and fit-out


def test_a_weight_taken_before_the_column_is_cleared():
    steps = [step for step in hoist("spire", "spire lift", 15.3) if step["do"][:5] != "clear"]
    breach = only_breach(follow(*UP, *steps))
    assert (breach.rule, breach.subject) == (Rule.CLEARED, "spire")


def test_clearing_does_not_outlast_work_in_the_column():
    up = hoist("spire", "spire lift", 15.3)
    raise_ = follow(*UP, up[0], up[1], *install("deck"), up[2], up[3])
    assert only_breach(raise_).rule == Rule.CLEARED


def test_clearing_does_not_outlast_the_stage():
    up = hoist("spire", "spire lift", 15.3)
    stages = [stage("a", [*UP, *up[:2]]), stage("b", up[2:])]
    breach = only_breach(follow_stages(tiny_plan(stages=stages)))
    assert (breach.rule, breach.stage) == (Rule.CLEARED, "b")


def test_assembling_round_a_section_that_stands_on_trestles():
    raise_ = follow({"do": "assemble", "section": "spire", "at": "6.8 m"}, assemble("belfry"))
    assert raise_.breaches == ()


@pytest.mark.parametrize(
    ("over", "deck", "broken"),
    [
        (land("spire", "high needles"), True, False),
        (land("spire", "high needles"), False, True),
        ([{"do": "secure", "section": "spire", "on": "pendants"}], True, False),
        ([{"do": "secure", "section": "spire", "on": "pendants"}], False, True),
        ([], True, True),
    ],
)
def test_assembling_under_another_section(over, deck, broken):
    decks = install("deck") if deck else []
    raise_ = follow(
        *UP,
        *hoist("spire", "spire lift", 15.3),
        *install("high needles", "pendants"),
        *decks,
        *over,
        assemble("belfry"),
    )
    assert rules(raise_) == ([Rule.UNDER] if broken else [])


@pytest.mark.parametrize(
    ("deck_height", "broken"), [(0.0, True), (7.0, False), (15.3, False), (15.4, True)]
)
def test_a_deck_shelters_only_what_lies_under_it(deck_height, broken):
    fixtures = [
        fixture("gantry", "gantry", 30.0),
        fixture("high needles", "needle", 15.0),
        fixture("deck", "deck", deck_height),
    ]
    raise_ = follow(
        *UP,
        *hoist("spire", "spire lift", 15.3),
        *install("high needles", "deck"),
        *land("spire", "high needles"),
        assemble("belfry"),
        fixtures=fixtures,
    )
    assert rules(raise_) == ([Rule.UNDER] if broken else [])


@pytest.mark.parametrize(("n_steps", "broken"), [(0, False), (1, True), (3, True), (4, True)])
def test_fitting_while_the_section_hangs(n_steps, broken):
    before = hoist("spire", "spire lift", 15.3)[:n_steps]
    raise_ = follow(*UP, *before, {"do": "fit", "item": "cladding"})
    assert rules(raise_) == ([Rule.FITTING] if broken else [])


@pytest.mark.parametrize(
    "held",
    [
        [{"do": "secure", "section": "spire", "on": "pendants"}],
        [{"do": "lock", "section": "spire", "on": "pendants"}],
        land("spire", "pendants"),
    ],
)
def test_fitting_while_the_section_stands_fast(held):
    raise_ = follow(
        *UP,
        *hoist("spire", "spire lift", 15.3),
        *install("pendants"),
        *held,
        {"do": "fit", "item": "cladding"},
    )
    assert raise_.breaches == ()
    assert raise_.rests[-1].fitted == {"cladding"}


def test_fitting_to_a_section_that_is_not_there():
    raise_ = follow(*install("gantry"), {"do": "fit", "item": "cladding"})
    assert only_breach(raise_).rule == Rule.FITTING


def test_fitting_twice():
    raise_ = follow(*UP, *[{"do": "fit", "item": "cladding"}] * 2)
    assert only_breach(raise_).rule == Rule.FITTING


def test_a_bell_frame_after_its_section_is_slung():
    raise_ = follow(
        *install("gantry"),
        assemble("belfry"),
        {"do": "sling", "section": "belfry", "lift": "belfry lift"},
    )
    breach = only_breach(raise_)
    assert (breach.rule, breach.subject) == (Rule.BELL_FRAME, "bell frame")


# ---------------------------------------------------------------- travel, nests, needles


@pytest.mark.parametrize(
    ("step", "broken"),
    [
        ({"do": "lift", "to": "0.04 m"}, True),
        ({"do": "lift", "to": "0.05 m"}, True),
        ({"do": "lift", "to": "0.06 m"}, False),
        ({"do": "lower", "to": "0.04 m"}, False),
        ({"do": "lower", "to": "0 m"}, False),
        ({"do": "lower", "to": "0.05 m"}, True),
        ({"do": "lower", "to": "-1 mm"}, True),
    ],
)
def test_lifts_go_up_and_lowerings_down_to_the_floor(step, broken):
    floated = hoist("spire", "spire lift", 1.0)[:3]
    raise_ = follow(*UP, *floated, step | {"section": "spire"})
    assert rules(raise_) == ([Rule.TRAVEL] if broken else [])


@pytest.mark.parametrize(
    ("to", "broken"), [("6.9 m", False), ("6.8 m", False), ("6.79 m", True)]
)
def test_a_section_cannot_be_lowered_past_the_ledge_that_carries_it(to, broken):
    raise_ = follow(
        *UP,
        *hoist("spire", "spire lift", 15.3),
        *install("high needles", "deck"),
        *land("spire", "high needles"),
        assemble("belfry"),
        *strike("deck"),
        *hoist("spire", "spire lift", 16.0),
        {"do": "lower", "section": "spire", "to": to},
    )
    assert rules(raise_) == ([Rule.NEST] if broken else [])
    if broken:
        assert only_breach(raise_).heel == pytest.approx(6.8)


@pytest.mark.parametrize(
    ("to", "heel"), [("2.7 m", None), ("2.8 m", None), ("2.81 m", 2.8), ("9 m", 2.8)]
)
def test_a_needle_in_the_way_of_a_section_that_rises_round_it(to, heel):
    # The belfry's head, 12.5 m above its heel, reaches the spire's heel at 15.3 m when
    # its own heel is at 2.8 m.
    raise_ = follow(
        *UP,
        *hoist("spire", "spire lift", 15.3),
        *install("high needles", "deck"),
        *land("spire", "high needles"),
        assemble("belfry"),
        {"do": "fit", "item": "bell frame"},
        *hoist("belfry", "belfry lift", float(to.split()[0]), picks_up=["spire"]),
    )
    found = [breach for breach in raise_.breaches if breach.rule == Rule.NEEDLE]
    assert [breach.heel for breach in found] == ([] if heel is None else [pytest.approx(heel)])


def test_factory_sections_are_the_sizes_it_says():
    sizes = {each.name: each.length for each in tiny_plan().sections}
    assert sizes == {"base": 13.0, "belfry": 12.5, "spire": 13.5}
    assert section("x", 1.0, 2.0)["length"] == "2.0 m"
    assert factory.CORNERS[0] == (-1, -1)
