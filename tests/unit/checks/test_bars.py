"""Bars on their way into the holes, past posts whose distances are differences of coordinates.

A cap of 2.50 m, with legs of 200 mm, stands in a tower on bars of 60 by 80 mm, 50 mm from
middle to corner. A bar reaches over its leg by a gap of 10 mm and a ledge of 100 mm on each
side: it is 420 mm long, and on its way in it sweeps another 310 mm. The bar of fid F3, which
is 1.15 m north and east of the axis, so sweeps from 0.63 to 1.36 m if pushed in from within,
and from 0.94 to 1.67 m if pushed in from without.
"""

from dataclasses import replace
from math import inf
from typing import Any

import pytest

from tests.unit.checks.test_holding import END, fid_case
from towerlift.checks.bars import check_bars
from towerlift.findings import Finding, Verdict
from towerlift.gaps import line_gap
from towerlift.rig import bar_ways

# The engine's bound is never above the gap and at most this far below it. [mm]
EPS = 0.2


def post(x: float, y: float, **changes: Any) -> dict[str, Any]:
    """A post of the tower, 100 mm square, beside a fid. [m]"""
    piece: dict[str, Any] = {
        "mark": f"post {x} {y}",
        "part": "post",
        "species": "oak",
        "breadth": "100 mm",
        "depth": "100 mm",
        "start": [f"{x} m", f"{y} m", "0 m"],
        "end": [f"{x} m", f"{y} m", "5.5 m"],
    }
    return piece | changes


def bars(*posts: dict[str, Any], ledges: Any = (END, END), **changes: Any) -> Finding:
    row = {"way": "north-south"} | changes
    found = list(check_bars(fid_case(list(ledges), posts=posts, **row)))
    assert len(found) == 1
    return found[0]


def test_nothing_near():
    found = bars()
    assert (found.verdict, found.value) == (Verdict.PASS, 250.0)
    assert found.subject == "cap on tower, fids"


@pytest.mark.parametrize(
    ("face", "verdict"),
    [
        # Beside the middle by 100, 60.5 and 59.5 mm, of which 50 are bar and 10 are asked.
        (1.25, Verdict.PASS),
        (1.2105, Verdict.PASS),
        (1.2095, Verdict.FAIL),
    ],
)
def test_room_beside_a_bar(face, verdict):
    found = bars(post(face + 0.05, 1.0))
    room = (face - 1.15) * 1e3 - 50
    assert room - EPS <= found.value <= room
    assert found.verdict is verdict
    assert "bar F3" in found.why
    assert "post" in found.why
    assert found.where is not None
    assert found.where[2] == pytest.approx(9.8)


def test_a_gap_that_nobody_could_prove_is_not_passed(monkeypatch):
    def unproved(*given: Any, **how: Any) -> Any:
        return replace(line_gap(*given, **how), certified=False, upper=1.0, lower=-inf)

    monkeypatch.setattr(bar_ways, "line_gap", unproved)
    found = bars(post(1.26, 1.0))
    assert found.verdict is Verdict.NOT_EVALUATED
    assert "could not certify" in found.why


def test_the_way_is_longer_than_the_bar_that_lies():
    # From 0.70 to 0.80: north of it lies the bar at last, from 0.94, with its round end.
    found = bars(post(1.15, 0.75))
    assert found.value == pytest.approx((0.94 - 0.05 - 0.80) * 1e3, abs=EPS)
    assert "pushed in from without" in found.why
    # From 1.50 to 1.60, so that neither way is left.
    both = bars(post(1.15, 0.75), post(1.15, 1.55))
    assert both.verdict is Verdict.FAIL
    assert both.value <= 0
    assert "strikes" in both.why


def test_a_bar_that_lies_in_a_post_cannot_go_in():
    found = bars(post(1.15, 0.99))
    assert found.verdict is Verdict.FAIL
    assert found.value == pytest.approx(-50.0, abs=EPS)


def test_a_bar_lies_the_way_the_plan_says():
    # Over 0.80, the bar lies at 1.15 less 0.05: nothing near.
    assert bars(post(1.15, 0.75), way="east-west").value == 250.0
    turned = bars(post(0.75, 1.15), post(1.55, 1.15), way="east-west")
    assert turned.verdict is Verdict.FAIL


def test_a_ledge_has_a_pocket_as_deep_as_the_bar_lies_in_it():
    rail = post(1.15, 1.36, mark="rail", part="rail")
    let_in = (END | {"let_into": "rail"}, END)
    # The bar ends in the middle of the rail, which nobody cut through.
    assert bars(rail).verdict is Verdict.FAIL
    assert bars(rail, ledges=let_in).value == 250.0
    # Another piece like it that the bar only passes beside has no pocket.
    beside = post(1.25, 1.36, mark="rail beside", part="rail")
    assert bars(rail, beside, ledges=let_in).verdict is Verdict.FAIL
    within = bars(rail, post(1.15, 0.75), ledges=let_in)
    assert within.verdict is Verdict.FAIL
    assert within.value == pytest.approx(-50.0, abs=EPS)


def test_a_drawn_ledge_shows_which_way_the_bars_lie():
    rail = post(1.15, 1.36, mark="rail", part="rail")
    drawn = ({"side": "outside", "member": "rail", "bearing": "100 mm"}, END)
    blocked = post(0.75, 1.15), post(1.55, 1.15)
    assert bars(rail, *blocked, ledges=drawn, way=None).verdict is Verdict.PASS


def test_bars_whose_way_nobody_says_are_not_evaluated():
    found = bars(way=None)
    assert found.verdict is Verdict.NOT_EVALUATED
    assert "way" in found.why


def test_a_bar_across_the_axis_is_followed_as_well():
    case = fid_case([END, END], posts=[post(0.4, 1.15), post(-0.4, 1.15)], way="east-west")
    cap = next(each for each in case.plan.sections if each.name == "cap")
    leg, fid = cap.members[2], cap.fids[2]
    leg = leg.model_copy(update={"start": (0.0, 1.15, 0.0), "end": (0.0, 1.15, 4.0)})
    fid = fid.model_copy(update={"at": (0.0, 1.15, 0.8)})
    cap = cap.model_copy(update={"members": (leg,), "fids": (fid,)})
    others = tuple(each for each in case.plan.sections if each.name != "cap")
    case.plan.__dict__["sections"] = (*others, cap)
    (found,) = check_bars(case)
    assert found.verdict is Verdict.FAIL
