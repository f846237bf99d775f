"""Strength classes and duration factors against what others repeat of the standards.

Sources: EN 338:2016, tables 1 and 3, as two open packages of structural checks repeat
them (rows typed here from the second of them); EN 1995-1-1, table 3.1, solid timber in
service class 3, as a manual of structural design of an institution of civil engineers
repeats it.
"""

import pytest

from towerlift.timber import (
    Duration,
    Read,
    design_value,
    duration_factor,
    find_class,
    find_strengths,
    known_strengths,
    strength_classes,
)
from towerlift.timber.species import UnknownSpeciesError

# f_m, f_t0, f_c0, f_c90, f_v [N/mm^2]; E_0,mean, E_0,05, G_mean [kN/mm^2].
REPEATED = {
    "C14": (14, 7.2, 16, 2.0, 3.0, 7.0, 4.7, 0.44),
    "C24": (24, 14.5, 21, 2.5, 4.0, 11.0, 7.4, 0.69),
    "C50": (50, 33.5, 30, 3.0, 4.0, 16.0, 10.7, 1.0),
    "D18": (18, 11, 18, 4.8, 3.5, 9.5, 8.0, 0.59),
    "D24": (24, 14, 21, 4.9, 3.7, 10.0, 8.4, 0.63),
    "D30": (30, 18, 24, 5.3, 3.9, 11.0, 9.2, 0.69),
    "D40": (40, 24, 27, 5.5, 4.2, 13.0, 10.9, 0.81),
    "D60": (60, 36, 33, 10.5, 4.8, 17.0, 14.3, 1.06),
}


@pytest.mark.parametrize(("name", "row"), REPEATED.items())
def test_class(name, row):
    found = find_strengths(name)
    stresses = (found.bending, found.tension, found.compression, found.across, found.shear)
    stiff = (found.modulus, found.modulus_low, found.shear_modulus)
    assert [each.value / 1e6 for each in stresses] == pytest.approx(row[:5])
    assert [each.value / 1e9 for each in stiff] == pytest.approx(row[5:])
    assert all(each.read is Read.REPEATED for each in (*stresses, *stiff))
    assert found.hardwood == name.startswith("D")


def test_two_tables_agree_on_bearing_across_the_grain():
    # The table of softwoods that stood before was typed from other pages.
    for row in strength_classes():
        assert find_strengths(row.name).across.value == row.bearing_across.value
        assert find_class(row.name).bearing_across.value == row.bearing_across.value


@pytest.mark.parametrize(
    ("duration", "factor"),
    [
        ("permanent", 0.50),
        ("long", 0.55),
        ("medium", 0.65),
        ("short", 0.70),
        ("instantaneous", 0.90),
    ],
)
def test_duration_factor_out_in_the_wet(duration, factor):
    assert duration_factor(Duration(duration)).value == factor


@pytest.mark.parametrize(
    ("name", "kind", "duration", "by_hand"),
    [
        # Our own hand arithmetic: f_k times the factor over 1.3, N/mm^2.
        ("D30", "compression", "permanent", 9.2),
        ("C24", "compression", "permanent", 8.1),
        ("D30", "across", "permanent", 2.0),
        ("D30", "across", "short", 2.9),
        ("C24", "bending", "short", 12.9),
    ],
)
def test_design_strengths(name, kind, duration, by_hand):
    strength = getattr(find_strengths(name), kind)
    found = design_value(strength, Duration(duration))
    assert found.value / 1e6 == pytest.approx(by_hand, abs=0.05)
    assert duration in found.source
    assert "1.3" in found.source


def test_a_metal_keeps_its_strength():
    yield_strength = find_strengths("C24").bending
    assert design_value(yield_strength, Duration.PERMANENT, metal=True) is yield_strength


def test_stronger_classes_are_never_weaker():
    for kind in ("C", "D"):
        rows = [row for row in known_strengths() if row.name.startswith(kind)]
        for key in ("bending", "tension", "compression", "across", "modulus"):
            values = [getattr(row, key).value for row in rows]
            assert values == sorted(values)


def test_a_class_that_was_not_read_is_refused():
    with pytest.raises(UnknownSpeciesError, match="nearest"):
        find_strengths("D32")
