"""A braced tower of legs, girts and braces as a frame: laws that its strains must obey."""

import pytest

from tests.plans.factory import section
from tests.unit.checks.test_holding import LOCK, WEIGHT, case_of
from towerlift.checks.members import check_members
from towerlift.findings import Verdict
from towerlift.rig.grips import lift_grips
from towerlift.rig.members import Strain, member_strains

GIRTS = (0.3, 3.0, 5.7)


def piece(mark, start, end, side=0.12):
    return {
        "mark": mark,
        "part": "piece",
        "species": "oak",
        "breadth": f"{side} m",
        "depth": f"{side} m",
        "start": [f"{each} m" for each in start],
        "end": [f"{each} m" for each in end],
    }


def tower(*, braced=True, **changes):
    """Legs at 1.65 m, three rings of girts, braces in every bay and across two rings."""
    body = section("tower", 1.75, 6.0)
    more = []
    for n, s in enumerate(GIRTS):
        for mark, a, b in (
            ("N", (-1.55, 1.65), (1.55, 1.65)), ("S", (-1.55, -1.65), (1.55, -1.65)),
            ("E", (1.65, -1.55), (1.65, 1.55)), ("W", (-1.65, -1.55), (-1.65, 1.55)),
        ):  # fmt: skip
            more.append(piece(f"girt {mark}{n}", (*a, s), (*b, s)))
            if braced and n < 2:
                foot, head = s + 0.2, GIRTS[n + 1] - 0.2
                more.append(piece(f"brace {mark}{n}", (*a, foot), (*b, head)))
        if braced and n != 1:  # across the plan, so that the rings stay square
            more.append(piece(f"plan {n}", (-1.56, -1.56, s), (1.56, 1.56, s)))
    body["members"] = [*body["members"], *more]
    body["lifted_by"], body["lift_bearing"] = "strop", "100 mm"
    body["lift_points"] = [
        {"mark": f"P{n}", "at": [f"{x * 1.65} m", f"{y * 1.65} m", "0 m"]}
        for n, (x, y) in enumerate(((-1, -1), (1, -1), (1, 1), (-1, 1)), start=1)
    ]
    return body | changes


def strains(**changes) -> dict[str, Strain]:
    case = case_of(**({"sections": [tower()]} | changes))
    found = member_strains(case.plan, case.shapes, case.raise_, case.hangs)
    return {each.how: each for each in found}


def used(strain: Strain) -> float:
    """How hard the hardest piece is used, where that is known."""
    assert strain.use is not None, strain.missing
    return strain.use


@pytest.fixture(scope="module")
def usual() -> dict[str, Strain]:
    return strains()


def test_every_way_of_carrying_it_bears_its_whole_weight(usual):
    assert set(usual) == {"hung", "hung, one line lost", "on needles"}
    loads = [each.load for each in usual.values()]
    assert loads == pytest.approx([loads[0]] * 3, rel=3e-3)
    assert loads[0] > WEIGHT  # legs, and girts and braces besides


def test_it_is_used_harder_the_worse_it_is_carried(usual):
    assert 0 < used(usual["hung"]) < used(usual["hung, one line lost"])
    assert usual["hung"].racking < usual["hung, one line lost"].racking


def test_stress_goes_with_the_load_factor(usual):
    limit = {"limit": "load factor of what stands", "value": "2.7", "source": "twice"}
    twice = strains(limits=[limit])
    # Only a thrust that buckles adds up otherwise, and that goes with the load too.
    for how, each in usual.items():
        assert twice[how].use == pytest.approx(2 * used(each), rel=1e-6)
        assert twice[how].racking == pytest.approx(each.racking, rel=1e-9)


def test_ledges_packed_alike_spare_the_frame(usual):
    packed = strains(locks=[LOCK | {"packed_to": "0 mm"}])
    nearly = strains(locks=[LOCK | {"packed_to": "0.05 mm"}])
    uses = [used(each["on needles"]) for each in (packed, nearly, usual)]
    assert uses[0] < uses[1] <= uses[2]
    # A ledge that is far too low carries nothing: the same as two legs.
    far = strains(locks=[LOCK | {"packed_to": "200 mm"}])
    assert far["on needles"].use == pytest.approx(uses[2], rel=0.02)


def test_without_braces_it_is_no_frame():
    found = strains(sections=[tower(braced=False)])
    for how in ("hung, one line lost", "on needles"):
        assert found[how].use is None
        assert "mechanism" in found[how].missing


def test_the_wood_in_the_strops_by_hand():
    case = case_of(sections=[tower()])
    (grip,) = lift_grips(case.plan, case.hangs)
    weight = case.hangs[0].weight.max()
    load = 1.35 * weight / 4 * 1.15 * 1.03
    assert grip.load == pytest.approx(load, rel=0.01)
    assert grip.stress == pytest.approx(grip.load / (0.1 * 0.2), rel=1e-9)
    assert grip.kind == "end grain"
    assert grip.strength is not None
    assert grip.strength.value / 1e6 == pytest.approx(24 * 0.7 / 1.3)


@pytest.mark.parametrize(("strapped", "verdict"), [(False, Verdict.FAIL), (True, Verdict.PASS)])
def test_a_pin_needs_wood_below_it_or_a_strap(strapped, verdict):
    body = tower(lifted_by="pin", lift_bearing="50 mm", lift_strapped=strapped)
    for point in body["lift_points"]:
        point["at"][2] = "0.3 m"
    found = [
        each
        for each in check_members(case_of(sections=[body]))
        if "diameters of wood below the pin" in each.why
    ]
    assert [each.verdict for each in found] == [verdict]


def test_who_does_not_say_how_it_is_held_gets_no_verdict():
    body = {key: value for key, value in tower().items() if not key.startswith("lifted")}
    found = [
        each for each in check_members(case_of(sections=[body])) if "take hold" in each.why
    ]
    assert [each.verdict for each in found] == [Verdict.NOT_EVALUATED]
