"""What the raise is made of: passages, each with every section's state and place."""

import copyreg
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def _fix(plain: dict[object, object]) -> MappingProxyType[object, object]:
    return MappingProxyType(plain)


def _loosen(
    fixed: MappingProxyType[object, object],
) -> tuple[
    Callable[[dict[object, object]], MappingProxyType[object, object]],
    tuple[dict[object, object]],
]:
    return _fix, (dict(fixed),)


# Passages go to other processes, and Python does not send a read-only mapping by itself.
copyreg.pickle(MappingProxyType, _loosen)


class State(StrEnum):
    """States a section passes through."""

    GROUND = "ground"
    ASSEMBLING = "assembling"
    COMPLETE = "complete"
    SLUNG = "slung"
    FLOATED = "floated"
    MOVING = "moving"
    PARKED = "parked"
    SECURED = "secured"
    LOCKED = "locked"
    TRANSFERRED = "transferred"


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where one section is during a passage, and what holds it.

    Attributes
    ----------
    state : State
        Its state while the passage lasts.
    carrier : str
        "ground", a fixture, a section below it, or the lift whose tackles hold it.
    heel_from, heel_to : float
        Heel height when the passage begins and ends, shaft frame. [m]
    """

    state: State
    carrier: str
    heel_from: float
    heel_to: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """A stretch of the raise in which nothing changes but the travel.

    A lift that picks up another section is cut in two passages at the pick-up.

    Attributes
    ----------
    index : int
        Place in the raise, from 0.
    stage : str
        Stage it belongs to.
    step : str
        What is done: "assemble", "sling", "float", "lift", "lower", "secure",
        "lock", "transfer", "fit", "install", "strike", "clear the column".
    subject : str
        Section, fixture or item it is done to.
    lift : str or None
        Lift whose tackles carry the moving sections.
    moving : tuple of str
        Sections that move, the hauled one first; empty for other steps.
    standing : mapping of str to Standing
        Every section that is on the site.
    fixtures : frozenset of str
        Fixtures in place.
    fitted : frozenset of str
        Fit-out items in place.
    begins : datetime or None
        When it begins, None where the stage is not dated.
    duration : float
        How long it lasts. [s]
    event : str
        What happens at its beginning, such as a pick-up; empty for nothing.
    """

    index: int
    stage: str
    step: str
    subject: str
    lift: str | None
    moving: tuple[str, ...]
    standing: Mapping[str, Standing]
    fixtures: frozenset[str]
    fitted: frozenset[str]
    begins: datetime | None
    duration: float
    event: str = ""

    @property
    def travel(self) -> float:
        """Height that the hauled section gains, negative when lowered. [m]"""
        if not self.moving:
            return 0.0
        hauled = self.standing[self.moving[0]]
        return hauled.heel_to - hauled.heel_from

    def heel(self, section: str, share: float) -> float:
        """Heel height of a section when a share of the travel is done.

        Parameters
        ----------
        section : str
            Name of a section on the site.
        share : float
            0 at the beginning of the passage, 1 at its end.

        Returns
        -------
        heel : float
            Shaft frame. [m]
        """
        place = self.standing[section]
        return place.heel_from + share * (place.heel_to - place.heel_from)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """What stands when a stage is done, until the next one begins.

    Attributes
    ----------
    stage : str
        The stage that is done.
    begins : datetime or None
        When it is done, None where it is not dated.
    standing : mapping of str to Standing
        Every section that is on the site.
    fixtures : frozenset of str
        Fixtures in place.
    fitted : frozenset of str
        Fit-out items in place.
    """

    stage: str
    begins: datetime | None
    standing: Mapping[str, Standing]
    fixtures: frozenset[str]
    fitted: frozenset[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Breach:
    """A rule of order that the stages break.

    Attributes
    ----------
    rule : str
        Name of the rule.
    subject, stage : str
        What breaks it, and where.
    heel : float or None
        Heel height of the moving section, if it matters. [m]
    why : str
        What is wrong, in a sentence.
    remedy : tuple of str
        What would cure it, best first.
    """

    rule: str
    subject: str
    stage: str
    heel: float | None = None
    why: str
    remedy: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PoseChange:
    """How a section hangs away from true.

    Attributes
    ----------
    tilt_x, tilt_y : float
        Rotation about the east and the north axis through the heel centre. [rad]
    yaw : float
        Rotation about the vertical, added to the plan's turn. [rad]
    drift_x, drift_y : float
        Shift of the heel centre. [m]
    """

    tilt_x: float = 0.0
    tilt_y: float = 0.0
    yaw: float = 0.0
    drift_x: float = 0.0
    drift_y: float = 0.0


TRUE_HANG = PoseChange()
