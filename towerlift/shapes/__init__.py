"""Solids from placed members, survey tables and meshes, with mass and member marks."""

from towerlift.shapes.building import build_shaft, build_shapes, build_solid, join_solids
from towerlift.shapes.envelopes import REACH_COLUMNS, half_widths
from towerlift.shapes.imports import read_scan, read_solid
from towerlift.shapes.masses import enclosed_volume, mass_of, mesh_mass
from towerlift.shapes.solids import MassProperties, Piece, Shapes, Solid, combine

__all__ = [
    "REACH_COLUMNS",
    "MassProperties",
    "Piece",
    "Shapes",
    "Solid",
    "build_shaft",
    "build_shapes",
    "build_solid",
    "combine",
    "enclosed_volume",
    "half_widths",
    "join_solids",
    "mass_of",
    "mesh_mass",
    "read_scan",
    "read_solid",
]
