"""What every check is given, and the limits it may ask for."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from towerlift.errors import UnitError
from towerlift.findings import Bound, Finding, Limit, Overrule
from towerlift.motion.passages import Breach
from towerlift.motion.raises import Raise
from towerlift.nesting.curves import GapCurve
from towerlift.plan.model import Plan
from towerlift.rig.curves import HangCurve
from towerlift.shapes.solids import Shapes
from towerlift.units import Dimension, parse_quantity, unit_factor


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A plan with everything reckoned from it.

    Attributes
    ----------
    gaps : tuple of GapCurve
        One for each moving body and each other body, by passage.
    hangs : tuple of HangCurve
        One for each hauled passage.
    """

    plan: Plan
    shapes: Shapes
    raise_: Raise
    gaps: tuple[GapCurve, ...]
    hangs: tuple[HangCurve, ...]

    @property
    def breaches(self) -> tuple[Breach, ...]:
        """Rules of order that the stages break."""
        return self.raise_.breaches


Check = Callable[[Case], Iterable[Finding]]


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualLimit:
    """A limit as it stands where the plan says nothing.

    Attributes
    ----------
    name : str
        As plans and findings write it.
    value : float
        In `unit`.
    dimension : Dimension or None
        What it measures; None for a plain number or a count.
    """

    name: str
    value: float
    unit: str
    bound: Bound
    dimension: Dimension | None
    source: str


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
    for chosen in case.plan.limits:
        if chosen.limit == usual.name:
            value = _in_unit(chosen.value, usual)
            return Limit(value=value, unit=usual.unit, bound=usual.bound, source=chosen.source)
    return Limit(value=usual.value, unit=usual.unit, bound=usual.bound, source=usual.source)


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
    """
    roles = {person.name: person.role for person in case.plan.people}
    for chosen in case.plan.overrules:
        if (chosen.limit, chosen.subject) == (usual.name, subject) and chosen.stage in (
            "",
            stage,
        ):
            by = f"{chosen.by}, {roles[chosen.by]}"
            limit = Limit(
                value=_in_unit(chosen.value, usual),
                unit=usual.unit,
                bound=usual.bound,
                source=f"overruled by {by}",
            )
            return Overrule(limit=limit, by=by, note=chosen.note)
    return None


def _in_unit(written: str, usual: UsualLimit) -> float:
    if usual.dimension is None:
        try:
            return float(written)
        except ValueError:
            raise UnitError(
                f'limit "{usual.name}": "{written}" must be a plain number ({usual.unit})'
            ) from None
    value = parse_quantity(written, usual.dimension)
    return value / unit_factor(usual.unit, usual.dimension)
