"""What forbids people to be where they are, while the raise stands or moves as it does."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf

from towerlift.motion.passages import Standing, State
from towerlift.motion.states import HELD_BY_TACKLES, STANDS_FAST
from towerlift.motion.timeline import Span
from towerlift.motion.walk import SAME_HEIGHT, heights
from towerlift.plan.model import Plan
from towerlift.plan.work import Activity


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """One reason why people must not be there.

    Attributes
    ----------
    text : str
        The reason, without its time; the same for stretches of time that belong together.
    deck : bool
        Whether a deck would cure it.
    """

    text: str
    deck: bool = False


def section_of(plan: Plan, activity: Activity) -> str | None:
    """Section that an activity is on: its own, or that of what it fits."""
    if activity.section is not None or activity.fits is None:
        return activity.section
    return next((item.on for item in plan.fit_out if item.name == activity.fits), None)


def conflicts(plan: Plan, activity: Activity, span: Span) -> Iterator[Conflict]:
    """Reasons why people must not be there during a stretch of time.

    Parameters
    ----------
    plan : Plan
        Holds lengths, fixtures and what is fitted where.
    activity : Activity
        Who is where.
    span : Span
        What stands and what moves; its states are known.

    Yields
    ------
    conflict : Conflict
        None where they may be there.
    """
    found: list[Conflict] = []
    if activity.place == "on":
        found += _on(plan, activity, span)
    elif activity.place == "in the column":
        found += _in_column(plan, activity, span)
        found += _under_work(plan, activity, span)
    elif activity.place == "in the lines":
        found += _in_lines(activity, span)
    # Where the place itself forbids it, the state they need is not worth telling as well.
    yield from found or _needs(plan, activity, span)


def _state(span: Span, section: str) -> State:
    place = span.standing.get(section)
    return State.GROUND if place is None else place.state


def _needs(plan: Plan, activity: Activity, span: Span) -> Iterator[Conflict]:
    section = section_of(plan, activity)
    if section is None or not activity.needs:
        return
    state = _state(span, section)
    # A transferred section is a locked one whose tackles are off.
    met = state in activity.needs or (state is State.TRANSFERRED and "locked" in activity.needs)
    if not met:
        yield Conflict(
            text=f"the {section} must be {' or '.join(activity.needs)} but is {state}"
        )


def _on(plan: Plan, activity: Activity, span: Span) -> Iterator[Conflict]:
    section = section_of(plan, activity)
    if section is None:
        return
    place = span.standing.get(section)
    if place is None:
        yield Conflict(text=f"the {section} is not in the shaft")
        return
    if section in span.moving:
        yield Conflict(text=f"the {section} moves under them")
    elif section in span.coming:
        yield Conflict(text=f"the {span.moving[0]} moves to pick the {section} up")
    elif place.state in HELD_BY_TACKLES:
        yield Conflict(text=f"the {section} hangs in its tackles")
    elif place.state is State.SECURED and "secured" not in activity.needs:
        yield Conflict(text=f"the {section} is only secured, and they have no permit for that")
    low = place.heel_from if activity.lowest is None else activity.lowest
    for other, above in _roots(span):
        if other != section and section not in span.moving and _foot(above) >= low:
            yield from _in_tackles(span, other, above)


def _in_column(plan: Plan, activity: Activity, span: Span) -> Iterator[Conflict]:
    low = -inf if activity.lowest is None else activity.lowest
    lengths = {section.name: section.length for section in plan.sections}
    for name, place in _roots(span):
        head = max(place.heel_from, place.heel_to) + lengths[name]
        if place.state in HELD_BY_TACKLES:
            if low < head:
                yield from _in_tackles(span, name, place)
        elif _stands_over(place, low) and not _sheltered(plan, activity, span, _foot(place)):
            only = "only secured" if place.state is State.SECURED else str(place.state)
            yield Conflict(
                text=f"the {name} is {only} over them with no deck between", deck=True
            )


def _under_work(plan: Plan, activity: Activity, span: Span) -> Iterator[Conflict]:
    # Beams and chains that are put in or drawn can go down the shaft whole, deck or not.
    passage = span.passage
    if passage is None or passage.step not in ("install", "strike"):
        return
    fixture = next((each for each in plan.fixtures if each.name == passage.subject), None)
    low = -inf if activity.lowest is None else activity.lowest
    if fixture is not None and heights(fixture)[1] > low:
        doing = "putting in" if passage.step == "install" else "striking"
        yield Conflict(text=f"{doing} the {fixture.name} goes on over them")


def _in_lines(activity: Activity, span: Span) -> Iterator[Conflict]:
    # A rope that parts springs back along itself; those who tend the lift know its lines.
    hung = [n for n, place in span.standing.items() if place.state in HELD_BY_TACKLES]
    if hung and activity.during != span.stage:
        yield Conflict(text=f"the ropes of the {hung[0]} are tight beside them")


def _stands_over(place: Standing, low: float) -> bool:
    return place.state in {*STANDS_FAST, State.SECURED} and _foot(place) > low


def _in_tackles(span: Span, name: str, place: Standing) -> Iterator[Conflict]:
    if name in span.moving:
        yield Conflict(text=f"the {name} moves over them")
    elif place.state in HELD_BY_TACKLES:
        yield Conflict(text=f"the {name} hangs over them in its tackles")


def _roots(span: Span) -> Iterator[tuple[str, Standing]]:
    # What a section carries moves and hangs as it does, and is told of with it; but not
    # one that is slung from above while it still stands there.
    for name, place in span.standing.items():
        carrier = span.standing.get(place.carrier)
        slung = place.state in HELD_BY_TACKLES
        if carrier is None or (slung and carrier.state not in HELD_BY_TACKLES):
            yield name, place


def _foot(place: Standing) -> float:
    return min(place.heel_from, place.heel_to)


def _sheltered(plan: Plan, activity: Activity, span: Span, ceiling: float) -> bool:
    low = activity.lowest if activity.highest is None else activity.highest
    for fixture in plan.fixtures:
        named = activity.sheltered_by in (None, fixture.name)
        if fixture.name in span.fixtures and fixture.kind == "deck" and named:
            foot, head = heights(fixture)
            if foot > (-inf if low is None else low) and head < ceiling + SAME_HEIGHT:
                return True
    return False
