"""What the ground holds: deadmen by earth pressure and by table, pickets by table."""

import numpy as np

from towerlift.mechanics import STANDARD_GRAVITY

POUND = 4.4482216152605  # pound-force. [N]
FOOT = 0.3048  # [m]
PSF = POUND / FOOT**2

# US Army technical manual TM 5-5420-278-10, table 9: holding power of deadmen in loam by
# mean depth [ft], in lb/ft^2 of face, for pulls that rise 1:1, 1:2, 1:3 and 1:4.
HOLDING_POWER: dict[int, tuple[int, int, int, int]] = {
    3: (950, 1300, 1450, 1500),
    4: (1750, 2200, 2600, 2700),
    5: (2800, 3600, 4000, 4100),
    6: (3800, 5100, 5800, 6000),
    7: (5100, 7000, 8000, 8400),
}
RISES = (1.0, 1 / 2, 1 / 3, 1 / 4)
# NAVEDTRA 14251 (Steelworker), page 6: pickets of 3 in by 5 ft in undisturbed loam. [lb]
PICKETS: dict[str, int] = {"1": 700, "1-1-1": 1800, "3-2-1": 4000}


def earth_coefficients(friction_angle: float) -> tuple[float, float]:
    """Passive and active earth pressure of level ground on an upright smooth face.

    Parameters
    ----------
    friction_angle : float
        Of the ground, from above 0 to below a right angle. [rad]

    Returns
    -------
    passive, active : float
        Rankine's coefficients; one is the inverse of the other.

    Raises
    ------
    ValueError
        If the angle is out of range.
    """
    if not 0 < friction_angle < np.pi / 2:
        raise ValueError(f"angle of friction must be acute, got {friction_angle} rad")
    passive = float(np.tan(np.pi / 4 + friction_angle / 2) ** 2)
    return passive, 1 / passive


def deadman_pull(
    length: float, depth: float, soil_density: float, friction_angle: float
) -> float:
    r"""Level pull at which the ground before a buried beam gives way.

    Parameters
    ----------
    length : float
        Of the beam, across the pull. [m]
    depth : float
        From the ground to the foot of the beam. [m]
    soil_density : float
        Of the ground as it lies. [kg/m^3]
    friction_angle : float
        Of the ground. [rad]

    Returns
    -------
    pull : float
        :math:`\tfrac12 \gamma (K_p - K_a) D^2 B`, nothing taken off for safety, the ground
        beside its ends left out. [N]

    Raises
    ------
    ValueError
        If a size is not positive or the angle out of range.
    """
    if not (length > 0 and depth > 0 and soil_density > 0):
        raise ValueError(f"sizes and density must be positive, got {length} m, {depth} m")
    passive, active = earth_coefficients(friction_angle)
    weight = soil_density * STANDARD_GRAVITY
    return 0.5 * weight * (passive - active) * depth**2 * length


def holding_power(depth: float, rise: float) -> float:
    """Holding power of a deadman in loam, for each area of its face, by the Army's table.

    Parameters
    ----------
    depth : float
        Mean depth of the face, within the table. [m]
    rise : float
        Rise of the pull over its level run; flatter than 1:4 is taken as 1:4.

    Returns
    -------
    power : float
        Between rows and columns on a straight line, never above the nearest. [Pa]

    Raises
    ------
    ValueError
        If the depth is outside the table or the pull steeper than 1:1.

    References
    ----------
    .. [1] TM 5-5420-278-10, table 9, loam; five times as much in rock, half in wet or
       sandy ground.
    """
    feet = depth / FOOT
    depths = np.array(list(HOLDING_POWER), dtype=float)
    if not depths[0] - 1e-9 <= feet <= depths[-1] + 1e-9:
        raise ValueError(f"the table holds mean depths of 3 to 7 ft, got {feet:.2f} ft")
    if not 0 <= rise <= 1 + 1e-9:
        raise ValueError(f"the table holds pulls up to 1:1, got a rise of {rise:.3f}")
    rows = np.array(list(HOLDING_POWER.values()), dtype=float)
    by_rise = np.array([np.interp(rise, RISES[::-1], row[::-1]) for row in rows])
    return float(np.interp(feet, depths, by_rise)) * PSF


def deadman_length(pull: float, depth: float, rise: float, face: float) -> float:
    """Length of log that holds a pull, by the Army's rule.

    Parameters
    ----------
    pull : float
        To be held; the manual takes the strength of the rope. [N]
    depth, rise : float
        Mean depth of the face and rise of the pull. [m], 1
    face : float
        Height of the face, or diameter of the log. [m]

    Returns
    -------
    length : float
        With one foot added for the slot of the rope. [m]

    Raises
    ------
    ValueError
        If the table does not hold it, or pull or face are not positive.
    """
    if not (pull > 0 and face > 0):
        raise ValueError(f"pull and face must be positive, got {pull} N and {face} m")
    return pull / (holding_power(depth, rise) * face) + FOOT


def picket_pull(combination: str) -> float:
    """Pull that a combination of pickets holds in undisturbed loam.

    Parameters
    ----------
    combination : str
        "1", "1-1-1" or "3-2-1".

    Returns
    -------
    pull : float
        By NAVEDTRA 14251, page 6: no more than that without a test. [N]

    Raises
    ------
    ValueError
        If the manual does not name the combination.
    """
    if combination not in PICKETS:
        raise ValueError(f"pickets are {', '.join(PICKETS)}, got {combination}")
    return PICKETS[combination] * POUND
