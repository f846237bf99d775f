"""The framer's choice, panel, pictures and sheets, without a browser."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest
from openpyxl import load_workbook

from tests.unit.nesting_bench.test_bench import bench_and_shop, bench_of, weather
from towerlift.documents.benches import Framing
from towerlift.documents.framing import CAUTION as SHEET_CAUTION
from towerlift.documents.framing import (
    framing_tables,
    pare_sheet,
    shim_sheet,
    tolerance_sheet,
    write_framing,
)
from towerlift.drawings.gap_map import CLASSES, MapNames, gap_map, spare_class
from towerlift.drawings.humidity import calendar_chart
from towerlift.drawings.section_cut import CutPlace, section_cut
from towerlift.nesting.answers import face_chances
from towerlift.nesting.bench import Pared, Setting
from towerlift.nesting.humidity import masonry_calendar
from towerlift.nesting.shims import Shim
from towerlift.panels.framer import TABS, FramerPanel
from towerlift.panels.framing_answers import verdict_html
from towerlift.panels.framing_choice import FramerChoice
from towerlift.panels.words import CAUTION
from towerlift.plan.bodies import Face

SVG = "{http://www.w3.org/2000/svg}"


def framing(foot=0.64):
    bench, shop = bench_and_shop(foot=foot)
    passages = {travel.passage for travel in bench.travels}
    return Framing(
        plan=bench.plan,
        shop=shop,
        benches=(bench,),
        when=dict.fromkeys(passages, "stage belfry up, 24 Apr 2027"),
        lifts={},
    )


@pytest.fixture
def panel():
    return FramerPanel(framing(), climate=weather(0.5, 0.9, 0.6).days)


# ------------------------------------------------------------------ the choice


def test_the_choice_is_set_as_planned():
    choice = FramerChoice(framing=framing())
    assert choice.setting == Setting()
    assert choice.bench.section.name == "belfry"


def test_a_variant_comes_back_as_it_was_kept():
    choice = FramerChoice(framing=framing()).turned(Setting(drift=0.01)).kept(" drifting ")
    later = choice.turned(Setting()).at_variant("drifting")
    assert later.setting == Setting(drift=0.01)
    assert [v.name for v in later.variants] == ["drifting"]


@pytest.mark.parametrize("name", ["", "  "])
def test_a_variant_needs_a_name(name):
    with pytest.raises(ValueError, match="name"):
        FramerChoice(framing=framing()).kept(name)


def test_a_name_is_given_once():
    choice = FramerChoice(framing=framing()).kept("dry")
    with pytest.raises(ValueError, match="already"):
        choice.kept("dry")
    with pytest.raises(ValueError, match="no variant"):
        choice.at_variant("wet")
    with pytest.raises(ValueError, match="no bench"):
        choice.of_section("spire")


def test_a_plan_without_benches_has_no_choice():
    empty = replace(framing(), benches=(), when={}, lifts={})
    with pytest.raises(ValueError, match="surveyed face by face"):
        FramerChoice(framing=empty)


def test_a_variant_as_a_plan_leaves_the_plan_alone():
    pared = (Pared(mark="foot", face=Face.NORTH, depth=0.025),)
    setting = Setting(y=-0.02, moisture=0.04, drift=0.005, pared=pared, quarter_turns=1)
    choice = FramerChoice(framing=framing()).turned(setting).kept("try")
    before = choice.framing.plan
    plan = choice.as_plan("try")
    assert choice.framing.plan is before
    assert before.plumb_line.y == 0.0
    assert plan.plumb_line.y == -0.02
    assert plan.name == "tiny: try"
    belfry = next(s for s in plan.sections if s.name == "belfry")
    # Leg of 0.2 m, with the foot that it pushes: 0.25 a unit, 4 %.
    assert belfry.swelling == pytest.approx(0.2 * 0.25 * 0.04)
    for said in ("25 mm pared off the north side of foot", "90 degrees", "5 mm of drift"):
        assert said in plan.note


# ------------------------------------------------------------------ the pictures


def drawn(svg):
    return ET.fromstring(svg)


def named_map():
    bench = bench_of(foot=0.64)
    gaps = bench.gaps(Setting())
    names = MapNames(marks=bench.drawn.marks, when=framing().when)
    return gaps, gap_map(gaps, names)


def test_the_map_writes_what_is_to_spare_and_names_the_piece():
    gaps, svg = named_map()
    root = drawn(svg)
    cells = [r for r in root.iter(f"{SVG}rect") if r.get("class") == "cell"]
    values = [t.text for t in root.iter(f"{SVG}text") if t.get("class") == "value"]
    assert len(cells) == len(values) > 40
    worst = gaps.worst()
    least = 1000 * float(gaps.spare[worst])
    assert f"−{int(np.ceil(-least))}" in values
    said = [cell.findtext(f"{SVG}title") or "" for cell in cells]
    at = next(words for words in said if f"{-least:.1f} mm short" in words)
    assert at.startswith("foot, north face")
    assert "stage belfry up, 24 Apr 2027" in at
    assert "gap 10.0 mm" in at
    assert [r for r in root.iter(f"{SVG}rect") if r.get("class") == "worst"]


def test_the_map_says_in_words_what_it_shows():
    _, svg = named_map()
    words = drawn(svg).findtext(f"{SVG}desc") or ""
    assert words.startswith("Least to spare: foot, north face")


@pytest.mark.parametrize(
    ("spare", "words"),
    [
        (-0.001, "falls short"),
        (0.0, "0 to 10 mm"),
        (9.999, "0 to 10 mm"),
        (10.0, "10 to 30 mm"),
        (100.0, "over 100 mm"),
        (float("nan"), "falls short"),
    ],
)
def test_classes_of_what_is_to_spare(spare, words):
    assert spare_class(spare)[2] == words


def lightness(colour):
    """CIE L* of an sRGB colour."""
    channels = np.array([int(colour[n : n + 2], 16) for n in (1, 3, 5)]) / 255
    linear = np.where(
        channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4
    )
    y = linear @ [0.2126, 0.7152, 0.0722]
    return 116 * np.cbrt(y) - 16


def test_numbers_can_be_read_on_every_colour():
    for _, fill, ink, _ in CLASSES:
        assert abs(lightness(fill) - lightness(ink)) > 45


def test_falling_short_is_far_darker_than_all_else():
    shades = [lightness(fill) for _, fill, _, _ in CLASSES]
    assert min(shades[1:]) - shades[0] > 25


def test_the_cut_shows_the_narrowest_place():
    bench = bench_of(foot=0.64)
    gaps = bench.gaps(Setting())
    worst = gaps.worst()
    assert worst is not None
    band, face = worst
    place = CutPlace(
        gaps=gaps,
        reach=bench.reach(Setting()),
        walls=bench.walls,
        line=bench.line(Setting()),
        band=band,
        face=face,
    )
    # The room at the ledge, and four legs with a foot.
    assert place.room == pytest.approx((-3.1, 3.1, -3.1, 2.9))
    assert len(place.pieces) == 5
    root = drawn(section_cut(place))
    texts = [t.text or "" for t in root.iter(f"{SVG}text")]
    assert "10 mm" in texts
    assert any(text.startswith("foot: 10 mm") for text in texts)


def test_the_calendar_names_the_last_safe_day():
    bench = bench_of(foot=0.625)
    found = masonry_calendar(bench, Setting(y=-0.0025), weather(0.3, 0.9, 0.3))
    assert not isinstance(found, str)
    texts = [t.text or "" for t in drawn(calendar_chart(found)).iter(f"{SVG}text")]
    assert "last safe day 01 Apr 2027" in texts


# ------------------------------------------------------------------ the panel


def test_it_opens_with_caution_and_verdict(panel):
    assert CAUTION in panel.caution.value
    assert "FALLS SHORT by 20.2 mm" in panel.verdict.value
    assert "foot, north face" in panel.verdict.value


def test_sliders_change_map_and_cut_and_mark_answers_stale(panel):
    before = panel.map.value, panel.cut.value
    panel.y.value = -40
    assert "passes with 19.8 mm to spare" in panel.verdict.value
    assert panel.map.value != before[0]
    assert panel.cut.value != before[1]
    assert "another setting" in panel.said.value
    assert "stale" in panel.answers._dom_classes
    panel.answer()
    assert panel.said.value == ""
    assert "stale" not in panel.answers._dom_classes


def test_as_planned_sets_everything_back(panel):
    panel.moisture.index = 15
    panel.drift.value = 30
    panel.reset.click()
    assert panel.choice.setting == Setting()
    assert (panel.moisture.index, panel.drift.value) == (0, 0)


def test_moisture_on_the_slider_is_moisture_on_the_bench(panel):
    panel.moisture.value = "+4 %"
    assert panel.choice.setting.moisture == pytest.approx(0.04)
    panel.moisture.value = "-8 %"
    assert panel.choice.setting.moisture == pytest.approx(-0.08)


@pytest.mark.parametrize("tab", TABS)
def test_every_tab_answers(panel, tab):
    panel.tab.value = tab
    assert len(panel.answers.value) > 50


def test_variants_are_kept_and_recalled(panel):
    panel.drift.value = 12
    panel.name.value = "<b>drift</b>"
    panel.keep.click()
    assert "&lt;b&gt;drift&lt;/b&gt;" in panel.said.value
    panel.reset.click()
    panel.variant.value = "<b>drift</b>"
    assert panel.choice.setting.drift == pytest.approx(0.012)
    panel.keep.click()
    assert "already" in panel.said.value


def test_the_cheapest_cure_comes_first(panel):
    assert panel.cheapest.startswith("pare 25 mm off the north side of foot")


def test_movement_that_is_not_known_is_said():
    bare = framing()
    species = tuple(
        s.model_copy(update={"shrinkage_tangential": None}) for s in bare.plan.species
    )
    plan = bare.plan.model_copy(update={"species": species})
    bench = replace(bare.benches[0], plan=plan, shelf={})
    choice = FramerChoice(framing=replace(bare, plan=plan, benches=(bench,)))
    choice = choice.turned(Setting(moisture=0.04))
    said = verdict_html(choice, choice.gaps)
    assert "NOT EVALUATED" in said
    assert "own swelling stands" in said


def test_a_hang_that_is_not_known_is_not_evaluated():
    bare = framing(foot=0.0)
    travels = tuple(replace(travel, unknown="it topples") for travel in bare.benches[0].travels)
    bench = replace(bare.benches[0], travels=travels)
    choice = FramerChoice(framing=replace(bare, benches=(bench,)))
    said = verdict_html(choice, choice.gaps)
    assert "NOT EVALUATED" in said
    assert "it topples" in said
    assert "passes" not in said
    rows = tolerance_sheet(bench, Setting(), ()).rows
    assert {row[3] for row in rows} == {"not evaluated"}


# ------------------------------------------------------------------ the sheets


def test_the_tolerance_sheet_holds_a_row_for_each_face():
    bench = bench_of(foot=0.64)
    table = tolerance_sheet(bench, Setting(), face_chances(bench, Setting(), samples=1000))
    rows = {row[1]: dict(zip(table.heads, row, strict=True)) for row in table.rows}
    assert set(rows) == {"north", "east", "south", "west"}
    north = rows["north"]
    assert north["verdict"] == "falls short"
    assert north["member"] == "foot"
    assert north["least gap [mm]"] == 10.0
    assert north["nominal reach [mm]"] == 2890.0
    # 0.2 m of leg at 0.25 for each, 4 and 8 %.
    assert (north["swelling at +4 % [mm]"], north["swelling at +8 % [mm]"]) == (2.0, 4.0)
    assert north["left at worst [mm]"] == pytest.approx(10 - 3 - 6 - 4, abs=0.05)
    assert rows["south"]["verdict"] == "passes"
    assert SHEET_CAUTION in table.notes


def test_a_step_of_the_masonry_is_no_taper():
    shims = [
        Shim(face=Face.NORTH, height=17.8, gap=0.271, packing=0.176, taper=-1.38),
        Shim(face=Face.NORTH, height=17.9, gap=0.09, packing=-0.005, taper=-0.0033),
        Shim(face=Face.NORTH, height=18.5, gap=0.131, packing=0.036, taper=None),
    ]
    rows = shim_sheet("base", shims).rows
    assert [row[4] for row in rows] == ["step", -3.3, None]
    assert [row[3] for row in rows] == [176.0, None, 36.0]
    assert [row[5] for row in rows] == [None, 5.0, None]


def test_an_empty_cutting_list_says_why():
    assert "Nothing need be pared" in pare_sheet("base", (), short=False).notes[0]
    assert "No paring" in pare_sheet("base", (), short=True).notes[0]


def test_everything_is_written_as_workbook_and_csv(tmp_path):
    paths = write_framing(framing(), tmp_path)
    names = [path.name for path in paths]
    assert names[0] == "framing.xlsx"
    assert "tolerance-belfry.csv" in names
    sheets = load_workbook(paths[0]).sheetnames
    assert sheets == [table.name for table in framing_tables(framing())]
    text = (tmp_path / "pare-belfry.csv").read_text(encoding="utf-8-sig")
    assert re.search(r"foot,foot,north,25,10,30\.2", text)
    with pytest.raises(FileExistsError):
        write_framing(framing(), tmp_path)


def test_a_million_samples_are_told_beside_the_three_ways_to_add():
    panel = FramerPanel(framing(foot=0.0))
    panel.proven()
    said = panel.answers.value
    assert panel.tab.value == "Chance"
    assert "1,000,000 are proved to keep off the stone, 0 touch it" in said
    assert "by root-sum-square" in said
    assert "Share of the variance" in said
    assert not panel.prove.disabled


def test_a_pared_section_cannot_be_proved_as_drawn(panel):
    pared = (Pared(mark="foot", face=Face.NORTH, depth=0.025),)
    panel.show(panel.choice.turned(Setting(pared=pared)))
    panel.proven()
    assert "NOT EVALUATED" in panel.answers.value
