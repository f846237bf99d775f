"""Shortest schedules against published optima and textbook networks.

Sources: the second instance of Patterson's set of 110 (optimum 7) and instance
j301_1 of the project scheduling library of Kolisch and Sprecher (optimum 43,
critical path 38; the data is in tests/data with its licence); and, on arcs,
Introduction to Management Science, instructor's solutions, chapter 8: length 20,
critical path 1-3-4-5-6, slacks 2, 0, 2, 0, 4, 0, 0.

Misprint: lists of Patterson's set give 6 as the critical path of the second instance. Its
activities as printed make 5: 1 + 2 + 2 along 2-4-6.
"""

from dataclasses import replace

import pytest

from tests.unit.programme.networks import network, read_sm
from towerlift.errors import NoProgrammeError
from towerlift.programme.solving import shortest
from towerlift.programme.tighten import chained, tightened
from towerlift.programme.verify import broken_rules

PATTERSON_2 = {
    "1": (0, (0, 0, 0), ("2", "3")),
    "2": (1, (2, 2, 1), ("4", "5")),
    "3": (2, (0, 2, 1), ("6",)),
    "4": (2, (3, 3, 3), ("6",)),
    "5": (3, (2, 1, 3), ("7",)),
    "6": (2, (1, 1, 0), ("7",)),
    "7": (0, (0, 0, 0), ()),
}
ARCS = {"1-2": 7, "1-3": 10, "2-4": 6, "3-4": 5, "3-5": 4, "4-5": 3, "5-6": 2}
SLACK = {"1-2": 2, "1-3": 0, "2-4": 2, "3-4": 0, "3-5": 4, "4-5": 0, "5-6": 0}


def patterson():
    names = ("r1", "r2", "r3")
    return network(
        {name: row[0] for name, row in PATTERSON_2.items()},
        {name: dict(zip(names, row[1], strict=True)) for name, row in PATTERSON_2.items()},
        {name: row[2] for name, row in PATTERSON_2.items()},
        dict(zip(names, (5, 5, 3), strict=True)),
        horizon=12,
    )


def arcs():
    successors = {arc: [other for other in ARCS if other[0] == arc[-1]] for arc in ARCS}
    return network(ARCS, {}, successors, {}, horizon=40)


@pytest.mark.parametrize(
    ("problem", "optimum", "path"),
    [
        pytest.param(patterson(), 7, 1 + 2 + 2, id="patterson-2"),
        pytest.param(read_sm("j301_1.sm"), 43, 38, id="j301_1"),
    ],
)
def test_published_optimum(problem, optimum, path):
    found = shortest(problem, seconds=60)
    assert (found.finish, found.bound, found.proved) == (optimum, optimum, True)
    assert list(broken_rules(problem, found.starts)) == []
    free = replace(problem, capacities={})
    assert shortest(free, seconds=60).finish == path
    assert chained(replace(free, horizon=path))
    assert not chained(replace(free, horizon=path - 1))


def test_one_step_less_than_the_optimum_is_refused_with_what_clashes():
    with pytest.raises(NoProgrammeError) as error:
        shortest(replace(patterson(), horizon=6, horizon_because="6 days"), seconds=60)
    assert set(error.value.clash) == {"all is done in 6 days", "there are only 3 r3"}


def test_critical_path_and_slack():
    length = shortest(arcs(), seconds=60).finish
    assert length == 20
    tight = tightened(replace(arcs(), horizon=length))
    slack = {arc: tight.latest[arc] - tight.earliest[arc] for arc in ARCS}
    assert slack == SLACK


def test_a_dummy_arc_takes_no_time():
    # The same network with an arc of no length that does not bind: nothing changes.
    problem = arcs()
    dummy = network(
        ARCS | {"2-3": 0},
        {},
        {arc: [o for o in (*ARCS, "2-3") if o[0] == arc[-1]] for arc in (*ARCS, "2-3")},
        {},
        horizon=40,
    )
    assert shortest(dummy, seconds=60).finish == shortest(problem, seconds=60).finish
