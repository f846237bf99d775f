"""One edition of the papers: a checked plan, a size of paper, a way to write quantities."""

import hashlib
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import TypeVar

import towerlift
from towerlift.checks.case import Case
from towerlift.checks.hauls import Haul, hauls
from towerlift.documents.say import Say
from towerlift.drawings.lengths import Measure
from towerlift.findings import Finding, Verdict, worst_first
from towerlift.motion.clock import site_zone
from towerlift.motion.passages import Passage, Rest
from towerlift.plan.file_marks import FileMark
from towerlift.plan.model import Plan
from towerlift.plan.saving import plan_as_toml
from towerlift.plan.work import Stage
from towerlift.rig.curves import HangCurve
from towerlift.workflow import Outcome

CAUTION = (
    "An aid to planning. It does not replace a licensed engineer, a competent rigger or the "
    "codes in force where the tower stands; nobody lifts on its word alone."
)
HASH_LETTERS = 12
Found = TypeVar("Found")


class PageSize(StrEnum):
    """Sizes of paper."""

    A4 = "A4"
    LETTER = "Letter"


def content_hash(plan: Plan, files: Sequence[FileMark]) -> str:
    """What tells one plan from another: a change of any figure or file changes it.

    Parameters
    ----------
    plan : Plan
        As read.
    files : sequence of FileMark
        Of the files that it names, such as meshes: they count by their bytes.

    Returns
    -------
    mark : str
        First letters of the SHA-256 of the plan in its canonical form and of the marks of
        its files; signatures are left out, since they are given for a content.
    """
    bare = plan.model_copy(update={"signatures": ()})
    content = hashlib.sha256(plan_as_toml(bare).encode("utf-8"))
    for each in sorted(files, key=lambda one: one.file):
        # A zero byte stands in no plan and in no name, so nothing else reads the same.
        content.update(f"\0{each.file}\0{each.mark}".encode())
    return content.hexdigest()[:HASH_LETTERS]


@dataclass(frozen=True, kw_only=True)
class Edition:
    """What every paper is made from.

    Attributes
    ----------
    outcome : Outcome
        Of a checked plan.
    page : PageSize
        Of the paper.
    measure : Measure
        Metric, or feet and inches.
    """

    outcome: Outcome
    page: PageSize = PageSize.A4
    measure: Measure = Measure.METRIC
    _kept: dict[str, object] = field(default_factory=dict, repr=False, compare=False)

    @property
    def plan(self) -> Plan:
        """The plan as written."""
        return self.outcome.plan

    @cached_property
    def say(self) -> Say:
        """How quantities are written."""
        return Say(measure=self.measure, zone=site_zone(self.plan.site))

    @cached_property
    def content(self) -> str:
        """Mark of the plan's content."""
        return content_hash(self.plan, self.outcome.files)

    @cached_property
    def plan_words(self) -> str:
        """Plan and revision."""
        revision = self.plan.revision or "not stated"
        return f"{self.plan.name}, revision {revision}"

    @cached_property
    def identity(self) -> str:
        """Line at the foot of every page."""
        return (
            f"{self.plan_words} · content {self.content} · plan form {self.plan.version} · "
            f"towerlift {towerlift.__version__}"
        )

    @cached_property
    def counts(self) -> Counter[Verdict]:
        """How many findings there are of each verdict."""
        return Counter(finding.verdict for finding in self.outcome.findings)

    @cached_property
    def verdict_words(self) -> str:
        """What stands at the head of every page of a plan that does not pass."""
        if self.outcome.passes:
            return ""
        if not self.outcome.findings:
            return "DO NOT LIFT on this plan: nothing was checked"
        return (
            f"DO NOT LIFT on this plan: {self.counts[Verdict.FAIL]} fail, "
            f"{self.counts[Verdict.NOT_EVALUATED]} not evaluated"
        )

    @cached_property
    def case(self) -> Case:
        """What the checks were given."""
        outcome = self.outcome
        return Case(
            plan=outcome.plan,
            shapes=outcome.shapes,
            raise_=outcome.raise_,
            gaps=outcome.gaps,
            hangs=outcome.hangs,
            margins=outcome.nesting.margins,
            rests=outcome.nesting.rests,
            contacts=outcome.nesting.contacts,
            shop=outcome.nesting.workshop,
        )

    @cached_property
    def hauls(self) -> tuple[Haul, ...]:
        """Every haul whose loads were reckoned, in order."""
        return tuple(each for each in hauls(self.case) if isinstance(each, Haul))

    @cached_property
    def curves(self) -> dict[int, HangCurve]:
        """Loads by passage."""
        return {curve.passage: curve for curve in self.outcome.hangs}

    def passages(self, stage: str) -> tuple[Passage, ...]:
        """Passages of a stage, in order."""
        return tuple(p for p in self.outcome.raise_.passages if p.stage == stage)

    def rest(self, stage: str) -> Rest | None:
        """What stands when a stage is done."""
        return next((r for r in self.outcome.raise_.rests if r.stage == stage), None)

    def stage(self, name: str) -> Stage:
        """A stage by its name."""
        return next(stage for stage in self.plan.stages if stage.name == name)

    def role(self, person: str) -> str:
        """Name and role of a person."""
        roles = {each.name: each.role for each in self.plan.people}
        return f"{person}, {roles[person]}" if person in roles else person

    def findings(self, *, check: str = "", stage: str | None = None) -> tuple[Finding, ...]:
        """Findings of a check, of a stage, or both, worst first.

        Parameters
        ----------
        check : str
            Empty for every check.
        stage : str or None
            None for every stage.

        Returns
        -------
        findings : tuple of Finding
            Those of the whole raise are not among those of a stage.
        """
        return worst_first(
            each
            for each in self.outcome.findings
            if check in ("", each.check) and stage in (None, each.stage)
        )

    def once(self, key: str, make: Callable[[], Found]) -> Found:
        """What is made for several papers, made once.

        Parameters
        ----------
        key : str
            Its name.
        make : callable
            Makes it.

        Returns
        -------
        found : object
            As made.
        """
        if key not in self._kept:
            self._kept[key] = make()
        return self._kept[key]  # type: ignore[return-value]


def limit_name(finding: Finding, names: Iterable[str]) -> str:
    """The limit that a finding is about, where its reason begins with the name of one.

    Parameters
    ----------
    finding : Finding
        Of any check.
    names : iterable of str
        Names of limits.

    Returns
    -------
    name : str
        The check itself where there is none.
    """
    name = finding.why.partition(":")[0]
    return name if name in set(names) else finding.check


def hauling_stages(edition: Edition) -> Sequence[Stage]:
    """Stages in which something moves.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    stages : sequence of Stage
        In order.
    """
    moving = {passage.stage for passage in edition.outcome.raise_.moving_passages}
    return tuple(stage for stage in edition.plan.stages if stage.name in moving)
