"""The clearance that must be left, and what each part of it is for.

What is known to happen adds up directly: the running clearance, swelling, the
play and tilt the shoes allow, sway. Only workshop and survey errors, which are
independent, go together by root-sum-square; tilt and sway are limits that are
reached, and one gust drives both, so they never do.
"""

from dataclasses import dataclass
from math import hypot, isfinite

from towerlift.nesting.curves import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class GapBudget:
    """Clearance needed at one height of a section, part by part.

    Attributes
    ----------
    running : float
        Running clearance to be left. [m]
    play : float
        Play of the shoes; what they may take up counts in place of the running
        clearance where it is more. [m]
    swelling : float
        Growth of one side of both bodies. [m]
    fabrication, survey : float
        Workshop tolerance and uncertainty of the other body's place. [m]
    tilt : float
        Shift by tilt beyond the play already counted. [m]
    sway : float
        Shift by wind. [m]
    built : float
        How much farther out than drawn the bodies stand, by the trial assembly. [m]
    """

    running: float
    play: float
    swelling: float
    fabrication: float
    survey: float
    tilt: float
    sway: float
    built: float = 0.0

    def __post_init__(self) -> None:
        for name in (
            "running",
            "play",
            "swelling",
            "fabrication",
            "survey",
            "tilt",
            "sway",
            "built",
        ):
            value = getattr(self, name)
            if not (value >= 0 and isfinite(value)):
                raise ValueError(f"{name} must be finite and not negative, got {value} m")

    @property
    def total(self) -> float:
        """Clearance needed. [m]"""
        spread = hypot(self.fabrication, self.survey)
        known = self.swelling + self.built + self.tilt + self.sway
        return max(self.running, self.play) + known + spread

    def in_words(self) -> str:
        """The sum as a framer would check it, in mm."""
        spread = hypot(self.fabrication, self.survey)
        parts = [
            f"{self.play * 1000:.0f} play of the shoes"
            if self.play > self.running
            else f"{self.running * 1000:.0f} running",
            f"{self.swelling * 1000:.1f} swelling",
            f"{spread * 1000:.1f} workshop and survey (root-sum-square of "
            f"{self.fabrication * 1000:.0f} and {self.survey * 1000:.0f})",
        ]
        if self.built > 0:
            parts.append(f"{self.built * 1000:.1f} farther out as built")
        if self.tilt > 0:
            parts.append(f"{self.tilt * 1000:.1f} tilt")
        if self.sway > 0:
            parts.append(f"{self.sway * 1000:.1f} sway")
        return " + ".join(parts) + f" = {self.total * 1000:.1f} mm"


def guided_shift(play: float, span: float, height: float) -> float:
    """Farthest that a point moves sideways while shoes take up their play.

    A body held between a lower and an upper shoe, each free to move the play
    either way, shifts by the play all along when it slides, and by
    ``play * |2 height / span - 1|`` when it leans from one shoe to the other.

    Parameters
    ----------
    play : float
        Gap left at each shoe on each side. [m]
    span : float
        Distance between the lowest and the highest shoe that bear. [m]
    height : float
        Height of the point above the lower shoe. [m]

    Returns
    -------
    shift : float
        [m]

    Raises
    ------
    ValueError
        If the shoes have no distance between them.

    Notes
    -----
    Rigid body, small angles: derived from the line through the two shoes.
    """
    if not span > 0:
        raise ValueError(f"shoes that bear must be apart, got {span} m")
    return play * max(1.0, abs(2.0 * height / span - 1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeHang:
    """How far a section that hangs free is out of true.

    Attributes
    ----------
    tilt : float
        Angle by level difference, offset of the centre of gravity and toppling. [rad]
    sway : float
        Shift of the lift points by wind. [m]
    lean : float
        Angle by wind. [rad]
    pivot : float
        Height s of the lift points, about which it tilts. [m]
    """

    tilt: float
    sway: float
    lean: float
    pivot: float

    def tilt_shift(self, height: float) -> float:
        """Shift by tilt of a point at a height s. [m]"""
        return self.tilt * abs(height - self.pivot)

    def sway_shift(self, height: float) -> float:
        """Shift by wind of a point at a height s. [m]"""
        return self.sway + self.lean * abs(height - self.pivot)


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeHangCurve:
    """How far out of true a section on free lines hangs, along one passage.

    Attributes
    ----------
    heels : (k,) float
        Rising heel heights. [m]
    tilt : (k,) float
        By level difference and offset of the centre of gravity, toppling included. [rad]
    sway : (k,) float
        Shift of the lift points by wind. [m]
    lean : (k,) float
        Angle by wind. [rad]
    pivot : float
        Height s about which it tilts. [m]
    unknown : str
        Why it could not be found, such as that it topples; empty where it was.
    """

    heels: Floats
    tilt: Floats
    sway: Floats
    lean: Floats
    pivot: float
    unknown: str = ""
