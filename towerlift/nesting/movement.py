"""How far each side of a section grows with its moisture.

Only wood across its grain grows. A piece pushes outward what stands before it; a piece
that runs lengthwise into the back of another holds it there, since it does not grow.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from towerlift.nesting.curves import Floats
from towerlift.plan.bodies import Face, Member, Section, Species
from towerlift.plan.model import Plan
from towerlift.shapes.members import Boxes, place_members
from towerlift.shapes.solids import Ints
from towerlift.timber import (
    Cut,
    Read,
    Sourced,
    TimberSpecies,
    find_species,
    side_coefficients,
)
from towerlift.timber.movement import FIBRE_SATURATION, HIGHEST, LOWEST

FACES = (Face.NORTH, Face.EAST, Face.SOUTH, Face.WEST)
OUTWARD: Mapping[Face, tuple[int, float]] = {
    Face.NORTH: (1, 1.0),
    Face.EAST: (0, 1.0),
    Face.SOUTH: (1, -1.0),
    Face.WEST: (0, -1.0),
}
"""Axis across each face, and which way along it is out."""
LENGTHWISE = 0.9
TOUCHING = 0.005
BAND = 0.1
STEEP = 0.3
"""Rise of a piece for each metre of it, above which it stands rather than lies."""
LONG_PIECE = 2.0
"""A rail that guides is longer than this. [m]"""
HEAVIEST_WOOD = 1500.0
"""No wood is denser than its own cell walls, wet or dry. [kg/m^3]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moistening:
    """What moisture does to the pieces of one species.

    Attributes
    ----------
    start, end : float
        Moisture contents, share of the oven-dry mass.
    species : TimberSpecies
        Where its movement is from.
    """

    start: float
    end: float
    species: TimberSpecies

    @property
    def change(self) -> float:
        """Change of moisture that moves anything: below fibre saturation."""
        return min(self.end, FIBRE_SATURATION) - min(self.start, FIBRE_SATURATION)

    @property
    def estimated(self) -> bool:
        """Whether it goes outside what the coefficients were printed for."""
        return not all(LOWEST <= m <= HIGHEST for m in (self.start, self.end))


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionGrowth:
    """Growth of every piece of a section towards each face.

    Attributes
    ----------
    section : str
        Its name.
    marks : tuple of str
        Pieces.
    outward : (n, 4) float
        Growth of the outer side of each piece towards north, east, south, west, with
        what pushes it from behind. [m]
    own : (n, 4) float
        Growth of each piece by itself in those directions. [m]
    sides : mapping of Face to float
        Most that an outermost piece grows on each face. [m]
    missing : tuple of str
        What is not known and would be needed; empty where the growth is whole.
    estimated : bool
        Whether moisture leaves the range for which the movement was printed.
    sources : tuple of str
        Where the movement of each species is from.
    """

    section: str
    marks: tuple[str, ...]
    outward: Floats
    own: Floats
    sides: Mapping[Face, float]
    missing: tuple[str, ...] = ()
    estimated: bool = False
    sources: tuple[str, ...] = ()

    @property
    def worst(self) -> float:
        """Most that any side grows. [m]"""
        return max(self.sides.values(), default=0.0)


@dataclass(slots=True)
class _Gathered:
    missing: list[str] = field(default_factory=list)
    sources: dict[str, None] = field(default_factory=dict)
    estimated: bool = False


