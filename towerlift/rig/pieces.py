"""Placed pieces in the frame of the shaft, with what rests on what."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from towerlift.mechanics.bearing import across_area, overlap, polygon_area, rectangle
from towerlift.plan.bodies import Member
from towerlift.plan.model import Plan
from towerlift.plan.work import Contact
from towerlift.rig.curves import Floats
from towerlift.shapes.members import member_axes

# Direction of a piece, as a cosine, from which it counts as level or upright.
STRAIGHT = 1e-3
# Surfaces this near in height rest on each other. [m]
RESTS = 0.01
BEARING_KINDS = ("heel on needle", "nest ledge", "bearing")


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One square-cut piece where it stands.

    Attributes
    ----------
    body : str
        Section, fit-out item or fixture that it belongs to.
    member : Member
        As the plan writes it.
    start, end : (3,) float
        Ends of its middle line, shaft frame. [m]
    axes : (3, 3) float
        Unit vectors of breadth, depth and middle line, as rows.
    """

    body: str
    member: Member
    start: Floats
    end: Floats
    axes: Floats

    @property
    def mark(self) -> str:
        """Mark of the piece."""
        return self.member.mark

    @property
    def upright(self) -> bool:
        """Whether it stands upright."""
        return bool(np.hypot(*self.axes[2, :2]) <= STRAIGHT)

    @property
    def level(self) -> bool:
        """Whether it lies level with two sides upright."""
        square = np.abs(self.axes[:2, 2]).max() >= 1 - STRAIGHT
        return bool(abs(self.axes[2, 2]) <= STRAIGHT and square)

    @cached_property
    def half(self) -> Floats:
        """Half its reach along x, y and z. [m]"""
        sizes = np.array([self.member.breadth, self.member.depth]) / 2
        return np.asarray(np.abs(self.axes[:2]).T @ sizes)

    @property
    def top(self) -> float:
        """Highest place of it. [m]"""
        return float(max(self.start[2], self.end[2]) + (0 if self.upright else self.half[2]))

    @property
    def bottom(self) -> float:
        """Lowest place of it. [m]"""
        return float(min(self.start[2], self.end[2]) - (0 if self.upright else self.half[2]))

    @property
    def height(self) -> float:
        """Of a level piece, how deep it is. [m]"""
        return float(2 * self.half[2])

    @property
    def width(self) -> float:
        """Of a level piece, how broad it is seen from above. [m]"""
        across = abs(float(self.axes[0, 2])) <= STRAIGHT
        return self.member.breadth if across else self.member.depth

    @property
    def length(self) -> float:
        """Along its middle line. [m]"""
        return float(np.linalg.norm(self.end - self.start))

    @cached_property
    def outline(self) -> Floats:
        """Corners seen from above, anticlockwise; of an upright piece its section. [m]"""
        if self.upright:
            side, size = self.axes[1, :2], self.member.depth
            middle = self.start[:2]
            return rectangle(middle - side * size / 2, middle + side * size / 2,
                             self.member.breadth)  # fmt: skip
        return rectangle(self.start[:2], self.end[:2], self.width)

    @property
    def way(self) -> Floats:
        """Of a level piece, unit vector along it, seen from above."""
        return np.asarray(self.axes[2, :2])

    def along(self, point: Floats) -> float:
        """How far along a level piece a place is, from its start. [m]"""
        return float((point[:2] - self.start[:2]) @ self.way)

    def aside(self, point: Floats) -> float:
        """How far a place is from the middle line of a level piece, seen from above. [m]"""
        away = point[:2] - self.start[:2]
        return float(abs(self.way[0] * away[1] - self.way[1] * away[0]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """Where one piece rests on another.

    Attributes
    ----------
    upper, lower : Piece
        Which.
    shared : (k, 2) float
        Corners of what they share, seen from above. [m]
    """

    upper: Piece
    lower: Piece
    shared: Floats

    @property
    def area(self) -> float:
        """What they share. [m^2]"""
        return polygon_area(self.shared)

    @property
    def middle(self) -> Floats:
        """Middle of what they share, seen from above. [m]"""
        return np.asarray(self.shared.mean(axis=0))

    def area_of(self, piece: Piece) -> float:
        """Area that bears of one of the two, across the grain with what helps beside it."""
        if piece.upright:
            return self.area
        ends = sorted((piece.along(piece.start), piece.along(piece.end)))
        from_start = self.shared - piece.start[:2]
        return across_area(from_start, piece.way, (ends[0], ends[1]))


def pieces_of(plan: Plan, body: str, heel: float | None) -> tuple[Piece, ...]:
    """Pieces of a section at a heel height, or of a fixture.

    Parameters
    ----------
    plan : Plan
        Holds the body.
    body : str
        Section or fixture.
    heel : float or None
        Heel height of a section; None for a fixture. [m]

    Returns
    -------
    pieces : tuple of Piece
        None where it is a mesh.
    """
    bodies = {each.name: each.members for each in plan.sections}
    bodies |= {each.name: each.members for each in plan.fixtures}
    members = bodies[body]
    if not members:
        return ()
    starts = np.array([each.start for each in members])
    ends = np.array([each.end for each in members])
    along = ends - starts
    along = along / np.linalg.norm(along, axis=1, keepdims=True)
    axes = member_axes(along, np.array([each.roll for each in members]))
    if heel is not None:
        c, s = np.cos(plan.plumb_line.turn), np.sin(plan.plumb_line.turn)
        turn = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
        shift = np.array([plan.plumb_line.x, plan.plumb_line.y, heel])
        starts, ends, axes = starts @ turn.T + shift, ends @ turn.T + shift, axes @ turn.T
    return tuple(
        Piece(body=body, member=member, start=start, end=end, axes=axis)
        for member, start, end, axis in zip(members, starts, ends, axes, strict=True)
    )


def matches(mark: str, patterns: Iterable[str]) -> bool:
    """Whether a mark is one of some patterns; a trailing ``*`` takes every beginning so."""
    return any(
        mark.startswith(each[:-1]) if each.endswith("*") else mark == each for each in patterns
    )


def seats_between(
    plan: Plan,
    above: tuple[Piece, ...],
    below: tuple[Piece, ...],
    *,
    stages: tuple[str, ...] = (),
) -> tuple[Seat, ...]:
    """Every place where pieces of one body rest on another's, as the contacts mean it.

    Parameters
    ----------
    plan : Plan
        Says in its contacts what is meant to bear.
    above, below : tuple of Piece
        Of two bodies.
    stages : tuple of str
        Contacts meant in none of these are left out; none given means all.

    Returns
    -------
    seats : tuple of Seat
        Only level and upright pieces, and only where top and foot are at one height.
    """
    found = []
    for upper, lower in _meant(plan, above, below, stages):
        if not ((upper.level or upper.upright) and lower.level):
            continue
        if abs(upper.bottom - lower.top) > RESTS:
            continue
        shared = overlap(upper.outline, lower.outline)
        if polygon_area(shared) > 1e-6:
            found.append(Seat(upper=upper, lower=lower, shared=shared))
    return tuple(found)


def bearing_contacts(plan: Plan, stages: tuple[str, ...]) -> Iterator[Contact]:
    """Contacts that carry weight in some stages; in any stage if none is given."""
    for contact in plan.contacts:
        meant = not (contact.stages and stages) or set(contact.stages) & set(stages)
        if contact.kind in BEARING_KINDS and meant:
            yield contact


def _meant(
    plan: Plan,
    above: tuple[Piece, ...],
    below: tuple[Piece, ...],
    stages: tuple[str, ...],
) -> Iterator[tuple[Piece, Piece]]:
    told: set[tuple[str, str]] = set()
    for contact in bearing_contacts(plan, stages):
        sides = ((contact.of, contact.marks), (contact.on, contact.on_marks))
        for (a, a_marks), (b, b_marks) in (sides, sides[::-1]):
            for upper in above:
                if upper.body != a or not matches(upper.mark, a_marks):
                    continue
                for lower in below:
                    key = (upper.mark, lower.mark)
                    meant = lower.body == b and matches(lower.mark, b_marks)
                    if meant and key not in told:
                        told.add(key)
                        yield upper, lower
