"""What roofers reach from a deck: bands by park, gaps to the face, and leaf boards."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf

from towerlift.findings import Bound
from towerlift.plan.bodies import Face, Fixture, PlumbLine
from towerlift.plan.limits import UsualLimit, limit_in_plan
from towerlift.plan.model import Plan
from towerlift.programme.windows_bands import Band
from towerlift.units import Dimension

LOWEST = UsualLimit(
    name="least reach above the deck",
    value=0.2,
    unit="m",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="common practice, no source: lower than this nobody nails standing on the deck",
)
HIGHEST = UsualLimit(
    name="most reach above the deck",
    value=2.0,
    unit="m",
    bound=Bound.AT_MOST,
    dimension=Dimension.LENGTH,
    source="common practice, no source: as high as a hand nails without a step",
)
LEAN = UsualLimit(
    name="lean from the leaf board",
    value=0.6,
    unit="m",
    bound=Bound.AT_MOST,
    dimension=Dimension.LENGTH,
    source="common practice, no source: farther than this means leaning out",
)
BOARD_GAP = 0.3  # left between the leaf board and the middle of the band [m]
BOARD_SOURCE = "0.3 m from board to face at the middle of the band: common practice, no source"
BOARD_CLEAR = 0.05  # left between the board and the face at the height of the deck [m]
SAME = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """How far roofers reach from what they stand on.

    Attributes
    ----------
    lowest, highest : float
        Above the deck. [m]
    lean : float
        Level, from the edge of the leaf board to the face. [m]
    """

    lowest: float
    highest: float
    lean: float


def reach_in(plan: Plan) -> Reach:
    """Reach that the plan allows, else the usual one.

    Parameters
    ----------
    plan : Plan
        May set limits of these names.

    Returns
    -------
    reach : Reach
        In metres.

    Raises
    ------
    UnitError
        If the plan writes one in a unit that does not measure it.
    """
    lowest, highest, lean = (
        limit_in_plan(plan, usual).value for usual in (LOWEST, HIGHEST, LEAN)
    )
    return Reach(lowest=lowest, highest=highest, lean=lean)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkDeck:
    """A deck round the axis from which a section is clad.

    Attributes
    ----------
    name : str
        Of the fixture.
    top : float
        What they stand on, shaft frame. [m]
    edges : mapping of Face to float
        Distance from the axis of the sections to its inner edge on each side. [m]
    """

    name: str
    top: float
    edges: Mapping[Face, float]

    @property
    def edge(self) -> float:
        """Farthest inner edge from the axis. [m]"""
        return max(self.edges.values())


_WAYS = {Face.NORTH: (1, 1.0), Face.SOUTH: (1, -1.0), Face.EAST: (0, 1.0), Face.WEST: (0, -1.0)}


def work_deck(fixture: Fixture, plumb_line: PlumbLine) -> WorkDeck | None:
    """The opening of a deck round the axis, or None where it is no ring.

    Parameters
    ----------
    fixture : Fixture
        A deck of level planks.
    plumb_line : PlumbLine
        Where the sections hang; a turn of them is left out of account.

    Returns
    -------
    deck : WorkDeck or None
        None where a side is missing or planks lie across the axis.
    """
    axis = (plumb_line.x, plumb_line.y)
    edges = {face: _inner_edge(fixture, axis, way) for face, way in _WAYS.items()}
    if any(not 0.0 < edge < inf for edge in edges.values()):
        return None
    top = max(
        max(member.start[2], member.end[2]) + member.depth / 2 for member in fixture.members
    )
    return WorkDeck(name=fixture.name, top=top, edges=edges)


def _inner_edge(fixture: Fixture, axis: tuple[float, float], way: tuple[int, float]) -> float:
    """Where the line from the axis toward a face first meets a plank; inf if it never does."""
    along, sign = way
    nearest = inf
    for member in fixture.members:
        low, high = _plan_box(member.start, member.end, member.breadth)
        across = 1 - along
        if not low[across] <= axis[across] <= high[across]:
            continue
        ends = sorted(sign * (each[along] - axis[along]) for each in (low, high))
        if ends[1] > 0:
            nearest = min(nearest, ends[0])
    return nearest


def _plan_box(
    start: Sequence[float], end: Sequence[float], breadth: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    # A plank along x is as wide as it is broad in y, and the other way round.
    run = [abs(end[axis] - start[axis]) for axis in (0, 1)]
    aside = [breadth / 2 if run[axis] < run[1 - axis] else 0.0 for axis in (0, 1)]
    low = [min(start[axis], end[axis]) - aside[axis] for axis in (0, 1)]
    high = [max(start[axis], end[axis]) + aside[axis] for axis in (0, 1)]
    return (low[0], low[1]), (high[0], high[1])


def reachable(deck_top: float, heel: float, reach: Reach) -> tuple[float, float]:
    """Heights of a section that are reached from a deck while its heel stands at a height.

    Parameters
    ----------
    deck_top : float
        Shaft frame. [m]
    heel : float
        Heel of the section, shaft frame. [m]
    reach : Reach
        From the deck.

    Returns
    -------
    low, high : float
        Heights s; not yet cut at what there is to clad. [m]
    """
    return deck_top + reach.lowest - heel, deck_top + reach.highest - heel


@dataclass(frozen=True, slots=True, kw_only=True)
class LeafBoards:
    """Boards laid out from the deck toward the face for one band at one park.

    Attributes
    ----------
    gap_foot, gap_middle, gap_head : float
        Level, from the deck's farthest inner edge to the face of the band. [m]
    width : float
        Of the boards beyond the deck's edge; 0 where none is needed. [m]
    lean : float
        From the boards' edge to the face at the head of the band. [m]
    """

    gap_foot: float
    gap_middle: float
    gap_head: float
    width: float
    lean: float


def leaf_boards(deck: WorkDeck, band: Band, heel: float) -> LeafBoards:
    """Boards that a band needs at a park.

    Parameters
    ----------
    deck : WorkDeck
        What the roofers stand on.
    band : Band
        What they clad.
    heel : float
        Of its section, shaft frame. [m]

    Returns
    -------
    boards : LeafBoards
        As wide as leaves 0.3 m to the middle of the band, and narrower where they would
        come within 50 mm of the face at the height of the deck.

    Notes
    -----
    Boards that stand out over an open shaft want a cantilever, a hold-down and anchors for
    harnesses of their own; they are taken in before each move. Their strength is not
    reckoned here.
    """
    gaps = [deck.edge - band.half(s) for s in (band.low, (band.low + band.high) / 2, band.high)]
    at_deck = deck.edge - band.half(deck.top - heel) - BOARD_CLEAR
    width = max(0.0, min(gaps[1] - BOARD_GAP, at_deck))
    return LeafBoards(
        gap_foot=gaps[0],
        gap_middle=gaps[1],
        gap_head=gaps[2],
        width=width,
        lean=gaps[2] - width,
    )
