"""Solids from placed members, survey tables and meshes, with mass and member marks."""
