"""A lock from above: a box to tick at each place that must carry."""

from collections.abc import Sequence
from math import cos, pi, sin

from towerlift.drawings.svg import BOLD, INK, Sheet


def lock_plan(
    section: str, marks: Sequence[str], *, width: float = 420.0, text: float = 15.0
) -> str:
    """Plan of a section with a box at each lock.

    Parameters
    ----------
    section : str
        Name of the section.
    marks : sequence of str
        Places that must carry; four are set at the corners, others round the section.
    width : float
        Of the drawing. [px]
    text : float
        Height of its letters. [px]

    Returns
    -------
    svg : str
        North up.
    """
    sheet = Sheet(width, 0.8 * width, text)
    centre = (0.5 * width, 0.41 * width)
    half = 0.2 * width
    corners = [
        (centre[0] + x * half, centre[1] + y * half)
        for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]
    sheet.line([*corners, corners[0]], colour=INK, width=2.0, role="section")
    sheet.write((centre[0], centre[1] + 0.35 * text), section, "middle", ink=BOLD)
    sheet.write((centre[0], 1.2 * text), "north", "middle")
    for number, mark in enumerate(marks):
        angle = pi / 4 - number * 2 * pi / len(marks)
        reach = half if len(marks) == 4 else 1.15 * half
        x = centre[0] + reach * (2**0.5) * cos(angle)
        y = centre[1] - reach * (2**0.5) * sin(angle)
        side = 1.5 * text
        box = [
            (x - side, y - side),
            (x + side, y - side),
            (x + side, y + side),
            (x - side, y + side),
        ]
        sheet.box((x - side, y - side), (2 * side, 2 * side), fill="#fff")
        sheet.line([*box, box[0]], colour=INK, width=2.4, role="tick")
        right = x > centre[0]
        at = (x + (side + 6 if right else -side - 6), y + 0.35 * text)
        sheet.write(at, mark, "start" if right else "end")
    return sheet.svg(f"Locks of the {section}", ", ".join(marks))
