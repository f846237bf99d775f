"""Checks of wind, overturning, guides, lowering and recovery on a small tower.

Each limit is tried just inside, on, just outside, and with no value.
"""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.plans.factory import assemble, at, hoist, install, lift, stage, tiny_plan
from towerlift.checks.case import Case
from towerlift.checks.guides import check_guides, shoe_curves
from towerlift.checks.lowering import check_lowering
from towerlift.checks.overturning import check_overturning
from towerlift.checks.recovery import check_recovery, drill_of, rehearsal
from towerlift.checks.recovery_card import card_lines, ways_out
from towerlift.checks.wind import check_wind, held_states
from towerlift.drawings.free_body import FreeBodyPicture, free_body
from towerlift.findings import Verdict
from towerlift.motion import follow_stages
from towerlift.nesting.bodies import Label
from towerlift.nesting.margins import Margin
from towerlift.nesting.pairs import Workshop
from towerlift.rig import hang_curves
from towerlift.rig.recovery import worst_of
from towerlift.rig.recovery_ways import ways_of
from towerlift.rig.sudden import leans_after_loss
from towerlift.shapes import build_shapes

PASS, FAIL, NOT = Verdict.PASS, Verdict.FAIL, Verdict.NOT_EVALUATED
WIND = {"terrain": "0", "basic_speed": "14 m/s", "return_years": 50, "source": "chart"}
SHAFT = {
    "survey": [
        {"z": z, "west": "-3.1 m", "east": "3.1 m", "south": "-3.1 m", "north": "3.1 m"}
        for z in ("0 m", "30 m")
    ],
    "uncertainty": "5 mm",
    "wall_head": "20 m",
}
LOCK = {"do": "lock", "section": "spire", "on": "high needles"}


def stages(lock=LOCK):
    return [
        stage(
            "up",
            [
                *install("gantry"),
                assemble("spire"),
                *hoist("spire", "spire lift", 15.3),
                *install("high needles"),
                lock,
                {"do": "transfer", "section": "spire"},
            ],
            starts=at("08:00"),
        )
    ]


def case_of(**changes):
    body = {"wind": WIND, "shaft": SHAFT, "stages": stages()} | changes
    plan = tiny_plan(**body)
    shapes, raise_ = build_shapes(plan, Path()), follow_stages(plan)
    hangs = hang_curves(plan, shapes, raise_)
    shop = Workshop(plan=plan, shapes=shapes, raise_=raise_)
    return Case(plan=plan, shapes=shapes, raise_=raise_, hangs=hangs, shop=shop)


def again(case, **changes):
    """The same raise with other limits, overrules or words of the plan."""
    plan = case.plan.model_copy(update=changes)
    return replace(
        case, plan=plan, shop=Workshop(plan=plan, shapes=case.shapes, raise_=case.raise_)
    )


def limits(*rows):
    body = [{"limit": name, "value": value, "source": "test"} for name, value in rows]
    return tiny_plan(limits=body).limits


def overrules(*rows):
    keys = ("limit", "subject", "value")
    body = [dict(zip(keys, row, strict=True)) for row in rows]
    body = [row | {"by": "Ansa Morrow", "note": "summed"} for row in body]
    return tiny_plan(overrules=body).overrules


@pytest.fixture(scope="module")
def case():
    return case_of()


def of(findings, words, subject="spire"):
    found = [f for f in findings if f.subject == subject and words in f"{f.check}: {f.why}"]
    assert found, words
    return found[0]


def test_without_wind_the_plan_is_not_judged(case):
    none = again(case, wind=None)
    (found,) = list(check_wind(none))
    assert found.verdict is NOT
    assert "[wind]" in found.why
    assert list(check_overturning(none)) == []
    assert list(check_guides(none)) == []


