"""Density of wood against printed values.

Sources: a worked value of the Wood Handbook's equation in an open package (0.40 at 12 %
is 448 kg/m^3); the thermal-conductivity example of the same chapter (basic gravity 0.54,
volumetric shrinkage 12.3 %, 10 % moisture), whose steps follow from equations 4-7 and
4-9; the form of the National Design Specification with its gravity for Douglas
fir-larch.
"""

import pytest

from towerlift.timber import density_at, density_from_dry, find_species, species_density
from towerlift.timber.density import shrinkage_to

LB_FT3 = 16.01846337


def test_density_from_gravity_at_the_same_moisture():
    # Gravity stated at 12 %: no shrinkage is left to take off.
    assert density_at(0.40, 0.0, 0.12) == pytest.approx(448.0, abs=0.5)
    # Printed in lb/ft^3 too, its last digit cut off and not rounded.
    in_lb_ft3 = density_at(0.40, 0.0, 0.12, water=62.43)
    assert in_lb_ft3 == pytest.approx(27.968, abs=0.001)


def test_steps_of_the_conductivity_example():
    assert 100 * shrinkage_to(0.123, 0.10) == pytest.approx(8.20, abs=0.005)
    gravity = 0.54 / (1 - shrinkage_to(0.123, 0.10))
    assert gravity == pytest.approx(0.5882, abs=0.00005)
    assert density_at(0.54, 0.123, 0.10) == pytest.approx(647.1, abs=0.1)
    # The handbook's conductivity G (B + C x) + A of that wood is printed 0.1567 W/(m K).
    conductivity = gravity * (0.1941 + 0.004064 * 10) + 0.01864
    assert conductivity == pytest.approx(0.1567, abs=0.00005)


@pytest.mark.parametrize(("moisture_pc", "lb_ft3"), [(12, 33.15), (19, 34.20)])
def test_form_of_the_design_specification(moisture_pc, lb_ft3):
    density = density_from_dry(0.50, moisture_pc / 100)
    # 62.4 lb/ft^3 stands for water there.
    assert density * 62.4 / 1000 == pytest.approx(lb_ft3, abs=0.005)
    assert density == pytest.approx(lb_ft3 * LB_FT3, rel=0.001)


def test_what_was_read_of_european_oak():
    oak = find_species("European oak")
    assert oak.gravity_12 is not None
    # The page prints 702 kg/m^3 at 12 %.
    assert 1000 * oak.gravity_12.value * 1.12 == pytest.approx(702, abs=0.5)
    # Without a volumetric shrinkage that was read, no other moisture can be answered for.
    assert species_density(oak, 0.25) is None


def test_douglas_fir_seasoned():
    # Oregon State University prints gravity 0.48 at 12 %: 0.48 x 1.12.
    fir = species_density(find_species("coast Douglas-fir"), 0.12)
    assert fir == pytest.approx(537.6, abs=0.1)
