"""Ropes examined, ends made fast, blocks within their rating: inside, on, outside, unknown."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from tests.unit.checks.test_rigging_checks import FAIL, NOT, PASS, case_of, changed, named
from towerlift.checks.gear import check_gear
from towerlift.mechanics.tackle import raising_advantage

EXAMINED = "time since a rope was examined"
SPLICED, KNOTTED = "derating with an eye splice", "derating with a knot"
RATED = "load over the rating of a block or shackle"


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    return case_of(tmp_path_factory.mktemp("plan"))


def with_coils(case, **update):
    coils = tuple(coil.model_copy(update=update) for coil in case.plan.coils)
    return replace(case, plan=case.plan.model_copy(update={"coils": coils}))


def with_hardware(case, *hardware):
    tackles = tuple(t.model_copy(update={"hardware": hardware}) for t in case.plan.tackles)
    return replace(case, plan=case.plan.model_copy(update={"tackles": tackles}))


def first_day(case):
    curve = case.hangs[0]
    begins = case.raise_.passages[curve.passage].begins
    return case.plan.site.day_1 if begins is None else begins.date()


@pytest.mark.parametrize(
    ("days", "verdict"), [(364, PASS), (365, PASS), (366, FAIL), (-1, NOT), (None, NOT)]
)
def test_a_rope_is_examined_within_the_year(sound, days, verdict):
    examined = None if days is None else first_day(sound) - timedelta(days=days)
    case = with_coils(sound, examined=examined)
    assert named(check_gear(case), EXAMINED)[0].verdict is verdict


def test_the_rope_longest_unexamined_is_named(sound):
    case = with_coils(sound, examined=first_day(sound))
    coils = list(case.plan.coils)
    coils[2] = coils[2].model_copy(update={"examined": date(2020, 1, 1)})
    case = replace(case, plan=case.plan.model_copy(update={"coils": tuple(coils)}))
    finding = named(check_gear(case), EXAMINED)[0]
    assert finding.verdict is FAIL
    assert coils[2].tag in finding.why
    assert "2020-01-01" in finding.why


@pytest.mark.parametrize(
    ("end", "limit", "share", "verdict"),
    [
        ("eye splice", SPLICED, 0.89, PASS),
        ("eye splice", SPLICED, 0.90, PASS),
        ("eye splice", SPLICED, 0.91, FAIL),
        ("knot", KNOTTED, 0.39, PASS),
        ("knot", KNOTTED, 0.40, PASS),
        ("knot", KNOTTED, 0.41, FAIL),
        (None, SPLICED, 0.5, NOT),
    ],
)
def test_an_end_takes_its_share_of_the_rope(sound, end, limit, share, verdict):
    case = with_coils(sound, end=end, derating=share)
    assert all(f.verdict is verdict for f in named(check_gear(case), limit))


def rated(case, place, value):
    other = {"top": "moving", "moving": "top"}[place]
    one = case.plan.tackles[0].hardware[0]
    return with_hardware(
        case,
        one.model_copy(update={"place": place, "rated": value}),
        one.model_copy(update={"place": other, "rated": 1e9}),
    )


@pytest.mark.parametrize("place", ["top", "moving"])
@pytest.mark.parametrize(("more", "verdict"), [(1.001, PASS), (1.0, PASS), (0.999, FAIL)])
def test_a_block_bears_its_load_and_the_top_block_the_fall_too(sound, place, more, verdict):
    load = 10_000.0
    case = changed(sound, tensions=load)
    lift = case.plan.lifts[0]
    pattern = case.plan.tackles[0]
    # Mass factor 1.1 is the usual one; the sections' own tolerance is less.
    hung = load * lift.worst_corner * (1 + lift.friction) * 1.1
    fall = hung / raising_advantage(pattern.parts, pattern.sheave_ratio)
    bears = hung + fall if place == "top" else hung
    case = rated(case, place, bears * more)
    haul = [f for f in named(check_gear(case), RATED) if f.stage == case.plan.stages[0].name]
    found = haul or named(check_gear(case), RATED)[:1]
    assert found[0].verdict is verdict
    assert f"at the {place} block" in found[0].why


@pytest.mark.parametrize("place", ["top", "moving"])
def test_an_end_of_the_tackle_without_iron_is_not_evaluated(sound, place):
    one = sound.plan.tackles[0].hardware[0].model_copy(update={"place": place})
    found = named(check_gear(with_hardware(sound, one)), RATED)
    assert all(f.verdict is NOT for f in found)
    missing = {"top": "moving", "moving": "top"}[place]
    assert all(f"its {missing} block" in f.why for f in found)


def test_no_rest_is_no_load(sound):
    case = changed(sound, tensions=np.nan)
    assert all(f.verdict is NOT for f in named(check_gear(case), RATED))


def test_a_haul_that_was_not_reckoned_is_seen(sound):
    found = list(check_gear(replace(sound, hangs=())))
    assert found
    assert all(f.verdict is NOT for f in found)
