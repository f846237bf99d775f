"""Species by name, how a piece is cut, and what is refused."""

import numpy as np
import pytest

from towerlift import timber
from towerlift.errors import TowerliftError
from towerlift.timber import (
    Cut,
    Read,
    Sourced,
    UnknownSpeciesError,
    find_class,
    find_species,
    known_species,
    side_coefficients,
    size_change,
)
from towerlift.timber.climate import lag_for, lagged
from towerlift.timber.density import density_at, density_from_dry, species_density
from towerlift.timber.movement import change_coefficient


def test_public_names():
    assert sorted(timber.__all__) == timber.__all__
    assert all(hasattr(timber, name) for name in timber.__all__)


def test_every_value_says_where_it_is_from():
    rows = known_species()
    assert len({row.name for row in rows}) == len(rows) > 80
    for row in rows:
        values = [getattr(row, name) for name in row.__slots__ if name != "name"]
        given = [value for value in values if value is not None]
        assert given, row.name
        assert all(value.source.strip() for value in given), row.name


def test_case_is_not_minded():
    assert find_species(" WHITE oak ").name == "white oak"


def test_a_species_that_is_not_there_is_refused_with_help():
    with pytest.raises(UnknownSpeciesError) as caught:
        find_species("oak")
    said = str(caught.value)
    assert "white oak" in said
    assert "shrinkage_radial" in said
    assert "source" in said
    with pytest.raises(TowerliftError, match="Douglas-fir"):
        find_species("Douglas fir")


def test_hardwood_classes_are_refused():
    with pytest.raises(UnknownSpeciesError, match="edition"):
        find_class("D30")


def test_a_value_needs_a_source_and_a_number():
    with pytest.raises(ValueError, match="where it comes from"):
        Sourced(value=1.0, source=" ")
    with pytest.raises(ValueError, match="finite"):
        Sourced(value=float("nan"), source="scale")


@pytest.mark.parametrize(
    ("cut", "breadth", "depth"),
    [
        (Cut.FLATSAWN, 0.365, 0.180),
        (Cut.QUARTERSAWN, 0.180, 0.365),
        (Cut.BOXED_HEART, 0.2725, 0.2725),
        (Cut.UNKNOWN, 0.365, 0.365),
    ],
)
def test_how_a_piece_is_cut(cut, breadth, depth):
    oak = find_species("commercial white oak")
    of_breadth, of_depth = side_coefficients(oak, cut)
    assert of_breadth is not None
    assert of_depth is not None
    assert (of_breadth.value, of_depth.value) == pytest.approx((breadth, depth))


def test_what_was_not_read_is_none_not_a_guess():
    larch = find_species("western larch")
    assert larch.radial is None
    assert side_coefficients(larch, Cut.BOXED_HEART) == (None, None)
    breadth, depth = side_coefficients(larch, Cut.FLATSAWN)
    assert breadth is not None
    assert breadth.read is Read.REPEATED
    assert depth is None
    assert species_density(larch, 0.2) is None


def test_nothing_moves_above_fibre_saturation():
    assert size_change(0.3, 0.365, 0.30, 0.60).amount == 0
    at_30 = size_change(0.3, 0.365, 0.20, 0.30)
    assert size_change(0.3, 0.365, 0.20, 0.45).amount == at_30.amount


@pytest.mark.parametrize(
    ("start", "end", "estimated"),
    [
        (0.06, 0.14, False),
        (0.0599, 0.14, True),
        (0.06, 0.1401, True),
        (0.14, 0.06, False),
        (0.20, 0.24, True),
    ],
)
def test_outside_what_was_printed_it_is_an_estimate(start, end, estimated):
    assert size_change(1.0, 0.3, start, end).estimated is estimated


@pytest.mark.parametrize("bad", [float("nan"), -0.01])
def test_numbers_that_are_none_are_refused(bad):
    with pytest.raises(ValueError, match="moisture"):
        size_change(1.0, 0.3, bad, 0.1)
    with pytest.raises(ValueError, match="size"):
        size_change(bad, 0.3, 0.1, 0.2)
    with pytest.raises(ValueError, match="shrinkage"):
        change_coefficient(bad)
    with pytest.raises(ValueError, match="gravity"):
        density_at(bad, 0.1, 0.1)
    with pytest.raises(ValueError, match="gravity"):
        density_from_dry(bad, 0.1)
    with pytest.raises(ValueError, match="moisture"):
        density_at(0.5, 0.1, bad)
    with pytest.raises(ValueError, match="humidity"):
        timber.equilibrium_moisture(20.0, bad)
    with pytest.raises(ValueError, match="lag"):
        lagged(np.array([0.0, 1.0]), np.array([0.1, 0.1]), 0.1, bad)
    with pytest.raises(ValueError, match="thickness"):
        lag_for(bad, 1.0)


def test_a_step_is_made_up_to_one_part_in_e_after_the_lag():
    times = np.linspace(0.0, 3.0, 4)
    moisture = lagged(times, np.full(4, 0.20), 0.10, 1.0)
    np.testing.assert_allclose(0.20 - moisture, 0.10 * np.exp(-times), rtol=1e-12)


def test_no_lag_follows_at_once():
    target = np.array([0.1, 0.2, 0.15])
    np.testing.assert_array_equal(lagged(np.arange(3.0), target, 0.05, 0.0), target)


def test_lag_grows_with_the_square_of_the_thickness():
    assert lag_for(0.3, 10.0) == pytest.approx(90.0)
