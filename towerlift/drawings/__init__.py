"""Drawings in 2D, as SVG: strips along a haul and along the whole raise."""

from towerlift.drawings.course import raise_strip, strip_insets
from towerlift.drawings.gaps import Strip, gap_strip
from towerlift.drawings.loads import load_strip
from towerlift.drawings.runs import Course, course_of, run_of

__all__ = [
    "Course",
    "Strip",
    "course_of",
    "gap_strip",
    "load_strip",
    "raise_strip",
    "run_of",
    "strip_insets",
]
