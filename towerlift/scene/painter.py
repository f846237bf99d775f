"""Pictures by PyVista, off screen and without a display."""

import os
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from weakref import finalize

import numpy as np
from numpy.typing import NDArray

# Asked for before VTK opens its first window, which otherwise looks for an X server.
if sys.platform == "linux" and not os.environ.get("DISPLAY"):
    os.environ.setdefault("VTK_DEFAULT_OPENGL_WINDOW", "vtkEGLRenderWindow")

import pyvista as pv

from towerlift.motion.passages import Floats, Passage
from towerlift.rig.ropes import Rope
from towerlift.scene.bodies import Body, Kind, Scene
from towerlift.scene.colours import GROUND, INK, PAPER, ROPE
from towerlift.scene.gear import Gear
from towerlift.scene.marks import Said, draw_marks
from towerlift.scene.models import Model
from towerlift.scene.nearest import nearest_gap
from towerlift.scene.standpoints import Standpoint, whole_tower
from towerlift.scene.studio import STUDIO, at_exit
from towerlift.shapes.unseen import UNSEEN

Picture = NDArray[np.uint8]

EDGE_ANGLE = 40.0  # degrees between two faces from which their edge is drawn
FARTHEST = 300.0  # half the depth of what can be seen [m]
NAMED_HOLES = 4  # of the scan, that a picture names
LARGEST = 4096  # pixels along a side, what every renderer can still draw


@dataclass(frozen=True, slots=True, kw_only=True)
class Posed:
    """What a picture shows, and where it stands.

    Attributes
    ----------
    passage : Passage
        Where the raise is.
    share : float
        Share of its travel that is done.
    moved : mapping of str to (4, 4) float
        ``shaft_from_section`` of sections that stand elsewhere than the raise has them.
    site : bool
        Whether capstans, people and the ground round about are drawn.
    alone : bool
        Whether sections with their fit-out are drawn and nothing else.
    """

    passage: Passage
    share: float
    moved: Mapping[str, Floats] = field(default_factory=dict)
    site: bool = False
    alone: bool = False


class Painter:
    """One plotter with every body of a scene in it, moved from picture to picture.

    Parameters
    ----------
    scene : Scene
        What is drawn.
    """

    def __init__(self, scene: Scene) -> None:
        # Kept by its parts: the scene itself would never be let go of.
        self._raise = scene.raise_
        self._bodies = scene.bodies
        self._plotter = pv.Plotter(off_screen=True, lighting="none")
        self._plotter.set_background(_shares(PAPER))
        self._light()
        self._actors = [_add_body(self._plotter, body) for body in scene.bodies]
        self._ground = _add_ground(self._plotter, scene)
        self._ropes = [_add_rope(self._plotter, rope) for rope in scene.ropes]
        self._winders = {winder.name: winder for winder in scene.winders}
        self._gear = [(gear, _add_gear(self._plotter, gear)) for gear in scene.gear]
        self._plotter.enable_parallel_projection()

    def paint(
        self, passage: Passage, share: float, standpoint: Standpoint, size: tuple[int, int]
    ) -> Picture:
        """Draw the bodies as they stand at one place of the raise.

        Parameters
        ----------
        passage : Passage
            Where the raise is.
        share : float
            Share of its travel that is done.
        standpoint : Standpoint
            Where it is seen from.
        size : tuple of int
            Width and height. [pixels]

        Returns
        -------
        picture : (h, w, 3) uint8
            Red, green, blue, upper row first.
        """
        return self.paint_posed(Posed(passage=passage, share=share), standpoint, size)

    def paint_posed(
        self, posed: "Posed", standpoint: Standpoint, size: tuple[int, int]
    ) -> Picture:
        """Draw the bodies, some of them elsewhere than the raise has them.

        Parameters
        ----------
        posed : Posed
            What is drawn, and where.
        standpoint : Standpoint
            Where it is seen from.
        size : tuple of int
            Width and height. [pixels]

        Returns
        -------
        picture : (h, w, 3) uint8
            Red, green, blue, upper row first.
        """
        passage, share = posed.passage, posed.share
        poses = {
            name: self._raise.shaft_from_section(passage.heel(name, share))
            for name in passage.standing
        } | dict(posed.moved)
        for body, actors in zip(self._bodies, self._actors, strict=True):
            seen = body.is_seen(passage) and (body.rides is not None or not posed.alone)
            _place(actors, poses.get(body.rides or ""), seen=seen)
        for rope, mesh, actor in self._ropes:
            ends = rope.points(poses) if rope.lift == passage.lift else None
            actor.visibility = ends is not None and not posed.alone
            if ends is not None:
                mesh.points = ends
        self._ground.visibility = not posed.alone
        for gear, actor in self._gear:
            winder = self._winders.get(gear.rides or "")
            pose = (
                poses.get(gear.rides or "") if winder is None else winder.pose(passage, share)
            )
            _place((actor,), pose, seen=posed.site and passage.index in gear.seen)
        return self._shoot(standpoint, size)

    def _shoot(self, standpoint: Standpoint, size: tuple[int, int]) -> Picture:
        self._look(standpoint, size)
        self._plotter.render()
        image = np.asarray(self._plotter.screenshot(return_img=True), dtype=np.uint8)[..., :3]
        if image.shape[:2] != (size[1], size[0]):
            raise RuntimeError(f"asked for a picture of {size} pixels, got {image.shape}")
        return image

    def close(self) -> None:
        """Give back the graphics memory; the painter cannot be used afterwards."""
        self._plotter.close()

    def _light(self) -> None:
        # From over the viewer's left shoulder, so that no standpoint looks into the dark.
        for at, strength in (((-0.7, 0.9, 1.0), 0.75), ((0.9, 0.3, 0.8), 0.35)):
            light = pv.Light(light_type="camera light", intensity=strength)
            light.position, light.focal_point = at, (0.0, 0.0, 0.0)
            self._plotter.add_light(light)

    def _look(self, standpoint: Standpoint, size: tuple[int, int]) -> None:
        if tuple(self._plotter.window_size) != size:
            self._plotter.window_size = list(size)
        focus = np.array(standpoint.focus)
        camera = self._plotter.camera
        camera.focal_point = focus
        camera.position = focus + FARTHEST * standpoint.towards_viewer
        camera.up = standpoint.upward
        camera.parallel_scale = standpoint.span / 2
        near = 1.0 if standpoint.cut is None else FARTHEST - standpoint.cut
        camera.clipping_range = (near, 2 * FARTHEST)


