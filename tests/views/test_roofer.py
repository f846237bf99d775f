"""The roofer's panel and drawings, callbacks called as the browser would call them."""

import json
import re
from datetime import date, datetime, timedelta
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from towerlift.drawings.day_bars import Bars, day_bars
from towerlift.drawings.svg import text_width
from towerlift.drawings.unrolled import Unrolled, spire_unrolled
from towerlift.drawings.watch import WatchSheet, watch_sheet, wrapped
from towerlift.motion import follow_stages
from towerlift.panels import RooferPanel
from towerlift.panels.words import CAUTION
from towerlift.plan import read_plan
from towerlift.programme.watch import watch
from towerlift.programme.weather_files import read_weather
from towerlift.programme.weather_height import Exposure
from towerlift.programme.windows_bars import day_bar

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "meshes" / "tidewatch"
SEA = Exposure(station="0", site="0")
FIRST_OF_MAY = date(2027, 5, 1)


@pytest.fixture(scope="module")
def hours():
    return read_weather(FOLDER / "hours.csv")


@pytest.fixture(scope="module")
def draft():
    plan = read_plan(FOLDER / "plan.toml")
    return plan, follow_stages(plan)


@pytest.fixture(scope="module")
def panel(draft, hours):
    return RooferPanel(draft[0], draft[1], hours, SEA)


@pytest.fixture
def fresh(panel):
    """The panel on 1 May, four roofers, the plan's own wind."""
    panel.day.value, panel.roofers.value, panel.wind.value = FIRST_OF_MAY, 4, 10.3
    return panel


def sheet_of(panel, name):
    return next(each for each in panel.sheet.bands if each.band.name == name)


def texts(svg, role=None):
    root = ET.fromstring(svg)
    return [
        each.text
        for each in root.iter("{http://www.w3.org/2000/svg}text")
        if role is None or role in (each.get("class") or "")
    ]


def roles(svg, role):
    return [e for e in ET.fromstring(svg).iter() if role in (e.get("class") or "").split()]


def test_it_opens_on_a_day_that_is_open(draft, hours):
    panel = RooferPanel(draft[0], draft[1], hours, SEA)
    assert panel.ask.n_roofers == 4
    assert any(each.begins.date() == panel.ask.day for each in panel.bench.openings)
    assert CAUTION in panel.caution.value
    assert panel.widget.children[0] is panel.caution


def test_the_date_that_will_not_do_is_told_in_words(fresh):
    assert "1 of 7 DATES WILL NOT DO" in fresh.verdict.value
    assert "WILL NOT DO: the belfry hangs in its tackles" in fresh.table.value
    assert "the belfry moves to pick the spire up" in fresh.table.value
    assert [e.band.name for e in fresh.sheet.bands if e.fault] == ["band B3"]
    assert "NOT Sat 01 May" in texts(fresh.spire.value)
    assert len(roles(fresh.spire.value, "wrong")) == 4  # one on each face


def test_each_window_says_when_to_be_off_and_how(fresh):
    first = sheet_of(fresh, "band B3").first
    assert first is not None
    assert f"{first.opening.begins:%H:%M}" == "07:30"
    assert f"{first.opening.ends:%H:%M}" == "15:00"
    assert f"{first.off_by:%H:%M}" == "14:45"
    assert first.complete
    assert first.rescue_takes is not None
    assert "Way off: " in fresh.table.value
    assert "15 min" in fresh.table.value


def test_less_wind_leaves_less_chance_and_more_is_marked(fresh):
    usual = sheet_of(fresh, "band B3").first
    fresh.wind.value = 5.0
    low = sheet_of(fresh, "band B3").first
    assert usual is not None
    assert low is not None
    assert low.chance < usual.chance
    assert low.need.gust == pytest.approx(15.6 * 5.0 / 10.3)
    assert "ABOVE THE USUAL LIMIT" not in fresh.verdict.value
    fresh.wind.value = 12.0
    assert "ABOVE THE USUAL LIMIT" in fresh.verdict.value
    assert "set by hand" in fresh.verdict.value


def test_fewer_roofers_take_longer(fresh):
    four = sheet_of(fresh, "band B3").hours
    fresh.roofers.value = 2
    two = sheet_of(fresh, "band B3")
    lap = fresh.bench.rates.lap_time
    assert two.hours - lap == pytest.approx(2 * (four - lap))
    assert "are planned" in sheet_of(fresh, "band B5").fault
    fresh.roofers.value = 8
    assert sheet_of(fresh, "band B5").fault == ""


def test_windows_begin_with_the_date(fresh):
    fresh.day.value = date(2027, 5, 6)
    assert all(
        window.opening.begins.date() >= date(2027, 5, 6)
        for each in fresh.sheet.bands
        for window in each.windows
    )
    assert "Thu 06 May" in texts(fresh.bars.value)
    assert "Thu 06 May 2027" in texts(fresh.watch.value)


def test_the_corrected_plan_has_a_window_for_every_band(hours):
    plan = read_plan(FOLDER / "plan-corrected.toml")
    panel = RooferPanel(plan, follow_stages(plan), hours, SEA)
    assert "every date lies in a window" in panel.verdict.value
    assert all(each.first is not None for each in panel.sheet.bands)
    assert "DATES WILL NOT DO" not in panel.verdict.value


