"""The whole raise: its passages, what breaks the order, and poses along it."""

from dataclasses import dataclass

import numpy as np

from towerlift.motion.passages import TRUE_HANG, Breach, Floats, Passage, PoseChange, Rest
from towerlift.plan.bodies import PlumbLine


@dataclass(frozen=True, slots=True, kw_only=True)
class Raise:
    """Every state the tower passes through.

    Attributes
    ----------
    passages : tuple of Passage
        In order; each begins where the one before it ends.
    breaches : tuple of Breach
        Rules of order that the stages break, in the order found.
    plumb_line : PlumbLine
        Where the sections hang.
    rests : tuple of Rest
        What stands when each stage is done, in the order of the stages.
    """

    passages: tuple[Passage, ...]
    breaches: tuple[Breach, ...]
    plumb_line: PlumbLine
    rests: tuple[Rest, ...] = ()

    @property
    def moving_passages(self) -> tuple[Passage, ...]:
        """Passages in which something moves."""
        return tuple(passage for passage in self.passages if passage.moving)

    def shaft_from_section(self, heel: float, change: PoseChange = TRUE_HANG) -> Floats:
        """Pose of a section whose heel is at a height.

        Parameters
        ----------
        heel : float
            Heel height, shaft frame. [m]
        change : PoseChange
            How it hangs away from true.

        Returns
        -------
        shaft_from_section : (4, 4) float
            Takes (x, y, s, 1) in the section to (x, y, z, 1) in the shaft.
        """
        yaw = self.plumb_line.turn + change.yaw
        pose = np.eye(4)
        pose[:3, :3] = _about(1, change.tilt_y) @ _about(0, change.tilt_x) @ _about(2, yaw)
        pose[:3, 3] = (
            self.plumb_line.x + change.drift_x,
            self.plumb_line.y + change.drift_y,
            heel,
        )
        return pose


def _about(axis: int, angle: float) -> Floats:
    c, s = np.cos(angle), np.sin(angle)
    turn = np.eye(3)
    i, j = (axis + 1) % 3, (axis + 2) % 3
    turn[i, i] = turn[j, j] = c
    turn[i, j], turn[j, i] = -s, s
    return turn
