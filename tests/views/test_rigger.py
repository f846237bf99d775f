"""The rigger's panel and drawings, callbacks called as the browser would call them."""

import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from tests.plans.factory import tiny_plan
from towerlift.checks import ALL_CHECKS
from towerlift.checks.case import Case
from towerlift.checks.clearance import check_clearance
from towerlift.drawings.leads import LeadPlan, lead_plan
from towerlift.drawings.tackles import ForceStrip, force_strip
from towerlift.findings import worst_first
from towerlift.mechanics.levelling import Call
from towerlift.motion import follow_stages
from towerlift.nesting.pairs import Workshop
from towerlift.panels import RiggerPanel
from towerlift.panels.rigging_choice import call_in_words
from towerlift.panels.words import CAUTION
from towerlift.plan import read_plan
from towerlift.rig import hang_curves
from towerlift.shapes import build_shapes

FOLDER = Path(__file__).parents[2] / "meshes" / "tidewatch"


def outcome_of(plan, folder):
    """All that the panel looks at, without the gaps along the travel."""
    shapes, raise_ = build_shapes(plan, folder), follow_stages(plan)
    shop = Workshop(plan=plan, shapes=shapes, raise_=raise_)
    case = Case(
        plan=plan,
        shapes=shapes,
        raise_=raise_,
        hangs=hang_curves(plan, shapes, raise_),
        shop=shop,
    )
    found = [
        each for check in ALL_CHECKS if check is not check_clearance for each in check(case)
    ]
    return SimpleNamespace(
        plan=plan,
        shapes=shapes,
        raise_=raise_,
        hangs=case.hangs,
        nesting=SimpleNamespace(workshop=shop),
        findings=worst_first(found),
    )


@pytest.fixture(scope="module")
def draft():
    return outcome_of(read_plan(FOLDER / "plan.toml"), FOLDER)


@pytest.fixture
def panel(draft):
    return RiggerPanel(draft)


def go_to(panel, words):
    label = next(each for each, _ in panel.passage.options if each.startswith(words))
    panel.passage.value = dict(panel.passage.options)[label]


def reading(panel, what):
    found = [each for each in panel.view.readings if each.what == what]
    assert len(found) == 1, what
    return found[0]


def test_it_opens_where_stability_is_least(panel, draft):
    least = min(float(curve.ratio.min()) for curve in draft.hangs)
    curve = panel.bench.curve(panel.choice.passage)
    assert float(curve.ratio.min()) == least
    assert CAUTION in panel.caution.value
    assert panel.widget.children[0] is panel.caution


def test_every_number_has_its_source(panel):
    for words in ("L1: spire 0.05", "L2: belfry 13.95", "L4: belfry 15.09"):
        go_to(panel, words)
        assert panel.view.readings
        for each in panel.view.readings:
            assert each.source.strip()
            assert each.source.split()[0] in panel.numbers.value


def test_a_lost_rope_topples_l1(panel):
    go_to(panel, "L1: spire 0.05")
    assert panel.verdict.value == "<h4>hangs free</h4>"
    panel.lost.value = "T4"
    assert "NO REST" in panel.verdict.value
    assert "no numbers to give" in panel.numbers.value
    panel.lost.value = ""
    assert "hangs free" in panel.verdict.value


def test_the_sliders_change_the_numbers(panel):
    go_to(panel, "L2: belfry 13.95")
    before = reading(panel, "corners, mm").value
    panel.behind.value = "K2"
    panel.lag.value = 40
    behind = reading(panel, "corners, mm").value
    assert behind != before
    assert "heave pawls: " in reading(panel, "the call").value
    panel.gust.value = 11
    assert reading(panel, "nearest").value != ""
    assert reading(panel, "corners, mm").value != behind


def test_friction_that_locks_a_corner_lost_is_called_a_jam(panel, draft):
    go_to(panel, "S6: spire 23.75")
    panel.heel.value = panel.heel.max
    panel.lost.value = "T2"
    panel.friction.value = 0.1
    assert "JAMS" not in panel.verdict.value
    easy = pull(panel)
    panel.friction.value = 0.4
    assert "JAMS" in panel.verdict.value or pull(panel) > easy


def pull(panel):
    found = re.search(r"([\d.]+) kN", reading(panel, "hardest capstan").value)
    assert found is not None
    return float(found.group(1))


def test_another_haul_starts_calm_and_names_its_own_capstans(panel):
    go_to(panel, "L2: belfry 13.95")
    panel.gust.value = 15
    go_to(panel, "S4: spire 21.85")
    assert panel.gust.value == 0
    assert [mark for _, mark in panel.behind.options] == ["", "K2", "K4", "K6", "K8"]
    assert panel.heel.min <= panel.heel.value <= panel.heel.max


def test_findings_of_the_haul_are_listed_and_told(panel):
    go_to(panel, "L2: belfry 13.95")
    lines = [label for label, _ in panel.findings.options]
    assert any("coils" in line for line in lines)
    number = next(n for n, line in enumerate(lines) if "coils" in line and "81" in line)
    panel.findings.value = number
    assert "M5" in panel.detail.value
    assert "Limit by:" in panel.detail.value


def test_plan_of_leads(panel):
    go_to(panel, "L2: belfry 13.95")
    svg = panel.leads.value
    for role, count in (("fall", 8), ("resultant", 8), ("capstan", 8), ("snap-back", 8)):
        assert svg.count(f'class="{role}"') == count
    assert svg.count('class="ring"') == 16
    panel.behind.value = "K2"
    panel.lag.value = 20
    assert panel.leads.value != svg


def test_plan_without_leads_says_so():
    plan = tiny_plan()
    svg = lead_plan(plan, (), LeadPlan(width=300, height=300))
    assert "does not place its lead blocks" in svg
    assert svg.count('class="capstan"') == 8


def test_force_strip_draws_what_is_known():
    heels = np.linspace(0, 10, 21)
    broken = np.where(heels > 5, np.nan, 3.0)
    svg = force_strip(
        ForceStrip(
            title="Pull",
            unit="kN",
            heels=heels,
            curves=[("whole", heels), ("broken", broken), ("none", np.full(21, np.inf))],
            limit=8.0,
            heel=2.5,
        )
    )
    lines = re.findall(r'points="([^"]*)"[^>]*class="force"', svg)
    assert [len(line.split()) for line in lines] == [21, 11, 0]
    assert svg.count('class="limit"') == 1
    assert "2.50 m" in svg
    assert "nan" not in svg
    assert "inf" not in svg.replace("infinity", "")


def test_the_call_in_words():
    call = Call(pawls=np.array([0, 0, 2, 1]), level=0.02, twist=0.0, left=0.001)
    words = call_in_words(call, ["NE", "SE", "SW", "NW"])
    assert words == "NE, SE hold; heave pawls: SW 2, NW 1"
    level = replace(call, pawls=np.zeros(4, dtype=int))
    assert call_in_words(level, ["NE", "SE", "SW", "NW"]).startswith("all hold")
