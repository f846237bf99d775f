"""Drawings in 2D: strips along a haul and the whole raise, and dimensioned drawings.

Strips and maps are SVG for the screen. A dimensioned drawing is a `Drawing`, a value that
`to_svg` and `to_dxf` write, so that both say the same.
"""

from towerlift.drawings.as_dxf import to_dxf
from towerlift.drawings.as_svg import to_svg
from towerlift.drawings.course import raise_strip, strip_insets
from towerlift.drawings.drawing import Drawing
from towerlift.drawings.elevations import stage_elevation
from towerlift.drawings.gap_cut import gap_drawing, least_margin
from towerlift.drawings.gaps import Strip, gap_strip
from towerlift.drawings.ground_plan import leads_drawing
from towerlift.drawings.lengths import Measure
from towerlift.drawings.loads import load_strip
from towerlift.drawings.paper import A4, LETTER, Block, Paper, Room
from towerlift.drawings.reeving import reeving_drawing
from towerlift.drawings.runs import Course, course_of, run_of
from towerlift.drawings.states import resting_stages, whole_strip
from towerlift.drawings.wall import wall_drawing

__all__ = [
    "A4",
    "LETTER",
    "Block",
    "Course",
    "Drawing",
    "Measure",
    "Paper",
    "Room",
    "Strip",
    "course_of",
    "gap_drawing",
    "gap_strip",
    "leads_drawing",
    "least_margin",
    "load_strip",
    "raise_strip",
    "reeving_drawing",
    "resting_stages",
    "run_of",
    "stage_elevation",
    "strip_insets",
    "to_dxf",
    "to_svg",
    "wall_drawing",
    "whole_strip",
]
