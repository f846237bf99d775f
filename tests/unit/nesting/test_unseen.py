"""A mast in a shaft that was scanned, with holes in the scan: figures worked out by hand.

The mast's legs are 1.2 m from its axis, its foot reaches 1.32 m to the north at s 1.95 to
2.05; the walls are 1.5 m from the axis. It is lifted from heel 0 to 5 m.
"""

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.nesting.scanned import room, write_obj
from tests.unit.nesting.small import margins_of, reckoned, small_plan, survey, workshop
from towerlift.checks.case import Case
from towerlift.checks.unseen import check_unseen
from towerlift.errors import ShapeError
from towerlift.findings import Verdict
from towerlift.nesting.pairs import SHAFT, passing_pairs
from towerlift.nesting.resting import rest_gaps
from towerlift.nesting.unseen import approaches, doubtful, hole_notes
from towerlift.rig.trial import lift_trial
from towerlift.shapes.unseen import UNSEEN

WINDOW = {("north", 2, 10), ("north", 3, 10), ("north", 2, 11), ("north", 3, 11)}
STRAIGHT = survey(((0.0, 1.5), (12.0, 1.5)))


def scanned(folder, vertices, faces, **changes):
    """The small plan, its shaft drawn by a mesh."""
    write_obj(folder / "shaft.obj", vertices, faces)
    shaft = {
        "mesh": {"file": "shaft.obj", "unit": "m"},
        "uncertainty": "8 mm",
        "wall_head": "12 m",
    }
    return small_plan(shaft=shaft | changes)


def marks(folder, plan):
    return [hole.mark for hole in workshop(plan, folder).shapes.unseen]


def test_a_whole_scan_hides_nothing(tmp_path):
    plan = scanned(tmp_path, *room(1.5, 12.0))
    nesting = reckoned(plan, tmp_path)
    assert nesting.workshop.shapes.unseen == ()
    (margin,) = margins_of(nesting, SHAFT)
    assert margin.gap == pytest.approx(0.18, abs=2e-4)
    assert margin.spare > 0


def test_a_gap_beside_a_hole_is_not_evaluated(tmp_path):
    """The foot goes by at 180 mm everywhere: also where nothing was seen."""
    plan = scanned(tmp_path, *room(1.5, 12.0, without=WINDOW))
    assert marks(tmp_path, plan) == ["hole 1 in the scan, north wall, z 5.00 to 6.00 m"]
    nesting = reckoned(plan, tmp_path)
    (margin,) = margins_of(nesting, SHAFT)
    assert margin.gap is None
    assert margin.spare is None
    assert "hole 1 in the scan, north wall, z 5.00 to 6.00 m, 1.00 by 1.00 m" in margin.why
    assert "within 180 mm" in margin.why
    assert margin.across[1] == pytest.approx(1.5)
    assert doubtful(next(passing_pairs(nesting.workshop)), 0.01) == ""


def test_a_hole_that_a_person_has_seen_hides_nothing(tmp_path):
    known = {
        "mark": "window", "face": "north", "foot": "5 m", "head": "6 m",
        "by": "Ansa Keld, framer", "note": "window, no sill inside; seen from the ladder",
    }  # fmt: skip
    mesh = room(1.5, 12.0, without=WINDOW)
    assert marks(tmp_path, scanned(tmp_path, *mesh, wall_openings=[known])) == []
    for wrong in ({"face": "east"}, {"head": "5.9 m"}, {"foot": "5.1 m"}):
        plan = scanned(tmp_path, *mesh, wall_openings=[known | wrong])
        assert len(marks(tmp_path, plan)) == 1


def test_a_hole_out_of_reach_leaves_the_gap_as_it_is(tmp_path):
    """Above the highest point that the mast comes to, 10 m: 1 m off at the nearest."""
    plan = scanned(tmp_path, *room(1.5, 12.0, without={("west", 2, 22), ("west", 3, 22)}))
    nesting = reckoned(plan, tmp_path)
    (margin,) = margins_of(nesting, SHAFT)
    assert margin.gap == pytest.approx(0.18, abs=2e-4)
    (note,) = hole_notes(nesting.workshop)
    # Legs 0.3 m off the wall and 0.5 m beside the hole, their top at 10 m, it from 11 m up.
    assert note.gap == pytest.approx(np.sqrt(0.3**2 + 0.5**2 + 1.0**2), abs=2e-4)
    assert note.where == pytest.approx((-1.5, 0.0, 11.25))