class TestWind:
    def test_a_locked_section_overturns_at_the_pressure_of_its_factor(self, case):
        found = of(check_wind(case), "gust once locked")
        held = next(
            h for h in held_states(case) if h.joint.kind == "needle" and h.gust == found.value
        )
        stand, push = held.joint.stand, held.joint.push
        # Four lift points 1.75 m out: W 1.75 over M q is 1.5 at the gust, or W/4 is lifted.
        square = stand.weight * 1.75 / (1.5 * push.moment[0])
        corner = stand.weight / 4 * np.sqrt(2) * 3.5 / push.moment[2]
        assert found.value == pytest.approx(np.sqrt(min(square, corner) / 0.625), rel=1e-9)

    def test_inside_on_and_outside(self, case):
        value = of(check_wind(case), "gust once locked").value
        for limit, verdict in ((value - 0.01, PASS), (value, PASS), (value + 0.01, FAIL)):
            tried = again(case, limits=limits(("gust once locked", f"{limit!r} m/s")))
            found = of(check_wind(tried), "gust once locked")
            assert found.verdict is verdict
            assert bool(found.remedy) is (verdict is FAIL)

    def test_a_named_person_may_overrule_it(self, case):
        strict = again(
            case,
            limits=limits(("gust once locked", "90 m/s")),
            overrules=overrules(("gust once locked", "spire", "5 m/s")),
        )
        found = of(check_wind(strict), "gust once locked")
        assert found.verdict is PASS
        assert found.overrule.by == "Ansa Morrow, master of the raise"

    def test_gaps_that_were_not_reckoned_are_not_a_pass(self, case):
        found = of(check_wind(case), "gust while hauling")
        assert found.verdict is NOT
        assert "gaps" in found.why

    def test_the_site_must_not_blow_harder_than_what_stands_survives(self, case):
        place = case.plan.site.place
        value = of(check_wind(case), "gust at the site", place).value
        for limit, verdict in ((value + 0.01, PASS), (value, PASS), (value - 0.01, FAIL)):
            tried = again(case, limits=limits(("gust once locked", f"{limit!r} m/s")))
            assert of(check_wind(tried), "gust at the site", place).verdict is verdict


RAILS = {
    "contacts": [
        {
            "kind": "shoe on runner",
            "of": "spire",
            "marks": ["leg *"],
            "on": "runners",
            "on_marks": ["R *"],
        }
    ]
}
RATED = {"shoe_rating": "40 kN", "wedge_rating": "60 kN", "rating_source": "tried"}


