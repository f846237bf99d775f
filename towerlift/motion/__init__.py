"""The raise: states, stages, lifts, and every section's pose at any travel."""

from towerlift.motion.follow import follow_stages
from towerlift.motion.masses import hanging_mass, moving_mass
from towerlift.motion.raises import Raise
from towerlift.motion.travel import (
    Moment,
    StageSpan,
    describe,
    locate,
    position_at,
    stage_spans,
    total_travel,
)

__all__ = [
    "Moment",
    "Raise",
    "StageSpan",
    "describe",
    "follow_stages",
    "hanging_mass",
    "locate",
    "moving_mass",
    "position_at",
    "stage_spans",
    "total_travel",
]
