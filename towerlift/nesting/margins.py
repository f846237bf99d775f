"""Gaps against their budgets: what each passage, each rest and each contact leaves."""

from dataclasses import dataclass

from towerlift.nesting.bodies import Label
from towerlift.nesting.budget import GapBudget

Place = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cure:
    """What could be done about a gap that falls short, and what it would buy.

    Attributes
    ----------
    pare : float
        What must come off one side, rounded up to a size a hand can cut. [m]
    gap_with_pared : float or None
        Least gap over the travel once that is off the moving piece: the rest of
        the section may then be nearest. None where it could not be certified. [m]
    next_label : str
        Piece that would then be nearest.
    shift : tuple of float
        Move of the plumb line that gives the same, shaft frame. [m]
    gap_when_shifted : float or None
        Least gap of this section to the masonry over the travel with the plumb
        line moved; None where the other body moves with it, or not certified. [m]
    """

    pare: float
    gap_with_pared: float | None
    next_label: str
    shift: tuple[float, float]
    gap_when_shifted: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """Least gap of a moving body against one other, where it leaves least to spare.

    Attributes
    ----------
    stage : str
        Stage of the passage.
    passage : int
        Index of the passage in the raise.
    moving, against : str
        Section that moves; "shaft", a section or a fixture.
    label, opposite : Label
        Member of either side.
    gap : float or None
        Proven least gap, or minus the depth of overlap; None if not certified. [m]
    budget : GapBudget or None
        What must be left there; None if it could not be found.
    heel : float
        Heel height at which it occurs. [m]
    heels : tuple of float
        Heel heights between which the gap stays inside the budget's reach; the
        heel itself twice where it does not fail. [m]
    where, across : tuple of float
        Nearest points of the moving and of the other body, shaft frame. [m]
    why : str
        Why gap or budget could not be found; empty where they were.
    samples : tuple of (float, float)
        Heel height and gap along the failing stretch, for the reader. [m]
    cure : Cure or None
        What could be done; None where nothing need be.
    also : tuple of (str, float)
        Other pieces of the moving body that fall short here, worst first, with the
        least to spare of each; a short one is the nearer to the same cure. [m]
    note : str
        What else the reader must know.
    """

    stage: str
    passage: int
    moving: str
    against: str
    label: Label
    opposite: Label
    gap: float | None
    budget: GapBudget | None
    heel: float
    heels: tuple[float, float]
    where: Place
    across: Place
    why: str = ""
    samples: tuple[tuple[float, float], ...] = ()
    cure: Cure | None = None
    also: tuple[tuple[str, float], ...] = ()
    note: str = ""

    @property
    def face(self) -> str:
        """Side of the moving body on which the gap is: a compass point, above or below."""
        dx, dy, dz = (b - a for a, b in zip(self.where, self.across, strict=True))
        if abs(dz) > max(abs(dx), abs(dy)):
            return "above" if dz > 0 else "below"
        if abs(dx) >= abs(dy):
            return "east" if dx > 0 else "west"
        return "north" if dy > 0 else "south"

    @property
    def spare(self) -> float | None:
        """Gap beyond the budget; negative where it falls short. [m]"""
        if self.gap is None or self.budget is None:
            return None
        return self.gap - self.budget.total


@dataclass(frozen=True, slots=True, kw_only=True)
class RestGap:
    """Gap between two bodies at rest, when one of them has just come.

    Attributes
    ----------
    stage, step : str
        Stage and step that bring it.
    subject, against : str
        What came, and what stands there.
    label, opposite : Label
        Members where they are nearest, meant contacts left out.
    gap : float or None
        Least gap, or minus the depth of overlap; None if not certified. [m]
    where : tuple of float
        Shaft frame. [m]
    heel : float or None
        Heel height of the section it is about. [m]
    why : str
        Why the gap could not be found; empty where it was.
    """

    stage: str
    step: str
    subject: str
    against: str
    label: Label
    opposite: Label
    gap: float | None
    where: Place
    heel: float | None
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactGap:
    """Least gap between pieces that are meant to touch, along one passage.

    Attributes
    ----------
    kind : str
        Kind of contact.
    stage : str
        Stage of the passage.
    passage : int
        Index of the passage in the raise.
    moving, against : str
        The two sides.
    label, opposite : Label
        Members where they are nearest.
    gap : float or None
        Least gap, or minus the depth of overlap; None if not certified. [m]
    heel : float
        Heel height at which it occurs. [m]
    where : tuple of float
        Shaft frame. [m]
    """

    kind: str
    stage: str
    passage: int
    moving: str
    against: str
    label: Label
    opposite: Label
    gap: float | None
    heel: float
    where: Place
