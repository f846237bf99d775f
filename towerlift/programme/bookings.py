"""A programme: every stage and every piece of work with its time and the reason for it."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from enum import StrEnum


class Kind(StrEnum):
    """What is booked."""

    STAGE = "stage"
    WORK = "work"


class Proof(StrEnum):
    """What is known of the length of a programme."""

    SHORTEST = "no shorter programme exists by these rules"
    GAP = "a shorter programme has not been ruled out"


@dataclass(frozen=True, slots=True, kw_only=True)
class Booking:
    """One stage, or one unbroken piece of an activity, in its place.

    Attributes
    ----------
    name : str
        Of the stage or the activity in the plan.
    kind : Kind
        Which of the two.
    part, parts : int
        Which unbroken piece of the work it is, from 1, and how many there are.
    crews : tuple of (str, int)
        Crews that are at it, and how many of each.
    section : str or None
        Section it hauls, or stands on.
    stage : str or None
        Stage that it is, belongs to or goes with; None where there is none.
    starts, ends : datetime
        In the site's zone.
    reason : str
        Why it does not start sooner, in words.
    waits_for : tuple of str
        Stages and activities that keep it from starting sooner; may be empty.
    """

    name: str
    kind: Kind
    part: int = 1
    parts: int = 1
    crews: tuple[tuple[str, int], ...]
    section: str | None
    stage: str | None
    starts: datetime
    ends: datetime
    reason: str
    waits_for: tuple[str, ...] = ()

    @property
    def duration(self) -> timedelta:
        """From start to end, as time passes: clocks may be moved on the way."""
        return self.ends.astimezone(UTC) - self.starts.astimezone(UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """When everything is done, and what is known of doing it sooner.

    Attributes
    ----------
    bookings : tuple of Booking
        By start.
    day_1 : date
        First working day.
    working_days : tuple of date
        Days on which the site works, first to last of the programme.
    earliest_finish : datetime
        No programme that keeps the rules ends before this: proved.
    seconds : float
        Time that the search took. [s]
    zone : tzinfo
        Of the site.
    """

    bookings: tuple[Booking, ...]
    day_1: date
    working_days: tuple[date, ...]
    earliest_finish: datetime
    seconds: float
    zone: tzinfo

    @property
    def finish(self) -> datetime:
        """When the last of it ends."""
        return max(booking.ends.astimezone(UTC) for booking in self.bookings).astimezone(
            self.zone
        )

    @property
    def proof(self) -> Proof:
        """Whether it is proved that none is shorter."""
        return Proof.SHORTEST if self.gap <= timedelta(0) else Proof.GAP

    @property
    def gap(self) -> timedelta:
        """By how much a programme that has not been ruled out could be shorter."""
        gap = self.finish.astimezone(UTC) - self.earliest_finish.astimezone(UTC)
        return max(gap, timedelta(0))

    @property
    def n_days(self) -> int:
        """Working days from the first to that of the finish."""
        last = self.finish.astimezone(self.zone).date()
        return sum(day <= last for day in self.working_days)

    def of(self, name: str) -> tuple[Booking, ...]:
        """Pieces of one stage or activity, in order.

        Parameters
        ----------
        name : str
            As in the plan.

        Returns
        -------
        bookings : tuple of Booking
            Empty where there is none of that name.
        """
        return tuple(each for each in self.bookings if each.name == name)
