"""A value with who printed it, and whether that print was read."""

from dataclasses import dataclass
from enum import StrEnum
from math import isfinite


class Read(StrEnum):
    """How a value came here.

    A check may use the first three; a value that was not read is none, and what needs
    it waits until somebody gives one.
    """

    PRINTED = "read in the publication"
    REPEATED = "read where another source repeats it"
    GIVEN = "given by whoever wrote the plan"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sourced:
    """A number with its source.

    Attributes
    ----------
    value : float
        In the unit its owner states.
    source : str
        Publication with edition and table.
    read : Read
        Whether the publication itself was read.
    """

    value: float
    source: str
    read: Read = Read.PRINTED

    def __post_init__(self) -> None:
        if not isfinite(self.value):
            raise ValueError(f"a value must be finite, got {self.value}")
        if not self.source.strip():
            raise ValueError("a value must say where it comes from")
