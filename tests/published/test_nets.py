"""Nets under work at height against the rule as it is printed.

Source: US 29 CFR 1926.502(c)(2), identical in WAC 296-880-40055: outer edge 8, 10 or 13 ft
from the work edge for a net up to 5, up to 10 and more than 10 ft below; (c)(1): never more
than 30 ft below.
"""

import pytest

from towerlift.programme.windows_net import (
    CATCHING_SOURCE,
    PLATFORM_SOURCE,
    catching_width_told,
    net_reach_needed,
)

FOOT = 0.3048
ROWS = [
    pytest.param(0.0, 8, id="at-the-edge"),
    pytest.param(5.0, 8, id="up-to-5"),
    pytest.param(5.001, 10, id="more-than-5"),
    pytest.param(10.0, 10, id="up-to-10"),
    pytest.param(10.001, 13, id="more-than-10"),
    pytest.param(30.0, 13, id="as-far-as-allowed"),
]


@pytest.mark.parametrize(("below_ft", "reach_ft"), ROWS)
def test_reach(below_ft, reach_ft):
    assert net_reach_needed(below_ft * FOOT) == pytest.approx(reach_ft * FOOT)


@pytest.mark.parametrize("below", [30.001 * FOOT, -0.01, float("nan")])
def test_not_allowed(below):
    assert net_reach_needed(below) is None


@pytest.mark.parametrize(
    ("below", "width"),
    [(0.0, 2.0), (1.0, 2.0), (1.001, 2.5), (3.0, 2.5), (3.001, 3.0), (6.0, 3.0)],
)
def test_figures_read_second_hand_are_only_told(below, width):
    """Not from the standard itself: 2.0, 2.5 and 3.0 m for falls to 1, 3 and 6 m."""
    assert catching_width_told(below) == width
    assert "unverified: read second-hand" in CATCHING_SOURCE
    assert "unverified: read second-hand" in PLATFORM_SOURCE


@pytest.mark.parametrize("below", [6.001, -0.1, float("nan")])
def test_nothing_is_told_beyond_the_figures(below):
    assert catching_width_told(below) is None
