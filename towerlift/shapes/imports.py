"""Triangle meshes read from files beside the plan, never repaired."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

import numpy as np
import trimesh

from towerlift.errors import ShapeError
from towerlift.plan import bodies
from towerlift.shapes.faults import Surface, find_faults, find_scan_faults, turn_upright
from towerlift.shapes.solids import Floats, Ints, Solid
from towerlift.units import Dimension, unit_factor

FORMATS = ("stl", "obj", "ply", "glb", "3mf")

# Units that a 3MF file may state, as its reader passes them on.
_STATED_UNITS = {
    "meter": "m",
    "millimeter": "mm",
    "centimeter": "cm",
    "foot": "ft",
    "inch": "in",
    "micron": "µm",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Body:
    name: str
    vertices: Floats
    faces: Ints


def read_solid(name: str, mesh: bodies.MeshFile, folder: Path) -> Solid:
    """Read a closed solid from a mesh file.

    Parameters
    ----------
    name : str
        Section it draws.
    mesh : MeshFile
        File, unit and which way is up.
    folder : Path
        The plan's folder; the file must lie below it.

    Returns
    -------
    solid : Solid
        Frame of the section. [m]

    Raises
    ------
    ShapeError
        If the file cannot be read, or its surface is empty, not finite, degenerate,
        open, inverted, self-crossing or made of bodies that overlap. Every fault is
        given with its place in the file and in the section's frame.
    """
    surface, marks = _read(name, mesh, folder)
    faults = find_faults(surface)
    if faults:
        raise ShapeError(f"{name} ({mesh.file})", [f"{mesh.file}: {fault}" for fault in faults])
    return _solid(name, surface, marks, "mesh", closed=True)


def read_scan(name: str, mesh: bodies.MeshFile, folder: Path) -> Solid:
    """Read the inside of the shaft from a mesh file; it may be open.

    Parameters
    ----------
    name : str
        What it draws.
    mesh : MeshFile
        File, unit and which way is up.
    folder : Path
        The plan's folder; the file must lie below it.

    Returns
    -------
    solid : Solid
        Shaft frame. Several bodies are allowed, and nothing is closed or filled. [m]

    Raises
    ------
    ShapeError
        If the file cannot be read, or its surface is empty, not finite or degenerate, or
        two of its triangles that share an edge face opposite ways.
    """
    surface, marks = _read(name, mesh, folder)
    faults = find_scan_faults(surface)
    if faults:
        raise ShapeError(f"{name} ({mesh.file})", [f"{mesh.file}: {fault}" for fault in faults])
    return _solid(name, surface, marks, "wall", closed=False)


def _solid(
    name: str, surface: Surface, marks: Sequence[str], part: str, *, closed: bool
) -> Solid:
    return Solid(
        name=name,
        vertices=surface.vertices,
        faces=surface.faces,
        members=surface.bodies,
        marks=tuple(marks),
        parts=(part,) * len(marks),
        closed=closed,
    )


def _read(name: str, mesh: bodies.MeshFile, folder: Path) -> tuple[Surface, list[str]]:
    kept = [_merge_equal(body) for body in _load(name, mesh, folder)]
    first = np.cumsum([0] + [len(body.vertices) for body in kept])
    in_file = np.concatenate([np.empty((0, 3)), *(body.vertices for body in kept)])
    unit_size = unit_factor(mesh.unit, Dimension.LENGTH)
    surface = Surface(
        vertices=turn_upright(in_file, mesh.up) * unit_size,
        faces=np.concatenate(
            [np.empty((0, 3), dtype=np.int64)]
            + [body.faces + n for body, n in zip(kept, first, strict=False)]
        ),
        bodies=np.repeat(np.arange(len(kept)), [len(body.faces) for body in kept]),
        unit=mesh.unit,
        unit_size=unit_size,
        up=mesh.up,
    )
    return surface, [body.name for body in kept]


def _load(name: str, mesh: bodies.MeshFile, folder: Path) -> list[_Body]:
    file = PurePosixPath(mesh.file)
    subject = f"{name} ({mesh.file})"
    path = (folder / file).resolve()
    kind = file.suffix.lower().removeprefix(".")
    if not path.is_relative_to(folder.resolve()):
        raise ShapeError(subject, [f"{mesh.file} lies outside the plan's folder"])
    if kind not in FORMATS:
        raise ShapeError(
            subject, [f'{mesh.file}: ".{kind}" is not read; give one of {", ".join(FORMATS)}']
        )
    try:
        with path.open("rb") as opened:
            scene = trimesh.load_scene(opened, file_type=kind, process=False)
    except OSError as error:
        raise ShapeError(subject, [f"{mesh.file}: {error.strerror or error}"]) from error
    except Exception as error:
        # The readers raise whatever a damaged file makes them trip over.
        raise ShapeError(
            subject, [f"{mesh.file}: cannot be read as {kind.upper()} ({error!r})"]
        ) from error
    return _bodies(scene, subject, mesh)


def _bodies(scene: trimesh.Scene, subject: str, mesh: bodies.MeshFile) -> list[_Body]:
    found: dict[str, list[_Body]] = {}
    for node in scene.graph.nodes_geometry:
        transform, key = scene.graph[node]
        geometry = scene.geometry[key]
        if not isinstance(geometry, trimesh.Trimesh):
            raise ShapeError(
                subject, [f'{mesh.file}: "{node}" is not made of triangles; give a mesh']
            )
        _refuse_other_unit(geometry, subject, mesh)
        # A body of several colours comes in one part for each: they are one body.
        name = str(node)
        if geometry.metadata.get("from_gltf_primitive"):
            name = str(scene.graph.transforms.parents[node])
        if mesh.file.lower().endswith(".obj"):
            name = mesh.file
        part = _place_body(name, geometry, np.asarray(transform, dtype=np.float64))
        if len(part.faces) and not (
            part.faces.min() >= 0 and part.faces.max() < len(part.vertices)
        ):
            raise ShapeError(
                subject,
                [
                    f"{mesh.file}: a triangle names corner {part.faces.max()} of "
                    f"{len(part.vertices)}, numbered from 0"
                ],
            )
        found.setdefault(name, []).append(part)
    if len(found) == 1:
        return [_join(mesh.file, parts) for parts in found.values()]
    return [_join(name, parts) for name, parts in found.items()]


def _place_body(name: str, geometry: trimesh.Trimesh, transform: Floats) -> _Body:
    vertices = np.asarray(geometry.vertices, dtype=np.float64)
    faces = np.asarray(geometry.faces, dtype=np.int64)
    if not np.array_equal(transform, np.eye(4)):
        vertices = vertices @ transform[:3, :3].T + transform[:3, 3]
    if np.linalg.det(transform[:3, :3]) < 0:
        # A mirrored placing turns the winding; the forms that place bodies mean the
        # outside to stay outside.
        faces = faces[:, ::-1]
    return _Body(name=name, vertices=vertices, faces=faces)


def _join(name: str, parts: Sequence[_Body]) -> _Body:
    first = np.cumsum([0] + [len(part.vertices) for part in parts])
    return _Body(
        name=name,
        vertices=np.concatenate([part.vertices for part in parts]),
        faces=np.concatenate([p.faces + n for p, n in zip(parts, first, strict=False)]),
    )


def _refuse_other_unit(geometry: trimesh.Trimesh, subject: str, mesh: bodies.MeshFile) -> None:
    stated = geometry.metadata.get("units")
    if _STATED_UNITS.get(stated, mesh.unit) != mesh.unit:
        raise ShapeError(
            subject,
            [f'{mesh.file}: the file says its unit is "{stated}", the plan says "{mesh.unit}"'],
        )


def _merge_equal(body: _Body) -> _Body:
    # STL writes a corner once for every triangle, and other forms once for every
    # colour or crease. Corners with exactly the same numbers are the same corner;
    # joining them moves nothing. Corners that are merely near are left apart.
    corners = body.vertices[body.faces].reshape(-1, 3) + 0.0  # so that -0 equals 0
    vertices, numbers = np.unique(corners, axis=0, return_inverse=True)
    return _Body(
        name=body.name, vertices=vertices, faces=numbers.reshape(-1, 3).astype(np.int64)
    )
