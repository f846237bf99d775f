"""Needles as beams, and the pads that they press on the masonry."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.mechanics.bearing import Pressure, eccentric_pressure, spread_length
from towerlift.mechanics.masonry import Stance, leg_patterns
from towerlift.plan.holding import Pad
from towerlift.plan.limits import limit_in_plan
from towerlift.plan.model import Plan
from towerlift.rig.beams import BeamLoad, BeamUse, Support, use_beam
from towerlift.rig.curves import Floats
from towerlift.rig.locks import FACTOR, stance_of, stand_seats
from towerlift.rig.pieces import Piece, Seat, matches, pieces_of, seats_between
from towerlift.rig.stands import Stand
from towerlift.rig.strengths import Material, material_of

# Share of a weight that is relied on to hold something down: EN 1990, annex A1.
HOLDING = 0.9


class Standing(Protocol):
    """What is in place at some time: a stand, or a haul."""

    @property
    def fixtures(self) -> frozenset[str]:
        """Fixtures in place."""

    @property
    def heels(self) -> tuple[tuple[str, float], ...]:
        """Sections on the site with their heel heights. [m]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class SidePush:
    """What pushes a section from the side while it stands.

    Attributes
    ----------
    weight : float
        Of what stands then, without load factor. [N]
    moment : (2,) float
        Overturning moment about the level of the feet, toward east and north, with its
        load factor. [N m]
    says : str
        Whence it comes, such as the gust and where from.
    """

    weight: float
    moment: Floats
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PadUse:
    """One pad under one end of a needle.

    Attributes
    ----------
    piece : Piece
        The needle.
    pad : Pad
        As planned.
    most, least : float
        Greatest and least reaction, design values; below nothing it lifts. [N]
    pressure : Pressure
        Under the pad at its greatest reaction, on what it spreads to.
    length, breadth : float
        That it spreads to, along the needle and across. [m]
    across : float
        Stress of the needle on the pad. [Pa]
    material : Material or str
        Of the needle, or what is missing.
    where : tuple of float
        Middle of the pad. [m]
    """

    piece: Piece
    pad: Pad
    most: float
    least: float
    pressure: Pressure
    length: float
    breadth: float
    across: float
    material: Material | str
    where: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class NeedleUse:
    """One piece of a fixture that carries a section.

    Attributes
    ----------
    piece : Piece
        Which.
    beam : BeamUse or None
        Its stresses; None where nothing says what carries it.
    pads : tuple of PadUse
        Under its ends, where it lies on the masonry.
    missing : str
        What the plan does not say.
    """

    piece: Piece
    beam: BeamUse | None
    pads: tuple[PadUse, ...]
    missing: str


def needles_under(
    plan: Plan, stand: Stand, pushes: Iterable[SidePush] = ()
) -> tuple[NeedleUse, ...]:
    """Needles under a section that stands on a fixture, with their pads.

    Parameters
    ----------
    plan : Plan
        Pieces, contacts, pads and strengths.
    stand : Stand
        On a fixture, by its heel.
    pushes : iterable of SidePush
        What may push it from the side, one at a time.

    Returns
    -------
    needles : tuple of NeedleUse
        One for each piece of the fixture that a foot stands on.

    Notes
    -----
    Patterns of load: all feet on even springs, either diagonal alone, and even springs
    with each push, the weight at its factor and at 0.9 for uplift.
    """
    groups = _grouped(stand_seats(plan, stand))
    if len(groups) < 3:
        return ()
    feet = np.array([_middle(seats) for seats in groups.values()])
    stance = stance_of(plan, stand, feet)
    factor = limit_in_plan(plan, FACTOR).value
    patterns = factor * leg_patterns(stance)
    pushed = [
        _pushed(stance, share * push.weight, push.moment)
        for push in pushes
        for share in (factor, HOLDING)
    ]
    if pushed:
        patterns = np.vstack([patterns, pushed])
    pieces = {seat.lower.mark: seat.lower for seats in groups.values() for seat in seats}
    return tuple(
        _needle(plan, stand, piece, _on(piece, groups, patterns)) for piece in pieces.values()
    )


def _pushed(stance: Stance, weight: float, moment: Floats) -> Floats:
    """Loads of the feet on even springs that pull as well: below nothing a foot lifts."""
    at = np.column_stack([np.ones(len(stance.feet)), stance.feet])
    wanted = np.array([weight, *(weight * stance.centre + moment)])
    return np.asarray(at @ np.linalg.solve(at.T @ at, wanted))


def _grouped(seats: tuple[Seat, ...]) -> dict[str, list[Seat]]:
    groups: dict[str, list[Seat]] = {}
    for seat in seats:
        groups.setdefault(seat.upper.mark, []).append(seat)
    return groups


def _middle(seats: list[Seat]) -> Floats:
    areas = np.array([seat.area for seat in seats])
    return np.asarray(areas @ np.array([seat.middle for seat in seats]) / areas.sum())


def _on(piece: Piece, groups: dict[str, list[Seat]], patterns: Floats) -> list[list[BeamLoad]]:
    """Loads of a piece in every pattern: each foot shared by area among what it stands on.

    A foot presses over the width it stands on: two halves a quarter of it either side.
    """
    found: list[list[BeamLoad]] = []
    for pattern in patterns:
        loads = []
        for load, seats in zip(pattern.tolist(), groups.values(), strict=True):
            whole = sum(seat.area for seat in seats)
            for seat in seats:
                if seat.lower.mark == piece.mark:
                    share = load * seat.area / whole
                    at = piece.along(seat.middle)
                    along = (seat.shared - piece.start[:2]) @ piece.way
                    quarter = float(np.ptp(along)) / 4
                    loads += [
                        BeamLoad(along=at - quarter, load=share / 2),
                        BeamLoad(along=at + quarter, load=share / 2),
                    ]
        found.append(loads)
    return found