class TestWedged:
    def guided(self, lock=LOCK, **changes):
        def rail(mark, x, y):
            return {
                "mark": mark,
                "part": "runner",
                "species": "oak",
                "breadth": "0.1 m",
                "depth": "0.1 m",
                "start": [f"{x} m", f"{y} m", "0 m"],
                "end": [f"{x} m", f"{y} m", "19.9 m"],
            }

        out = 1.75 + 0.02 + 0.05
        members = [
            rail(f"R {n}", *place)
            for n, place in enumerate(
                (s * out, t * 1.6) if flat else (t * 1.6, s * out)
                for flat in (True, False)
                for s in (-1, 1)
                for t in (-1, 1)
            )
        ]
        plan = tiny_plan()
        runners = {"name": "runners", "kind": "runner", "members": members}
        fixtures = [f.model_dump(mode="json") for f in plan.fixtures] + [runners]
        sections = [s.model_dump(mode="json") for s in plan.sections]
        legs = {"leg 1": ("west", "south"), "leg 2": ("east", "south"),
                "leg 3": ("east", "north"), "leg 4": ("west", "north")}  # fmt: skip
        sections[2]["shoes"] = [
            {"member": mark, "face": face, "running": "20 mm"}
            for mark, faces in legs.items()
            for face in faces
        ]
        sections[2] |= changes
        steps = [
            stage(
                "up",
                [
                    *install("gantry", "runners"),
                    assemble("spire"),
                    *hoist("spire", "spire lift", 15.3),
                    *install("high needles"),
                    lock,
                    {"do": "transfer", "section": "spire"},
                ],
                starts=at("08:00"),
            )
        ]
        return case_of(
            fixtures=fixtures,
            sections=sections,
            stages=steps,
            lifts=[lift("spire lift", "spire", "gantry", (1, 2, 3, 4), guided=True)],
            **RAILS,
        )

    def test_a_shoe_without_a_rating_is_not_judged(self):
        case = self.guided()
        found = of(check_wind(case), "gust while hauling")
        assert found.verdict is NOT
        assert "shoe_rating" in found.why
        found = of(check_guides(case), "load on a shoe")
        assert found.verdict is NOT

    def test_a_rating_without_a_source_is_none(self):
        case = self.guided(shoe_rating="40 kN")
        assert of(check_guides(case), "load on a shoe").verdict is NOT

    def test_load_on_a_shoe_by_moments(self):
        case = self.guided(**RATED)
        found = of(check_guides(case), "load on a shoe")
        held = [h for h in held_states(case) if h.state.moves and h.joint.heel == found.heel][
            -1
        ]
        sides, push, q = held.joint.sides[0], held.joint.push, 0.625 * 11**2
        about = q * (push.moment[0] - push.force[0] * sides.foot)
        twist = held.joint.stand.weight * 0.05
        upper = (about + twist) / sides.spacing / sides.n_upper
        lower = ((about + twist) / sides.spacing - q * push.force[0]) / sides.n_lower
        assert found.value == pytest.approx(max(upper, lower) / 1e3, rel=1e-9)
        for limit, verdict in ((found.value + 0.01, PASS), (found.value - 0.01, FAIL)):
            tried = again(case, limits=limits(("load on a shoe", f"{limit!r} kN")))
            assert of(check_guides(tried), "load on a shoe").verdict is verdict

    def test_shoes_along_the_haul_have_their_worst_in_the_finding(self):
        case = self.guided(**RATED)
        found = of(check_guides(case), "load on a shoe")
        curves = shoe_curves(case)
        assert {curve.section for curve in curves} == {"spire"}
        assert {curve.gust for curve in curves} == {11.0}
        most = max(load.most for curve in curves for load in curve.loads)
        assert most == pytest.approx(1e3 * found.value, rel=1e-12)
        joints = {(h.state.passage.index, h.joint.heel): h.joint for h in held_states(case)}
        sides = set()
        for curve in curves:
            for heel, load in zip(curve.heels.tolist(), curve.loads, strict=True):
                push = joints[curve.passage, heel].push
                assert sorted(map(abs, load.towards)) == pytest.approx([0.0, 1.0])
                # Wind above the upper shoes turns the lower ones against the other side.
                arm = push.moment.max() / push.force.max() if push.force.max() > 0 else 0.0
                assert load.across == (arm > load.foot + load.spacing)
                sides.add(load.across)
        assert sides == {False, True}

    def test_what_hangs_free_has_no_shoes_to_tell_of(self, case):
        assert shoe_curves(case) == ()

    def test_friction_of_the_shoes_against_what_the_lift_allows(self):
        case = self.guided(**RATED)
        value = of(check_guides(case), "guide friction").value
        assert value > 0
        for limit, verdict in ((value, PASS), (value * 0.99, FAIL)):
            tried = again(case, limits=limits(("guide friction", f"{limit!r}")))
            assert of(check_guides(tried), "guide friction").verdict is verdict

    def test_wedged_the_same_day_it_need_only_stand_till_then(self):
        soon = self.guided(LOCK | {"wedged_within": "8 h"}, **RATED)
        told = [f for f in check_wind(soon) if "locked on" in f.why]
        assert {"gust till wedged", "gust once locked"} == {f.why.split(":")[0] for f in told}
        late = self.guided(LOCK | {"wedged_within": "30 h"}, **RATED)
        assert not [f for f in check_wind(late) if "gust till wedged" in f.why]
        never = self.guided(**RATED)
        words = of(check_wind(never), "gust once locked").why
        assert "not wedged" in words

    def test_the_friction_takes_load_off_the_ropes_going_down(self):
        case = self.guided(**RATED)
        value = of(check_lowering(case), "load on the ropes going down").value
        assert 0 < value < 100
        for limit, verdict in ((value - 0.1, PASS), (value, PASS), (value + 0.1, FAIL)):
            tried = again(case, limits=limits(("load on the ropes going down", f"{limit!r} %")))
            found = of(check_lowering(tried), "load on the ropes going down")
            assert found.verdict is verdict
        dry = again(case, limits=limits(("friction of shoes", "0.4")))
        assert of(check_lowering(dry), "load on the ropes going down").value < value


