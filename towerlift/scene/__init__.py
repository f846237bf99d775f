"""What is drawn in 3D: the raise as bodies, and pictures of it without a display."""

from towerlift.scene.bodies import Body, Kind, Scene, build_scene
from towerlift.scene.gltf import raise_gltf, write_gltf
from towerlift.scene.marks import as_png
from towerlift.scene.movie import Film, write_movie
from towerlift.scene.nearest import Nearest, nearest_gap
from towerlift.scene.nest import exploded_nest
from towerlift.scene.painter import picture
from towerlift.scene.pictures import Shot, shoot
from towerlift.scene.stage_strip import stage_strip
from towerlift.scene.standpoints import (
    Standpoint,
    close_up,
    from_above,
    on_section,
    whole_site,
    whole_tower,
)

__all__ = [
    "Body",
    "Film",
    "Kind",
    "Nearest",
    "Scene",
    "Shot",
    "Standpoint",
    "as_png",
    "build_scene",
    "close_up",
    "exploded_nest",
    "from_above",
    "nearest_gap",
    "on_section",
    "picture",
    "raise_gltf",
    "shoot",
    "stage_strip",
    "whole_site",
    "whole_tower",
    "write_gltf",
    "write_movie",
]
