"""Checks of rigging, each limit inside, on, outside, and with no value."""

from dataclasses import replace

import numpy as np
import pytest

from tests.plans.factory import tiny_plan
from towerlift.checks.case import Case
from towerlift.checks.centre_of_gravity import check_centre_of_gravity
from towerlift.checks.rope_length import check_rope_length
from towerlift.checks.slings import check_slings
from towerlift.checks.two_blocking import check_two_blocking
from towerlift.findings import Verdict
from towerlift.motion import follow_stages
from towerlift.rig import hang_curves
from towerlift.shapes import build_shapes

PASS, FAIL, NOT = Verdict.PASS, Verdict.FAIL, Verdict.NOT_EVALUATED


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    return case_of(tmp_path_factory.mktemp("plan"))


def case_of(folder, **changes):
    plan = tiny_plan(**changes)
    shapes, raise_ = build_shapes(plan, folder), follow_stages(plan)
    return Case(
        plan=plan, shapes=shapes, raise_=raise_, hangs=hang_curves(plan, shapes, raise_)
    )


def changed(case, **values):
    """The case with quantities of every curve set to one value throughout."""
    curves = [
        replace(
            curve,
            **{
                name: np.full_like(getattr(curve, name), value)
                for name, value in values.items()
            },
        )
        for curve in case.hangs
    ]
    return replace(case, hangs=tuple(curves))


def with_limits(case, **limits):
    written = [
        {"limit": name.replace("_", " "), "value": value, "source": "the engineer"}
        for name, value in limits.items()
    ]
    plan = case.plan.model_validate(case.plan.model_dump(mode="json") | {"limits": written})
    return replace(case, plan=plan)


def named(findings, limit):
    found = [finding for finding in findings if finding.why.startswith(f"{limit}: ")]
    assert found, limit
    return found


def guided(case, yes):
    lifts = tuple(lift.model_copy(update={"guided": yes}) for lift in case.plan.lifts)
    return replace(case, plan=case.plan.model_copy(update={"lifts": lifts}))


@pytest.mark.parametrize(
    ("on_guides", "limit", "ratio", "verdict"),
    [
        (False, "stability ratio unguided", 2.01, PASS),
        (False, "stability ratio unguided", 2.0, PASS),
        (False, "stability ratio unguided", 1.99, FAIL),
        (True, "stability ratio guided", 1.51, PASS),
        (True, "stability ratio guided", 1.5, PASS),
        (True, "stability ratio guided", 1.49, FAIL),
        (False, "stability ratio unguided", np.inf, PASS),
    ],
)
def test_stability_ratio(sound, on_guides, limit, ratio, verdict):
    case = guided(changed(sound, ratio=ratio), on_guides)
    for finding in named(check_centre_of_gravity(case), limit):
        assert finding.verdict is verdict
        assert bool(finding.remedy) is (verdict is FAIL)
        assert finding.limit.source


@pytest.mark.parametrize(
    ("ratio", "verdict"), [(1.01, PASS), (1.0, PASS), (0.99, FAIL), (0.0, FAIL)]
)
def test_one_line_lost(sound, ratio, verdict):
    case = changed(sound, lost_ratio=ratio, lost_tension=1e4)
    for finding in named(check_centre_of_gravity(case), "stability with one line lost"):
        assert finding.verdict is verdict


def test_single_tackles_at_the_corners_fail_and_say_so(sound):
    found = named(check_centre_of_gravity(sound), "stability with one line lost")
    spire = next(each for each in found if each.subject == "spire")
    assert spire.verdict is FAIL
    assert spire.value == 0
    assert "topples if tackle spire lift.1 is lost" in spire.why
    assert spire.remedy[0].startswith("two tackles a corner")


def test_guided_lifts_are_not_asked_about_a_lost_line(sound):
    found = list(check_centre_of_gravity(guided(sound, True)))
    assert not any(each.why.startswith("stability with one line lost") for each in found)


def test_worst_height_is_named(sound):
    found = named(check_centre_of_gravity(sound), "stability ratio unguided")
    belfry = next(each for each in found if each.subject == "belfry")
    # Just after the pick-up, not at the start.
    assert belfry.heel == pytest.approx(8.7)
    assert belfry.why.startswith("stability ratio unguided: belfry with spire: ")
    x, y, z = belfry.where
    assert (x, y) == pytest.approx((0, 0), abs=1e-9)
    assert z > belfry.heel


