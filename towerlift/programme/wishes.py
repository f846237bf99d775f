"""What is asked of a programme besides the plan."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

# When something began and when it ended; None where it still runs.
Ran = tuple[datetime, datetime | None]


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
    stops: Literal["lifts", "aloft", "all"] = "all"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What is asked of a programme besides the plan.

    Attributes
    ----------
    since : datetime or None
        Plan again from this moment: what began before it keeps its dates.
    actual : mapping of str to (datetime, datetime or None) or None
        When stages and activities really began and ended, where that differs from the
        plan; an end of None has not come yet, and None alone has not begun.
    closures : tuple of Closure
        Times in which some work must not go on.
    finish_by : datetime or None
        By when all must be done.
    seconds : float
        Time after which the search stops and tells the gap. [s]
    """

    since: datetime | None = None
    actual: Mapping[str, Ran | None] = field(default_factory=dict)
    closures: tuple[Closure, ...] = ()
    finish_by: datetime | None = None
    seconds: float = 30.0


NO_WISHES = Wishes()
