"""Volumes of meshes that pyvista ships or documents, and their faults.

Sources: pyvista's documentation gives 0.5183 for the volume of ``Sphere()`` and 64.0
for a grid of five points a side; the beam of its examples is one by one by five. The
volumes of its other examples are not printed: pyvista works them out here, by its own
code, beside ours.
"""

import shutil
from pathlib import Path

import numpy as np
import pytest
import pyvista
from pyvista import examples

from towerlift.errors import ShapeError
from towerlift.plan.bodies import MeshFile
from towerlift.shapes import enclosed_volume, read_scan, read_solid


def _triangles(surface: pyvista.PolyData) -> tuple[np.ndarray, np.ndarray]:
    plain = surface.triangulate()
    return np.asarray(plain.points, dtype=float), plain.faces.reshape(-1, 4)[:, 1:].astype(int)


def _shipped(file: str, folder: Path) -> MeshFile:
    shutil.copy(file, folder)
    return MeshFile(file=Path(file).name, unit="mm")


def test_beam_of_hexahedra():
    vertices, faces = _triangles(
        pyvista.read(examples.hexbeamfile).extract_surface(algorithm="dataset_surface")
    )
    assert enclosed_volume(vertices, faces).volume == pytest.approx(5.0, rel=1e-12)


def test_documented_sphere():
    vertices, faces = _triangles(pyvista.Sphere())
    assert enclosed_volume(vertices, faces).volume == pytest.approx(0.5183, abs=0.5e-4)


def test_documented_grid():
    grid = pyvista.ImageData(dimensions=(5, 5, 5))
    vertices, faces = _triangles(grid.extract_surface(algorithm="dataset_surface"))
    assert enclosed_volume(vertices, faces).volume == pytest.approx(64.0, rel=1e-12)


@pytest.mark.parametrize("file", [examples.spherefile, examples.nutfile])
def test_shipped_solid_has_the_volume_that_pyvista_finds(file, tmp_path):
    solid = read_solid("example", _shipped(file, tmp_path), tmp_path)
    theirs = pyvista.read(file).triangulate()
    assert solid.closed
    ours = enclosed_volume(solid.vertices, solid.faces)
    assert ours.volume * 1e9 == pytest.approx(theirs.volume, rel=1e-9)


def test_shipped_ant_has_the_volume_that_pyvista_finds_though_it_crosses_itself(tmp_path):
    mesh = _shipped(examples.antfile, tmp_path)
    scan = read_scan("example", mesh, tmp_path)
    ours = enclosed_volume(scan.vertices, scan.faces)
    assert ours.volume * 1e9 == pytest.approx(pyvista.read(examples.antfile).volume, rel=1e-9)
    with pytest.raises(ShapeError, match="pass through each other"):
        read_solid("example", mesh, tmp_path)


def _count(problems: tuple[str, ...], kind: str) -> int:
    """How many faults of a kind a refusal counts: those listed, or the sum it gives."""
    of_kind = [text for text in problems if f": {kind}: " in text]
    summed = [text for text in of_kind if text.endswith(" in all")]
    return int(summed[0].split()[-3]) if summed else len(of_kind)


def test_shipped_airplane_is_refused_for_each_of_its_open_edges(tmp_path):
    # pyvista counts 224 open edges: 223 of one triangle, and one of three.
    with pytest.raises(ShapeError) as refused:
        read_solid("example", _shipped(examples.planefile, tmp_path), tmp_path)
    problems = refused.value.problems
    n_theirs = pyvista.read(examples.planefile).n_open_edges
    n_ours = _count(problems, "open edge") + _count(problems, "edge of more than two triangles")
    assert n_ours == n_theirs == 224
    assert all(text.startswith("airplane.ply: ") for text in problems)
    assert sum(" mm in the file, " in text for text in problems) > 20
