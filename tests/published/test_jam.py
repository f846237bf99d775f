"""Jamming guides against a textbook bracket."""

import numpy as np
import pytest

from towerlift.errors import NoEquilibriumError
from towerlift.mechanics.jam import drawer_pull, guide_force, jam_share


def test_bracket_on_a_pipe_of_vector_mechanics():
    """Beer and Johnston, Vector Mechanics: Statics: bracket on a 3 in pipe, weightless.

    Contacts 6 in apart, friction 0.25: a load holds by itself from 12 in out, measured
    from the pipe's axis; the normal force is then twice the load. The pipe's width
    cancels, and must not be added to the spacing.
    """
    assert jam_share(0.25, 12.0, 0.0, 6.0) == pytest.approx(1.0)
    assert jam_share(0.25, 11.9, 0.0, 6.0) < 1
    assert guide_force(1.0, 12.0, 6.0) == pytest.approx(2.0)


class TestOwnArithmetic:
    """Cross-checks, not published: sums of our own done by hand beside the code."""

    @pytest.mark.parametrize(
        ("friction", "ratio", "critical"), [(0.2, 1.27, 4.6), (0.5, 2.11, 1.84)]
    )
    def test_one_corner_lost(self, friction, ratio, critical):
        """A third of the half diagonal of 4.1 m square, shoes 2.6 m apart."""
        each = 4.1 / 2 / 3
        share = float(jam_share(friction, each, each, 2.6))
        assert drawer_pull(1.0, share) == pytest.approx(ratio, abs=0.005)
        diagonal = 2.6 / (2 * np.sqrt(2) * friction)
        assert diagonal == pytest.approx(critical, abs=0.005)
        limit = diagonal / np.sqrt(2)
        assert jam_share(friction, limit, limit, 2.6) == pytest.approx(1.0)

    def test_slides_and_just_locks(self):
        assert drawer_pull(1.0, float(jam_share(0.4, 1.0, 0.0, 2.0))) == pytest.approx(
            1.667, abs=0.0005
        )
        with pytest.raises(NoEquilibriumError, match="locked"):
            drawer_pull(1.0, float(jam_share(0.4, 2.5, 0.0, 2.0)))
