"""Certified distances between moving and fixed bodies: arrays in, values out.

Lengths are in metres and angles in radians throughout. A verdict needs three
ways: a limit is broken if ``upper`` is below it, kept if ``lower`` is not below
it, and otherwise not evaluated.
"""

from towerlift.gaps.body import Body, build_body
from towerlift.gaps.holes import Hole, SeenGap, find_holes, hole_gaps, open_ends, seen_gap, veil
from towerlift.gaps.lines import Line, LineGap, line_gap
from towerlift.gaps.maps import Cells, GapMap, fixed_map, moving_map
from towerlift.gaps.members import MemberGaps, member_gaps
from towerlift.gaps.minimum import PathGap, least_gap
from towerlift.gaps.montecarlo import (
    Margins,
    MarginScope,
    SampleVerdicts,
    build_margins,
    sample_bounds,
    settle_samples,
)
from towerlift.gaps.path import Lean, Path, straight_path
from towerlift.gaps.plumb import PlumbLine, Reach, Shift, best_plumb_line
from towerlift.gaps.plumb_ceiling import PlumbCeiling, plumb_ceiling
from towerlift.gaps.pose import PoseGap, pose_gap
from towerlift.gaps.skip import UnsearchedError
from towerlift.gaps.sweep import GapSeries, gap_series
from towerlift.gaps.warm import warm_up

__all__ = [
    "Body",
    "Cells",
    "GapMap",
    "GapSeries",
    "Hole",
    "Lean",
    "Line",
    "LineGap",
    "MarginScope",
    "Margins",
    "MemberGaps",
    "Path",
    "PathGap",
    "PlumbCeiling",
    "PlumbLine",
    "PoseGap",
    "Reach",
    "SampleVerdicts",
    "SeenGap",
    "Shift",
    "UnsearchedError",
    "best_plumb_line",
    "build_body",
    "build_margins",
    "find_holes",
    "fixed_map",
    "gap_series",
    "hole_gaps",
    "least_gap",
    "line_gap",
    "member_gaps",
    "moving_map",
    "open_ends",
    "plumb_ceiling",
    "pose_gap",
    "sample_bounds",
    "seen_gap",
    "settle_samples",
    "straight_path",
    "veil",
    "warm_up",
]
