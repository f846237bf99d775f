"""Moisture that wood comes to in air, and how slowly."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FIT_TOLERANCE = 0.009
"""Farthest that the fit is from the data it was made for, share of the oven-dry mass."""


def equilibrium_moisture(temperature_c: Floats | float, humidity: Floats | float) -> Floats:
    """Moisture content that wood comes to in still air.

    Parameters
    ----------
    temperature_c : (n,) float
        Of the air. [deg C]
    humidity : (n,) float
        Relative humidity, 0 to 1.

    Returns
    -------
    moisture : (n,) float
        Share of the oven-dry mass.

    Raises
    ------
    ValueError
        If a humidity is not from 0 to 1 or a temperature not from -40 to 100 deg C.

    Notes
    -----
    The fit is smooth; its author states a mean deviation below 0.13 % and never more
    than 0.9 % of moisture from the tabulated data.

    References
    ----------
    .. [1] Simpson, Equilibrium moisture content of wood in outdoor locations in the
       United States and worldwide, FPL-RN-0268 (1998), equation in deg C.
    """
    t, h = np.asarray(temperature_c, dtype=float), np.asarray(humidity, dtype=float)
    if not (np.all(h >= 0) and np.all(h <= 1)):
        raise ValueError(f"relative humidity must be from 0 to 1, got {h}")
    if not (np.all(t >= -40) and np.all(t <= 100)):
        raise ValueError(f"temperature must be from -40 to 100 deg C, got {t}")
    w = 349.0 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 2.73e-6 * t**2
    k1 = 6.27 - 0.00938 * t - 3.03e-4 * t**2
    k2 = 1.91 + 0.0407 * t - 2.93e-4 * t**2
    return _two_hydrates(w, (k * h, k1, k2))


def equilibrium_moisture_f(temperature_f: Floats | float, humidity: Floats | float) -> Floats:
    """The same from degrees Fahrenheit, by the coefficients printed for them.

    Parameters
    ----------
    temperature_f : (n,) float
        Of the air. [deg F]
    humidity : (n,) float
        Relative humidity, 0 to 1.

    Returns
    -------
    moisture : (n,) float
        Share of the oven-dry mass.

    Raises
    ------
    ValueError
        If a humidity is not from 0 to 1.
    """
    t, h = np.asarray(temperature_f, dtype=float), np.asarray(humidity, dtype=float)
    if not (np.all(h >= 0) and np.all(h <= 1)):
        raise ValueError(f"relative humidity must be from 0 to 1, got {h}")
    w = 330.0 + 0.452 * t + 0.00415 * t**2
    k = 0.791 + 4.63e-4 * t - 8.44e-7 * t**2
    k1 = 6.34 + 7.75e-4 * t - 9.35e-5 * t**2
    k2 = 1.09 + 2.84e-2 * t - 9.04e-5 * t**2
    return _two_hydrates(w, (k * h, k1, k2))


def _two_hydrates(w: Floats, terms: tuple[Floats, Floats, Floats]) -> Floats:
    kh, k1, k2 = terms
    bound = (k1 * kh + 2.0 * k1 * k2 * kh**2) / (1.0 + k1 * kh + k1 * k2 * kh**2)
    moisture: Floats = 18.0 / w * (kh / (1.0 - kh) + bound)
    return moisture


def lagged(times: Floats, target: Floats, start: float, lag: float) -> Floats:
    """Moisture of a piece that follows its surroundings with a lag.

    Parameters
    ----------
    times : (n,) float
        Rising. [s]
    target : (n,) float
        Moisture it would come to, joined linearly between times.
    start : float
        Moisture at the first time.
    lag : float
        Time in which all but 1/e of a step is made up; 0 follows at once. [s]

    Returns
    -------
    moisture : (n,) float
        At each time.

    Raises
    ------
    ValueError
        If times do not rise or the lag is negative.

    Notes
    -----
    Exact for dm/dt = (target - m) / lag with the target linear between times.
    """
    if not (times.ndim == 1 and len(times) > 0 and np.all(np.diff(times) > 0)):
        raise ValueError("times must rise")
    if not lag >= 0:
        raise ValueError(f"lag must not be negative, got {lag} s")
    if lag == 0:
        return np.asarray(target, dtype=float).copy()
    moisture = np.empty(len(times))
    moisture[0] = start
    for k in range(1, len(times)):
        step = times[k] - times[k - 1]
        slope = (target[k] - target[k - 1]) / step
        # Follows the line `lag` behind it, once the start is forgotten.
        steady = target[k] - slope * lag
        behind = moisture[k - 1] - (target[k - 1] - slope * lag)
        moisture[k] = steady + behind * np.exp(-step / lag)
    return moisture


def lag_for(thickness: float, lag_100: float) -> float:
    """Lag of a piece from that of one 100 mm thick.

    Parameters
    ----------
    thickness : float
        Least dimension across the grain. [m]
    lag_100 : float
        Lag of a piece 100 mm thick, measured or assumed by whoever gives it. [s]

    Returns
    -------
    lag : float
        It grows with the square of the thickness, as all diffusion does. [s]
    """
    if not (thickness > 0 and lag_100 >= 0):
        raise ValueError(f"thickness and lag cannot be {thickness} m and {lag_100} s")
    return lag_100 * (thickness / 0.1) ** 2
