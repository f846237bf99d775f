"""The least that a line leaves to what it passes, found by halving travel and length.

A length of line over a bit of travel sweeps a box; what is left of the distance to the
nearest box of a piece, when all has moved, is never more than what is left of the gap.
Whatever leaves least by boxes is halved, and at last measured by the engine, until
nothing is left that could leave less than what was measured.
"""

import heapq
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import count
from math import inf, isfinite

import numpy as np

from towerlift.gaps import Line, LineGap, PathGap, line_gap
from towerlift.nesting.bodies import Assembly, member_boxes
from towerlift.nesting.curves import Floats
from towerlift.nesting.pairs import Workshop
from towerlift.plan.rigging import Opening
from towerlift.rig.rope_sway import HaulSway
from towerlift.shapes.solids import Ints

# Pieces farther than this from a line are not measured. [m]
NEAR = 0.25
# Travel and length are halved down to these. [m]
SHORT = 0.5
# Nearer to the least than this is not told apart, as long as the verdict is the same. [m]
ALIKE = 0.5e-3
# A side of an opening this near to a face of the piece is open. [m]
OPEN = 1e-3
# Of a line that comes too near to many pieces, so many are named.
NAMED = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class RopeGap:
    """The least that a line leaves to a piece, over one haul.

    Attributes
    ----------
    body, member : str
        What it passes, as findings name them.
    opening : Opening or None
        By which it passes the piece.
    run : str
        "tackle" between the blocks, or "fall".
    gap : float
        From the surface of the rope; below nothing it bears or cuts in. [m]
    certified : bool
        Whether the gap is proved.
    moves : float
        Farthest that the two come nearer by play, tilt and sway, and by the errors of
        workshop and survey. [m]
    heel : float
        Of the hauled section, where it is least. [m]
    where : tuple of float
        On the line, shaft frame. [m]
    """

    body: str
    member: str
    opening: Opening | None
    run: str
    gap: float
    certified: bool
    moves: float
    heel: float
    where: tuple[float, float, float]

    @property
    def left(self) -> float:
        """What is left of the gap when all has moved. [m]"""
        return self.gap - self.moves


