"""Parks from which a section can be clad, and when nothing forbids it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from towerlift.motion.clock import clock as clock_time
from towerlift.motion.clock import day as date_words
from towerlift.motion.passages import State
from towerlift.motion.raises import Raise
from towerlift.motion.states import HELD_BY_TACKLES
from towerlift.motion.timeline import Span, timeline
from towerlift.plan.bodies import Fixture
from towerlift.plan.model import Plan
from towerlift.plan.work import Activity
from towerlift.programme.conflicts import conflicts, section_of
from towerlift.programme.exclusions import crossing
from towerlift.programme.hours import Clock, Window, both, without
from towerlift.programme.windows_net import net_fault
from towerlift.programme.windows_reach import WorkDeck, work_deck

FAST = frozenset({State.SECURED, State.LOCKED, State.TRANSFERRED})


@dataclass(frozen=True, slots=True, kw_only=True)
class Shut:
    """A time in which roofers must not be there.

    Attributes
    ----------
    begins, ends : int
        On the programme's clock. [min]
    why : str
        In words.
    """

    begins: int
    ends: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Park:
    """A section at rest at one height, with a deck round it.

    Attributes
    ----------
    section : str
        Which.
    heel : float
        Shaft frame. [m]
    state : str
        Secured, locked or transferred.
    carrier : str
        What it stands on.
    stage : str
        Stage after which it stands there.
    deck : WorkDeck or None
        Deck round it; None where there is none.
    net : str or None
        Net under the deck; None where there is none that will do.
    begins, ends : int
        On the programme's clock. [min]
    shut : tuple of Shut
        When roofers must not be there, in order.
    """

    section: str
    heel: float
    state: str
    carrier: str
    stage: str
    deck: WorkDeck | None
    net: str | None
    begins: int
    ends: int
    shut: tuple[Shut, ...]

    @property
    def name(self) -> str:
        """Such as "17.10 m after S1"."""
        return f"{self.heel:.2f} m after {self.stage}"


def parks_of(plan: Plan, raise_: Raise, section: str, clock: Clock) -> tuple[Park, ...]:
    """Every park of a section by the plan's dates.

    Parameters
    ----------
    plan : Plan
        Its stages have dates.
    raise_ : Raise
        The same plan's.
    section : str
        The one that is clad.
    clock : Clock
        Of the programme.

    Returns
    -------
    parks : tuple of Park
        In order of time. What stands at the end stands until the clock ends.
    """
    stand = frozenset(each.name for each in plan.fixtures if each.kind in ("deck", "net"))
    groups: list[list[Span]] = [[]]
    for span in timeline(plan, raise_):
        if span.unknown or not _fast(span, section):
            groups.append([])
            continue
        before = groups[-1][-1] if groups[-1] else None
        if before is not None and (
            not _same(before, span, section) or (before.fixtures ^ span.fixtures) & stand
        ):
            groups.append([])
        groups[-1].append(span)
    parks = (_park(plan, section, group, clock) for group in groups if group)
    return tuple(park for park in parks if park.ends > park.begins)


def _fast(span: Span, section: str) -> bool:
    place = span.standing.get(section)
    return place is not None and place.state in FAST and section not in span.moving


def _same(one: Span, other: Span, section: str) -> bool:
    a, b = one.standing[section], other.standing[section]
    return a.heel_to == b.heel_from and a.carrier == b.carrier


def _park(plan: Plan, section: str, spans: Sequence[Span], clock: Clock) -> Park:
    last = spans[-1]
    place = last.standing[section]
    fixtures = [each for each in plan.fixtures if each.name in last.fixtures]
    deck = _deck(plan, fixtures, place.heel_to)
    net, fault = (None, "") if deck is None else net_fault(fixtures, deck.top)
    begins = 0 if spans[0].begins is None else clock.minute_from(spans[0].begins)
    ends = clock.horizon if last.ends is None else clock.minute(last.ends)
    shut = list(_shut(plan, section, spans, clock, deck))
    if fault:
        shut.append(Shut(begins=begins, ends=ends, why=f"net: {fault}"))
    if deck is None:
        shut.append(Shut(begins=begins, ends=ends, why="no deck goes round it"))
    return Park(
        section=section,
        heel=place.heel_to,
        state=str(place.state),
        carrier=place.carrier,
        stage=spans[0].stage,
        deck=deck,
        net=net,
        begins=begins,
        ends=ends,
        shut=tuple(sorted(shut, key=lambda each: (each.begins, each.ends))),
    )


def _deck(plan: Plan, fixtures: Sequence[Fixture], heel: float) -> WorkDeck | None:
    found = [
        work_deck(each, plan.plumb_line)
        for each in fixtures
        if each.kind == "deck" and each.members
    ]
    rings = [deck for deck in found if deck is not None and deck.top > heel]
    return max(rings, key=lambda deck: deck.top, default=None)


def _shut(
    plan: Plan, section: str, spans: Sequence[Span], clock: Clock, deck: WorkDeck | None
) -> Iterator[Shut]:
    for span in spans:
        begins = 0 if span.begins is None else clock.minute(span.begins)
        ends = clock.horizon if span.ends is None else clock.minute_from(span.ends)
        reasons = [each.text for each in conflicts(plan, _roofers(section, deck), span)]
        for reason in dict.fromkeys([*_hanging(span, section), *reasons]):
            yield Shut(begins=begins, ends=ends, why=reason)
        for other in _others(plan, section):
            first = max(begins, clock.minute(other.starts))
            final = min(ends, clock.minute_from(other.ends))
            if first < final:
                yield from _crossed(plan, section, other, span, (first, final))


def _hanging(span: Span, section: str) -> Iterator[str]:
    """A lift clears the column and everything that stands in it, below roofers or above."""
    for name, place in span.standing.items():
        if name != section and place.state in HELD_BY_TACKLES:
            yield f"the {name} hangs in its tackles, so the column is cleared"


def _others(plan: Plan, section: str) -> Iterator[Activity]:
    cladding = {item.name for item in plan.fit_out if item.kind == "cladding"}
    for activity in plan.activities:
        if not (activity.fits in cladding and section_of(plan, activity) == section):
            yield activity


def _crossed(
    plan: Plan, section: str, other: Activity, span: Span, when: Window
) -> Iterator[Shut]:
    mine = [a for a in plan.activities if a.fits is not None and section_of(plan, a) == section]
    drops = [each.drops for each in mine if each.drops is not None]
    roofers = _roofers(section, None).model_copy(
        update={
            "lowest": min((a.lowest for a in mine if a.lowest is not None), default=None),
            "highest": max((a.highest for a in mine if a.highest is not None), default=None),
            "drops": max(drops, default=None) if len(drops) == len(mine) else None,
        }
    )
    words = crossing(plan, roofers, other, span)
    if words:
        yield Shut(begins=when[0], ends=when[1], why=words)


def _roofers(section: str, deck: WorkDeck | None) -> Activity:
    """Roofers on a section, whoever they are and whenever it is."""
    now = datetime.fromisoformat("2000-01-01T00:00:00+00:00")
    return Activity(
        name="the roofers",
        crew="roofers",
        count=1,
        place="on",
        section=section,
        starts=now,
        ends=now,
        needs=("secured", "locked", "transferred"),
    ).model_copy(update={"lowest": None if deck is None else deck.top})


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """A time in which roofers may be at a park.

    Attributes
    ----------
    park : Park
        Where.
    begins, ends : datetime
        In the site's zone.
    because : str
        What ends it.
    """

    park: Park
    begins: datetime
    ends: datetime
    because: str

    @property
    def words(self) -> str:
        """Date and hours."""
        zone = self.begins.tzinfo
        if zone is None:
            raise ValueError("an opening has its zone")
        day = date_words(self.begins, zone)
        return f"{day} {clock_time(self.begins, zone)}-{clock_time(self.ends, zone)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """When roofers can be at work at all, on the programme's clock.

    Attributes
    ----------
    light, at_work : tuple of (int, int)
        When it is light enough, and the crew's own hours. [min]
    """

    light: tuple[Window, ...]
    at_work: tuple[Window, ...]


def openings(park: Park, clock: Clock, hours: Hours) -> Iterator[Opening]:
    """When roofers may be at a park: light, their hours, and nothing that forbids it.

    Parameters
    ----------
    park : Park
        Where.
    clock : Clock
        Of the programme.
    hours : Hours
        Light, and the crew's own hours.

    Yields
    ------
    opening : Opening
        In order.
    """
    standing = both([(park.begins, park.ends)], both(hours.at_work, hours.light))
    for begins, ends in sorted(without(standing, [(s.begins, s.ends) for s in park.shut])):
        yield Opening(
            park=park,
            begins=clock.moment(begins),
            ends=clock.moment(ends),
            because=_ending(park, ends, hours.light),
        )


def _ending(park: Park, ends: int, light: Sequence[Window]) -> str:
    shut = next((each.why for each in park.shut if each.begins == ends), "")
    if shut:
        return shut
    if ends == park.ends:
        return "the section leaves this park"
    if any(window[1] == ends for window in light):
        return "half an hour of light is left"
    return "their hours end"
