"""Errors raised by towerlift.

An error means a question could not be answered. A limit that is not met is an
answer, and is returned as a finding.
"""

from collections.abc import Sequence
from pathlib import Path


class TowerliftError(Exception):
    """Base class of every error this package raises on purpose."""


class UnitError(TowerliftError, ValueError):
    """A quantity is written without a unit, or with one that cannot be meant."""


class PlanError(TowerliftError, ValueError):
    """The plan file cannot be turned into a valid plan.

    Parameters
    ----------
    path : Path
        The plan file.
    problems : sequence of str
        Every problem found, each naming the file and the key or row it was found at.

    Attributes
    ----------
    problems : tuple of str
        Every problem found, each naming the file and the key or row it was found at.
    """

    def __init__(self, path: Path, problems: Sequence[str]) -> None:
        self.problems = tuple(problems)
        listing = "\n".join(f"  - {problem}" for problem in self.problems)
        super().__init__(f"{path.name}: {len(self.problems)} problem(s)\n{listing}")


class ShapeError(TowerliftError, ValueError):
    """A solid cannot be built or read: it is open, inverted, self-crossing or empty.

    Parameters
    ----------
    subject : str
        What was being built, and the file it came from.
    problems : sequence of str
        Every fault found, each with its place.

    Attributes
    ----------
    problems : tuple of str
        Every fault found, each with its place.
    """

    def __init__(self, subject: str, problems: Sequence[str]) -> None:
        self.problems = tuple(problems)
        listing = "\n".join(f"  - {problem}" for problem in self.problems)
        super().__init__(f"{subject}: {len(self.problems)} problem(s)\n{listing}")


class RaiseError(TowerliftError, ValueError):
    """The stages cannot be followed far enough to say where a section is."""


class NoEquilibriumError(TowerliftError, ValueError):
    """The load does not hang at rest in the pose it was given."""


class NotEvaluatedError(TowerliftError, ValueError):
    """What was asked cannot be worked out from what is known; it is never a pass."""


class PrecedenceError(TowerliftError, ValueError):
    """Something in the plan waits for itself, or for what the plan does not hold."""


class NoProgrammeError(TowerliftError, ValueError):
    """No programme keeps every rule.

    Parameters
    ----------
    clash : sequence of str
        A smallest set of rules that cannot be kept together.

    Attributes
    ----------
    clash : tuple of str
        The same: without any one of them there would be a programme.
    """

    def __init__(self, clash: Sequence[str]) -> None:
        self.clash = tuple(clash)
        listing = "\n".join(f"  - {rule}" for rule in self.clash)
        super().__init__(f"no programme keeps these rules together:\n{listing}")
