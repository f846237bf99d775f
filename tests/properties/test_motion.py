"""Laws of every raise, however wrongly its steps are put together."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plans.factory import install, lift, stage, tiny_plan
from towerlift.motion import follow_stages, locate, stage_spans
from towerlift.motion.passages import State
from towerlift.motion.timeline import timeline

SECTIONS = ("base", "belfry", "spire")
FIXTURES = ("gantry", "high needles", "low needles", "pendants", "deck")
LIFTS = ("base lift", "belfry lift", "spire lift", "upper lift")
PLAN_LIFTS = [
    lift("spire lift", "spire", "gantry", (1, 2, 3, 4)),
    lift("upper lift", "spire", "belfry", (1, 2, 3, 4)),
    lift("belfry lift", "belfry", "gantry", (5, 6, 7, 8)),
    lift("base lift", "base", "gantry", (5, 6, 7, 8)),
]

section = st.sampled_from(SECTIONS)
fixture = st.sampled_from(FIXTURES)
# Whole centimetres, so that exact meetings come up by chance as well.
height = st.integers(-10, 3000).map(lambda cm: f"{cm / 100} m")
picks = st.lists(section, max_size=2)
takes = st.sampled_from(["0 s", "10 min"])


def step(do, **keys):
    return st.fixed_dictionaries({"do": st.just(do), "takes": takes, **keys})


steps = st.one_of(
    step("assemble", section=section, at=st.sampled_from(["0 m", "0.34 m", "6.8 m"])),
    step("sling", section=section, lift=st.sampled_from(LIFTS)),
    step("float", section=section),
    step("lift", section=section, to=height, picks_up=picks),
    step("lower", section=section, to=height),
    step("secure", section=section, on=fixture | section),
    step("lock", section=section, on=fixture | section),
    step("transfer", section=section),
    step("fit", item=st.sampled_from(["bell frame", "cladding"])),
    step("install", fixture=fixture),
    step("strike", fixture=fixture),
    step("clear the column"),
)


@st.composite
def plans(draw):
    first = [*install("gantry"), *[{"do": "assemble", "section": each} for each in SECTIONS]]
    walks = draw(st.lists(st.lists(steps, max_size=12), min_size=1, max_size=3))
    dated = draw(st.lists(st.booleans(), min_size=len(walks), max_size=len(walks)))
    stages = [
        stage(
            f"stage {number}",
            first + walk if number == 0 else walk,
            starts=f"2027-04-{10 + number}T08:00:00-02:00" if date else None,
        )
        for number, (walk, date) in enumerate(zip(walks, dated, strict=True))
    ]
    return tiny_plan(stages=stages, lifts=PLAN_LIFTS)


@given(plans())
def test_heels_go_on_where_they_were(plan):
    passages = follow_stages(plan).passages
    for before, after in pairwise(passages):
        for name, place in before.standing.items():
            assert after.standing[name].heel_from == place.heel_to
    assert [passage.index for passage in passages] == list(range(len(passages)))


@given(plans())
def test_only_what_moves_changes_its_height(plan):
    for passage in follow_stages(plan).passages:
        for name, place in passage.standing.items():
            if name not in passage.moving:
                assert place.heel_to == place.heel_from


@given(plans())
def test_what_is_carried_keeps_its_distance_and_its_state(plan):
    for passage in follow_stages(plan).moving_passages:
        hauled = passage.standing[passage.moving[0]]
        for name in passage.moving:
            place = passage.standing[name]
            rise = place.heel_to - place.heel_from
            assert rise == pytest.approx(passage.travel, abs=1e-9)
            assert place.state is hauled.state


@given(plans())
def test_whatever_stands_on_what_moves_moves_too(plan):
    for passage in follow_stages(plan).moving_passages:
        for name, place in passage.standing.items():
            if place.carrier in passage.moving:
                assert name in passage.moving


@given(plans())
def test_nothing_stands_on_itself(plan):
    raise_ = follow_stages(plan)
    held = [each.standing for each in raise_.passages]
    for standing in held + [each.standing for each in raise_.rests]:
        for start in standing:
            seen, name = set(), start
            while name in standing:
                assert name not in seen
                seen.add(name)
                name = standing[name].carrier


@given(plans())
def test_a_ledge_never_rises_past_a_heel_above_it(plan):
    nests = {each.name: each.nest_height for each in plan.sections}
    pairs = (("base", "belfry"), ("belfry", "spire"))
    for passage in follow_stages(plan).passages:
        if passage.travel <= 0:
            continue
        for outer, inner in pairs:
            if {outer, inner} <= set(passage.standing):
                below, above = passage.standing[outer], passage.standing[inner]
                gap_from = above.heel_from - below.heel_from - nests[outer]
                gap_to = above.heel_to - below.heel_to - nests[outer]
                assert gap_from < 0 or gap_to >= -1e-8


@given(plans())
def test_every_breach_says_what_why_and_how_to_cure_it(plan):
    raise_ = follow_stages(plan)
    stages = {each.name for each in plan.stages}
    for breach in raise_.breaches:
        assert breach.rule
        assert breach.subject
        assert breach.why
        assert breach.remedy
        assert breach.stage in stages


@given(plans())
def test_following_twice_gives_the_same(plan):
    assert follow_stages(plan) == follow_stages(plan)


@given(plans(), st.floats(0, 1))
def test_every_position_lies_in_its_stage(plan, share):
    raise_ = follow_stages(plan)
    position = share * len(raise_.passages)
    moment = locate(raise_, position)
    assert moment.position == pytest.approx(position)
    (span,) = [each for each in stage_spans(raise_) if each.stage == moment.passage.stage]
    assert span.first <= position <= span.last


@given(plans())
def test_time_has_no_hole(plan):
    spans = timeline(plan, follow_stages(plan))
    assert spans[0].begins is None
    assert spans[-1].ends is None
    for before, after in pairwise(spans):
        # stages that overlap in time may be told twice, but nothing is left out
        assert after.begins is not None
        assert before.ends is not None
        assert after.begins <= before.ends


@given(plans())
def test_no_state_is_held_without_a_section(plan):
    for passage in follow_stages(plan).passages:
        assert all(place.state is not State.GROUND for place in passage.standing.values())
