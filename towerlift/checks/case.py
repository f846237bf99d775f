"""What every check is given."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from towerlift.findings import Finding, Limit, Overrule
from towerlift.motion.passages import Breach
from towerlift.motion.raises import Raise
from towerlift.nesting.budget import FreeHangCurve
from towerlift.nesting.curves import GapCurve
from towerlift.nesting.margins import ContactGap, Margin, RestGap
from towerlift.nesting.pairs import Workshop
from towerlift.plan.limits import UsualLimit, limit_in_plan, overrule_in_plan
from towerlift.plan.model import Plan
from towerlift.rig.curves import HangCurve
from towerlift.shapes.solids import Shapes

__all__ = ["Case", "Check", "UsualLimit", "limit_for", "overrule_for"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A plan with everything reckoned from it.

    Attributes
    ----------
    plan : Plan
        As written.
    shapes : Shapes
        What it draws.
    raise_ : Raise
        What it does.
    gaps : tuple of GapCurve
        One for each moving body and each other body, by passage.
    hangs : tuple of HangCurve
        One for each hauled passage.
    margins : tuple of Margin
        Gaps against their budgets.
    rests : tuple of RestGap
        Gaps where something is built, put in or fitted.
    contacts : tuple of ContactGap
        What is meant to touch.
    free : mapping of int to FreeHangCurve
        How far sections on free lines hang out of true, by passage.
    shop : Workshop or None
        Bodies of the plan where they are built already; else each check builds its own.
    """

    plan: Plan
    shapes: Shapes
    raise_: Raise
    gaps: tuple[GapCurve, ...] = ()
    hangs: tuple[HangCurve, ...] = ()
    margins: tuple[Margin, ...] = ()
    rests: tuple[RestGap, ...] = ()
    contacts: tuple[ContactGap, ...] = ()
    free: Mapping[int, FreeHangCurve] = field(default_factory=dict)
    shop: Workshop | None = None

    @property
    def workshop(self) -> Workshop:
        """Bodies of the plan."""
        if self.shop is not None:
            return self.shop
        return Workshop(plan=self.plan, shapes=self.shapes, raise_=self.raise_)

    @property
    def breaches(self) -> tuple[Breach, ...]:
        """Rules of order that the stages break."""
        return self.raise_.breaches


Check = Callable[[Case], Iterable[Finding]]


def limit_for(case: Case, usual: UsualLimit) -> Limit:
    """The limit in the plan where it sets one, else the usual one.

    Parameters
    ----------
    case : Case
        Its plan may choose a limit of this name.
    usual : UsualLimit
        What stands otherwise.

    Returns
    -------
    limit : Limit
        With the source of whichever holds.

    Raises
    ------
    UnitError
        If the plan writes it in a unit that does not measure it.
    """
    return limit_in_plan(case.plan, usual)


def overrule_for(case: Case, usual: UsualLimit, subject: str, stage: str) -> Overrule | None:
    """The overrule of a limit for one subject in one stage, or None.

    Parameters
    ----------
    case : Case
        Its plan holds the overrules.
    usual : UsualLimit
        The limit that may be overruled.
    subject, stage : str
        Of the finding.

    Returns
    -------
    overrule : Overrule or None
        With name and role of the person and the note.

    Raises
    ------
    UnitError
        If the plan writes it in a unit that does not measure it.
    """
    return overrule_in_plan(case.plan, usual, subject, stage)
