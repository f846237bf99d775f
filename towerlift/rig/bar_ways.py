"""Locking bars on their way in: the room that each has beside its leg, and past it.

A bar is pushed through the hole in its leg from within the section or from without, so that
it sweeps its own length before the leg. It is followed as a round line about its corners,
past all but its leg and the pockets of its ledges.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import hypot

import numpy as np
from numpy.typing import NDArray

from towerlift.gaps import Line, line_gap
from towerlift.nesting.bodies import member_boxes
from towerlift.nesting.curves import Floats
from towerlift.nesting.pairs import SHAFT, Workshop
from towerlift.plan.bodies import Section
from towerlift.plan.holding import Hold
from towerlift.plan.model import Plan
from towerlift.rig.locks import leg_at
from towerlift.rig.rope_search import NEAR, told_of
from towerlift.rig.stands import Stand, stands_at
from towerlift.shapes.unseen import UNSEEN

Bools = NDArray[np.bool_]
SIDES = {"from within": 1.0, "from without": -1.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class BarGap:
    """The least that a bar leaves on its way in.

    Attributes
    ----------
    bar : str
        Mark of the fid.
    side : str
        "from within" or "from without".
    gap : float
        From its corners; below nothing it cannot go in. [m]
    certified : bool
        Whether the gap is proved.
    body, member : str
        What it comes nearest to.
    where : tuple of float
        On the middle of the bar, shaft frame. [m]
    """

    bar: str
    side: str
    gap: float
    certified: bool
    body: str
    member: str
    where: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class BarWay:
    """The bars of one section on another, at one height.

    Attributes
    ----------
    stand : Stand
        What is locked.
    gap : BarGap or None
        Of the bar that has least room, from the side that leaves it more; None where
        nothing is near.
    missing : str
        What the plan does not say; empty where it says enough.
    """

    stand: Stand
    gap: BarGap | None
    missing: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    leg: str
    ledges: frozenset[str]
    radius: float
    points: Floats


def bar_ways(shop: Workshop) -> Iterator[BarWay]:
    """Every bar at every height at which it locks.

    Parameters
    ----------
    shop : Workshop
        Bodies of the plan, and the raise.

    Yields
    ------
    way : BarWay
        None for a lock whose bar, ledges or leg the plan does not give: what is held against
        their strength says so.
    """
    seen = set()
    for rest in shop.raise_.rests:
        for stand in stands_at(shop.plan, shop.shapes, rest, last=False):
            # A section that is carried along in its bars is not locked anew.
            key = (stand.section, stand.carrier, round(stand.heel - stand.carrier_heel, 4))
            if stand.how != "fid" or key in seen or not _given(shop.plan, stand):
                continue
            seen.add(key)
            axis = _axis(shop.plan, stand)
            if axis is None:
                lock = f"lock of {stand.section} on {stand.carrier}"
                why = f"{lock}: way, since no ledge is drawn that would show how its bars lie"
                yield BarWay(stand=stand, gap=None, missing=why)
                continue
            section = _section(shop.plan, stand.section)
            tried = [_bar(shop, stand, axis, n) for n in range(len(section.fids))]
            gaps = [gap for gap in tried if gap is not None]
            yield BarWay(stand=stand, gap=min(gaps, key=_rank, default=None))


def _rank(gap: BarGap) -> tuple[bool, bool, float]:
    """What strikes before what nobody can tell, and that before the least gap."""
    return not (gap.certified and gap.gap <= 0), gap.certified, gap.gap


def _section(plan: Plan, name: str) -> Section:
    return next(each for each in plan.sections if each.name == name)


def _given(plan: Plan, stand: Stand) -> bool:
    lock = stand.lock
    if lock is None or None in (lock.breadth, lock.depth, lock.side_gap):
        return False
    legs = [leg_at(plan, stand, n) for n in range(len(_section(plan, stand.section).fids))]
    return len(lock.ledges) == 2 and bool(legs) and None not in legs


def _lock(stand: Stand) -> Hold:
    if stand.lock is None:
        raise ValueError(f"{stand.subject} has no lock")
    return stand.lock


def _ledge_marks(lock: Hold) -> set[str]:
    """Drawn pieces that the ledges are cut in or let into."""
    named = {each.member or each.let_into for each in lock.ledges}
    return {mark for mark in named if mark is not None}


def _ledge_like(plan: Plan, stand: Stand) -> frozenset[str]:
    """Pieces of the carrier that are ledges, or like one that is. Marks."""
    members = _section(plan, stand.carrier).members
    named = _ledge_marks(_lock(stand))
    parts = {each.part for each in members if each.mark in named}
    return frozenset(each.mark for each in members if each.part in parts)


def _axis(plan: Plan, stand: Stand) -> int | None:
    """0 where its bars lie east and west, 1 north and south."""
    lock = _lock(stand)
    if lock.way is not None:
        return 0 if lock.way == "east-west" else 1
    named = _ledge_marks(lock)
    for member in _section(plan, stand.carrier).members:
        if member.mark in named:
            fids = np.array([fid.at[:2] for fid in _section(plan, stand.section).fids])
            ways = np.abs(fids - np.array(member.start[:2]))
            way = ways[np.hypot(ways[:, 0], ways[:, 1]).argmin()]
            # Beside the leg along one axis, and over it along the other.
            if way.max() > 2 * way.min():
                return int(way.argmax())
    return None


def _bar(shop: Workshop, stand: Stand, axis: int, n: int) -> BarGap | None:
    """The least it leaves from the side that leaves it more; None where nothing is near."""
    lock, fid = _lock(stand), _section(shop.plan, stand.section).fids[n]
    leg = leg_at(shop.plan, stand, n)
    if leg is None:
        raise ValueError(f"no leg is drawn at {fid.mark}")
    half = (leg.member.breadth, leg.member.depth)[axis] / 2
    reach = half + (lock.side_gap or 0.0) + max(each.bearing for each in lock.ledges)
    outward = np.zeros(3)
    outward[axis] = 1.0 if fid.at[axis] >= 0 else -1.0
    found: list[tuple[BarGap, str]] = []
    for side, sense in SIDES.items():
        # Its point at last, its tail at last, and its tail when its point is at the hole.
        way = _Way(
            leg=leg.mark,
            ledges=_ledge_like(shop.plan, stand),
            radius=hypot(lock.breadth or 0.0, lock.depth or 0.0) / 2,
            points=np.array(
                [
                    np.array(fid.at) + outward * sense * share
                    for share in (reach, -reach, -half - 2 * reach)
                ]
            ),
        )
        gaps = [
            gap
            for body, heel in _round(shop, stand)
            if (gap := _past(shop, stand, (body, heel), way)) is not None
        ]
        least = min(gaps, key=_rank, default=None)
        if least is None:
            return None
        found.append((least, side))
    # A side that is proved clear is better than one that nobody can tell.
    gap, side = max(
        found, key=lambda each: (each[0].certified and each[0].gap > 0, each[0].gap)
    )
    return replace(gap, bar=fid.mark, side=side)


def _round(shop: Workshop, stand: Stand) -> Iterator[tuple[str, float | None]]:
    """Everything that is there, with the heel of a section."""
    yield SHAFT, None
    if shop.shapes.unseen:
        yield UNSEEN, None
    yield from stand.heels
    for name in sorted(stand.fixtures):
        yield name, None


def _past(
    shop: Workshop, stand: Stand, other: tuple[str, float | None], way: _Way
) -> BarGap | None:
    name, heel = other
    fitted = frozenset(i for i in stand.fitted if shop.shapes.fitted_on[i] == name)
    assembly = shop.assembly(name, fitted)
    pose = np.eye(4) if heel is None else shop.raise_.shaft_from_section(heel)
    own = shop.raise_.shaft_from_section(stand.heel)
    placed = way.points @ own[:3, :3].T + own[:3, 3]
    local = (placed - pose[:3, 3]) @ pose[:3, :3]
    ends = local[[0, 2]]
    boxes = shop.kept(("member boxes", name, fitted), lambda: member_boxes(assembly))
    near = _meets(ends, boxes, NEAR + way.radius)
    # It goes through its leg, and into its ledges as far as it lies on them: a piece that
    # it would have to go through on its way there is not cut for it.
    ledge = _meets(local[:2], boxes, way.radius) & ~_meets(local[1:], boxes, 0.0)
    for k, label in enumerate(assembly.labels):
        if label.body != name:
            continue
        if name == stand.section:
            near[k] &= label.mark != way.leg
        elif name == stand.carrier:
            near[k] &= not (ledge[k] and label.mark in way.ledges)
    if not near.any():
        return None
    line = Line(stations=np.array([0.0, 1.0]), ends=np.stack([ends, ends]), radius=way.radius)
    body = shop.body(name, fitted, assembly)
    skipped = np.setdiff1d(np.asarray(body.member_ids), np.flatnonzero(near))
    found = line_gap(line, body, skip_members=skipped)
    if found.certified and found.upper > NEAR:
        return None
    at = pose[:3, :3] @ np.array(found.line_point) + pose[:3, 3]
    gap, certain = told_of(found)
    return BarGap(
        bar="", side="", gap=gap, certified=certain and name != UNSEEN, body=name,
        member=assembly.labels[found.fixed_member].within(name),
        where=(float(at[0]), float(at[1]), float(at[2])),
    )  # fmt: skip


def _meets(ends: Floats, boxes: Floats, near: float) -> Bools:
    """Which boxes a line along one axis comes as near to as that."""
    beside = np.maximum(ends.min(axis=0) - boxes[:, 1], boxes[:, 0] - ends.max(axis=0))
    meets: Bools = np.linalg.norm(np.maximum(beside, 0.0), axis=1) <= near
    return meets
