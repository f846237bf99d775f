"""From a plan to a problem: what waits for what, what is kept apart, and why."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from tests.plans.factory import at, fixture, orderly_stages, stage, tiny_plan
from towerlift.errors import NoProgrammeError, PrecedenceError
from towerlift.motion import follow_stages
from towerlift.programme import Closure, Wishes, crossings, redated, schedule
from towerlift.programme.apart import pieces_of
from towerlift.programme.exclusions import crossing, hazard_of, stops
from towerlift.programme.graph import long, precedence
from towerlift.programme.holds import needed_holds
from towerlift.programme.posing import pose
from towerlift.programme.tasks import recovery_minutes

CREWS = [
    {"name": "framers", "need": 6, "signed": 6},
    {"name": "roofers", "need": 4, "signed": 4},
    {"name": "riggers", "need": 6, "signed": 6},
]
DATES = {"spire up": "06:00", "belfry built": "12:00", "spire hung": "14:00"}


def work(name, crew="framers", count=6, place="in the column", **changes):
    body = {"name": name, "crew": crew, "count": count, "place": place}
    body |= {"starts": at("08:00"), "ends": at("10:00")}
    return body | changes


def planned(*activities, stages=None, **changes):
    plan = tiny_plan(
        crews=CREWS, activities=list(activities), stages=stages or orderly_stages(), **changes
    )
    return plan, follow_stages(plan)


def dated():
    stages = orderly_stages()
    for each in stages:
        each["starts"] = at(DATES.get(each["name"], "08:00"), "2027-04-24")
    stages[-1]["starts"] = at("08:00", "2027-04-25")
    return stages


def wait(graph, before, after):
    return " | ".join(each.reason for each in graph.edges[before, after]["waits"])


def test_stages_wait_for_what_they_change():
    plan, raise_ = planned()
    graph = precedence(plan, raise_)
    assert "needs the spire as spire up leaves it" in wait(graph, "spire up", "spire hung")
    assert "needs the pendants" not in wait(graph, "spire up", "spire hung")
    assert "takes the tower as spire hung leaves it" in wait(graph, "spire hung", "belfry up")


def test_a_section_is_built_when_the_last_one_is_off_the_floor():
    plan, raise_ = planned(work("belfry framed", before=["belfry built"]))
    graph = precedence(plan, raise_)
    assert "takes the spire off the shaft floor" in wait(graph, "spire up", "belfry framed")
    assert "until belfry framed is done" in wait(graph, "belfry framed", "belfry built")


def test_lime_and_hold_points_are_waited_for():
    plan, raise_ = planned(
        work("pockets", cures="14 d", signs=["H3"]),
        work("rest", after=["pockets"]),
        stages=[each | {"hold_points": ["H3"]} for each in orderly_stages()],
    )
    graph = precedence(plan, raise_)
    (edge,) = graph.edges["pockets", "rest"]["waits"]
    assert edge.lag == 14 * 86400.0
    assert edge.reason == "rest waits 14 d for pockets to cure"
    assert "signed when pockets is done" in wait(graph, "pockets", "H3 for spire up")
    links = pose(plan, raise_).problem.links
    (link,) = [each for each in links if (each.before, each.after) == ("pockets", "spire up")]
    assert link.lag == 14 * 24 * 60
    assert "H3 (anchors and gantry are proved)" in link.reason


def test_a_ring_is_named_with_its_reasons():
    plan, raise_ = planned(
        work("one", after=["two"], signs=["H1"]), work("two", after=["belfry built"]),
        stages=[orderly_stages()[0] | {"hold_points": ["H1"]}, *orderly_stages()[1:]],
    )  # fmt: skip
    with pytest.raises(PrecedenceError, match="wait for each other") as error:
        precedence(plan, raise_)
    for name in ("one", "two", "belfry built", "H1 for spire up"):
        assert name in str(error.value)


@pytest.mark.parametrize("key", ["after", "before"])
def test_what_is_not_in_the_plan_is_named(key):
    plan, raise_ = planned(work("one", **{key: ["nothing"]}))
    with pytest.raises(PrecedenceError, match='"one" names "nothing"'):
        precedence(plan, raise_)


@pytest.mark.parametrize(
    ("mass", "catches", "held"),
    [
        # By hand: a thing let go at 29 m falls to a deck whose centre lines are at 14 m;
        # 10 kg times 9.80665 m/s2 times 15 m is 1470.9975 J.
        ("10 kg", "1471 J", True),
        ("10 kg", "1470.99 J", False),
        (None, "1471 J", False),
        ("10 kg", None, False),
    ],
)
def test_a_deck_stops_what_it_is_rated_for(mass, catches, held):
    deck = fixture("deck", "deck", 14.0) | ({"catches": catches} if catches else {})
    others = [each for each in tiny_fixtures() if each["name"] != "deck"]
    aloft = work("lead", "roofers", 4, "on", section="spire", needs=["locked"],
                 lowest="28 m", highest="29 m")  # fmt: skip
    aloft |= {"drops": mass} if mass else {}
    below = work("frame", lowest="0 m", highest="12 m", sheltered_by="deck")
    plan, raise_ = planned(aloft, below, fixtures=[*others, deck])
    named = next(each for each in plan.fixtures if each.name == "deck")
    assert stops(named, plan.activities[0].drops, 29.0) is held
    excluded = [e for e in pose(plan, raise_).problem.exclusions if not e.of_raise]
    assert bool(excluded) is not held
    if not held:
        assert "frame is under lead" in excluded[0].reason


def test_a_net_without_fine_mesh_stops_no_tool():
    net = fixture("net", "net", 14.0) | {"catches": "50 kJ"}
    plan, _ = planned(fixtures=[*tiny_fixtures(), net])
    coarse = next(each for each in plan.fixtures if each.name == "net")
    assert not stops(coarse, 1.0, 20.0)
    assert stops(coarse.model_copy(update={"fine_mesh": True}), 1.0, 20.0)


def tiny_fixtures():
    return [each.model_dump() for each in tiny_plan().fixtures]


def test_what_falls_outside_the_shaft_lands_beside_the_tower():
    aloft = work("lead", "roofers", 4, "on", section="spire", lowest="29 m", highest="31 m",
                 drops="2 kg")  # fmt: skip
    beside = work("paving", place="beside the tower")
    away = work("lunch", place="outside")
    plan, _ = planned(aloft, beside, away)
    piece = next(p for p in pieces_of(plan) if p.following == "belfry built")
    lead, paving, lunch = plan.activities
    assert "paving is under lead" in crossing(plan, lead, paving, piece.span)
    assert crossing(plan, lead, lunch, piece.span) == ""
    shadow = hazard_of(plan, lead, piece.span)
    # The deck of the tiny plan has no rating, so it stops nothing.
    assert shadow.stopped_by is None


def test_two_crews_take_the_same_place_by_turns():
    plan, raise_ = planned(
        work("one", place="at the capstans"),
        work("two", "riggers", place="at the capstans"),
    )
    programme = schedule(plan, raise_)
    (one,), (two,) = programme.of("one"), programme.of("two")
    assert one.ends <= two.starts or two.ends <= one.starts


def test_nobody_is_in_the_lines_while_they_are_tight_but_those_of_the_lift():
    plan, raise_ = planned(
        work("paint", place="in the lines"),
        work("tend", "riggers", place="in the lines", during="spire up"),
    )
    posed = pose(plan, raise_)
    kept = {e.tasks[0] for e in posed.problem.exclusions if e.of_raise}
    assert kept == {"paint", "tend"}
    off = {s for e in posed.problem.exclusions if e.tasks[0] == "tend" for s in e.tasks[1:]}
    assert "spire up" not in off


def test_half_the_longest_haul_is_kept_to_recover():
    plan, raise_ = planned()
    (up, *_) = plan.stages
    hauls = [p.duration for p in raise_.moving_passages if p.stage == up.name]
    assert recovery_minutes(raise_, up) == -(-max(hauls) // 120)
    assert recovery_minutes(raise_, plan.stages[1]) == 0


def test_a_haul_whose_time_is_not_known_gives_no_programme():
    plan, raise_ = planned()
    timeless = tuple(
        replace(each, duration=0.0) if each.moving else each for each in raise_.passages
    )
    with pytest.raises(NoProgrammeError, match="time of a haul in stage spire up"):
        schedule(plan, replace(raise_, passages=timeless))


def test_hold_points_by_what_a_stage_does():
    plan, raise_ = planned()
    needed = {s.name: {m for m, _ in needed_holds(plan, raise_, s)} for s in plan.stages}
    assert needed["spire up"] == {
        *("H1", "H2", "H3", "H4", "H5", "H6", "H7", "H8", "H9", "H11", "H12", "H14")
    }
    assert needed["belfry built"] == {"H2"}
    assert "H10" in needed["belfry up"]
    assert "H13" not in needed["belfry up"]


def test_work_too_long_for_any_day_is_named():
    plan, raise_ = planned(
        work("long", takes="9 h"),
        site=tiny_plan().site.model_dump() | {"works_from": "08:00", "works_to": "16:00"},
    )
    with pytest.raises(NoProgrammeError) as error:
        schedule(plan, raise_)
    assert error.value.clash == ("work keeps to the hours of the framers",)


def test_work_is_broken_off_between_courses_only():
    plan, raise_ = planned(
        work("long", takes="9 h", courses=3),
        site=tiny_plan().site.model_dump() | {"works_from": "08:00", "works_to": "16:00"},
    )
    programme = schedule(plan, raise_)
    pieces = programme.of("long")
    assert [piece.duration for piece in pieces] == [timedelta(hours=6), timedelta(hours=3)]
    moved = redated(plan, programme)
    names = [each.name for each in moved.activities]
    assert names == ["long, part 1", "long"]
    assert moved.activities[1].after == ("long, part 1",)
    assert crossings(moved, follow_stages(moved)) == ()


def test_a_lift_waits_for_the_wind_and_says_so():
    plan, raise_ = planned(stages=dated())
    first = schedule(plan, raise_).of("spire up")[0]
    blown = Closure(
        begins=first.starts - timedelta(hours=2),
        ends=first.starts + timedelta(days=2),
        why="wind above 8 m/s",
        stops="lifts",
    )
    later = schedule(plan, raise_, Wishes(closures=(blown,))).of("spire up")[0]
    assert later.starts >= blown.ends
    assert "wind above 8 m/s" in later.reason


def test_what_has_begun_is_kept_and_what_runs_late_pushes_the_rest():
    plan, raise_ = planned(stages=dated())
    now = datetime.fromisoformat(at("13:00", "2027-04-24"))
    actual = {"spire up": (now - timedelta(hours=7), None), "belfry built": None}
    wishes = Wishes(since=now, actual=actual)
    programme = schedule(plan, raise_, wishes)
    (up,) = programme.of("spire up")
    assert up.starts == now - timedelta(hours=7)
    assert up.ends >= now
    assert all(b.starts >= up.ends for b in programme.bookings if b.name != "spire up")


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "0 min"), (90, "2 min"), (5400, "1 h 30 min"), (14 * 86400, "14 d")],
)
def test_times_in_words(seconds, words):
    assert long(seconds) == words


def test_a_stage_without_steps_is_a_stage_all_the_same():
    plan, raise_ = planned(
        stages=[*orderly_stages(), stage("rest", [], after=["belfry up"])],
    )
    (rest,) = schedule(plan, raise_).of("rest")
    (last,) = schedule(plan, raise_).of("belfry up")
    assert rest.starts >= last.ends


def test_what_is_done_is_not_held_against_the_rest():
    # Dated so that the second began before the first had ended: it cannot be undone.
    plan, raise_ = planned(stages=dated())
    now = datetime.fromisoformat(at("13:00", "2027-04-24"))
    actual = {"spire up": (now - timedelta(hours=7), None)}
    programme = schedule(plan, raise_, Wishes(since=now, actual=actual))
    (built,) = programme.of("belfry built")
    assert built.starts < now
    assert built.reason == "it has begun, or is done"


def test_a_plan_of_many_days_finds_them():
    # Seventy days of work, and nothing dated beyond the first.
    works = [
        work(f"day {n}", place="outside", takes="20 h", after=[f"day {n - 1}"] if n else [])
        for n in range(70)
    ]
    plan, raise_ = planned(
        *works,
        site=tiny_plan().site.model_dump() | {"works_from": "01:00", "works_to": "23:00"},
    )
    programme = schedule(plan, raise_)
    assert programme.n_days == 70
    assert programme.gap == timedelta(0)


@pytest.mark.parametrize(("low", "kept_off"), [("0 m", True), ("16 m", False)])
def test_nobody_is_below_a_beam_that_is_drawn(low, kept_off):
    stages = orderly_stages()
    for step in stages[2]["steps"]:
        if step.get("fixture") == "high needles":
            step["takes"] = "20 min"
    beam = {"lowest": low, "highest": "17 m"}
    plan, raise_ = planned(work("clean", **beam), stages=stages)
    texts = [e.reason for e in pose(plan, raise_).problem.exclusions if e.of_raise]
    assert (
        any("striking the high needles goes on over them" in text for text in texts) == kept_off
    )
