"""From a plan to a verdict on the whole raise, without a screen."""

from dataclasses import dataclass

from towerlift.findings import Finding, Verdict
from towerlift.motion.raises import Raise
from towerlift.nesting.curves import GapCurve
from towerlift.plan.model import Plan
from towerlift.rig.curves import HangCurve
from towerlift.shapes.solids import Shapes


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """All that is reckoned from a plan: what pictures, panels and documents show.

    Attributes
    ----------
    gaps, hangs : tuple
        Curves behind the findings, by passage.
    findings : tuple of Finding
        Worst first.
    """

    plan: Plan
    shapes: Shapes
    raise_: Raise
    gaps: tuple[GapCurve, ...]
    hangs: tuple[HangCurve, ...]
    findings: tuple[Finding, ...]

    @property
    def passes(self) -> bool:
        """Whether every finding passes; one that was not evaluated does not."""
        return all(finding.verdict is Verdict.PASS for finding in self.findings)
