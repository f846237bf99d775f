"""The search against a plain program, against every schedule, and against itself."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.programme.networks import every_schedule, knotted, least_finish, made, network
from towerlift.errors import NoProgrammeError
from towerlift.programme.clashing import clash
from towerlift.programme.problem import Edge, Exclusion, Link, Stretch
from towerlift.programme.solving import Wanted, least_change, shortest
from towerlift.programme.tighten import chained, justified, tightened
from towerlift.programme.verify import broken_rules


def finish_of(problem, starts):
    return max(starts[task.name] + task.duration for task in problem.tasks)


@pytest.mark.parametrize("seed", range(40))
def test_as_short_as_a_plain_program_proves(seed):
    problem = made(seed, hours=seed % 2 == 1)
    proved = least_finish(problem)
    found = shortest(problem, seconds=60)
    assert found.proved
    assert found.finish == proved
    assert list(broken_rules(problem, found.starts)) == []


@given(seed=st.integers(0, 100_000))
@settings(max_examples=12)
def test_against_every_schedule_there_is(seed):
    problem = knotted(seed)
    kept = [s for s in every_schedule(problem) if not any(broken_rules(problem, s))]
    tight = tightened(problem)
    if not kept:
        with pytest.raises(NoProgrammeError):
            shortest(problem, seconds=60)
        return
    # What is forced is kept by every schedule there is.
    assert tight.possible
    assert chained(problem)
    for starts in kept:
        assert all(tight.earliest[n] <= at <= tight.latest[n] for n, at in starts.items())
        assert all(starts[a] - starts[b] >= d for a, b, d in tight.orders)
        early = justified(problem, starts)
        assert not any(broken_rules(problem, early))
        assert all(early[n] <= at for n, at in starts.items())
    found = shortest(problem, seconds=60)
    assert found.proved
    assert found.finish == min(finish_of(problem, starts) for starts in kept)


@given(seed=st.integers(0, 100_000))
@settings(max_examples=12)
def test_the_least_change_is_least(seed):
    problem = knotted(seed)
    kept = [s for s in every_schedule(problem) if not any(broken_rules(problem, s))]
    if not kept:
        return
    wished = {task.name: 2 for task in problem.tasks}
    together = tuple((name,) for name in wished)

    def change(starts):
        away = [abs(starts[name] - at) for name, at in wished.items()]
        return sum(each > 0 for each in away), sum(away)

    wanted = Wanted(starts=wished, together=together, reaches=(1,))
    found = least_change(problem, wanted, seconds=60)
    assert not any(broken_rules(problem, found.starts))
    assert change(found.starts) == min(change(starts) for starts in kept)


@given(seed=st.integers(0, 100_000))
@settings(max_examples=12)
def test_a_clash_clashes_and_no_rule_in_it_is_idle(seed):
    problem = knotted(seed)
    if any(not any(broken_rules(problem, s)) for s in every_schedule(problem)):
        return
    rules = clash(problem)
    assert rules
    for left_out in (None, *rules):
        some = [rule for rule in rules if rule != left_out]
        trimmed = replace(
            problem,
            links=tuple(each for each in problem.links if each.reason in some),
            exclusions=tuple(each for each in problem.exclusions if each.reason in some),
            capacities=problem.capacities if "there are only 3 r" in some else {"r": 99},
            tasks=tuple(
                t if "work keeps to its hours" in some else replace(t, windows=None)
                for t in problem.tasks
            ),
            horizon=9 if "all is done in the time there is" in some else 14,
        )
        possible = any(not any(broken_rules(trimmed, s)) for s in every_schedule(trimmed))
        assert possible == (left_out is not None)


def test_a_known_schedule_is_only_bettered():
    problem = made(3)
    best = shortest(problem, seconds=60)
    again = shortest(problem, seconds=60, known=best.starts)
    assert (again.finish, again.bound) == (best.finish, best.bound)


def test_a_known_schedule_that_breaks_rules_is_not_trusted():
    problem = made(3)
    wrong = dict.fromkeys((task.name for task in problem.tasks), 0)
    assert any(broken_rules(problem, wrong))
    assert shortest(problem, seconds=60, known=wrong).finish == least_finish(problem)


def test_the_same_plan_gives_the_same_schedule():
    problem = made(11)
    first, second = (shortest(problem, seconds=60).starts for _ in range(2))
    assert first == second


def two(gap):
    """Two tasks of 3 steps and a stretch between them in which a third must not be."""
    problem = network({"a": 3, "b": 3, "c": 2}, {}, {"a": ["b"]}, {}, horizon=20)
    rest = Stretch(begins=("a", Edge.END, 0), ends=("b", Edge.START, 0))
    whole = Stretch(begins=("c", Edge.START, 0), ends=("c", Edge.END, 0))
    apart = Exclusion(stretches=(whole, rest), reason="c keeps out", tasks=("c", "a", "b"))
    far = Link(before="a", after="b", lag=gap, reason="b rests")
    return replace(problem, links=(*problem.links, far), exclusions=(apart,))


@pytest.mark.parametrize(("c", "breaks"), [(0, False), (1, False), (2, True), (3, True),
                                           (6, True), (7, False)])  # fmt: skip
def test_touching_a_stretch_is_not_being_in_it(c, breaks):
    starts = {"a": 0, "b": 7, "c": c}
    assert bool(list(broken_rules(two(4), starts))) == breaks


def test_an_empty_stretch_keeps_nobody_out():
    assert list(broken_rules(two(0), {"a": 0, "b": 3, "c": 2})) == []


def test_a_missing_start_is_an_error():
    with pytest.raises(ValueError, match="no start for c"):
        list(broken_rules(two(0), {"a": 0, "b": 3}))
