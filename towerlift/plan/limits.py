"""Usual limits, and those that a plan sets or overrules."""

from dataclasses import dataclass
from math import isfinite

from towerlift.errors import UnitError
from towerlift.findings import Bound, Limit, Overrule
from towerlift.plan.model import Plan
from towerlift.units import Dimension, parse_quantity, unit_factor


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualLimit:
    """A limit as it stands where the plan says nothing.

    Attributes
    ----------
    name : str
        As plans and findings write it.
    value : float
        In `unit`.
    unit : str
        Unit in which findings print it.
    bound : Bound
        Which side of it is acceptable.
    dimension : Dimension or None
        What it measures; None for a plain number or a count.
    source : str
        Who or what sets it.
    """

    name: str
    value: float
    unit: str
    bound: Bound
    dimension: Dimension | None
    source: str

    def read(self, written: str) -> float:
        """Value of a limit of this name as a plan writes it.

        Parameters
        ----------
        written : str
            With its unit, or a plain number where it measures nothing.

        Returns
        -------
        value : float
            In `unit`.

        Raises
        ------
        UnitError
            If the unit does not measure what the limit does, it is no number, or it is
            below nothing: no limit here can be.
        """
        try:
            if self.dimension is None:
                value = float(written)
            else:
                factor = unit_factor(self.unit, self.dimension)
                value = parse_quantity(written, self.dimension) / factor
        except ValueError as error:
            raise UnitError(f'limit "{self.name}": {error}') from None
        if not (value >= 0 and isfinite(value)):
            raise UnitError(
                f'limit "{self.name}": must be a number of 0 or more, got "{written}"'
            )
        return value


def limit_in_plan(plan: Plan, usual: UsualLimit) -> Limit:
    """The limit that the plan sets, else the usual one.

    Parameters
    ----------
    plan : Plan
        May choose a limit of this name.
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
    for chosen in plan.limits:
        if chosen.limit == usual.name:
            return Limit(
                value=usual.read(chosen.value),
                unit=usual.unit,
                bound=usual.bound,
                source=chosen.source,
            )
    return Limit(value=usual.value, unit=usual.unit, bound=usual.bound, source=usual.source)


def overrule_in_plan(
    plan: Plan, usual: UsualLimit, subject: str, stage: str
) -> Overrule | None:
    """The overrule of a limit for one subject in one stage, or None.

    Parameters
    ----------
    plan : Plan
        Holds the overrules.
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
    roles = {person.name: person.role for person in plan.people}
    for chosen in plan.overrules:
        if (chosen.limit, chosen.subject) == (usual.name, subject) and chosen.stage in (
            "",
            stage,
        ):
            by = f"{chosen.by}, {roles[chosen.by]}"
            limit = Limit(
                value=usual.read(chosen.value),
                unit=usual.unit,
                bound=usual.bound,
                source=f"overruled by {by}",
            )
            return Overrule(limit=limit, by=by, note=chosen.note)
    return None