def told_of(found: LineGap | PathGap) -> tuple[float, bool]:
    """What a finding tells of a gap that the engine found.

    Parameters
    ----------
    found : LineGap or PathGap
        From the engine.

    Returns
    -------
    gap : float
        The bound where it is proved, or else what was attained. [m]
    certain : bool
        Whether it is proved, or struck, which needs no bound.
    """
    return (
        found.lower if found.certified else found.upper,
        found.certified or found.struck,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """One straight run of a rope past one body, over a stretch of travel.

    Attributes
    ----------
    shop : Workshop
        Bodies.
    body : str
        What it passes.
    fitted : frozenset of str
        Fit-out of the body.
    rides : bool
        Whether the body goes with what is hauled.
    above : float
        Its heel above that of what is hauled, or its own heel where it stands. [m]
    tackle : bool
        Whether it runs between the blocks: its first end then is at the moving block.
    radius : float
        Of the rope. [m]
    low, high : float
        Heel heights of what is hauled. [m]
    ends : (2, 2, 3) float
        Both ends at either height, frame of the body. [m]
    sway : HaulSway
        How what is hauled moves.
    spread : float
        Errors of workshop and survey. [m]
    openings : mapping of str to Opening
        By which it may pass pieces of the body, by label.
    """

    shop: Workshop
    body: str
    fitted: frozenset[str]
    rides: bool
    above: float
    tackle: bool
    radius: float
    low: float
    high: float
    ends: Floats
    sway: HaulSway
    spread: float
    openings: Mapping[str, Opening] = field(default_factory=dict)

    @property
    def assembly(self) -> Assembly:
        """The body's triangles."""
        return self.shop.assembly(self.body, self.fitted)

    @property
    def boxes(self) -> Floats:
        """Least and greatest corner of every piece of the body, (n, 2, 3), own frame. [m]"""
        return self.shop.kept(
            ("member boxes", self.body, self.fitted), lambda: member_boxes(self.assembly)
        )

    def at(self, heels: tuple[float, float], shares: tuple[float, float]) -> Floats:
        """Ends of a length of the run at two heel heights, (2, 2, 3). [m]"""
        travel = self.high - self.low
        times = [(heel - self.low) / travel if travel > 0 else 0.0 for heel in heels]
        moved = [self.ends[0] + t * (self.ends[1] - self.ends[0]) for t in times]
        return np.array([[e[0] + s * (e[1] - e[0]) for s in shares] for e in moved])

    def moves(self, heels: tuple[float, float], shares: tuple[float, float]) -> float:
        """Farthest that it and a piece of the body come nearer, over a bit of travel. [m]"""
        sway = self.sway.between(*heels)
        if self.rides:
            # No higher than the body reaches beside the length.
            top = min(
                float(self.at(heels, shares)[:, :, 2].max()),
                float(self.boxes[:, 1, 2].max()),
            )
            share = shares[1] if self.tackle else 1.0
            return sway.beside_rider(share, top + self.above) + self.spread
        # A fall and what stands keep their distance.
        share = shares[0] if self.tackle else 1.0
        return sway.beside_still(share) + self.spread


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bit:
    """A length of a run over a bit of travel, and the pieces it may come near to."""

    run: Run
    heels: tuple[float, float]
    shares: tuple[float, float]
    members: Ints

    def bound(self) -> float:
        """What is left at least, by boxes; infinite where nothing is near. [m]"""
        if not len(self.members):
            return inf
        apart = _apart(self.run.boxes[self.members], self.run.at(self.heels, self.shares))
        least = float(apart.min()) - self.run.radius
        return inf if least > NEAR else least - self.run.moves(self.heels, self.shares)

    def halves(self) -> "tuple[_Bit, ...]":
        """Two of half the travel or half the length; nothing where it is short enough."""
        ends = self.run.at(self.heels, self.shares)
        length = float(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).max())
        travel = self.heels[1] - self.heels[0]
        if max(length, travel) <= SHORT:
            return ()
        if length >= travel:
            half = sum(self.shares) / 2
            return (
                self._with(self.heels, (self.shares[0], half)),
                self._with(self.heels, (half, self.shares[1])),
            )
        half = sum(self.heels) / 2
        return (
            self._with((self.heels[0], half), self.shares),
            self._with((half, self.heels[1]), self.shares),
        )

    def without(self, members: set[int]) -> "_Bit":
        """The same, some pieces left out."""
        kept = [k for k in self.members.tolist() if k not in members]
        return replace(self, members=np.array(kept, dtype=np.int64))

    def _with(self, heels: tuple[float, float], shares: tuple[float, float]) -> "_Bit":
        apart = _apart(self.run.boxes[self.members], self.run.at(heels, shares))
        near = self.members[apart <= self.run.radius + NEAR]
        return _Bit(run=self.run, heels=heels, shares=shares, members=near)


