"""Quantities with units: what is accepted, what is refused, and how big a unit is.

The sizes are exact by definition: the international yard and pound agreement
of 1959 (1 yd = 0.9144 m, 1 lb = 0.45359237 kg) and the standard acceleration of
free fall, 9.80665 m/s^2 (3rd CGPM, 1901), from which lbf and kgf follow.

The printed values are those of the unit conversions in appendix B of the
Residential Structural Design Guide (US Department of Housing and Urban
Development), and for density those in appendix B of the US Naval Facilities
manual 1004.6; compared to half the last digit printed.
"""

import math

import numpy as np
import pytest

from towerlift.errors import UnitError
from towerlift.units import (
    Dimension,
    parse_quantity,
    rounded_down,
    rounded_up,
    si_unit,
    unit_factor,
    write_quantity,
    written_units,
)

EXACT = [
    ("ft", Dimension.LENGTH, 0.3048),
    ("in", Dimension.LENGTH, 0.0254),
    ("yd", Dimension.LENGTH, 0.9144),
    ("mm", Dimension.LENGTH, 1e-3),
    ("lb", Dimension.MASS, 0.45359237),
    ("t", Dimension.MASS, 1000.0),
    ("g", Dimension.MASS, 1e-3),
    ("kgf", Dimension.FORCE, 9.80665),
    ("kN", Dimension.FORCE, 1e3),
    ("lbf", Dimension.FORCE, 0.45359237 * 9.80665),
    ("deg", Dimension.ANGLE, math.pi / 180),
    ("mrad", Dimension.ANGLE, 1e-3),
    ("min", Dimension.TIME, 60.0),
    ("h", Dimension.TIME, 3600.0),
    ("d", Dimension.TIME, 86400.0),
    ("km/h", Dimension.SPEED, 1 / 3.6),
    ("mph", Dimension.SPEED, 0.44704),
    ("kn", Dimension.SPEED, 1852 / 3600),
    ("ft/min", Dimension.SPEED, 0.3048 / 60),
    ("m^2", Dimension.AREA, 1.0),
    ("ft^2", Dimension.AREA, 0.09290304),
    ("mm^2", Dimension.AREA, 1e-6),
    ("kg/m³", Dimension.DENSITY, 1.0),
    ("lb/ft^3", Dimension.DENSITY, 0.45359237 / 0.3048**3),
    ("lb/ft^2", Dimension.SURFACE_DENSITY, 0.45359237 / 0.3048**2),
    ("psi", Dimension.PRESSURE, 0.45359237 * 9.80665 / 0.0254**2),
    ("lbf/in", Dimension.STIFFNESS, 0.45359237 * 9.80665 / 0.0254),
    ("N/mm", Dimension.STIFFNESS, 1e3),
    ("kN/m", Dimension.STIFFNESS, 1e3),
    ("N/mm^2", Dimension.PRESSURE, 1e6),
    ("MPa", Dimension.PRESSURE, 1e6),
    ("%", Dimension.SHARE, 0.01),
    ("count", Dimension.COUNT, 1.0),
]

PRINTED = [
    ("lbf", Dimension.FORCE, 4.448222, 0.5e-6),
    ("lb/ft^2", Dimension.SURFACE_DENSITY, 4.8824, 0.5e-4),
    ("psi", Dimension.PRESSURE, 6894.757, 0.5e-3),
    ("lb/ft^3", Dimension.DENSITY, 16.0185, 0.5e-4),
]


@pytest.mark.parametrize(("unit", "dimension", "size"), EXACT)
def test_units_are_as_big_as_they_are_defined(unit, dimension, size):
    assert unit_factor(unit, dimension) == pytest.approx(size, rel=1e-15)


@pytest.mark.parametrize(("unit", "dimension", "printed", "half_digit"), PRINTED)
def test_units_are_as_big_as_printed(unit, dimension, printed, half_digit):
    assert unit_factor(unit, dimension) == pytest.approx(printed, abs=half_digit)


@pytest.mark.parametrize("dimension", list(Dimension))
def test_every_unit_has_a_size_and_the_si_unit_is_one(dimension):
    assert unit_factor(si_unit(dimension), dimension) == 1.0
    for unit in written_units(dimension):
        assert unit_factor(unit, dimension) > 0


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("4.66 m", Dimension.LENGTH, 4.66),
        ("320mm", Dimension.LENGTH, 0.32),
        (" 320 mm ", Dimension.LENGTH, 0.32),
        ("15 ft 3 in", Dimension.LENGTH, 4.6482),
        ("-15 ft 3 in", Dimension.LENGTH, -4.6482),
        ("-0 ft 3 in", Dimension.LENGTH, -0.0762),
        ("+1e-3 m", Dimension.LENGTH, 0.001),
        (".5 m", Dimension.LENGTH, 0.5),
        ("5. m", Dimension.LENGTH, 5.0),
        ("2.7 t", Dimension.MASS, 2700.0),
        ("1 h 30 min", Dimension.TIME, 5400.0),
        ("8 %", Dimension.SHARE, 0.08),
        ("0.08 1", Dimension.SHARE, 0.08),
        ("90 deg", Dimension.ANGLE, math.pi / 2),
        ("11 m/s", Dimension.SPEED, 11.0),
    ],
)
def test_what_is_written_is_what_is_meant(text, dimension, value):
    assert parse_quantity(text, dimension) == pytest.approx(value, rel=1e-14)