def test_a_failing_gap_stays_failing(tmp_path):
    """What was seen falls short already: the hole takes nothing from that."""
    plan = scanned(tmp_path, *room(1.325, 12.0, cell=0.53, without={("north", 2, 4)}))
    known, doubted = margins_of(reckoned(plan, tmp_path), SHAFT)
    assert known.gap == pytest.approx(0.005, abs=2e-4)
    assert known.spare < 0
    assert doubted.gap is None
    assert "hole 1 in the scan, north wall, z 2.12 to 2.65 m" in doubted.why


def test_a_level_hole_is_no_open_end(tmp_path):
    """The top of a ledge was in the shadow of the ledge: 130 mm from the foot."""
    vertices, faces = room(1.5, 12.0, without={("north", 2, 8), ("north", 3, 8)})
    corners = [(-0.5, 1.5, 4.0), (0.0, 1.5, 4.0), (0.5, 1.5, 4.0)]
    corners += [(x, 1.45, z) for z in (4.0, 4.5) for x in (-0.5, 0.0, 0.5)]
    corners += [(-0.5, 1.5, 4.5), (0.5, 1.5, 4.5)]
    under, front = [(0, 1, 4, 3), (1, 2, 5, 4)], [(3, 4, 7, 6), (4, 5, 8, 7)]
    ends = [(5, 2, 10, 8), (0, 3, 6, 9)]
    quads = np.array(under + front + ends) + len(vertices)
    ledge = np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])
    plan = scanned(
        tmp_path, np.concatenate([vertices, corners]), np.concatenate([faces, ledge])
    )
    (hole,) = workshop(plan, tmp_path).shapes.unseen
    assert hole.mark == "hole 1 in the scan, north wall, z 4.50 m"
    np.testing.assert_allclose(np.abs(hole.hole.facing), [0, 0, 1], atol=1e-9)
    (margin,) = margins_of(reckoned(plan, tmp_path), SHAFT)
    assert margin.gap is None
    assert "1.00 by 0.05 m; what it hides may stand within 130 mm" in margin.why


def test_a_stretch_without_a_scan_is_not_evaluated(tmp_path):
    """Between two pieces of the scan nothing was seen all round."""
    gone = {(wall, i, 10) for wall in ("north", "east", "south", "west") for i in range(6)}
    plan = scanned(tmp_path, *room(1.5, 12.0, without=gone))
    assert marks(tmp_path, plan) == [
        "hole 1 in the scan, all round, z 5.00 m",
        "hole 2 in the scan, all round, z 5.50 m",
    ]
    assert all(margin.gap is None for margin in margins_of(reckoned(plan, tmp_path), SHAFT))
    # With a survey the scan may end anywhere: the survey goes on.
    assert (
        marks(tmp_path, scanned(tmp_path, *room(1.5, 12.0, without=gone), survey=STRAIGHT))
        == []
    )


def test_a_wall_that_is_missing_is_not_evaluated_even_from_inside(tmp_path):
    """The rim of three walls holds the whole room: the mast stands in it from the start."""
    gone = {("east", i, j) for i in range(6) for j in range(24)}
    plan = scanned(tmp_path, *room(1.5, 12.0, without=gone))
    shop = workshop(plan, tmp_path)
    pair = next(pair for pair in passing_pairs(shop) if pair.against == SHAFT)
    (gap,) = approaches(pair)
    assert gap.lower == -np.inf
    assert all(margin.gap is None for margin in margins_of(reckoned(plan, tmp_path), SHAFT))


def test_a_gap_at_rest_beside_a_hole_is_not_evaluated(tmp_path):
    """Assembled on the floor, the foot is 180 mm from the wall at z 2."""
    low = {("north", i, j) for i in (2, 3) for j in (3, 4)}
    plan = scanned(tmp_path, *room(1.5, 12.0, without=low))
    (gap,) = [g for g in rest_gaps(workshop(plan, tmp_path)) if g.against == SHAFT]
    assert gap.gap is None
    assert "north wall, z 1.50 to 2.50 m" in gap.why
    whole = scanned(tmp_path, *room(1.5, 12.0))
    (gap,) = [g for g in rest_gaps(workshop(whole, tmp_path)) if g.against == SHAFT]
    assert gap.gap == pytest.approx(0.18, abs=2e-4)


def refusal(folder, plan):
    with pytest.raises(ShapeError) as caught:
        workshop(plan, folder)
    return "\n".join(caught.value.problems)


def test_a_face_that_is_turned_over_is_refused(tmp_path):
    vertices, faces = room(1.5, 12.0)
    faces[100] = faces[100, ::-1]
    told = refusal(tmp_path, scanned(tmp_path, vertices, faces))
    assert "edge whose two triangles face opposite ways" in told
    assert "m here" in told