_painters: dict[int, Painter] = {}


def painter_of(scene: Scene) -> Painter:
    """The painter of a scene, made once; only to be called in the studio.

    Parameters
    ----------
    scene : Scene
        What is drawn.

    Returns
    -------
    painter : Painter
        Let go of with the scene.
    """
    key = id(scene)
    if key not in _painters:
        _painters[key] = Painter(scene)
        finalize(scene, lambda: STUDIO.later(lambda: _let_go(key))).atexit = False
    return _painters[key]


def _let_go(key: int) -> None:
    _painters.pop(key).close()


def _let_all_go() -> None:
    for key in tuple(_painters):
        _let_go(key)


at_exit(_let_all_go)


def picture(
    scene: Scene,
    passage: Passage,
    share: float,
    *,
    standpoint: Standpoint | None = None,
    size: tuple[int, int] = (300, 460),
) -> Picture:
    """Picture of the raise at one place, with a height scale and a north mark.

    Parameters
    ----------
    scene : Scene
        What is drawn; its plotter is kept and used again, in a thread of its own.
    passage : Passage
        Where the raise is.
    share : float
        Share of its travel that is done, 0 to 1.
    standpoint : Standpoint or None
        Where it is seen from; None shows the whole tower.
    size : tuple of int
        Width and height. [pixels]

    Returns
    -------
    picture : (h, w, 3) uint8
        Red, green, blue, upper row first. The wall nearest to the viewer is left
        out. Where a gap curve exists for the passage, the least gap is marked.

    Raises
    ------
    ValueError
        If `share` is not within 0 and 1, or a side of `size` is not within 16 and
        4096 pixels.
    """
    if not 0 <= share <= 1:
        raise ValueError(f"share must be within 0 and 1, got {share}")
    if not all(16 <= side <= LARGEST for side in size):
        raise ValueError(f"size must be within 16 and {LARGEST} pixels, got {size}")
    where = whole_tower(scene, size) if standpoint is None else standpoint
    bare = STUDIO.do(lambda: painter_of(scene).paint(passage, share, where, size))
    said = Said(
        nearest=nearest_gap(scene.gaps, passage, share),
        names=_names(scene, passage, share, where),
    )
    return draw_marks(bare, where, said)


