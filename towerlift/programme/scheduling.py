"""From a plan to a programme: the shortest that keeps every rule, or the rules that clash."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from towerlift.motion.raises import Raise
from towerlift.plan.model import Plan
from towerlift.programme.bookings import Programme


@dataclass(frozen=True, slots=True, kw_only=True)
class Closure:
    """A time in which some work must not go on: wind, rain, a holiday.

    Attributes
    ----------
    begins, ends : datetime
        With their zone.
    why : str
        In words, such as "wind above 8 m/s".
    stops : str
        "lifts" (whatever hauls), "aloft" (work on a section), or "all".
    """

    begins: datetime
    ends: datetime
    why: str
    stops: str = "all"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What is asked of a programme besides the plan.

    Attributes
    ----------
    since : datetime or None
        Plan again from this moment: what began before it keeps its dates.
    actual : mapping of str to (datetime, datetime or None)
        When stages and activities really began and ended, where that differs from the
        plan; an end of None has not come yet.
    closures : tuple of Closure
        Times in which some work must not go on.
    finish_by : datetime or None
        By when all must be done.
    seconds : float
        Time after which the search stops and tells the gap. [s]
    """

    since: datetime | None = None
    actual: Mapping[str, tuple[datetime, datetime | None]] = field(default_factory=dict)
    closures: tuple[Closure, ...] = ()
    finish_by: datetime | None = None
    seconds: float = 30.0


NO_WISHES = Wishes()


def schedule(plan: Plan, raise_: Raise, wishes: Wishes = NO_WISHES) -> Programme:
    """The shortest programme that keeps every rule of the plan and of the raise.

    Parameters
    ----------
    plan : Plan
        Its dates are not used, except for what began before `wishes.since`.
    raise_ : Raise
        The same plan's: gives what stands and hangs, and how long stages take.
    wishes : Wishes
        What is asked besides.

    Returns
    -------
    programme : Programme
        With a proof that none is shorter, or the gap.

    Raises
    ------
    NoProgrammeError
        If none keeps every rule: it names a smallest set of rules that clash.
    PrecedenceError
        If something waits for itself, or for what the plan does not hold.
    """
    raise NotImplementedError
