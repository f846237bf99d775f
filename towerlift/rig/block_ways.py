"""How near the blocks of every haul come to the timber and stone that they pass."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from towerlift.gaps import Path, least_gap
from towerlift.nesting.bodies import member_boxes
from towerlift.nesting.curves import Floats
from towerlift.nesting.needs import Allowed
from towerlift.nesting.pairs import Workshop
from towerlift.plan.rigging import Opening
from towerlift.rig.blocks import Block, blocks_of
from towerlift.rig.line_ways import GearGap, HaulGear, travel_of, unknown_blocks
from towerlift.rig.rope_search import NEAR, OPEN, told_of
from towerlift.rig.rope_sway import HaulSway, sway_of
from towerlift.rig.rope_ways import (
    Trip,
    hauls_of,
    openings_for,
    place_past,
    spread_of,
    trips_of,
)
from towerlift.shapes.unseen import UNSEEN

# Travel is halved down to this where less is left than is enough of any clearance. [m]
SHORT, ENOUGH = 0.5, 0.1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Past:
    """One block past one body, over a stretch of travel; places of its pin there, (2, 3)."""

    shop: Workshop
    lift: str
    block: Block
    trip: Trip
    at: Floats
    sway: HaulSway
    spread: float

    @property
    def turn(self) -> Floats:
        """Body's frame from the shaft's axes, (3, 3)."""
        if self.trip.body not in self.shop.shapes.sections:
            return np.eye(3)
        turn: Floats = self.shop.raise_.shaft_from_section(0.0)[:3, :3].T
        return turn

    def halves(self) -> "tuple[_Past, _Past]":
        """The same over half the travel each."""
        half = (self.trip.low + self.trip.high) / 2
        there = (self.at[0] + self.at[1]) / 2
        return (
            replace(self, trip=replace(self.trip, high=half), at=np.array([self.at[0], there])),
            replace(self, trip=replace(self.trip, low=half), at=np.array([there, self.at[1]])),
        )

    @property
    def moves(self) -> float:
        """Farthest that the two come nearer. [m]"""
        share = 1.0 if self.block.end == "top block" else 0.0
        sway = self.sway.between(self.trip.low, self.trip.high)
        if not self.trip.rides:
            return sway.beside_still(share) + self.spread
        top = float(self.at[:, 2].max() + self.block.box[1, 2])
        return sway.beside_rider(share, top + self.trip.at) + self.spread


def block_ways(shop: Workshop, allowed: Allowed) -> Iterator[HaulGear]:
    """The blocks of every haul past everything but what they are made fast to.

    Parameters
    ----------
    shop : Workshop
        Bodies of the plan, and the raise.
    allowed : Allowed
        How sections on free lines hang.

    Yields
    ------
    gear : HaulGear
        One for each stage and lift, with the block that leaves least.

    Notes
    -----
    A moving block is not held against the section that it hauls, nor a top block against
    what the lift hangs from: how they are made fast there is not drawn.
    """
    for (stage, lift), passages in hauls_of(shop).items():
        travel, sway = travel_of(shop, passages), sway_of(shop, allowed, passages)
        heels = {name: place.heel_from for name, place in passages[0].standing.items()}
        hung_from = next(each.hung_from for each in shop.plan.lifts if each.name == lift)
        rigged = next(each for each in shop.plan.lifts if each.name == lift)
        found: dict[bool, list[GearGap]] = {False: [], True: []}
        for block in blocks_of(shop, lift):
            if not travel.here(block.knot) or rigged.section != travel.hauled:
                continue
            fast = travel.hauled if block.end == "moving block" else hung_from
            for trip in trips_of(shop, passages):
                if trip.body == fast:
                    continue
                at = [
                    place_past(shop, block.knot, (trip, heels, travel.hauled, heel))
                    for heel in (trip.low, trip.high)
                ]
                past = _Past(
                    shop=shop,
                    lift=lift,
                    block=block,
                    trip=trip,
                    at=np.array(at),
                    sway=sway,
                    spread=spread_of(shop, travel.hauled, trip.body),
                )
                mine = found[trip.body == UNSEEN]
                mine += _least(past, min((gap.left for gap in mine), default=inf))
        here = hung_from not in shop.shapes.sections or hung_from in heels
        yield HaulGear(
            stage=stage,
            lift=lift,
            gap=_first(found[False]),
            hidden=_first(found[True]),
            unknown=(sway.unknown if here else "what carries the top blocks is not there")
            or unknown_blocks(shop.plan, lift),
        )


def _first(gaps: Iterable[GearGap]) -> GearGap | None:
    """What could not be certified, or else what leaves least."""
    return min(gaps, key=lambda gap: (gap.certified, gap.left), default=None)


def _least(past: _Past, enough: float) -> list[GearGap]:
    """What leaves least, and less than enough; the travel is cut up, as it sways unevenly."""
    best: list[GearGap] = []
    waiting = [past]
    while waiting:
        bit = waiting.pop()
        gap = _first(_gaps(bit))
        if gap is None or (gap.certified and gap.left >= enough):
            continue
        if bit.trip.high - bit.trip.low <= SHORT or gap.left >= ENOUGH:
            best.append(gap)
            enough = min(enough, gap.left) if gap.certified else enough
            continue
        waiting += bit.halves()
    return best


def _gaps(past: _Past) -> Iterator[GearGap]:
    trip = past.trip
    assembly = past.shop.assembly(trip.body, trip.fitted)
    boxes = past.shop.kept(
        ("member boxes", trip.body, trip.fitted), lambda: member_boxes(assembly)
    )
    swept = _swept(past)
    beside = np.maximum(swept[0] - boxes[:, 1], boxes[:, 0] - swept[1])
    apart = np.linalg.norm(np.maximum(beside, 0.0), axis=1)
    near = np.flatnonzero(apart <= NEAR).tolist()
    if not near:
        return
    openings = openings_for(past.shop, (past.lift, past.block.tackle), trip.body)
    through = []
    for k in near:
        label = assembly.labels[k].within(trip.body)
        if label in openings:
            through.append(k)
            room = _room(openings[label], boxes[k], swept)
            gap = room if apart[k] == 0.0 else float(apart[k])
            if gap < NEAR:
                at = trip.low, past.at[0]
                yield _told(past, f"{trip.body}: {label}", (gap, True), at)
    if len(through) == len(near):
        return
    body = past.shop.body(trip.body, trip.fitted, assembly)
    poses = np.tile(np.eye(4), (2, 1, 1))
    poses[:, :3, :3], poses[:, :3, 3] = past.turn, past.at
    found = least_gap(
        past.block.body,
        body,
        Path(stations=np.array([0.0, 1.0]), poses=poses),
        skip_pairs=np.array([[0, k] for k in through], dtype=np.int64).reshape(-1, 2),
        workers=1,
    )
    if found.certified and found.upper > NEAR:
        return
    heel = trip.low + found.at * (trip.high - trip.low)
    label = assembly.labels[found.fixed_member].within(trip.body)
    at = heel, np.array(found.fixed_point)
    yield _told(past, f"{trip.body}: {label}", told_of(found), at)


def _told(
    past: _Past, other: str, told: tuple[float, bool], at: tuple[float, Floats]
) -> GearGap:
    (gap, certain), (heel, point) = told, at
    if past.trip.body in past.shop.shapes.sections:
        up = heel + past.trip.at if past.trip.rides else past.trip.at
        pose = past.shop.raise_.shaft_from_section(up)
        point = pose[:3, :3] @ point + pose[:3, 3]
    return GearGap(
        one=f"the {past.block.end} of {past.block.tackle}",
        other=other,
        gap=gap,
        certified=certain,
        moves=past.moves,
        heel=heel,
        where=(float(point[0]), float(point[1]), float(point[2])),
    )


def _swept(past: _Past) -> Floats:
    """Box of all that the block sweeps, frame of the body, (2, 3). [m]"""
    corners = np.array(
        [[past.block.box[i, 0], past.block.box[j, 1]] for i in (0, 1) for j in (0, 1)]
    )
    level = corners @ past.turn[:2, :2].T
    low, high = past.at.min(axis=0), past.at.max(axis=0)
    box = np.array([past.block.box[0], past.block.box[1]])
    box[0, :2], box[1, :2] = level.min(axis=0), level.max(axis=0)
    return np.array([low + box[0], high + box[1]])


def _room(opening: Opening, box: Floats, swept: Floats) -> float:
    """Distance of a box in an opening from its nearest side; one at a face is open. [m]"""
    room = np.inf
    for k, clear in enumerate(opening.clear):
        if clear is None:
            continue
        low, high = opening.centre[k] - clear / 2, opening.centre[k] + clear / 2
        if low > box[0, k] + OPEN:
            room = min(room, float(swept[0, k]) - low)
        if high < box[1, k] - OPEN:
            room = min(room, high - float(swept[1, k]))
    return float(room)
