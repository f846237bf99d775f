"""Ways in: a pole round a corner, and members at, before and past what a way takes."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plans.factory import tiny_plan
from towerlift.checks.case import Case
from towerlift.checks.ways_in import CHECK, SPARE, check_ways_in, longest_by, longest_by_door
from towerlift.findings import Verdict
from towerlift.motion import follow_stages
from towerlift.plan.paperwork import WayIn
from towerlift.shapes import build_shapes

DOOR = {
    "name": "door", "kind": "door", "width": "1.6 m", "height": "4.2 m",
    "across": "5.8 m", "source": "taped",
}  # fmt: skip


@pytest.mark.parametrize(
    ("one", "other", "printed"),
    # The pole carried level round a right-angled corner, in every calculus course:
    # (a^(2/3) + b^(2/3))^(3/2). For corridors of 27 and 8 it is 13 root 13.
    [(27.0, 8.0, 46.872), (1.0, 1.0, 2.828), (8.0, 8.0, 22.627)],
)
def test_without_depth_it_is_the_pole_round_a_corner(one, other, printed):
    assert longest_by_door(one, other, 0.0) == pytest.approx(printed, abs=5e-4)
    assert longest_by_door(other, one, 0.0) == pytest.approx(printed, abs=5e-4)


@given(
    height=st.floats(1.5, 5.0),
    across=st.floats(3.0, 8.0),
    depth=st.floats(0.0, 0.5),
    slope=st.floats(0.01, 1.5),
)
def test_the_longest_piece_clears_the_lintel_at_every_slope(height, across, depth, slope):
    length = longest_by_door(height, across, depth)
    tail = length * np.cos(slope) - across
    # The tail is still outside: its upper side must be under the lintel.
    if tail > 0 and length > across + 1e-9:
        top = tail * np.tan(slope) + depth / np.cos(slope)
        assert top <= height + 1e-6


@given(height=st.floats(1.5, 5.0), across=st.floats(3.0, 8.0), depth=st.floats(0.0, 0.5))
def test_more_room_never_takes_less(height, across, depth):
    found = longest_by_door(height, across, depth)
    assert found >= across
    assert longest_by_door(height + 0.1, across, depth) >= found - 1e-9
    assert longest_by_door(height, across + 0.1, depth) >= found - 1e-9
    assert longest_by_door(height, across, depth + 0.1) <= found + 1e-9


@pytest.mark.parametrize("height", [0.3, float("nan"), 0.0])
def test_a_door_too_low_takes_nothing(height):
    assert longest_by_door(height, 6.0, 0.3) == 0.0


def test_over_the_wall_head_the_hook_decides():
    way = WayIn.model_validate(
        {"name": "head", "kind": "over the wall-head", "width": "0.6 m", "height": "0.4 m",
         "hook": "41 m", "source": "derrick"}
    )  # fmt: skip
    assert longest_by(way, 0.32, 0.32, wall_head=28.0) == pytest.approx(13.0)
    assert longest_by(way, 0.5, 0.32, wall_head=28.0) == pytest.approx(13.0)
    assert longest_by(way, 0.5, 0.5, wall_head=28.0) == 0.0
    # Turned on its side it goes the other way round.
    assert longest_by(way, 0.32, 0.5, wall_head=28.0) == pytest.approx(13.0)


def findings(**changes):
    plan = tiny_plan(**changes)
    shapes, raise_ = build_shapes(plan, Path()), follow_stages(plan)
    case = Case(plan=plan, shapes=shapes, raise_=raise_)
    return {f.subject: f for f in check_ways_in(case)}


def test_without_a_way_nothing_passes():
    found = findings()
    assert set(found) == {"base", "belfry", "spire"}
    assert {f.verdict for f in found.values()} == {Verdict.NOT_EVALUATED}
    assert all(f.check == CHECK for f in found.values())


@pytest.mark.parametrize(
    ("extra", "verdict"),
    [(0.0, Verdict.PASS), (0.001, Verdict.PASS), (-0.001, Verdict.FAIL)],
)
def test_just_long_enough(extra, verdict):
    # The longest leg is 13.5 m; a hook that high over the wall-head at 30 m, and the limit.
    hook = 30.0 + 13.5 + SPARE.value + extra
    way = {"name": "head", "kind": "over the wall-head", "width": "1 m", "height": "1 m",
           "hook": f"{hook} m", "source": "derrick"}  # fmt: skip
    found = findings(ways_in=[way])
    assert found["spire"].value == pytest.approx(SPARE.value + extra, abs=1e-9)
    if extra:
        assert found["spire"].verdict is verdict


def test_a_way_that_does_not_say_how_long_takes_nothing():
    found = findings(ways_in=[{**DOOR, "across": None}])
    assert found["base"].verdict is Verdict.FAIL
    assert "no way says how long" in found["base"].why


def test_the_best_way_is_taken():
    low = {**DOOR, "name": "hatch", "height": "1 m"}
    found = findings(ways_in=[low, DOOR])
    assert found["base"].verdict is Verdict.PASS
    assert "door takes" in found["base"].why
