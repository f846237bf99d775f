"""The clearance that must be left, and what each part of it is for.

What is known to happen adds up directly: the running clearance, swelling, the
play and tilt the shoes allow, sway. Only workshop and survey errors, which are
independent, go together by root-sum-square; tilt and sway are limits that are
reached, and one gust drives both, so they never do.
"""

from dataclasses import dataclass
from math import hypot

from towerlift.nesting.curves import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class GapBudget:
    """Clearance needed at one height of a section, part by part.

    Attributes
    ----------
    running : float
        Running clearance to be left, or the play of the shoes where that is more. [m]
    swelling : float
        Growth of one side of both bodies. [m]
    fabrication, survey : float
        Workshop tolerance and uncertainty of the other body's place. [m]
    tilt : float
        Shift by tilt beyond the play already counted. [m]
    sway : float
        Shift by wind. [m]
    """

    running: float
    swelling: float
    fabrication: float
    survey: float
    tilt: float
    sway: float

    @property
    def total(self) -> float:
        """Clearance needed. [m]"""
        spread = hypot(self.fabrication, self.survey)
        return self.running + self.swelling + spread + self.tilt + self.sway

    def in_words(self) -> str:
        """The sum as a framer would check it, in mm."""
        spread = hypot(self.fabrication, self.survey)
        parts = [
            f"{self.running * 1000:.0f} running",
            f"{self.swelling * 1000:.1f} swelling",
            f"{spread * 1000:.1f} workshop and survey (root-sum-square of "
            f"{self.fabrication * 1000:.0f} and {self.survey * 1000:.0f})",
        ]
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


def amplified_tilt(level_difference: float, spacing: float, ratio: float) -> float:
    """Tilt of a section on elastic lines when one side is hauled too far.

    Parameters
    ----------
    level_difference : float
        Difference in haul between opposite sides. [m]
    spacing : float
        Distance between the lines. [m]
    ratio : float
        Tilting stiffness over toppling stiffness W h_G; infinity where the centre
        of gravity hangs below the lift points.

    Returns
    -------
    tilt : float
        ``level_difference / spacing * ratio / (ratio - 1)``. [rad]

    Raises
    ------
    ValueError
        If the ratio is not above one: the section topples, and no tilt answers.

    Notes
    -----
    Equilibrium of ``k (theta - theta_0) = W h_G theta``: derived here.
    """
    if not ratio > 1:
        raise ValueError(f"stiffness ratio must be above 1 to stand, got {ratio}")
    naive = level_difference / spacing
    return naive if ratio == float("inf") else naive * ratio / (ratio - 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class GustOnLift:
    """Wind on what stands above the wall head while a section hangs free.

    Attributes
    ----------
    force : float
        [N]
    arm : float
        Height of the force above the lift points. [m]
    line : float
        Length of the lines. [m]
    weight : float
        Weight that hangs. [N]
    tilt_stiffness, toppling : float
        k_theta of the lines and W h_G. [N m/rad]
    """

    force: float
    arm: float
    line: float
    weight: float
    tilt_stiffness: float
    toppling: float

    @property
    def sway(self) -> float:
        """Shift of the lift points, F L / W. [m]"""
        return self.force * self.line / self.weight

    @property
    def lean(self) -> float:
        """Tilt by the moment of the wind, F h_F / (k_theta - W h_G). [rad]"""
        left = self.tilt_stiffness - self.toppling
        if not left > 0:
            raise ValueError(f"the section topples: {left} N m/rad of stiffness left")
        return self.force * self.arm / left


def gust_pressure(speed: float) -> float:
    """Dynamic pressure of a gust, half rho v squared with 1.25 kg/m3. [Pa]

    Parameters
    ----------
    speed : float
        [m/s]

    Returns
    -------
    pressure : float
        [Pa]

    References
    ----------
    .. [1] EN 1991-1-4, 4.5: basic velocity pressure, air at 1.25 kg/m3.
    """
    return 0.625 * speed**2


def silhouette(heights: Floats, half_widths: Floats, above: float) -> tuple[float, float]:
    """Area of a section's outline above a height, and the height of its centre.

    Parameters
    ----------
    heights : (k,) float
        Rising heights at which the outline is known. [m]
    half_widths : (k,) float
        Half width there; straight between. [m]
    above : float
        Only what is above this counts. [m]

    Returns
    -------
    area : float
        Full outline, as if nothing were open. [m^2]
    centre : float
        Height of its centre; `above` where there is no area. [m]
    """
    area = moment = 0.0
    for low, high, wide, narrow in zip(
        heights[:-1], heights[1:], half_widths[:-1], half_widths[1:], strict=True
    ):
        if high <= above or high <= low:
            continue
        cut = max(low, above)
        at_cut = wide + (narrow - wide) * (cut - low) / (high - low)
        rise, mean = high - cut, at_cut + narrow
        area += mean * rise
        # Centre of a trapezoid above its lower side.
        offset = rise / 3.0 * (at_cut + 2.0 * narrow) / mean if mean > 0 else 0.0
        moment += mean * rise * (cut + offset)
    return (area, moment / area) if area > 0 else (0.0, above)