def test_a_triangle_without_area_is_refused(tmp_path):
    vertices, faces = room(1.5, 12.0)
    faces[100, 2] = faces[100, 1]
    assert "triangle without area" in refusal(tmp_path, scanned(tmp_path, vertices, faces))


def test_a_corner_that_is_no_number_is_refused(tmp_path):
    vertices, faces = room(1.5, 12.0)
    vertices[50, 1] = np.nan
    told = refusal(tmp_path, scanned(tmp_path, vertices, faces))
    assert "corner that is not a finite number" in told


@pytest.mark.parametrize(
    ("unit", "of_a_metre"),
    [
        pytest.param("m", 1000.0, id="mm-as-m"),
        pytest.param("m", 1 / 0.3048, id="ft-as-m"),
        pytest.param("in", 100.0, id="cm-as-in"),
    ],
)
def test_a_scan_in_a_larger_unit_than_it_is_in_is_refused(tmp_path, unit, of_a_metre):
    mesh = room(1.5, 12.0)
    plan = scanned(tmp_path, *mesh, mesh={"file": "shaft.obj", "unit": unit})
    write_obj(tmp_path / "shaft.obj", *mesh, scale=of_a_metre)
    assert "are the unit and the way up of the file right?" in refusal(tmp_path, plan)


def test_a_scan_in_a_smaller_unit_is_refused_beside_a_survey_and_not_evaluated_alone(tmp_path):
    mesh = {"file": "shaft.obj", "unit": "mm"}
    plan = scanned(tmp_path, *room(1.5, 12.0), mesh=mesh, survey=STRAIGHT)
    assert "the mesh lies in the middle of the room" in refusal(tmp_path, plan)
    alone = scanned(tmp_path, *room(1.5, 12.0), mesh=mesh)
    found = margins_of(reckoned(alone, tmp_path), SHAFT)
    assert all(margin.spare is None or margin.spare < 0 for margin in found)
    assert any("was not surveyed at" in margin.why for margin in found)


def test_a_scan_whose_faces_all_look_out_of_the_room_does_not_pass(tmp_path):
    vertices, faces = room(1.5, 12.0)
    plan = scanned(tmp_path, vertices, faces[:, ::-1])
    found = margins_of(reckoned(plan, tmp_path), SHAFT)
    assert all(margin.spare < 0 for margin in found)
    assert all("the faces of the scan look out of the room" in margin.note for margin in found)


def test_each_hole_is_found_with_what_comes_nearest_to_it(tmp_path):
    """One out of reach passes with its distance; one that a gap relies on has no verdict."""
    far = {("west", 2, 22), ("west", 3, 22)}
    plan = scanned(tmp_path, *room(1.5, 12.0, without=WINDOW | far))
    nesting = reckoned(plan, tmp_path)
    shop = nesting.workshop
    case = Case(
        plan=plan, shapes=shop.shapes, raise_=shop.raise_, margins=nesting.margins, shop=shop
    )
    near, off = check_unseen(case)
    assert near.subject == "shaft: hole 1 in the scan, north wall, z 5.00 to 6.00 m"
    assert near.verdict is Verdict.NOT_EVALUATED
    assert "mast comes nearest to it; what it hides was not seen" in near.why
    assert near.where == pytest.approx((0.0, 1.5, 5.5))
    assert off.verdict is Verdict.PASS
    assert off.value == pytest.approx(1157.5, abs=0.3)
    known = replace(shop, shapes=replace(shop.shapes, unseen=()))
    assert list(check_unseen(replace(case, shop=known))) == []


def test_a_rope_that_passes_a_hole_is_asked_about_it(tmp_path):
    plan = scanned(tmp_path, *room(1.5, 12.0, without=WINDOW))
    shop = workshop(plan, tmp_path)
    (corners,) = [shop.assembly(UNSEEN, frozenset()).vertices]
    assert corners[:, 1] == pytest.approx(1.5)
    assert corners[:, 2].min() == pytest.approx(5.0)
    assert not shop.body(UNSEEN, frozenset(), shop.assembly(UNSEEN, frozenset())).closed


def test_a_section_out_of_true_is_held_off_what_a_hole_may_hold(tmp_path):
    """What if, and every rehearsed loss: nearest pieces are sought there as well."""
    plan = scanned(tmp_path, *room(1.5, 12.0, without=WINDOW))
    shop = workshop(plan, tmp_path)
    passage = next(p for p in shop.raise_.moving_passages if p.step == "lift")
    against = [pair.against for pair in lift_trial(shop, passage).pairs]
    assert UNSEEN in against
    assert SHAFT in against
    plan = scanned(tmp_path, *room(1.5, 12.0))
    shop = workshop(plan, tmp_path)
    assert UNSEEN not in [pair.against for pair in lift_trial(shop, passage).pairs]
