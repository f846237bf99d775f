"""Which sides of a section grow with moisture, and by how much."""

import pytest

from tests.plans.factory import legs, section, tiny_plan
from towerlift.nesting.movement import (
    moistening,
    nest_growth,
    section_growth,
    width_chain,
)
from towerlift.plan.bodies import Face, Species

# Shrinkage that makes a coefficient of 0.25: 1 / (3000 / S - 20) = 0.0025 at 7.143 %.
QUARTER = f"{100 * 30 / (100 / 0.25 + 20)} %"


def species(**changes):
    row = {
        "name": "oak",
        "density": "760 kg/m^3",
        "source": "weighed and measured",
        "shrinkage_radial": QUARTER,
        "shrinkage_tangential": QUARTER,
        "moisture": "8 %",
        "moisture_wettest": "12 %",
    } | changes
    return {key: value for key, value in row.items() if value is not None}


def plan_of(*extra, **changes):
    base = section("base", 2.8, 13.0, nest_height="0.34 m", members=[*legs(2.8, 13.0), *extra])
    plan = tiny_plan()
    rest = [s.model_dump() for s in plan.sections[1:]]
    return tiny_plan(species=[species(**changes)], sections=[base, *rest])


def piece(mark, start, end, **changes):
    def point(at):
        return [f"{value} m" for value in at]

    return {
        "mark": mark, "part": mark, "species": "oak", "breadth": "0.1 m", "depth": "0.1 m",
        "start": point(start), "end": point(end),
    } | changes  # fmt: skip


def grown(plan, **how):
    return section_growth(plan, plan.sections[0], **how)


def test_a_leg_grows_by_its_thickness_and_not_by_its_length():
    growth = grown(plan_of())
    # 0.2 m of leg, 4 % of moisture at 0.25 for each.
    assert growth.sides == pytest.approx(dict.fromkeys(Face, 0.2 * 0.25 * 0.04))
    assert not growth.missing
    assert not growth.estimated


def test_a_foot_is_pushed_by_the_leg_behind_it():
    # A pad 0.1 m thick on the outer side of leg 3, which stands north-east.
    growth = grown(plan_of(piece("pad", (2.7, 2.85, 5.0), (2.7, 2.85, 6.0))))
    assert growth.sides[Face.NORTH] == pytest.approx((0.2 + 0.1) * 0.01)
    assert growth.sides[Face.EAST] == pytest.approx(0.2 * 0.01)


def test_a_lengthwise_piece_neither_grows_nor_gives_way():
    strut = piece("strut", (2.7, 0.0, 5.5), (2.7, 2.6, 5.5))
    pad = piece("pad", (2.7, 2.85, 5.0), (2.7, 2.85, 6.0))
    growth = grown(plan_of(strut, pad))
    # The strut ends at the back of the leg and holds it; the leg itself still grows.
    row = growth.marks.index("strut")
    assert growth.own[row, 0] == 0
    assert growth.sides[Face.NORTH] == pytest.approx((0.2 + 0.1) * 0.01)


def test_a_lengthwise_piece_with_wood_behind_it_is_pushed():
    nose = piece("nose", (2.7, 2.8, 5.5), (2.7, 2.95, 5.5))
    growth = grown(plan_of(nose))
    assert growth.own[growth.marks.index("nose"), 0] == 0
    assert growth.sides[Face.NORTH] == pytest.approx(0.2 * 0.01)


def test_moisture_above_fibre_saturation_moves_nothing():
    growth = grown(plan_of(moisture="28 %", moisture_wettest="60 %"))
    assert growth.worst == pytest.approx(0.2 * 0.25 * 0.02)
    assert growth.estimated


def test_a_change_of_each_species_in_place_of_the_plans():
    assert grown(plan_of(), change=0.02).worst == pytest.approx(0.2 * 0.25 * 0.02)
    assert grown(plan_of(), change={"oak": -0.02}).worst == pytest.approx(-0.2 * 0.25 * 0.02)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"moisture": None, "moisture_wettest": None}, "no moisture contents"),
        ({"shrinkage_tangential": None}, "neither its name among the timbers"),
        ({"shrinkage_radial": None, "cut": "boxed heart"}, "was not read"),
    ],
)
def test_what_is_not_known_is_said_and_not_guessed(changes, said):
    growth = grown(plan_of(**changes))
    assert growth.missing
    assert said in growth.missing[0]


def test_a_member_says_how_it_was_cut_before_its_species_does():
    plan = plan_of(shrinkage_radial="3 %", cut="quartersawn")
    # Quartersawn: breadth moves as the radius, depth as the rings. Legs have breadth
    # along x.
    growth = grown(plan)
    assert growth.sides[Face.EAST] < growth.sides[Face.NORTH]
    turned = [m.model_copy(update={"cut": "flatsawn"}) for m in plan.sections[0].members]
    flat = plan.sections[0].model_copy(update={"members": tuple(turned)})
    other = section_growth(plan, flat)
    assert other.sides[Face.EAST] == pytest.approx(growth.sides[Face.NORTH])


def test_iron_does_not_swell():
    plan = plan_of(density="7850 kg/m^3")
    assert width_chain(plan, plan.sections[0]) is None
    assert "not drawn by members" in grown(plan).missing[0]


def test_a_table_row_is_named_by_its_source():
    found = moistening(
        Species.model_validate(
            species(timber="live oak", shrinkage_radial=None, shrinkage_tangential=None)
        )
    )
    assert not isinstance(found, str)
    assert found.species.name == "live oak"


def test_swelling_of_a_nest():
    """Our own arithmetic of an oak frame in another, not an outside source.

    A 260 mm leg of the inner frame and a 150 mm rail of the outer one, at 0.0027 for
    each per cent, take 2.8 and 1.6 mm at + 4 %: 4.4 together, and twice that at + 8 %.
    What the rail is fixed to is held by the girts and takes nothing.
    """
    rail = piece("rail", (2.525, 2.7, 0.0), (2.525, 2.7, 12.0), breadth="0.15 m")
    plan = plan_of(rail, shrinkage_tangential=f"{100 * 30 / (100 / 0.27 + 20)} %")
    inner = plan.sections[1].model_copy(
        update={
            "members": tuple(
                m.model_copy(update={"breadth": 0.26, "depth": 0.26})
                for m in plan.sections[1].members
            )
        }
    )
    chain = width_chain(plan, plan.sections[0])
    assert chain is not None
    for change, printed in ((0.04, 4.43), (0.08, 8.86)):
        outer = section_growth(plan, plan.sections[0], change=change)
        within = section_growth(plan, inner, change=change)
        loss = nest_growth(outer, within, chain)
        assert 1000 * loss[Face.EAST] == pytest.approx(printed, abs=0.01)
