"""Checks of ropes, coils and crews: each limit inside, on, outside and with no value."""

from dataclasses import replace

import numpy as np
import pytest

from tests.plans.factory import tiny_plan
from towerlift.checks.case import Case
from towerlift.checks.coils import check_coils
from towerlift.checks.crew import check_crew
from towerlift.checks.strength import check_strength
from towerlift.errors import PlanError
from towerlift.findings import Verdict
from towerlift.motion import follow_stages
from towerlift.plan.model import Plan
from towerlift.rig import hang_curves
from towerlift.shapes import build_shapes

PASS, FAIL, NOT = Verdict.PASS, Verdict.FAIL, Verdict.NOT_EVALUATED
# What one newton on a tackle is in the fall of four parts at 93 % a sheave.
ADVANTAGE = 0.93 + 0.93**2 + 0.93**3 + 0.93**4
KEPT = 112.5e3
OVER = 1.15 * 1.03 * 1.1


def case_of(folder, **changes):
    plan = tiny_plan(**changes)
    shapes, raise_ = build_shapes(plan, folder), follow_stages(plan)
    return Case(
        plan=plan, shapes=shapes, raise_=raise_, hangs=hang_curves(plan, shapes, raise_)
    )


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    lifts = [body | {"crew": "hands"} for body in dumped()["lifts"]]
    crews = [{"name": "hands", "need": 36, "signed": 60, "show_rate": "90 %"}]
    return case_of(tmp_path_factory.mktemp("plan"), lifts=lifts, crews=crews)


def dumped():
    body = tiny_plan().model_dump(mode="json")
    assert isinstance(body, dict)
    return body


def with_plan(case, **changes):
    body = case.plan.model_dump(mode="json") | changes
    return replace(case, plan=Plan.model_validate(body))


def with_curves(case, **values):
    curves = []
    for curve in case.hangs:
        fitted = {
            name: np.broadcast_to(np.asarray(value, dtype=float), getattr(curve, name).shape)
            for name, value in values.items()
        }
        curves.append(replace(curve, **fitted))
    return replace(case, hangs=tuple(curves))


def named(findings, limit):
    found = [each for each in findings if each.why.startswith(f"{limit}: ")]
    assert found, limit
    return found


def load_for(factor):
    """Load on a tackle at which its fall has a factor."""
    return KEPT * ADVANTAGE / factor / OVER


@pytest.mark.parametrize(
    ("factor", "verdict"), [(10.01, PASS), (10.0 + 1e-9, PASS), (9.99, FAIL), (np.nan, NOT)]
)
def test_rope_factor(sound, factor, verdict):
    case = with_curves(sound, tensions=load_for(factor), stretch=0.2)
    for found in named(check_strength(case), "rope factor"):
        assert found.verdict is verdict
        assert bool(found.remedy) is (verdict is FAIL)
        if found.value is not None:
            assert found.value == pytest.approx(factor)
            assert "certificate" in found.why


@pytest.mark.parametrize(("factor", "verdict"), [(8.01, PASS), (7.99, FAIL)])
def test_rope_factor_at_the_barrel(sound, factor, verdict):
    load = load_for(factor) * 0.93**2
    for found in named(
        check_strength(with_curves(sound, tensions=load, stretch=0.2)),
        "rope factor at the barrel",
    ):
        assert found.value == pytest.approx(factor)
        assert found.verdict is verdict


@pytest.mark.parametrize(("factor", "verdict"), [(7.01, PASS), (6.99, FAIL), (np.nan, NOT)])
def test_rope_factor_with_snatch(sound, factor, verdict):
    # 1 + sqrt(2 h / d), with what is on top of the load stretching the rope as well.
    drop = 2 * np.pi * 0.166 / 16 / 4
    stretch = 0.2
    phi = 1 + np.sqrt(2 * drop / (stretch * OVER))
    case = with_curves(sound, tensions=load_for(factor) / phi, stretch=stretch)
    for found in named(check_strength(case), "rope factor with snatch"):
        assert found.verdict is verdict
        if found.value is not None:
            assert found.value == pytest.approx(factor)
            assert "never under 2" in found.why


@pytest.mark.parametrize(
    ("factor", "verdict"), [(5.01, PASS), (4.99, FAIL), (0.0, FAIL), (np.nan, NOT)]
)
def test_rope_factor_with_a_tackle_lost(sound, factor, verdict):
    lost = np.inf if factor == 0 else load_for(factor)
    tensions = np.nan if np.isnan(factor) else 1e3
    case = with_curves(sound, tensions=tensions, lost_tensions=lost, stretch=0.2)
    for found in named(check_strength(case), "rope factor with a tackle lost"):
        assert found.verdict is verdict


