"""Gaps along the raise and the budget they are held against."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from towerlift.motion.raises import Raise
from towerlift.nesting.budget import FreeHangCurve
from towerlift.nesting.curves import GapCurve
from towerlift.nesting.margins import ContactGap, Margin, RestGap
from towerlift.nesting.needs import Allowed
from towerlift.nesting.pairs import RELEASE, Pair, Workshop, passing_pairs
from towerlift.nesting.passing import gap_curve, passing_margins
from towerlift.nesting.resting import rest_gaps, resting_pairs
from towerlift.nesting.touching import contact_gaps
from towerlift.plan.model import Plan
from towerlift.shapes.solids import Shapes

__all__ = ["Nesting", "reckon_nesting"]

_BEARING = (
    f"listed as a contact, which holds within {RELEASE * 1000:.0f} mm of where the travel "
    "begins and ends, not on the way"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Nesting:
    """Every gap of a raise.

    Attributes
    ----------
    workshop : Workshop
        Bodies, kept for what-ifs.
    curves : tuple of GapCurve
        By passage, moving section and what it passes.
    margins : tuple of Margin
        Gaps against their budgets.
    rests : tuple of RestGap
        Gaps where something has just come.
    contacts : tuple of ContactGap
        What is meant to touch.
    """

    workshop: Workshop
    curves: tuple[GapCurve, ...]
    margins: tuple[Margin, ...]
    rests: tuple[RestGap, ...]
    contacts: tuple[ContactGap, ...]


def reckon_nesting(
    plan: Plan,
    shapes: Shapes,
    raise_: Raise,
    *,
    running: float,
    free: Mapping[int, FreeHangCurve],
) -> Nesting:
    """Every gap of a raise, moving and at rest, with the budget it is held against.

    Parameters
    ----------
    plan : Plan
        As written.
    shapes : Shapes
        What it draws.
    raise_ : Raise
        What it does.
    running : float
        Running clearance to be left. [m]
    free : mapping of int to FreeHangCurve
        How sections on free lines hang, by passage index.

    Returns
    -------
    nesting : Nesting
        Curves, margins, gaps at rest and meant contacts.
    """
    shop = Workshop(plan=plan, shapes=shapes, raise_=raise_)
    allowed = Allowed(running=running, free=free)
    pairs = tuple(passing_pairs(shop))
    measured = tuple(pair for pair in pairs if pair.unmeant)
    curves = tuple(gap_curve(pair) for pair in measured)
    margins = [
        margin
        for pair, curve in zip(measured, curves, strict=True)
        for margin in passing_margins(pair, curve, allowed)
    ]
    margins += [margin for pair in pairs for margin in _on_the_way(pair, allowed)]
    touching = (*pairs, *resting_pairs(shop))
    return Nesting(
        workshop=shop,
        curves=curves,
        margins=tuple(margins),
        rests=tuple(rest_gaps(shop)),
        contacts=tuple(c for pair in touching for c in contact_gaps(pair)),
    )


def _on_the_way(pair: Pair, allowed: Allowed) -> Iterator[Margin]:
    """What falls short of pieces that may bear, where they are not about to."""
    way = pair.on_the_way
    low, high = way.travel
    if high > low and way.unmeant:
        for margin in passing_margins(way, gap_curve(way), allowed):
            if margin.spare is None or margin.spare < 0:
                yield replace(margin, note=_BEARING)
