"""Sections between shoes: against the drawer rule, and the laws of balance."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from towerlift.mechanics.guided import Disturbance, settle_guided
from towerlift.mechanics.hang import HungLoad, settle
from towerlift.mechanics.jam import drawer_pull
from towerlift.mechanics.shoes import Guides, Wind

CORNERS = np.array([[1.0, 1.0], [1.0, -1.0], [-1.0, -1.0], [-1.0, 1.0]])
WEIGHT = 2e5


def shoes(span, *, friction=0.0, gap=1e-6, half=2.0, low=0.0):
    at, outward = [], []
    for z in (low, low + span):
        for x, y in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            for side in (-0.5, 0.5):
                at.append((half * (x + side * (x == 0)), half * (y + side * (y == 0)), z))
                outward.append((x, y, 0))
    return Guides(
        at=np.array([at], dtype=float),
        outward=np.array([outward], dtype=float),
        gap=np.full((1, len(at)), gap),
        friction=np.array([friction]),
        stiffness=1e9,
    )


def on_lines(*, spacing=4.0, length=10.0, height=3.0, stretch=0.2, offset=(0.0, 0.0)):
    lower = np.column_stack([CORNERS * spacing / 2 + offset, np.zeros(4)])
    return HungLoad(
        upper=(lower + np.array([0, 0, length]))[None],
        lower=lower[None],
        stiffness=np.full((1, 4), WEIGHT / 4 / stretch),
        weight=np.array([WEIGHT]),
        centre=np.array([[0.0, 0.0, height]]),
        groups=np.arange(4),
    )


# Source: Vector Mechanics for Engineers, bracket on a pipe (sample problem 4.13 / 8.3 by
# edition): spacing 6 in, friction 0.25, held by friction alone from 12 in outward.
SPACING_IN, FRICTION, PRINTED_IN = 6.0, 0.25, 12.0


@pytest.mark.parametrize(("place", "slides"), [(0.97, True), (1.03, False)])
def test_bracket_on_a_pipe_locks_where_it_is_printed(place, slides):
    # Inches taken as metres: the answer is a ratio of lengths.
    load = on_lines(spacing=1.0, offset=(place * PRINTED_IN, 0.0), height=1.0, stretch=0.01)
    guides = shoes(SPACING_IN, friction=FRICTION, half=1e-6)
    hang = settle_guided(load, guides, way="up")
    assert bool(hang.rests[0]) is slides
    assert bool(hang.jammed[0]) is not slides


@pytest.mark.parametrize("offset", [(0.5, 0.0), (0.3, -0.4), (0.0, 0.9)])
@pytest.mark.parametrize("friction", [0.1, 0.2, 0.5])
def test_pull_of_a_drawer(offset, friction):
    span = 4.0
    hang = settle_guided(on_lines(offset=offset), shoes(span, friction=friction), way="up")
    share = 2 * friction * np.abs(offset).sum() / span
    assert hang.tensions.sum() == pytest.approx(drawer_pull(WEIGHT, share), rel=2e-3)
    # Every newton that drags is a newton more to pull.
    drag = friction * hang.pressures.sum()
    assert hang.tensions.sum() == pytest.approx(WEIGHT + drag, rel=1e-6)


def test_letting_down_takes_less_and_never_locks():
    load = on_lines(offset=(1.5, 0.0))
    down = settle_guided(load, shoes(2.0, friction=0.9), way="down")
    assert down.rests[0]
    assert not down.jammed[0]
    assert 0 < down.tensions.sum() < WEIGHT


def test_shoes_hold_what_topples_and_take_its_couple():
    load = on_lines(height=9.0, stretch=1.0)
    free = settle(load)
    assert not free.rests[0]
    span, gap = 5.0, 0.02
    hang = settle_guided(load, shoes(span, gap=gap))
    assert hang.rests[0]
    assert hang.least[0] > 0
    tilt = np.linalg.norm(hang.turn[0, :2])
    # It leans by all the play, about one axis or both.
    assert np.abs(hang.turn[0, :2]).max() == pytest.approx(2 * gap / span, rel=0.02)
    # R = (W h - k) theta / a, about each axis that leans.
    stiffness = float(np.linalg.eigvalsh(free.tilt_stiffness[0])[0])
    couple = (WEIGHT * 9.0 - stiffness) * tilt
    # The upper shoes alone have an arm about the lift points.
    upper = hang.pressures[0, 8:].sum() * span
    leaning = np.abs(hang.turn[0, :2]).sum() / tilt
    assert upper == pytest.approx(couple * leaning, rel=0.02)


@settings(max_examples=30, deadline=None)
@given(
    hauled=st.lists(st.floats(-0.03, 0.03), min_size=4, max_size=4),
    force=st.floats(-5e3, 5e3),
    gap=st.floats(0.002, 0.05),
)
def test_forces_and_moments_balance(hauled, force, gap):
    load, guides = on_lines(), shoes(5.0, gap=gap)
    wind = Wind(force=np.array([[force, 0.0, 0.0]]), at=np.array([[0.0, 0.0, 6.0]]))
    disturbed = Disturbance(hauled=np.array([hauled]), wind=wind)
    hang = settle_guided(load, guides, disturbed=disturbed)
    assert hang.rests[0]
    push = -(hang.pressures[0, :, None] * guides.outward[0]).sum(axis=0)
    assert hang.tensions.sum() == pytest.approx(WEIGHT, rel=1e-3)
    # The lines lean a little: what is left sideways is theirs.
    sway = hang.shift[0, 0] * WEIGHT / 10.0
    assert push[0] + force == pytest.approx(sway, abs=60 + 0.05 * abs(sway))


@settings(max_examples=30, deadline=None)
@given(hauled=st.lists(st.floats(-0.01, 0.01), min_size=4, max_size=4))
def test_shoes_that_stand_far_off_change_nothing(hauled):
    load = on_lines()
    free = settle(load, hauled=np.array([hauled]))
    hang = settle_guided(
        load, shoes(5.0, gap=2.0), disturbed=Disturbance(hauled=np.array([hauled]))
    )
    np.testing.assert_allclose(hang.tensions, free.tensions, rtol=1e-7)
    np.testing.assert_allclose(hang.turn, free.turn, atol=1e-9)
    assert not hang.touching.any()


def test_cases_side_by_side_are_the_cases_one_by_one():
    rng = np.random.default_rng(8)
    hauled = rng.uniform(-0.05, 0.05, (6, 4))
    one, guides = on_lines(offset=(0.3, 0.1)), shoes(4.0, friction=0.2, gap=0.01)

    def tiled(array, m):
        return np.repeat(array, m, axis=0)

    many = HungLoad(
        upper=tiled(one.upper, 6),
        lower=tiled(one.lower, 6),
        stiffness=tiled(one.stiffness, 6),
        weight=tiled(one.weight, 6),
        centre=tiled(one.centre, 6),
        groups=one.groups,
    )
    rails = Guides(
        at=tiled(guides.at, 6),
        outward=tiled(guides.outward, 6),
        gap=tiled(guides.gap, 6),
        friction=tiled(guides.friction, 6),
        stiffness=guides.stiffness,
    )
    together = settle_guided(many, rails, disturbed=Disturbance(hauled=hauled), way="up")
    for n in range(6):
        alone = settle_guided(
            one, guides, disturbed=Disturbance(hauled=hauled[n : n + 1]), way="up"
        )
        np.testing.assert_allclose(together.tensions[n], alone.tensions[0], rtol=1e-6)


def test_nothing_holds_it_and_nothing_is_said():
    hang = settle_guided(on_lines(height=9.0, stretch=1.0), shoes(5.0, gap=4.0))
    assert not hang.rests[0]
    assert np.isnan(hang.tensions).all()
    assert hang.least[0] < 0 or np.isfinite(hang.least[0])


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"gap": np.full((1, 16), -0.01)}, "must not be negative"),
        ({"friction": np.array([np.nan])}, "friction"),
        ({"outward": np.ones((1, 16, 3))}, "unit normals"),
        ({"stiffness": 0.0}, "stiffness must be positive"),
        ({"at": np.zeros((1, 4, 3))}, "at must be"),
    ],
)
def test_what_cannot_be_is_refused(changes, words):
    good = shoes(5.0)
    values = {name: getattr(good, name) for name in good.__slots__}
    with pytest.raises(ValueError, match=words):
        Guides(**values | changes)


def test_another_number_of_cases_is_refused():
    two = Wind(force=np.zeros((2, 3)), at=np.zeros((2, 3)))
    with pytest.raises(ValueError, match="1 cases"):
        settle_guided(on_lines(), shoes(5.0), disturbed=Disturbance(wind=two))
    with pytest.raises(ValueError, match="force must be"):
        Wind(force=np.full((1, 3), np.inf), at=np.zeros((1, 3)))
