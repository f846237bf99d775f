"""A section on elastic lines against closed forms and against sums of our own.

The figures of named lifts are our own arithmetic, worked apart from this code from
masses, spacings and line lengths: cross-checks, not published values.
"""

import numpy as np
import pytest

from towerlift.errors import NoEquilibriumError
from towerlift.mechanics.hang import HungLoad, settle
from towerlift.mechanics.tackle import tackle_stiffness

G = 9.81
CORNERS = np.array([[1, 1], [1, -1], [-1, -1], [-1, 1]])


def square(
    *,
    spacing,
    length,
    mass,
    height,
    per_corner=1,
    stiffness=None,
    splay=0.0,
    offset=(0.0, 0.0),
    groups=None,
):
    """A square section on vertical (or splayed) fourfold tackles, one case."""
    plan = np.repeat(CORNERS * spacing / 2, per_corner, axis=0)
    n = len(plan)
    lower = np.column_stack([plan, np.zeros(n)])
    # Splay is inward or outward along y only, as from a pair of gantry beams.
    shift = np.column_stack([np.zeros(n), np.sign(plan[:, 1]) * splay])
    upper = np.column_stack([plan + shift, np.full(n, length)])
    if stiffness is None:
        stiffness = tackle_stiffness(length, 42.0, parts=4, axial_stiffness=690e3)
    return HungLoad(
        upper=upper[None],
        lower=lower[None],
        stiffness=np.broadcast_to(np.asarray(stiffness, dtype=float), (1, n)).copy(),
        weight=np.array([mass * G]),
        centre=np.array([[*offset, height]]),
        groups=np.arange(n) if groups is None else np.asarray(groups),
    )


L1 = {"spacing": 3.2, "length": 28.2, "mass": 4806, "height": 5.46}
L2 = {"spacing": 4.1, "length": 28.2, "mass": 14471, "height": 6.46, "per_corner": 2}
PICK_UP = {"spacing": 4.1, "length": 14.3, "mass": 19898, "height": 8.17, "per_corner": 2}
L3 = {"spacing": 5.2, "length": 28.2, "mass": 18858, "height": 6.62, "per_corner": 2}
# Belfry with bell frame (centre at 6.46); clad spire fidded 9.96 up, centre 5.78 above.
BELFRY_AND_SPIRE = (14471 * 6.46 + 6634 * (9.96 + 5.78)) / 21105
L4 = {
    "spacing": 4.1,
    "length": 12.66,
    "mass": 21105,
    "height": BELFRY_AND_SPIRE,
    "per_corner": 2,
}