class TestOverturning:
    def test_inside_on_and_outside(self, case):
        value = of(check_overturning(case), "overturning").value
        for limit, verdict in ((value * 0.999, PASS), (value, PASS), (value * 1.001, FAIL)):
            tried = again(case, limits=limits(("overturning factor", f"{limit!r}")))
            assert of(check_overturning(tried), "overturning").verdict is verdict

    def test_twice_the_gust_is_a_quarter_of_the_factor(self, case):
        once = of(check_overturning(case), "overturning").value
        twice = again(case, limits=limits(("gust once locked", "56 m/s")))
        assert of(check_overturning(twice), "overturning").value == pytest.approx(once / 4)


def with_capstans(case, **changes):
    return again(case, capstans=tuple(c.model_copy(update=changes) for c in case.plan.capstans))


def with_lifts(case, **changes):
    return again(case, lifts=tuple(each.model_copy(update=changes) for each in case.plan.lifts))


class TestLowering:
    @pytest.mark.parametrize(
        ("pawls", "verdict"), [(None, NOT), (0, FAIL), (1, FAIL), (2, PASS)]
    )
    def test_stops(self, case, pawls, verdict):
        tried = with_capstans(case, pawls=pawls)
        assert of(check_lowering(tried), "independent stops").verdict is verdict

    @pytest.mark.parametrize(
        ("way", "verdict"),
        [(None, NOT), ("walking back", FAIL), ("surging", PASS), ("brake", PASS)],
    )
    def test_way_of_lowering(self, case, way, verdict):
        tried = with_lifts(case, lowered_by=way)
        assert of(check_lowering(tried), "walking back").verdict is verdict

    def test_what_hangs_free_keeps_its_load(self, case):
        found = of(check_lowering(case), "load on the ropes going down")
        assert (found.value, found.verdict) == (100.0, PASS)
        assert "never ease below" in found.why

    def test_a_stiff_tackle_may_not_come_down(self, case):
        found = of(check_lowering(case), "pull left at the barrel")
        assert found.verdict is PASS
        stiff = again(
            case,
            tackles=tuple(
                t.model_copy(update={"sheave_ratio": 0.7}) for t in case.plan.tackles
            ),
        )
        assert of(check_lowering(stiff), "pull left at the barrel").verdict is FAIL

    def test_the_tailer(self, case):
        value = of(check_lowering(case), "pull of the tailer").value
        for limit, verdict in ((value + 1, PASS), (value - 1, FAIL)):
            tried = again(case, limits=limits(("pull of the tailer", f"{limit!r} N")))
            assert of(check_lowering(tried), "pull of the tailer").verdict is verdict
        braked = with_lifts(case, lowered_by="brake")
        assert not [f for f in check_lowering(braked) if "tailer" in f.why.split(":")[0]]


