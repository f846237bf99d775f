"""How far shoes let a section move, and where they hold it at all."""

import numpy as np
import pytest

from tests.plans.factory import fixture, hoist, install, lift, stage
from tests.unit.nesting.small import mast, pair_against, piece, small_plan, workshop
from towerlift.motion.passages import Passage, Standing, State
from towerlift.nesting.guides import (
    LOOK_UP,
    Guide,
    bearing_spans,
    bearing_stretch,
    guided_play,
    section_guides,
)
from towerlift.nesting.needs import Allowed, budget_at, play_between
from towerlift.plan.bodies import Face

PLAY = 0.02


def haul(start=0.0, end=5.0, others=None):
    standing = {
        "mast": Standing(state=State.MOVING, carrier="lift", heel_from=start, heel_to=end)
    }
    return Passage(
        index=0,
        stage="up",
        step="lift",
        subject="mast",
        lift="lift",
        moving=("mast",),
        standing=standing | (others or {}),
        fixtures=frozenset({"runners"}),
        fitted=frozenset(),
        begins=None,
        duration=0.0,
    )


def guide(face, middle, *, rails=((0.0, 20.0),), play=PLAY, on="runners", half=0.1):
    return Guide(
        face=face,
        shoe=(middle - half, middle + half),
        rails=np.array(rails),
        play=play,
        on=on,
    )


def all_round(*middles, **changes):
    return tuple(guide(face, middle, **changes) for face in Face for middle in middles)


def test_play_at_the_shoes_and_twice_it_half_a_span_beyond():
    play = guided_play(haul(), all_round(0.5, 4.5), 1.0, 1.5)
    assert play.unknown == ""
    assert play.running == PLAY
    assert play.shift(2.5) == pytest.approx((0.0, 0.0), abs=1e-12)
    assert play.shift(4.5) == pytest.approx((0.0, 0.0), abs=1e-12)
    # 2 (6.5 - 0.5)/4 - 1 = 2: one play more than is counted as running.
    assert play.shift(6.5) == pytest.approx((PLAY, 0.0), abs=1e-12)


def test_the_widest_play_of_any_shoe_governs():
    guides = (*all_round(0.5), *all_round(4.5, play=0.03))
    assert guided_play(haul(), guides, 1.0, 1.5).running == 0.03


def test_the_span_shrinks_when_a_shoe_leaves_its_rail():
    # Rails end at z 6: the shoe at 4.5 leaves them at heel 1.5, and 2.5 is then the upper.
    guides = all_round(0.5, 2.5, 4.5, rails=((0.0, 6.0),))
    before = guided_play(haul(), guides, 1.0, 1.4)
    across = guided_play(haul(), guides, 1.4, 1.6)
    assert before.shift(5.5)[0] == pytest.approx(PLAY * (2 * 5.0 / 4.0 - 1) - PLAY)
    assert across.shift(5.5)[0] == pytest.approx(PLAY * (2 * 5.0 / 2.0 - 1) - PLAY)


def test_the_shortest_span_is_not_the_worst_at_every_height():
    # First 0 to 3.9 bears, then 3.0 to 7.4: longer, and yet the worse one for the heel.
    guides = (
        *all_round(0.0, rails=((0.0, 0.5),)),
        *all_round(3.9, rails=((0.0, 4.4),)),
        *all_round(3.0, rails=((3.4, 20.0),)),
        *all_round(7.4, rails=((7.8, 20.0),)),
    )
    spans = bearing_spans(guides, haul(), 0.3, 0.6)[Face.NORTH]
    assert spans == ((0.0, 3.9), (0.0, 7.4), (3.0, 7.4))
    play = guided_play(haul(), guides, 0.3, 0.6)
    assert play.shift(0.0)[0] == pytest.approx(PLAY * 2 * 5.2 / 4.4 - PLAY)


def test_no_play_is_found_where_too_few_shoes_bear():
    guides = all_round(0.5, 4.5, rails=((0.0, 6.0),))
    play = guided_play(haul(), guides, 1.4, 1.6)
    assert "no two shoes" in play.unknown
    assert "1.40 and 1.60" in play.unknown


@pytest.mark.parametrize("absent", list(Face))
def test_a_side_without_shoes_is_not_held(absent):
    guides = tuple(g for g in all_round(0.5, 4.5) if g.face is not absent)
    assert str(absent) in guided_play(haul(), guides, 1.0, 1.5).unknown


def test_leaning_one_way_takes_an_upper_shoe_there_and_a_lower_one_across():
    # North high and south low stop a lean to the north; nothing stops one to the south.
    guides = (
        guide(Face.NORTH, 4.5),
        guide(Face.SOUTH, 0.5),
        *(guide(face, s) for face in (Face.EAST, Face.WEST) for s in (0.5, 4.5)),
    )
    spans = bearing_spans(guides, haul(), 1.0, 1.5)
    assert spans[Face.NORTH] == ((0.5, 4.5),)
    assert spans[Face.SOUTH] is None


def test_no_shoes_at_all():
    assert "no shoe" in guided_play(haul(), (), 1.0, 1.5).unknown


