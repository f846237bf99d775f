"""What to do about a gap that falls short, best first, with what it buys."""

from towerlift.checks.case import Case
from towerlift.nesting.margins import Margin

# Wood that can come off a piece without asking what it carries. [m]
PARED_AT_MOST = 0.06


def clearance_remedies(case: Case, margin: Margin) -> tuple[str, ...]:
    """Remedies for a gap that falls short, cheapest first.

    Parameters
    ----------
    case : Case
        Names the sections.
    margin : Margin
        Its spare is negative.

    Returns
    -------
    remedies : tuple of str
        Paring wood, then moving the plumb line, then cutting what stands there.
    """
    mark = margin.label.within(margin.moving)
    cure = margin.cure
    if cure is None or margin.spare is None:
        return _heights(margin, mark)
    needed = f"{cure.pare * 1000:.0f} mm"
    remedies = []
    if cure.pare <= PARED_AT_MOST:
        bought = _buys(cure.gap_with_pared, cure.next_label)
        remedies.append(f"pare {needed} off {mark}{bought}")
    if cure.gap_when_shifted is not None and cure.gap_when_shifted > 0:
        x = case.plan.plumb_line.x + cure.shift[0]
        y = case.plan.plumb_line.y + cure.shift[1]
        remedies.append(
            f"move the plumb line {needed} {_away(margin.face)}, to ({x * 1000:.0f}, "
            f"{y * 1000:.0f}) mm: the least gap of {margin.moving} to the masonry in this "
            f"travel is then {cure.gap_when_shifted * 1000:.0f} mm; runners move with it"
        )
    across = margin.opposite.within(margin.against)
    if margin.against == "shaft":
        remedies.append(f"cut {needed} off the masonry: {across}, if the engineer allows it")
    else:
        if cure.pare <= PARED_AT_MOST:
            remedies.append(f"pare {needed} off {margin.against}: {across}")
        remedies.append(f"set {margin.against}: {across} farther off by {needed}")
    return tuple(remedies)


def _heights(margin: Margin, mark: str) -> tuple[str, ...]:
    if margin.face in ("above", "below"):
        low, high = margin.heels
        return (
            f"keep {margin.moving} out of heel {low:.2f} to {high:.2f} m while "
            f"{margin.against} stands there",
            f"take {margin.against} out first, or list the contact if {mark} is meant to touch",
        )
    if margin.against == "shaft":
        return (
            f"move {mark} into the room: no way leads there but through the masonry",
            "see that the survey and the plumb line are in one frame",
        )
    return (f"set {margin.against} farther from {mark}",)


def _away(face: str) -> str:
    return {"north": "south", "south": "north", "east": "west", "west": "east"}[face]


def _buys(gap: float | None, next_label: str) -> str:
    if gap is None:
        return ""
    then = f", where {next_label} is then nearest" if next_label else ""
    return f": the gap becomes {gap * 1000:.0f} mm{then}"
