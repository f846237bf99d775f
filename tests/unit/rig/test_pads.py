"""Needles and pads under a tower that the wind pushes, by hand."""

import numpy as np
import pytest

from tests.unit.checks.test_holding import WEIGHT, case_of
from towerlift.rig.pads import SidePush, needles_under, pad_middles, pad_of
from towerlift.rig.pieces import pieces_of
from towerlift.rig.stands import stands

OWN = 0.25 * 0.3 * 6 * 760 * 9.80665


def needles(*pushes):
    case = case_of()
    (stand,) = stands(case.plan, case.shapes, case.raise_)
    return needles_under(case.plan, stand, pushes)


def test_pads_lie_behind_the_faces_of_the_masonry():
    plan = case_of().plan
    piece = pieces_of(plan, "needles", None)[0]
    pad = pad_of(plan, piece)
    assert pad is not None
    # The needle ends 0.1 m short of either face, 3.1 m out; then 75 mm and half of 250.
    assert pad_middles(plan, piece, pad) == pytest.approx((-0.3, 6.3))


def test_a_push_lifts_a_pad():
    moment = 40e3
    push = SidePush(weight=WEIGHT, moment=np.array([0.0, moment]), says="by hand")
    pads = {use.piece.mark: use.pads for use in needles(push)}
    # Northward: M / 3.3 m on the north needle, as much less on the south, alike at both
    # ends; 0.9 of the weight and of the needle hold down.
    south = (0.9 * WEIGHT / 2 - moment / 3.3) / 2 + 0.9 * OWN / 2
    assert min(pad.least for pad in pads["N2"]) == pytest.approx(south, rel=1e-6)
    north = (1.35 * WEIGHT / 2 + moment / 3.3) / 2 + 1.35 * OWN / 2
    assert max(pad.most for pad in pads["N1"]) == pytest.approx(north, rel=1e-6)


def test_without_a_push_no_pad_lifts():
    assert all(pad.least > 0 for use in needles() for pad in use.pads)
