"""Chances proven sample by sample, against exact integrals and the stack of one face."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from tests.plans.factory import section, tiny_plan
from towerlift.motion import follow_stages
from towerlift.nesting.certified import (
    CertifiedChance,
    Departures,
    certified_chance,
    pair_margins,
)
from towerlift.nesting.pairs import SHAFT, Pair, Workshop
from towerlift.shapes import build_shapes

GAP = 0.05
FEW = 3000


@cache
def margins():
    """A belfry that leaves 50 mm on every side of a straight shaft."""
    sections = [
        section("base", 3.08, 13.0, nest_height="0.34 m"),
        section("belfry", 3.1 - GAP, 12.5, nest_height="6.8 m"),
        section("spire", 1.75, 13.5),
    ]
    plan = tiny_plan(sections=sections)
    shop = Workshop(plan=plan, shapes=build_shapes(plan, Path()), raise_=follow_stages(plan))
    passage = next(p for p in shop.raise_.moving_passages if "belfry" in p.moving)
    pair = Pair(shop=shop, passage=passage, moving="belfry", against=SHAFT)
    return pair_margins(pair, reach=0.15)


def test_nothing_departs():
    found = certified_chance(margins(), Departures(), samples=FEW)
    assert (found.kept, found.broken, found.undecided) == (FEW, 0, 0)
    assert found.least.low == 0.0
    assert 0 < found.most.high < 0.002


@pytest.mark.parametrize(("limit", "kept"), [(GAP - 1e-3, True), (GAP + 1e-3, False)])
def test_just_inside_and_just_outside(limit, kept):
    found = certified_chance(margins(), Departures(), limit=limit, samples=10)
    assert (found.kept == 10) is kept
    assert (found.broken == 10) is not kept


def test_play_in_two_directions_against_the_exact_square():
    # x and y anywhere within 51 mm: it touches outside a square of 50 mm.
    exact = 1 - (0.050 / 0.051) ** 2
    found = certified_chance(margins(), Departures(play=0.051), samples=FEW)
    assert found.least.low <= exact <= found.most.high
    # Two hundred samples are measured; what the bound leaves open beyond is not settled.
    assert found.broken > 10
    assert found.kept > 0.8 * FEW


def test_what_is_not_settled_counts_against_the_section():
    found = CertifiedChance(kept=90, broken=2, undecided=8, limit=0.0)
    assert found.samples == 100
    assert found.least.hits == 2
    assert found.most.hits == 10


def test_growth_only_ever_takes():
    calm = certified_chance(margins(), Departures(play=0.03), samples=FEW)
    grown = certified_chance(margins(), Departures(play=0.03, swelling=0.03), samples=FEW)
    assert calm.most.hits == 0
    assert grown.most.hits > 0


@pytest.mark.parametrize("name", ["play", "tilt", "swelling", "fabrication", "survey"])
@pytest.mark.parametrize("bad", [-0.001, float("nan"), float("inf")])
def test_departures_that_are_none_are_refused(name, bad):
    with pytest.raises(ValueError, match=name):
        replace(Departures(), **{name: bad})
