"""The programme as calendar, CSV and XLSX, read back by other means."""

import csv
import io
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from icalendar import Calendar

from towerlift.documents.programme_files import (
    NOTE,
    ProgrammeEdition,
    programme_calendar,
    programme_table,
    turning_table,
    windows_of_plan,
    write_programme,
)
from towerlift.documents.sheets import table_csv
from towerlift.motion import follow_stages
from towerlift.plan import read_plan
from towerlift.programme.bookings import Booking, Kind, Programme
from towerlift.programme.windows import RoofBench

ROOT = Path(__file__).parents[3]
ZONE = timezone(timedelta(hours=-2))
MADE = datetime(2027, 4, 1, 9, 0, tzinfo=ZONE)


def at(day, hour, minute=0):
    return datetime(2027, 5, day, hour, minute, tzinfo=ZONE)


def booking(name, starts, ends, **changes):
    given = {
        "name": name,
        "kind": Kind.WORK,
        "crews": (("roofers", 4),),
        "section": "spire",
        "stage": None,
        "starts": starts,
        "ends": ends,
        "reason": "waits for the roofers to be off",
    }
    return Booking(**{**given, **changes})


@pytest.fixture
def programme():
    return Programme(
        bookings=(
            booking("L2", at(1, 8), at(1, 11, 49), kind=Kind.STAGE, waits_for=("P2",)),
            booking("=SUM(A1:A9)", at(3, 8), at(3, 12), part=1, parts=2),
            booking("=SUM(A1:A9)", at(4, 8), at(4, 10), part=2, parts=2, reason="@cmd\r\n x"),
        ),
        day_1=date(2027, 4, 5),
        working_days=(date(2027, 5, 1), date(2027, 5, 3), date(2027, 5, 4)),
        earliest_finish=at(3, 12),
        seconds=1.0,
        zone=ZONE,
    )


def test_calendar_read_back(programme):
    text = programme_calendar(programme, "Tower", MADE)
    calendar = Calendar.from_ical(text)
    events = list(calendar.walk("VEVENT"))
    assert len(events) == 3
    assert events[0]["summary"] == "L2"
    assert events[0].decoded("dtstart") == datetime(2027, 5, 1, 10, 0, tzinfo=UTC)
    assert events[0].decoded("dtend") - events[0].decoded("dtstart") == timedelta(
        hours=3, minutes=49
    )
    told = str(events[0]["description"])
    assert "4 roofers" in told
    assert "waits for the roofers to be off" in told
    assert len({str(each["uid"]) for each in events}) == 3
    assert str(calendar["x-wr-caldesc"]) == NOTE
    # Lines end as the standard asks, and none is longer than it allows.
    assert all(len(line) <= 75 for line in text.split(b"\r\n"))
    assert b"\n" not in text.replace(b"\r\n", b"")


def test_a_booking_keeps_its_identity(programme):
    first = Calendar.from_ical(programme_calendar(programme, "Tower", MADE))
    moved = Programme(
        bookings=tuple(
            booking(
                each.name,
                each.starts + timedelta(days=1),
                each.ends + timedelta(days=1),
                kind=each.kind,
                part=each.part,
                parts=each.parts,
            )
            for each in programme.bookings
        ),
        day_1=programme.day_1,
        working_days=programme.working_days,
        earliest_finish=programme.earliest_finish,
        seconds=1.0,
        zone=ZONE,
    )
    again = Calendar.from_ical(programme_calendar(moved, "Tower", MADE + timedelta(days=1)))
    assert [str(e["uid"]) for e in first.walk("VEVENT")] == [
        str(e["uid"]) for e in again.walk("VEVENT")
    ]


def test_a_calendar_must_know_when_it_was_made(programme):
    with pytest.raises(ValueError, match="must have its zone"):
        programme_calendar(programme, "Tower", datetime(2027, 4, 1))  # noqa: DTZ001


def test_table(programme):
    table = programme_table(programme)
    rows = [dict(zip(table.heads, row, strict=True)) for row in table.rows]
    assert rows[0]["day of work"] == 1
    assert (rows[0]["from"], rows[0]["to"], rows[0]["hours"]) == ("08:00", "11:49", 3.82)
    assert rows[1]["part"] == "1 of 2"
    assert rows[0]["waits for"] == "P2"
    assert "a shorter programme has not been ruled out (by up to 22.0 h)" in table.notes[0]
    assert table.notes[1] == NOTE


def test_nothing_is_run_by_a_spreadsheet(programme, tmp_path):
    edition = ProgrammeEdition(name="Tower", made=MADE)
    paths = write_programme(programme, tmp_path, edition)
    assert [path.name for path in paths] == [
        "programme.ics",
        "programme.csv",
        "programme.xlsx",
    ]
    rows = list(csv.reader(io.StringIO(paths[1].read_text("utf-8-sig"))))
    assert all(not cell.startswith(("=", "@", "+", "-")) for row in rows for cell in row)
    assert rows[2][5] == "'=SUM(A1:A9)"
    sheet = openpyxl.load_workbook(paths[2])["Programme"]
    cell = sheet.cell(row=3, column=6)
    assert (cell.value, cell.data_type, cell.quotePrefix) == ("=SUM(A1:A9)", "s", True)
    with pytest.raises(FileExistsError, match=r"programme\.ics"):
        write_programme(programme, tmp_path, edition)


def test_windows_as_a_table():
    folder = ROOT / "meshes" / "tidewatch"
    plan = read_plan(folder / "plan-corrected.toml")
    raise_ = follow_stages(plan)
    bench = RoofBench(plan, raise_)
    (table,) = windows_of_plan(plan, raise_)
    rows = [dict(zip(table.heads, row, strict=True)) for row in table.rows]
    assert table.name == "Windows by the plan's dates"
    assert {row["band"] for row in rows} == {each.name for each in bench.bands}
    for row in rows:
        assert row["chance of the weather [%]"] == "not known"
        assert row["rescue takes [min]"] == 15.0
        assert row["net"] == "roofers' net"
        sheets = row["band"] == "band F"
        assert row["mean wind at most [m/s]"] == (7.6 if sheets else 10.3)
        assert row["dry"] == ("yes" if sheets else "no")
    assert "slides under" in table_csv(table)


def test_turning_points_as_a_table():
    plan = read_plan(ROOT / "meshes" / "tidewatch" / "plan-corrected.toml")
    table = turning_table(plan, follow_stages(plan))
    rows: list[dict[str, Any]] = [
        dict(zip(table.heads, row, strict=True)) for row in table.rows
    ]
    belfry = next(row for row in rows if row["stage"] == "L2")
    assert "the spire pendants that held the spire are out" in belfry["no way back"]
    assert belfry["back at the head [min]"] is None
    for row in rows:
        point, back = row["turning point [m]"], row["back at the head [min]"]
        low, high = sorted((row["heel from [m]"], row["heel to [m]"]))
        assert low <= point <= high
        if low < point < high and back is not None:
            assert row["ahead at the foot [min]"] >= row["back at the foot [min]"] - 1
            assert row["ahead at the head [min]"] <= back + 1
    assert "30 min to land and make fast" in table.notes[0]
    assert "speed up where a lift does not say its own" in table.notes[0]
