"""What comes of a what-if: gap, loads, shoes, and each against its limit."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from towerlift.findings import Finding, Verdict
from towerlift.nesting.margins import Place
from towerlift.what_if.asked import WhatIf
from towerlift.what_if.nearest import Near

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineLoad:
    """One line of the lift.

    Attributes
    ----------
    tackle, capstan, lift_point : str
        Marks.
    tension : float
        Load of the tackle, ropes held. [N]
    factor : float
        What is left of the rope's strength over its hardest pull in the fall, with all on
        top that the check of ropes reckons; infinite where it is slack.
    upper, lower : tuple of float
        Top block and lift point as they stand, shaft frame. [m]
    """

    tackle: str
    capstan: str
    lift_point: str
    tension: float
    factor: float
    upper: Place
    lower: Place

    @property
    def slack(self) -> bool:
        """Whether it carries nothing."""
        return not self.tension > 0


@dataclass(frozen=True, slots=True, kw_only=True)
class ShoeLoad:
    """One side of a shoe that bears.

    Attributes
    ----------
    face : str
        Side of the section.
    height : float
        Above the heel. [m]
    force : float
        Of the shoe on its rail; none while it keeps clear. [N]
    left : float
        Clearance that is left, negative where it is pressed in. [m]
    at : tuple of float
        Where it is, shaft frame. [m]
    """

    face: str
    height: float
    force: float
    left: float
    at: Place


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What must hold a section where the sliders put it.

    Attributes
    ----------
    force : float
        Level. [N]
    moment : float
        About the middle of the lift points. [N m]
    """

    force: float
    moment: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """All that came of one what-if.

    Attributes
    ----------
    asked : WhatIf
        Of what.
    stage : str
        Of the passage.
    heel : float or None
        Heel height of the hauled section as planned; None where nothing is hauled. [m]
    poses : mapping of str to (4, 4) float
        ``shaft_from_section`` of every section that moves; empty where it finds no rest
        or nothing is hauled. [m]
    near : Near or None
        The least gap of all.
    lines : tuple of LineLoad
        Empty where no loads were found.
    shoes : tuple of ShoeLoad
        Empty where nothing guides it, or no loads were found.
    held : Held or None
        None where nothing is turned or shifted by hand.
    findings : tuple of Finding
        Each number against its limit, worst first.
    notes : tuple of str
        What else the reader must know.
    """

    asked: WhatIf
    stage: str
    heel: float | None
    poses: Mapping[str, Floats]
    near: Near | None
    lines: tuple[LineLoad, ...]
    shoes: tuple[ShoeLoad, ...]
    held: Held | None
    findings: tuple[Finding, ...]
    notes: tuple[str, ...]

    @property
    def verdict(self) -> Verdict:
        """Of the whole: not evaluated is no pass, and nothing found is not evaluated."""
        verdicts = {finding.verdict for finding in self.findings}
        for verdict in (Verdict.FAIL, Verdict.NOT_EVALUATED):
            if verdict in verdicts:
                return verdict
        return Verdict.PASS if verdicts else Verdict.NOT_EVALUATED

    @property
    def slack(self) -> tuple[LineLoad, ...]:
        """Lines that carry nothing."""
        return tuple(line for line in self.lines if line.slack)

    def as_message(self) -> dict[str, object]:
        """As plain values for a browser: SI units, matrices by columns."""
        near = self.near
        return {
            "asked": self.asked.as_record(),
            "stage": self.stage,
            "heel": self.heel,
            "verdict": str(self.verdict),
            "poses": {
                name: pose.T.reshape(-1).tolist() for name, pose in sorted(self.poses.items())
            },
            "near": None
            if near is None
            else {
                "gap": near.gap,
                "certified": near.certified,
                "where": list(near.where),
                "across": list(near.across),
                "mark": f"{near.moving}: {near.mark}",
                "opposite_mark": f"{near.against}: {near.opposite_mark}",
            },
            "lines": [
                {
                    "tackle": line.tackle,
                    "tension": line.tension,
                    "slack": line.slack,
                    "upper": list(line.upper),
                    "lower": list(line.lower),
                }
                for line in self.lines
            ],
            "shoes": [
                {"face": each.face, "at": list(each.at), "force": each.force}
                for each in self.shoes
            ],
            "findings": [dict(finding.as_record()) for finding in self.findings],
            "notes": list(self.notes),
        }
