"""Ropes of one haul past each other, and past the blocks of each other's tackles.

All their ends go straight up or down, so that two ropes are followed exactly over the whole
travel, and a rope is followed past a block by the engine. The tackles of a haul take the
section's sway together: two parts lean alike, and only what they do not share counts.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import chain, combinations, pairwise
from math import ceil, inf

import numpy as np

from towerlift.gaps import Line, Path, least_gap, line_gap
from towerlift.gaps.crossing import crossing_gap
from towerlift.motion.passages import Passage
from towerlift.nesting.curves import Floats
from towerlift.nesting.needs import Allowed
from towerlift.nesting.pairs import Workshop
from towerlift.plan.model import Plan
from towerlift.rig.blocks import Block, blocks_of
from towerlift.rig.rope_search import ALIKE, NEAR, told_of
from towerlift.rig.rope_sway import Sway, sway_of
from towerlift.rig.rope_ways import hauls_of
from towerlift.rig.ropes import Knot, Rope, ropes_of

# A length of a part no longer than this is not halved again. [m]
SHORT = 0.1
# A run past a block is cut into lengths of this, most of which are nowhere near. [m]
FIRST = 1.0
# Blocks on one level: their parts are then sheared alike. [m]
LEVEL = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class GearGap:
    """The least that two pieces of running gear leave each other, over one haul.

    Attributes
    ----------
    one, other : str
        What they are.
    gap : float
        Between their surfaces; below nothing they foul. [m]
    certified : bool
        Whether the gap is proved.
    moves : float
        Farthest that they come nearer by sway, lean and the errors of hanging. [m]
    heel : float
        Of the hauled section, where it is least. [m]
    where : tuple of float
        Shaft frame. [m]
    """

    one: str
    other: str
    gap: float
    certified: bool
    moves: float
    heel: float
    where: tuple[float, float, float]

    @property
    def left(self) -> float:
        """What is left of the gap when all has moved. [m]"""
        return self.gap - self.moves


@dataclass(frozen=True, slots=True, kw_only=True)
class HaulGear:
    """How near the gear of one haul comes to itself.

    Attributes
    ----------
    stage, lift : str
        Which haul.
    gap : GearGap or None
        The one that leaves least; None where nothing is near.
    unknown : str
        Why it cannot be said; empty where it can.
    hidden : GearGap or None
        The one that leaves least to what a scan did not see.
    """

    stage: str
    lift: str
    gap: GearGap | None
    unknown: str = ""
    hidden: GearGap | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Travel:
    """The travel of one haul, and where its gear then is.

    Attributes
    ----------
    shop : Workshop
        Plan and raise.
    passages : tuple of Passage
        Of the haul.
    low, high : float
        Heel heights of what is hauled. [m]
    """

    shop: Workshop
    passages: tuple[Passage, ...]
    low: float
    high: float

    @property
    def hauled(self) -> str:
        """What is hauled."""
        return self.passages[0].moving[0]

    def places(self, knot: Knot) -> Floats:
        """A knot at the lowest and the highest heel, (2, 3), shaft frame. [m]"""
        if knot.rides is None:
            return np.array([knot.at, knot.at])
        pose = self.shop.raise_.shaft_from_section(0.0)
        at = pose[:3, :3] @ np.array(knot.at) + pose[:3, 3]
        heels = [self.low, self.high]
        if knot.rides != self.hauled:
            heels = [self.passages[0].standing[knot.rides].heel_from] * 2
        placed: Floats = at + np.outer(heels, [0.0, 0.0, 1.0])
        return placed

    def here(self, knot: Knot) -> bool:
        """Whether what carries a knot is on the site."""
        return knot.rides is None or knot.rides in self.passages[0].standing


def travel_of(shop: Workshop, passages: list[Passage]) -> Travel:
    """The whole travel of a haul.

    Parameters
    ----------
    shop : Workshop
        Plan and raise.
    passages : list of Passage
        Of one haul.

    Returns
    -------
    travel : Travel
        From its lowest to its highest heel.
    """
    places = [passage.standing[passage.moving[0]] for passage in passages]
    heels = [heel for place in places for heel in (place.heel_from, place.heel_to)]
    return Travel(shop=shop, passages=tuple(passages), low=min(heels), high=max(heels))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Strand:
    """A straight run of a tackle: a part, its first end at the moving block, or the fall."""

    rope: Rope
    part: bool
    ends: Floats

    @property
    def words(self) -> str:
        return f"{'a part' if self.part else 'the fall'} of {self.rope.name}"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Gear:
    """All the running gear of a haul, and how far it moves."""

    travel: Travel
    strands: tuple[_Strand, ...]
    blocks: tuple[Block, ...]
    sway: float
    lean: float
    spread: float

    def apart(self, one: str, other: str) -> float:
        """Level distance of the moving blocks of two tackles. [m]"""
        feet = {each.rope.name: each.rope.lower.at for each in self.strands}
        return float(np.hypot(*np.subtract(feet[one], feet[other])[:2]))


def gear_ways(shop: Workshop, allowed: Allowed) -> Iterator[HaulGear]:
    """The gear of every haul past itself.

    Parameters
    ----------
    shop : Workshop
        Plan and raise.
    allowed : Allowed
        How sections on free lines hang.

    Yields
    ------
    gear : HaulGear
        One for each stage and lift of two or more tackles.

    Notes
    -----
    The parts of one tackle lie in the sheaves of its own blocks and are not held against
    each other, nor against those blocks.
    """
    for (stage, lift), passages in hauls_of(shop).items():
        travel = travel_of(shop, passages)
        ropes = [
            rope
            for rope in ropes_of(shop.plan)
            if rope.lift == lift and rope.lower.rides == travel.hauled
        ]
        if len(ropes) < 2:
            continue
        sway = sway_of(shop, allowed, passages).between(travel.low, travel.high)
        here = all(travel.here(rope.upper) for rope in ropes)
        unknown = sway.unknown if here else "what carries the top blocks is not on the site"
        gear = _gear(shop.plan, travel, ropes, sway) if here else None
        yield HaulGear(
            stage=stage,
            lift=lift,
            gap=None if gear is None else _least(gear),
            unknown=unknown or unknown_blocks(shop.plan, lift),
        )


def unknown_blocks(plan: Plan, lift: str) -> str:
    """Why it cannot be said how large the blocks of a lift are.

    Parameters
    ----------
    plan : Plan
        Its tackles.
    lift : str
        Which.

    Returns
    -------
    why : str
        Empty where it can.
    """
    pattern = next(each.pattern for each in plan.lifts if each.name == lift)
    sheave = next(each.sheave for each in plan.tackles if each.name == pattern)
    return "" if sheave is not None else f"the plan gives no sheave of {pattern}"


def _gear(plan: Plan, travel: Travel, ropes: list[Rope], sway: Sway) -> _Gear:
    strands = []
    for rope in ropes:
        for n, knots in enumerate(rope.runs):
            part = n < rope.parts
            pair = knots[::-1] if part and knots[0].rides != travel.hauled else knots
            ends = np.stack([travel.places(knot) for knot in pair], axis=1)
            strands.append(_Strand(rope=rope, part=part, ends=ends))
    made = {each.name: each.fabrication for each in plan.sections}
    return _Gear(
        travel=travel,
        strands=tuple(strands),
        blocks=blocks_of(travel.shop, ropes[0].lift),
        sway=sway.at(sway.foot),
        lean=sway.lean,
        spread=made[travel.hauled],
    )


def _least(gear: _Gear) -> GearGap | None:
    """What leaves least; blocks first, since what leaves more is soon left aside."""
    best: GearGap | None = None
    tried = chain(
        (partial(_two_blocks, gear, *pair) for pair in combinations(gear.blocks, 2)),
        (partial(_past_block, gear, a, b) for a in gear.strands for b in gear.blocks),
        (partial(_two_strands, gear, *pair) for pair in combinations(gear.strands, 2)),
    )
    for measure in tried:
        gap = measure(inf if best is None else best.left)
        if gap is not None and (best is None or _rank(gap) < _rank(best)):
            best = gap
    return best


def _rank(gap: GearGap) -> tuple[bool, float]:
    return gap.certified, gap.left


def _far(one: Floats, other: Floats) -> bool:
    """Whether what two boxes hold, (2, 3) each, is nowhere near. [m]"""
    beside = np.maximum(one[0] - other[1], other[0] - one[1])
    return bool(np.linalg.norm(np.maximum(beside, 0.0)) > NEAR)


def _box(ends: Floats, radius: float) -> Floats:
    points = ends.reshape(-1, 3)
    return np.array([points.min(axis=0) - radius, points.max(axis=0) + radius])


def _two_strands(gear: _Gear, one: _Strand, other: _Strand, enough: float) -> GearGap | None:
    if one.rope.name == other.rope.name:
        return None
    if _far(_box(one.ends, one.rope.radius), _box(other.ends, other.rope.radius)):
        return None
    if other.part and not one.part:
        one, other = other, one
    measure = partial(_crossed, gear, one, other)
    if not one.part:
        return measure((0.0, 1.0), gear.spread)
    if not other.part:
        return _along(one, measure, lambda share: (1 - share) * gear.sway + gear.spread, enough)
    lengths = [float(np.ptp(each.ends[:, :, 2], axis=1).min()) for each in (one, other)]
    apart = gear.lean * gear.apart(one.rope.name, other.rope.name) + gear.spread
    level = np.all(np.abs(one.ends[..., 2] - other.ends[..., 2]) <= LEVEL)
    if not level or min(lengths) <= gear.sway:
        return measure((0.0, 1.0), 2 * gear.sway + apart)
    # Both are sheared alike by the sway over their length, which shortens no distance by
    # more than half that share of it.
    middles = measure((0.0, 1.0), 0.0).gap + one.rope.radius + other.rope.radius
    shear = middles * gear.sway / min(lengths) / 2
    return measure((0.0, 1.0), shear + apart)


def _crossed(
    gear: _Gear, one: _Strand, other: _Strand, shares: tuple[float, float], moves: float
) -> GearGap:
    piece = _piece(one.ends, shares)
    found = crossing_gap(piece, other.ends, (one.rope.radius, other.rope.radius))
    travel = gear.travel
    return GearGap(
        one=one.words,
        other=other.words,
        gap=found.gap,
        certified=True,
        moves=moves,
        heel=travel.low + found.at * (travel.high - travel.low),
        where=found.point,
    )


def _piece(ends: Floats, shares: tuple[float, float]) -> Floats:
    return np.stack(
        [ends[:, 0] + share * (ends[:, 1] - ends[:, 0]) for share in shares], axis=1
    )


def _along(
    strand: _Strand,
    measure: Callable[[tuple[float, float], float], GearGap | None],
    moves: Callable[[float], float],
    enough: float,
    *,
    first: float = inf,
) -> GearGap | None:
    """The least that a run leaves, cut ever shorter, with the moves of each length.

    Lengths that leave enough are left aside; none is longer than `first` to begin with.
    """
    length = float(np.linalg.norm(strand.ends[:, 1] - strand.ends[:, 0], axis=1).max())
    best: GearGap | None = None
    edges = np.linspace(0.0, 1.0, max(1, ceil(length / first)) + 1).tolist()
    waiting = list(pairwise(edges))
    while waiting:
        shares = waiting.pop()
        most, least = sorted((moves(shares[0]), moves(shares[1])), reverse=True)
        gap = measure(shares, most)
        if gap is None or (gap.certified and gap.left >= enough):
            continue
        if most - least <= ALIKE or (shares[1] - shares[0]) * length <= SHORT:
            best = gap if best is None else min(best, gap, key=_rank)
            enough = min(enough, gap.left) if gap.certified else enough
            continue
        half = sum(shares) / 2
        waiting += [(shares[0], half), (half, shares[1])]
    return best


def _past_block(gear: _Gear, strand: _Strand, block: Block, enough: float) -> GearGap | None:
    if strand.rope.name == block.tackle:
        return None
    at = gear.travel.places(block.knot)
    # As seen from the block, which goes up and down without turning.
    ends = strand.ends - at[:, None]
    measure = partial(_beside_block, gear, strand, (block, ends, at))
    rides = block.end == "moving block"
    lean = gear.lean * gear.apart(strand.rope.name, block.tackle) + gear.spread
    if _far(_box(ends, strand.rope.radius), block.box):
        return None

    def moves(share: float) -> float:
        if not strand.part:
            return (gear.sway if rides else 0.0) + gear.spread
        return share * gear.sway + lean if rides else (1 - share) * gear.sway + gear.spread

    return _along(strand, measure, moves, enough, first=FIRST)


def _beside_block(
    gear: _Gear,
    strand: _Strand,
    past: tuple[Block, Floats, Floats],
    shares: tuple[float, float],
    moves: float,
) -> GearGap | None:
    block, ends, at = past
    piece = _piece(ends, shares)
    if _far(_box(piece, strand.rope.radius), block.box):
        return None
    line = Line(stations=np.array([0.0, 1.0]), ends=piece, radius=strand.rope.radius)
    found = line_gap(line, block.body)
    gap, certain = told_of(found)
    travel = gear.travel
    there = at[0] + found.at * (at[1] - at[0]) + np.array(found.line_point)
    return GearGap(
        one=strand.words,
        other=f"the {block.end} of {block.tackle}",
        gap=gap,
        certified=certain,
        moves=moves,
        heel=travel.low + found.at * (travel.high - travel.low),
        where=(float(there[0]), float(there[1]), float(there[2])),
    )


def _two_blocks(gear: _Gear, one: Block, other: Block, _: float) -> GearGap | None:
    if one.tackle == other.tackle:
        return None
    here, there = gear.travel.places(one.knot), gear.travel.places(other.knot)
    moved = here - there
    if _far(_box(moved, 0.0) + one.box, other.box):
        return None
    poses = np.tile(np.eye(4), (2, 1, 1))
    poses[:, :3, 3] = moved
    found = least_gap(
        one.body, other.body, Path(stations=np.array([0.0, 1.0]), poses=poses), workers=1
    )
    gap, certain = told_of(found)
    riding = [each.end == "moving block" for each in (one, other)]
    sway = gear.sway if riding[0] != riding[1] else 0.0
    lean = gear.lean * gear.apart(one.tackle, other.tackle) if all(riding) else 0.0
    travel = gear.travel
    where = there[0] + found.at * (there[1] - there[0]) + np.array(found.fixed_point)
    return GearGap(
        one=f"the {one.end} of {one.tackle}",
        other=f"the {other.end} of {other.tackle}",
        gap=gap,
        certified=certain,
        moves=sway + lean + gear.spread,
        heel=travel.low + found.at * (travel.high - travel.low),
        where=(float(where[0]), float(where[1]), float(where[2])),
    )
