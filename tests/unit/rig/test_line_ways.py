"""Ropes past ropes and blocks, and blocks past timber, against differences of coordinates.

Ropes of one part hang plumb, so that every gap is a distance less half the thicknesses. A
block of one sheave reaches half the sheave and the rope out from its pin, and is 70 mm thick.
"""

from dataclasses import replace
from math import inf

import numpy as np
import pytest

from tests.plans.factory import CORNERS, fixture, tiny_plan
from tests.unit.rig.swaying import swaying
from towerlift.gaps import least_gap
from towerlift.rig import block_ways as past_timber
from towerlift.rig.block_ways import block_ways
from towerlift.rig.line_ways import gear_ways

ROPE = 0.032
SHEAVE = 0.3
OUT, THICK = SHEAVE / 2 + ROPE, 0.07
# The engine's bound is never above the gap and at most this far below it. [m]
EPS = 2e-4
MADE = 0.006
TACKLE = {
    "name": "four parts",
    "parts": 1,
    "sheave_ratio": "93 %",
    "sheave": "300 mm",
    "leads": 2,
    "fall_length": "42 m",
    "shortest": "1 m",
}


def case(folder, lines, *, sway=0.0, lean=0.0, sheave="300 mm", **changes):
    """The haul "belfry up" with its four lines changed, and how far it sways."""
    tackle = {key: value for key, value in (TACKLE | {"sheave": sheave}).items() if value}
    plan = tiny_plan(tackles=[tackle], **changes)
    lifts = tuple(
        each.model_copy(
            update={
                "lines": tuple(
                    one.model_copy(update={"leads": ()} | new)
                    for one, new in zip(each.lines, lines, strict=True)
                )
            }
        )
        if each.name == "belfry lift"
        else each
        for each in plan.lifts
    )
    plan = plan.model_copy(update={"lifts": lifts})
    return swaying(folder, plan, sway=sway, lean=lean)


def plumb(*places, broad=0.0, top=30.0):
    """Lines straight up from moving blocks 0.1 m above the heel."""
    return [
        {"moving_block": (x, y, 0.1), "upper": (x, y, top), "broad_side": broad}
        for x, y in places
    ]


def beside(apart):
    """Two tackles side by side, the others far off."""
    return [(0.0, 1.0), (apart, 1.0), (-2.0, -1.0), (2.0, -1.0)]


def gear(made):
    return next(each for each in gear_ways(*made) if each.stage == "belfry up")


def blocks(made):
    return next(each for each in block_ways(*made) if each.stage == "belfry up")


def test_blocks_broad_side_on_leave_less_than_their_ropes(tmp_path):
    gap = gear(case(tmp_path, plumb(*beside(0.5)))).gap
    assert {gap.one.split()[-1], gap.other.split()[-1]} == {"lift.1", "lift.2"}
    assert "block" in gap.one
    assert "block" in gap.other
    assert 0.5 - 2 * OUT - EPS <= gap.gap <= 0.5 - 2 * OUT + 1e-9
    assert gap.certified
    assert gap.moves == pytest.approx(MADE)


def test_blocks_turned_edge_on_leave_more(tmp_path):
    gap = gear(case(tmp_path, plumb(*beside(0.25), broad=np.pi / 2))).gap
    assert 0.25 - THICK - EPS <= gap.gap <= 0.25 - THICK + 1e-9


def test_blocks_that_overlap_foul(tmp_path):
    gap = gear(case(tmp_path, plumb(*beside(2 * OUT - 0.01)))).gap
    assert gap.certified
    assert not gap.gap > 0


def test_tackles_far_apart_have_no_gap(tmp_path):
    found = gear(case(tmp_path, plumb(*beside(1.0))))
    assert found.gap is None
    assert found.unknown == ""


def fall_past(aside):
    """The fall of the first goes down eastward; the second hangs plumb beside it."""
    lines = plumb((0.0, 0.0), (1.0, aside), (-2.0, -1.5), (2.0, -1.5), broad=np.pi / 2)
    lines[0]["leads"] = ((2.0, 0.0, 28.0), (2.0, 0.0, 0.5))
    return lines


