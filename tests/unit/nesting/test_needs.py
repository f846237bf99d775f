"""Which height and which heel a budget is looked up at, for what is hauled and carried."""

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.nesting.small import hanging, pair_against, small_plan, workshop
from towerlift.motion.passages import Standing, State
from towerlift.nesting.needs import Allowed, budget_at, play_between
from towerlift.nesting.pairs import Pair
from towerlift.nesting.passing import chunks_of

# Tilt grows from 1 mrad at heel 0 to 6 mrad at heel 5, looked up every metre.
HEELS = np.arange(6.0)
TILT = 0.001 + 0.001 * HEELS


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    return workshop(small_plan(), tmp_path_factory.mktemp("small"))


def allowed_for(shop):
    nothing = np.zeros(6)
    free = {
        index: replace(curve, heels=HEELS, tilt=TILT, sway=nothing, lean=nothing, pivot=0.5)
        for index, curve in hanging(shop).items()
    }
    return Allowed(running=0.02, free=free)


def carried(pair, heel):
    """The same pair, as if the mast were carried on a hauled base `heel` below it."""
    passage = pair.passage
    mast = passage.standing["mast"]
    base = Standing(
        state=State.MOVING,
        carrier="mast lift",
        heel_from=mast.heel_from - heel,
        heel_to=mast.heel_to - heel,
    )
    moved = replace(passage, moving=("base", "mast"), standing={"base": base, "mast": mast})
    return Pair(shop=pair.shop, passage=moved, moving="mast", against="shaft")


def test_the_worst_sample_that_encloses_the_travel_governs(shop):
    pair, allowed = pair_against(shop, "shaft"), allowed_for(shop)
    # Heel 2.2 to 2.7 lies between samples 2 and 3: 4 mrad over 2 m are 8 mm.
    play = play_between(pair, allowed, 2.2, 2.7)
    assert play.shift(2.5) == pytest.approx((0.008, 0.0))
    assert play_between(pair, allowed, 3.2, 3.7).shift(2.5) == pytest.approx((0.010, 0.0))


def test_every_bit_of_the_travel_has_its_own_budget(shop):
    pair = pair_against(shop, "shaft")
    chunks = chunks_of(pair, allowed_for(shop), np.array([0.0, 1.0, 2.5]))
    assert chunks[0].low == pytest.approx(pair.travel[0])
    assert chunks[-1].high == pytest.approx(pair.travel[1])
    for chunk in chunks:
        tilt = 0.001 + 0.001 * np.ceil(chunk.high - 1e-9)
        assert [need.tilt for need in chunk.needs] == pytest.approx([0.5 * tilt, 2.0 * tilt])


def test_what_is_carried_leans_with_what_carries_it(shop):
    # The heel of the mast is 1 m over that of the base: a heel of 3.2 is 2.2 of the base,
    # and s 1.5 to 2 of the mast is 2.5 to 3 of the base.
    pair, allowed = carried(pair_against(shop, "shaft"), 1.0), allowed_for(shop)
    play = play_between(pair, allowed, 3.2, 3.7)
    assert play.shift(2.5) == pytest.approx((0.008, 0.0))
    assert budget_at(pair, allowed, play, (1.5, 2.0)).tilt == pytest.approx(0.004 * 2.5)


def test_below_the_lift_points_the_lower_end_is_the_worse(shop):
    pair, allowed = pair_against(shop, "shaft"), allowed_for(shop)
    play = play_between(pair, allowed, 2.2, 2.7)
    assert budget_at(pair, allowed, play, (-1.5, 1.0)).tilt == pytest.approx(0.004 * 2.0)


def test_a_passage_of_no_lift_has_no_budget(shop):
    pair = pair_against(shop, "shaft")
    loose = replace(pair, passage=replace(pair.passage, lift=None))
    assert "no lift" in play_between(loose, allowed_for(shop), 1.0, 1.5).unknown
