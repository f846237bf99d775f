"""Ropes past timber, against what can be read off the drawing.

A section of four legs rises in a straight shaft: its ropes hang plumb, so that every gap
is a difference of coordinates, less half the thickness of the rope.
"""

from dataclasses import replace

import numpy as np
import pytest

from tests.plans.factory import CORNERS, tiny_plan
from tests.unit.rig.swaying import swaying
from towerlift.motion import follow_stages
from towerlift.nesting.needs import Allowed
from towerlift.nesting.pairs import Workshop
from towerlift.rig.rope_sway import HaulSway, Sway
from towerlift.rig.rope_ways import rope_ways
from towerlift.shapes import build_shapes

THICK = 0.032
# The engine's bound is never above the gap and at most this far below it. [m]
EPS = 2e-4
TACKLE = {
    "name": "four parts",
    "parts": 1,
    "sheave_ratio": "93 %",
    "leads": 2,
    "fall_length": "42 m",
    "shortest": "1 m",
}


def ways(folder, line, *, sway=0.0, lean=0.0, clear=0.02, **changes):
    """Ways of the belfry's ropes in "belfry up", every line changed by a function."""
    plan = tiny_plan(tackles=[TACKLE | changes.pop("tackle", {})], **changes)
    lifts = []
    for each in plan.lifts:
        lines = each.lines
        if each.name == "belfry lift":
            lines = tuple(
                one.model_copy(update=line(x, y))
                for one, (x, y) in zip(each.lines, CORNERS, strict=True)
            )
        lifts.append(each.model_copy(update={"lines": lines}))
    plan = plan.model_copy(update={"lifts": tuple(lifts)})
    found = rope_ways(*swaying(folder, plan, sway=sway, lean=lean, clear=clear))
    return [way for way in found if way.stage == "belfry up"]


def beside(out):
    """Ropes plumb, so far outside the north and south faces of the legs."""

    def line(x, y):
        at = (2.15 * x, (2.25 + out) * y)
        return {"moving_block": (*at, 0.1), "upper": (*at, 30.0), "leads": ()}

    return line


def through(y):
    """Ropes plumb near the middle of the shaft, where the pendants' beam crosses it."""

    def line(x, side):
        at = (0.8 * x + 0.3 * side, y)
        return {"moving_block": (*at, 0.1), "upper": (*at, 29.0), "leads": ()}

    return line


def opening(**changes):
    body = {
        "name": "notch",
        "of": "pendants",
        "member": "pendants 1",
        "kind": "slot",
        "centre": ["0 m", "0 m", "20 m"],
        "clear_north": "180 mm",
    }
    return [body | changes]


@pytest.mark.parametrize("out", [0.03, 0.1, 0.2])
def test_a_plumb_line_beside_a_leg(tmp_path, out):
    found = ways(tmp_path, beside(out))
    assert len(found) == 4
    for way in found:
        worst = way.gaps[0]
        assert (worst.body, worst.run, worst.certified) == ("belfry", "tackle", True)
        assert worst.member.startswith("leg ")
        assert out - THICK / 2 - EPS <= worst.gap <= out - THICK / 2
        # Nothing sways: only the workshop's 6 mm is left to move.
        assert worst.moves == pytest.approx(0.006)


def test_nothing_within_reach_is_no_gap(tmp_path):
    assert [way.gaps for way in ways(tmp_path, beside(0.3))] == [()] * 4


def test_a_line_through_a_leg_bears_on_it(tmp_path):
    worst = ways(tmp_path, beside(-0.1))[0].gaps[0]
    assert worst.gap == pytest.approx(-THICK / 2)
    assert worst.certified


def test_both_sides_of_a_tackle_are_followed(tmp_path):
    # Sheave and rope part the two sides, square to the face: the inner ones are nearer.
    def line(x, y):
        return beside(0.3)(x, y) | {"broad_side": np.pi / 2}

    tackle = {"parts": 2, "sheave": "300 mm"}
    worst = ways(tmp_path, line, tackle=tackle)[0].gaps[0]
    left = 0.3 - (0.3 + THICK) / 2 - THICK / 2
    assert left - EPS <= worst.gap <= left


def test_a_line_strikes_a_beam_that_it_has_no_opening_in(tmp_path):
    for way in ways(tmp_path, through(0.03)):
        worst = way.gaps[0]
        assert (worst.body, worst.member) == ("pendants", "pendants 1")
        assert worst.gap == pytest.approx(-THICK / 2)
        assert 19.9 - THICK <= worst.where[2] <= 20.1 + THICK


@pytest.mark.parametrize("y", [0.0, 0.03, -0.05])
def test_a_line_through_a_slot_of_known_width(tmp_path, y):
    for way in ways(tmp_path, through(y), openings=opening()):
        gap = next(each for each in way.gaps if each.opening is not None)
        assert gap.gap == pytest.approx(0.09 - abs(y) - THICK / 2)
        assert gap.where[1] == pytest.approx(y)


