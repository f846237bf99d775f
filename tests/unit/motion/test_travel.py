"""One number for a moment of the raise, and passages told in words."""

import pytest

from tests.plans.factory import tiny_plan
from towerlift.motion import (
    describe,
    follow_stages,
    locate,
    position_at,
    stage_spans,
    total_travel,
)


@pytest.fixture(scope="module")
def raise_():
    return follow_stages(tiny_plan())


def test_whole_part_is_the_passage_and_the_rest_its_share(raise_):
    moment = locate(raise_, 5.25)
    assert (moment.passage.index, moment.share) == (5, 0.25)
    assert moment.position == 5.25
    # passage 5 lifts the spire from 0.05 to 15.3 m
    assert moment.heel("spire") == pytest.approx(0.05 + 0.25 * 15.25)
    assert moment.heel("base") is None


def test_the_ends_of_the_raise(raise_):
    count = len(raise_.passages)
    assert (locate(raise_, 0).passage.index, locate(raise_, 0).share) == (0, 0.0)
    end = locate(raise_, count)
    assert (end.passage.index, end.share) == (count - 1, 1.0)


@pytest.mark.parametrize("position", [-1e-9, 1e9, float("nan")])
def test_a_position_outside_the_raise(raise_, position):
    with pytest.raises(ValueError, match="position"):
        locate(raise_, position)


def test_position_at_a_heel_is_undone_by_locating_it(raise_):
    for passage in raise_.moving_passages:
        hauled = passage.moving[0]
        middle = passage.heel(hauled, 0.5)
        moment = locate(raise_, position_at(passage, middle))
        assert moment.passage is passage
        assert moment.heel(hauled) == pytest.approx(middle)


def test_no_position_for_a_heel_it_does_not_reach(raise_):
    with pytest.raises(ValueError, match="outside"):
        position_at(raise_.moving_passages[0], 99.0)
    with pytest.raises(ValueError, match="nothing moves"):
        position_at(raise_.passages[0], 0.0)


def test_stages_follow_each_other_without_gap(raise_):
    spans = stage_spans(raise_)
    assert [span.stage for span in spans] == [
        "spire up",
        "belfry built",
        "spire hung",
        "belfry up",
    ]
    assert spans[0].first == 0
    assert spans[-1].last == len(raise_.passages)
    assert [span.first for span in spans[1:]] == [span.last for span in spans[:-1]]


def test_total_travel_counts_every_haul(raise_):
    # spire 0 to 15.3, floated and lifted 15.3 to 15.5, belfry 0 to 10
    assert total_travel(raise_) == pytest.approx(15.3 + 0.2 + 10.0)


def test_passages_in_words(raise_):
    told = [describe(passage) for passage in raise_.passages]
    assert told[0] == "spire up: gantry is put in place"
    assert told[1] == "spire up: the spire is assembled"
    assert told[5] == "spire up: spire rises, heel 0.05 to 15.30 m"
    # the spire hangs at 15.5, the ledge is 6.8 above the belfry's heel
    assert "belfry up: belfry and spire rise, heel 8.70 to 10.00 m" in told
    assert "belfry built: bell frame goes in" in told
    assert all(told)
