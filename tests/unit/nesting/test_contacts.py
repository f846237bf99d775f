"""Which pieces may touch: what the plan lists and not a piece more."""

import numpy as np
import pytest

from tests.unit.nesting.small import FOOT, mast, piece, small_plan
from towerlift.nesting.bodies import Assembly, Label
from towerlift.nesting.contacts import contact_groups, meant_contacts, meant_pairs, members_of
from towerlift.plan.work import Contact


def assembly(body, *marks):
    return Assembly(
        name=body,
        vertices=np.zeros((3, 3)),
        faces=np.zeros((len(marks), 3), dtype=np.int64),
        members=np.arange(len(marks)),
        labels=tuple(Label(body=body, mark=mark, part="leg") for mark in marks),
    )


MAST = assembly("mast", "leg 1", "leg 12", "leg [1]", "girt", "l*")
NEEDLE = assembly("needles", "N1", "N2")


def contact(**changes):
    body = {
        "kind": "heel on needle",
        "of": "mast",
        "marks": ["leg 1"],
        "on": "needles",
        "on_marks": ["N*"],
    }
    return Contact.model_validate(body | changes)


@pytest.mark.parametrize(
    ("pattern", "taken"),
    [
        ("leg 1", [0]),
        ("leg 1*", [0, 1]),
        ("leg*", [0, 1, 2]),
        ("leg [1]", [2]),  # a mark, not a set of signs
        ("leg ?", []),
        ("*girt", []),
        ("*", [0, 1, 2, 3, 4]),
        ("", []),
    ],
)
def test_only_a_trailing_star_is_a_pattern(pattern, taken):
    assert members_of(MAST, "mast", [pattern]).tolist() == taken


def test_another_body_of_the_same_marks_is_left_alone():
    assert members_of(MAST, "spire", ["leg*"]).tolist() == []


def test_pairs_are_those_of_the_contact_and_no_others():
    pairs = meant_pairs([contact()], "S1", MAST, NEEDLE)
    assert pairs.tolist() == [[0, 0], [0, 1]]


def test_either_side_may_be_the_moving_one():
    pairs = meant_pairs([contact()], "S1", NEEDLE, MAST)
    assert pairs.tolist() == [[0, 0], [1, 0]]


def test_a_contact_holds_in_its_stages_only():
    only = contact(stages=["S2"])
    assert len(meant_pairs([only], "S1", MAST, NEEDLE)) == 0
    assert len(meant_pairs([only], "S2", MAST, NEEDLE)) == 2
    assert list(contact_groups([only], "S1", MAST, NEEDLE)) == []


def test_two_contacts_do_not_make_pairs_between_them():
    first = contact(marks=["leg 1"], on_marks=["N1"])
    second = contact(marks=["girt"], on_marks=["N2"])
    assert meant_pairs([first, second], "S1", MAST, NEEDLE).tolist() == [[0, 0], [3, 1]]


def test_a_contact_of_shoes_takes_shoes_only():
    pads = piece("pad 1", "shoe", (0, 1.2, 1.0), (0, 1.3, 1.0))
    shoes = [{"member": "pad 1", "face": "north", "running": "20 mm"}]
    wide = {
        "kind": "shoe on runner",
        "of": "mast",
        "marks": ["*"],
        "on": "gantry",
        "on_marks": ["*"],
    }
    plan = small_plan(sections=[mast((FOOT, pads), shoes=shoes)], contacts=[wide])
    assert [contact.marks for contact in meant_contacts(plan)] == [("pad 1",)]
    bare = small_plan(contacts=[wide])
    assert meant_contacts(bare) == ()
