"""The hauls that the checks of rigging look at: one for each section, lift and stage."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from towerlift.checks.case import Case, limit_for, overrule_for
from towerlift.findings import Finding
from towerlift.motion.passages import Passage
from towerlift.plan.limits import UsualLimit
from towerlift.plan.rigging import Lift, Tackle
from towerlift.rig.curves import Floats, HangCurve


@dataclass(frozen=True, slots=True, kw_only=True)
class Haul:
    """Everything one lift does with one section in one stage.

    Attributes
    ----------
    section, stage : str
        What is hauled, and when.
    lift : Lift
        As planned.
    pattern : Tackle
        Blocks and reeving of the lift.
    curves : tuple of HangCurve
        One for each passage, in order; never empty.
    """

    section: str
    stage: str
    lift: Lift
    pattern: Tackle
    curves: tuple[HangCurve, ...]

    def worst(self, values: list[Floats]) -> tuple[int, int]:
        """The place where a quantity is least; no number counts as least.

        Parameters
        ----------
        values : list of (k,) float
            The quantity, one array for each curve.

        Returns
        -------
        curve : int
            Place in `curves` of the one that holds the least.
        sample : int
            Its place in the curve.
        """
        least = [np.where(np.isnan(each), -np.inf, each) for each in values]
        which = int(np.argmin([each.min() for each in least]))
        return which, int(least[which].argmin())


@dataclass(frozen=True, slots=True, kw_only=True)
class Unreckoned:
    """A haul that has no curve, and why.

    Attributes
    ----------
    section, stage : str
        What is hauled, and when.
    why : str
        What is missing.
    """

    section: str
    stage: str
    why: str


def hauls(case: Case) -> Iterator[Haul | Unreckoned]:
    """Every haul of the raise, reckoned or not.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    haul : Haul or Unreckoned
        In the order of the raise; one that is not reckoned must not pass unseen.
    """
    curves = {curve.passage: curve for curve in case.hangs}
    grouped: dict[tuple[str, str, str | None], list[Passage]] = {}
    for passage in case.raise_.moving_passages:
        key = (passage.moving[0], passage.stage, passage.lift)
        grouped.setdefault(key, []).append(passage)
    for (section, stage, lift), passages in grouped.items():
        found = [curves[each.index] for each in passages if each.index in curves]
        if lift is None:
            yield Unreckoned(section=section, stage=stage, why="no lift hauls it")
        elif len(found) < len(passages):
            yield Unreckoned(
                section=section, stage=stage, why=f"the loads of {lift} were not reckoned"
            )
        else:
            yield _haul(case, section, stage, found)
    if not grouped:
        yield Unreckoned(section="the whole raise", stage="", why="nothing is hauled")


def _haul(case: Case, section: str, stage: str, curves: list[HangCurve]) -> Haul:
    lift = next(lift for lift in case.plan.lifts if lift.name == curves[0].lift)
    pattern = next(tackle for tackle in case.plan.tackles if tackle.name == lift.pattern)
    return Haul(section=section, stage=stage, lift=lift, pattern=pattern, curves=tuple(curves))


def named(names: tuple[str, ...]) -> str:
    """Sections on the hook, as a sentence names them."""
    return names[0] if len(names) == 1 else f"{names[0]} with {' and '.join(names[1:])}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What a check says of a haul.

    Attributes
    ----------
    value : float or None
        In the unit of the limit; None where it could not be found.
    why : str
        What makes it so.
    heel : float or None
        Heel height where it is worst. [m]
    remedy : tuple of str
        Best first.
    """

    value: float | None
    why: str
    heel: float | None = None
    remedy: tuple[str, ...] = ()


class OfHaul(Protocol):
    """What says which section is hauled in which stage."""

    @property
    def section(self) -> str:
        """What is hauled."""

    @property
    def stage(self) -> str:
        """When."""


def haul_finding(
    case: Case, check: str, haul: OfHaul, usual: UsualLimit, said: Said
) -> Finding:
    """A finding about a haul, held against the limit in force.

    Parameters
    ----------
    case : Case
        Its plan may choose or overrule the limit.
    check : str
        Name of the check.
    haul : OfHaul
        What it is about: a haul, reckoned or not, or the ways out of it.
    usual : UsualLimit
        Named at the head of what is said.
    said : Said
        Value, words, place and cures.

    Returns
    -------
    finding : Finding
        With the overrule of this section and stage, if there is one.
    """
    return Finding(
        check=check,
        subject=haul.section,
        stage=haul.stage,
        heel=said.heel,
        where=None,
        limit=limit_for(case, usual),
        overrule=overrule_for(case, usual, haul.section, haul.stage),
        value=said.value,
        why=f"{usual.name}: {said.why}",
        remedy=said.remedy,
    )


def not_reckoned(case: Case, check: str, usual: UsualLimit, haul: Unreckoned) -> Finding:
    """That a haul could not be held against a limit, which is never a pass.

    Parameters
    ----------
    case : Case
        Its plan may choose the limit.
    check : str
        Name of the check.
    usual : UsualLimit
        The limit.
    haul : Unreckoned
        What is missing.

    Returns
    -------
    finding : Finding
        Not evaluated, with the reason.
    """
    remedy = ("give the haul a lift with its lines, coils and capstans",)
    return haul_finding(case, check, haul, usual, Said(value=None, why=haul.why, remedy=remedy))
