"""Who may be at work while others are: cells of the site and what falls through them.

Two pieces of work cross where one's people are in the cells of the other, or in the
shadow of what may fall from it. A shadow reaches down the shaft to the first deck or net
that is rated to stop the heaviest thing dropped, and outside the shaft to the ground.
"""

from math import inf

from towerlift.motion.timeline import Span
from towerlift.motion.walk import heights
from towerlift.plan.bodies import Fixture
from towerlift.plan.model import Plan
from towerlift.plan.work import Activity
from towerlift.programme.cells import Cell, Hazard, Zone
from towerlift.programme.conflicts import section_of

GRAVITY = 9.80665  # [m/s^2]
_ZONES = {
    "on": Zone.COLUMN,
    "in the column": Zone.COLUMN,
    "beside the tower": Zone.BESIDE,
    "at the capstans": Zone.CAPSTANS,
    "in the lines": Zone.LINES,
    "outside": Zone.OUTSIDE,
}


def cell_of(plan: Plan, activity: Activity, span: Span) -> Cell:
    """The cell that people are in while the raise stands or moves as it does.

    Parameters
    ----------
    plan : Plan
        Holds lengths of sections.
    activity : Activity
        Who is where.
    span : Span
        Gives the heel of the section that they are on.

    Returns
    -------
    cell : Cell
        Where the activity gives no heights: the height of the section it is on, or
        the whole of the zone.
    """
    low, high = -inf, inf
    section = section_of(plan, activity)
    place = None if section is None else span.standing.get(section)
    if activity.place == "on" and place is not None:
        length = next(each.length for each in plan.sections if each.name == section)
        low = min(place.heel_from, place.heel_to)
        high = max(place.heel_from, place.heel_to) + length
    if activity.lowest is not None:
        low = activity.lowest
    if activity.highest is not None:
        high = activity.highest
    return Cell(zone=_ZONES[activity.place], low=low, high=max(low, high))


def hazard_of(plan: Plan, activity: Activity, span: Span) -> Hazard | None:
    """What may fall from a piece of work, and how far.

    Parameters
    ----------
    plan : Plan
        Holds the decks and nets.
    activity : Activity
        Work on a section or in the column; nothing falls from elsewhere.
    span : Span
        Gives the fixtures in place.

    Returns
    -------
    hazard : Hazard or None
        None where nothing can fall.

    Notes
    -----
    A thing let go at rest at the top of the band brings m g H to a deck H below, taken to
    the centre lines of its planks. A deck or net that has no rating, and whatever lies
    under work whose heaviest thing is not known, stops nothing. One that is rated is taken
    to cover the whole shaft: give none to a ring.
    """
    cell = cell_of(plan, activity, span)
    if cell.zone is not Zone.COLUMN or cell.low == -inf:
        return None
    decks = sorted(
        (deck for deck in plan.fixtures if deck.name in span.fixtures and _under(deck, cell)),
        key=lambda deck: heights(deck)[1],
        reverse=True,
    )
    stop = next((deck for deck in decks if stops(deck, activity.drops, cell.high)), None)
    floor = -inf if stop is None else heights(stop)[1]
    shadow = [Cell(zone=Zone.COLUMN, low=floor, high=cell.low)]
    if cell.high > plan.shaft.wall_head:
        shadow.append(Cell(zone=Zone.BESIDE, high=cell.high))
    return Hazard(
        what=f"what {activity.name} may drop",
        mass=activity.drops,
        shadow=tuple(shadow),
        stopped_by=None if stop is None else stop.name,
    )


def stops(fixture: Fixture, mass: float | None, from_height: float) -> bool:
    """Whether a deck or net is rated to stop a thing let go above it.

    Parameters
    ----------
    fixture : Fixture
        A net without fine mesh stops no tool.
    mass : float or None
        Of the thing. [kg]
    from_height : float
        Where it is let go, shaft frame. [m]

    Returns
    -------
    rated : bool
        False where the rating or the mass is not known.
    """
    if fixture.kind not in ("deck", "net") or fixture.catches is None or mass is None:
        return False
    if fixture.kind == "net" and not fixture.fine_mesh:
        return False
    fall = from_height - heights(fixture)[1]
    return fall >= 0 and mass * GRAVITY * fall <= fixture.catches


def crossing(plan: Plan, one: Activity, other: Activity, span: Span) -> str:
    """Why two pieces of work must not go on together, or nothing.

    Parameters
    ----------
    plan : Plan
        Holds decks, nets and sections.
    one, other : Activity
        The two.
    span : Span
        While the raise stands or moves so.

    Returns
    -------
    words : str
        Empty where they may; else who is where, for a sentence.
    """
    cells = cell_of(plan, one, span), cell_of(plan, other, span)
    if cells[0].meets(cells[1]):
        return f"{one.name} and {other.name} take the same place {cells[0].zone}"
    for upper, lower, cell in ((one, other, cells[1]), (other, one, cells[0])):
        hazard = hazard_of(plan, upper, span)
        if hazard is not None and any(shade.meets(cell) for shade in hazard.shadow):
            missing = _missing(plan, upper, span)
            return f"{lower.name} is under {upper.name}, {missing}"
    return ""


def _missing(plan: Plan, upper: Activity, span: Span) -> str:
    if upper.drops is None:
        return "and the plan does not say what may drop from there"
    there = [f for f in plan.fixtures if f.name in span.fixtures and f.kind in ("deck", "net")]
    rated = ", ".join(f.name for f in there if f.catches is not None)
    if rated:
        return f"and {rated} is not rated to stop {upper.drops:g} kg dropped from there"
    return f"with no rated deck or net between to stop {upper.drops:g} kg"


def _under(fixture: Fixture, cell: Cell) -> bool:
    return fixture.kind in ("deck", "net") and heights(fixture)[1] <= cell.low