@pytest.mark.parametrize(
    ("written", "dimension", "says"),
    [
        (4.66, Dimension.LENGTH, 'unit missing: got 4.66; write .*"4.66 m"'),
        (5, Dimension.MASS, 'unit missing: got 5; write .*"5 kg"'),
        (True, Dimension.MASS, "unit missing: got True"),
        (None, Dimension.MASS, "unit missing: got None"),
        (math.nan, Dimension.LENGTH, "unit missing: got nan"),
        (["1 m"], Dimension.LENGTH, "unit missing"),
        ("4.66", Dimension.LENGTH, 'unit missing: got "4.66"; write .*"4.66 m"'),
        ("0.9", Dimension.SHARE, 'unit missing: got "0.9"; write .*, such as "75 %"'),
        (0.9, Dimension.SHARE, 'unit missing: got 0.9; write .*, such as "75 %"'),
        ("4.66 kg", Dimension.LENGTH, '"kg" is not a unit of length here; use one of m, mm'),
        ("4.66 M", Dimension.LENGTH, '"M" is not a unit of length'),
        ("3 N", Dimension.MASS, '"N" is not a unit of mass here; use one of kg'),
        ("3 kg", Dimension.FORCE, '"kg" is not a unit of force here; use one of N, kN'),
        ("3 KG", Dimension.MASS, '"KG" is not a unit of mass'),
        ("3 m/s", Dimension.LENGTH, '"m/s" is not a unit of length'),
        ("4,66 m", Dimension.LENGTH, "has a comma; write the length with a decimal point"),
        ("1,000 m", Dimension.LENGTH, "has a comma"),
        ("15 ft -3 in", Dimension.LENGTH, "is not a length; write a number and a unit"),
        ("15 ft 3", Dimension.LENGTH, "is not a length"),
        ("about 3 m", Dimension.LENGTH, "is not a length"),
        ("3 m high", Dimension.LENGTH, "is not a length"),
        ("1 1/2 in", Dimension.LENGTH, "is not a length"),
        ("m", Dimension.LENGTH, "is not a length"),
        ("", Dimension.LENGTH, "is not a length"),
        ("nan m", Dimension.LENGTH, "is not a length"),
        ("inf m", Dimension.LENGTH, "is not a length"),
        ("1e999 m", Dimension.LENGTH, r"beyond any length a plan can hold \(10000 m\)"),
        ("10000.1 m", Dimension.LENGTH, "beyond any length"),
        ("-10000.1 m", Dimension.LENGTH, "beyond any length"),
        ("1 1", Dimension.LENGTH, '"1" is not a unit of length'),
    ],
)
def test_what_could_be_meant_otherwise_is_refused(written, dimension, says):
    with pytest.raises(UnitError, match=says):
        parse_quantity(written, dimension)


def test_the_largest_quantity_is_still_accepted():
    assert parse_quantity("10000 m", Dimension.LENGTH) == 1e4


@pytest.mark.parametrize(
    ("value", "dimension", "text"),
    [
        (0.32, Dimension.LENGTH, "0.32 m"),
        (math.radians(51.5), Dimension.ANGLE, "51.5 deg"),
        (0.08, Dimension.SHARE, "8.0 %"),
        (1 / 3, Dimension.SHARE, "0.3333333333333333 1"),
        (np.float64(2.5), Dimension.MASS, "2.5 kg"),
    ],
)
def test_writing_is_plain(value, dimension, text):
    assert write_quantity(value, dimension) == text


def test_what_must_be_borne_is_rounded_up_and_what_is_left_is_rounded_down():
    assert (rounded_up(9.81, 1), rounded_down(9.89, 1)) == (9.9, 9.8)
    assert (rounded_up(-0.41), rounded_down(-0.41)) == (0.0, -1.0)
    # A sum's last bit decides nothing.
    assert rounded_up(0.1 + 0.2, 1) == rounded_down(0.1 + 0.2, 1) == 0.3
    assert rounded_up(float("inf")) == float("inf")
    assert rounded_down(float("nan")) != rounded_down(float("nan"))