def _needle(
    plan: Plan, stand: Stand, piece: Piece, patterns: list[list[BeamLoad]]
) -> NeedleUse:
    pad = pad_of(plan, piece)
    supports = supports_of(plan, stand, piece)
    if len(supports) < 2:
        missing = (
            f"the plan does not say what {piece.body}: {piece.mark} lies on: give its pads, "
            "or a contact with what carries it"
        )
        return NeedleUse(piece=piece, beam=None, pads=(), missing=missing)
    factor = limit_in_plan(plan, FACTOR).value
    lasts = (stand.duration, factor)
    beam = use_beam(plan, piece, supports, patterns, lasts=lasts)
    pads: tuple[PadUse, ...] = ()
    if pad is not None:
        reactions = beam.by_pattern
        pads = tuple(
            _pad_use(plan, stand, piece, (pad, reactions[:, end], end)) for end in range(2)
        )
    return NeedleUse(piece=piece, beam=beam, pads=pads, missing="")


def pad_of(plan: Plan, piece: Piece) -> Pad | None:
    """The pad under the ends of a piece of a fixture, or None."""
    return next(
        (
            pad
            for pad in plan.pads
            if pad.under == piece.body and matches(piece.mark, pad.members)
        ),
        None,
    )


def pad_middles(plan: Plan, piece: Piece, pad: Pad) -> tuple[float, float]:
    """Where a piece bears on the pads under its ends.

    Parameters
    ----------
    plan : Plan
        Says where the faces of the masonry are.
    piece : Piece
        A level one.
    pad : Pad
        Under its ends.

    Returns
    -------
    middles : tuple of float
        Middles of what bears, along the piece from its start: as far behind the face of
        the masonry as the pad is set back, and half of what bears; without a survey,
        behind the ends of the piece as drawn. [m]
    """
    out = pad.set_back + pad.bearing / 2
    faces = _faces(plan, (piece.top + piece.bottom) / 2)
    near, far = 0.0, piece.length
    if faces is not None:
        low, high = faces
        middle = (piece.start[:2] + piece.end[:2]) / 2
        half = piece.length / 2
        near, far = (
            half - _reach(middle, -piece.way, faces),
            half + _reach(middle, piece.way, (low, high)),
        )
    return near - out, far + out


def _faces(plan: Plan, z: float) -> tuple[Floats, Floats] | None:
    """South-west and north-east corners of the shaft at a height, as surveyed."""
    survey = plan.shaft.survey
    if not survey:
        return None
    heights = [each.z for each in survey]

    def at(side: str) -> float:
        return float(np.interp(z, heights, [getattr(each, side) for each in survey]))

    return np.array([at("west"), at("south")]), np.array([at("east"), at("north")])


def _reach(middle: Floats, way: Floats, faces: tuple[Floats, Floats]) -> float:
    """How far from a place inside the shaft to its face along a direction."""
    wall = np.where(way > 0, faces[1], faces[0])
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = np.where(np.abs(way) > 1e-9, (wall - middle) / way, np.inf)
    return float(reach.min())


def supports_of(plan: Plan, stand: Standing, piece: Piece) -> list[Support]:
    """What carries a piece of a fixture, along it.

    Parameters
    ----------
    plan : Plan
        Pads and contacts.
    stand : Standing
        What is in place.
    piece : Piece
        A level one.

    Returns
    -------
    supports : list of Support
        The pads under its ends; else what it rests on, as the contacts say.
    """
    pad = pad_of(plan, piece)
    if pad is not None:
        return [
            Support(along=at, what=f"pad under {piece.mark}")
            for at in pad_middles(plan, piece, pad)
        ]
    found = []
    for body, heel in (*stand.heels, *((name, None) for name in sorted(stand.fixtures))):
        if body == piece.body:
            continue
        for seat in seats_between(plan, (piece,), pieces_of(plan, body, heel)):
            found.append(
                Support(along=piece.along(seat.middle), what=f"{body}: {seat.lower.mark}")
            )
    return found


def _pad_use(plan: Plan, stand: Stand, piece: Piece, at: tuple[Pad, Floats, int]) -> PadUse:
    pad, reactions, end = at
    most = float(reactions.max())
    # The pad passes it on at 45 degrees, not beyond its own edges.
    inner = max(0.0, pad.set_back - pad.thickness)
    outer = min(pad.length, pad.set_back + pad.bearing + pad.thickness)
    length = outer - inner
    breadth = spread_length(piece.width, pad.thickness, pad.breadth)
    # The needle may bear nearer to the shaft than the middle of that: so does its pressure.
    off = (inner + outer) / 2 - (pad.set_back + pad.bearing / 2)
    # The needle's own weight is in every reaction with the factor that presses.
    density = next(each.density for each in plan.species if each.name == piece.member.species)
    own = density * piece.width * piece.height * piece.length * STANDARD_GRAVITY
    middle = pad_middles(plan, piece, pad)[end]
    where = piece.start + (piece.end - piece.start) / piece.length * middle
    return PadUse(
        piece=piece,
        pad=pad,
        most=most,
        least=float(reactions.min()) - (limit_in_plan(plan, FACTOR).value - HOLDING) * own / 2,
        pressure=eccentric_pressure(max(most, 1.0), length, breadth, off),
        length=length,
        breadth=breadth,
        across=most / (pad.bearing * piece.width),
        material=material_of(plan, piece.member.species, stand.duration),
        where=(float(where[0]), float(where[1]), piece.bottom),
    )
