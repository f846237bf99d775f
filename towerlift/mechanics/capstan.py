"""A capstan walked round by people: rope speed, pull, hands, and the turns that hold."""

from dataclasses import dataclass, fields


@dataclass(frozen=True, slots=True, kw_only=True)
class CapstanGear:
    """The three lengths that set what a capstan gives for what is put in.

    Attributes
    ----------
    barrel_radius : float
        Radius of the bare barrel. [m]
    rope_diameter : float
        Diameter of the rope, whose centre line lies half of it off the barrel. [m]
    bar_radius : float
        Mean radius of the hands on the bars. [m]
    """

    barrel_radius: float
    rope_diameter: float
    bar_radius: float

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if not value > 0:
                raise ValueError(f"{field.name} must be positive, got {value} m")

    @property
    def rope_radius(self) -> float:
        """Radius at which the rope's centre line winds. [m]"""
        return self.barrel_radius + self.rope_diameter / 2


def rope_speed(gear: CapstanGear, walk: float) -> float:
    """Speed at which a capstan takes in rope.

    Parameters
    ----------
    gear : CapstanGear
        Barrel, rope and bars.
    walk : float
        Speed of the hands along their circle. [m/s]

    Returns
    -------
    speed : float
        Rope taken in per time, without slip. [m/s]

    Raises
    ------
    ValueError
        If `walk` is not positive.
    """
    if not walk > 0:
        raise ValueError(f"walking speed must be positive, got {walk} m/s")
    return walk * gear.rope_radius / gear.bar_radius
