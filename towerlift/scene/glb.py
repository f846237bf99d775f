"""A binary glTF file as it grows, and its packing."""

import json
import struct
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from towerlift.scene.colours import Rgb
from towerlift.scene.models import Model

T = TypeVar("T")

FLOAT, UNSIGNED = 5126, 5125
VERTICES, INDICES = 34962, 34963
MAGIC, JSON_CHUNK, BINARY_CHUNK = 0x46546C67, 0x4E4F534A, 0x004E4942


@dataclass(slots=True, kw_only=True)
class GlbFile:
    """A file as it grows: tables of the format, and the bytes they point into."""

    accessors: list[dict[str, Any]] = field(default_factory=list)
    views: list[dict[str, Any]] = field(default_factory=list)
    meshes: list[dict[str, Any]] = field(default_factory=list)
    materials: list[dict[str, Any]] = field(default_factory=list)
    nodes: list[dict[str, Any]] = field(default_factory=list)
    samplers: list[dict[str, Any]] = field(default_factory=list)
    channels: list[dict[str, Any]] = field(default_factory=list)
    data: bytearray = field(default_factory=bytearray)
    known: dict[object, int] = field(default_factory=dict)

    def array(self, values: NDArray[Any], kind: str, target: int | None = None) -> int:
        """Put numbers in, and say which accessor they are; equal ones are put in once."""
        floats = values.dtype.kind == "f"
        plain = np.ascontiguousarray(values, dtype="<f4" if floats else "<u4")
        raw = plain.tobytes()
        key = (kind, target, raw)
        if key in self.known:
            return self.known[key]
        view: dict[str, Any] = {
            "buffer": 0,
            "byteOffset": len(self.data),
            "byteLength": len(raw),
        }
        if target is not None:
            view["target"] = target
        self.views.append(view)
        self.data += raw
        rows = plain.reshape(len(plain), -1)
        self.accessors.append(
            {
                "bufferView": len(self.views) - 1,
                "componentType": FLOAT if floats else UNSIGNED,
                "count": len(plain),
                "type": kind,
                "min": rows.min(axis=0).tolist(),
                "max": rows.max(axis=0).tolist(),
            }
        )
        self.known[key] = len(self.accessors) - 1
        return self.known[key]

    def material(self, colour: Rgb, *, one_sided: bool) -> int:
        """A matt material of a colour."""
        key = ("material", colour, one_sided)
        if key not in self.known:
            factor = [*(as_light(part) for part in colour), 1.0]
            self.materials.append(
                {
                    "pbrMetallicRoughness": {
                        "baseColorFactor": factor,
                        "metallicFactor": 0.0,
                        "roughnessFactor": 0.9,
                    },
                    "doubleSided": not one_sided,
                }
            )
            self.known[key] = len(self.materials) - 1
        return self.known[key]

    def mesh(self, name: str, model: Model, *, one_sided: bool = False) -> int:
        """Triangles, one primitive for each of their colours."""
        colours, which = np.unique(model.colours, axis=0, return_inverse=True)
        used, faces = np.unique(model.faces, return_inverse=True)
        faces = faces.reshape(-1, 3)
        position = self.array(model.vertices[used].astype(np.float32), "VEC3", VERTICES)
        primitives = []
        for n, colour in enumerate(colours.tolist()):
            corners = faces[which.ravel() == n].ravel().astype(np.uint32)
            primitives.append(
                {
                    "attributes": {"POSITION": position},
                    "indices": self.array(corners, "SCALAR", INDICES),
                    "material": self.material(tuple(colour), one_sided=one_sided),
                }
            )
        self.meshes.append({"name": name, "primitives": primitives})
        return len(self.meshes) - 1

    def node(self, name: str, **rest: Any) -> int:
        """A node; the caller puts it under another."""
        self.nodes.append({"name": name, **rest})
        return len(self.nodes) - 1

    def channel(
        self, node: int, path: str, keys: Sequence[tuple[float, Sequence[float]]], way: str
    ) -> None:
        """Move a node: times that rise, and what holds at each."""
        times = np.array([time for time, _ in keys], dtype=np.float32)
        values = np.array([value for _, value in keys], dtype=np.float32)
        kind = "VEC4" if path == "rotation" else "VEC3"
        self.samplers.append(
            {
                "input": self.array(times, "SCALAR"),
                "output": self.array(values, kind),
                "interpolation": way,
            }
        )
        self.channels.append(
            {"sampler": len(self.samplers) - 1, "target": {"node": node, "path": path}}
        )

    def packed(self, extras: Mapping[str, object]) -> bytes:
        """The whole as binary glTF."""
        self.data += bytes(-len(self.data) % 4)
        table: dict[str, Any] = {
            "asset": {"version": "2.0", "generator": "towerlift", "extras": dict(extras)},
            "scene": 0,
            "scenes": [{"nodes": [len(self.nodes) - 1]}],
            "nodes": self.nodes,
            "meshes": self.meshes,
            "materials": self.materials,
            "accessors": self.accessors,
            "bufferViews": self.views,
            "buffers": [{"byteLength": len(self.data)}],
        }
        if self.channels:
            table["animations"] = [
                {"name": "raise", "samplers": self.samplers, "channels": self.channels}
            ]
        text = json.dumps(table, separators=(",", ":"), allow_nan=False).encode()
        text += b" " * (-len(text) % 4)
        chunks = struct.pack("<II", len(text), JSON_CHUNK) + text
        chunks += struct.pack("<II", len(self.data), BINARY_CHUNK) + bytes(self.data)
        return struct.pack("<III", MAGIC, 2, 12 + len(chunks)) + chunks


def rising(keys: Iterable[tuple[float, T]]) -> list[tuple[float, T]]:
    """Keys at times that rise in single precision; of two at one time the first.

    Parameters
    ----------
    keys : iterable of (float, T)
        Times and what holds then.

    Returns
    -------
    kept : list of (float, T)
        In order.
    """
    kept: list[tuple[float, T]] = []
    for time, value in keys:
        if not kept or np.float32(time) > np.float32(kept[-1][0]):
            kept.append((time, value))
    return kept


def as_light(part: int) -> float:
    """A part of a colour as screens have it, as light.

    Parameters
    ----------
    part : int
        0 to 255.

    Returns
    -------
    light : float
        0 to 1.

    References
    ----------
    .. [1] IEC 61966-2-1: the sRGB transfer function.
    """
    share = part / 255
    return share / 12.92 if share <= 0.04045 else float(((share + 0.055) / 1.055) ** 2.4)
