"""Weather files: units, missing values, years and clocks, and every fault by its row."""

from datetime import timedelta
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest

from towerlift.errors import PlanError
from towerlift.programme.weather_files import read_weather

pvlib = import_module("pvlib")
DATA = Path(str(pvlib.__file__)).parent / "data"
EPW_HEAD = [
    "LOCATION,Strand,X,Nowhere,made,000000,47.0,-30.0,-2.0,6.0",
    "DESIGN CONDITIONS,0",
    "TYPICAL/EXTREME PERIODS,0",
    "GROUND TEMPERATURES,0",
    "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
    "COMMENTS 1,made for a test",
    "COMMENTS 2,",
    "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31",
]


def epw_row(day, hour, *, year=2001, month=1, wind="5.0", rain="0.0", temperature="4.5"):
    cells = ["0"] * 35
    cells[:6] = [str(year), str(month), str(day), str(hour), "0", "?9"]
    cells[6], cells[21], cells[33], cells[34] = temperature, wind, rain, "1.0"
    return ",".join(cells)


def epw(tmp_path, rows, head=EPW_HEAD):
    path = tmp_path / "made.epw"
    path.write_text("\n".join([*head, *rows]) + "\n", encoding="utf-8")
    return path


def refusal(path):
    with pytest.raises(PlanError) as caught:
        read_weather(path)
    return caught.value.problems


@pytest.mark.parametrize("name", ["703165TY.csv", "723170TYA.CSV"])
def test_tmy3_as_another_reader_reads_it(name):
    hours = read_weather(DATA / name)
    frame, station = pvlib.iotools.read_tmy3(DATA / name, map_variables=True)
    np.testing.assert_array_equal(hours.wind, frame["wind_speed"].to_numpy())
    np.testing.assert_array_equal(hours.temperature, frame["temp_air"].to_numpy())
    assert hours.offset == timedelta(hours=station["TZ"])
    # Its index is where each hour ends, on the same clock.
    ends = frame.index.tz_localize(None).to_numpy().astype("datetime64[h]")
    differ = np.flatnonzero(hours.begins + np.timedelta64(1, "h") != ends)
    # But for the last hour of February of a leap year, which the file leaves without its
    # 29th: the other reader makes that hour end on 1 March, one day late.
    assert all(str(hours.begins[row]).endswith("-02-28T23") for row in differ)
    assert len(differ) <= 1


def test_tmy3_years_and_runs():
    """Twelve months of eight years: a run ends where the year changes, and only there."""
    hours = read_weather(DATA / "703165TY.csv")
    years = hours.begins.astype("datetime64[Y]").astype(int) + 1970
    changes = np.flatnonzero(np.diff(years))
    np.testing.assert_array_equal(np.flatnonzero(np.diff(hours.run)), changes)
    assert hours.months[0] == 1
    assert hours.months[-1] == 12
    assert (hours.clock[0], hours.clock[-1]) == (0, 23)


def test_tmy3_rain_codes():
    """-9900 is not known; a depth over six hours is spread over them, none is six dry hours."""
    hours = read_weather(DATA / "703165TY.csv")
    frame, _ = pvlib.iotools.read_tmy3(DATA / "703165TY.csv")
    depth = frame["Lprecip depth (mm)"].to_numpy()
    over = frame["Lprecip quantity (hr)"].to_numpy()
    assert np.nanmin(hours.rain) >= 0
    one = (depth >= 0) & (over == 1)
    np.testing.assert_array_equal(hours.rain[one], depth[one])
    dry = np.flatnonzero((depth == 0) & (over == 6))
    gathered = dry[:, None] - np.arange(6)
    joined = (hours.run[gathered] == hours.run[dry][:, None]) & (gathered >= 0)
    assert joined.all(axis=1).sum() > 300
    assert not np.isnan(hours.rain[gathered][joined]).any()
    # What is gathered over 99 hours is a code, and says nothing.
    odd = (over == 99) & np.isnan(hours.rain)
    assert odd.any()


