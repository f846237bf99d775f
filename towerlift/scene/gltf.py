"""The raise as one glTF file that a general viewer plays.

Sections, capstans and ropes are nodes; one animation moves them. What comes and goes
is scaled to nothing while it is not there, since viewers agree on no other way.
"""

from collections.abc import Iterable, Sequence
from itertools import groupby, pairwise
from math import ceil, cos, pi, sin
from pathlib import Path

import numpy as np
from scipy.spatial.transform import Rotation

from towerlift.motion.passages import Floats, Passage
from towerlift.rig.ropes import Rope
from towerlift.scene.bodies import Body, Kind, Scene
from towerlift.scene.colours import ROPE
from towerlift.scene.gear import Winder
from towerlift.scene.glb import GlbFile, rising
from towerlift.scene.models import Model, drum, joined
from towerlift.scene.reel import Reel, reel_of, stretches

Triple = tuple[float, float, float]
Quad = tuple[float, float, float, float]
# Where a bar begins, its turn as a quaternion, and its size.
Stretched = tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]

# Keys along a haul: ropes slant a little more or less as they shorten.
ROPE_KEYS = 9
SEEN, UNSEEN = (1.0, 1.0, 1.0), (0.0, 0.0, 0.0)
# The shaft frame is z up; the format is y up.
Y_UP = (-(0.5**0.5), 0.0, 0.0, 0.5**0.5)


def write_gltf(scene: Scene, path: Path, *, length: float = 60.0) -> Path:
    """Write the raise as binary glTF, with itself as an animation.

    Parameters
    ----------
    scene : Scene
        What is drawn.
    path : Path
        Where to; its ending must be ".glb".
    length : float
        Of the animation. [s]

    Returns
    -------
    path : Path
        As given.

    Raises
    ------
    ValueError
        If the ending is another, or `length` is not positive.

    Notes
    -----
    Metres, y up as the format has it. The walls are seen from inside only, and their
    outside in the south and east is left out, so that whoever looks from there looks
    in. Hauls run at one speed, standing steps as long
    as 0.4 m of haul.
    """
    if path.suffix != ".glb":
        raise ValueError(f'the file must end in ".glb", got "{path.name}"')
    path.write_bytes(raise_gltf(scene, length=length))
    return path


def raise_gltf(scene: Scene, *, length: float = 60.0) -> bytes:
    """The raise as the bytes of a binary glTF file.

    Parameters
    ----------
    scene : Scene
        What is drawn.
    length : float
        Of the animation. [s]

    Returns
    -------
    glb : bytes
        One scene, one animation.

    Raises
    ------
    ValueError
        If `length` is not positive.
    """
    reel, file = reel_of(scene.raise_, length), GlbFile()
    carried: dict[str | None, list[int]] = {}
    for body in scene.bodies:
        carried.setdefault(body.rides, []).append(_body(file, body, reel))
    for gear in scene.gear:
        model = _cut_open(gear.model) if gear.part == "wall" else gear.model
        node = file.node(gear.name, mesh=file.mesh(gear.name, model))
        _come_and_go(file, node, reel, gear.seen)
        carried.setdefault(gear.rides, []).append(node)
    top = carried.pop(None, [])
    for section in scene.lengths:
        top.append(_section(file, scene, (section, carried.pop(section, [])), reel))
    for winder in scene.winders:
        children = carried.pop(winder.name, [])
        if children:
            node = file.node(winder.name, children=children)
            keys = _turns(winder, reel)
            file.nodes[node]["translation"] = [float(each) for each in winder.at]
            file.nodes[node]["rotation"] = list(keys[0][1])
            file.channel(node, "rotation", keys, "LINEAR")
            top.append(node)
    top += _ropes(file, scene, reel)
    file.node("raise", children=top, rotation=list(Y_UP))
    return file.packed({"seconds": reel.length})


def _body(file: GlbFile, body: Body, reel: Reel) -> int:
    model = Model(vertices=body.vertices, faces=body.faces, colours=body.colours)
    shaft = body.kind is Kind.SHAFT
    node = file.node(body.name, mesh=file.mesh(body.name, model, one_sided=shaft))
    if body.kind in (Kind.FIT_OUT, Kind.FIXTURE):
        seen = frozenset(p.index for p in reel.passages if body.is_seen(p))
        _come_and_go(file, node, reel, seen)
    return node


