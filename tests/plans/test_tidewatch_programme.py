"""The programme of the example: the draft's clash of roofers and lift, and the 49 days."""

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from towerlift.checks.case import Case
from towerlift.checks.occupancy import check_occupancy
from towerlift.checks.recovery_card import card_lines
from towerlift.errors import NoProgrammeError
from towerlift.findings import Verdict
from towerlift.motion import follow_stages
from towerlift.plan import read_plan
from towerlift.programme import Closure, Wishes, crossings, nearest_dates, redated, schedule
from towerlift.programme.posing import pose
from towerlift.programme.verify import broken_rules
from towerlift.shapes import build_shapes

FOLDER = Path(__file__).parents[2] / "meshes" / "tidewatch"
ZONE = "-02:00"


def moment(text):
    return datetime.fromisoformat(text + ZONE)


@pytest.fixture(scope="module")
def draft():
    plan = read_plan(FOLDER / "plan.toml")
    return plan, follow_stages(plan)


@pytest.fixture(scope="module")
def corrected():
    plan = read_plan(FOLDER / "plan-corrected.toml")
    return plan, follow_stages(plan)


@pytest.fixture(scope="module")
def programme(corrected):
    plan, raise_ = corrected
    return schedule(plan, raise_, Wishes(seconds=120))


@pytest.fixture(scope="module")
def found(draft):
    return crossings(*draft)


def crossing(found, *names):
    return next(each for each in found if each.names == names)


def test_the_draft_has_roofers_on_the_spire_when_it_is_picked_up(found):
    clash = crossing(found, "cladding B3", "L2")
    assert "nobody is on the spire" in clash.why
    assert "picks up the spire at heel 13.90 m, at 17:14" in clash.why
    assert clash.ends == moment("2027-05-01T17:45")


def test_the_draft_lifts_past_the_working_light(found):
    late = crossing(found, "L2")
    assert late.ends > moment("2027-05-01T18:30")
    assert "light" in late.why
    assert late.cures[0][1].endswith("sooner")


def test_the_draft_has_framers_under_the_spire_in_s3(found):
    under = crossing(found, "belfry framed, D16", "S3")
    assert "the spire hangs over them" in under.why
    # They start at 08:00; the spire is locked at 08:30.
    assert under.cures[0] == (1800.0, "start belfry framed, D16 30 min later")


def test_the_least_change_of_the_draft(draft):
    plan, raise_ = draft
    changes = {each.name: each for each in nearest_dates(plan, raise_, Wishes(seconds=120))}
    # Of the three that meet, each must move, and its hands go with the lift.
    assert set(changes) == {"L2", "bars for L2", "cladding B3", "belfry framed, D16"}
    assert changes["belfry framed, D16"].becomes == moment("2027-04-22T08:30")
    lift, roofers = changes["L2"], changes["cladding B3"]
    assert lift.becomes < lift.was
    assert roofers.becomes + timedelta(hours=5, minutes=45) <= lift.becomes
    posed = pose(plan, raise_)
    starts = posed.dated | {"C3": posed.clock.minute(roofers.becomes)}
    for name, change in changes.items():
        by = posed.clock.minute(change.becomes) - posed.clock.minute(change.was)
        for task in posed.jobs[name].tasks:
            starts[task.name] += by
    assert list(broken_rules(posed.problem, starts)) == []


def test_the_corrected_dates_keep_every_rule(corrected):
    assert crossings(*corrected) == ()


def test_the_corrected_programme_is_no_longer_than_49_days(corrected, programme):
    plan, _ = corrected
    assert programme.n_days <= 49
    assert programme.gap == timedelta(0)
    # The plan's own dates end on the 49th working day.
    last = max(each.ends for each in plan.activities)
    assert last == moment("2027-05-31T12:00")
    assert programme.finish <= last


@pytest.mark.slow
def test_no_programme_of_47_days_is_possible(corrected):
    plan, raise_ = corrected
    with pytest.raises(NoProgrammeError) as error:
        schedule(plan, raise_, Wishes(seconds=20, finish_by=moment("2027-05-26T18:30")))
    assert any("all is done in the time till 2027-05-26" in rule for rule in error.value.clash)


def test_the_programme_holds_by_the_check_of_occupancy_too(corrected, programme):
    plan, _ = corrected
    moved = redated(plan, programme)
    raise_ = follow_stages(moved)
    assert raise_.breaches == ()
    case = Case(plan=moved, shapes=build_shapes(moved, FOLDER), raise_=raise_)
    findings = list(check_occupancy(case))
    assert findings
    assert {finding.verdict for finding in findings} == {Verdict.PASS}
    assert crossings(moved, raise_) == ()


def test_every_start_has_its_reason(programme):
    reasons = {each.name: each.reason for each in programme.bookings}
    assert all(reasons.values())
    assert reasons["S1"].startswith("S1 waits for the roofers to be off")
    assert reasons["bars for L1"] == "it goes with L1"
    # Drawn needles are the last of S1, and nobody is below them.
    assert (
        "waits for S1: in it striking the spire needles 15.3" in reasons["belfry framed, D14"]
    )


@pytest.mark.slow
def test_lime_holds_the_first_needle_in_a_pocket(corrected):
    # Masons late with the pockets: the lime cures 16 days before L2.
    plan, _ = corrected
    late = [
        each.model_copy(update={"cures": 30 * 86400.0})
        if each.name == "pockets cut and pads bedded"
        else each
        for each in plan.activities
    ]
    plan = plan.model_copy(update={"activities": tuple(late)})
    programme = schedule(plan, follow_stages(plan), Wishes(seconds=60))
    (lift,) = programme.of("L2")
    assert "30 d for pockets cut and pads bedded to cure" in lift.reason
    assert lift.waits_for[0] == "pockets cut and pads bedded"


def test_planned_again_on_raising_day(corrected):
    # L2 begins at 08:00 and is an hour late; a squall stops lifts till the afternoon.
    plan, raise_ = corrected
    now = moment("2027-05-01T13:00")
    wishes = Wishes(
        since=now,
        actual={"L2": (moment("2027-05-01T08:00"), moment("2027-05-01T12:50"))},
        closures=(
            Closure(begins=now, ends=moment("2027-05-04T12:00"), why="a gale", stops="lifts"),
        ),
        seconds=60,
    )
    programme = schedule(plan, raise_, wishes)
    (lift,) = programme.of("L2")
    assert (lift.starts, lift.ends) == (moment("2027-05-01T08:00"), moment("2027-05-01T12:50"))
    dated = {each.name: each.starts for each in (*plan.stages, *plan.activities)}
    for booking in programme.bookings:
        if dated[booking.name] >= now:
            assert booking.starts >= now
        elif booking.part == 1:
            assert booking.starts == dated[booking.name]
    assert programme.of("S4")[0].starts >= moment("2027-05-04T12:00")
    assert programme.of("C0")[0].reason == "it has begun, or is done"


def test_cards_tell_of_boards_over_the_open_shaft(corrected):
    plan, raise_ = corrected
    case = Case(plan=plan, shapes=build_shapes(plan, FOLDER), raise_=raise_)
    told = {
        stage: [line.words for line in card_lines(case, stage) if line.topic == "leaf boards"]
        for stage in ("L1", "S6", "L4")
    }
    # The deck's edge is 2.10 m from the axis. The finial is next to nothing wide, and boards
    # end 0.3 m from the middle of a band.
    assert ["band F: 1.7" in words for words in told["L1"]] == [True]
    assert ["band B6: 0.1" in words for words in told["S6"]] == [True]
    assert "NOT EVALUATED" in told["L1"][0]
    assert told["L4"] == []