def moistening(species: Species, change: float | None = None) -> Moistening | str:
    """Movement of a species of the plan, or what is missing to know it.

    Parameters
    ----------
    species : Species
        Of the plan.
    change : float or None
        Change of moisture content to reckon with in place of the plan's.

    Returns
    -------
    found : Moistening or str
        A reason where the plan does not say enough or the value was not read.
    """
    # Where nobody says how wet it is, a change counts whole and is an estimate.
    start = species.moisture if species.moisture is not None else 0.0
    end = species.moisture_wettest if change is None else start + change
    if end is None or (change is None and species.moisture is None):
        return f"{species.name}: no moisture contents given"
    if species.timber is not None:
        table = find_species(species.timber)
    elif species.shrinkage_tangential is not None:
        table = TimberSpecies(
            name=species.name,
            radial=_given(species.shrinkage_radial, species.source),
            tangential=_given(species.shrinkage_tangential, species.source),
        )
    else:
        return f"{species.name}: neither its name among the timbers nor its shrinkage given"
    return Moistening(start=start, end=end, species=table)


def _given(value: float | None, source: str) -> Sourced | None:
    return None if value is None else Sourced(value=value, source=source, read=Read.GIVEN)


@dataclass(frozen=True, slots=True, kw_only=True)
class WidthChain:
    """What stands before and behind what in a section, for all moistures.

    Attributes
    ----------
    section : str
        Its name.
    members : tuple of Member
        Its pieces of wood.
    sizes : (n, 2) float
        Breadth and depth. [m]
    across : (n, 2, 2) float
        Share of breadth and of depth that lies along x and along y.
    backing : tuple of tuple of (int, (k,) int)
        For north, east, south and west: each piece that is pushed from behind, innermost
        first, with the pieces that bear on its back. One that a lengthwise piece holds
        there is not pushed.
    outermost, innermost : tuple of list of int
        Pieces that reach farthest out on each face, and long ones nearest the axis.
    """

    section: str
    members: tuple[Member, ...]
    sizes: Floats
    across: Floats
    backing: tuple[tuple[tuple[int, Ints], ...], ...]
    outermost: tuple[list[int], ...]
    innermost: tuple[list[int], ...]

    def pushed(self, own: Floats) -> Floats:
        """Growth of the outer side of each piece: its own and of what stands behind it.

        Parameters
        ----------
        own : (n, 4) float
            Growth of each piece by itself. [m]

        Returns
        -------
        outward : (n, 4) float
            Towards north, east, south and west. [m]
        """
        outward = own.copy()
        for k, pieces in enumerate(self.backing):
            for row, behind in pieces:
                outward[row, k] += max(0.0, float(outward[behind, k].max()))
        return outward


def width_chain(plan: Plan, section: Section) -> WidthChain | None:
    """The chain of pieces that makes a section as wide as it is.

    Parameters
    ----------
    plan : Plan
        Its species say what is wood.
    section : Section
        Drawn by members.

    Returns
    -------
    chain : WidthChain or None
        None where no wood is drawn.
    """
    members = tuple(m for m in section.members if _wooden(plan, m))
    if not members:
        return None
    boxes = place_members(section.name, members, {s.name: s.density for s in plan.species})
    spans = _spans(boxes)
    return WidthChain(
        section=section.name,
        members=members,
        sizes=boxes.sides,
        across=np.abs(boxes.axes[:, :2, :2]),
        backing=tuple(_backing(boxes, spans, face) for face in FACES),
        outermost=tuple(_outermost(spans, face) for face in FACES),
        innermost=tuple(_innermost(spans, face) for face in FACES),
    )


