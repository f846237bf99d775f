"""A capstan from above: bars and hands, the fall that comes in, and where not to stand."""

from dataclasses import dataclass
from math import atan2, cos, hypot, pi, sin

from towerlift.checks.capstan_ground import BODY, SNAP
from towerlift.drawings.svg import BOLD, FAINT, GRID, INK, MARK, Ink, Sheet

_SIDES = 72


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """One capstan and its crew.

    Attributes
    ----------
    mark : str
        Of the capstan.
    hands : int
        People at the bars.
    bar_radius : float
        [m]
    at : tuple of float
        Its centre, shaft frame. [m]
    lead : tuple of float or None
        Last lead block, shaft frame; None where the plan does not place it. [m]
    """

    mark: str
    hands: int
    bar_radius: float
    at: tuple[float, float]
    lead: tuple[float, float] | None


def capstan_ring(ring: Ring, *, size: float = 340.0, text: float = 14.0) -> str:
    """Bars, hands and tailer of a capstan, and the sectors to keep out of.

    Parameters
    ----------
    ring : Ring
        Which.
    size : float
        Width of the drawing. [px]
    text : float
        Height of its letters. [px]

    Returns
    -------
    svg : str
        North up.
    """
    sheet = Sheet(1.45 * size, size, text)
    centre = (0.5 * 1.45 * size, 0.52 * size)
    scale = 0.36 * size / (ring.bar_radius + BODY)
    away = _away(ring)
    if away is not None:
        _no_standing(sheet, centre, away, 0.5 * size)
    for radius, dash in ((ring.bar_radius, ""), (ring.bar_radius + BODY, "4 3")):
        _circle(sheet, centre, radius * scale, dash)
    _bars(sheet, centre, ring, scale)
    sheet.write(
        (centre[0], centre[1] + 0.35 * text), ring.mark, "middle", ink=Ink(bold=True, halo=True)
    )
    sheet.write((2, 1.1 * text), f"Capstan {ring.mark}, north up", ink=BOLD)
    if away is None:
        sheet.write((2, size - 4), "the plan does not place the lead block")
    else:
        sheet.write((2, size - 4), "hatched: in line with the rope, nobody stands")
    return sheet.svg(f"Capstan {ring.mark}", f"{ring.hands} hands at the bars")


def _away(ring: Ring) -> float | None:
    """Way from the capstan to its lead block, anticlockwise from east."""
    if ring.lead is None:
        return None
    dx, dy = ring.lead[0] - ring.at[0], ring.lead[1] - ring.at[1]
    return atan2(dy, dx) if hypot(dx, dy) > 0 else None


def _place(centre: tuple[float, float], radius: float, angle: float) -> tuple[float, float]:
    return centre[0] + radius * cos(angle), centre[1] - radius * sin(angle)


def _circle(sheet: Sheet, centre: tuple[float, float], radius: float, dash: str) -> None:
    points = [_place(centre, radius, 2 * pi * n / _SIDES) for n in range(_SIDES + 1)]
    sheet.line(points, colour=INK, width=1.4, dash=dash, role="ring")


def _no_standing(sheet: Sheet, centre: tuple[float, float], away: float, reach: float) -> None:
    for way, name in ((away, "to the block"), (away + pi, "snap-back")):
        edges = [_place(centre, reach, way + side * SNAP) for side in (-1, 1)]
        sheet.line([edges[0], centre, edges[1]], colour=FAINT, width=1.2, role="snap-back")
        for n in range(1, 9):
            across = [_place(centre, reach * n / 8, way + side * SNAP) for side in (-1, 1)]
            sheet.line(across, colour=GRID, width=1.0)
        x, y = _place(centre, 0.86 * reach, way)
        sheet.write((x, y), name, "middle", ink=Ink(colour=INK, halo=True, bold=True))
    sheet.line([centre, _place(centre, reach, away)], colour=MARK, width=2.6, role="fall")


def _bars(sheet: Sheet, centre: tuple[float, float], ring: Ring, scale: float) -> None:
    bars = max(2, -(-ring.hands // 2))
    left = ring.hands
    for n in range(bars):
        angle = 2 * pi * n / bars + 0.26
        tip = _place(centre, ring.bar_radius * scale * 1.12, angle)
        sheet.line([centre, tip], colour=INK, width=2.4, role="bar")
        for share in (1.0, 0.72):
            if left > 0:
                x, y = _place(centre, ring.bar_radius * scale * share, angle + 0.13)
                sheet.dot(x, y, colour=INK, role="hand")
                left -= 1
