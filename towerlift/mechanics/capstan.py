"""A capstan walked round by people: rope speed, pull, hands, and the turns that hold."""

from dataclasses import dataclass, fields
from math import exp, log, pi


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


def rope_pull(gear: CapstanGear, force: float, *, efficiency: float) -> float:
    r"""Pull in the rope when a force is pushed at the bars.

    .. math:: P (r_b + d/2) = \eta F R

    Parameters
    ----------
    gear : CapstanGear
        Barrel, rope and bars.
    force : float
        Push of all hands together, square to the bars. [N]
    efficiency : float
        Share of the work that reaches the rope, above 0 and not above 1.

    Returns
    -------
    pull : float
        In the rope where it comes onto the barrel. [N]

    Raises
    ------
    ValueError
        If `force` is negative or `efficiency` is not a share.

    Notes
    -----
    The pull of the tailer is left out: it is small, and it helps.
    """
    _require_share(efficiency)
    if not force >= 0:
        raise ValueError(f"push must not be negative, got {force} N")
    return efficiency * force * gear.bar_radius / gear.rope_radius


def hands_needed(gear: CapstanGear, pull: float, *, push: float, efficiency: float) -> float:
    """Hands that haul a pull, as a number that is not yet rounded up.

    Parameters
    ----------
    gear : CapstanGear
        Barrel, rope and bars.
    pull : float
        In the rope where it comes onto the barrel. [N]
    push : float
        Push of one person, square to the bar. [N]
    efficiency : float
        Share of the work that reaches the rope, above 0 and not above 1.

    Returns
    -------
    hands : float
        People at the bars; round up, and add the reserve.

    Raises
    ------
    ValueError
        If `push` is not positive, `pull` is negative or `efficiency` is not a share.
    """
    if not (push > 0 and pull >= 0):
        raise ValueError(f"push must be positive and pull not negative, got {push}, {pull} N")
    return pull / rope_pull(gear, push, efficiency=efficiency)


def held_pull(tail: float, turns: float, *, friction: float) -> float:
    r"""Pull that a tail holds with turns round a barrel that stands still.

    .. math:: P = T e^{2 \pi \mu k}

    Parameters
    ----------
    tail : float
        Pull on the tail. [N]
    turns : float
        Whole and part turns in contact.
    friction : float
        Friction coefficient of rope on barrel.

    Returns
    -------
    pull : float
        Greatest load held without slipping. [N]

    Raises
    ------
    ValueError
        If anything is negative.

    Notes
    -----
    The radius of the barrel does not enter. Plan holding on the least friction
    that the wet rope may have, surging on the greatest.
    """
    if not (tail >= 0 and turns >= 0 and friction >= 0):
        raise ValueError(
            f"tail, turns and friction must not be negative, got {tail} N, {turns}, {friction}"
        )
    return tail * exp(2 * pi * friction * turns)


def holding_turns(pull: float, tail: float, *, friction: float) -> float:
    """Turns with which a tail holds a pull, as a number that is not yet rounded up.

    Parameters
    ----------
    pull : float
        Load in the rope. [N]
    tail : float
        Pull on the tail. [N]
    friction : float
        Friction coefficient of rope on barrel.

    Returns
    -------
    turns : float
        Least turns in contact; 0 where the tail holds the load by itself.

    Raises
    ------
    ValueError
        If anything is not positive.
    """
    if not (pull > 0 and tail > 0 and friction > 0):
        raise ValueError(
            f"pull, tail and friction must be positive, got {pull} N, {tail} N, {friction}"
        )
    return max(0.0, log(pull / tail) / (2 * pi * friction))


def turns_per_rise(gear: CapstanGear, parts: int) -> float:
    """Turns of the barrel for each metre that the load rises. [1/m]"""
    return parts / (2 * pi * gear.rope_radius)


def walk_per_rise(gear: CapstanGear, parts: int) -> float:
    """Way that each hand walks for each metre that the load rises. [m/m]"""
    return parts * gear.bar_radius / gear.rope_radius


def hand_power(push: float, walk: float) -> float:
    """Power of one person who pushes while walking.

    Parameters
    ----------
    push : float
        Along the way walked. [N]
    walk : float
        Walking speed. [m/s]

    Returns
    -------
    power : float
        [W]
    """
    return push * walk


def _require_share(efficiency: float) -> None:
    if not 0 < efficiency <= 1:
        raise ValueError(f"efficiency must be above 0 and not above 1, got {efficiency}")


def level_time(spacing: float, height: float, speed: float, *, ratio: float) -> float:
    r"""Time in which crews that push by feel let an error of level grow e-fold.

    .. math:: \tau = \frac{b^2}{4 h_G v} \left(1 - \frac{1}{r}\right)

    Parameters
    ----------
    spacing : float
        Distance between opposite lines. [m]
    height : float
        Centre of gravity above the lift points. [m]
    speed : float
        At which the load rises. [m/s]
    ratio : float
        Tilting stiffness of the held ropes over the toppling stiffness W h_G.

    Returns
    -------
    time : float
        0 where the held ropes themselves do not keep it upright. [s]

    Raises
    ------
    ValueError
        If a length or the speed is not positive.

    Notes
    -----
    Derived here: crews whose push falls linearly with speed to nothing at twice the
    speed are dampers, not springs. Held ropes (pawls down, or crews paced by pawl
    count) have the full stiffness instead.
    """
    if not (spacing > 0 and height > 0 and speed > 0):
        raise ValueError(
            "spacing, height and speed must be positive, got "
            f"{spacing} m, {height} m, {speed} m/s"
        )
    return spacing**2 / (4 * height * speed) * (1 - 1 / ratio) if ratio > 1 else 0.0
