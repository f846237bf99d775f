"""What hangs, with its fit-out: sums by hand.

Each section is four legs 0.2 m square at 760 kg/m^3: 121.6 kg for a metre of height.
"""

from pathlib import Path

import numpy as np
import pytest

from tests.plans.factory import tiny_plan
from towerlift.motion import follow_stages, hanging_mass, moving_mass
from towerlift.shapes import build_shapes

PER_METRE = 4 * 0.2 * 0.2 * 760


@pytest.fixture(scope="module")
def shapes():
    return build_shapes(tiny_plan(), Path())


@pytest.fixture(scope="module")
def raise_():
    return follow_stages(tiny_plan())


def test_a_bare_section(shapes, raise_):
    spire = hanging_mass(shapes, raise_.moving_passages[0], "spire")
    assert spire.mass == pytest.approx(13.5 * PER_METRE)
    np.testing.assert_allclose(spire.centre, [0, 0, 6.75], atol=1e-9)


def test_a_section_with_what_is_fitted_in_it(shapes, raise_):
    belfry = hanging_mass(shapes, raise_.moving_passages[-1], "belfry")
    timber = 12.5 * PER_METRE
    assert belfry.mass == pytest.approx(timber + 2000)
    height = (timber * 6.25 + 2000 * 4.5) / (timber + 2000)
    np.testing.assert_allclose(belfry.centre, [0, 0, height], atol=1e-9)


def test_fit_out_counts_only_from_when_it_is_in(shapes, raise_):
    built = [each for each in raise_.passages if each.stage == "belfry built"]
    assert hanging_mass(shapes, built[0], "belfry").mass == pytest.approx(12.5 * PER_METRE)


def test_all_that_moves_is_summed_in_the_frame_of_the_hauled_section(shapes, raise_):
    alone, together = raise_.moving_passages[-2:]
    assert moving_mass(shapes, alone).mass == pytest.approx(12.5 * PER_METRE + 2000)
    both = moving_mass(shapes, together)
    belfry, spire = 12.5 * PER_METRE, 13.5 * PER_METRE
    assert both.mass == pytest.approx(belfry + 2000 + spire)
    # the spire's heel rests 6.8 m above the belfry's
    height = (belfry * 6.25 + 2000 * 4.5 + spire * (6.8 + 6.75)) / both.mass
    assert both.centre[2] == pytest.approx(height)


def test_nothing_moves(shapes, raise_):
    with pytest.raises(ValueError, match="nothing moves"):
        moving_mass(shapes, raise_.passages[0])