@pytest.mark.parametrize(("factor", "verdict"), [(5.01, PASS), (4.99, FAIL)])
def test_a_sudden_loss_swings_as_far_again(sound, factor, verdict):
    peak, before = load_for(factor), 1e3
    case = with_curves(sound, tensions=before, lost_tensions=(peak + before) / 2, stretch=0.2)
    for found in named(check_strength(case), "rope factor with a tackle lost suddenly"):
        assert found.value == pytest.approx(factor)
        assert found.verdict is verdict


def test_mass_factor_is_at_least_the_tolerance(sound):
    before = named(check_strength(sound), "rope factor")[0].value
    chosen = [{"limit": "mass factor", "value": "1.0", "source": "weighed"}]
    after = named(check_strength(with_plan(sound, limits=chosen)), "rope factor")[0].value
    # The sections have not been weighed: their own 8 % stays.
    assert after == pytest.approx(before * 1.1 / 1.08)


@pytest.mark.parametrize(
    ("sheave", "verdict"),
    [("0.2561 m", PASS), ("0.256 m", PASS), ("0.255 m", FAIL), (None, NOT)],
)
def test_sheaves(sound, sheave, verdict):
    tackle = sound.plan.model_dump(mode="json")["tackles"][0]
    case = with_plan(sound, tackles=[tackle | ({"sheave": sheave} if sheave else {})])
    for found in named(check_strength(case), "sheave over rope diameter"):
        assert found.verdict is verdict


@pytest.mark.parametrize(
    ("stiffness", "verdict"),
    [("690 kN", PASS), ("759 kN", PASS), ("760 kN", FAIL), ("131 kN", FAIL)],
)
def test_a_coil_unlike_its_fellows(sound, stiffness, verdict):
    coils = dumped()["coils"]
    coils[2] |= {"axial_stiffness": stiffness}
    for found in named(check_coils(with_plan(sound, coils=coils)), "coil unlike its fellows"):
        assert found.verdict is verdict
        if verdict is FAIL:
            assert "coil coil 3 in tackle" in found.why
            assert found.remedy == (
                "find a coil like the others: no coil of the plan is better",
            )


def test_the_spare_is_roved_where_it_belongs(sound):
    coils = dumped()["coils"]
    spare = coils[0] | {"tag": "spare"}
    coils[2] |= {"axial_stiffness": "131 kN", "breaking_force": "36 kN"}
    case = with_plan(sound, coils=[*coils, spare])
    for found in named(check_coils(case), "coil unlike its fellows"):
        assert found.remedy[0].startswith("rove coil spare on tackle")
        assert found.remedy[0].endswith("in place of coil 3")
    # A spare that is too short is no spare.
    case = with_plan(sound, coils=[*coils, spare | {"length": "90 m"}])
    for found in named(check_coils(case), "coil unlike its fellows"):
        assert found.remedy[0].startswith("find a coil")


@pytest.mark.parametrize(
    ("width", "verdict"), [("34 mm", PASS), ("35 mm", FAIL), ("24 mm", FAIL)]
)
def test_a_coil_of_another_diameter(sound, width, verdict):
    coils = dumped()["coils"]
    coils[1] |= {"diameter": width}
    for found in named(check_coils(with_plan(sound, coils=coils)), "coil of another diameter"):
        assert found.verdict is verdict


@pytest.mark.parametrize(
    ("loads", "verdict"),
    [((1.2, 0.8, 1, 1), PASS), ((1.21, 0.79, 1, 1), FAIL), ((np.nan,) * 4, NOT)],
)
def test_overload_of_a_tackle(sound, loads, verdict):
    curves = tuple(
        replace(each, tensions=np.array(loads) * each.weight[:, None] / 4)
        for each in sound.hangs
    )
    for found in named(check_coils(replace(sound, hangs=curves)), "overload of a tackle"):
        assert found.verdict is verdict


def hands_for(load):
    pull = load * OVER / ADVANTAGE / 0.93**2
    return pull * 0.166 / (150 * 1.8 * 0.85)


@pytest.mark.parametrize(
    ("hands", "at_bars", "in_reserve"),
    [
        (7.01, PASS, PASS),
        (8.0, PASS, PASS),
        (8.01, FAIL, FAIL),
        (np.nan, NOT, None),
    ],
)
def test_hands(sound, hands, at_bars, in_reserve):
    load = hands / hands_for(1.0)
    findings = list(check_crew(with_curves(sound, tensions=load)))
    for found in named(findings, "hands at the bars"):
        assert found.verdict is at_bars
        assert bool(found.remedy) is (at_bars is FAIL)
    reserve = [each for each in findings if each.why.startswith("hands in reserve: ")]
    assert {each.verdict for each in reserve} == ({in_reserve} if in_reserve else set())