def test_an_opening_at_the_face_of_its_piece_is_open_on_that_side(tmp_path):
    # Cut from the north face, at 0.1 m, to 0.02 m south of the middle.
    notch = opening(kind="notch", centre=["0 m", "40 mm", "20 m"], clear_north="120 mm")
    worst = ways(tmp_path, through(0.07), openings=notch)[0].gaps[0]
    assert worst.opening is not None
    assert worst.gap == pytest.approx(0.09 - THICK / 2)


def test_an_opening_that_leaves_nothing_of_its_piece_is_none(tmp_path):
    # The beam is 0.2 m wide: a slot of a metre would have no side that a line could touch.
    for way in ways(tmp_path, through(0.0), openings=opening(clear_north="1 m")):
        worst = way.gaps[0]
        assert worst.opening is None
        assert worst.gap == pytest.approx(-THICK / 2)


@pytest.mark.parametrize(("lifts", "tackles"), [(["spire lift"], []), ([], ["belfry lift.1"])])
def test_an_opening_is_for_the_lines_it_names(tmp_path, lifts, tackles):
    mine = opening(lifts=lifts, tackles=tackles)
    found = ways(tmp_path, through(0.0), openings=mine)
    assert [way.gaps[0].gap < 0 for way in found] == [not tackles, True, True, True]


def test_a_section_that_rises_past_a_fall(tmp_path):
    def line(x, y):
        out = (2.35 * x, 2.15 * y)
        leads = ((*out, 29.5), (*out, 5.0))
        aside = (2.6 * x, 2.6 * y)
        # It ends at its last lead block.
        return {"moving_block": (*aside, 0.1), "upper": (*aside, 29.0), "leads": leads,
                "capstan": "none"}  # fmt: skip

    for way in ways(tmp_path, line):
        worst = way.gaps[0]
        assert (worst.run, worst.body) == ("fall", "belfry")
        assert 0.1 - THICK / 2 - EPS <= worst.gap <= 0.1 - THICK / 2
        assert worst.where[2] >= 5.0 - EPS


def test_what_sways_is_taken_off_once(tmp_path):
    # Shifted 30 mm at its blocks and leaning 2 mrad: at its head, 12.4 m above them, on a
    # line that is then 20 to 30 m long.
    still = ways(tmp_path, beside(0.2))[0].gaps[0]
    worst = ways(tmp_path, beside(0.2), sway=0.03, lean=0.002)[0].gaps[0]
    assert worst.gap == pytest.approx(still.gap, abs=EPS)
    share = 12.4 / 19.9
    most = 0.03 * share + 0.002 * 12.4 + 0.006
    # Taken at its worst over half a metre of travel and of length.
    assert most - 2e-3 <= worst.moves <= most + 3e-3


def test_where_nothing_says_how_far_it_sways_the_way_is_unknown(tmp_path):
    plan = tiny_plan()
    raise_ = follow_stages(plan)
    shop = Workshop(plan=plan, shapes=build_shapes(plan, tmp_path), raise_=raise_)
    found = list(rope_ways(shop, Allowed(running=0.02, free={})))
    assert found
    assert all("could not be found" in way.unknown for way in found)


SWAY = Sway(low=0.0, high=1.0, shift=np.array([0.02, 0.03, 0.05]), lean=0.04, foot=0.0)


@pytest.mark.parametrize(
    ("share", "height", "moves"),
    [
        # At the moving block they go together.
        (0.0, 0.0, 0.0),
        # Halfway up, 0.5 m above the block: 0.5 x 20 + 0.04 x 500 mm.
        (0.5, 0.5, 0.030),
        # At the top block the line stands still, and the piece goes by its own shift.
        (1.0, 1.0, 0.050),
        (1.0, 0.5, 0.030),
    ],
)
def test_line_and_rider_part_by_hand(share, height, moves):
    assert SWAY.beside_rider(share, height) == pytest.approx(moves)


@pytest.mark.parametrize(("share", "moves"), [(0.0, 0.02), (0.25, 0.015), (1.0, 0.0)])
def test_line_and_what_stands_part_by_hand(share, moves):
    assert SWAY.beside_still(share) == pytest.approx(moves)


def test_over_some_travel_every_part_of_the_sway_is_the_worst_of_what_holds_there():
    low = replace(SWAY, shift=np.array([0.01, 0.02, 0.06]), lean=0.01)
    high = replace(SWAY, low=1.0, high=2.0, shift=np.array([0.03, 0.03, 0.03]), lean=0.02)
    far = replace(SWAY, low=2.0, high=3.0, shift=np.full(3, 0.9), lean=0.9, unknown="not hung")
    sway = HaulSway(bits=(low, high, far))
    worst = sway.between(0.5, 1.5)
    np.testing.assert_array_equal(worst.shift, [0.03, 0.03, 0.06])
    assert (worst.lean, worst.unknown) == (0.02, "")
    assert sway.between(0.5, 1.5) is worst
    assert sway.unknown == "not hung"
    # Another haul through the same heights has its own.
    other = HaulSway(bits=(far,))
    assert other.between(0.5, 1.5).lean == 0.9
