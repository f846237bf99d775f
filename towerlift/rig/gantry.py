"""What carries the top blocks of a lift: gantry beams, trestles, or the head of a section."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from towerlift.mechanics.bearing import overlap, polygon_area
from towerlift.motion.passages import Passage
from towerlift.plan.limits import limit_in_plan
from towerlift.plan.model import Plan
from towerlift.plan.rigging import Lift
from towerlift.rig.beams import BeamLoad, BeamUse, Support, use_beam
from towerlift.rig.curves import Floats, HangCurve
from towerlift.rig.locks import FACTOR
from towerlift.rig.pads import supports_of
from towerlift.rig.pendants import PendantUse
from towerlift.rig.pieces import RESTS, Piece, Seat, pieces_of, seats_between
from towerlift.rig.pulls import rope_path
from towerlift.timber import Duration

# A top block this far from the middle of a beam, beside it, still hangs from it. [m]
BESIDE = 0.30


@dataclass(frozen=True, slots=True, kw_only=True)
class Rigged:
    """A haul with what stands while it goes on.

    Attributes
    ----------
    lift : Lift
        As planned.
    stage : str
        Stage of the haul.
    curves : tuple of HangCurve
        Loads of its passages.
    fixtures : frozenset of str
        In place while it hauls.
    heels : tuple of (str, float)
        Sections on the site, with their heels; of what carries the top blocks its own. [m]
    pendants : tuple of PendantUse
        What else hangs from the same fixtures.
    """

    lift: Lift
    stage: str
    curves: tuple[HangCurve, ...]
    fixtures: frozenset[str]
    heels: tuple[tuple[str, float], ...]
    pendants: tuple[PendantUse, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeatUse:
    """Where one level piece presses on another.

    Attributes
    ----------
    seat : Seat
        Which pieces, and on what area.
    load : float
        Greatest design load. [N]
    """

    seat: Seat
    load: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GantryUse:
    """Beams that carry the top blocks of one lift, and what they rest on.

    Attributes
    ----------
    rigged : Rigged
        The haul.
    beams : tuple of BeamUse
        Every beam with a load on it.
    seats : tuple of SeatUse
        Where they rest on trestles or beams below.
    feet : tuple of (Piece, float, float)
        Trestles on the wall head: piece, greatest design load of a group of beams on it,
        and the length it spreads to. [N], [m]
    missing : tuple of str
        What the plan does not say or draw.
    """

    rigged: Rigged
    beams: tuple[BeamUse, ...]
    seats: tuple[SeatUse, ...]
    feet: tuple[tuple[Piece, float, float], ...]
    missing: tuple[str, ...]


def in_place(passages: Sequence[Passage]) -> tuple[frozenset[str], dict[str, float]]:
    """Fixtures that stand during every one of some passages, and heels at the last.

    Parameters
    ----------
    passages : sequence of Passage
        Of one haul.

    Returns
    -------
    fixtures : frozenset of str
        Those that are there in any of them.
    heels : dict of str to float
        [m]
    """
    fixtures = frozenset().union(*(each.fixtures for each in passages))
    return fixtures, {name: place.heel_to for name, place in passages[-1].standing.items()}


def gantry_use(plan: Plan, rigged: Rigged) -> GantryUse:
    """Stresses of everything that carries the top blocks of a haul.

    Parameters
    ----------
    plan : Plan
        Pieces, contacts, strengths.
    rigged : Rigged
        The haul, and what else hangs from the same beams.

    Returns
    -------
    use : GantryUse
        Every tackle at its greatest load, worst corner and guide friction on top, with the
        pull of its fall where it leaves the top block.
    """
    missing: list[str] = []
    loads = _tackle_loads(plan, rigged, missing)
    for hung in rigged.pendants:
        missing += hung.missing
        for body, mark, along, column in hung.loads:
            loads.setdefault((body, mark), []).append((along, np.zeros(3), column))
    beams: list[BeamUse] = []
    seats: list[SeatUse] = []
    onto: dict[tuple[str, str], list[tuple[Piece, float, float, float]]] = {}
    for (body, mark), placed in loads.items():
        piece = _piece(plan, rigged, body, mark)
        supports = _supports(plan, rigged, piece)
        if len(supports) < 2:
            missing.append(
                f"the plan does not say what {body}: {mark} lies on: draw its trestles with "
                "a contact, or give its pads"
            )
            continue
        use = _beam(plan, piece, supports, placed)
        beams.append(use)
        for seat, load in _reactions(plan, rigged, use):
            seats.append(SeatUse(seat=seat, load=load))
            onto.setdefault((seat.lower.body, seat.lower.mark), []).append(
                (seat.lower, seat.lower.along(seat.middle), load, seat.upper.width)
            )
    return GantryUse(
        rigged=rigged,
        beams=tuple(beams),
        seats=tuple(seats),
        feet=tuple(foot for resting in onto.values() for foot in _feet(resting)),
        missing=tuple(dict.fromkeys(missing)),
    )


_Loads = dict[tuple[str, str], list[tuple[float, Floats, Floats]]]


def _tackle_loads(plan: Plan, rigged: Rigged, missing: list[str]) -> _Loads:
    lift = rigged.lift
    pattern = next(each for each in plan.tackles if each.name == lift.pattern)
    factor = limit_in_plan(plan, FACTOR).value
    path = rope_path(lift, pattern, 1.0)
    curve = max(rigged.curves, key=lambda each: float(np.nan_to_num(each.weight).max()))
    if not np.all(np.isfinite(curve.tensions)):
        missing.append(f"lift {lift.name} finds no rest near true, so that no load is known")
        return {}
    heel = dict(rigged.heels).get(lift.hung_from)
    pieces = [each for each in pieces_of(plan, lift.hung_from, heel) if each.level]
    found: _Loads = {}
    for n, line in enumerate(lift.lines):
        at = int(curve.tensions[:, n].argmax())
        upper = curve.upper[at, n]
        load = factor * float(curve.tensions[at, n]) * path.over
        fall = _fall(line.leads, upper) * load * path.fall
        near = [each for each in pieces if _under(each, upper)]
        if not near:
            missing.append(
                f"no beam of {lift.hung_from} is drawn within {BESIDE * 1e3:.0f} mm of the top "
                f"block of tackle {line.tackle}"
            )
            continue
        beam = min(near, key=lambda each: abs(each.bottom - upper[2]) + each.aside(upper))
        force = np.array([fall[0], fall[1], load - fall[2]])
        found.setdefault((beam.body, beam.mark), []).append(
            (beam.along(upper), force, np.zeros(0))
        )
    return found


def _fall(leads: tuple[tuple[float, float, float], ...], upper: Floats) -> Floats:
    """Unit vector of a fall where it leaves its top block: straight down if not placed."""
    if not leads:
        return np.array([0.0, 0.0, -1.0])
    away = np.array(leads[0]) - upper
    return np.asarray(away / np.linalg.norm(away))


def _under(piece: Piece, upper: Floats) -> bool:
    along = piece.along(upper)
    beside = piece.aside(upper) <= piece.width / 2 + BESIDE
    return bool(beside and 0 <= along <= piece.length and piece.top >= upper[2] - 1.0)


def _piece(plan: Plan, rigged: Rigged, body: str, mark: str) -> Piece:
    heel = dict(rigged.heels).get(body)
    return next(each for each in pieces_of(plan, body, heel) if each.mark == mark)


def _supports(plan: Plan, rigged: Rigged, piece: Piece) -> list[Support]:
    heel = dict(rigged.heels).get(piece.body)
    if heel is None:
        return supports_of(plan, rigged, piece)
    # At the head of a section: what the beam lies across, upright or level.
    return [
        Support(
            along=piece.along(each.start if each.upright else _crossing(piece, each)),
            what=f"{each.body}: {each.mark}",
        )
        for each in pieces_of(plan, piece.body, heel)
        if each.mark != piece.mark and _bears(piece, each)
    ]


def _bears(piece: Piece, other: Piece) -> bool:
    if other.upright:
        return bool(
            piece.aside(other.start) <= piece.width / 2
            and 0 <= piece.along(other.start) <= piece.length
            and other.top >= piece.bottom - RESTS
            and other.bottom < piece.bottom
        )
    rests = other.level and abs(other.top - piece.bottom) <= RESTS
    return rests and polygon_area(overlap(piece.outline, other.outline)) > 0


def _crossing(piece: Piece, other: Piece) -> Floats:
    return np.asarray(overlap(piece.outline, other.outline).mean(axis=0))


def _beam(
    plan: Plan,
    piece: Piece,
    supports: list[Support],
    placed: list[tuple[float, Floats, Floats]],
) -> BeamUse:
    count = max([1, *(len(column) for _, _, column in placed)])
    square = np.array([-piece.way[1], piece.way[0], 0.0])
    patterns = [
        [
            BeamLoad(
                along=along,
                load=float(force[2]) + (float(column[n]) if len(column) else 0.0),
                aside=float(force @ square),
            )
            for along, force, column in placed
        ]
        for n in range(count)
    ]
    factor = limit_in_plan(plan, FACTOR).value
    return use_beam(plan, piece, supports, patterns, lasts=(Duration.SHORT, factor))


def _reactions(plan: Plan, rigged: Rigged, use: BeamUse) -> list[tuple[Seat, float]]:
    found = []
    for support, load in zip(use.supports, use.reactions.tolist(), strict=True):
        body, _, mark = support.what.partition(": ")
        if body not in rigged.fixtures:
            continue
        for seat in seats_between(plan, (use.piece,), pieces_of(plan, body, None)):
            if seat.lower.mark == mark:
                found.append((seat, load))
    return found


def _feet(resting: list[tuple[Piece, float, float, float]]) -> list[tuple[Piece, float, float]]:
    """Loads on a trestle, those together whose spread through it overlaps."""
    groups: list[list[float]] = []
    piece = resting[0][0]
    for _, along, load, width in sorted(resting, key=lambda each: each[1]):
        low = max(0.0, along - width / 2 - piece.height)
        high = min(piece.length, along + width / 2 + piece.height)
        if groups and low <= groups[-1][1]:
            groups[-1][1] = max(groups[-1][1], high)
            groups[-1][2] += load
        else:
            groups.append([low, high, load])
    return [(piece, load, high - low) for low, high, load in groups]
