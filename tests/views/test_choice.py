"""The planner's choice, without a widget."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.views.made import made_outcome
from towerlift.findings import Verdict
from towerlift.panels.choice import PlannerChoice, Sieve

OUTCOME = made_outcome()
CHOICE = PlannerChoice(outcome=OUTCOME)
N_PASSAGES = len(OUTCOME.raise_.passages)


def number_of(words):
    return next(n for n, f in enumerate(OUTCOME.findings) if words in f.subject + f.why)


@given(st.floats(0, N_PASSAGES))
def test_every_position_is_a_passage_and_a_share(position):
    choice = CHOICE.moved_to(position)
    assert 0 <= choice.share <= 1
    assert choice.passage.index + choice.share == pytest.approx(position)


@pytest.mark.parametrize("position", [-0.01, N_PASSAGES + 0.01, float("nan")])
def test_no_position_outside_the_raise(position):
    with pytest.raises(ValueError, match="position"):
        CHOICE.moved_to(position)


def test_heel_follows_the_hauled_section():
    assert CHOICE.heel is None
    assert CHOICE.moved_to(6.75).heel == pytest.approx(3.0)
    assert CHOICE.moved_to(8.5).heel == pytest.approx(9.75)


def test_a_stage_is_entered_at_its_first_passage():
    assert CHOICE.stages == ("A0", "A1", "A2", "A3")
    assert [CHOICE.at_stage(name).position for name in CHOICE.stages] == [0, 2, 4, 8]
    with pytest.raises(ValueError, match="A9"):
        CHOICE.at_stage("A9")


def test_findings_are_listed_worst_first():
    verdicts = [OUTCOME.findings[n].verdict for n in CHOICE.listed]
    order = [Verdict.FAIL, Verdict.NOT_EVALUATED, Verdict.PASS]
    assert verdicts == sorted(verdicts, key=order.index)
    assert len(verdicts) == len(OUTCOME.findings)


@pytest.mark.parametrize(
    ("sieve", "count"),
    [
        (Sieve(verdict="fail"), 2),
        (Sieve(verdict="not evaluated"), 1),
        (Sieve(verdict="pass"), 3),
        (Sieve(check="clearance"), 2),
        (Sieve(stage="A2"), 4),
        (Sieve(text="ledge BRACE"), 1),
        (Sieve(text="pare"), 1),
        (Sieve(verdict="fail", text="picks_up"), 1),
        (Sieve(text="no such word"), 0),
    ],
)
def test_the_sieve(sieve, count):
    listed = CHOICE.sieved(sieve).listed
    assert len(listed) == count
    assert all(sieve.lets_through(OUTCOME.findings[n]) for n in listed)


def test_a_finding_is_shown_where_it_is_worst():
    choice = CHOICE.with_finding(number_of("brace N3"))
    assert choice.passage.index == 6
    assert choice.heel == pytest.approx(3.0)
    assert choice.finding is OUTCOME.findings[number_of("brace N3")]


def test_of_two_passages_at_one_height_the_one_that_moves_what_is_named():
    # Heel 4.00 is passed by the outer frame only; the inner starts from 6.00 there.
    assert CHOICE.with_finding(number_of("stability ratio")).position in (7.0, 6.0 + 1.0)
    assert CHOICE.with_finding(number_of("stability ratio")).heel == pytest.approx(4.0)


def test_a_finding_without_height_or_stage():
    assert CHOICE.with_finding(number_of("bell")).position == 0.0
    away = CHOICE.moved_to(7.3).with_finding(number_of("inner in outer"))
    assert away.position == 7.3
    assert away.chosen == number_of("inner in outer")


def test_next_finding_walks_the_list_and_stops_at_its_ends():
    choice = CHOICE.sieved(Sieve(stage="A2"))
    walked = []
    for _ in range(6):
        choice = choice.next_finding(1)
        walked.append(choice.chosen)
    listed = choice.listed
    assert walked == [*listed, listed[-1], listed[-1]]
    assert choice.next_finding(-1).chosen == listed[-2]
    assert CHOICE.sieved(Sieve(text="zzz")).next_finding(1).chosen is None


def test_a_finding_sieved_out_is_no_longer_chosen():
    choice = CHOICE.with_finding(number_of("brace N3"))
    assert choice.sieved(Sieve(verdict="pass")).chosen is None
    assert choice.sieved(Sieve(verdict="fail")).chosen == choice.chosen


def test_the_summary_says_the_verdict_in_words():
    assert CHOICE.summary == "2 fail, 1 not evaluated, 3 pass"
