"""What the planner has chosen: where the raise is, and which findings are listed."""

from dataclasses import dataclass, field, replace
from math import inf, isfinite

from towerlift.findings import Finding, Verdict
from towerlift.motion.passages import Passage
from towerlift.workflow import Outcome

ALL = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sieve:
    """Which findings are listed; an empty string lets everything through.

    Attributes
    ----------
    verdict, check, stage : str
        Verdict in words, name of the check, name of the stage.
    text : str
        Words that must all occur somewhere in the finding.
    """

    verdict: str = ALL
    check: str = ALL
    stage: str = ALL
    text: str = ""

    def lets_through(self, finding: Finding) -> bool:
        """Whether a finding is listed.

        Parameters
        ----------
        finding : Finding
            Any.

        Returns
        -------
        listed : bool
            True where everything chosen holds.
        """
        said = " ".join(
            (
                finding.check,
                finding.subject,
                finding.stage,
                finding.why,
                *finding.remedy,
                finding.limit_in_force.source,
            )
        ).lower()
        return (
            self.verdict in (ALL, str(finding.verdict))
            and self.check in (ALL, finding.check)
            and self.stage in (ALL, finding.stage)
            and all(word in said for word in self.text.lower().split())
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannerChoice:
    """A place in the raise, a sieve over the findings, and the finding chosen.

    Attributes
    ----------
    outcome : Outcome
        What there is to choose from.
    position : float
        Number of the passage, and the share of it that is done: 0 to the number of
        passages.
    sieve : Sieve
        Which findings are listed.
    chosen : int or None
        Number of the chosen finding among all of the outcome's.
    """

    outcome: Outcome
    position: float = 0.0
    sieve: Sieve = field(default_factory=Sieve)
    chosen: int | None = None

    def __post_init__(self) -> None:
        if not self.outcome.raise_.passages:
            raise ValueError("the raise has no passages: there is nothing to show")
        if not 0 <= self.position <= len(self.outcome.raise_.passages):
            most = len(self.outcome.raise_.passages)
            raise ValueError(f"position must be within 0 and {most}, got {self.position}")

    @property
    def passage(self) -> Passage:
        """Passage that holds the position."""
        passages = self.outcome.raise_.passages
        return passages[min(int(self.position), len(passages) - 1)]

    @property
    def share(self) -> float:
        """Share of the passage's travel that is done."""
        return min(self.position - self.passage.index, 1.0)

    @property
    def heel(self) -> float | None:
        """Heel height of the hauled section, None where nothing moves. [m]"""
        passage = self.passage
        return passage.heel(passage.moving[0], self.share) if passage.moving else None

    @property
    def finding(self) -> Finding | None:
        """The chosen finding."""
        return None if self.chosen is None else self.outcome.findings[self.chosen]

    @property
    def listed(self) -> tuple[int, ...]:
        """Numbers of the findings that are listed, worst first."""
        return tuple(
            n
            for n, finding in enumerate(self.outcome.findings)
            if self.sieve.lets_through(finding)
        )

    @property
    def stages(self) -> tuple[str, ...]:
        """Stages that have passages, in order."""
        return tuple(dict.fromkeys(p.stage for p in self.outcome.raise_.passages))

    def moved_to(self, position: float) -> "PlannerChoice":
        """The same choice elsewhere in the raise.

        Parameters
        ----------
        position : float
            Number of the passage, and the share of it that is done.

        Returns
        -------
        choice : PlannerChoice
            The finding stays chosen.

        Raises
        ------
        ValueError
            If there is no such place.
        """
        return replace(self, position=position)

    def at_stage(self, stage: str) -> "PlannerChoice":
        """The choice at the beginning of a stage.

        Parameters
        ----------
        stage : str
            Its name.

        Returns
        -------
        choice : PlannerChoice
            At the stage's first passage.

        Raises
        ------
        ValueError
            If no passage belongs to such a stage.
        """
        for passage in self.outcome.raise_.passages:
            if passage.stage == stage:
                return self.moved_to(float(passage.index))
        raise ValueError(f'no passage belongs to a stage "{stage}"')

    def sieved(self, sieve: Sieve) -> "PlannerChoice":
        """The choice with other findings listed.

        Parameters
        ----------
        sieve : Sieve
            Which are listed.

        Returns
        -------
        choice : PlannerChoice
            A finding no longer listed is no longer chosen.
        """
        choice = replace(self, sieve=sieve)
        return choice if self.chosen in choice.listed else replace(choice, chosen=None)

    def with_finding(self, number: int) -> "PlannerChoice":
        """The choice with a finding chosen, where it is worst.

        Parameters
        ----------
        number : int
            Its number among all of the outcome's findings.

        Returns
        -------
        choice : PlannerChoice
            At the finding's stage and heel height; where it has none, as near as
            can be.
        """
        position = self.position_of(self.outcome.findings[number])
        here = self.position if position is None else position
        return replace(self, chosen=number, position=here)

    def next_finding(self, step: int) -> "PlannerChoice":
        """The choice with a neighbour of the chosen finding in the list.

        Parameters
        ----------
        step : int
            1 for the next, -1 for the one before.

        Returns
        -------
        choice : PlannerChoice
            Stops at the ends of the list; the first is chosen where none was.
        """
        listed = self.listed
        if not listed:
            return self
        if self.chosen not in listed:
            return self.with_finding(listed[0])
        place = listed.index(self.chosen) + step
        return self.with_finding(listed[min(max(place, 0), len(listed) - 1)])

    def position_of(self, finding: Finding) -> float | None:
        """Place in the raise at which a finding is worst.

        Parameters
        ----------
        finding : Finding
            Any.

        Returns
        -------
        position : float or None
            None where the finding holds for the whole raise. In its stage, the
            passage in which a section that it names moves through its heel height
            comes first, then any that does, then the nearest.
        """
        passages = [p for p in self.outcome.raise_.passages if p.stage == finding.stage]
        if not passages:
            return None
        heel = finding.heel
        if heel is None:
            moving = next((p for p in passages if p.moving), passages[0])
            return float(moving.index)
        places = [place for p in passages for place in _places(p, heel, finding.subject)]
        if not places:
            return float(passages[0].index)
        return min(places)[-1]

    @property
    def summary(self) -> str:
        """Verdict on the whole plan in words."""
        counts = {
            verdict: sum(f.verdict is verdict for f in self.outcome.findings)
            for verdict in Verdict
        }
        return (
            f"{counts[Verdict.FAIL]} fail, {counts[Verdict.NOT_EVALUATED]} not evaluated, "
            f"{counts[Verdict.PASS]} pass"
        )


def _places(passage: Passage, heel: float, subject: str) -> list[tuple[float, int, float]]:
    """How far off, whether unnamed, and position, for each section that moves."""
    found = []
    for name in passage.moving:
        place = passage.standing[name]
        travel = place.heel_to - place.heel_from
        share = (heel - place.heel_from) / travel if travel else inf
        within = min(max(share, 0.0), 1.0) if isfinite(share) else 0.0
        off = abs(passage.heel(name, within) - heel)
        found.append((round(off, 6), int(name not in subject), passage.index + within))
    return found
