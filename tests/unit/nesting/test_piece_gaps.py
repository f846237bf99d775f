"""Least gap of every piece of a haul, against the plan's own figures.

The starter's base is hauled up a shaft whose walls are as surveyed: how far each piece
stands from the walls is arithmetic on its ends, breadth and depth.
"""

import numpy as np
import pytest

from towerlift.nesting.piece_gaps import EPS, NEAR, piece_gaps

RISING = 5  # the passage in which the base rises


@pytest.fixture(scope="module")
def gaps(starter_outcome):
    found = piece_gaps(starter_outcome.nesting.workshop, {RISING})
    assert len({(gap.body, gap.mark) for gap in found}) == len(found)
    return {(gap.body, gap.mark): gap.least for gap in found}


def walls(outcome):
    """Least distance of the shaft's east, north, west and south face from the plumb line."""
    line, survey = outcome.plan.plumb_line, outcome.plan.shaft.survey
    return (
        min(row.east for row in survey) - line.x,
        min(row.north for row in survey) - line.y,
        line.x - max(row.west for row in survey),
        line.y - max(row.south for row in survey),
    )


def test_pieces_keep_off_the_walls_what_the_plan_leaves_them(gaps, starter_outcome):
    solid = starter_outcome.shapes.sections["base"].solid
    east, north, west, south = walls(starter_outcome)
    base = next(s for s in starter_outcome.plan.sections if s.name == "base")
    n_near = 0
    for number, member in enumerate(base.members):
        corners = solid.vertices[np.unique(solid.faces[solid.members == number])]
        (x0, y0, _), (x1, y1, _) = corners.min(axis=0), corners.max(axis=0)
        least = min(east - x1, north - y1, west + x0, south + y0)
        told = gaps["base", member.mark]
        if least >= NEAR + 0.05:
            assert told == np.inf or told >= NEAR - EPS
            continue
        # Proven, so never more than it is; the survey's faces lean a little.
        assert least - EPS - 0.02 <= told <= least + 0.02
        n_near += told < NEAR
    assert n_near >= 8


def test_every_piece_that_passes_or_is_passed_has_a_gap(gaps, starter_outcome):
    passage = starter_outcome.raise_.passages[RISING]
    bodies = {body for body, _ in gaps}
    assert {"base", "shaft"} <= bodies
    assert bodies <= {"shaft", *passage.standing, *passage.fixtures, *passage.fitted}
    assert all(least is not None and least > 0 for least in gaps.values())


def test_the_nearest_piece_is_that_of_the_curves(gaps, starter_outcome):
    curves = [curve for curve in starter_outcome.gaps if curve.passage == RISING]
    least = min(float(curve.least.min()) for curve in curves)
    nearest = min(gaps.values())
    assert least - 2 * EPS <= nearest <= least + 1e-9


def test_what_does_not_move_passes_nothing(starter_outcome):
    assert piece_gaps(starter_outcome.nesting.workshop, {0}) == ()
