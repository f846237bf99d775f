"""What a section stands on, hangs in and is held by, on a tower whose sums fit on a page.

Four legs of 200 mm, 6 m long, of oak at 760 kg/m^3 weigh 729.6 kg, 7.155 kN. Two of them
carrying all, with the load factor 1.35, take 4.830 kN each.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.plans.factory import at, lift, section, tiny_plan
from towerlift.checks.anchors import check_anchors
from towerlift.checks.case import Case
from towerlift.checks.gantry import check_gantry
from towerlift.checks.locks import check_locks
from towerlift.checks.members import check_members
from towerlift.checks.pads import check_pads
from towerlift.checks.pendants import check_pendants
from towerlift.findings import Finding, Verdict
from towerlift.motion import follow_stages
from towerlift.rig import hang_curves
from towerlift.rig.locks import lock_certificates
from towerlift.shapes import build_shapes

WEIGHT = 4 * 0.04 * 6 * 760 * 9.80665
LEG = 1.35 * WEIGHT / 2
OAK = {
    "name": "oak",
    "density": "760 kg/m^3",
    "source": "weighed",
    "strength_class": "D30",
}
IRON = {
    "name": "iron",
    "density": "7850 kg/m^3",
    "source": "weighed",
    "strength_class": "mild steel",
}
STEEL = {
    "name": "mild steel",
    "kind": "metal",
    "bending": "235 MPa",
    "modulus": "210000 MPa",
    "shear_modulus": "81000 MPa",
    "source": "certificate",
}


def beam(mark: str, y: float, z: float, **changes: Any) -> dict[str, Any]:
    """A beam of 250 by 300 mm from wall to wall."""
    piece: dict[str, Any] = {
        "mark": mark,
        "part": "beam",
        "species": "oak",
        "breadth": "250 mm",
        "depth": "300 mm",
        "start": ["-3 m", f"{y} m", f"{z} m"],
        "end": ["3 m", f"{y} m", f"{z} m"],
    }
    return piece | changes


FIXTURES = [
    {
        "name": "gantry",
        "kind": "gantry",
        "members": [beam("G1", 1.65, 30.2), beam("G2", -1.65, 30.2)],
    },
    {
        "name": "needles",
        "kind": "needle",
        "members": [beam("N1", 1.65, 4.85), beam("N2", -1.65, 4.85)],
    },
]
CONTACT = {
    "kind": "heel on needle",
    "of": "tower",
    "marks": ["leg *"],
    "on": "needles",
    "on_marks": ["N*"],
}
PAD = {
    "under": "needles",
    "members": ["N*"],
    "length": "400 mm",
    "breadth": "350 mm",
    "thickness": "150 mm",
    "bearing": "250 mm",
    "set_back": "75 mm",
}
LOCK = {
    "of": "tower",
    "on": "needles",
    "by": "heel",
    "release": "3 mm",
    "signed_by": "Ansa Morrow",
}
STAGES = [
    {
        "name": "up",
        "title": "Up",
        "in_charge": "Ansa Morrow",
        "starts": at("08:00"),
        "steps": [
            {"do": "install", "fixture": "gantry"},
            {"do": "assemble", "section": "tower"},
            {"do": "clear the column"},
            {"do": "sling", "section": "tower", "lift": "L"},
            {"do": "float", "section": "tower"},
            {"do": "lift", "section": "tower", "to": "5 m"},
            {"do": "install", "fixture": "needles"},
            {"do": "lock", "section": "tower", "on": "needles"},
            {"do": "transfer", "section": "tower"},
        ],
    }
]


def plan_of(**changes: Any) -> Any:
    """The tower on its needles, with some keys replaced."""
    lines = lift("L", "tower", "gantry", (1, 2, 3, 4))
    for line in lines["lines"]:
        x, y, _ = line["upper"]
        line["upper"] = [
            f"{1.65 * float(x.split()[0])} m",
            f"{1.65 * float(y.split()[0])} m",
            "30 m",
        ]
    body: dict[str, Any] = {
        "species": [OAK, IRON],
        "strengths": [STEEL],
        "sections": [section("tower", 1.75, 6.0)],
        "fixtures": FIXTURES,
        "fit_out": [],
        "contacts": [CONTACT],
        "pads": [PAD, PAD | {"under": "gantry", "members": ["G*"]}],
        "locks": [LOCK],
        "lifts": [lines],
        "stages": STAGES,
        "shaft": {
            "survey": [
                {"z": z, "west": "-3.1 m", "east": "3.1 m", "south": "-3.1 m", "north": "3.1 m"}
                for z in ("0 m", "40 m")
            ],
            "uncertainty": "5 mm",
            "wall_head": "30 m",
            "bearing_strength": "0.6 MPa",
            "bearing_source": "cored",
        },
    }
    return tiny_plan(**(body | changes))


def case_of(**changes: Any) -> Case:
    plan = plan_of(**changes)
    shapes = build_shapes(plan, Path())
    raise_ = follow_stages(plan)
    return Case(
        plan=plan, shapes=shapes, raise_=raise_, hangs=hang_curves(plan, shapes, raise_)
    )


def one(found: list[Finding], words: str) -> Finding:
    some = [each for each in found if words in each.why]
    assert len(some) == 1, [each.why for each in found]
    return some[0]


def test_a_heel_on_a_needle_by_hand():
    found = list(check_locks(case_of()))
    end = one(found, "end grain:")
    assert end.value == pytest.approx(LEG / 0.04 / 1e6, rel=1e-6)
    assert end.limit.value == pytest.approx(24 * 0.5 / 1.3)  # permanent: it is the last
    across = one(found, "across the grain:")
    # 30 mm more on either side of 200 along the needle.
    assert across.value == pytest.approx(LEG / (0.2 * 0.26) / 1e6, rel=1e-6)
    assert across.limit.value == pytest.approx(5.3 * 0.5 / 1.3)
    assert "EN 338" in across.limit.source
    assert "EN 1995-1-1" in across.limit.source


def test_no_class_no_verdict():
    bare = [{k: v for k, v in OAK.items() if k != "strength_class"}]
    case = case_of(species=bare, strengths=[])
    for check in (check_locks, check_pads, check_gantry):
        strong = [each for each in check(case) if each.limit.unit == "MPa"]
        judged = [each for each in strong if "masonry" not in each.why]
        assert judged
        assert all(each.verdict is Verdict.NOT_EVALUATED for each in judged)
        assert all("graded" in each.why or "strength" in each.why for each in judged)
    racked = [each for each in check_members(case) if each.verdict is Verdict.PASS]
    assert racked == []


@pytest.mark.parametrize(
    ("share", "verdict"),
    [(1.001, Verdict.PASS), (1.0, Verdict.PASS), (0.999, Verdict.FAIL)],
)
def test_a_chosen_limit_inside_on_and_outside(share, verdict):
    first = one(list(check_locks(case_of())), "across the grain:").value
    limit = {
        "limit": "bearing across the grain",
        "value": f"{first * share!r} MPa",
        "source": "engineer",
    }
    found = one(list(check_locks(case_of(limits=[limit]))), "across the grain:")
    assert found.limit.source == "engineer"
    assert found.verdict is verdict


def test_a_lock_without_a_row_is_not_evaluated():
    found = [each for each in check_locks(case_of(locks=[])) if "no lock of" in each.why]
    assert found
    assert all(each.verdict is Verdict.NOT_EVALUATED for each in found)


def test_measured_ledges_replace_two_legs():
    measured = LOCK | {"heights": ["0 mm"] * 4, "stiffness": "50 kN/mm"}
    measured["stiffness"] = "50000 N/mm"
    case = case_of(locks=[measured])
    assert one(list(check_locks(case)), "end grain:").value == pytest.approx(
        LEG / 2 / 0.04 / 1e6, rel=1e-6
    )
    certificate = lock_certificates(case.plan, case.shapes, case.raise_)[0]
    assert certificate.packing is not None
    assert certificate.packing.ratio_before == pytest.approx(1.0)
    assert certificate.signed_by == "Ansa Morrow"
    assert certificate.ledges == 4
    np.testing.assert_allclose(certificate.leg_loads, LEG / 2, rtol=1e-6)


def test_one_high_ledge_is_told_with_its_packing():
    high = LOCK | {"heights": ["5 mm", "0 mm", "0 mm", "0 mm"], "stiffness": "1000 N/mm"}
    found = one(list(check_locks(case_of(locks=[high]))), "by the measured heights")
    # k e / 4 = 1.25 kN on 1.789 kN of each leg.
    assert found.value == pytest.approx(1 + 1250 / (WEIGHT / 4), rel=1e-6)
    assert found.verdict is Verdict.FAIL
    assert "pack the ledges by" in found.remedy[0]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (
            {"heights": ["0 mm"] * 3, "stiffness": "1000 N/mm"},
            "3 ledge heights are given for 4",
        ),
        ({"heights": ["0 mm"] * 4}, "without the stiffness"),
    ],
)
def test_heights_that_cannot_be_used_are_told(changes, words):
    found = one(list(check_locks(case_of(locks=[LOCK | changes]))), words)
    assert found.verdict is Verdict.NOT_EVALUATED


def test_a_leg_drawn_beside_its_needle_is_told():
    short = beam("N1", 1.65, 4.85) | {"end": ["1 m", "1.65 m", "4.85 m"]}
    needles = FIXTURES[1] | {"members": [short, beam("N2", -1.65, 4.85)]}
    found = list(check_locks(case_of(fixtures=[FIXTURES[0], needles])))
    beside = one(found, "is drawn beside it")
    assert beside.verdict is Verdict.NOT_EVALUATED
    assert "leg 3" in beside.why


def test_a_contact_of_another_stage_bears_nothing():
    other = CONTACT | {"stages": ["later"]}
    later = {"name": "later", "title": "Later", "in_charge": "Ansa Morrow", "steps": []}
    # The tower still stands there when the raise is done, but not in a stage of its own.
    found = list(check_locks(case_of(contacts=[other], stages=[*STAGES, later])))
    strong = [each for each in found if each.limit.unit == "MPa"]
    assert strong
    gone = [CONTACT | {"stages": ["up"]}]
    kept = list(check_locks(case_of(contacts=gone, stages=[*STAGES, later])))
    assert one(kept, "end grain:").value == pytest.approx(LEG / 0.04 / 1e6, rel=1e-6)


def test_needles_by_hand():
    found = list(check_pads(case_of()))
    bending = next(each for each in found if "needle in bending" in each.why)
    # 6.6 m between the middles of what bears; the leg 1.65 m from one, spread 0.2 m wide.
    own = 1.35 * 0.25 * 0.3 * 6 * 760 * 9.80665
    leg = LEG * 1.65 * 4.95 / 6.6 - LEG * 0.05 / 2
    under = own / 2 * 1.65 - own / 6 * 1.35**2 / 2
    assert bending.value == pytest.approx((leg + under) / (0.25 * 0.3**2 / 6) / 1e6, rel=0.02)
    assert bending.limit.value == pytest.approx(30 * 0.5 / 1.3)
    masonry = next(each for each in found if "pressure on the masonry" in each.why)
    reaction = LEG * 4.95 / 6.6 + own / 2
    # The needle bears on the middle of its pad.
    assert masonry.value == pytest.approx(reaction / (0.4 * 0.35) / 1e6, rel=1e-6)
    assert masonry.limit.source == "cored"


def test_what_the_masonry_bears_must_be_told():
    shaft = plan_of().shaft.model_dump(mode="json", exclude={"bearing_strength"})
    case = case_of(shaft=shaft)
    found = next(each for each in check_pads(case) if "masonry" in each.why)
    assert found.verdict is Verdict.NOT_EVALUATED
    assert "does not say what the masonry bears" in found.why


def test_a_needle_on_nothing_is_not_evaluated():
    found = list(check_pads(case_of(pads=[])))
    assert found
    assert all(each.verdict is Verdict.NOT_EVALUATED for each in found)
    assert all("give its pads" in each.why for each in found)


def test_a_gantry_beam_by_hand():
    found = list(check_gantry(case_of()))
    bending = next(each for each in found if "gantry beam in bending" in each.why)
    # Falls go straight down: each block takes its load and the pull of its fall.
    advantage = sum(0.93**k for k in range(1, 5))
    block = 1.35 * WEIGHT / 4 * 1.15 * 1.03 * (1 + 1 / advantage)
    own = 1.35 * 0.25 * 0.3 * 6 * 760 * 9.80665
    moment = block * 1.65 + own / 2 * 3.3 - own / 2 * 1.5
    assert bending.value == pytest.approx(moment / (0.25 * 0.3**2 / 6) / 1e6, rel=0.02)
    assert bending.limit.value == pytest.approx(30 * 0.7 / 1.3)


def test_a_lift_without_gantry_data_is_not_evaluated():
    away = [FIXTURES[0] | {"members": [beam("G1", 0.0, 30.2)]}, FIXTURES[1]]
    found = list(check_gantry(case_of(fixtures=away)))
    assert found
    assert all(each.verdict is Verdict.NOT_EVALUATED for each in found)
    assert all("is drawn within" in each.why for each in found)
    unheld = list(check_gantry(case_of(pads=[PAD])))
    assert all(each.verdict is Verdict.NOT_EVALUATED for each in unheld)
    assert any("lies on" in each.why for each in unheld)


def fid_case(
    ledges: list[dict[str, Any]], *, posts: Sequence[dict[str, Any]] = (), **changes: Any
) -> Case:
    """A cap that stands on bars in the tower, in which there may be posts."""
    cap = section("cap", 1.25, 4.0)
    tower = section("tower", 1.75, 6.0)
    tower["members"] += posts
    cap["fids"] = [
        {"mark": f"F{n}", "at": [f"{x * 1.15} m", f"{y * 1.15} m", "0.8 m"]}
        for n, (x, y) in enumerate(((-1, -1), (1, -1), (1, 1), (-1, 1)), start=1)
    ]
    row: dict[str, Any] = {
        "of": "cap",
        "on": "tower",
        "by": "fid",
        "species": "iron",
        "breadth": "60 mm",
        "depth": "80 mm",
        "side_gap": "10 mm",
        "ledges": ledges,
        "release": "3 mm",
    }
    second = lift("M", "cap", "gantry", (1, 2, 3, 4))
    stages = [
        *STAGES,
        {
            "name": "cap",
            "title": "Cap",
            "in_charge": "Ansa Morrow",
            "steps": [
                {"do": "assemble", "section": "cap"},
                {"do": "clear the column"},
                {"do": "sling", "section": "cap", "lift": "M"},
                {"do": "float", "section": "cap"},
                {"do": "lift", "section": "cap", "to": "9 m"},
                {"do": "lock", "section": "cap", "on": "tower"},
                {"do": "transfer", "section": "cap"},
            ],
        },
    ]
    return case_of(
        sections=[tower, cap],
        lifts=[plan_of().lifts[0].model_dump(mode="json"), second],
        locks=[LOCK, row | changes],
        stages=stages,
    )


END = {"side": "outside", "species": "oak", "grain": "end", "bearing": "100 mm"}
ACROSS = {"side": "inside", "species": "oak", "grain": "across", "bearing": "100 mm"}
DRAWN = {"side": "outside", "member": "leg 1", "bearing": "100 mm"}


def fids(case: Case) -> list[Finding]:
    return [each for each in check_locks(case) if "fids" in each.subject]


def test_a_bar_on_two_ledges_by_hand():
    found = fids(fid_case([END, ACROSS]))
    load = 1.35 * 4 * 0.04 * 4 * 760 * 9.80665 / 2
    bending = next(each for each in found if "bar bending" in each.why)
    moment = load / 2 * (0.2 + 0.02 + 0.1) / 2 - load / 2 * 0.2 / 4
    assert bending.value == pytest.approx(moment / (0.06 * 0.08**2 / 6) / 1e6, rel=1e-6)
    assert bending.limit.value == 235.0
    ledges = [each for each in found if "ledge" in each.subject]
    assert [each.value for each in ledges] == pytest.approx([load / 2 / 0.006 / 1e6] * 2)
    limits = sorted(each.limit.value for each in ledges)
    # The same wood: 5.3 across the grain, 24 along it.
    assert limits == pytest.approx([5.3 * 0.5 / 1.3, 24 * 0.5 / 1.3])
    leg = next(each for each in found if "end grain: cap" in each.why)
    assert leg.value == pytest.approx(load / (0.2 * 0.06) / 1e6, rel=1e-6)


def test_grain_of_a_drawn_ledge_is_that_of_the_drawing():
    found = [each for each in fids(fid_case([DRAWN, END])) if "leg 1, outside" in each.subject]
    assert len(found) == 1
    assert found[0].limit.value == pytest.approx(24 * 0.5 / 1.3)


def test_a_block_let_into_a_piece_bears_on_it():
    post = {
        "mark": "post",
        "part": "post",
        "species": "oak",
        "breadth": "150 mm",
        "depth": "200 mm",
        "start": ["1.15 m", "1.36 m", "0 m"],
        "end": ["1.15 m", "1.36 m", "5.5 m"],
    }
    found = fids(fid_case([END | {"let_into": "post"}, END], posts=[post]))
    load = 1.35 * 4 * 0.04 * 4 * 760 * 9.80665 / 2
    # Half the load on a block of 150 by 100 mm, where the bar is 60 mm broad.
    under = next(each for each in found if "under the block" in each.subject)
    assert under.value == pytest.approx(load / 2 / (0.15 * 0.1) / 1e6)
    assert under.limit.value == pytest.approx(24 * 0.5 / 1.3)


def test_one_ledge_is_not_enough():
    found = fids(fid_case([END]))
    assert any("one on each side of the leg" in each.why for each in found)
    assert all(
        each.verdict is Verdict.NOT_EVALUATED for each in found if each.limit.unit == "MPa"
    )


@pytest.mark.parametrize(
    ("depth", "strapped", "verdict"),
    [
        ("106.6 mm", False, Verdict.PASS),
        ("106.7 mm", False, Verdict.FAIL),
        ("200 mm", True, Verdict.PASS),
    ],
)
def test_wood_below_a_hole(depth, strapped, verdict):
    # The middle of the hole is 800 mm up: (800 - d/2) / d is 7 at d = 106.67 mm.
    found = fids(fid_case([END, END], depth=depth, strapped=strapped))
    below = next(each for each in found if "of wood below the hole" in each.why)
    assert below.verdict is verdict


def test_pendants_without_a_contact_are_not_evaluated():
    chains = {
        "name": "pendants",
        "kind": "pendant",
        "members": [beam("bearer", 1.65, 4.9)],
    }
    steps = [*STAGES[0]["steps"][:6], {"do": "install", "fixture": "pendants"},
             {"do": "secure", "section": "tower", "on": "pendants"}]  # fmt: skip
    case = case_of(
        fixtures=[*FIXTURES, chains], stages=[STAGES[0] | {"steps": steps}], locks=[]
    )
    found = list(check_pendants(case))
    assert found
    assert all(each.verdict is Verdict.NOT_EVALUATED for each in found)


ANCHOR = {
    "name": "deadmen",
    "holds": "capstan",
    "capstans": ["C1", "C2", "C3", "C4"],
    "kind": "deadman",
    "length": "1 m",
    "depth": "1.5 m",
    "soil_density": "1800 kg/m^3",
    "friction_angle": "30 deg",
    "source": "dug",
}


def anchored(tested: str | None, **changes: Any) -> list[Finding]:
    plan = plan_of()
    lines = plan.lifts[0].model_dump(mode="json")
    for line in lines["lines"]:
        line["leads"] = [["4 m", "-4 m", "0.5 m"], ["5 m", "-5 m", "0.5 m"]]
    capstans = [
        each.model_dump(mode="json") | {"barrel_height": "0.5 m"} for each in plan.capstans
    ]
    row = ANCHOR | ({} if tested is None else {"tested": tested}) | changes
    return list(check_anchors(case_of(lifts=[lines], capstans=capstans, anchors=[row])))


def test_anchors_are_held_against_their_test_and_the_ground():
    burst = next(each for each in anchored("20 kN") if "in a burst" in each.why)
    # Eight hands of 300 N at 1.8 m, 85 %, on a barrel of 0.3 m with 32 mm rope.
    pull = 8 * 300 * 1.8 * 0.85 / (0.15 + 0.016)
    ground = 0.5 * 1800 * 9.80665 * (3 - 1 / 3) * 1.5**2
    assert burst.value == pytest.approx(ground / pull, rel=1e-6)
    for tested, verdict in ((1.001, "pass"), (0.999, "fail")):
        found = anchored(f"{pull * tested / 1e3!r} kN")
        test = next(
            each for each in found if "under a burst" in each.why and "capstan C" in each.why
        )
        assert test.verdict.value == verdict


def test_untested_or_unknown_anchors_are_not_evaluated():
    untested = [each for each in anchored(None) if "has not been tested" in each.why]
    assert untested
    assert all(each.verdict is Verdict.NOT_EVALUATED for each in untested)
    unheld = [each for each in anchored("20 kN") if "does not say what holds" in each.why]
    assert unheld  # the lead blocks
    assert all(each.verdict is Verdict.NOT_EVALUATED for each in unheld)


def test_legs_alone_are_no_frame():
    found = [each for each in check_members(case_of()) if "use of members" in each.why]
    assert found
    assert all(each.verdict is Verdict.NOT_EVALUATED for each in found)
    assert all("touches no other piece" in each.why for each in found)
