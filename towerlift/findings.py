"""Acceptance limits and what a check reports."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from math import isfinite

COUNT = "count"
"""Unit of a rule without a quantity: how often it is broken."""


class Bound(StrEnum):
    """Which side of a limit is acceptable; the limit itself always is."""

    AT_LEAST = "at least"
    AT_MOST = "at most"


class Verdict(StrEnum):
    """The three things a check can say; the last is never treated as a pass."""

    PASS = "pass"
    FAIL = "fail"
    NOT_EVALUATED = "not evaluated"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A value to be met, and who says so.

    Attributes
    ----------
    value : float
        The limit, in `unit`.
    unit : str
        Unit of the limit and of the finding's value.
    bound : Bound
        Which side of it is acceptable.
    source : str
        Who or what sets it, with edition and clause where there is one.
    """

    value: float
    unit: str
    bound: Bound
    source: str

    def __post_init__(self) -> None:
        if not isfinite(self.value):
            raise ValueError(f"limit must be finite, got {self.value} {self.unit}")
        if not self.source.strip():
            raise ValueError("a limit must say where it comes from")


@dataclass(frozen=True, slots=True, kw_only=True)
class Overrule:
    """Another limit in place of the usual one, by a named person, with a note.

    Attributes
    ----------
    limit : Limit
        The limit now in force; same unit and bound as the one it replaces.
    by : str
        Name and role of the person who answers for it.
    note : str
        Why, with the sum that supports it.
    """

    limit: Limit
    by: str
    note: str

    def __post_init__(self) -> None:
        if not (self.by.strip() and self.note.strip()):
            raise ValueError("an overrule needs a named person and a note")


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One check, on one subject, in one stage.

    Attributes
    ----------
    check, subject, stage : str
        Name of the check, what it looked at, and the stage; the stage is empty
        where the finding holds for the whole raise.
    heel : float or None
        Heel height of the moving section where it is worst, shaft frame. [m]
    where : tuple of float or None
        Place in the shaft frame. [m]
    limit : Limit
        The limit the value is held against, with its source.
    overrule : Overrule or None
        Another limit, by a named person, with a note.
    value : float or None
        Measured value in ``limit.unit``; None if it could not be found.
    why : str
        What makes it so; required when `value` is None.
    remedy : tuple of str
        What would cure it, best first.
    """

    check: str
    subject: str
    stage: str
    heel: float | None
    where: tuple[float, float, float] | None
    limit: Limit
    overrule: Overrule | None = None
    value: float | None
    why: str = ""
    remedy: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.value is None and not self.why:
            raise ValueError("a finding without a value must say why")
        if self.value is not None and not isfinite(self.value):
            raise ValueError(f"finding value must be finite, got {self.value}")
        if self.overrule is not None:
            new, old = self.overrule.limit, self.limit
            if (new.unit, new.bound) != (old.unit, old.bound):
                raise ValueError(
                    f"overrule is {new.bound} in {new.unit}, limit is {old.bound} in {old.unit}"
                )

    @property
    def limit_in_force(self) -> Limit:
        """The limit the verdict uses: the overrule's where there is one."""
        return self.limit if self.overrule is None else self.overrule.limit

    @property
    def margin(self) -> float | None:
        """Distance inside the limit in force, in its unit; negative outside."""
        if self.value is None:
            return None
        limit = self.limit_in_force
        if limit.bound is Bound.AT_LEAST:
            return self.value - limit.value
        return limit.value - self.value

    @property
    def relative_margin(self) -> float | None:
        """Margin as a share of the limit in force; at a limit of zero, one at most."""
        margin = self.margin
        if margin is None:
            return None
        scale = abs(self.limit_in_force.value)
        return margin / scale if scale > 0 else max(-1.0, min(1.0, margin))

    @property
    def verdict(self) -> Verdict:
        """Pass, fail or not evaluated: worked out here, never stored."""
        if self.margin is None:
            return Verdict.NOT_EVALUATED
        return Verdict.PASS if self.margin >= 0 else Verdict.FAIL

    @property
    def merely_kept(self) -> bool:
        """Whether it is a rule that nothing breaks: there is no more or less to spare of it."""
        return self.limit.unit == COUNT and not self.value and self.overrule is None

    def as_record(self) -> Mapping[str, object]:
        """The finding as plain values for JSON, keys as the command line documents them."""
        overrule = None
        if self.overrule is not None:
            overrule = {
                "by": self.overrule.by,
                "note": self.overrule.note,
                "limit": self.overrule.limit.value,
            }
        return {
            "check": self.check,
            "subject": self.subject,
            "stage": self.stage,
            "heel_m": self.heel,
            "value": self.value,
            "unit": self.limit.unit,
            "limit": self.limit.value,
            "bound": str(self.limit.bound),
            "margin": self.margin,
            "verdict": str(self.verdict),
            "where": None if self.where is None else list(self.where),
            "why": self.why,
            "remedy": list(self.remedy),
            "source": self.limit.source,
            "overrule": overrule,
        }


_ORDER = {Verdict.FAIL: 0, Verdict.NOT_EVALUATED: 1, Verdict.PASS: 2}


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings sorted: failures, then not evaluated, then passes, least margin first.

    Parameters
    ----------
    findings : iterable of Finding
        In any order.

    Returns
    -------
    findings : tuple of Finding
        The same findings; ties keep the order they came in.
    """

    def key(finding: Finding) -> tuple[int, float]:
        relative = finding.relative_margin
        return _ORDER[finding.verdict], 0.0 if relative is None else relative

    return tuple(sorted(findings, key=key))
