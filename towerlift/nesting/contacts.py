"""Meant contacts: which pieces may touch, in which stage."""

from collections.abc import Iterable, Iterator
from functools import lru_cache

import numpy as np

from towerlift.nesting.bodies import Assembly, Label
from towerlift.plan.model import Plan
from towerlift.plan.work import Contact
from towerlift.shapes.solids import Ints

SHOE = "shoe on runner"


class _Labels:
    """Labels told apart by which tuple they are: to compare them all is what takes long."""

    __slots__ = ("labels",)

    def __init__(self, labels: tuple[Label, ...]) -> None:
        self.labels = labels

    def __hash__(self) -> int:
        return id(self.labels)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Labels) and other.labels is self.labels


@lru_cache(maxsize=1024)
def _by_body(labels: _Labels) -> dict[str, list[tuple[int, str]]]:
    """Place and mark of every member, by the body it belongs to."""
    found: dict[str, list[tuple[int, str]]] = {}
    for place, label in enumerate(labels.labels):
        found.setdefault(label.body, []).append((place, label.mark))
    return found


def _matches(mark: str, pattern: str) -> bool:
    # Only a trailing star is a pattern: a mark may hold any other sign, such as "[2]".
    return mark.startswith(pattern[:-1]) if pattern.endswith("*") else mark == pattern


def members_of(assembly: Assembly, body: str, patterns: Iterable[str]) -> Ints:
    """Members of an assembly that a contact names.

    Parameters
    ----------
    assembly : Assembly
        Where to look.
    body : str
        Section, fit-out item or fixture.
    patterns : iterable of str
        Marks; a trailing ``*`` takes every mark that begins so.

    Returns
    -------
    members : (k,) int
        Places in ``assembly.labels``.
    """
    return _members(_Labels(assembly.labels), body, tuple(patterns)).copy()


@lru_cache(maxsize=4096)
def _members(labels: _Labels, body: str, patterns: tuple[str, ...]) -> Ints:
    members = _by_body(labels).get(body, [])
    return np.array(
        [place for place, mark in members if any(_matches(mark, one) for one in patterns)],
        dtype=np.int64,
    )


def meant_pairs(
    contacts: Iterable[Contact], stage: str, moving: Assembly, other: Assembly
) -> Ints:
    """Pairs of members that are meant to touch in a stage.

    Parameters
    ----------
    contacts : iterable of Contact
        The plan's.
    stage : str
        Contacts of other stages are left out.
    moving, other : Assembly
        The two sides.

    Returns
    -------
    pairs : (k, 2) int
        Member of `moving`, member of `other`.
    """
    pairs = {
        (int(i), int(j))
        for _, left, right in contact_groups(contacts, stage, moving, other)
        for i in left
        for j in right
    }
    return np.array(sorted(pairs), dtype=np.int64).reshape(-1, 2)


def contact_groups(
    contacts: Iterable[Contact], stage: str, moving: Assembly, other: Assembly
) -> Iterator[tuple[str, Ints, Ints]]:
    """Members on both sides of each contact that is meant in a stage.

    Parameters
    ----------
    contacts : iterable of Contact
        The plan's.
    stage : str
        Contacts of other stages are left out.
    moving, other : Assembly
        The two sides.

    Yields
    ------
    kind : str
        Kind of contact.
    members, other_members : (k,) int
        Neither is empty.
    """
    for contact in contacts:
        if contact.stages and stage not in contact.stages:
            continue
        sides = ((contact.of, contact.marks), (contact.on, contact.on_marks))
        for (a, a_marks), (b, b_marks) in (sides, sides[::-1]):
            left, right = members_of(moving, a, a_marks), members_of(other, b, b_marks)
            if len(left) and len(right):
                yield contact.kind, left, right


def meant_contacts(plan: Plan) -> tuple[Contact, ...]:
    """Contacts of a plan, those of shoes narrowed to the pads their section lists as shoes.

    Parameters
    ----------
    plan : Plan
        As written.

    Returns
    -------
    contacts : tuple of Contact
        A contact of shoes that names no shoe is left out: what is no shoe keeps the
        whole budget.
    """
    pads = {section.name: [s.member for s in section.shoes] for section in plan.sections}
    kept = []
    for contact in plan.contacts:
        if contact.kind != SHOE:
            kept.append(contact)
            continue
        marks = tuple(
            pad
            for pad in pads.get(contact.of, [])
            if any(_matches(pad, pattern) for pattern in contact.marks)
        )
        if marks:
            kept.append(contact.model_copy(update={"marks": marks}))
    return tuple(kept)
