"""Bounds of many departures against exact answers for some of them."""

import numpy as np
import pytest

from tests.benchmarks.gap_meshes import bar, framed_section, join, raise_path, square_shaft
from towerlift.gaps import (
    Lean,
    MarginScope,
    build_body,
    build_margins,
    least_gap,
    montecarlo,
    sample_bounds,
    settle_samples,
    straight_path,
)
from towerlift.gaps.montecarlo import departed

SPREAD = np.array([2e-3, 2e-3, 4e-4, 4e-4, 4e-4, 1e-3, 1e-3, 2e-4, 2e-4])


def body_of(mesh):
    return build_body(mesh.vertices, mesh.faces, mesh.members)


def ledged_shaft():
    """Walls with a ledge, a sill and a soffit standing into the bore."""
    walls = square_shaft(8_000)
    ledge = bar(np.array([2.98, -1.0, 6.0]), np.array([2.98, 1.0, 6.0]), (0.06, 0.3))
    soffit = bar(np.array([-1.5, 2.98, 10.0]), np.array([0.5, 2.98, 10.0]), (0.05, 0.2))
    return body_of(join([walls, ledge, soffit]))


@pytest.fixture(scope="module")
def margins():
    section = body_of(framed_section(half=2.88))
    return build_margins(
        section,
        ledged_shaft(),
        raise_path(24, drift=0.002),
        scope=MarginScope(cell=1.0, blocks=2),
    )


def samples(n, seed=0):
    return np.random.default_rng(seed).normal(size=(n, 9)) * SPREAD


def test_no_sample_is_nearer_than_its_bound(margins):
    given = samples(12)
    bounds = sample_bounds(margins, given)
    assert np.isfinite(bounds).all()
    for sample, bound in zip(given, bounds, strict=True):
        path = departed(margins.path, sample, margins.moving)
        exact = least_gap(margins.moving, margins.fixed, path)
        assert bound <= exact.upper
        # A bound that always said nothing would also pass.
        assert bound >= exact.upper - 0.03


def by_hand(margins, sample):
    """The same bound, every direction and block looked up, on halves of the squares."""
    reach, turn = margins.scope.reach, margins.scope.turn
    x, y, wx, wy, wz, growth, survey, lx, ly = sample
    grid = np.linspace(-turn, turn, margins.tables.shape[1])
    turned = np.linalg.norm(sample[2:5])
    least = reach - turned * margins.radius
    least -= np.hypot(x, y) + np.hypot(lx, ly) * np.abs(margins.middles).max()
    for k, (nx, ny) in enumerate(margins.directions):
        for block, middle in enumerate(margins.middles):
            table = margins.tables[k, :, :, block]
            at = np.array([wy * nx - wx * ny, wz])
            p, q = (min(int(np.searchsorted(grid, w, "right")) - 1, len(grid) - 2) for w in at)
            u, v = (at - (grid[p], grid[q])) / (grid[1] - grid[0])
            corner, far = table[p, q], table[p + 1, q + 1]
            side = table[p + 1, q] if u > v else table[p, q + 1]
            more, less = max(u, v), min(u, v)
            value = corner + more * (side - corner) + less * (far - side)
            least = min(least, value - nx * (x + lx * middle) - ny * (y + ly * middle))
    taken = abs(growth) + abs(survey) + turned * margins.slack_per_turn
    taken += 0.5 * turned**2 * margins.radius + np.hypot(lx, ly) * margins.half_block
    return least - taken


def test_directions_that_are_passed_over_change_nothing(margins):
    """Small departures, for which most are, and large ones, for which few are."""
    given = np.concatenate([samples(150, seed=1), samples(150, seed=2) * 3.0])
    given[:, 2:5] = np.clip(given[:, 2:5], -2.3e-3, 2.3e-3)
    given[0, 2:5] = margins.scope.turn, 0.0, -margins.scope.turn
    found = sample_bounds(margins, given)
    assert np.isfinite(found).all()
    np.testing.assert_allclose(found, [by_hand(margins, s) for s in given], atol=1e-12)


def test_what_the_search_dropped_is_bounded_by_nothing(monkeypatch):
    monkeypatch.setattr(montecarlo, "search_margin", lambda *_: False)
    block = body_of(bar(np.zeros(3), np.array([0.0, 0.0, 1.0]), (1.8, 1.8)))
    plate = body_of(bar(np.array([1.1, -1.0, 0.5]), np.array([1.1, 1.0, 0.5]), (0.2, 3.0)))
    path = straight_path(0.0, 0.2, lean=Lean(x=0.0), steps=4)
    margins = build_margins(block, plate, path)
    given = np.zeros((2, 9))
    given[1, :5] = 1e-3
    assert (sample_bounds(margins, given) == -np.inf).all()


