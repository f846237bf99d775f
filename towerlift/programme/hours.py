"""Hours in which a crew may work: calendar, daylight and closures, on the programme's clock.

The clock counts whole minutes from midnight at the site before the first working day;
days on which clocks are put forward or back have the minutes that they have.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import get_args

from towerlift.motion.clock import site_zone
from towerlift.plan.quantities import Weekday
from towerlift.plan.work import Crew, Site
from towerlift.programme.daylight import daylight

MINUTE = timedelta(minutes=1)
_WEEK: tuple[str, ...] = get_args(Weekday)

Window = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """Whole minutes from the site's midnight before its first working day.

    Attributes
    ----------
    site : Site
        Its zone and first day.
    n_days : int
        How many days it reaches.
    """

    site: Site
    n_days: int

    @property
    def zone(self) -> tzinfo:
        """Of the site."""
        return site_zone(self.site)

    @property
    def days(self) -> tuple[date, ...]:
        """Dates it reaches, in order."""
        return tuple(self.site.day_1 + timedelta(days=n) for n in range(self.n_days))

    @property
    def horizon(self) -> int:
        """Its last minute."""
        return self.minute(midnight(self.site.day_1 + timedelta(days=self.n_days), self.zone))

    def minute(self, moment: datetime) -> int:
        """Minute in which a moment falls."""
        origin = midnight(self.site.day_1, self.zone)
        return (moment.astimezone(UTC) - origin.astimezone(UTC)) // MINUTE

    def minute_from(self, moment: datetime) -> int:
        """First minute that begins no sooner than a moment."""
        whole = self.minute(moment)
        return whole if self.moment(whole) == moment else whole + 1

    def moment(self, minute: int) -> datetime:
        """Moment at which a minute begins, in the site's zone."""
        origin = midnight(self.site.day_1, self.zone).astimezone(UTC)
        return (origin + minute * MINUTE).astimezone(self.zone)


def midnight(day: date, zone: tzinfo) -> datetime:
    """Moment at which a date begins."""
    return datetime.combine(day, time(0), zone)


def moment_of(day: date, written: str, zone: tzinfo) -> datetime:
    """Moment of a clock time of a plan on a date; "24:00" begins the next."""
    if written == "24:00":
        return midnight(day + timedelta(days=1), zone)
    hour, minute = (int(part) for part in written.split(":"))
    return datetime.combine(day, time(hour, minute), zone)


def is_working_day(site: Site, day: date) -> bool:
    """Whether the site works on a date."""
    return _on(site.works, day) and day not in site.days_off


def working_days(clock: Clock) -> tuple[date, ...]:
    """Dates on which the site works, in order."""
    return tuple(day for day in clock.days if is_working_day(clock.site, day))


def hours_of(clock: Clock, crews: Sequence[Crew]) -> tuple[Window, ...]:
    """Windows in which several crews may work together.

    Parameters
    ----------
    clock : Clock
        Of the site.
    crews : sequence of Crew
        All are needed; none is the site's own hours.

    Returns
    -------
    windows : tuple of (int, int)
        In order and apart from each other. [min]
    """
    found: list[Window] = []
    for day in working_days(clock):
        if not all(_on(crew.works, day) for crew in crews):
            continue
        begins = [clock.site.works_from, *(c.works_from for c in crews if c.works_from)]
        ends = [clock.site.works_to, *(c.works_to for c in crews if c.works_to)]
        first, last = max(begins), min(ends)
        if first < last:
            found.append((_at(clock, day, first), _at(clock, day, last)))
    return tuple(joined(found))


def light_windows(clock: Clock, margin: timedelta, reserve: int = 0) -> tuple[Window, ...]:
    """Windows in which it is light enough to work aloft or to haul.

    Parameters
    ----------
    clock : Clock
        Of the site.
    margin : timedelta
        Kept after sunrise and before sunset.
    reserve : int
        Kept besides before the end, to recover what goes wrong. [min]

    Returns
    -------
    windows : tuple of (int, int)
        In order and apart from each other. [min]
    """
    found: list[Window] = []
    for day in clock.days:
        span = daylight(clock.site, day).span(margin)
        if span is not None:
            # Rounded inward: a minute that is not light to its end is not light.
            found.append((clock.minute_from(span[0]), clock.minute(span[1])))
    return tuple((b, e - reserve) for b, e in joined(found) if e - reserve > b)


def joined(windows: Sequence[Window]) -> Iterator[Window]:
    """Windows in order, those that touch or overlap made one.

    Parameters
    ----------
    windows : sequence of (int, int)
        In any order. [min]

    Yields
    ------
    window : (int, int)
        Apart from the one before it. [min]
    """
    now: Window | None = None
    for begins, ends in sorted(windows):
        if now is not None and begins <= now[1]:
            now = (now[0], max(now[1], ends))
            continue
        if now is not None:
            yield now
        now = (begins, ends)
    if now is not None:
        yield now


def both(some: Sequence[Window], others: Sequence[Window]) -> tuple[Window, ...]:
    """What two sets of windows have in common.

    Parameters
    ----------
    some, others : sequence of (int, int)
        In order. [min]

    Returns
    -------
    windows : tuple of (int, int)
        In order. [min]
    """
    found, j = [], 0
    for begins, ends in some:
        while j < len(others) and others[j][1] <= begins:
            j += 1
        for other in others[j:]:
            if other[0] >= ends:
                break
            found.append((max(begins, other[0]), min(ends, other[1])))
    return tuple(found)


def without(windows: Sequence[Window], closed: Sequence[Window]) -> tuple[Window, ...]:
    """What is left of windows when others are closed.

    Parameters
    ----------
    windows, closed : sequence of (int, int)
        In any order. [min]

    Returns
    -------
    windows : tuple of (int, int)
        In order. [min]
    """
    left = list(joined(windows))
    for begins, ends in closed:
        left = [
            part
            for b, e in left
            for part in ((b, min(e, begins)), (max(b, ends), e))
            if part[0] < part[1]
        ]
    return tuple(dict.fromkeys(left))


def _on(days: Sequence[str], day: date) -> bool:
    return not days or _WEEK[day.weekday()] in days


def _at(clock: Clock, day: date, written: str) -> int:
    return clock.minute(moment_of(day, written, clock.zone))