def test_crews_that_push_by_feel_fail(tmp_path):
    lifts = tiny_plan().model_dump(mode="json")["lifts"]
    case = case_of(tmp_path, lifts=[body | {"paced": "feel"} for body in lifts])
    for finding in named(check_centre_of_gravity(case), "stability ratio unguided"):
        assert finding.verdict is FAIL
        assert "push by feel" in finding.why
        assert "e-fold in about" in finding.why
        assert finding.remedy == ("pace the crews by pawl count, so that the ropes are held",)


def test_equalised_falls_fail(tmp_path):
    lifts = tiny_plan().model_dump(mode="json")["lifts"]
    case = case_of(tmp_path, lifts=[body | {"equalised": "all"} for body in lifts])
    for finding in named(check_centre_of_gravity(case), "stability ratio unguided"):
        assert finding.verdict is FAIL
        assert "equaliser" in finding.why
    for finding in named(check_centre_of_gravity(case), "corner share"):
        assert finding.verdict is NOT


@pytest.mark.parametrize(
    ("loads", "verdict"),
    [
        ((114, 86, 100, 100), PASS),
        ((115, 85, 100, 100), PASS),
        ((116, 100, 84, 100), FAIL),
        ((np.nan, np.nan, np.nan, np.nan), NOT),
    ],
)
def test_corner_share(sound, loads, verdict):
    curves = tuple(
        replace(each, tensions=np.tile(np.array(loads, dtype=float), (len(each.heels), 1)))
        for each in sound.hangs
    )
    for finding in named(check_centre_of_gravity(replace(sound, hangs=curves)), "corner share"):
        assert finding.verdict is verdict
    # The limit can be set by the plan, in its own unit.
    case = with_limits(replace(sound, hangs=curves), corner_share="20 %")
    for finding in named(check_centre_of_gravity(case), "corner share"):
        assert finding.limit.value == pytest.approx(20)
        assert finding.limit.source == "the engineer"


def test_odd_coil_is_named_first(tmp_path):
    coils = tiny_plan().model_dump(mode="json")["coils"]
    coils[2] |= {"material": "manila", "diameter": "24 mm", "axial_stiffness": "131 kN"}
    case = case_of(tmp_path, coils=coils)
    # The belfry with the spire on it finds no rest at all, and so has no shares.
    found = named(check_centre_of_gravity(case), "corner share")
    spires = [each for each in found if each.subject == "spire"]
    assert spires
    for finding in spires:
        assert finding.verdict is FAIL
        assert finding.remedy[0].startswith("take out coil coil 3 (24 mm manila, EA 131 kN)")
    lost = named(check_centre_of_gravity(case), "stability with one line lost")
    assert any("coil coil 3" in text for text in lost[0].remedy)


def test_offset_load_is_to_be_centred(sound):
    curves = tuple(
        replace(
            each,
            centre=each.centre + np.array([0.1, -0.05, 0.0]),
            tensions=np.tile([150.0, 50.0, 100.0, 100.0], (len(each.heels), 1)),
        )
        for each in sound.hangs
    )
    for finding in named(check_centre_of_gravity(replace(sound, hangs=curves)), "corner share"):
        assert finding.remedy[0].startswith("move the lift points by (100, -50) mm")


def test_what_more_weight_would_do_is_said(sound):
    for finding in named(check_centre_of_gravity(sound), "stability ratio unguided"):
        assert finding.value is not None
        assert f"{finding.value / 1.08:.2f} if it weighs 8 % more" in finding.why


@pytest.mark.parametrize(("x", "verdict"), [(1.7, PASS), (1.75, PASS), (1.76, FAIL)])
def test_centre_inside_the_lift_points(sound, x, verdict):
    spire = [each for each in sound.hangs if each.hauled == ("spire",)]
    curves = tuple(
        replace(each, centre=each.centre * [0, 0, 1] + [x, 0, 0]) if each in spire else each
        for each in spire
    )
    others = tuple(each for each in sound.hangs if each.hauled != ("spire",))
    case = replace(sound, hangs=curves + others)
    found = named(check_centre_of_gravity(case), "centre inside lift points")
    assert {each.verdict for each in found if each.subject == "spire"} == {verdict}


def test_lift_rigged_for_another_section_never_passes(sound):
    case = replace(
        changed(
            sound, lower=np.nan, lengths=np.nan, ratio=0.0, lost_ratio=0.0, tensions=np.nan
        ),
    )
    found = [
        *check_centre_of_gravity(case),
        *check_two_blocking(case),
        *check_rope_length(case),
    ]
    assert found
    assert PASS not in {each.verdict for each in found}