class TestOwnArithmetic:
    @pytest.mark.parametrize(
        ("lift", "ratio"),
        [
            pytest.param(L1, 2.83, id="L1-start"),
            pytest.param(L2, 2.61, id="L2-start"),
            pytest.param(PICK_UP, 2.35, id="L2-at-pick-up"),
            pytest.param(L3, 3.14, id="L3-start"),
            pytest.param(L4, 2.07, id="L4-start"),
        ],
    )
    def test_stability_ratio(self, lift, ratio):
        assert settle(square(**lift)).demand_rest().ratio[0] == pytest.approx(ratio, abs=0.011)

    @pytest.mark.parametrize(
        ("lift", "overload", "ratio"),
        [(L2, 2.13, 1.87), (PICK_UP, 2.28, 1.67)],
        ids=["L2-start", "L2-at-pick-up"],
    )
    def test_one_of_two_tackles_lost_at_a_corner(self, lift, overload, ratio):
        load = square(**lift)
        hang = settle(load, lost=np.arange(8)[None] == 0).demand_rest()
        assert hang.tensions[0].max() * 8 / load.weight[0] == pytest.approx(overload, abs=0.006)
        assert np.argmax(hang.tensions[0]) == 1
        assert hang.ratio[0] == pytest.approx(ratio, abs=0.02)
        np.testing.assert_allclose(np.abs(hang.turn[0, :2]), 0.053, atol=0.0007)
        assert list(np.flatnonzero(hang.slack[0])) == [0]

    def test_spire_on_one_tackle_a_corner_topples_when_one_is_lost(self):
        """Two lines on a diagonal have no stiffness about it, and the third goes slack."""
        hang = settle(square(**L1), lost=np.arange(4)[None] == 0)
        assert not hang.rests[0]
        assert np.isnan(hang.tensions).all()
        with pytest.raises(NoEquilibriumError, match="does not come to rest"):
            hang.demand_rest()

    def test_wrong_coil_overloads_its_partner(self):
        """Belfry and spire at the top; one coil of 131 kN EA, the rest 690 kN."""
        good, wrong = (
            tackle_stiffness(13.2, 42.0, parts=4, axial_stiffness=ea) for ea in (690e3, 131e3)
        )
        stiffness = np.full(8, good)
        stiffness[4] = wrong
        hang = settle(square(**{**PICK_UP, "length": 13.2}, stiffness=stiffness)).demand_rest()
        assert 6e3 < hang.tensions[0, 4] < 8.5e3
        assert hang.tensions[0, 5] == pytest.approx(44e3, rel=0.01)
        assert hang.ratio[0] == pytest.approx(1.90, abs=0.005)
        corner = hang.turn[0, 0] * -2.05 - hang.turn[0, 1] * -2.05 + hang.shift[0, 2]
        others = hang.shift[0, 2]
        assert corner - others == pytest.approx(-0.13, abs=0.005)

    def test_splayed_lines_soften(self):
        """Spire at heel 20.7 from the inner gantry pair: near 3.5 where vertical has 6.1."""
        lift = {**L1, "length": 7.5}
        assert settle(square(**lift)).ratio[0] == pytest.approx(6.1, abs=0.02)
        hang = settle(square(**lift, splay=-0.65)).demand_rest()
        stretch = 4806 * G / 4 / tackle_stiffness(7.5, 42.0, parts=4, axial_stiffness=690e3)
        rule = 6.1 / (1 + 0.65**2 / (7.5 * stretch))
        assert hang.ratio[0] == pytest.approx(rule, rel=0.05)

    @pytest.mark.parametrize(("lift", "ratio"), [(L4, 1.03), (PICK_UP, 1.2)])
    def test_one_side_equalised_halves_the_softest_direction(self, lift, ratio):
        free = settle(square(**lift))
        hang = settle(square(**lift, groups=[0, 1, 2, 3, 4, 4, 4, 4]))
        # The pair on the west side shares one tension: only the east side resists.
        eigen = np.linalg.eigvalsh(hang.tilt_stiffness[0])
        assert eigen[0] == pytest.approx(free.tilt_stiffness[0, 0, 0] / 2, rel=0.01)
        assert hang.ratio[0] == pytest.approx(ratio, abs=0.04)

    def test_offset_centre_tilts_by_the_amplified_angle(self):
        """L4 start, 50 mm off: 5.0 mrad, where 2.6 mrad is the naive value."""
        load = square(**L4, offset=(0.05, 0.0))
        hang = settle(load).demand_rest()
        assert hang.turn[0, 1] == pytest.approx(0.0050, abs=0.00006)
        left = hang.tilt_stiffness[0, 1, 1] - load.weight[0] * load.height[0]
        assert hang.turn[0, 1] == pytest.approx(load.weight[0] * 0.05 / left, rel=0.01)


@pytest.mark.parametrize("length", [1.0, 5.0, 12.0, 50.0])
def test_critical_height_is_the_same_for_any_line_length(length):
    """Vertical lines: it stands exactly while W h_G stays below sum k x^2."""
    lift = {"spacing": 4.0, "length": length, "mass": 10000 / G, "stiffness": 20e3}
    critical = 4 * 20e3 * 2.0**2 / 10000
    assert critical == pytest.approx(32.0)
    assert settle(square(height=0.9999 * critical, **lift)).rests[0]
    assert not settle(square(height=1.0001 * critical, **lift)).rests[0]


def test_equalised_falls_have_no_tilting_stiffness():
    hang = settle(square(**L2, groups=np.zeros(8, dtype=int)))
    assert hang.ratio[0] == pytest.approx(0.0, abs=1e-9)
    assert not hang.rests[0]


def test_equalised_falls_stand_when_the_centre_is_below():
    load = square(**{**L2, "height": -1.0}, groups=np.zeros(8, dtype=int))
    hang = settle(load).demand_rest()
    assert hang.ratio[0] == np.inf
    np.testing.assert_allclose(hang.tensions, load.weight[0] / 8, rtol=1e-9)


def test_four_equal_lines_share_a_centred_weight():
    load = square(spacing=2.0, length=5.0, mass=1000, height=-0.5, stiffness=50e3)
    hang = settle(load).demand_rest()
    np.testing.assert_allclose(hang.tensions, 1000 * G / 4, rtol=1e-9)
    np.testing.assert_allclose(hang.stretch, 1000 * G / 4 / 50e3, rtol=1e-9)


def test_twist_locks_in_a_quarter_of_one_high_corner():
    """One corner hauled by eps more: k eps/4 up at its diagonal, down at its neighbours.

    With the centre at the lift points tilt costs nothing, so that only twist is left.
    """
    load = square(spacing=4.0, length=50.0, mass=4000, height=0.0, stiffness=100e3)
    eps = 0.02
    hang = settle(load, hauled=np.array([[eps, 0, 0, 0]])).demand_rest()
    change = hang.tensions[0] - 4000 * G / 4
    np.testing.assert_allclose(change, 100e3 * eps / 4 * np.array([1, -1, 1, -1]), rtol=0.002)