def section_growth(
    plan: Plan,
    section: Section,
    *,
    change: float | Mapping[str, float] | None = None,
    chain: WidthChain | None = None,
) -> SectionGrowth:
    """How far every piece and every side of a section grows.

    Parameters
    ----------
    plan : Plan
        Its species give moisture and movement.
    section : Section
        Drawn by members.
    change : float, mapping of str to float, or None
        Change of moisture content of all wood, or of each species, in place of the
        plan's.
    chain : WidthChain or None
        Its width chain, where it was worked out before.

    Returns
    -------
    growth : SectionGrowth
        `missing` names what could not be known; what is known is reckoned all the same.
    """
    chain = chain or width_chain(plan, section)
    if chain is None:
        why = f"{section.name} is not drawn by members, so its width chain is not known"
        empty = np.zeros((0, 4))
        return SectionGrowth(
            section=section.name,
            marks=(),
            outward=empty,
            own=empty,
            sides=dict.fromkeys(FACES, 0.0),
            missing=(why,),
        )
    gathered = _Gathered()
    own = _own_growth(plan, chain, (change, gathered))
    outward = chain.pushed(own)
    sides = {face: float(outward[chain.outermost[k], k].max()) for k, face in enumerate(FACES)}
    return SectionGrowth(
        section=section.name,
        marks=tuple(m.mark for m in chain.members),
        outward=outward,
        own=own,
        sides=sides,
        missing=tuple(dict.fromkeys(gathered.missing)),
        estimated=gathered.estimated,
        sources=tuple(gathered.sources),
    )


def _wooden(plan: Plan, member: Member) -> bool:
    """Iron neither shrinks nor swells: it says so by its density."""
    density = next((s.density for s in plan.species if s.name == member.species), 0.0)
    return density < HEAVIEST_WOOD


def _own_growth(
    plan: Plan,
    chain: WidthChain,
    how: tuple[float | Mapping[str, float] | None, _Gathered],
) -> Floats:
    """Growth of each piece across itself, towards north, east, south and west."""
    change, gathered = how
    moved = {s.name: _movement(s, change) for s in plan.species}
    grown = np.zeros((len(chain.members), 2))
    known: dict[tuple[str, str], tuple[Sourced | None, Sourced | None]] = {}
    for row, member in enumerate(chain.members):
        found, usual = moved[member.species]
        if isinstance(found, str):
            gathered.missing.append(found)
            continue
        cut = member.cut if member.cut != "unknown" else usual
        key = member.species, cut
        if key not in known:
            known[key] = side_coefficients(found.species, Cut(cut))
        for side, coefficient in enumerate(known[key]):
            if coefficient is None:
                gathered.missing.append(
                    f"{member.species}: movement of {found.species.name} cut {cut} was "
                    "not read; give its shrinkage"
                )
                continue
            gathered.sources[f"{member.species}: {coefficient.source}"] = None
            grown[row, side] = coefficient.value * found.change * chain.sizes[row, side]
        gathered.estimated |= found.estimated
    of_axis = np.einsum("ns,nsa->na", grown, chain.across)
    return np.asarray(of_axis[:, [OUTWARD[face][0] for face in FACES]])


def _movement(
    species: Species, change: float | Mapping[str, float] | None
) -> tuple[Moistening | str, str]:
    own = change.get(species.name) if isinstance(change, Mapping) else change
    return moistening(species, own), species.cut


def _spans(boxes: Boxes) -> Floats:
    """Lowest and highest x, y and s of each piece, (n, 3, 2)."""
    middles = 0.5 * (boxes.starts + boxes.ends)
    sizes = np.column_stack([boxes.sides, boxes.lengths])
    halves = 0.5 * np.einsum("ni,nij->nj", sizes, np.abs(boxes.axes))
    return np.stack([middles - halves, middles + halves], axis=2)