@pytest.mark.parametrize(
    "check", [check_centre_of_gravity, check_two_blocking, check_rope_length]
)
def test_haul_without_curves_is_not_evaluated(sound, check):
    found = list(check(replace(sound, hangs=())))
    assert found
    assert {each.verdict for each in found} == {NOT}
    assert all("not reckoned" in each.why for each in found)


@pytest.mark.parametrize(
    "check", [check_centre_of_gravity, check_two_blocking, check_rope_length]
)
def test_plan_that_hauls_nothing_is_not_evaluated(sound, check):
    still = replace(
        sound,
        raise_=replace(
            sound.raise_,
            passages=tuple(each for each in sound.raise_.passages if not each.moving),
        ),
        hangs=(),
    )
    (finding,) = check(still)
    assert finding.verdict is NOT
    assert "nothing is hauled" in finding.why


@pytest.mark.parametrize(
    ("length", "verdict"),
    [(1.81, PASS), (1.8, PASS), (1.79, FAIL), (np.nan, NOT)],
)
def test_two_blocking(sound, length, verdict):
    """Blocks meet at 1.0 m; 0.8 m must be left."""
    for finding in check_two_blocking(changed(sound, lengths=length)):
        assert finding.verdict is verdict
        assert bool(finding.remedy) is (verdict is FAIL)


def test_top_block_below_the_lift_point_is_two_blocked(sound):
    upside_down = tuple(
        replace(each, upper=each.lower, lower=each.upper) for each in sound.hangs
    )
    for finding in check_two_blocking(replace(sound, hangs=upside_down)):
        assert finding.verdict is FAIL
        assert finding.value is not None
        assert finding.value < -1


@pytest.mark.parametrize(
    ("longest", "verdict"),
    [(29.4, PASS), (29.5, PASS), (29.6, FAIL), (np.nan, NOT)],
)
def test_rope_length(sound, longest, verdict):
    """170 m of coil less 4 parts and 42 m of fall must leave 10 m."""
    for finding in check_rope_length(changed(sound, lengths=longest)):
        assert finding.verdict is verdict


def test_overrule_by_a_named_person_takes_effect(sound):
    body = sound.plan.model_dump(mode="json") | {
        "overrules": [
            {
                "limit": "stability with one line lost",
                "subject": "spire",
                "value": "0",
                "by": "Ansa Morrow",
                "note": "tag lines hold it at every height",
            }
        ]
    }
    case = replace(sound, plan=sound.plan.model_validate(body))
    found = named(check_centre_of_gravity(case), "stability with one line lost")
    for finding in found:
        assert finding.verdict is (PASS if finding.subject == "spire" else FAIL)


# ---------------------------------------------------------------- slings


def bridle(**changes):
    body = {
        "name": "bridle 1",
        "carries": "bell frame",
        "stage": "belfry built",
        "hook": ["0 m", "0 m", "3 m"],
        "lugs": [[f"{x} m", f"{y} m", "0 m"] for x, y in ((1, 1), (-1, 1), (-1, -1), (1, -1))],
        "centre": ["0 m", "0 m", "-0.5 m"],
        "rated": "20 kN",
        "source": "tag 7",
    }
    return body | changes


def slung(sound, **changes):
    body = sound.plan.model_dump(mode="json") | {"slings": [bridle(**changes)]}
    return replace(sound, plan=sound.plan.model_validate(body))


# 2 t of bell frame and 8 per cent over on two legs of sqrt(11) m that rise 3 m.
TENSION = float(2000 * 1.08 * 9.80665 / 2 * np.sqrt(11) / 3)


@pytest.mark.parametrize(
    ("share_of_tension", "verdict"), [(1.001, PASS), (1.0, PASS), (0.999, FAIL)]
)
def test_sling_rating_of_four_legs_on_two(sound, share_of_tension, verdict):
    # A breath above, so that rounding does not decide what is exactly on the limit.
    rated = TENSION * share_of_tension * (1 + 1e-12)
    (finding,) = named(check_slings(slung(sound, rated=f"{rated} N")), "sling rating")
    assert finding.verdict is verdict
    assert "two reckoned to carry" in finding.why
    assert finding.subject == "bell frame in bridle 1"


def test_three_carrying_legs_are_said(sound):
    case = slung(sound, carrying_legs=3, rated=f"{TENSION} N")
    (finding,) = named(check_slings(case), "sling rating")
    assert finding.value == pytest.approx(1.5)
    assert "three reckoned to carry" in finding.why


