"""Planned height against time and planned pull against height, to draw over by hand."""

from dataclasses import dataclass

import numpy as np

from towerlift.drawings.svg import BOLD, GRID, INK, Frame, Sheet, round_ticks


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """What is planned of a haul.

    Attributes
    ----------
    minutes : tuple of float
        From its beginning, mark by mark; empty where it has no date.
    heels : tuple of float
        Heel heights. [m]
    pulls : tuple of float
        Most at any capstan. [kN]
    """

    minutes: tuple[float, ...]
    heels: tuple[float, ...]
    pulls: tuple[float, ...]


def planned_curves(planned: Planned, *, width: float = 1000.0, text: float = 13.0) -> str:
    """Two empty charts with the plan drawn in.

    Parameters
    ----------
    planned : Planned
        At least two marks.
    width : float
        Of the drawing. [px]
    text : float
        Height of its letters. [px]

    Returns
    -------
    svg : str
        Room is left above and to the right, for what goes otherwise.
    """
    height = 0.3 * width
    sheet = Sheet(width, height, text)
    wide = 0.5 * width - 6.5 * text
    tall = height - 5.0 * text
    if planned.minutes and max(planned.minutes) > 0:
        places = (4.2 * text, (planned.minutes, planned.heels))
        _chart(sheet, places, (wide, tall), "heel, m, against minutes")
    else:
        sheet.write((4, 3 * text), "not dated: no height against time")
    right = (0.5 * width + 4.2 * text, (planned.heels, planned.pulls))
    _chart(sheet, right, (wide, tall), "pull, kN, against heel, m")
    return sheet.svg("Planned course of a haul", "height against time, pull against height")


def _chart(
    sheet: Sheet,
    place: tuple[float, tuple[tuple[float, ...], tuple[float, ...]]],
    size: tuple[float, float],
    title: str,
) -> None:
    left, (across, up) = place
    text = sheet.text
    x_low, x_high = min(across), max(across)
    values = [v for v in up if np.isfinite(v)] or [1.0]
    y_low, y_high = min([*values, 0.0]), 1.35 * max(values)
    spread = max(x_high - x_low, 1e-6)
    frame = Frame(
        left=left, top=1.9 * text, width=size[0], height=size[1],
        x_low=x_low, x_high=x_high + 0.25 * spread,
        y_low=y_low, y_high=max(y_high, y_low + 1e-6),
    )  # fmt: skip
    ticks = round_ticks(frame.x_low, frame.x_high, 10)
    sheet.axes(frame, ticks, round_ticks(frame.y_low, frame.y_high, 7))
    for value in ticks:
        x = frame.x(value)
        sheet.line([(x, frame.top), (x, frame.bottom)], colour=GRID)
    points = [
        (frame.x(x), frame.y(y)) for x, y in zip(across, up, strict=True) if np.isfinite(y)
    ]
    sheet.line(points, colour=INK, width=2.0, role="planned")
    sheet.write((left, 1.2 * text), title, ink=BOLD)