def test_progress_is_told_in_tenths():
    block = body_of(bar(np.zeros(3), np.array([0.0, 0.0, 1.0]), (1.8, 1.8)))
    plate = body_of(bar(np.array([1.1, -1.0, 0.5]), np.array([1.1, 1.0, 0.5]), (0.2, 3.0)))
    path = straight_path(0.0, 0.2, lean=Lean(x=0.0), steps=4)
    told: list[str] = []
    build_margins(block, plate, path, report=told.append)
    assert 5 <= len(told) <= 10
    jobs = told[-1].split()[-1]
    assert told[-1] == f"margins of the body's cells: {jobs} of {jobs}"


def test_block_between_walls_has_its_margin():
    """A shift takes itself off the gap to the wall it goes to, and no more."""
    block = body_of(bar(np.zeros(3), np.array([0.0, 0.0, 1.0]), (1.8, 1.8)))
    plates = [
        bar(np.array([x, -1.0, 0.5]), np.array([x, 1.0, 0.5]), (0.2, 3.0))
        for x in (-1.05, 1.05)
    ]
    walls = body_of(join(plates))
    path = straight_path(0.0, 0.2, lean=Lean(x=0.0), steps=4)
    margins = build_margins(block, walls, path)
    shifted = np.zeros((3, 9))
    shifted[1, 0], shifted[2, 1] = 0.02, 0.02
    np.testing.assert_allclose(sample_bounds(margins, shifted), [0.05, 0.03, 0.05], atol=1e-3)


def test_settling_decides_and_agrees(margins):
    given = samples(6, seed=5)
    exact = [
        least_gap(
            margins.moving, margins.fixed, departed(margins.path, sample, margins.moving)
        ).upper
        for sample in given
    ]
    limit = float(np.median(exact))
    errors = np.abs(given[:, 5]) + np.abs(given[:, 6])
    verdicts = settle_samples(margins, given, limit)
    assert verdicts.kept + verdicts.broken + verdicts.undecided == len(given)
    assert (verdicts.lower <= np.array(exact)).all()
    assert (verdicts.upper >= np.array(exact) - 1e-4).all()
    certain = np.array(exact) - 2 * errors - 2e-4 >= limit
    assert verdicts.kept >= certain.sum()


def test_beyond_the_scope_nothing_is_bounded(margins):
    given = np.zeros((5, 9))
    given[0, 4] = 0.1
    given[1, 0] = 1.0
    given[2, 3] = np.nan
    given[3, 5] = np.nan
    given[4, 0] = np.nan
    bounds = sample_bounds(margins, given)
    assert bounds[0] == -np.inf
    assert bounds[1] < 0
    assert (bounds[2:] == -np.inf).all()
    settled = settle_samples(margins, given[2:3], 0.0)
    assert settled.undecided == 1


def test_samples_of_the_wrong_shape_are_refused(margins):
    with pytest.raises(ValueError, match="samples must be"):
        sample_bounds(margins, np.zeros((3, 6)))


def test_nobody_has_to_say_how_far_to_look():
    """Half a metre of gap: departures of a few centimetres are bounded all the same."""
    block = body_of(bar(np.zeros(3), np.array([0.0, 0.0, 1.0]), (1.8, 1.8)))
    plates = [
        bar(np.array([x, -1.0, 0.5]), np.array([x, 1.0, 0.5]), (0.2, 3.0)) for x in (-1.5, 1.5)
    ]
    path = straight_path(0.0, 0.2, lean=Lean(x=0.0), steps=4)
    margins = build_margins(block, body_of(join(plates)), path)
    shifted = np.zeros((2, 9))
    shifted[1, 0] = 0.05
    np.testing.assert_allclose(sample_bounds(margins, shifted), [0.5, 0.45], atol=2e-3)


def test_a_body_that_strikes_already_keeps_no_sample():
    block = body_of(bar(np.zeros(3), np.array([0.0, 0.0, 1.0]), (1.8, 1.8)))
    plate = body_of(bar(np.array([0.9, -1.0, 0.5]), np.array([0.9, 1.0, 0.5]), (0.2, 3.0)))
    path = straight_path(0.0, 0.2, lean=Lean(x=0.0), steps=4)
    bounds = sample_bounds(build_margins(block, plate, path), np.zeros((1, 9)))
    assert not bounds[0] > 0
