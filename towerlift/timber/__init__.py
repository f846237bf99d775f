"""Timber: species with their sources, density, movement, moisture and bearing."""

from towerlift.timber.classes import StrengthClass, find_class, strength_classes
from towerlift.timber.climate import equilibrium_moisture, lag_for, lagged
from towerlift.timber.density import density_at, density_from_dry, species_density
from towerlift.timber.movement import (
    Change,
    Cut,
    change_coefficient,
    coefficients,
    side_coefficients,
    size_change,
)
from towerlift.timber.species import (
    TimberSpecies,
    UnknownSpeciesError,
    find_species,
    known_species,
)
from towerlift.timber.strengths import (
    Duration,
    Strengths,
    design_value,
    duration_factor,
    find_strengths,
    known_strengths,
)
from towerlift.timber.values import Read, Sourced

__all__ = [
    "Change",
    "Cut",
    "Duration",
    "Read",
    "Sourced",
    "StrengthClass",
    "Strengths",
    "TimberSpecies",
    "UnknownSpeciesError",
    "change_coefficient",
    "coefficients",
    "density_at",
    "density_from_dry",
    "design_value",
    "duration_factor",
    "equilibrium_moisture",
    "find_class",
    "find_species",
    "find_strengths",
    "known_species",
    "known_strengths",
    "lag_for",
    "lagged",
    "side_coefficients",
    "size_change",
    "species_density",
    "strength_classes",
]