@pytest.mark.parametrize("aside", [0.1, 0.2])
def test_a_fall_past_a_rope_of_another_tackle(tmp_path, aside):
    found = gear(case(tmp_path, fall_past(aside)))
    # Half way along it is 1 m below the top blocks, and level with nothing else.
    assert found.gap.gap == pytest.approx(aside - ROPE, abs=1e-9)
    assert found.gap.where[2] == pytest.approx(29.0, abs=0.2)
    assert {found.gap.one.split()[1], found.gap.other.split()[1]} == {"part", "fall"}


def test_a_fall_through_a_rope_strikes_it(tmp_path):
    found = gear(case(tmp_path, fall_past(0.0)))
    assert found.gap.gap == pytest.approx(-ROPE, abs=1e-9)


def test_a_rope_sways_towards_a_fall_by_its_share(tmp_path):
    sway, made = 0.04, case(tmp_path, fall_past(0.2), sway=0.04)
    gap = gear(made).gap
    passages = [p for p in made[0].raise_.moving_passages if p.stage == "belfry up"]
    highest = max(p.standing["belfry"].heel_to for p in passages)
    # 1 m below its top, of what it is then long; the upper end stays.
    share = 1.0 / (30.0 - highest - 0.1)
    assert share * sway <= gap.moves - MADE <= share * sway + 1e-3
    assert gap.gap == pytest.approx(0.2 - ROPE, abs=1e-3)


def test_parts_that_sway_together_keep_their_distance(tmp_path):
    close = case(tmp_path, plumb(*beside(0.5)), sway=0.05)
    assert gear(close).gap.moves == pytest.approx(MADE)
    # Leaning, one foot comes nearer by the lean over their distance.
    leaning = case(tmp_path, plumb(*beside(0.5)), sway=0.05, lean=0.01)
    assert gear(leaning).gap.moves == pytest.approx(MADE + 0.5 * 0.01, rel=0.2)


def test_without_the_size_of_a_sheave_ropes_are_all_that_is_known(tmp_path):
    made = case(tmp_path, plumb(*beside(0.2)), sheave=None)
    found = gear(made)
    assert found.unknown == "the plan gives no sheave of four parts"
    assert found.gap.gap == pytest.approx(0.2 - ROPE)
    assert blocks(made).gap is None
    assert blocks(made).unknown


FIXTURES = [
    fixture("gantry", "gantry", 30.0),
    fixture("high needles", "needle", 15.0),
    fixture("low needles", "needle", 9.8),
    fixture("pendants", "pendant", 5.0),
    fixture("deck", "deck", 14.0),
]


def past_beam(folder, y, **how):
    """All four beside the beam of the pendants, which runs east and west at z 5."""
    places = [(0.8 * x + 0.3 * side, y) for x, side in CORNERS]
    lines = plumb(*places, broad=np.pi / 2, top=29.0)
    return case(folder, lines, fixtures=FIXTURES, **how)


@pytest.mark.parametrize("y", [0.35, 0.5])
def test_a_moving_block_goes_up_past_a_beam(tmp_path, y):
    found = blocks(past_beam(tmp_path, y))
    assert found.gap.one.startswith("the moving block")
    assert found.gap.other == "pendants: pendants 1"
    assert y - 0.1 - OUT - EPS <= found.gap.gap <= y - 0.1 - OUT + 1e-9
    # The shaft's survey and the workshop's error are all that moves.
    assert found.gap.moves < 0.02


def test_a_block_that_goes_up_into_a_beam_fouls(tmp_path):
    found = blocks(past_beam(tmp_path, 0.2))
    assert not found.gap.gap > 0
    assert found.gap.certified


def test_a_block_whose_gap_nobody_could_prove_is_told(tmp_path, monkeypatch):
    def unproved(*given, **how):
        return replace(least_gap(*given, **how), certified=False, upper=1.0, lower=-inf)

    monkeypatch.setattr(past_timber, "least_gap", unproved)
    assert not blocks(past_beam(tmp_path, 0.5)).gap.certified


def test_a_block_that_sways_comes_nearer_by_all_of_it(tmp_path):
    still, swaying = (blocks(past_beam(tmp_path, 0.5, sway=s)) for s in (0.0, 0.03))
    assert swaying.gap.moves - still.gap.moves == pytest.approx(0.03)
