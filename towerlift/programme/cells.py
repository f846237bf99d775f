"""Where people are on the site, and where what they drop may come down.

Heights are in the shaft frame, z up from the floor. [m]
"""

from dataclasses import dataclass
from enum import StrEnum
from math import inf


class Zone(StrEnum):
    """A part of the site in plan."""

    COLUMN = "in the column"
    BESIDE = "beside the tower"
    CAPSTANS = "at the capstans"
    LINES = "in the lines"
    OUTSIDE = "outside"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A band of height in one zone.

    Attributes
    ----------
    zone : Zone
        Where in plan.
    low, high : float
        Band of height, shaft frame; infinite where it is not limited. [m]
    """

    zone: Zone
    low: float = -inf
    high: float = inf

    def meets(self, other: "Cell") -> bool:
        """Whether two cells have a place in common; bands that only touch have none."""
        return (
            self.zone is other.zone
            and self.zone is not Zone.OUTSIDE
            and min(self.high, other.high) > max(self.low, other.low)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Hazard:
    """What may fall from a piece of work, and how far.

    Attributes
    ----------
    what : str
        The heaviest thing that may be dropped, or the section that hangs.
    mass : float or None
        Of it; None where the plan does not say. [kg]
    shadow : tuple of Cell
        Cells under it, down to the first deck or net that stops it.
    stopped_by : str or None
        That deck or net; None where it falls to the floor.
    """

    what: str
    mass: float | None
    shadow: tuple[Cell, ...]
    stopped_by: str | None
