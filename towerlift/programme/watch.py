"""Who is where and what moves, from moment to moment, and where the two cross."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import combinations
from math import inf

from towerlift.motion.raises import Raise
from towerlift.motion.timeline import Span, timeline
from towerlift.motion.walk import heights
from towerlift.plan.model import Plan
from towerlift.plan.work import Activity
from towerlift.programme.cells import Zone
from towerlift.programme.conflicts import conflicts
from towerlift.programme.exclusions import cell_of, crossing, hazard_of


@dataclass(frozen=True, slots=True, kw_only=True)
class People:
    """One piece of work while the tower does not change.

    Attributes
    ----------
    name, crew : str
        Of the activity and of who is at it.
    count : int
        How many.
    zone : Zone
        Where in plan.
    begins, ends : datetime
        When.
    low, high : float
        Heights between which they are, cut at floor and top. [m]
    shadow : float or None
        Height down to which what they drop may fall; None where nothing can. [m]
    stopped_by : str
        Deck or net that stops it; empty where it falls to the floor.
    """

    name: str
    crew: str
    count: int
    zone: Zone
    begins: datetime
    ends: datetime
    low: float
    high: float
    shadow: float | None
    stopped_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """Where the heel of a section is.

    Attributes
    ----------
    section : str
        Which.
    length : float
        Heel to head. [m]
    points : tuple of (datetime, float)
        Heel height at each moment at which it changes its pace. [m]
    moving : tuple of (datetime, datetime)
        When it moves.
    """

    section: str
    length: float
    points: tuple[tuple[datetime, float], ...]
    moving: tuple[tuple[datetime, datetime], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """A deck or a net while it is in.

    Attributes
    ----------
    name : str
        Of the fixture.
    z : float
        Height. [m]
    begins, ends : datetime
        When it is in.
    """

    name: str
    z: float
    begins: datetime
    ends: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """A time and place in which people are where they must not be.

    Attributes
    ----------
    who : tuple of str
        Activities.
    begins, ends : datetime
        When.
    low, high : float
        Heights. [m]
    words : str
        Why.
    """

    who: tuple[str, ...]
    begins: datetime
    ends: datetime
    low: float
    high: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """All that the watch sheet shows.

    Attributes
    ----------
    begins, ends : datetime
        The time it tells of.
    top : float
        Highest height that anything reaches in it. [m]
    people, tracks, floors, crossings : tuple
        In order of time.
    unknown : tuple of str
        What cannot be told, since the plan gives no date.
    """

    begins: datetime
    ends: datetime
    top: float
    people: tuple[People, ...]
    tracks: tuple[Track, ...]
    floors: tuple[Floor, ...]
    crossings: tuple[Crossing, ...]
    unknown: tuple[str, ...]


def watch(plan: Plan, raise_: Raise, begins: datetime, ends: datetime) -> Watch:
    """Who is where and what moves within a time.

    Parameters
    ----------
    plan : Plan
        Its activities and stages have dates.
    raise_ : Raise
        The same plan's.
    begins, ends : datetime
        With their zone.

    Returns
    -------
    watch : Watch
        Cut to the time.

    Raises
    ------
    ValueError
        If it does not end after it begins.
    """
    if not ends > begins:
        raise ValueError(f"a watch must end after it begins, got {begins} to {ends}")
    spans = [span for span in timeline(plan, raise_) if span.overlap(begins, ends) > 0]
    known = [span for span in spans if not span.unknown]
    work = [each for each in plan.activities if each.starts < ends and each.ends > begins]
    tracks = tuple(_tracks(plan, known, begins, ends))
    top = _top(plan, tracks)
    return Watch(
        begins=begins,
        ends=ends,
        top=top,
        people=tuple(_joined_people(_people(plan, work, known, (begins, ends), top))),
        tracks=tracks,
        floors=tuple(_floors(plan, known, begins, ends)),
        crossings=tuple(_crossings(plan, work, known, (begins, ends), top)),
        unknown=tuple(dict.fromkeys(span.unknown for span in spans if span.unknown)),
    )


def _cut(span: Span, begins: datetime, ends: datetime) -> tuple[datetime, datetime]:
    first = begins if span.begins is None else max(begins, span.begins)
    last = ends if span.ends is None else min(ends, span.ends)
    return first, last


def _tracks(
    plan: Plan, spans: Sequence[Span], begins: datetime, ends: datetime
) -> Iterator[Track]:
    for section in plan.sections:
        points: list[tuple[datetime, float]] = []
        moving = []
        for span in spans:
            place = span.standing.get(section.name)
            if place is None:
                continue
            first, last = _cut(span, begins, ends)
            heels = [_heel(span, section.name, moment) for moment in (first, last)]
            points += [(first, heels[0]), (last, heels[1])]
            if section.name in span.moving:
                moving.append((first, last))
        if points:
            yield Track(
                section=section.name,
                length=section.length,
                points=tuple(dict.fromkeys(points)),
                moving=tuple(moving),
            )


def _heel(span: Span, section: str, moment: datetime) -> float:
    place = span.standing[section]
    if span.passage is None or span.begins is None or not span.passage.duration > 0:
        return place.heel_to
    share = (moment - span.begins).total_seconds() / span.passage.duration
    return place.heel_from + min(max(share, 0.0), 1.0) * (place.heel_to - place.heel_from)


def _top(plan: Plan, tracks: Sequence[Track]) -> float:
    heads = [z + track.length for track in tracks for _, z in track.points]
    return max([plan.shaft.wall_head, *heads])


def _floors(
    plan: Plan, spans: Sequence[Span], begins: datetime, ends: datetime
) -> Iterator[Floor]:
    for fixture in plan.fixtures:
        if fixture.kind not in ("deck", "net") or not fixture.members:
            continue
        there: list[tuple[datetime, datetime]] = []
        for span in spans:
            if fixture.name in span.fixtures:
                first, last = _cut(span, begins, ends)
                if there and there[-1][1] == first:
                    first = there.pop()[0]
                there.append((first, last))
        for first, last in there:
            yield Floor(name=fixture.name, z=heights(fixture)[1], begins=first, ends=last)


def _people(
    plan: Plan,
    work: Sequence[Activity],
    spans: Sequence[Span],
    time: tuple[datetime, datetime],
    top: float,
) -> Iterator[People]:
    for activity in work:
        for span in spans:
            first, last = _cut(span, *time)
            first, last = max(first, activity.starts), min(last, activity.ends)
            if not first < last:
                continue
            cell = cell_of(plan, activity, span)
            hazard = hazard_of(plan, activity, span)
            shades = (
                [] if hazard is None else [s.low for s in hazard.shadow if s.zone is cell.zone]
            )
            yield People(
                name=activity.name,
                crew=activity.crew,
                count=activity.count,
                zone=cell.zone,
                begins=first,
                ends=last,
                low=max(0.0, cell.low),
                high=top if cell.high == inf else cell.high,
                shadow=None if not shades else max(0.0, min(shades)),
                stopped_by="" if hazard is None or not hazard.stopped_by else hazard.stopped_by,
            )


def _joined_people(people: Iterator[People]) -> Iterator[People]:
    now: People | None = None
    for each in people:
        same = now is not None and replace(now, begins=each.begins, ends=each.ends) == each
        if now is not None and same and now.ends == each.begins:
            now = replace(now, ends=each.ends)
            continue
        if now is not None:
            yield now
        now = each
    if now is not None:
        yield now


def _crossings(
    plan: Plan,
    work: Sequence[Activity],
    spans: Sequence[Span],
    time: tuple[datetime, datetime],
    top: float,
) -> Iterator[Crossing]:
    found: dict[tuple[tuple[str, ...], str], Crossing] = {}
    for span in spans:
        for who, words in _reasons(plan, work, span):
            first, last = _cut(span, *time)
            first = max([first, *(each.starts for each in who)])
            last = min([last, *(each.ends for each in who)])
            if not first < last:
                continue
            cell = cell_of(plan, who[-1], span)
            now = Crossing(
                who=tuple(each.name for each in who),
                begins=first,
                ends=last,
                low=max(0.0, cell.low),
                high=min(top, cell.high),
                words=words,
            )
            before = found.get((now.who, words))
            if before is not None and before.ends == first:
                low, high = min(before.low, now.low), max(before.high, now.high)
                now = replace(now, begins=before.begins, low=low, high=high)
            elif before is not None:
                yield before
            found[now.who, words] = now
    yield from found.values()


def _reasons(
    plan: Plan, work: Sequence[Activity], span: Span
) -> Iterator[tuple[tuple[Activity, ...], str]]:
    present = [each for each in work if span.overlap(each.starts, each.ends) > 0]
    for activity in present:
        for reason in dict.fromkeys(each.text for each in conflicts(plan, activity, span)):
            yield (activity,), reason
    for one, other in combinations(present, 2):
        if min(one.ends, other.ends) > max(one.starts, other.starts):
            words = crossing(plan, one, other, span)
            if words:
                yield (one, other), words