def test_without_weather_no_chance_is_made_up(draft):
    panel = RooferPanel(draft[0], draft[1])
    assert "weather not known" in panel.table.value
    assert not re.search(r"weather \d", panel.table.value)


def test_the_watch_sheet_marks_the_crossing_in_words(fresh):
    svg = fresh.watch.value
    assert texts(svg, "crossing") == ["CROSSING 1"]
    told = " ".join(texts(svg, "told"))
    assert "16:00-17:45" in told
    assert "cladding B3: the belfry moves to pick the spire up" in told
    assert roles(svg, "shadow")
    assert [each for each in texts(svg, "line") if each == "ring deck"]


def test_the_watch_sheet_of_a_quiet_day_says_so(draft):
    plan, raise_ = draft
    begins = datetime.fromisoformat("2027-05-08T06:00:00-02:00")
    seen = watch(plan, raise_, begins, begins + timedelta(hours=14))
    assert seen.crossings == ()
    svg = watch_sheet(seen, WatchSheet())
    assert "No crossing: nobody is on or under what moves or may fall." in texts(svg, "head")


def test_framers_under_the_spire_in_s3_are_a_crossing(draft):
    """The draft's S3 runs till 08:30 while framers start on the shaft floor at 08:00."""
    plan, raise_ = draft
    begins = datetime.fromisoformat("2027-04-22T06:00:00-02:00")
    seen = watch(plan, raise_, begins, begins + timedelta(hours=14))
    early = [each for each in seen.crossings if each.who == ("belfry framed, D16",)]
    assert f"{min(each.begins for each in early):%H:%M}" == "08:00"
    assert any("over them" in each.words for each in early)


def test_a_watch_must_last(draft):
    moment = datetime.fromisoformat("2027-05-01T06:00:00-02:00")
    with pytest.raises(ValueError, match="end after it begins"):
        watch(draft[0], draft[1], moment, moment)


def test_what_no_park_reaches_is_drawn(hours):
    plan = read_plan(FOLDER / "plan-corrected.toml")
    raise_ = follow_stages(plan)
    strict = plan.model_copy(
        update={
            "limits": tuple(e for e in plan.limits if not e.limit.startswith("least reach"))
        }
    )
    panel = RooferPanel(strict, raise_, hours, SEA)
    (gap,) = panel.sheet.unreached
    # The deck's top is at 28.05 and the least reach 0.20; the last park is at 24.95.
    assert gap == pytest.approx((3.21, 28.05 + 0.20 - 24.95))
    assert "NO PARK reaches s 3.21 to 3.30 m" in panel.verdict.value
    svg = spire_unrolled(panel.sheet, Unrolled(gauge=0.15))
    assert len(roles(svg, "unreached")) == 4


def test_day_bars_tell_why_a_day_is_shut(fresh):
    sunday = day_bar(fresh.bench, date(2027, 5, 2), fresh.ask)
    assert sunday.open == ()
    said = texts(day_bars([sunday], Bars()), "said")
    assert said == ["shut: the crew is off"]
    monday = day_bar(fresh.bench, date(2027, 5, 3), fresh.ask)
    assert monday.open
    for begins, ends in monday.open:
        assert any(a <= begins and ends <= b for a, b in monday.light)
        assert any(a <= begins and ends <= b for a, b in monday.at_work)
        assert any(a <= begins and ends <= b for a, b in monday.fast)


@pytest.mark.parametrize("words", ["one", "several words that will not fit on one line at all"])
def test_wrapped_words_fit_and_none_is_lost(words):
    lines = wrapped(words, 11.0, 120.0)
    assert " ".join(" ".join(lines).split()) == words
    assert all(text_width(line, 11.0) <= 130.0 for line in lines)


def test_drawings_keep_within_their_sheet(fresh):
    for svg in (fresh.spire.value, fresh.bars.value, fresh.watch.value):
        root = ET.fromstring(svg)
        _, _, width, height = (float(each) for each in root.get("viewBox", "").split())
        for each in root.iter("{http://www.w3.org/2000/svg}text"):
            x, y = float(each.get("x", "nan")), float(each.get("y", "nan"))
            long = text_width(each.text or "", 11.0)
            left = {"start": x, "middle": x - long / 2, "end": x - long}[
                each.get("text-anchor", "")
            ]
            assert left >= -2
            assert left + 0.93 * long <= width + 2
            assert 0 <= y <= height


def test_the_notebook_has_text_and_calls_and_ends_by_its_claim():
    cells = json.loads((ROOT / "notebooks" / "roofer.ipynb").read_text("utf-8"))["cells"]
    assert all(not cell.get("outputs") for cell in cells)
    last = "".join(cells[-1]["source"])
    assert last.count("assert ") >= 5
    code = "".join("".join(c["source"]) for c in cells[:-1] if c["cell_type"] == "code")
    assert "def " not in code
    assert "for " not in code
    assert any("does not replace a licensed engineer" in "".join(c["source"]) for c in cells)
