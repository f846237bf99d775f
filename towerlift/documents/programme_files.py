"""The programme and the roofer's windows as calendars and tables that other programs open."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from math import ceil, isfinite, isnan
from pathlib import Path

from icalendar import Calendar, Event

from towerlift.checks.lowering import SPEED
from towerlift.checks.recovery import LANDING, drill_of
from towerlift.documents.sheets import Cell, Table, write_csv, write_xlsx
from towerlift.motion.clock import clock
from towerlift.motion.raises import Raise
from towerlift.plan.limits import limit_in_plan
from towerlift.plan.model import Plan
from towerlift.programme.bookings import Booking, Programme
from towerlift.programme.telling import working_days
from towerlift.programme.windows import RoofBench
from towerlift.programme.windows_bands import RATED_CREW, bands_of
from towerlift.programme.windows_sheet import RoofAsk, RoofSheet, Window
from towerlift.rig.recovery_ways import Raising, Ways, ways_of

NOTE = (
    "An aid to planning. It does not replace a licensed engineer and a competent rigger; local "
    "codes govern. The weather is judged on the day."
)
PRODUCT = "-//towerlift//programme//EN"


def programme_table(programme: Programme) -> Table:
    """Every booking of a programme, by start.

    Parameters
    ----------
    programme : Programme
        As scheduled.

    Returns
    -------
    table : Table
        One row for each unbroken piece, with the reason for its start.
    """
    return Table(
        name="Programme",
        heads=(
            "day of work",
            "date",
            "from",
            "to",
            "hours",
            "what",
            "part",
            "kind",
            "crews",
            "section",
            "stage",
            "why not sooner",
            "waits for",
        ),
        rows=tuple(_row(programme, booking) for booking in programme.bookings),
        notes=(_proof(programme), NOTE),
    )


def _row(programme: Programme, booking: Booking) -> tuple[Cell, ...]:
    zone = programme.zone
    begins, ends = booking.starts.astimezone(zone), booking.ends.astimezone(zone)
    number = sum(day <= begins.date() for day in programme.working_days)
    return (
        number if begins.date() in programme.working_days else None,
        begins.date().isoformat(),
        clock(begins, zone),
        clock(ends, zone) if ends.date() == begins.date() else f"{ends:%Y-%m-%d %H:%M}",
        round(booking.duration.total_seconds() / 3600.0, 2),
        booking.name,
        f"{booking.part} of {booking.parts}" if booking.parts > 1 else None,
        str(booking.kind),
        _crews(booking),
        booking.section,
        booking.stage,
        booking.reason,
        "; ".join(booking.waits_for) or None,
    )


def _crews(booking: Booking) -> str | None:
    return ", ".join(f"{count} {crew}" for crew, count in booking.crews) or None


def _proof(programme: Programme) -> str:
    hours = programme.gap.total_seconds() / 3600.0
    gap = f" (by up to {hours:.1f} h)" if hours > 0 else ""
    return f"{working_days(programme)}; {programme.proof}{gap}."


def programme_calendar(programme: Programme, name: str, made: datetime) -> bytes:
    """A programme as an iCalendar file.

    Parameters
    ----------
    programme : Programme
        As scheduled.
    name : str
        Of the calendar, such as the plan's.
    made : datetime
        When it was made, with its zone.

    Returns
    -------
    text : bytes
        RFC 5545, times in UTC. A booking keeps its identity from one edition to the next,
        so that a calendar that has it already moves it.

    Raises
    ------
    ValueError
        If `made` has no zone.
    """
    if made.tzinfo is None:
        raise ValueError("the time at which a calendar is made must have its zone")
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", _plain(name))
    calendar.add("x-wr-caldesc", NOTE)
    for booking in programme.bookings:
        calendar.add_component(_event(booking, name, made))
    text: bytes = calendar.to_ical()
    return text


def _event(booking: Booking, name: str, made: datetime) -> Event:
    event = Event()
    key = f"{name}\n{booking.kind}\n{booking.name}\n{booking.part}"
    event.add("uid", f"{sha256(key.encode()).hexdigest()[:32]}@towerlift.invalid")
    event.add("dtstamp", made.astimezone(UTC))
    event.add("dtstart", booking.starts.astimezone(UTC))
    event.add("dtend", booking.ends.astimezone(UTC))
    part = f" ({booking.part} of {booking.parts})" if booking.parts > 1 else ""
    event.add("summary", _plain(f"{booking.name}{part}"))
    told = [booking.reason]
    crews = _crews(booking)
    if crews:
        told.insert(0, crews)
    event.add("description", _plain(". ".join(each.rstrip(".") for each in told if each) + "."))
    event.add("categories", [str(booking.kind)])
    return event


def _plain(words: str) -> str:
    """Words without control characters, which no calendar may hold."""
    return "".join(each if each.isprintable() else " " for each in words)


def windows_table(sheet: RoofSheet) -> Table:
    """Every window of every band, by band and time.

    Parameters
    ----------
    sheet : RoofSheet
        As asked.

    Returns
    -------
    table : Table
        With band, deck, wind limit, time to be off, way off, rescue method and minutes.
    """
    rows = [_window(window) for band in sheet.bands for window in band.windows]
    faults = [
        f"{each.band.name}: the date in the plan will not do: {each.fault}"
        for each in sheet.bands
        if each.fault
    ]
    laps = [f"Lap at s {lap.s:.2f} m: {lap.words}." for lap in sheet.laps]
    masses = [
        f"{each.band} done {each.when:%Y-%m-%d %H:%M}: {each.mass:.0f} kg, {each.total:.0f} kg "
        f"in all; next haul {each.next_haul or 'none'}."
        for each in sheet.masses
    ]
    lost = [f"No park reaches s {low:.2f} to {high:.2f} m." for low, high in sheet.unreached]
    return Table(
        name="Windows by the plan's dates",
        heads=(
            "band",
            "whole band",
            "s from [m]",
            "s to [m]",
            "date",
            "from",
            "off by",
            "then",
            "hours needed [h]",
            "chance of the weather [%]",
            "deck",
            "heel [m]",
            "leaf board [m]",
            "mean wind at most [m/s]",
            "gust at most [m/s]",
            "dry",
            "net",
            "way off",
            "rescue",
            "rescue takes [min]",
        ),
        rows=tuple(rows),
        notes=(*faults, *laps, *lost, *masses, NOTE),
    )


def _window(window: Window) -> tuple[Cell, ...]:
    opening, park = window.opening, window.opening.park
    known = not isnan(window.chance)
    return (
        window.band.name,
        "yes" if window.whole else "in part",
        round(window.low, 3),
        round(window.high, 3),
        opening.begins.date().isoformat(),
        f"{opening.begins:%H:%M}",
        f"{window.off_by:%H:%M}",
        opening.because,
        round(window.hours / 3600.0, 2),
        round(100.0 * window.chance) if known else "not known",
        None if park.deck is None else park.deck.name,
        round(park.heel, 3),
        round(window.boards.width, 3),
        round(window.need.mean, 2),
        round(window.need.gust, 2),
        "yes" if window.need.dry else "no",
        park.net,
        window.way_off,
        window.rescue,
        "NOT GIVEN" if window.rescue_takes is None else round(window.rescue_takes / 60.0, 1),
    )


def windows_of_plan(plan: Plan, raise_: Raise) -> tuple[Table, ...]:
    """The roofer's windows by the plan's own dates.

    Parameters
    ----------
    plan : Plan
        As read.
    raise_ : Raise
        The same plan's.

    Returns
    -------
    tables : tuple of Table
        None where the plan has no band of cladding; the weather is left out.
    """
    if not bands_of(plan):
        return ()
    bench = RoofBench(plan, raise_)
    n_roofers = max((each.count for each in bench.planned.values()), default=RATED_CREW)
    return (windows_table(bench.show(RoofAsk(day=plan.site.day_1, n_roofers=n_roofers))),)


def turning_table(plan: Plan, raise_: Raise) -> Table:
    """For every haul, how long to the lock ahead and back to the last one.

    Parameters
    ----------
    plan : Plan
        As read.
    raise_ : Raise
        The same plan's.

    Returns
    -------
    table : Table
        Times rounded up to the minute, as the recovery rehearsal takes them; below the
        turning point coming back is quicker.
    """
    share, landing = limit_in_plan(plan, SPEED), limit_in_plan(plan, LANDING)
    found = ways_of(Raising(plan=plan, raise_=raise_), drill_of(plan))
    return Table(
        name="Turning points",
        heads=(
            "stage",
            "section",
            "heel from [m]",
            "heel to [m]",
            "ahead at the foot [min]",
            "ahead at the head [min]",
            "back at the foot [min]",
            "back at the head [min]",
            "turning point [m]",
            "no way back",
        ),
        rows=tuple(_ways(each) for each in found),
        notes=(
            f"Let down at {share.value:g} of the speed up where a lift does not say its own "
            f"({share.source}); {landing.value:g} min to land and make fast "
            f"({landing.source}).",
            "At the foot going on is always quicker, at the head never.",
            NOTE,
        ),
    )


def _ways(ways: Ways) -> tuple[Cell, ...]:
    def minutes(seconds: float) -> int | None:
        return ceil(seconds / 60 - 1e-9) if isfinite(seconds) else None

    first, last = ways.passages[0], ways.passages[-1]
    foot, head = ways.foot, ways.head
    turning = ways.turning_point
    cut = "; ".join(f"above {above:.2f} m {what}" for _, above, what in ways.shut)
    return (
        ways.stage,
        ways.section,
        round(foot, 3),
        round(head, 3),
        minutes(ways.time_on(foot, first.index)),
        minutes(ways.time_on(head, last.index)),
        minutes(ways.time_back(foot, first.index)),
        minutes(ways.time_back(head, last.index)),
        None if turning is None else round(turning, 2),
        cut or None,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgrammeEdition:
    """Whose programme, and as of when.

    Attributes
    ----------
    name : str
        Of the plan.
    made : datetime
        With its zone.
    """

    name: str
    made: datetime


def write_programme(
    programme: Programme, folder: Path, edition: ProgrammeEdition, *, also: Sequence[Table] = ()
) -> tuple[Path, ...]:
    """Write a programme as iCalendar, CSV and XLSX.

    Parameters
    ----------
    programme : Programme
        As scheduled.
    folder : Path
        Where to; must be there.
    edition : ProgrammeEdition
        Whose, and as of when.
    also : sequence of Table
        Further sheets of the workbook, such as the roofer's windows.

    Returns
    -------
    paths : tuple of Path
        programme.ics, programme.csv and programme.xlsx.

    Raises
    ------
    FileExistsError
        If one of them is there already.
    ValueError
        If `made` has no zone.
    """
    table = programme_table(programme)
    paths = tuple(folder / f"programme.{kind}" for kind in ("ics", "csv", "xlsx"))
    there = [path.name for path in paths if path.exists()]
    if there:
        raise FileExistsError(f"{', '.join(there)} already in {folder.name}")
    with paths[0].open("xb") as file:
        file.write(programme_calendar(programme, edition.name, edition.made))
    write_csv(table, paths[1])
    write_xlsx([table, *also], paths[2])
    return paths
