"""Strength classes against EN 338 as two open structural packages repeat it."""

import pytest

from towerlift.timber import Read, find_class, strength_classes

# class: characteristic density, mean density [kg/m^3], bearing across [N/mm^2].
PRINTED = {
    "C14": (290, 350, 2.0), "C16": (310, 370, 2.2), "C18": (320, 380, 2.2),
    "C20": (330, 400, 2.3), "C22": (340, 410, 2.4), "C24": (350, 420, 2.5),
    "C27": (360, 430, 2.5), "C30": (380, 460, 2.7), "C35": (390, 470, 2.7),
    "C40": (400, 480, 2.8), "C50": (430, 520, 3.0),
}  # fmt: skip


@pytest.mark.parametrize(("name", "row"), PRINTED.items())
def test_class(name, row):
    found = find_class(name)
    low, mean, bearing = row
    assert found.density_low.value == low
    assert found.density_mean.value == mean
    assert found.bearing_across.value == pytest.approx(bearing * 1e6)
    assert found.bearing_across.read is Read.REPEATED


def test_laws_that_the_classes_obey():
    for row in strength_classes():
        # Mean density about 1.2 of the characteristic, bearing about 0.007 of it: the
        # standard's own rule for softwood, rounded to 10 kg/m^3 and to 0.1 N/mm^2.
        low = row.density_low.value
        assert row.density_mean.value == pytest.approx(1.2 * low, abs=10)
        assert row.bearing_across.value / 1e6 == pytest.approx(0.007 * low, abs=0.1)
