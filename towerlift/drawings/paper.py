"""Sheets of paper, the room they leave for a drawing, and the block of words that signs it."""

from dataclasses import dataclass
from math import isfinite

from towerlift.drawings.lengths import Measure

CAUTION = (
    "An aid to planning. It does not replace a licensed engineer and a competent rigger; "
    "local codes govern. Check every size on the work."
)
SCALES = (5, 10, 20, 25, 50, 75, 100, 125, 150, 200, 250, 300, 400, 500, 600, 750, 1000)
"""Scales that a rule has, or that a tower on small paper needs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Room for a drawing, and how it is to be written.

    Attributes
    ----------
    width, height : float
        On paper. [mm]
    text : float
        Height of the capital letters. [mm]
    measure : Measure
        How lengths are written.
    """

    width: float
    height: float
    text: float = 2.2
    measure: Measure = Measure.METRIC

    def __post_init__(self) -> None:
        for name in ("width", "height", "text"):
            value = getattr(self, name)
            if not (value > 0 and isfinite(value)):
                raise ValueError(f"{name} must be finite and above zero, got {value} mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A sheet and its margin.

    Attributes
    ----------
    name : str
        As printers name it.
    width, height : float
        As it lies. [mm]
    margin : float
        [mm]
    block : float
        Height of the block of words along its foot. [mm]
    """

    name: str
    width: float
    height: float
    margin: float = 10.0
    block: float = 21.0

    @property
    def landscape(self) -> "Paper":
        """The same sheet, long side level."""
        sides = sorted((self.width, self.height))
        return Paper(
            name=self.name,
            width=sides[1],
            height=sides[0],
            margin=self.margin,
            block=self.block,
        )

    def room(self, *, text: float = 2.2, measure: Measure = Measure.METRIC) -> Room:
        """Room for a drawing inside margin and frame, above the block.

        Parameters
        ----------
        text : float
            Height of the capital letters. [mm]
        measure : Measure
            How lengths are written.

        Returns
        -------
        room : Room
            What is left of the sheet.
        """
        return Room(
            width=self.width - 2 * self.margin - 4.0,
            height=self.height - 2 * self.margin - self.block - 4.0,
            text=text,
            measure=measure,
        )


A4 = Paper(name="A4", width=210.0, height=297.0)
LETTER = Paper(name="US Letter", width=215.9, height=279.4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """The block of words along the foot of a sheet.

    Attributes
    ----------
    paper : Paper
        Sheet it stands on; the drawing was made for its room.
    plan, version, fingerprint : str
        Name of the plan, its version, and the hash of its content.
    number : str
        Of the sheet, such as "3 of 12".
    caution : str
        What the drawing does not replace.
    stamp : str
        Written large across the sheet, such as "NOT RELEASED"; empty for nothing.
    """

    paper: Paper
    plan: str
    version: str
    fingerprint: str
    number: str = ""
    caution: str = CAUTION
    stamp: str = ""
