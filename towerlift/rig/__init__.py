"""The rigging of each lift put together, and the loads it takes along the travel."""

from towerlift.rig.curves import HangCurve
from towerlift.rig.hanging import hang_curves

__all__ = ["HangCurve", "hang_curves"]
