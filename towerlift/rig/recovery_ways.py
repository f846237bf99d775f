"""The ways out of a haul: back to the lock it came from, or on to the next."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Protocol

from towerlift.motion.pace import haul_duration, haul_speed
from towerlift.motion.passages import Passage
from towerlift.motion.raises import Raise
from towerlift.plan.model import Plan
from towerlift.plan.rigging import Lift
from towerlift.rig.lowering import lowering_duration

# Heights this near are one. [m]
LEVEL = 1e-6


class Planned(Protocol):
    """Whatever holds a plan and what it does."""

    @property
    def plan(self) -> Plan:
        """As written."""

    @property
    def raise_(self) -> Raise:
        """The same plan's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Raising:
    """A plan and what it does, with nothing drawn.

    Attributes
    ----------
    plan : Plan
        As written.
    raise_ : Raise
        The same plan's.
    """

    plan: Plan
    raise_: Raise


@dataclass(frozen=True, slots=True, kw_only=True)
class Drill:
    """How long a crew takes for what a failure asks of it, by drill. [s]

    Attributes
    ----------
    spare : float
        To hang one spare tackle and take the load on it.
    stoppers : float
        To set stoppers on every fall and make a pawl good.
    relief : float
        To bring the reserve to the bars.
    jam : float
        To free a section from fixed staging.
    landing : float
        To seat a section on a lock that it comes down to, and make it fast.
    lowering : float
        Speed down over speed up, where the lift does not say it; a plain number.
    """

    spare: float
    stoppers: float
    relief: float
    jam: float
    landing: float
    lowering: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SafePlace:
    """A place where a section can be made safe.

    Attributes
    ----------
    heel : float
        [m]
    carrier : str
        What then carries it.
    fixing : float
        Time from reaching it until it is safe. [s]
    """

    heel: float
    carrier: str
    fixing: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ways:
    """The ways out of one haul: back to the lock it came from, or on to the next.

    Attributes
    ----------
    section, stage, lift : str
        What is hauled, when and by what.
    passages : tuple of Passage
        In order.
    back : SafePlace or None
        None where nothing stands there any more when the haul begins.
    on : SafePlace or None
        None where the stage locks it nowhere.
    shut : tuple of (int, float, str)
        Passages from which on the way back is shut, their heel height, and by what.
    halts : tuple of (int, float, float)
        Index of the passage, heel height and length of each halt between two hauls, such
        as striking what hangs in the way. [m], [s]
    up, down : float
        Time for each metre, checks of level on the way. [s/m]
    """

    section: str
    stage: str
    lift: str
    passages: tuple[Passage, ...]
    back: SafePlace | None
    on: SafePlace | None
    shut: tuple[tuple[int, float, str], ...]
    halts: tuple[tuple[int, float, float], ...]
    up: float
    down: float

    @property
    def foot(self) -> float:
        """Heel height at which it begins. [m]"""
        return self.passages[0].standing[self.section].heel_from

    @property
    def head(self) -> float:
        """Heel height at which it ends. [m]"""
        return self.passages[-1].standing[self.section].heel_to

    def shut_at(self, passage: int) -> str:
        """What shuts the way back from a passage on, by its index; empty where it is open."""
        return next((why for first, _, why in self.shut if passage >= first), "")

    def time_back(self, heel: float, passage: int) -> float:
        """Time to be safe at the last lock; infinite where there is no way back. [s]

        Parameters
        ----------
        heel : float
            Heel height from which it goes. [m]
        passage : int
            Index of the passage in which it turns back.

        Returns
        -------
        time : float
            Checks of level and landing counted.
        """
        if self.back is None or self.shut_at(passage):
            return float("inf")
        rate = self.down if heel >= self.back.heel else self.up
        return abs(heel - self.back.heel) * rate + self.back.fixing

    def time_on(self, heel: float, passage: int | None = None) -> float:
        """Time to be safe at the next lock; infinite where there is none. [s]

        Parameters
        ----------
        heel : float
            Heel height from which it goes. [m]
        passage : int or None
            Index of the passage it is in; None tells halts that are done by the height.

        Returns
        -------
        time : float
            Halts still to come counted.
        """
        if self.on is None:
            return float("inf")
        rate = self.up if self.on.heel >= heel else self.down
        halted = self._halted(heel) if passage is None else self._to_come(passage)
        return abs(self.on.heel - heel) * rate + self.on.fixing + halted

    def _to_come(self, passage: int) -> float:
        return sum(takes for index, _, takes in self.halts if index > passage)

    def _halted(self, heel: float) -> float:
        """Halts still to come; one at this very height counts, lest time be promised. [s]"""
        rises = self.on is not None and self.on.heel >= heel
        return sum(
            takes
            for _, at, takes in self.halts
            if (at >= heel - LEVEL if rises else at <= heel + LEVEL)
        )

    @property
    def turning_point(self) -> float | None:
        """Heel height from which going on is quicker than going back; None without both.

        It is at the foot where going on is always quicker, at the head where it never is.
        """
        if self.back is None or self.on is None:
            return None
        low, high = sorted((self.foot, self.head))
        shut = min((above for _, above, _ in self.shut), default=high)
        return float(min(max(low, min(self._even(low, high), shut)), high))

    def _even(self, low: float, high: float) -> float:
        """Least heel height from which going on is no slower, halts still to come counted."""
        assert self.on is not None
        assert self.back is not None
        lead = (
            self.on.heel * self.up
            + self.on.fixing
            + self.back.heel * self.down
            - self.back.fixing
        )
        foot = low
        for head in sorted({high, *(at for _, at, _ in self.halts if low < at < high)}):
            to_come = sum(takes for _, at, takes in self.halts if at >= head - LEVEL)
            even = (lead + to_come) / (self.up + self.down)
            if even <= head:
                return max(foot, even)
            foot = head
        return high


