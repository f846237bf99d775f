"""Lengths as drawings write them: metres and millimetres, or feet and inches."""

from enum import StrEnum
from math import ceil, floor, gcd, isfinite
from typing import Literal

FOOT, INCH = 0.3048, 0.0254
# Survey and shop work to about a millimetre; a sixteenth of an inch is 1.6 mm.
PARTS = 16

Rounding = Literal["near", "down", "up"]


class Measure(StrEnum):
    """How a drawing writes its lengths."""

    METRIC = "metric"
    FEET = "feet and inches"


_ROUND = {"near": lambda value: floor(value + 0.5), "down": floor, "up": ceil}


def _whole(value: float, rounding: Rounding) -> int:
    # A length that is whole but for its last bit must not lose a unit.
    held = round(value, 6)
    return int(_ROUND[rounding](held))


def size_words(length: float, measure: Measure, *, rounding: Rounding = "near") -> str:
    """A length beside a dimension line: millimetres, or feet, inches and sixteenths.

    Parameters
    ----------
    length : float
        [m]
    measure : Measure
        How to write it.
    rounding : str
        A gap is rounded down and what must be cut is rounded up, so that the figure
        errs on the safe side.

    Returns
    -------
    words : str
        Such as "14700" or "48' 2 3/4"".

    Raises
    ------
    ValueError
        If it is not a number.
    """
    if not isfinite(length):
        raise ValueError(f"a length must be finite, got {length} m")
    if measure is Measure.METRIC:
        return str(_whole(1000.0 * length, rounding)).replace("-", "−")
    return _feet(length, rounding)


def _feet(length: float, rounding: Rounding) -> str:
    parts = _whole(PARTS * length / INCH, rounding)
    sign, parts = ("−" if parts < 0 else ""), abs(parts)
    feet, rest = divmod(parts, 12 * PARTS)
    inches, part = divmod(rest, PARTS)
    fraction = f" {part // gcd(part, PARTS)}/{PARTS // gcd(part, PARTS)}" if part else ""
    if feet:
        # Nought inches are written, so that no fraction is read as whole inches.
        return f"{sign}{feet}' {inches}{fraction}\""
    return f'{sign}{f"{inches}{fraction}" if inches or not part else fraction.strip()}"'


def level_words(height: float, measure: Measure) -> str:
    """A height above the shaft floor, as a level mark writes it.

    Parameters
    ----------
    height : float
        Shaft frame. [m]
    measure : Measure
        How to write it.

    Returns
    -------
    words : str
        Such as "+14.700" or "+48' 2 3/4"".

    Raises
    ------
    ValueError
        If it is not a number.
    """
    if not isfinite(height):
        raise ValueError(f"a height must be finite, got {height} m")
    if measure is Measure.METRIC:
        return f"{round(height, 3) + 0.0:+.3f}".replace("-", "−")
    words = _feet(height, "near")
    return words if words.startswith("−") else f"+{words}"


def units_words(measure: Measure) -> str:
    """What a sheet says of its lengths."""
    if measure is Measure.METRIC:
        return "sizes in millimetres, heights in metres"
    return "sizes and heights in feet and inches"