def _names(
    scene: Scene, passage: Passage, share: float, standpoint: Standpoint
) -> tuple[tuple[str, float], ...]:
    # Only in an elevation that shows whole sections: nearer, they would name nothing.
    if standpoint.rise != 0 or standpoint.span < 2 * max(scene.lengths.values()):
        return ()
    named = [
        (name, passage.heel(name, share) + scene.lengths[name] / 2) for name in passage.standing
    ]
    return (*named, *_not_seen(scene))


def _not_seen(scene: Scene) -> Iterator[tuple[str, float]]:
    """Holes of the scan, the longest few, with the middle of each."""
    for body in scene.bodies:
        if body.name == UNSEEN:
            for number, mark in enumerate(body.marks[:NAMED_HOLES]):
                corners = body.vertices[body.faces[body.members == number]]
                name = mark.split(" in the scan")[0]
                yield f"not seen: {name}", float(corners[..., 2].mean())


def _add_body(plotter: pv.Plotter, body: Body) -> tuple[pv.Actor, ...]:
    mesh = _mesh(body)
    culling = "back" if body.kind is Kind.SHAFT else False
    faces = plotter.add_mesh(
        mesh,
        scalars="colours",
        rgb=True,
        culling=culling,
        lighting=True,
        ambient=0.34,
        diffuse=0.8,
        specular=0.0,
        show_scalar_bar=False,
        render=False,
        reset_camera=False,
    )
    edges = mesh.extract_feature_edges(
        EDGE_ANGLE, boundary_edges=True, manifold_edges=False, non_manifold_edges=False
    )
    if not edges.n_cells or body.kind is Kind.SHAFT:
        return (faces,)
    edges.clear_data()
    lines = plotter.add_mesh(
        edges,
        color=_shares(INK),
        line_width=1,
        opacity=0.35,
        lighting=False,
        render=False,
        reset_camera=False,
    )
    return faces, lines


def _head_of(wall: Model) -> Model:
    """What of a wall lies level."""
    corners = wall.vertices[wall.faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    level = np.abs(normals[:, 2]) > np.abs(normals[:, :2]).max(axis=1)
    return Model(vertices=wall.vertices, faces=wall.faces[level], colours=wall.colours[level])


def _add_gear(plotter: pv.Plotter, gear: Gear) -> pv.Actor:
    # Before the outside of the wall nothing could be seen: its top alone is drawn.
    model = _head_of(gear.model) if gear.part == "wall" else gear.model
    mesh = pv.PolyData.from_regular_faces(model.vertices, model.faces)
    mesh.cell_data["colours"] = model.colours
    return plotter.add_mesh(
        mesh,
        scalars="colours",
        rgb=True,
        lighting=True,
        ambient=0.34,
        diffuse=0.8,
        specular=0.0,
        show_scalar_bar=False,
        render=False,
        reset_camera=False,
    )


def _mesh(body: Body) -> pv.PolyData:
    mesh = pv.PolyData.from_regular_faces(body.vertices, body.faces)
    mesh.cell_data["colours"] = body.colours
    return mesh


def _add_ground(plotter: pv.Plotter, scene: Scene) -> pv.Actor:
    (west, south, floor), (east, north, _) = scene.low, scene.high
    floor -= 0.01
    corners = np.array(
        [[west, south, floor], [east, south, floor], [east, north, floor], [west, north, floor]]
    )
    mesh = pv.PolyData.from_regular_faces(corners, np.array([[0, 1, 2], [0, 2, 3]]))
    return plotter.add_mesh(
        mesh, color=_shares(GROUND), lighting=False, render=False, reset_camera=False
    )


def _add_rope(plotter: pv.Plotter, rope: Rope) -> tuple[Rope, pv.PolyData, pv.Actor]:
    n = len(rope.path)
    mesh = pv.PolyData(np.zeros((n, 3)), lines=np.array([n, *range(n)]))
    actor = plotter.add_mesh(
        mesh,
        color=_shares(ROPE),
        line_width=1.5,
        lighting=False,
        render=False,
        reset_camera=False,
    )
    return rope, mesh, actor


def _place(actors: Sequence[pv.Actor], pose: Floats | None, *, seen: bool) -> None:
    for actor in actors:
        actor.visibility = seen
        if pose is not None:
            actor.user_matrix = pose


def _shares(colour: tuple[int, int, int]) -> tuple[float, float, float]:
    red, green, blue = colour
    return red / 255, green / 255, blue / 255