def least_left(runs: list[Run], clear: float) -> tuple[RopeGap, ...]:
    """The least that any run of a rope leaves, and what else leaves too little.

    Parameters
    ----------
    runs : list of Run
        Of one rope, over one haul.
    clear : float
        What must be left. [m]

    Returns
    -------
    gaps : tuple of RopeGap
        The least first: nothing leaves less by more than `ALIKE`, and if it leaves enough
        so does everything. The others are other pieces, of which some that leave too
        little may be wanting.
    """
    found: dict[tuple[str, str], RopeGap] = {}
    heap: list[tuple[float, int, _Bit]] = []
    # Of bits that may leave equally little the newest comes first: one is soon measured.
    order = count(0, -1)
    told: dict[tuple[str, frozenset[str]], set[int]] = {}
    for run in runs:
        through, members = _openings(run)
        for gap in through:
            _keep(found, gap)
        bit = _Bit(run=run, heels=(run.low, run.high), shares=(0.0, 1.0), members=members)
        _push(heap, order, bit)
    while heap:
        bound, _, bit = heapq.heappop(heap)
        least = min((gap.left for gap in found.values()), default=inf)
        if _settled(found, bound, clear):
            break
        if bound >= least - ALIKE and least < clear:
            # The worst is known; what is asked now is which other pieces are too near.
            others = bit.without(told.get((bit.run.body, bit.run.fitted), set()))
            if len(others.members) < len(bit.members):
                _push(heap, order, others)
                continue
        halves = bit.halves()
        for half in halves:
            _push(heap, order, half)
        if not halves:
            gap, member = _measured(bit)
            _keep(found, gap)
            if gap.left < clear:
                told.setdefault((bit.run.body, bit.run.fitted), set()).add(member)
                _push(heap, order, bit.without({member}))
    return tuple(sorted(found.values(), key=lambda gap: (gap.certified, gap.left, gap.gap)))


def _settled(found: Mapping[tuple[str, str], RopeGap], bound: float, clear: float) -> bool:
    """Whether what leaves at least a bound can change nothing that is told."""
    least = min((gap.left for gap in found.values()), default=inf)
    if bound < least - ALIKE:
        return False
    if least >= clear:
        return bound >= clear
    return bound >= clear or sum(gap.left < clear for gap in found.values()) >= NAMED


def _push(heap: list[tuple[float, int, _Bit]], order: "count[int]", bit: _Bit) -> None:
    bound = bit.bound()
    if bound < inf:
        heapq.heappush(heap, (bound, next(order), bit))


def _keep(found: dict[tuple[str, str], RopeGap], gap: RopeGap) -> None:
    key = (gap.body, gap.member)
    if key not in found or gap.left < found[key].left:
        found[key] = gap


def _measured(bit: _Bit) -> tuple[RopeGap, int]:
    """The nearest piece to a bit, by the engine, and its number."""
    run = bit.run
    body = run.shop.body(run.body, run.fitted, run.assembly)
    others = np.setdiff1d(np.asarray(body.member_ids), bit.members)
    ends = run.at(bit.heels, bit.shares)
    travel = bit.heels[1] - bit.heels[0]
    line = Line(stations=np.array([0.0, 1.0]), ends=ends, radius=run.radius)
    gap = line_gap(line, body, skip_members=others)
    heel = bit.heels[0] + gap.at * travel
    label = run.assembly.labels[gap.fixed_member].within(run.body)
    told, certain = told_of(gap)
    found = RopeGap(
        body=run.body,
        member=label,
        opening=None,
        run="tackle" if run.tackle else "fall",
        gap=told,
        certified=certain,
        moves=run.moves(bit.heels, bit.shares),
        heel=heel,
        where=_in_shaft(run, heel, np.array(gap.line_point)),
    )
    return found, gap.fixed_member


def _in_shaft(run: Run, heel: float, point: Floats) -> tuple[float, float, float]:
    pose = np.eye(4)
    if run.body in run.shop.shapes.sections:
        at = heel + run.above if run.rides else run.above
        pose = run.shop.raise_.shaft_from_section(at)
    x, y, z = (pose[:3, :3] @ point + pose[:3, 3]).tolist()
    return x, y, z


def _openings(run: Run) -> tuple[list[RopeGap], Ints]:
    """What the openings leave by which a run passes, and the pieces that it passes beside."""
    boxes, labels = run.boxes, run.assembly.labels
    apart = _apart(boxes, run.ends)
    near = np.flatnonzero(apart <= run.radius + NEAR)
    through, beside = [], []
    for k in near.tolist():
        opening = run.openings.get(labels[k].within(run.body))
        gap = None if opening is None else _through(run, opening, boxes[k])
        if gap is None:
            beside.append(k)
        else:
            through.append(gap)
    return through, np.array(beside, dtype=np.int64)


