"""Holes of a scan: what was not seen, and the gaps that rely on it."""

from dataclasses import dataclass, replace

import numpy as np

from towerlift.gaps import PathGap, hole_gaps
from towerlift.nesting.bodies import Label
from towerlift.nesting.margins import Margin, Place, RestGap
from towerlift.nesting.pairs import SHAFT, Pair, Workshop, passing_pairs
from towerlift.shapes.solids import Unseen
from towerlift.shapes.unseen import UNSEEN

STEP = 0.25
HAIR = 1e-6
ALIKE = 3e-4
"""Two gaps that differ by less are as near: both are proven, and rims found, to 0.1 mm. [m]"""
NAMED = 3
"""Holes that a reason names; the rest are counted."""


def approaches(pair: Pair) -> tuple[PathGap, ...]:
    """How near a section comes to what may stand in each hole.

    Parameters
    ----------
    pair : Pair
        A section against the shaft.

    Returns
    -------
    gaps : tuple of PathGap
        One for each of the holes of the shapes.
    """
    holes = [each.hole for each in pair.shop.shapes.unseen]
    low, high = pair.travel
    key = ("approaches", id(pair.moving_assembly), pair.passage.index, pair.moving)

    def find() -> tuple[PathGap, ...]:
        path = pair.path(low, high if high > low else low + HAIR, STEP)
        return hole_gaps(pair.moving_body, holes, path)

    return pair.shop.kept(key, find)


def _relied_on(pair: Pair, need: float) -> list[tuple[Unseen, PathGap]]:
    """Holes in which something may be as near as what is needed, the nearest first."""
    found = [
        (hole, gap)
        for hole, gap in zip(pair.shop.shapes.unseen, approaches(pair), strict=True)
        if not gap.lower >= need + ALIKE
    ]
    return sorted(found, key=lambda each: each[1].upper)


def _reason(relied: list[tuple[Unseen, PathGap]]) -> str:
    named = "; ".join(hole.words for hole, _ in relied[:NAMED])
    more = len(relied) - NAMED
    nearest = relied[0][1].upper
    near = (
        f"what it hides may stand within {nearest * 1000:.0f} mm"
        if nearest > 0
        else "what it hides may stand in the way"
    )
    others = f" and {more} more" if more > 0 else ""
    return f"the gap relies on what the scan did not see: {named}{others}; {near}"


def doubtful(pair: Pair, need: float) -> str:
    """Which holes a distance of a section from the shaft relies on.

    Parameters
    ----------
    pair : Pair
        A section against the shaft.
    need : float
        The distance. [m]

    Returns
    -------
    why : str
        In a sentence; empty where nothing unseen may be nearer.
    """
    relied = _relied_on(pair, need)
    return _reason(relied) if relied else ""


def hidden_margin(pair: Pair, found: tuple[Margin, ...], need: float) -> tuple[Margin, ...]:
    """The same margins, those that rely on a hole of the scan not evaluated.

    Parameters
    ----------
    pair : Pair
        A section against the shaft.
    found : tuple of Margin
        As measured from what was seen.
    need : float
        Greatest budget on the way. [m]

    Returns
    -------
    margins : tuple of Margin
        A margin that falls short of what was seen stays: it fails without the hole.
    """
    measured = [margin.gap for margin in found if margin.gap is not None]
    relied = _relied_on(pair, max([need, *measured]))
    if not relied:
        return found
    hole, gap = relied[0]
    doubted = replace(
        found[0],
        label=pair.moving_assembly.labels[gap.moving_member],
        opposite=_label(hole),
        gap=None,
        budget=None,
        heel=gap.at,
        heels=(gap.at, gap.at),
        where=pair.in_shaft(gap.moving_point),
        across=pair.in_shaft(gap.fixed_point),
        why=_reason(relied),
        samples=(),
        cure=None,
        also=(),
    )
    return (*(m for m in found if m.spare is None or m.spare < 0), doubted)


def _label(hole: Unseen) -> Label:
    return Label(body=SHAFT, mark=hole.mark, part=UNSEEN)


def hidden_rest(pair: Pair, found: RestGap) -> RestGap:
    """The same gap at rest, not evaluated where it relies on a hole of the scan.

    Parameters
    ----------
    pair : Pair
        A section against the shaft.
    found : RestGap
        As measured from what was seen.

    Returns
    -------
    gap : RestGap
        The one found, if it overlaps already or relies on no hole.
    """
    if found.gap is None or found.gap < 0:
        return found
    relied = _relied_on(pair, found.gap)
    if not relied:
        return found
    hole, gap = relied[0]
    return replace(
        found,
        label=pair.moving_assembly.labels[gap.moving_member],
        opposite=_label(hole),
        gap=None,
        where=pair.in_shaft(gap.moving_point),
        why=_reason(relied),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HoleNote:
    """A hole of the scan, and what comes nearest to it over the whole raise.

    Attributes
    ----------
    unseen : Unseen
        The hole.
    stage, moving : str
        What comes nearest, and when; empty where nothing moves by it.
    gap : float
        Proven distance that it keeps; minus infinity if it would go through what may
        be there, infinite where nothing moves. [m]
    heel : float or None
        Heel height of the section there. [m]
    where : tuple of float
        Middle of the hole, shaft frame. [m]
    """

    unseen: Unseen
    stage: str
    moving: str
    gap: float
    heel: float | None
    where: Place


def hole_notes(shop: Workshop) -> tuple[HoleNote, ...]:
    """What comes nearest to every hole of the scan.

    Parameters
    ----------
    shop : Workshop
        Plan and shapes.

    Returns
    -------
    notes : tuple of HoleNote
        One for each of the holes of the shapes.
    """
    if not shop.shapes.unseen:
        return ()
    walls = [pair for pair in passing_pairs(shop) if pair.against == SHAFT]
    notes = []
    for k, unseen in enumerate(shop.shapes.unseen):
        x, y, z = unseen.hole.centre.tolist()
        note = HoleNote(
            unseen=unseen, stage="", moving="", gap=np.inf, heel=None, where=(x, y, z)
        )
        for pair in walls:
            gap = approaches(pair)[k]
            if gap.lower < note.gap:
                stage = pair.passage.stage
                note = replace(
                    note, stage=stage, moving=pair.moving, gap=gap.lower, heel=gap.at
                )
        notes.append(note)
    return tuple(notes)
