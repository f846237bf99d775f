"""Rope strength factors against printed working loads."""

import pytest

from towerlift.mechanics.rope import rope_stretch, strength_factor

# Three-strand manila, trade table, pounds: breaking strength and greatest working load
# for 3/4, 7/8, 1 1/16, 1 1/4, 1 1/2, 2 and 3 inch rope; its factor is 7 throughout.
MANILA = [
    (4860, 695),
    (6950, 995),
    (9450, 1350),
    (12200, 1740),
    (16700, 2380),
    (28000, 4000),
    (57500, 8200),
]


@pytest.mark.parametrize(("breaking", "working"), MANILA)
def test_factor_seven_of_the_trade_table(breaking, working):
    """Working loads are rounded to 5, 10 or 100 lb: at most half of 2 per cent."""
    assert strength_factor(breaking, working) == pytest.approx(7.0, rel=0.01)


def test_nylon_example_of_the_boat_handling_page():
    """A rope that breaks at 15 000 lb works at 3 000 lb with a factor of 5."""
    assert strength_factor(15000, 3000) == pytest.approx(5.0)


def test_metric_manila_example():
    """Metric rule page: 24 mm manila breaks at 2.88 t; at a factor of 6, about 0.5 t."""
    assert strength_factor(2.88, 0.5) == pytest.approx(6.0, rel=0.05)


def test_stretch_own_arithmetic():
    """Not published: 5 kN on 40 m of EA 200 kN stretch 1 m."""
    assert rope_stretch(5e3, 40.0, axial_stiffness=200e3) == pytest.approx(1.0, abs=1e-12)
