"""What each lock bears on, on both sides, and what its certificate says."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from towerlift.findings import Bound
from towerlift.mechanics.bearing import overlap, polygon_area
from towerlift.mechanics.bending import PinGeometry, bending_stress, pin_loads
from towerlift.mechanics.masonry import (
    Packing,
    Stance,
    foot_loads,
    leg_patterns,
    pack_feet,
)
from towerlift.motion.raises import Raise
from towerlift.plan.holding import BearingLedge
from towerlift.plan.limits import UsualLimit, limit_in_plan
from towerlift.plan.model import Plan
from towerlift.rig.curves import Floats
from towerlift.rig.pieces import (
    RESTS,
    Piece,
    Seat,
    bearing_contacts,
    matches,
    pieces_of,
    seats_between,
)
from towerlift.rig.stands import Stand, stands
from towerlift.rig.strengths import Material, material_of
from towerlift.shapes.solids import Shapes
from towerlift.timber import Sourced

FACTOR = UsualLimit(
    name="load factor of what stands",
    value=1.35,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="EN 1990, annex A1, permanent load that works against what bears it; it covers a "
    "mass up to a third over the one reckoned",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bearing:
    """One stress of a lock, against the strength of what takes it.

    Attributes
    ----------
    kind : str
        "end grain", "across the grain", "bar bending", "bar shear" or "plate bending".
    what, on : str
        What bears, and on what.
    load : float
        Design load of it. [N]
    area : float or None
        That it bears on. [m^2]
    stress : float or None
        None where it cannot be reckoned. [Pa]
    strength : Sourced or None
        Design strength; None where nobody gives one. [Pa]
    material : str
        Species and class.
    where : tuple of float or None
        Place, shaft frame. [m]
    missing : str
        What the plan does not say.
    """

    kind: str
    what: str
    on: str
    load: float = 0.0
    area: float | None = None
    stress: float | None = None
    strength: Sourced | None = None
    material: str = ""
    where: tuple[float, float, float] | None = None
    missing: str = ""

    @property
    def use(self) -> float | None:
        """Stress over strength."""
        if self.stress is None or self.strength is None:
            return None
        return self.stress / self.strength.value


@dataclass(frozen=True, slots=True, kw_only=True)
class LockCertificate:
    """What a lock certificate prints: what bears on what, how hard, and who signs.

    Attributes
    ----------
    stand : Stand
        What stands on what, and its row in the plan.
    factor : float
        Load factor in force.
    leg_loads : (n,) float
        Greatest design load of each foot. [N]
    bearings : tuple of Bearing
        Every stress, the hardest used first.
    contact : str
        How many legs are reckoned to carry, and what must be measured.
    packing : Packing or None
        Where ledge heights have been measured.
    signed_by : str
        Who proves and signs it; empty where the plan names nobody.
    ledges : int
        How many ledges must be seen, struck and measured.
    """

    stand: Stand
    factor: float
    leg_loads: Floats
    bearings: tuple[Bearing, ...]
    contact: str
    packing: Packing | None
    signed_by: str
    ledges: int


def lock_certificates(plan: Plan, shapes: Shapes, raise_: Raise) -> tuple[LockCertificate, ...]:
    """One certificate for each section on each carrier, pendants among them.

    Parameters
    ----------
    plan : Plan
        What is planned.
    shapes : Shapes
        What it draws.
    raise_ : Raise
        What it does.

    Returns
    -------
    certificates : tuple of LockCertificate
        In the order of the raise.
    """
    return tuple(lock_certificate(plan, stand) for stand in stands(plan, shapes, raise_))


def lock_certificate(plan: Plan, stand: Stand) -> LockCertificate:
    """The certificate of one section on one carrier.

    Parameters
    ----------
    plan : Plan
        Pieces, contacts, strengths and the row of the lock.
    stand : Stand
        What stands on what.

    Returns
    -------
    certificate : LockCertificate
        What cannot be reckoned says what is missing.
    """
    factor = limit_in_plan(plan, FACTOR).value
    feet, names, seats = _feet(plan, stand)
    packing, contact = None, "two legs carry all until contact of all four is measured"
    loads: Floats = np.zeros(0)
    bearings: list[Bearing] = []
    if len(feet) < 3:
        bearings.append(Bearing(kind="end grain", what=stand.section, on=stand.carrier,
                                missing=_no_feet(stand)))  # fmt: skip
    else:
        stance = stance_of(plan, stand, feet)
        lock = stand.lock
        if lock is not None and len(lock.heights) == len(feet) and lock.stiffness:
            heights = np.array(lock.heights)
            packing = pack_feet(stance, heights, lock.stiffness)
            loads = factor * foot_loads(stance, heights, lock.stiffness)
            contact = "shared as the measured heights of the ledges say"
        else:
            loads = factor * leg_patterns(stance).max(axis=0)
            bearings += _not_usable(stand, len(feet))
        if lock is not None and lock.packed_to is not None:
            contact += (
                f", ledges packed to {lock.packed_to * 1e3:g} mm and proved by feeler gauge "
                "before the tackles come off"
            )
        bearings += _unborne(plan, stand, seats)
        bearings += list(_bearings(plan, stand, loads, names, seats))
    return LockCertificate(
        stand=stand,
        factor=factor,
        leg_loads=loads,
        bearings=tuple(sorted(bearings, key=lambda each: -_rank(each))),
        contact=contact,
        packing=packing,
        signed_by=(stand.lock.signed_by or "") if stand.lock else "",
        ledges=len(feet) * (2 if stand.how == "fid" else 1),
    )


def _not_usable(stand: Stand, count: int) -> list[Bearing]:
    """What to say of measured heights that cannot be used."""
    if stand.lock is None or not stand.lock.heights:
        return []
    why = f"{len(stand.lock.heights)} ledge heights are given for {count} feet"
    if len(stand.lock.heights) == count:
        why = "ledge heights are given without the stiffness of a leg on its ledge"
    return [Bearing(kind="end grain", what="measured ledges", on=stand.carrier, missing=why)]


def _unborne(plan: Plan, stand: Stand, seats: tuple[tuple[Seat, ...], ...]) -> list[Bearing]:
    """Legs that are meant to stand on the carrier, and stand beside it as drawn."""
    if stand.how != "heel":
        return []
    borne = {seat.upper.mark for together in seats for seat in together}
    meant: list[str] = []
    for contact in bearing_contacts(plan, stand.stages):
        for body, marks, on in (
            (contact.of, contact.marks, contact.on),
            (contact.on, contact.on_marks, contact.of),
        ):
            if (body, on) == (stand.section, stand.carrier):
                meant += marks
    return [
        Bearing(
            kind="end grain",
            what=f"{stand.section}: {piece.mark}",
            on=stand.carrier,
            missing=f"{piece.mark} is meant to stand on {stand.carrier} and is drawn beside it",
        )
        for piece in pieces_of(plan, stand.section, stand.heel)
        if piece.upright
        and abs(piece.bottom - stand.heel) <= RESTS
        and matches(piece.mark, meant)
        and piece.mark not in borne
    ]


def _rank(bearing: Bearing) -> float:
    return np.inf if bearing.use is None else bearing.use


def _no_feet(stand: Stand) -> str:
    if stand.how == "fid":
        return f"the plan marks no fids of {stand.section}"
    return (
        f"no contact of the plan says what of {stand.section} bears on {stand.carrier}, or "
        "they are not drawn level with each other"
    )


def stance_of(plan: Plan, stand: Stand, feet: Floats) -> Stance:
    """A section on its feet, without anything that pushes from the side.

    Parameters
    ----------
    plan : Plan
        Says where the axis hangs.
    stand : Stand
        Weight and centre of gravity.
    feet : (n, 2) float
        Where the feet are, shaft frame. [m]

    Returns
    -------
    stance : Stance
        For the functions of masonry.
    """
    c, s = np.cos(plan.plumb_line.turn), np.sin(plan.plumb_line.turn)
    x, y = stand.centre[:2]
    centre = np.array([plan.plumb_line.x + c * x - s * y, plan.plumb_line.y + s * x + c * y])
    return Stance(feet=feet, weight=stand.weight, centre=centre, moment=np.zeros(2))


def stand_seats(plan: Plan, stand: Stand) -> tuple[Seat, ...]:
    """Where pieces of a section rest on pieces of its carrier.

    Parameters
    ----------
    plan : Plan
        Pieces and contacts.
    stand : Stand
        What stands on what.

    Returns
    -------
    seats : tuple of Seat
        None where they are meshes, or nothing meant to bear lies level.
    """
    fixture = any(each.name == stand.carrier for each in plan.fixtures)
    below = pieces_of(plan, stand.carrier, None if fixture else stand.carrier_heel)
    above = pieces_of(plan, stand.section, stand.heel)
    return seats_between(plan, above, below, stages=stand.stages)


def _feet(
    plan: Plan, stand: Stand
) -> tuple[Floats, tuple[str, ...], tuple[tuple[Seat, ...], ...]]:
    if stand.how == "fid":
        section = next(each for each in plan.sections if each.name == stand.section)
        c, s = np.cos(plan.plumb_line.turn), np.sin(plan.plumb_line.turn)
        turn = np.array([[c, -s], [s, c]])
        at = np.array([fid.at[:2] for fid in section.fids]).reshape(-1, 2) @ turn.T
        at = at + np.array([plan.plumb_line.x, plan.plumb_line.y])
        return at, tuple(fid.mark for fid in section.fids), ()
    groups: dict[str, list[Seat]] = {}
    for seat in stand_seats(plan, stand):
        # A beam that lies on two bearers has two feet; a leg on two crossing beams has one.
        key = seat.upper.mark
        groups.setdefault(
            key if seat.upper.upright else f"{key} on {seat.lower.mark}", []
        ).append(seat)
    feet = np.array([_centroid(seats) for seats in groups.values()]).reshape(-1, 2)
    return feet, tuple(groups), tuple(tuple(seats) for seats in groups.values())


def _centroid(seats: list[Seat]) -> Floats:
    areas = np.array([seat.area for seat in seats])
    return np.asarray(areas @ np.array([seat.middle for seat in seats]) / areas.sum())


def _bearings(
    plan: Plan,
    stand: Stand,
    loads: Floats,
    names: tuple[str, ...],
    seats: tuple[tuple[Seat, ...], ...],
) -> Iterator[Bearing]:
    if stand.how == "fid":
        yield from _fid(plan, stand, loads, names)
        return
    for load, together in zip(loads.tolist(), seats, strict=True):
        yield from _seat_bearings(plan, stand, load, together)


def _seat_bearings(
    plan: Plan, stand: Stand, load: float, together: tuple[Seat, ...]
) -> Iterator[Bearing]:
    upper = together[0].upper
    lock = stand.lock
    plate = lock.plate_length if lock is not None else None
    # What lies on several beams bears on each by its area; none of it is counted twice.
    total = sum(seat.area for seat in together)
    doubled = total / _union(together)
    if not upper.level or len(together) == 1:
        area = sum(seat.area_of(upper) for seat in together) / doubled
        yield _bearing(plan, stand, (upper, together[0].lower), (load, area))
    for seat in together:
        share = load * seat.area / total
        area = seat.area_of(seat.lower) / doubled
        if plate and lock is not None and lock.plate_breadth:
            area = plate * min(lock.plate_breadth, seat.lower.width)
            yield from _plate(plan, stand, seat, share)
        yield _bearing(plan, stand, (seat.lower, upper), (share, area))


def _union(together: tuple[Seat, ...]) -> float:
    total = sum(seat.area for seat in together)
    for n, first in enumerate(together):
        for second in together[n + 1 :]:
            total -= polygon_area(overlap(first.shared, second.shared))
    return total


def _bearing(
    plan: Plan, stand: Stand, pair: tuple[Piece, Piece], load_on: tuple[float, float]
) -> Bearing:
    (taker, other), (load, area) = pair, load_on
    kind = "end grain" if taker.upright else "across the grain"
    material = material_of(plan, taker.member.species, stand.duration)
    middle = taker.start if taker.upright else other.start if other.upright else taker.start
    height = taker.bottom if taker.upright else taker.top
    strength = None
    missing = material if isinstance(material, str) else ""
    if isinstance(material, Material):
        strength = material.compression if taker.upright else material.across
        missing = "" if strength else f"no strength {kind} of {material.name} is given"
    return Bearing(
        kind=kind,
        what=f"{taker.body}: {taker.mark}",
        on=f"{other.body}: {other.mark}",
        load=load,
        area=area,
        stress=load / area,
        strength=strength,
        material="" if isinstance(material, str) else material.name,
        where=(float(middle[0]), float(middle[1]), float(height)),
        missing=missing,
    )


def _plate(plan: Plan, stand: Stand, seat: Seat, load: float) -> Iterator[Bearing]:
    lock = stand.lock
    if lock is None or lock.plate_length is None or lock.plate_breadth is None:
        return
    what = f"plate under {seat.upper.mark}"
    if lock.plate_thickness is None or lock.species is None:
        yield Bearing(
            kind="plate bending",
            what=what,
            on=seat.lower.mark,
            missing="the plan gives no thickness or material of the plate",
        )
        return
    material = material_of(plan, lock.species, stand.duration)
    along = seat.shared @ seat.lower.way
    over = max(0.0, (lock.plate_length - float(np.ptp(along))) / 2)
    breadth = min(lock.plate_breadth, seat.lower.width)
    # What stands out past the leg is bent up by the pressure under it.
    pressure = load / (lock.plate_length * breadth)
    stress = bending_stress(pressure * over**2 / 2, 1.0, lock.plate_thickness)
    strength = None if isinstance(material, str) else material.bending
    yield Bearing(
        kind="plate bending",
        what=what,
        on=f"{seat.lower.body}: {seat.lower.mark}",
        load=load,
        area=lock.plate_length * breadth,
        stress=stress,
        strength=strength,
        material="" if isinstance(material, str) else material.name,
        missing=material if isinstance(material, str) else "",
    )


def _no_bar(stand: Stand, missing: str) -> Bearing:
    what = f"fids of {stand.section}"
    return Bearing(kind="bar bending", what=what, on=stand.carrier, missing=missing)


def _fid(plan: Plan, stand: Stand, loads: Floats, names: tuple[str, ...]) -> Iterator[Bearing]:
    lock = stand.lock
    if lock is None:
        yield _no_bar(stand, f"the plan has no lock of {stand.section} on {stand.carrier}")
        return
    lacking = [
        key for key in ("species", "breadth", "depth", "side_gap") if getattr(lock, key) is None
    ]
    if len(lock.ledges) != 2:
        lacking.append("two ledges, one on each side of the leg")
    n = int(loads.argmax())
    leg = leg_at(plan, stand, n)
    if lacking or leg is None:
        what = ", ".join(lacking) if lacking else "no leg is drawn where the fids are marked"
        yield _no_bar(stand, f"lock of {stand.section} on {stand.carrier}: {what}")
        return
    yield from _fid_stresses(plan, stand, float(loads[n]), names[n], leg)


def leg_at(plan: Plan, stand: Stand, n: int) -> Piece | None:
    """The leg that a fid of a section goes through.

    Parameters
    ----------
    plan : Plan
        Sections, their fids and pieces.
    stand : Stand
        Of the section.
    n : int
        Which of its fids.

    Returns
    -------
    leg : Piece or None
        None where no upright piece is drawn there.
    """
    section = next(each for each in plan.sections if each.name == stand.section)
    at = np.array(section.fids[n].at)
    for member, piece in zip(section.members, pieces_of(plan, stand.section, 0.0), strict=True):
        if not piece.upright:
            continue
        near = np.abs(at[:2] - np.array(member.start[:2]))
        low, high = sorted((member.start[2], member.end[2]))
        if np.all(near <= [member.breadth / 2, member.depth / 2]) and low <= at[2] <= high:
            return piece
    return None


def _fid_stresses(
    plan: Plan, stand: Stand, load: float, mark: str, leg: Piece
) -> Iterator[Bearing]:
    lock = stand.lock
    assert lock is not None and lock.species is not None  # noqa: PT018
    pin = PinGeometry(
        leg=min(leg.member.breadth, leg.member.depth),
        gap=lock.side_gap or 0.0,
        ledges=(lock.ledges[0].bearing, lock.ledges[1].bearing),
        breadth=lock.breadth or 0.0,
        depth=lock.depth or 0.0,
    )
    found = pin_loads(load, pin)
    bar = material_of(plan, lock.species, stand.duration)
    where = (float(leg.start[0]), float(leg.start[1]), stand.heel)
    what = f"bar {mark}, {pin.breadth * 1e3:.0f} by {pin.depth * 1e3:.0f} mm"
    crack = 1.0 if isinstance(bar, str) else bar.crack
    rows = (
        ("bar bending", found.bending, None if isinstance(bar, str) else bar.bending),
        ("bar shear", found.shearing / crack, None if isinstance(bar, str) else bar.shear),
    )
    for kind, stress, strength in rows:
        yield Bearing(
            kind=kind, what=what, on=stand.carrier, load=load, stress=stress,
            strength=strength, material="" if isinstance(bar, str) else bar.name, where=where,
            missing=_missing(bar, strength, kind),
        )  # fmt: skip
    wood = material_of(plan, leg.member.species, stand.duration)
    strength = None if isinstance(wood, str) else wood.compression
    yield Bearing(
        kind="end grain", what=f"{stand.section}: {leg.mark}", on=what, load=load,
        area=pin.leg * pin.breadth, stress=found.leg_bearing, strength=strength,
        material="" if isinstance(wood, str) else wood.name, where=where,
        missing=_missing(wood, strength, "end grain"),
    )  # fmt: skip
    for n, ledge in enumerate(lock.ledges):
        on = _OnLedge(
            bar=what, load=float(found.reactions[n]), stress=float(found.ledge_bearing[n]),
            area=pin.breadth * ledge.bearing, where=where,
        )  # fmt: skip
        yield _ledge(plan, stand, ledge, on)
        yield from _block(plan, stand, ledge, on)


@dataclass(frozen=True, slots=True, kw_only=True)
class _OnLedge:
    bar: str
    load: float
    stress: float
    area: float
    where: tuple[float, float, float]


def _ledge(plan: Plan, stand: Stand, ledge: BearingLedge, at: _OnLedge) -> Bearing:
    species, grain, named = ledge.species, ledge.grain, f"ledge, {ledge.side}"
    if ledge.member is not None:
        pieces = pieces_of(plan, stand.carrier, 0.0)
        piece = next(each for each in pieces if each.mark == ledge.member)
        species = piece.member.species
        grain = "end" if piece.upright else "across"
        named = f"{stand.carrier}: {piece.mark}, {ledge.side}"
    material = material_of(plan, species or "", stand.duration)
    end = grain == "end"
    kind = "end grain" if end else "across the grain"
    strength = None
    if isinstance(material, Material):
        strength = material.compression if end else material.across
    return Bearing(
        kind=kind,
        what=named,
        on=at.bar,
        load=at.load,
        area=at.area,
        stress=at.stress,
        strength=strength,
        material="" if isinstance(material, str) else material.name,
        where=at.where,
        missing=_missing(material, strength, kind),
    )


def _block(plan: Plan, stand: Stand, ledge: BearingLedge, at: _OnLedge) -> Iterator[Bearing]:
    """A block that is let into a piece, on that piece."""
    if ledge.let_into is None:
        return
    pieces = pieces_of(plan, stand.carrier, 0.0)
    piece = next(each for each in pieces if each.mark == ledge.let_into)
    material = material_of(plan, piece.member.species, stand.duration)
    kind = "end grain" if piece.upright else "across the grain"
    strength = None
    if isinstance(material, Material):
        strength = material.compression if piece.upright else material.across
    # Whichever way the piece is turned, the block is as broad as its narrower side.
    area = min(piece.member.breadth, piece.member.depth) * ledge.bearing
    yield Bearing(
        kind=kind,
        what=f"{stand.carrier}: {piece.mark}, under the block, {ledge.side}",
        on=at.bar,
        load=at.load,
        area=area,
        stress=at.load / area,
        strength=strength,
        material="" if isinstance(material, str) else material.name,
        where=at.where,
        missing=_missing(material, strength, kind),
    )


def _missing(material: Material | str, strength: Sourced | None, kind: str) -> str:
    if isinstance(material, str):
        return material
    return "" if strength else f"nobody gives a strength of {material.name} for {kind}"
