"""The hang solver against MuJoCo, which brings the same sections to rest by itself.

Same section, same lines, same rails; another engine, another method: it integrates the
motion until it has died away, where ours looks for the balance. Left out is a band of 5 %
on both sides of jamming, where the engine's friction creeps, and on both sides of
toppling, where it takes for ever to make up its mind.
"""

from itertools import pairwise

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from tests.unit.mechanics.tower_in_mujoco import Engine, Settings, Tower
from towerlift.mechanics.guided import Disturbance, settle_guided
from towerlift.mechanics.hang import HungLoad, settle
from towerlift.mechanics.jam import jam_share
from towerlift.mechanics.shoes import Guides, Wind

BAND = 0.05
HARD = 1e9  # shoes as hard as the engine's planes [N/m]
PLACE, ANGLE, LOAD = 1e-3, 1e-4, 5e-3  # [m], [rad], share of the mean load
CORNERS = np.array([[1.0, 1.0], [1.0, -1.0], [-1.0, -1.0], [-1.0, 1.0]])
N_FREE, N_TOPPLING, N_GUIDED, N_MOVING = 20, 8, 14, 16


def shoes(half, low, span):
    """Two shoes on each face at two heights, and their normals."""
    at, outward = [], []
    for z in (low, low + span):
        for x, y in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            for side in (-0.7, 0.7):
                at.append((half * (x + side * (x == 0)), half * (y + side * (y == 0)), z))
                outward.append((x, y, 0))
    return np.array(at, dtype=float), np.array(outward, dtype=float)


def free_tower(rng, ratio):
    """A section on four or eight free lines whose stiffness is a ratio of what topples it."""
    spacing, length, height = rng.uniform(2, 5), rng.uniform(3, 20), rng.uniform(2, 8)
    weight, a_corner = rng.uniform(3e4, 2e5), int(rng.integers(1, 3))
    lower = np.repeat(np.column_stack([CORNERS * spacing / 2, np.zeros(4)]), a_corner, axis=0)
    n = len(lower)
    splay = rng.uniform(-0.02, 0.02, (n, 3)) * length
    stiffness = ratio * weight * height / spacing**2 / (n / 4) * rng.uniform(0.97, 1.03, n)
    return Tower(
        upper=lower + [0, 0, length] + splay * [1, 1, 0],
        lower=lower,
        stiffness=stiffness,
        weight=weight,
        centre=np.array([*rng.uniform(-0.02, 0.02, 2), height]),
        at=np.zeros((0, 3)),
        outward=np.zeros((0, 3)),
        gap=0.0,
        friction=0.0,
        force=np.zeros(3),
    )


def guided_tower(rng, *, share=None):
    """A section between rails; with a share of jamming, hauled off its axis and rough."""
    spacing, span = rng.uniform(2, 5), rng.uniform(2, 10)
    weight = rng.uniform(3e4, 2e5)
    lower = np.column_stack([CORNERS * spacing / 2, np.zeros(4)])
    at, outward = shoes(spacing / 2 + 0.2, rng.uniform(0, 1), span)
    offset, friction, gap = rng.uniform(-0.05, 0.05, 2), 0.0, rng.uniform(0.005, 0.03)
    stretch = rng.uniform(0.1, 0.25)
    if share is not None:
        # Rough enough, shoes across from each other lock by themselves: not a drawer's jam.
        wedging = span / (spacing + 0.4)
        friction = rng.uniform(0.1, min(0.6, 0.7 * wedging))
        reach = share * span / 2 / friction
        part = rng.uniform(0, 1)
        offset = reach * np.array([part, part - 1])
        gap, stretch = 1e-4, 0.02
        lower = lower + np.array([*offset, 0.0])
        offset = np.zeros(2)
    return Tower(
        upper=lower + np.array([0, 0, rng.uniform(4, 15)]),
        lower=lower,
        stiffness=np.full(4, weight / 4 / stretch),
        weight=weight,
        centre=np.array([*offset, rng.uniform(2, 7)]),
        at=at,
        outward=outward,
        gap=gap,
        friction=friction,
        force=np.zeros(3),
    )


def loaded(tower):
    return HungLoad(
        upper=tower.upper[None],
        lower=tower.lower[None],
        stiffness=tower.stiffness[None],
        weight=np.array([tower.weight]),
        centre=tower.centre[None],
        groups=np.arange(len(tower.lower)),
    )


def guides(tower, stiffness=HARD):
    return Guides(
        at=tower.at[None],
        outward=tower.outward[None],
        gap=np.full((1, len(tower.at)), tower.gap),
        friction=np.array([tower.friction]),
        stiffness=stiffness,
    )


def assert_same_rest(engine, shift, turn, tensions):
    np.testing.assert_allclose(engine.middle, shift, atol=PLACE)
    np.testing.assert_allclose(Rotation.from_matrix(engine.turn).as_rotvec(), turn, atol=ANGLE)
    mean = engine.tower.weight / len(tensions)
    np.testing.assert_allclose(engine.tensions, tensions, atol=LOAD * mean)


def check_free(seed):
    rng = np.random.default_rng([1, seed])
    tower = free_tower(rng, rng.uniform(1.5, 4))
    hauled = rng.uniform(-0.02, 0.02, len(tower.lower))
    hang = settle(loaded(tower), hauled=hauled[None])
    assert hang.rests[0]
    engine = Engine(tower, Settings(step=2e-3))
    engine.haul(hauled)
    assert engine.run(240)
    assert_same_rest(engine, hang.shift[0], hang.turn[0], hang.tensions[0])


def check_toppling(seed):
    rng = np.random.default_rng([2, seed])
    tower = free_tower(rng, rng.uniform(0.5, 0.85))
    hang = settle(loaded(tower))
    assert not hang.rests[0]
    assert hang.ratio[0] < 1 - BAND
    assert hang.least[0] < 0
    engine = Engine(tower, Settings(step=2e-3))
    engine.run(120)
    assert engine.tilt > 0.3


