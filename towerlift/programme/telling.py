"""A programme in words and as a record: what the command line prints and writes."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime

from towerlift.programme.bookings import Booking, Programme
from towerlift.programme.dates import Change, Crossing
from towerlift.programme.graph import long

ON_DATES = "THE DATES AS WRITTEN"
SHORTEST = "THE SHORTEST PROGRAMME"


def told_dates(
    crossings: Sequence[Crossing], changes: Sequence[Change]
) -> Iterator[tuple[str, str]]:
    """What is wrong with the dates of a plan, and the least change that cures all of it.

    Parameters
    ----------
    crossings : sequence of Crossing
        Rules that the dates break.
    changes : sequence of Change
        The least change; empty where none was found or needed.

    Yields
    ------
    head, text : str
        A mark to put before a paragraph, and the paragraph.
    """
    if not crossings:
        yield "", "The dates keep every rule."
        return
    yield "", f"The dates break {len(crossings)} rule{'s' * (len(crossings) > 1)}:"
    for crossing in crossings:
        yield "* ", crossing.why
        cures = "; or ".join(words for _, words in crossing.cures)
        if cures:
            yield "    ", f"alone cured by: {cures}"
    if changes:
        yield "", "The least change that keeps every rule, fewest moves first:"
        for change in changes:
            yield "- ", change.words


def told_programme(programme: Programme) -> Iterator[tuple[str, str]]:
    """A programme day by day, each start with its reason.

    Parameters
    ----------
    programme : Programme
        From the search.

    Yields
    ------
    head, text : str
        A mark to put before a paragraph, and the paragraph.
    """
    yield "", last_word(programme)
    days = {day: number for number, day in enumerate(programme.working_days, start=1)}
    now: date | None = None
    for booking in programme.bookings:
        day = booking.starts.date()
        if day != now:
            now = day
            number = f"D{days[day]}, " if day in days else ""
            yield "", ""
            yield "", f"{number}{day:%A} {day:%Y-%m-%d}"
        yield "  ", told_booking(booking)


def told_booking(booking: Booking) -> str:
    """One booking in a line: times, name, crews, reason."""
    last = f"{booking.ends:%H:%M}"
    if booking.ends.date() != booking.starts.date():
        last = f"{booking.ends:%Y-%m-%d %H:%M}"
    part = f" (part {booking.part} of {booking.parts})" if booking.parts > 1 else ""
    crews = ", ".join(f"{count} {name}" for name, count in booking.crews)
    crews = f" [{crews}]" if crews else ""
    times = f"{booking.starts:%H:%M}-{last}" if booking.duration else f"{booking.starts:%H:%M}"
    return f"{times} {booking.name}{part}{crews}: {booking.reason}"


def working_days(programme: Programme) -> str:
    """How many days of work a programme takes, such as "1 working day"."""
    n = programme.n_days
    return f"{n} working day{'' if n == 1 else 's'}"


def last_word(programme: Programme) -> str:
    """Length of a programme and what is proved of it, in a sentence."""
    done = f"done on {programme.finish:%Y-%m-%d} at {programme.finish:%H:%M}"
    ends = f"{working_days(programme)}, {done}"
    if not programme.gap:
        return f"{ends}: {programme.proof}; proved in {programme.seconds:.1f} s."
    gap = long(programme.gap.total_seconds())
    return (
        f"{ends}: {programme.proof}. It is proved that none is done before "
        f"{programme.earliest_finish:%Y-%m-%d %H:%M}, {gap} sooner."
    )


def as_record(
    programme: Programme, crossings: Sequence[Crossing], changes: Sequence[Change]
) -> dict[str, object]:
    """The whole of it for a file.

    Parameters
    ----------
    programme : Programme
        From the search.
    crossings : sequence of Crossing
        Rules that the plan's dates break.
    changes : sequence of Change
        The least change that cures them.

    Returns
    -------
    record : dict
        Times as ISO text with their offset, stretches of time in s.
    """
    return {
        "working_days": programme.n_days,
        "finish": _iso(programme.finish),
        "earliest_finish": _iso(programme.earliest_finish),
        "proved_shortest": not programme.gap,
        "gap_s": programme.gap.total_seconds(),
        "bookings": [
            {
                "name": each.name,
                "kind": str(each.kind),
                "part": each.part,
                "parts": each.parts,
                "stage": each.stage,
                "section": each.section,
                "crews": dict(each.crews),
                "starts": _iso(each.starts),
                "ends": _iso(each.ends),
                "reason": each.reason,
                "waits_for": list(each.waits_for),
            }
            for each in programme.bookings
        ],
        "crossings": [
            {
                "names": list(each.names),
                "begins": _iso(each.begins),
                "ends": _iso(each.ends),
                "why": each.why,
                "cures": [{"by_s": by, "words": words} for by, words in each.cures],
            }
            for each in crossings
        ],
        "least_change": [
            {"name": each.name, "was": _iso(each.was), "becomes": _iso(each.becomes)}
            for each in changes
        ],
    }


def _iso(moment: datetime) -> str:
    return moment.isoformat(timespec="minutes")
