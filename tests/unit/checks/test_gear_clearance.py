"""Gear past gear and blocks past timber: inside the limit, on it, outside, with no value."""

import pytest

from tests.plans.factory import tiny_plan
from towerlift.checks import gear_clearance
from towerlift.checks.case import Case
from towerlift.checks.gear_clearance import check_gear_clearance
from towerlift.findings import Verdict
from towerlift.motion import follow_stages
from towerlift.rig.line_ways import GearGap, HaulGear
from towerlift.shapes import build_shapes

PASS, FAIL, NOT = Verdict.PASS, Verdict.FAIL, Verdict.NOT_EVALUATED
STAGE, LIFT = "belfry up", "belfry lift"
HOLE = "not seen: hole 1 in the scan, north wall, z 5.00 to 6.00 m"


def gap(at, *, moves=0.01, certified=True, other="the top block of T2"):
    return GearGap(
        one="the fall of T1",
        other=other,
        gap=at,
        certified=certified,
        moves=moves,
        heel=3.5,
        where=(1.0, 2.0, 12.25),
    )


def found(tmp_path, monkeypatch, nearest, *, which="gear_ways", **more):
    """The finding on one haul, as if that had been reckoned."""
    changes = {key: more.pop(key) for key in ("limits", "overrules", "people") if key in more}
    plan = tiny_plan(**changes)
    case = Case(plan=plan, shapes=build_shapes(plan, tmp_path), raise_=follow_stages(plan))
    gear = HaulGear(stage=STAGE, lift=LIFT, gap=nearest, **more)
    for name in ("gear_ways", "block_ways"):
        rows = [gear] if name == which else []
        monkeypatch.setattr(gear_clearance, name, lambda shop, allowed, rows=rows: rows)
    (finding,) = check_gear_clearance(case)
    return finding


@pytest.mark.parametrize("which", ["gear_ways", "block_ways"])
@pytest.mark.parametrize(
    ("left", "verdict"), [(0.0301, PASS), (0.03, PASS), (0.0299, FAIL), (-0.016, FAIL)]
)
def test_inside_on_and_outside(tmp_path, monkeypatch, left, verdict, which):
    finding = found(tmp_path, monkeypatch, gap(left), which=which)
    assert finding.verdict is verdict
    # 20 mm clear, and 10 by which they move.
    assert finding.limit.value == pytest.approx(30.0)
    assert (finding.subject, finding.stage) == (LIFT, STAGE)
    assert (finding.heel, finding.where) == (3.5, (1.0, 2.0, 12.25))
    assert bool(finding.remedy) is (verdict is FAIL)
    meets = "fouls" if left < 0 else "comes nearest to"
    assert f"the fall of T1 {meets} the top block of T2 at z 12.25 m" in finding.why


def test_nothing_near_passes(tmp_path, monkeypatch):
    finding = found(tmp_path, monkeypatch, None)
    assert finding.verdict is PASS
    assert finding.value == pytest.approx(250.0)
    assert "nothing comes nearer than 250 mm" in finding.why


def test_what_is_not_known_has_no_verdict(tmp_path, monkeypatch):
    uncertain = found(tmp_path, monkeypatch, gap(0.5, certified=False))
    assert uncertain.verdict is NOT
    assert "could not certify" in uncertain.why
    for nearest in (None, gap(0.1)):
        finding = found(tmp_path, monkeypatch, nearest, unknown="no sheave in the plan")
        assert finding.verdict is NOT
        assert "no sheave in the plan" in finding.why
    # What fouls does so however far it moves.
    assert found(tmp_path, monkeypatch, gap(-0.01), unknown="no sway").verdict is FAIL


def test_a_block_that_relies_on_a_hole_of_the_scan_has_no_verdict(tmp_path, monkeypatch):
    hidden = gap(0.10, other=HOLE)
    for seen in (None, gap(0.12), gap(0.12, certified=False)):
        finding = found(tmp_path, monkeypatch, seen, hidden=hidden, which="block_ways")
        assert finding.verdict is NOT
        assert f"relies on what the scan did not see: {HOLE}" in finding.why
    # What was seen fails already, or is nearer than the hole.
    fails = found(tmp_path, monkeypatch, gap(0.01), hidden=hidden, which="block_ways")
    assert fails.verdict is FAIL
    nearer = found(tmp_path, monkeypatch, gap(0.05), hidden=hidden, which="block_ways")
    assert nearer.verdict is PASS
    assert nearer.value == pytest.approx(50.0)


def test_the_plan_may_ask_for_more(tmp_path, monkeypatch):
    limits = [
        {"limit": "ropes past ropes and blocks", "value": "40 mm", "source": "the rigger"}
    ]
    finding = found(tmp_path, monkeypatch, gap(0.045), limits=limits)
    assert finding.limit.value == pytest.approx(50.0)
    assert finding.verdict is FAIL