def _cut_open(wall: Model) -> Model:
    """The outside of the wall without what stands before a viewer in the south-east."""
    corners = wall.vertices[wall.faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    kept = (normals[:, 0] <= 0) & (normals[:, 1] >= 0)
    return Model(vertices=wall.vertices, faces=wall.faces[kept], colours=wall.colours[kept])


def _come_and_go(file: GlbFile, node: int, reel: Reel, seen: frozenset[int]) -> None:
    """Scale a node to nothing while it is not there."""
    shown = [(begins, passage.index in seen) for passage, begins, _ in stretches(reel)]
    keys = [shown[0]]
    keys += [now for before, now in pairwise(shown) if now[1] != before[1]]
    file.nodes[node]["scale"] = list(SEEN if keys[0][1] else UNSEEN)
    if len(keys) > 1:
        file.channel(node, "scale", [(t, SEEN if s else UNSEEN) for t, s in keys], "STEP")


def _section(file: GlbFile, scene: Scene, section: tuple[str, list[int]], reel: Reel) -> int:
    """A section with all it carries, moved along the raise."""
    name, children = section
    line = scene.raise_.plumb_line
    node = file.node(
        f"section {name}",
        children=children,
        rotation=[0.0, 0.0, sin(line.turn / 2), cos(line.turn / 2)],
    )
    keys: list[tuple[float, Triple]] = []
    for passage, begins, ends in stretches(reel):
        if name in passage.standing:
            place = passage.standing[name]
            keys += [(begins, (line.x, line.y, place.heel_from))]
            keys += [(ends, (line.x, line.y, place.heel_to))]
    moves = _thinned(keys)
    file.nodes[node]["translation"] = list(moves[0][1]) if moves else [line.x, line.y, 0.0]
    if len(moves) > 1:
        file.channel(node, "translation", moves, "LINEAR")
    _come_and_go(
        file, node, reel, frozenset(p.index for p in reel.passages if name in p.standing)
    )
    return node


def _thinned(keys: Iterable[tuple[float, Triple]]) -> list[tuple[float, Triple]]:
    """Keys without those that say nothing new; a jump keeps a moment of its own."""
    kept: list[tuple[float, Triple]] = []
    for time, value in keys:
        if kept and np.float32(time) <= np.float32(kept[-1][0]):
            if value == kept[-1][1]:
                continue
            kept.append(
                (float(np.nextafter(np.float32(kept[-1][0]), np.float32(np.inf))), value)
            )
        elif len(kept) > 1 and value == kept[-1][1] == kept[-2][1]:
            kept[-1] = time, value
        else:
            kept.append((time, value))
    return kept


def _turns(winder: Winder, reel: Reel) -> list[tuple[float, Quad]]:
    """Turns of a capstan, a quarter at most from key to key, so that none is cut short."""
    keys: list[tuple[float, Quad]] = []
    for passage, begins, ends in stretches(reel):
        rate = winder.turns.get(passage.lift or "", 0.0) if passage.moving else 0.0
        n = max(1, ceil(abs(rate * passage.travel) / (pi / 2)))
        for k in range(n + 1):
            turn = rate * passage.heel(passage.moving[0], k / n) if rate else 0.0
            time = begins + (ends - begins) * k / n
            keys.append((time, (0.0, 0.0, sin(turn / 2), cos(turn / 2))))
    return rising(keys)


def _unit_rope() -> Model:
    return drum(1.0, 0.0, 1.0, ROPE, sides=6)


def _ropes(file: GlbFile, scene: Scene, reel: Reel) -> list[int]:
    """Every rope that is ever rove, seen while its lift has something to do."""
    bar, nodes = file.mesh("rope", _unit_rope()), []
    for lift, group in groupby(scene.ropes, lambda rope: rope.lift):
        used = frozenset(p.index for p in reel.passages if p.lift == lift)
        poses = [
            (begins + (ends - begins) * float(share), _poses(scene, passage, float(share)))
            for passage, begins, ends in stretches(reel)
            if passage.index in used
            for share in np.linspace(0, 1, ROPE_KEYS if passage.moving else 2)
        ]
        for rope in group:
            for node in _rope(file, rope, bar, poses):
                _come_and_go(file, node, reel, used)
                nodes.append(node)
    return nodes


def _poses(scene: Scene, passage: Passage, share: float) -> dict[str, Floats]:
    return {
        name: scene.raise_.shaft_from_section(passage.heel(name, share))
        for name in passage.standing
    }


def _rope(
    file: GlbFile, rope: Rope, bar: int, poses: Sequence[tuple[float, dict[str, Floats]]]
) -> list[int]:
    """A rope: what moves as bars stretched from end to end, what does not as one mesh."""
    rows = [
        (time, points) for time, placed in poses if (points := rope.points(placed)) is not None
    ]
    children, fixed = [], []
    for k, (one, other) in enumerate(pairwise(rope.path)):
        keys = [(time, _stretched(at[k], at[k + 1], rope.radius)) for time, at in rows]
        known = [(time, key) for time, key in keys if key is not None]
        if known and one.rides is None and other.rides is None:
            fixed.append(_laid(known[0][1]))
        elif known:
            children.append(_bar(file, (f"{rope.name} {k + 1}", bar), known))
    if fixed:
        children.append(file.node(f"fall {rope.name}", mesh=file.mesh("fall", joined(fixed))))
    if not children:
        return []
    return [file.node(f"rope {rope.name}", children=children)]


def _laid(stretched: Stretched) -> Model:
    """The bar of a rope as triangles where it lies."""
    start, rotation, size = stretched
    bar = _unit_rope()
    turn = Rotation.from_quat(rotation)
    vertices = turn.apply(bar.vertices * np.array(size)) + np.array(start)
    return Model(vertices=vertices, faces=bar.faces, colours=bar.colours)


def _stretched(start: Floats, end: Floats, radius: float) -> Stretched | None:
    """Where a bar begins, how it is turned and how far it is stretched."""
    along = end - start
    length = float(np.linalg.norm(along))
    if not length > 1e-9:
        return None
    x, y, z = (along / length).tolist()
    # The shortest turn of z into the rope; straight down has no shortest one.
    turn = (1.0, 0.0, 0.0, 0.0) if z < -1 + 1e-12 else (-y, x, 0.0, 1 + z)
    size = float(np.sqrt(sum(part * part for part in turn)))
    rotation = tuple(part / size for part in turn)
    return tuple(start.tolist()), rotation, (radius, radius, length)


def _bar(
    file: GlbFile, named: tuple[str, int], known: Sequence[tuple[float, Stretched]]
) -> int:
    name, mesh = named
    node = file.node(name, mesh=mesh)
    for n, path in enumerate(("translation", "rotation", "scale")):
        file.nodes[node][path] = list(known[0][1][n])
        moves = rising([(time, key[n]) for time, key in known])
        if any(value != moves[0][1] for _, value in moves):
            file.channel(node, path, moves, "LINEAR")
    return node
