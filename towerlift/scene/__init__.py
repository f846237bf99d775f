"""What is drawn in 3D: the raise as bodies, and pictures of it without a display."""

from towerlift.scene.bodies import Body, Kind, Scene, build_scene
from towerlift.scene.marks import as_png
from towerlift.scene.nearest import Nearest, nearest_gap
from towerlift.scene.painter import picture
from towerlift.scene.standpoints import (
    Standpoint,
    close_up,
    from_above,
    on_section,
    whole_tower,
)

__all__ = [
    "Body",
    "Kind",
    "Nearest",
    "Scene",
    "Standpoint",
    "as_png",
    "build_scene",
    "close_up",
    "from_above",
    "nearest_gap",
    "on_section",
    "picture",
    "whole_tower",
]