class TestRecovery:
    def test_every_half_metre_is_rehearsed_five_ways(self, case):
        told = rehearsal(case)
        assert {each.failure for each in told} == {
            "rope",
            "corner",
            "pawl",
            "capstan crew",
            "jam",
        }
        lift_heels = sorted({each.heel for each in told})
        assert max(np.diff(lift_heels)) <= 0.55
        assert lift_heels[0] == 0.0
        assert lift_heels[-1] == pytest.approx(15.3)
        assert all(each.who and each.do for each in told)

    def test_four_lines_without_guides_topple_at_the_loss_of_one(self, case):
        found = of(check_recovery(case), "does not stand")
        assert found.verdict is FAIL
        assert "rope" in found.why
        worst = worst_of(rehearsal(case), "up", "spire")
        assert not worst.stands
        assert (worst.factor, worst.safe) == (0.0, "none")

    def test_a_pawl_that_is_the_only_one_is_a_rope_lost(self, case):
        told = rehearsal(with_capstans(case, pawls=1))
        ropes = [e for e in told if e.failure == "rope"]
        pawls = [e for e in told if e.failure == "pawl"]
        for rope, pawl in zip(ropes, pawls, strict=True):
            assert (pawl.stands, pawl.factor) == (rope.stands, rope.factor)
        two = [e for e in rehearsal(with_capstans(case, pawls=2)) if e.failure == "pawl"]
        assert all(each.stands for each in two)

    def test_crew_and_jam_load_the_ropes_as_told(self, case):
        told = [e for e in rehearsal(case) if e.heel > 10]
        by = {each.failure: each for each in told if each.heel == told[0].heel}
        assert by["jam"].load == pytest.approx(1.25 * by["capstan crew"].load)
        assert by["jam"].factor == pytest.approx(by["capstan crew"].factor / 1.25)

    def test_going_back_and_on_take_as_long_at_the_turning_point(self, case):
        (ways,) = [
            w for w in ways_of(case.workshop, drill_of(case.plan)) if w.section == "spire"
        ]
        turn = ways.turning_point
        assert turn is not None
        last = ways.passages[-1].index
        assert 0 < turn < 15.3
        assert ways.time_back(turn, last) == pytest.approx(ways.time_on(turn), rel=1e-9)
        assert ways.time_back(turn - 1, last) < ways.time_on(turn - 1)
        assert ways.time_back(turn + 1, last) > ways.time_on(turn + 1)

    def test_minutes_to_safety(self, case):
        reached = [e for e in rehearsal(case) if np.isfinite(e.minutes)]
        value = of(check_recovery(case), "time to a safe state").value
        judged = [e for e in reached if e.failure != "corner"]
        assert value == pytest.approx(max(e.minutes for e in judged), abs=1e-5)
        for limit, verdict in ((value + 0.1, PASS), (value - 0.1, FAIL)):
            tried = again(case, limits=limits(("time to a safe state", f"{limit!r} min")))
            assert of(check_recovery(tried), "time to a safe state").verdict is verdict

    def test_a_haul_that_is_locked_nowhere_can_only_come_back(self):
        nowhere = case_of(stages=[stage("up", [
            *install("gantry"), assemble("spire"), *hoist("spire", "spire lift", 15.3),
        ])])  # fmt: skip
        (ways,) = list(ways_of(nowhere.workshop, drill_of(nowhere.plan)))
        assert ways.on is None
        assert ways.turning_point is None
        assert np.isfinite(ways.time_back(15.3, ways.passages[-1].index))

    def test_corners_must_be_proved_where_nothing_catches_them(self, case):
        found = of(check_recovery(case), "proof of a corner")
        assert found.verdict is NOT
        weight = max(float(c.weight.max()) for c in case.hangs)
        corner = weight / 4 * 1.15 * 1.1
        for proof, verdict in ((2.01 * corner, PASS), (1.99 * corner, FAIL)):
            tried = with_lifts(case, corner_proof=proof)
            assert of(check_recovery(tried), "proof of a corner").verdict is verdict

    def test_a_raise_that_hauls_nothing_is_not_a_pass(self):
        still = case_of(stages=[stage("up", [*install("gantry"), assemble("spire")])])
        assert [f.verdict for f in check_recovery(still)] == [NOT]
        assert NOT in [f.verdict for f in check_lowering(still)]


class TestCard:
    def test_lines_for_every_hazard(self, case):
        topics = {line.topic for line in card_lines(case, "up")}
        assert topics >= {
            "nearest locks",
            "turning point",
            "DOES NOT STAND",
            "worst failure",
            "never slack",
            "bars",
            "step",
            "pull",
            "weigh first",
            "a tackle lost",
            "turning",
            "gust survived",
        }
        assert all(line.words for line in card_lines(case, "up"))

    def test_no_line_tells_a_state_to_stand_more_wind_than_it_does(self, case):
        gusts = {
            f"{held.joint.section} {held.words}": held.gust
            for held in sorted(held_states(case), key=lambda each: -each.gust)
            if held.state.stage == "up" and not held.missing
        }
        told = [x.words for x in card_lines(case, "up") if x.topic == "gust survived"]
        read = {
            words: float(found[1])
            for line in told
            for words in gusts
            if (found := re.fullmatch(rf"{re.escape(words)}: (\d+) m/s, .*", line))
        }
        assert read
        for words, gust in read.items():
            assert gusts[words] - 1 < gust <= gusts[words]

    def test_a_stage_without_a_haul_has_none(self, case):
        assert card_lines(case, "no such stage") == ()
        assert ways_out(case, "no such stage") == ()

    def test_what_is_missing_is_said(self, case):
        lines = card_lines(case, "up")
        assert any("NOT EVALUATED" in line.words for line in lines)