def check_guided(seed):
    rng = np.random.default_rng([3, seed])
    tower = guided_tower(rng)
    force = np.array([*rng.uniform(-0.05, 0.05, 2), 0.0]) * tower.weight
    tower = Tower(**{name: getattr(tower, name) for name in tower.__slots__} | {"force": force})
    hauled = rng.uniform(-0.06, 0.06, 4)
    blown = Wind(force=force[None], at=tower.centre[None])
    disturbed = Disturbance(hauled=hauled[None], wind=blown)
    hang = settle_guided(loaded(tower), guides(tower), disturbed=disturbed)
    assert hang.rests[0]
    assert hang.touching.any()
    engine = Engine(tower)
    engine.haul(hauled)
    assert engine.run(120)
    assert_same_rest(engine, hang.shift[0], hang.turn[0], hang.tensions[0])


def hauled_up(tower, settings=None):
    """Share of the haul that the section still rises by, and the pull that it then takes."""
    engine = Engine(tower, settings)
    engine.run(10)
    speed, steps, settled = 0.1, 20, 10.0
    east, north = tower.lower.mean(axis=0)[:2]
    share = float(jam_share(tower.friction, east, north, np.ptp(tower.at[:, 2])))
    # Enough to take up the stretch of the pull, however hard it comes.
    whole = 0.02 * min(settled, 1 + 1.5 / abs(1 - share)) + 0.2
    pulls, before, hauled = [], 0.0, 0.0
    chunk = speed * steps * engine.settings.step
    while hauled < whole:
        hauled += chunk
        engine.haul(np.full(len(tower.lower), hauled))
        engine.run(steps * engine.settings.step, until_still=False)
        if hauled > whole - 0.1:
            pulls.append(engine.tensions.sum())
        else:
            before = engine.middle[2]
    rise = (engine.middle[2] - before) / (chunk * len(pulls))
    return rise, float(np.mean(pulls))


def check_moving(seed):
    rng = np.random.default_rng([4, seed])
    slides = seed % 2 == 0
    share = rng.uniform(0.2, 1 - 3 * BAND) if slides else rng.uniform(1 + 2 * BAND, 2.0)
    tower = guided_tower(rng, share=share)
    hang = settle_guided(loaded(tower), guides(tower), way="up")
    assert bool(hang.rests[0]) is slides
    assert bool(hang.jammed[0]) is not slides
    rise, pull = hauled_up(tower)
    if slides:
        assert rise > 0.9
        # Share of the pull that friction eats: what the pull is most sensitive to.
        ours = 1 - tower.weight / hang.tensions.sum()
        assert 1 - tower.weight / pull == pytest.approx(ours, abs=0.03)
    else:
        assert rise < 0.5


SHORT = 3


@pytest.mark.parametrize("seed", range(SHORT))
def test_free_sections_rest_alike(seed):
    check_free(seed)


@pytest.mark.parametrize("seed", range(SHORT))
def test_sections_topple_alike(seed):
    check_toppling(seed)


@pytest.mark.parametrize("seed", range(SHORT))
def test_guided_sections_rest_alike(seed):
    check_guided(seed)


@pytest.mark.parametrize("seed", range(2))
def test_sections_slide_and_jam_alike(seed):
    check_moving(seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(SHORT, N_FREE))
def test_more_free_sections_rest_alike(seed):
    check_free(seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(SHORT, N_TOPPLING))
def test_more_sections_topple_alike(seed):
    check_toppling(seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(SHORT, N_GUIDED))
def test_more_guided_sections_rest_alike(seed):
    check_guided(seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2, N_MOVING))
def test_more_sections_slide_and_jam_alike(seed):
    check_moving(seed)


FINER = ((2e-3, 8e-3), (1e-3, 4e-3), (5e-4, 2e-3), (2.5e-4, 1e-3))


@pytest.mark.slow
def test_rest_does_not_hang_on_the_engines_steps_and_ours_hardens_towards_it():
    tower = guided_tower(np.random.default_rng(5))
    hauled = np.array([0.08, -0.04, 0.0, 0.02])
    disturbed = Disturbance(hauled=hauled[None])
    found = []
    for step, hardness in FINER:
        engine = Engine(tower, Settings(step=step, hardness=hardness))
        engine.haul(hauled)
        assert engine.run(120)
        found.append(engine.tensions)
    mean = tower.weight / 4
    np.testing.assert_allclose(found[:-1], np.array(found[-1:] * 3), atol=1e-4 * mean)
    off = []
    for stiffness in (1e6, 1e7, 1e8):
        hang = settle_guided(loaded(tower), guides(tower, stiffness), disturbed=disturbed)
        assert hang.touching.any()
        off.append(np.abs(hang.tensions[0] - found[-1]).max() / mean)
    # Ten times as hard, ten times as near.
    assert all(after < before / 5 for before, after in pairwise(off))
    assert off[-1] < 1e-3


@pytest.mark.slow
def test_the_pull_of_a_sliding_section_comes_nearer_with_finer_steps():
    rng = np.random.default_rng([4, 0])
    tower = guided_tower(rng, share=rng.uniform(0.2, 1 - 3 * BAND))
    hang = settle_guided(loaded(tower), guides(tower), way="up")
    ours = 1 - tower.weight / hang.tensions.sum()
    off = []
    for step, hardness in FINER:
        _, pull = hauled_up(tower, Settings(step=step, hardness=hardness))
        off.append(abs(1 - tower.weight / pull - ours))
    assert all(after < before for before, after in pairwise(off))
    assert off[-1] < 0.5 * off[0]
