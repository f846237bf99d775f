"""Gaps along the raise and the budget they are held against."""

from collections.abc import Mapping
from dataclasses import dataclass

from towerlift.motion.raises import Raise
from towerlift.nesting.budget import FreeHangCurve
from towerlift.nesting.curves import GapCurve
from towerlift.nesting.margins import ContactGap, Margin, RestGap
from towerlift.nesting.needs import Allowed
from towerlift.nesting.pairs import Workshop, passing_pairs
from towerlift.nesting.passing import contact_gaps, gap_curve, passing_margins
from towerlift.nesting.resting import rest_gaps
from towerlift.plan.model import Plan
from towerlift.shapes.solids import Shapes

__all__ = ["Nesting", "reckon_nesting"]


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
    return Nesting(
        workshop=shop,
        curves=curves,
        margins=tuple(
            margin
            for pair, curve in zip(measured, curves, strict=True)
            for margin in passing_margins(pair, curve, allowed)
        ),
        rests=tuple(rest_gaps(shop)),
        contacts=tuple(c for pair in pairs for c in contact_gaps(pair)),
    )