def test_the_free_body_shows_every_force(case):
    state = next(s for h in held_states(case) if (s := h.state).passage.step == "transfer")
    svg = free_body(case.workshop, state, FreeBodyPicture(gust=20.0))
    assert svg.startswith("<svg")
    for words in ("weight", "wind", "support", "spire", "wall head", "sums: 0.0 kN across"):
        assert words in svg
    held = next(h for h in held_states(case) if h.state is state)
    weight = held.joint.stand.weight / 1e3
    assert f"weight {weight:.1f}" in svg


class TestSwing:
    def hung(self, gap, **changes):
        """A spire on eight tackles with something `gap` off its head."""
        eight = lift("spire lift", "spire", "gantry", (1, 2, 3, 4))
        eight["lines"] += [
            line | {"tackle": f"second {n}", "capstan": f"C{n + 5}"}
            for n, line in enumerate(eight["lines"])
        ]
        case = case_of(lifts=[eight | changes])
        passage = next(p for p in case.raise_.passages if p.step == "lift")
        label = Label(body="spire", mark="head", part="cap")
        margin = Margin(
            stage="up",
            passage=passage.index,
            moving="spire",
            against="shaft",
            label=label,
            opposite=Label(body="shaft", mark="wall", part="wall"),
            gap=gap,
            budget=None,
            heel=10.0,
            heels=(10.0, 10.0),
            where=(1.75, 0.0, 23.5),
            across=(1.75 + gap, 0.0, 23.5),
        )
        return replace(case, margins=(margin,))

    def test_what_swings_clear_needs_no_ropes(self):
        assert not [f for f in check_recovery(self.hung(5.0)) if "side rope" in f.why]

    def test_what_strikes_needs_ropes(self):
        case = self.hung(0.01)
        found = of(check_recovery(case), "side rope against a lost tackle")
        assert found.verdict is NOT
        assert "head swings" in found.why
        curve = next(c for c in case.hangs if np.ptp(c.heels) > 10)
        row = int(np.abs(curve.heels - found.heel).argmin())
        # Twice the load of the lost tackle at its arm over the length between the ropes.
        tension = curve.tensions[row, curve.lost_line[row]]
        needed = 2 * tension * 1.75 * np.sqrt(2) / 13.5
        for pull, verdict in ((needed * 1.001, PASS), (needed * 0.999, FAIL)):
            tried = with_lifts(case, side_ropes=float(pull))
            found = of(check_recovery(tried), "side rope against a lost tackle")
            assert found.verdict is verdict

    def test_the_swing_is_twice_the_lean_at_rest(self):
        case = self.hung(0.01)
        curve = next(c for c in case.hangs if np.ptp(c.heels) > 10)
        rows = np.array([50, 200])
        rests, peaks = leans_after_loss(case.workshop, curve, rows)
        assert (rests > 0).all()
        # One mode alone would go twice as far; several together go farther.
        assert (peaks >= 2 * rests).all()
        assert (peaks < 3 * rests).all()


def test_a_section_marked_in_a_line_is_not_judged():
    body = tiny_plan().sections[2].model_dump(mode="json")
    body["lift_points"] = body["lift_points"][:2]
    sections = [s.model_dump(mode="json") for s in tiny_plan().sections[:2]]
    two = lift("spire lift", "spire", "gantry", (1, 2, 3, 4))
    two["lines"] = two["lines"][:2]
    case = case_of(sections=[*sections, body], lifts=[two])
    assert of(check_overturning(case), "no area").verdict is NOT
    assert of(check_wind(case), "no area").verdict is NOT