def test_epw_as_another_reader_reads_it(tmp_path):
    rows = [epw_row(1 + k // 24, 1 + k % 24, wind=f"{k % 13 / 2}") for k in range(72)]
    path = epw(tmp_path, rows)
    hours = read_weather(path)
    frame, station = pvlib.iotools.read_epw(path)
    np.testing.assert_array_equal(hours.wind, frame["wind_speed"].to_numpy())
    assert hours.offset == timedelta(hours=station["TZ"])
    begins = frame.index.tz_localize(None).to_numpy().astype("datetime64[h]")
    np.testing.assert_array_equal(hours.begins, begins)
    assert hours.height == 10.0


def test_epw_missing_codes_are_not_numbers(tmp_path):
    rows = [
        epw_row(1, 1, wind="999"),
        epw_row(1, 2, rain="999"),
        epw_row(1, 3, temperature="99.9"),
    ]
    hours = read_weather(epw(tmp_path, rows))
    assert np.isnan(hours.wind).tolist() == [True, False, False]
    assert np.isnan(hours.rain).tolist() == [False, True, False]
    assert np.isnan(hours.temperature).tolist() == [False, False, True]
    assert np.isnan(hours.gust).all()


def test_every_bad_row_is_named_at_once(tmp_path):
    rows = [
        epw_row(1, 1, wind="-3"),
        epw_row(1, 2, wind="brisk"),
        epw_row(1, 25),
        epw_row(1, 4),
        epw_row(1, 6),
        epw_row(30, 24, month=2),
    ]
    problems = refusal(epw(tmp_path, rows))
    named = sorted(each.split(":")[0] for each in problems)
    assert named == ["row 10", "row 11", "row 13", "row 14", "row 9"]
    assert any("write one from 0 to 80" in each for each in problems)
    assert any("hour 25; write 1 to 24" in each for each in problems)


def test_a_clock_that_cannot_be_the_places_is_refused(tmp_path):
    head = [EPW_HEAD[0].replace("-30.0", "30.0").replace("-2.0", "-8.0"), *EPW_HEAD[1:]]
    problems = refusal(epw(tmp_path, [epw_row(1, 1)], head))
    assert "is west negative?" in problems[0]


def test_half_hour_data_is_refused(tmp_path):
    head = [*EPW_HEAD[:7], EPW_HEAD[7].replace("1,1,", "1,2,")]
    assert "1 interval an hour" in refusal(epw(tmp_path, [epw_row(1, 1)], head))[0]


def test_months_out_of_order_are_refused(tmp_path):
    rows = [epw_row(31, 24), epw_row(1, 1, month=3)]
    assert refusal(epw(tmp_path, rows)) == ("row 10: month 3 follows 1",)
    fine = read_weather(epw(tmp_path, [epw_row(31, 24), epw_row(1, 1, month=2, year=1987)]))
    assert fine.run.tolist() == [0, 1]


def test_another_file_is_told_what_to_be(tmp_path):
    path = tmp_path / "notes.csv"
    path.write_text("hello,there\n", encoding="utf-8")
    assert "write an EPW file" in refusal(path)[0]
    assert "cannot be read" in refusal(tmp_path / "absent.epw")[0]


TABLE = "time,wind at 10 m [m/s],gust at 10 m [m/s],rain [mm],lightning [%]\n"


def table(tmp_path, text):
    path = tmp_path / "hours.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_own_table(tmp_path):
    text = TABLE + (
        "2027-05-01T08:00:00-02:00,6.5,9.5,0,0\n2027-05-01T09:00:00-02:00,,,0.4,20\n"
    )
    hours = read_weather(table(tmp_path, text))
    assert hours.begins.astype(str).tolist() == ["2027-05-01T08", "2027-05-01T09"]
    assert hours.offset == timedelta(hours=-2)
    assert hours.wind[0] == 6.5
    assert np.isnan(hours.wind[1])
    assert hours.lightning.tolist() == [0.0, 0.2]
    assert np.isnan(hours.temperature).all()


def test_own_table_in_knots_at_another_height(tmp_path):
    text = "time,wind at 30 m [kn]\n2027-05-01T08:00:00-02:00,10\n"
    hours = read_weather(table(tmp_path, text))
    assert hours.height == 30.0
    assert hours.wind[0] == pytest.approx(10 * 1852 / 3600)


BROKEN = [
    pytest.param("time,wind\n", "not known", id="no-unit"),
    pytest.param("time,wind at 10 m [Bft]\n", "write one of", id="no-such-unit"),
    pytest.param("when,wind at 10 m [m/s]\n", "write an EPW file", id="no-time"),
    pytest.param("time,rain [mm]\n", "no column of wind", id="no-wind"),
    pytest.param(TABLE + "2027-05-01T08:00:00,6,9,0,0\n", "has no offset", id="no-offset"),
    pytest.param(TABLE + "2027-05-01T08:30:00-02:00,6,9,0,0\n", "whole hour", id="half-hour"),
    pytest.param(TABLE + "2027-05-01T08:00:00-02:00,6,5,0,0\n", "gust is less", id="gust"),
    pytest.param(TABLE + "2027-05-01T08:00:00-02:00,nan,9,0,0\n", "cannot be meant", id="nan"),
    pytest.param(TABLE, "no hours", id="empty"),
    pytest.param(
        TABLE + "2027-05-01T08:00:00-02:00,6,9,0,0\n2027-05-01T08:00:00-02:00,6,9,0,0\n",
        "is not after",
        id="twice",
    ),
    pytest.param(
        TABLE + "2027-05-01T08:00:00-02:00,6,9,0,0\n2027-05-01T10:00:00-01:00,6,9,0,0\n",
        "keep one offset",
        id="two-offsets",
    ),
]


@pytest.mark.parametrize(("text", "said"), BROKEN)
def test_own_table_refuses(tmp_path, text, said):
    assert any(said in each for each in refusal(table(tmp_path, text)))
