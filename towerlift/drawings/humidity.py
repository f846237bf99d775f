"""What is left day by day."""

from collections.abc import Sequence
from datetime import date

import numpy as np

from towerlift.drawings.gap_map import MapSize
from towerlift.drawings.svg import BOLD, GRID, LIMIT, LINES, Frame, Sheet, round_ticks
from towerlift.nesting.humidity import Calendar


def calendar_chart(
    calendar: Calendar, *, lifts: Sequence[tuple[date, str]] = (), size: MapSize | None = None
) -> str:
    """What is left against the date.

    Parameters
    ----------
    calendar : Calendar
        Day by day.
    lifts : sequence of (date, str)
        Days on which the section is lifted, with the name of the stage.
    size : MapSize or None
        Of the drawing.

    Returns
    -------
    svg : str
        One line, a line at the limit, and the last safe day in words.
    """
    size = size or MapSize(width=620.0, height=210.0)
    text = size.text
    sheet = Sheet(size.width, size.height, text)
    left, limit = 1000 * calendar.left, 1000 * calendar.limit
    low, high = min(limit, float(left.min())), max(limit, float(left.max()))
    room = max(high - low, 1.0) * 0.1
    first, last = calendar.days[0].toordinal(), calendar.days[-1].toordinal()
    frame = Frame(
        left=3.6 * text,
        top=3.2 * text,
        width=size.width - 5 * text,
        height=size.height - 5.6 * text,
        x_low=first,
        x_high=last,
        y_low=low - room,
        y_high=high + room,
    )
    sheet.write((2, 1.1 * text), f"{calendar.what}, mm", ink=BOLD)
    sheet.write((2, 2.4 * text), _safe(calendar))
    sheet.axes(frame, (), round_ticks(frame.y_low, frame.y_high, 6))
    for at in np.linspace(first, last, 6):
        day = date.fromordinal(round(at))
        x = frame.x(at)
        sheet.line([(x, frame.bottom), (x, frame.bottom + 4)])
        label = f"{day.day} {day:%b}"
        sheet.write((x, frame.bottom + 4 + text), label, "middle")
    sheet.line(
        [(frame.left, frame.y(limit)), (frame.right, frame.y(limit))],
        colour=LIMIT,
        width=1.4,
        dash="10 3 2 3",
    )
    points = [
        (frame.x(day.toordinal()), frame.y(value))
        for day, value in zip(calendar.days, left.tolist(), strict=True)
    ]
    sheet.line(points, colour=LINES[0][0], width=2.0, role="left")
    for day, name in lifts:
        if first <= day.toordinal() <= last:
            x = frame.x(day.toordinal())
            sheet.line([(x, frame.top), (x, frame.bottom)], colour=GRID, width=1.2)
            sheet.write((x + 2, frame.top + text), name)
    return sheet.svg("Humidity calendar", _safe(calendar))


def _safe(calendar: Calendar) -> str:
    if not calendar.falls_short:
        return f"nothing falls short up to {calendar.days[-1]:%d %b %Y}"
    if calendar.last_safe is None:
        return "falls short from the first day on"
    return f"last safe day {calendar.last_safe:%d %b %Y}"
