"""Force strip of a lift: what each capstan pulls along the travel, and what it may."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from towerlift.drawings.svg import (
    BOLD,
    LIMIT,
    LINES,
    MARK,
    OVER_LINES,
    Frame,
    Sheet,
    round_ticks,
)
from towerlift.rig.curves import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class ForceStrip:
    """What a force strip shows.

    Attributes
    ----------
    title, unit : str
        Over the drawing, and over its upright axis.
    heels : (k,) float
        Heel heights. [m]
    curves : sequence of (str, (k,) float)
        Name and values of each line.
    limit : float or None
        Drawn across, where there is one.
    heel : float
        Where the raise is. [m]
    width, height, text : float
        [px]
    """

    title: str
    unit: str
    heels: Floats
    curves: Sequence[tuple[str, Floats]]
    limit: float | None
    heel: float
    width: float = 560.0
    height: float = 120.0
    text: float = 10.0


def force_strip(strip: ForceStrip) -> str:
    """Lines along the travel, with the limit and the place of the raise.

    Parameters
    ----------
    strip : ForceStrip
        What to draw.

    Returns
    -------
    svg : str
        Values that are not numbers are left out of their lines.
    """
    sheet = Sheet(strip.width, strip.height, strip.text)
    text = strip.text
    sheet.write((2, 1.1 * text), strip.title, ink=BOLD)
    finite = [values[np.isfinite(values)] for _, values in strip.curves]
    most = max((float(each.max()) for each in finite if len(each)), default=1.0)
    high = 1.1 * max(most, strip.limit or 0.0)
    low, top = float(strip.heels.min()), float(strip.heels.max())
    frame = Frame(
        left=3.6 * text,
        top=2.6 * text,
        width=0.74 * strip.width - 3.6 * text,
        height=strip.height - 5.4 * text,
        x_low=low,
        x_high=max(top, low + 1e-3),
        y_low=0.0,
        y_high=high,
    )
    sheet.write((frame.left - 4, frame.top - 0.35 * text), strip.unit, "end")
    sheet.axes(frame, round_ticks(low, frame.x_high, 7), round_ticks(0.0, high, 3))
    sheet.write((frame.right, frame.bottom + 2.6 * text), "heel, m", "end")
    if strip.limit is not None:
        y = frame.y(strip.limit)
        ends = [(frame.left, y), (frame.right, y)]
        sheet.line(ends, colour=LIMIT, width=1.6, dash="5 3", role="limit")
    said = []
    for n, (name, values) in enumerate(strip.curves):
        colour, dash = LINES[n % len(LINES)]
        known = np.isfinite(values)
        points = [
            (frame.x(float(heel)), frame.y(float(value)))
            for heel, value in zip(strip.heels[known], values[known], strict=True)
        ]
        sheet.line(points, colour=colour, width=1.7, dash=dash, role="force")
        base = frame.top + (1.25 * n + 0.6) * text
        left = frame.right + 1.2 * text
        sheet.line(
            [(left, base - 3), (left + 22, base - 3)], colour=colour, width=1.8, dash=dash
        )
        sheet.write((left + 26, base), name, role="key")
        said.append(name)
    x = frame.x(strip.heel)
    sheet.line([(x, frame.top), (x, frame.bottom)], colour=MARK, width=1.6, role="now")
    label = f"{strip.heel:.2f} m"
    anchor = "end" if x > frame.left + 0.8 * frame.width else "start"
    off = -4 if anchor == "end" else 4
    sheet.write((x + off, frame.top - 0.35 * text), label, anchor, ink=OVER_LINES)
    return sheet.svg(strip.title, "; ".join(said))
