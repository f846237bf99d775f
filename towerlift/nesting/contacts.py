"""Meant contacts: which pieces may touch, and between which heights shoes bear."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fnmatch import fnmatchcase

import numpy as np

from towerlift.nesting.bodies import Assembly, Label
from towerlift.nesting.curves import Floats
from towerlift.plan.work import Contact
from towerlift.shapes.solids import Ints

# A pad shorter than this bears at its middle; a longer piece where it overlaps.
LONGEST_PAD = 1.0


def _takes(label: Label, body: str, patterns: Iterable[str]) -> bool:
    return label.body == body and any(fnmatchcase(label.mark, pattern) for pattern in patterns)


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
    patterns = tuple(patterns)
    return np.array(
        [k for k, label in enumerate(assembly.labels) if _takes(label, body, patterns)],
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """Shoes on one pair of faces and the heights of what they run on.

    Attributes
    ----------
    faces : tuple of str
        Faces they hold; empty where the plan does not say.
    shoes : (k, 2) float
        Foot and head of each shoe, frame of the moving section. [m]
    rails : (m, 2) float
        Foot and head of each rail or runner, in its own frame. [m]
    on : str
        Section or fixture that carries the rails.
    """

    faces: tuple[str, ...]
    shoes: Floats
    rails: Floats
    on: str


def bearing_span(guide: Guide, heel: float, rails_heel: float) -> tuple[float, float] | None:
    """Lowest and highest height s at which shoes bear, or None where fewer than two do.

    Parameters
    ----------
    guide : Guide
        Shoes and rails.
    heel, rails_heel : float
        Heel height of the moving section and of what carries the rails. [m]

    Returns
    -------
    span : tuple of float or None
        Frame of the moving section. [m]
    """
    low, high = np.inf, -np.inf
    for foot, head in guide.shoes:
        middle = 0.5 * (foot + head)
        for rail_foot, rail_head in guide.rails + rails_heel - heel:
            if head - foot <= LONGEST_PAD:
                if rail_foot <= middle <= rail_head:
                    low, high = min(low, middle), max(high, middle)
            elif min(head, rail_head) > max(foot, rail_foot):
                low, high = min(low, max(foot, rail_foot)), max(high, min(head, rail_head))
    return (float(low), float(high)) if high > low else None
