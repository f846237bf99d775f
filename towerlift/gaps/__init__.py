"""Certified distances between moving and fixed bodies: arrays in, values out.

Lengths are in metres and angles in radians throughout. A verdict needs three
ways: a limit is broken if ``upper`` is below it, kept if ``lower`` is not below
it, and otherwise not evaluated.
"""

from towerlift.gaps.body import Body, build_body
from towerlift.gaps.members import MemberGaps, member_gaps
from towerlift.gaps.minimum import PathGap, least_gap
from towerlift.gaps.path import Lean, Path, straight_path
from towerlift.gaps.pose import PoseGap, pose_gap
from towerlift.gaps.skip import UnsearchedError
from towerlift.gaps.sweep import GapSeries, gap_series
from towerlift.gaps.warm import warm_up

__all__ = [
    "Body",
    "GapSeries",
    "Lean",
    "MemberGaps",
    "Path",
    "PathGap",
    "PoseGap",
    "UnsearchedError",
    "build_body",
    "gap_series",
    "least_gap",
    "member_gaps",
    "pose_gap",
    "straight_path",
    "warm_up",
]