def _through(run: Run, opening: Opening, box: Floats) -> RopeGap | None:
    """What an opening leaves on its tightest side.

    None where the run passes the piece by, and where the opening has no side at all.

    Notes
    -----
    The run is cut where it enters and leaves the box of the piece along the axes in which
    the opening goes through. Its ends go straight, so that where it crosses a face of the
    box wanders one way along it: both ends of the travel are the worst. Where it crosses
    only for a part of the travel, the whole run from there to its end counts.
    """
    along = [k for k, clear in enumerate(opening.clear) if clear is None]
    across = [k for k, clear in enumerate(opening.clear) if clear is not None]
    grown = box + np.array([[-1.0], [1.0]]) * run.radius
    cuts = [cut for ends in run.ends if (cut := _inside(ends, grown, along)) is not None]
    swept = run.ends.reshape(-1, 3)
    misses = (swept.min(axis=0) > grown[1]) | (swept.max(axis=0) < grown[0])
    if misses[along].any() or (not cuts and np.array_equal(*run.ends)):
        return None
    if len(cuts) < 2:
        cuts = [(min((c[0] for c in cuts), default=0.0), 1.0)] if cuts else [(0.0, 1.0)]
        cuts.append((0.0, cuts[0][1]))
    at = [
        (k, t, ends[0] + t * (ends[1] - ends[0]))
        for k, ends in enumerate(run.ends)
        for cut in cuts
        for t in cut
    ]
    points = np.array([point for _, _, point in at])
    gap, k, point = min(
        ((_room(opening, box, point) - run.radius, k, point) for k, _, point in at),
        key=lambda each: each[0],
    )
    # One that leaves no side of the piece would do away with the piece itself.
    if not isfinite(gap):
        return None
    low, high = points.min(axis=0)[across], points.max(axis=0)[across]
    past = (low > grown[1][across]).any() or (high < grown[0][across]).any()
    if past and not gap > 0:
        return None
    heel = (run.low, run.high)[k]
    shares = (min(t for _, t, _ in at), max(t for _, t, _ in at))
    return RopeGap(
        body=run.body,
        member=opening.member if opening.of == run.body else f"{opening.of}: {opening.member}",
        opening=opening,
        run="tackle" if run.tackle else "fall",
        gap=gap,
        certified=True,
        moves=run.moves((run.low, run.high), shares),
        heel=heel,
        where=_in_shaft(run, heel, point),
    )


def _room(opening: Opening, box: Floats, point: Floats) -> float:
    """Distance of a point inside an opening from its nearest side. [m]

    A side that lies at a face of the piece or beyond is open.
    """
    room = inf
    for k, clear in enumerate(opening.clear):
        if clear is None:
            continue
        low, high = opening.centre[k] - clear / 2, opening.centre[k] + clear / 2
        if low > box[0, k] + OPEN:
            room = min(room, float(point[k]) - low)
        if high < box[1, k] - OPEN:
            room = min(room, high - float(point[k]))
    return room


def _inside(ends: Floats, box: Floats, axes: list[int]) -> tuple[float, float] | None:
    """Shares of a straight run between which it is inside a box along some axes."""
    low, high = 0.0, 1.0
    for k in axes:
        start, way = float(ends[0, k]), float(ends[1, k] - ends[0, k])
        if abs(way) < 1e-12:
            if not box[0, k] <= start <= box[1, k]:
                return None
            continue
        a, b = sorted((float((box[0, k] - start) / way), float((box[1, k] - start) / way)))
        low, high = max(low, a), min(high, b)
    return (low, high) if low <= high else None


def _apart(boxes: Floats, ends: Floats) -> Floats:
    """Distance of each box from the box of all that a run sweeps, (n,). [m]"""
    points = ends.reshape(-1, 3)
    beside = np.maximum(points.min(axis=0) - boxes[:, 1], boxes[:, 0] - points.max(axis=0))
    apart: Floats = np.linalg.norm(np.maximum(beside, 0.0), axis=1)
    return apart
