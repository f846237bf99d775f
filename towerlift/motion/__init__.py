"""The raise: states, stages, lifts, and every section's pose at any travel."""

from towerlift.motion.follow import follow_stages

__all__ = ["follow_stages"]
