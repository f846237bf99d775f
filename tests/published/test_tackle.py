"""Tackles and turning blocks against manuals, a handbook and block makers' tables."""

import numpy as np
import pytest

from towerlift.mechanics.tackle import (
    block_resultant,
    lowering_advantage,
    manual_pull,
    pull_after_leads,
    raising_advantage,
    tackle_stiffness,
)


def test_twofold_purchase_of_the_steelworker_manual():
    """US Navy, NAVEDTRA Steelworker, "Allowance for friction": 350 lb raise 1 000 lb."""
    assert manual_pull(1000, 4, sheaves=4) == pytest.approx(350)


def test_single_whip_of_the_deck_examination():
    """US Coast Guard deck question bank: 100 lb at a single whip, 10 per cent: 110 lb."""
    assert manual_pull(100, 1, sheaves=1) == pytest.approx(110)


# US Navy, NAVEDTRA 14043 (Builder) ch. 4 and 14251: purchases without friction.
PURCHASES = [("whip", 1), ("runner", 2), ("gun tackle", 2), ("single luff", 3), ("twofold", 4)]


@pytest.mark.parametrize(("parts", "load", "printed"), [(3, 600, 200), (2, 200, 100)])
def test_pull_without_friction_of_the_builder_manual(parts, load, printed):
    """NAVEDTRA 14043 ch. 4: 600 lb on a single luff, 200 lb on a gun tackle (p. 4-16)."""
    assert load / raising_advantage(parts, 1.0) == pytest.approx(printed)


@pytest.mark.parametrize(("purchase", "advantage"), PURCHASES, ids=[p for p, _ in PURCHASES])
def test_advantage_without_friction_of_the_navy_manuals(purchase, advantage):
    assert raising_advantage(advantage, 1.0) == advantage, purchase
    assert lowering_advantage(advantage, 1.0) == advantage, purchase


def test_four_part_line_of_the_pipeline_handbook():
    """Pipeline Rules of Thumb Handbook, p. 6: sheaves at 0.917, advantage 3.25.

    The page rounds 0.917^4 to 0.707 on its way; exact is 3.236, within 0.5 per cent.
    """
    assert raising_advantage(4, 0.917) == pytest.approx(3.25, rel=0.005)
    assert 3250 / raising_advantage(4, 0.917) == pytest.approx(1000, rel=0.005)


# Turning-block factors, the same in three block makers' tables; most cut the last
# figure off, so a whole last digit is allowed.
BLOCKS = [
    (0, 2.00),
    (10, 1.99),
    (20, 1.97),
    (30, 1.93),
    (40, 1.87),
    (45, 1.84),
    (50, 1.81),
    (60, 1.73),
    (70, 1.64),
    (80, 1.53),
    (90, 1.41),
    (100, 1.29),
    (110, 1.15),
    (120, 1.00),
    (130, 0.84),
    (135, 0.76),
    (140, 0.68),
    (150, 0.52),
    (160, 0.35),
    (170, 0.17),
    (180, 0.00),
]


@pytest.mark.parametrize(("included_deg", "printed"), BLOCKS)
def test_turning_block_factor_of_the_block_makers(included_deg, printed):
    assert block_resultant(1.0, np.radians(included_deg)) == pytest.approx(printed, abs=0.01)


@pytest.mark.parametrize(
    ("pull", "included_deg", "printed", "within"),
    [(1000, 50, 1810, 5), (1000, 135, 760, 10), (150, 100, 194, 1.5)],
)
def test_turning_block_examples_of_the_block_makers(pull, included_deg, printed, within):
    """Worked with the two-figure factors of the tables above."""
    assert block_resultant(pull, np.radians(included_deg)) == pytest.approx(printed, abs=within)


class TestOwnArithmetic:
    """Cross-checks, not published: sums of our own done by hand beside the code."""

    def test_advantages_at_sheave_ratio_093(self):
        assert raising_advantage(4, 0.93) == pytest.approx(3.347, abs=0.0005)
        assert lowering_advantage(4, 0.93) == pytest.approx(4.812, abs=0.0005)

    @pytest.mark.parametrize(
        ("mass", "tackles", "friction", "fall_kn", "capstan_kn"),
        [
            (4806, 4, 0.03, 3.63, 4.19),
            (14471, 8, 0.03, 5.46, 6.31),
            (19898, 8, 0.03, 7.51, 8.68),
            (6634, 4, 0.03, 5.01, 5.79),
            (18858, 8, 0.03, 7.12, 8.23),
            (21105, 8, 0.06, 8.20, 9.48),
        ],
    )
    def test_falls_of_the_lifts(self, mass, tackles, friction, fall_kn, capstan_kn):
        load = mass * 9.81 / tackles / 1000
        fall = load * (1 + friction) / raising_advantage(4, 0.93)
        assert fall == pytest.approx(fall_kn, abs=0.006)
        assert pull_after_leads(fall, 2, 0.93) == pytest.approx(capstan_kn, abs=0.006)

    @pytest.mark.parametrize(
        ("load_kn", "length", "stretch_mm"),
        [
            (11.786, 28.2, 165),
            (11.786, 7.5, 77),
            (17.745, 28.2, 249),
            (24.400, 13.2, 210),
            (23.125, 28.2, 325),
            (23.125, 13.5, 202),
            (25.880, 12.7, 216),
            (25.880, 3.0, 126),
        ],
    )
    def test_stretch_of_a_tackle_in_series_with_its_fall(self, load_kn, length, stretch_mm):
        """Lengths are rounded to 0.1 m, so that 1 per cent is allowed."""
        stiffness = tackle_stiffness(length, 42.0, parts=4, axial_stiffness=690e3)
        assert load_kn * 1e6 / stiffness == pytest.approx(stretch_mm, rel=0.01)
