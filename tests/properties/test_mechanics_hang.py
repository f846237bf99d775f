"""Laws of a hanging section, and the answer of an energy written a second time.

The second energy shares no code with the package: lines one by one, turns as angles,
minimised by a general-purpose minimiser.
"""

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from towerlift.mechanics.hang import HungLoad, settle

SEEDS = st.integers(0, 2**32 - 1)


def random_load(seed, *, n_cases=1, unlike=1.0):
    """Four to eight lines, unlike in stiffness, splay and place, stable more often than not."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(4, 9))
    turns = 2 * np.pi * (np.arange(n) + rng.uniform(-0.2, 0.2, n)) / n
    radius = rng.uniform(1.5, 3.5)
    lower = np.column_stack(
        [radius * np.cos(turns), radius * np.sin(turns), rng.uniform(-0.1, 0.1, n)]
    )
    upper = lower + np.column_stack([rng.uniform(-0.5, 0.5, (n, 2)), rng.uniform(4, 25, n)])
    weight = rng.uniform(2e4, 2e5)
    stiffness = weight / n / rng.uniform(0.05, 0.3) * (1 + 0.4 * unlike * rng.uniform(-1, 1, n))
    toppling = stiffness.mean() * n * radius**2 / 2 / weight
    centre = np.array(
        [*(unlike * rng.uniform(-0.1, 0.1, 2)), rng.uniform(-1.0, 0.5) * toppling]
    )

    def cases(array):
        return np.repeat(np.asarray(array, dtype=float)[None], n_cases, axis=0)

    return HungLoad(
        upper=cases(upper),
        lower=cases(lower),
        stiffness=cases(stiffness),
        weight=cases(weight),
        centre=cases(centre),
        groups=np.arange(n),
    )


def energy_again(load, hauled, lost):
    """The energy of one case as a function of three moves and three turns."""
    middle = np.mean(load.lower[0], axis=0)
    rise = [
        (u[2] - p[2]) / np.sqrt(((u - p) ** 2).sum())
        for u, p in zip(load.upper[0], load.lower[0], strict=True)
    ]
    haul = load.weight[0] / sum(k * r for k, r in zip(load.stiffness[0], rise, strict=True))

    def place(point, q):
        cx, sx, cy, sy, cz, sz = (f(a) for a in q[3:] for f in (np.cos, np.sin))
        x, y, z = point - middle
        y, z = cx * y - sx * z, sx * y + cx * z
        x, z = cy * x + sy * z, -sy * x + cy * z
        x, y = cz * x - sz * y, sz * x + cz * y
        return middle + q[:3] + np.array([x, y, z])

    def energy(q):
        total = load.weight[0] * (place(load.centre[0], q)[2] - load.centre[0, 2])
        for i, (u, p) in enumerate(zip(load.upper[0], load.lower[0], strict=True)):
            if lost[i]:
                continue
            unstretched = np.sqrt(((u - p) ** 2).sum()) - haul - hauled[i]
            length = np.sqrt(((u - place(p, q)) ** 2).sum())
            total += load.stiffness[0, i] / 2 * max(0.0, length - unstretched) ** 2
        return total / load.weight[0]

    return energy, place


@settings(max_examples=25)
@given(seed=SEEDS, lose=st.booleans())
def test_rest_is_where_a_general_minimiser_finds_it(seed, lose):
    load = random_load(seed)
    rng = np.random.default_rng(seed + 1)
    n = load.stiffness.shape[1]
    hauled = rng.uniform(-0.02, 0.02, n)
    lost = np.arange(n) == (0 if lose else -1)
    hang = settle(load, hauled=hauled[None], lost=lost[None])
    assume(hang.rests[0] and hang.ratio[0] > 1.2)
    energy, place = energy_again(load, hauled, lost)
    # Pushed off by millimetres and milliradians, it must come back.
    near = np.concatenate([hang.shift[0], hang.turn[0]]) + rng.uniform(-0.005, 0.005, 6)
    found = minimize(energy, near, method="BFGS", options={"gtol": 1e-9})
    found = minimize(energy, found.x, method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 0})
    # An energy is flat at its foot: places agree to the root of its rounding.
    np.testing.assert_allclose(hang.shift[0], found.x[:3], atol=3e-4)
    turned = np.array([place(p, found.x) for p in load.lower[0]])
    length = np.linalg.norm(load.upper[0] - turned, axis=1)
    haul = load.weight[0] / (
        load.stiffness[0] @ ((load.upper - load.lower)[0, :, 2] / load.lengths[0])
    )
    stretch = length - load.lengths[0] + haul + hauled
    tensions = load.stiffness[0] * np.where(lost, 0.0, np.maximum(stretch, 0.0))
    np.testing.assert_allclose(hang.tensions[0], tensions, atol=2e-3 * load.weight[0] / n)


@settings(max_examples=40)
@given(seed=SEEDS)
def test_stiffness_is_the_curvature_of_the_energy(seed):
    """The smallest curvature of the second energy, by differences, is `least`."""
    load = random_load(seed, unlike=0.1)
    hang = settle(load)
    assume(hang.rests[0] and hang.tensions.min() > 0.02 * load.weight[0] / 8)
    n = load.stiffness.shape[1]
    energy, _ = energy_again(load, np.zeros(n), np.zeros(n, dtype=bool))
    # Angles of the second energy turn about x, then y, then z.
    turn = hang.turn[0]
    assume(np.abs(turn).max() < 0.02)
    at = np.concatenate([hang.shift[0], turn])
    middle = load.lower[0].mean(axis=0)
    reach = np.sqrt(((load.lower[0] - middle) ** 2).sum(axis=1).mean())
    scale = np.array([1, 1, 1, 1 / reach, 1 / reach, 1 / reach])
    step = 2e-4 * np.eye(6) * scale
    second = np.empty((6, 6))
    for i in range(6):
        for j in range(6):
            second[i, j] = (
                energy(at + step[i] + step[j])
                - energy(at + step[i] - step[j])
                - energy(at - step[i] + step[j])
                + energy(at - step[i] - step[j])
            ) / (4 * 2e-4**2)
    spectrum = np.linalg.eigvalsh(second) * load.weight[0]
    assert np.isclose(hang.least[0], spectrum[0], rtol=0.05, atol=0.002 * spectrum[-1])


@given(seed=SEEDS, turn=st.floats(0, 2 * np.pi), x=st.floats(-50, 50), z=st.floats(-50, 50))
def test_turning_and_shifting_everything_changes_nothing(seed, turn, x, z):
    load = random_load(seed)
    c, s = np.cos(turn), np.sin(turn)
    about = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])

    def moved(points):
        return points @ about.T + [x, -x / 2, z]

    there = HungLoad(
        upper=moved(load.upper),
        lower=moved(load.lower),
        centre=moved(load.centre),
        stiffness=load.stiffness,
        weight=load.weight,
        groups=load.groups,
    )
    before, after = settle(load), settle(there)
    assume(abs(before.ratio[0] - 1) > 1e-3)
    assert before.rests[0] == after.rests[0]
    assert np.isclose(before.ratio[0], after.ratio[0], rtol=1e-6) or before.ratio[0] == np.inf
    if before.rests[0]:
        np.testing.assert_allclose(
            after.tensions, before.tensions, rtol=1e-6, atol=1e-6 * load.weight[0]
        )
        np.testing.assert_allclose(
            after.turn[0, :2], about[:2, :2] @ before.turn[0, :2], atol=1e-7
        )


@given(seed=SEEDS, factor=st.floats(0.1, 10))
def test_heavier_on_stiffer_lines_hangs_the_same(seed, factor):
    load = random_load(seed)
    scaled = HungLoad(
        upper=load.upper,
        lower=load.lower,
        centre=load.centre,
        stiffness=load.stiffness * factor,
        weight=load.weight * factor,
        groups=load.groups,
    )
    before, after = settle(load), settle(scaled)
    assume(before.rests[0])
    np.testing.assert_allclose(after.turn, before.turn, atol=1e-8)
    np.testing.assert_allclose(after.tensions, factor * before.tensions, rtol=1e-6, atol=1e-3)


@given(seed=SEEDS)
def test_line_pulls_balance_the_weight(seed):
    load = random_load(seed)
    hang = settle(load)
    assume(hang.rests[0])
    # Upward shares of slanted lines at the rest pose, rebuilt from the pose alone.
    angle = np.linalg.norm(hang.turn[0])
    axis = hang.turn[0] / angle if angle > 0 else hang.turn[0]
    arms = load.lower[0] - load.middle[0]
    turned = (
        arms * np.cos(angle)
        + np.cross(axis, arms) * np.sin(angle)
        + np.outer(arms @ axis, axis) * (1 - np.cos(angle))
    )
    lines = load.upper[0] - load.middle[0] - hang.shift[0] - turned
    along = lines / np.linalg.norm(lines, axis=1, keepdims=True)
    force = hang.tensions[0] @ along
    np.testing.assert_allclose(force, [0, 0, load.weight[0]], atol=1e-6 * load.weight[0])


@given(seed=SEEDS, lower_by=st.floats(0.01, 2.0))
def test_a_lower_centre_stands_better(seed, lower_by):
    load = random_load(seed)
    lowered = HungLoad(
        upper=load.upper,
        lower=load.lower,
        centre=load.centre - [0, 0, lower_by],
        stiffness=load.stiffness,
        weight=load.weight,
        groups=load.groups,
    )
    before, after = settle(load), settle(lowered)
    assume(before.rests[0])
    assert after.rests[0]
    assert after.ratio[0] > before.ratio[0] or before.ratio[0] == np.inf


@settings(max_examples=10)
@given(seed=SEEDS)
def test_cases_side_by_side_do_not_touch_each_other(seed):
    load = random_load(seed, n_cases=5)
    n = load.stiffness.shape[1]
    hauled = np.random.default_rng(seed).uniform(-0.05, 0.05, (5, n))
    together = settle(load, hauled=hauled)
    for case in range(5):
        alone = settle(random_load(seed), hauled=hauled[case : case + 1])
        np.testing.assert_allclose(together.tensions[case], alone.tensions[0], rtol=1e-9)
        assert together.rests[case] == alone.rests[0]
