"""Ways in: whether each member comes through a door, or over the wall-head, at its length."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize_scalar

from towerlift.checks.case import Case, limit_for, overrule_for
from towerlift.findings import Bound, Finding
from towerlift.plan.bodies import FitOut, Member, Section
from towerlift.plan.limits import UsualLimit
from towerlift.plan.model import Plan
from towerlift.plan.paperwork import WayIn
from towerlift.units import Dimension

CHECK = "way in"
SPARE = UsualLimit(
    name="length to spare at the way in",
    value=0.1,
    unit="m",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="geometry of a straight piece turned up inside a door; common practice, no "
    "published source: 0.1 m for hands and straps",
)
LIMITS = (SPARE,)


def longest_by_door(height: float, across: float, depth: float) -> float:
    r"""Longest straight piece that comes in level at a door and is turned up inside.

    .. math:: L = \min_\theta \left( \frac{W}{\cos\theta} + \frac{h}{\sin\theta}
       - \frac{d}{\sin\theta \cos\theta} \right)

    Parameters
    ----------
    height : float
        Of the door, from the ground to its lintel. [m]
    across : float
        Clear distance from the inner edge of the lintel to what the tip meets. [m]
    depth : float
        Of the piece, square to its length. [m]

    Returns
    -------
    length : float
        Never less than `across`, where the piece need not be turned; 0 where it is too
        deep for the door. [m]

    Notes
    -----
    Derived here. The tail slides on level ground outside, a distance u from the inner
    face of the wall, the tip touches the far wall and the upper side the inner edge of
    the lintel: ``u tan(theta) + d / cos(theta) = h`` and ``L cos(theta) = W + u``. The
    piece must pass at every slope, so the least decides. The thickness of the wall does
    not matter, since a rising piece is highest at the inner edge; ground that falls away
    outside would leave more. Without depth it is the pole carried round a corner,
    ``(W^(2/3) + h^(2/3))^(3/2)``.
    """
    if not (height > depth >= 0 and across > 0):
        return 0.0
    steepest = float(np.arccos(depth / height)) if depth > 0 else 0.5 * np.pi

    def length(slope: float) -> float:
        s, c = np.sin(slope), np.cos(slope)
        return float(across / c + height / s - depth / (s * c))

    found = minimize_scalar(length, bounds=(1e-6, steepest - 1e-6), method="bounded",
                            options={"xatol": 1e-9})  # fmt: skip
    return max(across, float(found.fun))


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """The best way in for one member.

    Attributes
    ----------
    member : Member
        Which.
    way : WayIn
        The way that leaves most to spare.
    length, longest : float
        Of the member, and the longest of its section by that way; the second is 0 where
        it is too thick. [m]
    """

    member: Member
    way: WayIn
    length: float
    longest: float

    @property
    def spare(self) -> float:
        """Length to spare; less than nothing where it does not come in. [m]"""
        return self.longest - self.length


def longest_by(way: WayIn, breadth: float, depth: float, *, wall_head: float) -> float:
    """Longest piece of a cross-section that comes in by a way.

    Parameters
    ----------
    way : WayIn
        Which.
    breadth, depth : float
        Of the piece, which may be carried on either side. [m]
    wall_head : float
        Height of the top of the wall. [m]

    Returns
    -------
    length : float
        0 where it is too thick, or where the way does not say how long. [m]
    """
    best = 0.0
    for wide, deep in ((breadth, depth), (depth, breadth)):
        if not wide < way.width:
            continue
        if way.kind == "door":
            if way.across is not None:
                best = max(best, longest_by_door(way.height, way.across, deep))
        elif deep < way.height and way.hook is not None:
            best = max(best, way.hook - wall_head)
    return best


def entries(plan: Plan, owner: Section | FitOut) -> Iterator[Entry]:
    """The best way in for each member of a section or fit-out item.

    Parameters
    ----------
    plan : Plan
        Holds the ways.
    owner : Section or FitOut
        Whose members.

    Yields
    ------
    entry : Entry
        In the order of the members; none where the plan gives no way.
    """
    kept: dict[tuple[float, float], tuple[WayIn, float]] = {}
    for member in owner.members:
        if not plan.ways_in:
            return
        size = (member.breadth, member.depth)
        if size not in kept:
            kept[size] = _best(plan.ways_in, size, plan.shaft.wall_head)
        way, longest = kept[size]
        length = float(np.linalg.norm(np.subtract(member.end, member.start)))
        yield Entry(member=member, way=way, length=length, longest=longest)


def _best(
    ways: Sequence[WayIn], size: tuple[float, float], wall_head: float
) -> tuple[WayIn, float]:
    found = [(way, longest_by(way, *size, wall_head=wall_head)) for way in ways]
    return max(found, key=lambda each: each[1])


def check_ways_in(case: Case) -> Iterable[Finding]:
    """The member of each section and fit-out item that comes in with least to spare.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        One for each that has members; not evaluated where the plan gives no way in.
    """
    plan = case.plan
    owners: list[Section | FitOut] = [*plan.sections, *plan.fit_out]
    for owner in owners:
        if not owner.members:
            continue
        worst = min(entries(plan, owner), key=lambda entry: entry.spare, default=None)
        yield _finding(case, owner.name, worst)


def _finding(case: Case, owner: str, worst: Entry | None) -> Finding:
    value, why = None, f"{SPARE.name}: the plan gives no way in for members (ways_in)"
    remedy: tuple[str, ...] = ("write down the door, or the hook over the wall-head",)
    if worst is not None:
        value = worst.spare
        piece, way = worst.member, worst.way
        size = f"{piece.breadth * 1e3:.0f} by {piece.depth * 1e3:.0f} mm"
        why = (
            f"{SPARE.name}: {piece.mark} is {worst.length:.2f} m long, {size}; {way.name} "
            f"takes {worst.longest:.2f} m of that size ({way.source})"
        )
        if not worst.longest > 0:
            why = (
                f"{SPARE.name}: {piece.mark}, {size}, is too thick for every way in, or no "
                f"way says how long a piece it takes; {way.name} comes nearest"
            )
        remedy = () if value >= limit_for(case, SPARE).value else (
            "scarf the piece inside", "a taller door, or a higher hook over the wall-head",
        )  # fmt: skip
    return Finding(
        check=CHECK,
        subject=owner,
        stage="",
        heel=None,
        where=None,
        limit=limit_for(case, SPARE),
        overrule=overrule_for(case, SPARE, owner, ""),
        value=value,
        why=why,
        remedy=remedy,
    )
