"""Nets under work at height against the rule as it is printed.

Source: US 29 CFR 1926.502(c)(2), identical in WAC 296-880-40055: outer edge 8, 10 or 13 ft
from the work edge for a net up to 5, up to 10 and more than 10 ft below; (c)(1): never more
than 30 ft below.
"""

import pytest

from towerlift.programme.windows_net import net_reach_needed

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