def test_a_pad_bears_while_its_middle_is_on_the_rail():
    pad = guide(Face.NORTH, 1.0, rails=((2.0, 3.0),))
    half = 0.5 * LOOK_UP
    assert bearing_stretch(pad, 1.0 + half, 0.0) == pytest.approx((1.0, 1.0))
    assert bearing_stretch(pad, 1.0 + 0.9 * half, 0.0) is None
    assert bearing_stretch(pad, 2.0 - half, 0.0) == pytest.approx((1.0, 1.0))
    assert bearing_stretch(pad, 2.0 - 0.9 * half, 0.0) is None


def test_a_long_shoe_bears_where_it_overlaps_the_rail():
    rail = guide(Face.NORTH, 5.0, rails=((2.0, 12.0),), half=4.0)
    half = 0.5 * LOOK_UP
    assert bearing_stretch(rail, 0.0, 0.0) == pytest.approx((2.0 + half, 9.0))


def test_rails_on_a_section_go_by_its_own_heel():
    parent = {"base": Standing(state=State.LOCKED, carrier="x", heel_from=7.0, heel_to=7.0)}
    guides = all_round(0.5, 4.5, rails=((0.0, 12.0),), on="base")
    held = guided_play(haul(6.0, 12.0, parent), guides, 8.0, 9.0)
    assert held.unknown == ""
    gone = guided_play(haul(6.0, 20.0, parent), guides, 15.0, 16.0)
    assert gone.unknown


def pads_and_runners(reach=1.36, foot=0.0, head=12.0):
    """Pads on four faces at two heights, and runners 1.38 to 1.46 m from the axis."""
    turns = {"north": (0, 1), "south": (0, -1), "east": (1, 0), "west": (-1, 0)}
    pads, shoes, runners = [], [], []
    for face, (x, y) in turns.items():
        for s in (0.5, 4.5):
            mark = f"pad {face} {s}"
            ends = [(x * r, y * r, s) for r in (1.2, reach)]
            pads.append(piece(mark, "shoe", *ends))
            shoes.append({"member": mark, "face": face, "running": "20 mm"})
        at = (x * 1.42, y * 1.42)
        size = ("0.1 m", "0.08 m") if y else ("0.08 m", "0.1 m")
        runners.append(piece(f"runner {face}", "runner", (*at, foot), (*at, head), size))
    return pads, shoes, runners


def guided_plan(**changes):
    pads, shoes, runners = pads_and_runners(**changes)
    return small_plan(
        sections=[mast(tuple(pads), shoes=shoes)],
        fixtures=[
            fixture("gantry", "gantry", 11.5),
            {"name": "runners", "kind": "runner", "members": runners},
        ],
        lifts=[lift("mast lift", "mast", "gantry", (1, 2, 3, 4), guided=True)],
        contacts=[
            {
                "kind": "shoe on runner",
                "of": "mast",
                "marks": ["pad*"],
                "on": "runners",
                "on_marks": ["runner*"],
            }
        ],
        stages=[
            stage(
                "up",
                [
                    *install("gantry", "runners"),
                    {"do": "assemble", "section": "mast"},
                    *hoist("mast", "mast lift", 5.0),
                ],
            )
        ],
    )


def test_shoes_of_a_plan_meet_the_rail_before_their_face(tmp_path):
    shop = workshop(guided_plan(), tmp_path)
    pair = pair_against(shop, "shaft")
    guides = section_guides(shop, pair.passage)
    assert len(guides) == 8
    assert {g.face for g in guides} == set(Face)
    for each in guides:
        np.testing.assert_allclose(each.rails, [[0.0, 12.0]])
        assert each.play == pytest.approx(0.02)


def test_a_gap_drawn_wider_than_it_is_stated_counts(tmp_path):
    shop = workshop(guided_plan(reach=1.35), tmp_path)
    pair = pair_against(shop, "shaft")
    allowed = Allowed(running=0.02, free={})
    play = play_between(pair, allowed, 1.0, 1.5)
    assert play.running == pytest.approx(0.03)
    # Mid-span, slab 2 to 3: 30 play + 3 swelling + 10 = 43 mm.
    assert budget_at(pair, allowed, play, (2.0, 3.0)).total == pytest.approx(0.043)


def test_a_guided_lift_whose_shoes_run_on_nothing_has_no_budget(tmp_path):
    plan = guided_plan()
    bare = plan.model_copy(update={"contacts": ()})
    shop = workshop(bare, tmp_path)
    play = play_between(pair_against(shop, "shaft"), Allowed(running=0.02, free={}), 1.0, 1.5)
    assert "no shoe" in play.unknown


def test_shoes_that_run_off_the_end_of_their_rails(tmp_path):
    shop = workshop(guided_plan(head=7.0), tmp_path)
    pair = pair_against(shop, "shaft")
    allowed = Allowed(running=0.02, free={})
    assert play_between(pair, allowed, 1.5, 2.0).unknown == ""
    assert play_between(pair, allowed, 2.4, 2.9).unknown


def test_a_free_lift_without_its_loads_has_no_budget(tmp_path):
    shop = workshop(small_plan(), tmp_path)
    play = play_between(pair_against(shop, "shaft"), Allowed(running=0.02, free={}), 1.0, 1.5)
    assert "could not be found" in play.unknown
