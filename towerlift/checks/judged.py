"""Findings on strength: a value against what a source gives, or what is missing."""

from dataclasses import dataclass, replace

from towerlift.checks.case import Case, limit_for, overrule_for
from towerlift.findings import Bound, Finding
from towerlift.plan.limits import UsualLimit
from towerlift.timber import Sourced
from towerlift.units import Dimension

NOT_READ = "no strength with a source was read"
# Values are shown, and compared, to this many digits after the point.
DIGITS = 9


def stress_limit(name: str) -> UsualLimit:
    """A limit on a stress, whose value each piece takes from its own class.

    Parameters
    ----------
    name : str
        As plans and findings write it.

    Returns
    -------
    limit : UsualLimit
        In MPa.
    """
    return UsualLimit(
        name=name,
        value=0.0,
        unit="MPa",
        bound=Bound.AT_MOST,
        dimension=Dimension.PRESSURE,
        source="EN 1995-1-1: strength of the class, by the duration of the load",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A value to be held against a limit.

    Attributes
    ----------
    usual : UsualLimit
        Which limit.
    subject, stage : str
        Of the finding.
    value : float or None
        In the unit of the limit.
    why : str
        What makes it so, or what is missing.
    strength : Sourced or None
        That the limit is set by. [Pa]
    by_strength : bool
        Whether the limit is a strength; it then cannot be judged without one.
    heel : float or None
        Heel height. [m]
    where : tuple of float or None
        Place. [m]
    remedy : tuple of str
        Told only where the limit is broken.
    """

    usual: UsualLimit
    subject: str
    stage: str
    value: float | None
    why: str
    strength: Sourced | None = None
    by_strength: bool = False
    heel: float | None = None
    where: tuple[float, float, float] | None = None
    remedy: tuple[str, ...] = ()


def judge(case: Case, check: str, said: Judged) -> Finding:
    """The finding of a value, against the limit in force.

    Parameters
    ----------
    case : Case
        Its plan may choose or overrule the limit.
    check : str
        Name of the check.
    said : Judged
        Value and words.

    Returns
    -------
    finding : Finding
        Not evaluated where there is no value, or no strength where one is needed and the
        plan sets no limit of that name either.
    """
    usual = said.usual
    if said.strength is not None:
        usual = replace(usual, value=said.strength.value / 1e6, source=said.strength.source)
    elif said.by_strength:
        usual = replace(usual, source=NOT_READ)
    limit = limit_for(case, usual)
    overrule = overrule_for(case, usual, said.subject, said.stage)
    unknown = said.by_strength and limit.source == NOT_READ and overrule is None
    value = None if unknown or said.value is None else round(said.value, DIGITS)
    in_force = limit if overrule is None else overrule.limit
    short = value is not None and (
        value < in_force.value if limit.bound is Bound.AT_LEAST else value > in_force.value
    )
    return Finding(
        check=check,
        subject=said.subject,
        stage=said.stage,
        heel=said.heel,
        where=said.where,
        limit=limit,
        overrule=overrule,
        value=value,
        why=f"{usual.name}: {said.why}",
        remedy=said.remedy if short else (),
    )