def ways_of(shop: Planned, drill: Drill) -> Iterator[Ways]:
    """Ways out of every haul of the raise.

    Parameters
    ----------
    shop : Planned
        Plan and raise.
    drill : Drill
        Times.

    Yields
    ------
    ways : Ways
        One for each section, lift and stage, in order.
    """

    def key(passage: Passage) -> tuple[str, str, str]:
        return passage.moving[0], passage.stage, passage.lift or ""

    moving = [each for each in shop.raise_.moving_passages if each.lift is not None]
    for (section, stage, lift), passages in groupby(moving, key=key):
        yield _ways(shop, drill, (section, stage, lift), tuple(passages))


def _ways(
    shop: Planned, drill: Drill, names: tuple[str, str, str], passages: tuple[Passage, ...]
) -> Ways:
    section, stage, name = names
    plan = shop.plan
    lift = next(each for each in plan.lifts if each.name == name)
    before = shop.raise_.passages[max(0, passages[0].index - 1)].standing.get(section)
    back = None
    if before is not None:
        back = SafePlace(heel=before.heel_to, carrier=before.carrier, fixing=drill.landing)
    return Ways(
        section=section,
        stage=stage,
        lift=name,
        passages=passages,
        back=back,
        on=_next_lock(shop, section, stage, passages),
        shut=tuple(_shut(shop, section, passages, back)),
        halts=tuple(_halts(shop, section, passages)),
        up=haul_duration(1.0, haul_speed(plan, lift), lift),
        down=lowering_duration(plan, lift, 1.0, drill.lowering),
    )


def _halts(
    shop: Planned, section: str, passages: tuple[Passage, ...]
) -> Iterator[tuple[int, float, float]]:
    """What is done between two hauls while the section hangs where the first left it."""
    top = _topmost(section, passages)
    hauled = {each.index for each in passages}
    for passage in shop.raise_.passages[passages[0].index : top.index]:
        if passage.index not in hauled and passage.duration > 0:
            yield passage.index, passage.standing[section].heel_to, passage.duration


def _topmost(section: str, passages: tuple[Passage, ...]) -> Passage:
    """The last haul upward: all that is left then is setting down and fixing.

    A stage that only floats a section and lets it down has none: its last passage counts,
    lest what is done while it floats be left out.
    """
    lifts = [each for each in passages if each.step == "lift"]
    return max(lifts, key=lambda each: each.standing[section].heel_to, default=passages[-1])


def _next_lock(
    shop: Planned, section: str, stage: str, passages: tuple[Passage, ...]
) -> SafePlace | None:
    """Where the stage locks or hangs the section after the haul, and how long that takes."""
    fixing, found = 0.0, None
    for passage in shop.raise_.passages[passages[0].index :]:
        if passage.stage != stage:
            break
        if passage.step in ("lock", "secure") and passage.subject == section:
            found = passage
            break
    if found is None:
        return None
    top = _topmost(section, passages)
    for passage in shop.raise_.passages[top.index + 1 : found.index + 1]:
        fixing += passage.duration
    later = shop.raise_.passages[found.index + 1 : found.index + 2]
    after = later[0].standing.get(section) if later else None
    carrier = after.carrier if after is not None else found.step
    return SafePlace(heel=top.standing[section].heel_to, carrier=carrier, fixing=fixing)


def _shut(
    shop: Planned, section: str, passages: tuple[Passage, ...], back: SafePlace | None
) -> Iterator[tuple[int, float, str]]:
    """Passages from which on something that the way back needs has been taken out."""
    fixtures = {fixture.name for fixture in shop.plan.fixtures}
    if back is None:
        return
    for passage in passages:
        heel = passage.standing[section].heel_from
        if back.carrier in fixtures and back.carrier not in passage.fixtures:
            yield passage.index, heel, f"the {back.carrier} are out"
            return
    for passage in passages:
        for child in passage.moving[1:]:
            held = _carried_before(shop, passage, child)
            if held in fixtures:
                for each in passages:
                    if each.index >= passage.index and held not in each.fixtures:
                        heel = each.standing[section].heel_from
                        yield each.index, heel, f"the {held} that held the {child} are out"
                        return


def _carried_before(shop: Planned, passage: Passage, child: str) -> str:
    for earlier in reversed(shop.raise_.passages[: passage.index]):
        if earlier.stage != passage.stage:
            break
        if child in earlier.standing and child not in earlier.moving:
            carrier = earlier.standing[child].carrier
            if carrier not in earlier.standing:
                return carrier
    return ""


def plan_lift(plan: Plan, name: str) -> Lift:
    """The lift of a name.

    Parameters
    ----------
    plan : Plan
        Its names have been checked.
    name : str
        Which.

    Returns
    -------
    lift : Lift
        As planned.
    """
    return next(each for each in plan.lifts if each.name == name)