def capstans(case, **changes):
    body = case.plan.model_dump(mode="json")["capstans"]
    return with_plan(case, capstans=[each | changes for each in body])


@pytest.mark.parametrize(
    ("push", "verdict"), [("179 N", PASS), ("180 N", PASS), ("181 N", FAIL)]
)
def test_push(sound, push, verdict):
    case = capstans(with_curves(sound, tensions=1e4), push=push)
    for found in named(check_crew(case), "push at the bar"):
        assert found.verdict is verdict
        assert "Kodak" in found.limit.source


@pytest.mark.parametrize(
    ("walk", "verdict"), [("0.66 m/s", PASS), ("0.6667 m/s", FAIL), ("0.7 m/s", FAIL)]
)
def test_power(sound, walk, verdict):
    for found in named(check_crew(capstans(sound, walk=walk)), "power of a hand"):
        assert found.verdict is verdict


def test_walking(sound):
    found = {each.stage: each for each in named(check_crew(sound), "walking without relief")}
    # 15.3 m at 0.55 * 0.166 / 1.8 / 4 m/s; 4 * 1.8 / 0.166 m for every metre.
    up = found["spire up"]
    assert up.value == pytest.approx(15.3 / (0.55 * 0.166 / 1.8 / 4) / 60)
    assert f"walks {15.3 * 4 * 1.8 / 0.166:.0f} m" in up.why
    slow = capstans(sound, walk="0.36 m/s")
    verdicts = {each.verdict for each in named(check_crew(slow), "walking without relief")}
    assert verdicts == {PASS, FAIL}


@pytest.mark.parametrize(("need", "verdict"), [(37, PASS), (36, PASS), (35, FAIL)])
def test_crew_called_for(sound, need, verdict):
    crews = [{"name": "hands", "need": need, "signed": 60, "show_rate": "90 %"}]
    for found in named(check_crew(with_plan(sound, crews=crews)), "crew called for"):
        assert found.verdict is verdict


def test_a_lift_without_a_crew_is_not_passed(sound):
    case = with_plan(sound, lifts=dumped()["lifts"])
    for found in named(check_crew(case), "crew called for"):
        assert found.verdict is NOT


@pytest.mark.parametrize(
    ("crew", "verdict"),
    [
        ({"need": 19, "signed": 20, "show_rate": "100 %"}, PASS),
        ({"need": 20, "signed": 20, "show_rate": "95 %"}, FAIL),
        ({"need": 1, "signed": 1, "show_rate": "95 %"}, PASS),
        ({"need": 1, "signed": 1, "show_rate": "94.9 %"}, FAIL),
        ({"need": 2, "signed": 1}, FAIL),
        ({"need": 1, "signed": 0}, FAIL),
        ({"need": 2, "signed": 3, "shows": ["99 %", "99 %", "50 %"]}, PASS),
        ({"need": 2, "signed": 3, "shows": ["99 %", "50 %", "50 %"]}, FAIL),
    ],
)
def test_odds(sound, crew, verdict):
    case = with_plan(sound, crews=[{"name": "hands"} | crew])
    found = next(each for each in check_crew(case) if each.subject == "hands")
    assert found.verdict is verdict
    if "shows" in crew:
        assert "each by his own odds" in found.why


def test_crews_that_push_by_feel_lose_level(sound):
    by_feel = [body | {"paced": "feel", "crew": "hands"} for body in dumped()["lifts"]]
    case = with_plan(sound, lifts=by_feel)
    found = named(check_crew(case), "level kept between checks")
    assert {each.verdict for each in found} == {FAIL}
    assert all(each.remedy[0] == "pace the crews by pawl count" for each in found)
    often = [body | {"step": "0.02 m"} for body in by_feel]
    fine = named(check_crew(with_plan(sound, lifts=often)), "level kept between checks")
    assert PASS in {each.verdict for each in fine}
    # Paced by pawl count, the ropes are held, and nothing is asked.
    assert not any(each.why.startswith("level kept") for each in check_crew(sound))


def test_a_crew_that_is_not_there_is_told(tmp_path):
    from towerlift.plan import read_plan
    from towerlift.plan.starting import new_plan

    path = new_plan(tmp_path / "new")
    path.write_text(path.read_text().replace('crew = "capstan hands"', 'crew = "capstan hand"'))
    with pytest.raises(PlanError, match="capstan hand"):
        read_plan(path)
