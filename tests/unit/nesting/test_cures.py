"""What paring and moving the plumb line would buy, measured again by itself."""

import numpy as np
import pytest

from tests.unit.nesting.small import (
    FOOT,
    margins_of,
    mast,
    pair_against,
    piece,
    reckoned,
    small_plan,
    workshop,
)
from towerlift.nesting.cures import pared

NORTH = np.array([0.0, 1.0, 0.0])


def foot_of(pair):
    return [label.mark for label in pair.moving_assembly.labels].index("foot")


def north_reach(body, pair):
    pose = pair.pose(0.0)
    used = body.vertices[np.unique(body.faces)]
    return (used @ pose[:3, :3].T + pose[:3, 3])[:, 1].max()


@pytest.mark.parametrize("turn", ["0 deg", "3 deg"])
def test_paring_takes_so_much_off_the_reach(tmp_path, turn):
    shop = workshop(small_plan(plumb_line={"x": "0 m", "y": "0 m", "turn": turn}), tmp_path)
    pair = pair_against(shop, "shaft")
    foot = foot_of(pair)
    before = north_reach(pared(pair, foot, NORTH, 1e-6), pair)
    after = north_reach(pared(pair, foot, NORTH, 0.015), pair)
    assert before - after == pytest.approx(0.015, abs=2e-6)


def test_a_piece_is_not_pared_away(tmp_path):
    shop = workshop(small_plan(), tmp_path)
    pair = pair_against(shop, "shaft")
    foot = foot_of(pair)
    whole = pared(pair, foot, NORTH, 5.0)
    assert north_reach(whole, pair) == pytest.approx(1.32)


def test_a_plan_drawn_with_the_pared_foot_has_the_gap_promised(tmp_path):
    promised = margins_of(reckoned(small_plan(), tmp_path), "shaft")[0].cure
    shorter = piece("foot", "brace foot", (0, 1.2, 2.0), (0, 1.32 - promised.pare, 2.0))
    again = reckoned(small_plan(sections=[mast((shorter,))]), tmp_path)
    (margin,) = margins_of(again, "shaft")
    curve = next(c for c in again.curves if c.passage == margin.passage)
    assert promised.gap_with_pared == pytest.approx(curve.least.min(), abs=1e-4)
    assert margin.spare >= 0


def test_a_plan_with_the_plumb_line_moved_has_the_gap_promised(tmp_path):
    promised = margins_of(reckoned(small_plan(), tmp_path), "shaft")[0].cure
    east, north = promised.shift
    moved = small_plan(plumb_line={"x": f"{east} m", "y": f"{north} m"})
    again = reckoned(moved, tmp_path)
    curve = next(
        c
        for c in again.curves
        if c.against == "shaft" and again.workshop.raise_.passages[c.passage].step == "lift"
    )
    assert promised.gap_when_shifted == pytest.approx(curve.least.min(), abs=1e-4)
    assert promised.gap_when_shifted > 0.045


def test_moving_away_from_one_wall_may_bring_another_too_near(tmp_path):
    # A foot on the south side 150 mm off that wall: after 10 mm it has 140 left, but one
    # 45 mm off has only 35, and that is what is told.
    south = piece("south foot", "brace foot", (0, -1.2, 3.0), (0, -1.455, 3.0))
    nesting = reckoned(small_plan(sections=[mast((FOOT, south))]), tmp_path)
    cure = next(m for m in margins_of(nesting, "shaft") if m.label.mark == "foot").cure
    assert cure.gap_when_shifted == pytest.approx(0.035, abs=1e-4)


def test_where_the_rest_is_nearer_the_rest_is_told(tmp_path):
    twin = piece("twin", "brace foot", (0.5, 1.2, 2.0), (0.5, 1.319, 2.0))
    nesting = reckoned(small_plan(sections=[mast((FOOT, twin))]), tmp_path)
    cure = next(m for m in margins_of(nesting, "shaft") if m.label.mark == "foot").cure
    assert cure.next_label == "twin"
    assert cure.gap_with_pared == pytest.approx(0.041, abs=1e-4)