def test_share_and_stated_load_count(sound):
    half = slung(sound, share="50 %", rated=f"{TENSION} N")
    (finding,) = named(check_slings(half), "sling rating")
    assert finding.value == pytest.approx(2.0)
    stated = slung(sound, load="4 t", rated=f"{TENSION} N")
    (finding,) = named(check_slings(stated), "sling rating")
    assert finding.value == pytest.approx(0.5)


def test_slung_section_hangs_with_what_is_fitted(sound):
    case = slung(sound, carries="belfry", rated="1000 kN")
    (finding,) = named(check_slings(case), "sling rating")
    bare = case.shapes.sections["belfry"].mass
    fitted = bare.mass * (1 + bare.tolerance) + 2000 * 1.08
    tension = fitted * 9.80665 / 2 * np.sqrt(11) / 3
    assert finding.value == pytest.approx(1e6 / tension, rel=1e-9)


def test_slings_of_a_section_carry_what_it_picks_up(sound):
    """The belfry picks the spire up in this stage: its slings take both."""
    case = slung(sound, carries="belfry", stage="belfry up", rated="1000 kN")
    (finding,) = named(check_slings(case), "sling rating")
    sections = case.shapes.sections
    both = sections["belfry"].mass.mass + sections["spire"].mass.mass + 2000
    tension = both * 1.08 * 9.80665 / 2 * np.sqrt(11) / 3
    assert finding.value == pytest.approx(1e6 / tension, rel=1e-9)


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"carries": "base"}, "base is not on the site in stage belfry built"),
        ({"carries": "organ"}, "nothing is drawn or weighed that is called organ"),
    ],
)
def test_unknown_mass_is_not_evaluated(sound, changes, why):
    (finding,) = named(check_slings(slung(sound, **changes)), "sling rating")
    assert finding.verdict is NOT
    assert why in finding.why


def test_centre_outside_the_lugs_fails_and_is_not_rated(sound):
    found = list(check_slings(slung(sound, centre=["1.5 m", "0 m", "-0.5 m"])))
    (inside,) = named(found, "centre inside lugs")
    assert inside.verdict is FAIL
    assert inside.value == pytest.approx(-0.5)


@pytest.mark.parametrize(("x", "verdict"), [(0.99, PASS), (1.0, PASS), (1.01, FAIL)])
def test_centre_on_the_edge_of_the_lugs(sound, x, verdict):
    case = slung(sound, centre=[f"{x} m", "0 m", "-0.5 m"])
    (finding,) = named(check_slings(case), "centre inside lugs")
    assert finding.verdict is verdict


@pytest.mark.parametrize(
    ("reach", "verdict", "told"), [(2.99, PASS, 1), (3.01, FAIL, 2), (5.3, FAIL, 2)]
)
def test_sling_angle(sound, reach, verdict, told):
    """Two legs that rise 3 m are at 45 degrees when they reach 3 m."""
    lugs = [[f"{reach} m", "0 m", "0 m"], [f"-{reach} m", "0 m", "0 m"]]
    found = list(check_slings(slung(sound, lugs=lugs)))
    (finding,) = named(found, "sling angle")
    assert finding.verdict is verdict
    flattest = [each for each in found if each.why.startswith("flattest sling angle")]
    assert len(flattest) == told - 1
    for each in flattest:
        assert each.verdict is (FAIL if reach > 3 * np.sqrt(3) else PASS)


@pytest.mark.parametrize(("z", "verdict"), [(2.9, PASS), (3.1, FAIL)])
def test_hook_above_the_centre(sound, z, verdict):
    found = list(check_slings(slung(sound, centre=["0 m", "0 m", f"{z} m"])))
    (finding,) = named(found, "hook above centre")
    assert finding.verdict is verdict


@pytest.mark.parametrize(("z", "verdict"), [(-0.1, PASS), (0.0, PASS), (0.1, FAIL)])
def test_two_legs_need_their_lugs_above_the_centre(sound, z, verdict):
    lugs = [["1 m", "0 m", "0 m"], ["-1 m", "0 m", "0 m"]]
    found = list(check_slings(slung(sound, lugs=lugs, centre=["0 m", "0 m", f"{z} m"])))
    (finding,) = named(found, "hook above centre")
    assert finding.verdict is verdict
    (rating,) = named(found, "sling rating")
    assert (rating.verdict is NOT) is (z >= 0)


def test_hook_in_the_centre_is_not_evaluated(sound):
    found = list(check_slings(slung(sound, centre=["0 m", "0 m", "3 m"])))
    assert [each.verdict for each in found] == [NOT]