def test_neighbours_of_a_high_corner_go_slack():
    """At eps = 4 R / k the two neighbours carry nothing."""
    load = square(spacing=4.0, length=50.0, mass=4000, height=0.0, stiffness=100e3)
    eps = 4 * (4000 * G / 4) / 100e3
    before = settle(load, hauled=np.array([[0.97 * eps, 0, 0, 0]])).demand_rest()
    after = settle(load, hauled=np.array([[1.05 * eps, 0, 0, 0]]))
    assert not before.slack.any()
    # On its diagonal alone it has no stiffness left, and may roll to a third line.
    assert not after.rests[0] or list(np.flatnonzero(after.slack[0])) in ([1], [3], [1, 3])


def test_line_that_carries_nothing_is_found_slack():
    """A fifth line hauled far too little hangs loose, and the other four carry all."""
    load = square(spacing=2.0, length=5.0, mass=1000, height=-0.5, stiffness=50e3)
    five = HungLoad(
        upper=np.concatenate([load.upper, [[[0.5, 0.0, 5.0]]]], axis=1),
        lower=np.concatenate([load.lower, [[[0.5, 0.0, 0.0]]]], axis=1),
        stiffness=np.full((1, 5), 50e3),
        weight=load.weight,
        centre=load.centre,
        groups=np.arange(5),
    )
    hang = settle(five, hauled=np.array([[0, 0, 0, 0, -1.0]])).demand_rest()
    assert hang.slack[0].tolist() == [False] * 4 + [True]
    assert hang.tensions[0].sum() == pytest.approx(1000 * G, rel=1e-6)


def test_centre_outside_the_lift_points_finds_no_rest():
    """Beyond the edge the far lines cannot push down: it turns over."""
    load = square(
        spacing=2.0, length=5.0, mass=1000, height=1.0, stiffness=50e3, offset=(1.2, 0)
    )
    assert not settle(load).rests[0]


def test_sideways_stiffness_is_that_of_a_pendulum():
    """The least eigenvalue of a low-hung load is W / L."""
    load = square(spacing=4.0, length=20.0, mass=1000, height=-1.0, stiffness=500e3)
    hang = settle(load).demand_rest()
    assert hang.least[0] == pytest.approx(1000 * G / 20.0, rel=0.01)


def test_losing_every_line_is_no_rest():
    load = square(spacing=2.0, length=5.0, mass=1000, height=-0.5, stiffness=50e3)
    assert not settle(load, lost=np.ones((1, 4), dtype=bool)).rests[0]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"weight": np.array([0.0])}, "positive"),
        ({"weight": np.array([np.nan])}, "finite"),
        ({"stiffness": np.full((1, 4), -1.0)}, "positive"),
        ({"stiffness": np.full((1, 4), np.nan)}, "positive"),
        ({"stiffness": np.full((1, 4), np.inf)}, "finite"),
        ({"centre": np.array([[0, 0, np.nan]])}, "finite"),
        ({"centre": np.zeros((2, 3))}, "finite and"),
        ({"groups": np.array([0, 1, 3, 4])}, "numbered from 0"),
        ({"upper": np.zeros((1, 4, 3)), "lower": np.zeros((1, 4, 3))}, "length"),
    ],
)
def test_nonsense_is_refused(change, message):
    good = square(spacing=2.0, length=5.0, mass=1000, height=0.5)
    fields = {
        name: getattr(good, name)
        for name in ("upper", "lower", "stiffness", "weight", "centre", "groups")
    }
    with pytest.raises(ValueError, match=message):
        HungLoad(**{**fields, **change})


def test_lines_that_lead_down_are_refused():
    load = square(spacing=2.0, length=5.0, mass=1000, height=0.5)
    down = HungLoad(
        upper=load.lower - [0, 0, 1.0],
        lower=load.lower,
        stiffness=load.stiffness,
        weight=load.weight,
        centre=load.centre,
        groups=load.groups,
    )
    with pytest.raises(ValueError, match="do not pull upward"):
        settle(down)


@pytest.mark.parametrize(
    "wrong", [{"hauled": np.zeros((1, 3))}, {"lost": np.zeros((2, 4), bool)}]
)
def test_haul_and_loss_must_match_the_lines(wrong):
    with pytest.raises(ValueError, match="must be"):
        settle(square(spacing=2.0, length=5.0, mass=1000, height=0.5), **wrong)
