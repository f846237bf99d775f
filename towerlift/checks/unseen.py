"""Holes of the shaft's scan: what comes by what was not seen.

A hole may hide a corbel, a cramp or a fallen stone. Each is told with what comes nearest
to it; a gap that relies on one is not evaluated.
"""

from collections.abc import Iterable

from towerlift.checks.case import Case, limit_for
from towerlift.checks.clearance import RUNNING, SEE_IT
from towerlift.findings import Finding
from towerlift.nesting.margins import Margin
from towerlift.nesting.unseen import HoleNote, hole_notes
from towerlift.shapes.unseen import UNSEEN
from towerlift.units import rounded_down

CHECK = "not seen"
# Holes told one by one; the rest are told by the nearest of them.
TOLD = 20
# Where nothing comes nearer than this, it is told as this. [m]
FAR = 100.0


def check_unseen(case: Case) -> Iterable[Finding]:
    """Every hole of the scan, with what comes nearest to it.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        One for each hole, the nearest first; the farthest ones together.
    """
    shop = case.workshop
    if not shop.shapes.unseen:
        return
    relied = {
        margin.opposite.mark: margin
        for margin in case.margins
        if margin.opposite.part == UNSEEN
    }
    notes = sorted(hole_notes(shop), key=lambda note: note.gap)
    for note in notes[:TOLD]:
        yield _finding(case, note, relied.get(note.unseen.mark), "")
    if len(notes) > TOLD:
        more = f"; {len(notes) - TOLD - 1} more holes keep farther off"
        yield _finding(case, notes[TOLD], relied.get(notes[TOLD].unseen.mark), more)


def _finding(case: Case, note: HoleNote, relied: Margin | None, more: str) -> Finding:
    limit = limit_for(case, RUNNING)
    near = note.gap * 1000.0 < limit.value
    value = None
    if not near and relied is None:
        value = rounded_down(min(note.gap, FAR) * 1000.0, 2)
    by = f"{note.moving} comes nearest to it" if note.moving else "nothing moves by it"
    why = f"{note.unseen.words}; {by}{more}"
    if value is None:
        why += "; what it hides was not seen, and a gap relies on it"
    return Finding(
        check=CHECK,
        subject=f"shaft: {note.unseen.mark}",
        stage=note.stage,
        heel=note.heel,
        where=note.where,
        limit=limit,
        overrule=None,
        value=value,
        why=why,
        remedy=SEE_IT if value is None else (),
    )