def _backing(boxes: Boxes, spans: Floats, face: Face) -> tuple[tuple[int, Ints], ...]:
    """What bears on the back of what, innermost first; what is held there is left out."""
    axis, sign = OUTWARD[face]
    side = 1 - axis
    low, high = spans[:, 2, 0], spans[:, 2, 1]
    foot, head = (
        np.maximum(low[:, None], low[None, :]),
        np.minimum(high[:, None], high[None, :]),
    )
    level = 0.5 * (foot + head)
    # Where a slanting piece is at the height at which it meets another.
    places, halves = _at_levels(boxes, spans, level)
    others = places.transpose(1, 0, 2)
    apart = np.abs(places[:, :, side] - others[:, :, side])
    beside = (head - foot > TOUCHING) & (
        apart < halves[:, None, side] + halves[None, :, side] - TOUCHING
    )
    inner = sign * places[:, :, axis] - halves[:, None, axis]
    middle = sign * others[:, :, axis]
    # What ends at the back of a piece, or reaches past it, bears on it or holds it. What
    # lies mostly in the same plane is tenoned or halved into it and does not push.
    reaches = middle + halves[None, :, axis] >= inner - TOUCHING
    # Past the axis nothing pushes: the section is held in its middle.
    behind = beside & reaches & (middle <= inner) & (inner > TOUCHING)
    along = np.abs(boxes.axes[:, 2, axis]) >= LENGTHWISE
    held = np.any(behind & along[None, :], axis=1)
    pushed = ~held & behind.any(axis=1)
    order = np.argsort(sign * spans[:, axis].mean(axis=1), kind="stable")
    return tuple((int(row), np.flatnonzero(behind[row])) for row in order if pushed[row])


def _at_levels(boxes: Boxes, spans: Floats, level: Floats) -> tuple[Floats, Floats]:
    """Middle of each piece at each height, (n, n, 2), and half its extent, (n, 2)."""
    middles = 0.5 * (boxes.starts + boxes.ends)
    rise = boxes.axes[:, 2, 2]
    steep = np.abs(rise) > STEEP
    slope = (
        np.where(steep, 1.0 / np.where(steep, rise, 1.0), 0.0)[:, None] * boxes.axes[:, 2, :2]
    )
    places = (
        middles[:, None, :2] + (level - middles[:, 2, None])[:, :, None] * slope[:, None, :]
    )
    across = 0.5 * np.einsum("ni,nij->nj", boxes.sides, np.abs(boxes.axes[:, :2, :2]))
    leaning = across / np.where(steep, np.abs(rise), 1.0)[:, None]
    lying = 0.5 * (spans[:, :2, 1] - spans[:, :2, 0])
    return places, np.where(steep[:, None], leaning, lying)


def _outermost(spans: Floats, face: Face) -> list[int]:
    """Pieces that reach farthest towards a face at some height."""
    axis, sign = OUTWARD[face]
    outer = sign * spans[:, axis, 1 if sign > 0 else 0]
    low, high = spans[:, 2, 0], spans[:, 2, 1]
    heights = np.arange(low.min() + BAND / 2, high.max(), BAND)
    there = (low[None, :] <= heights[:, None]) & (high[None, :] >= heights[:, None])
    reach = np.where(there, outer[None, :], -np.inf)
    best = reach.max(axis=1, keepdims=True)
    rows = np.any((reach >= best - TOUCHING) & there, axis=0)
    return np.flatnonzero(rows).tolist()


def nest_growth(
    outer: SectionGrowth, inner: SectionGrowth, chain: WidthChain
) -> dict[Face, float]:
    """Loss of gap between a section and the one around it, on each face.

    Parameters
    ----------
    outer, inner : SectionGrowth
        Of the one around and of the one within.
    chain : WidthChain
        Of the one around.

    Returns
    -------
    loss : dict of Face to float
        Outward growth of the inner one and inward growth of the outer one's innermost
        piece by itself: what that piece is fixed to is held by the girts. [m]
    """
    return {
        face: inner.sides[face]
        + max((float(outer.own[row, k]) for row in chain.innermost[k]), default=0.0)
        for k, face in enumerate(FACES)
    }


def _innermost(spans: Floats, face: Face) -> list[int]:
    """Long upright pieces that come nearest the axis on a face."""
    axis, sign = OUTWARD[face]
    inner = sign * spans[:, axis, 0 if sign > 0 else 1]
    tall = (spans[:, 2, 1] - spans[:, 2, 0]) > LONG_PIECE
    rows = np.flatnonzero(tall & (inner > 0))
    if not len(rows):
        return []
    nearest = inner[rows].min()
    return [int(row) for row in rows if inner[row] <= nearest + TOUCHING]
