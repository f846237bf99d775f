"""Occupancy: nobody on or under what moves or hangs, by the dates in the plan."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from towerlift.checks.case import Case, UsualLimit, limit_for, overrule_for
from towerlift.findings import Bound, Finding
from towerlift.motion.clock import clock, day, site_zone
from towerlift.motion.timeline import Span, timeline
from towerlift.plan.work import Activity
from towerlift.programme.conflicts import Conflict, conflicts, section_of

CHECK = "occupancy"

OCCUPANCY = UsualLimit(
    name="people where something moves or hangs",
    value=0.0,
    unit="count",
    bound=Bound.AT_MOST,
    dimension=None,
    source="common practice in hoisting, no source: nobody on or under a hanging load",
)
LIMITS = (OCCUPANCY,)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Clash:
    # A span with the reasons that forbid people to be there.
    span: Span
    reasons: tuple[Conflict, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Meeting:
    # One activity against one stage.
    activity: Activity
    stage: str
    met: tuple[_Clash, ...]  # clashes at the time of the activity
    all_clashes: tuple[_Clash, ...]  # clashes at any time of the stage
    begins: datetime | None  # when the stage begins
    before: Span | None  # the span before the stage


def check_occupancy(case: Case) -> Iterable[Finding]:
    """Each dated activity against each stage that it overlaps.

    A stage lasts until the next one begins: what stands when it is done stands
    till then. Touching is no overlap.

    Parameters
    ----------
    case : Case
        Plan and raise.

    Yields
    ------
    finding : Finding
        1 where people are where they must not be, 0 where they may be; not
        evaluated where a date is missing.

    Notes
    -----
    A deck is taken to stop what may fall on it: its strength is not checked here.
    """
    spans = timeline(case.plan, case.raise_)
    zone = site_zone(case.plan.site)
    if not case.plan.activities:
        yield _finding(
            case, "activities", "", why="the plan lists no activities, so nobody can be placed"
        )
    for activity in case.plan.activities:
        yield from _check_activity(case, activity, spans, zone)


def _finding(case: Case, subject: str, stage: str, *, why: str) -> Finding:
    return Finding(
        check=CHECK,
        subject=subject,
        stage=stage,
        heel=None,
        where=None,
        limit=limit_for(case, OCCUPANCY),
        value=None,
        why=why,
    )


def _check_activity(
    case: Case, activity: Activity, spans: tuple[Span, ...], zone: tzinfo
) -> Iterator[Finding]:
    blank = _unreadable(case, activity)
    if blank:
        yield _finding(case, activity.name, "", why=blank)
        return
    shared = [span for span in spans if span.overlap(activity.starts, activity.ends) > 0]
    for stage in dict.fromkeys(span.stage for span in shared):
        unknown = [span.unknown for span in shared if span.stage == stage and span.unknown]
        if unknown:
            why = f"{_who(case, activity, zone)}: what moves then is not known: {unknown[0]}"
            yield _finding(case, activity.name, stage, why=why)
            continue
        meeting = _meet(case, activity, stage, spans)
        yield Finding(
            check=CHECK,
            subject=activity.name,
            stage=stage,
            heel=_heel(meeting),
            where=None,
            limit=limit_for(case, OCCUPANCY),
            overrule=overrule_for(case, OCCUPANCY, activity.name, stage),
            value=1.0 if meeting.met else 0.0,
            why=_why(case, meeting, zone),
            remedy=_remedies(case, meeting, zone),
        )


def _unreadable(case: Case, activity: Activity) -> str:
    if not activity.ends > activity.starts:
        return f"{activity.name} ends before it starts, so what it meets cannot be known"
    if activity.place == "on" and section_of(case.plan, activity) is None:
        return f'{activity.name} is "on" a section, but does not say which'
    return ""


def _meet(case: Case, activity: Activity, stage: str, spans: tuple[Span, ...]) -> _Meeting:
    own = [number for number, span in enumerate(spans) if span.stage == stage]
    clashes = [
        _Clash(span=spans[number], reasons=tuple(conflicts(case.plan, activity, spans[number])))
        for number in own
    ]
    clashes = [clash for clash in clashes if clash.reasons]
    return _Meeting(
        activity=activity,
        stage=stage,
        met=tuple(
            clash for clash in clashes if clash.span.overlap(activity.starts, activity.ends) > 0
        ),
        all_clashes=tuple(clashes),
        begins=spans[own[0]].begins,
        before=spans[own[0] - 1] if own[0] else None,
    )


def _heel(meeting: _Meeting) -> float | None:
    # Where the hauled section is when people and haul first meet.
    for clash in meeting.met:
        passage, begins = clash.span.passage, clash.span.begins
        if passage is not None and passage.moving and begins is not None:
            late = (meeting.activity.starts - begins).total_seconds()
            share = max(late, 0.0) / passage.duration
            return passage.heel(passage.moving[0], share)
    return None


def _who(case: Case, activity: Activity, zone: tzinfo) -> str:
    where: str = activity.place
    if where == "on":
        where = f"on the {section_of(case.plan, activity)}"
    return (
        f"{activity.name} ({activity.count} {activity.crew}) {where} "
        f"{_stretch(activity.starts, activity.ends, zone)}"
    )


def _stretch(begins: datetime, ends: datetime, zone: tzinfo) -> str:
    first, last = day(begins, zone), day(ends, zone)
    if first == last:
        return f"{clock(begins, zone)}-{clock(ends, zone)} on {first}"
    return f"{clock(begins, zone)} on {first} to {clock(ends, zone)} on {last}"


def _why(case: Case, meeting: _Meeting, zone: tzinfo) -> str:
    who = _who(case, meeting.activity, zone)
    if not meeting.met:
        return f"{who}: nothing forbids it"
    facts = [
        f"{text} {', '.join(_interval(*times, zone) for times in _joined(meeting, text))}"
        for text in _reasons(meeting)
    ]
    during = f"in {meeting.stage} " if meeting.stage else ""
    return f"{who}, but {during}{'; '.join([*facts, *_pick_ups(meeting, zone)])}"


def _reasons(meeting: _Meeting) -> tuple[str, ...]:
    return tuple(
        dict.fromkeys(reason.text for clash in meeting.met for reason in clash.reasons)
    )


def _joined(meeting: _Meeting, text: str) -> list[tuple[datetime | None, datetime | None]]:
    joined: list[tuple[datetime | None, datetime | None]] = []
    for clash in meeting.met:
        if text not in [reason.text for reason in clash.reasons]:
            continue
        begins, ends = clash.span.begins, clash.span.ends
        if joined and joined[-1][1] == begins:
            begins = joined.pop()[0]
        joined.append((begins, ends))
    return joined


def _interval(begins: datetime | None, ends: datetime | None, zone: tzinfo) -> str:
    if begins is None:
        return "" if ends is None else f"until {clock(ends, zone)} on {day(ends, zone)}"
    if ends is None:
        return f"from {clock(begins, zone)} on {day(begins, zone)}"
    if day(begins, zone) != day(ends, zone):
        return _stretch(begins, ends, zone)
    return f"{clock(begins, zone)}-{clock(ends, zone)}"


def _pick_ups(meeting: _Meeting, zone: tzinfo) -> Iterator[str]:
    for clash in meeting.met:
        passage, begins = clash.span.passage, clash.span.begins
        if passage is not None and passage.event and begins is not None:
            yield f"the {passage.subject} {passage.event}, at {clock(begins, zone)}"


def _remedies(case: Case, meeting: _Meeting, zone: tzinfo) -> tuple[str, ...]:
    if not meeting.met:
        return ()
    ranked = sorted(_shifts(case, meeting, zone), key=lambda option: option[0])
    remedies = [text for _, text in ranked]
    reasons = [reason for clash in meeting.met for reason in clash.reasons]
    if all(reason.deck for reason in reasons):
        remedies.insert(0, "put a deck between them and what stands over them first")
    return (*remedies, "do the work on another day")


def _shifts(case: Case, meeting: _Meeting, zone: tzinfo) -> Iterator[tuple[timedelta, str]]:
    activity, stage = meeting.activity, meeting.stage
    first = meeting.all_clashes[0].span.begins
    last = _last(meeting)
    if first is not None:
        late = activity.ends - first
        if stage and _free_before(case, meeting):
            yield late, f"start {stage} {_long(late)} later, when they are off"
        if first > activity.starts:
            yield (
                late,
                f"take them off before {clock(first, zone)}: they lose {_long(late)}",
            )
    if last is not None:
        early = last - activity.starts
        if stage and _room_before(meeting, early):
            yield early, f"start {stage} {_long(early)} earlier, so that it is over"
        yield early, f"let them start at {clock(last, zone)}, {_long(early)} later"


def _last(meeting: _Meeting) -> datetime | None:
    ends = [clash.span.ends for clash in meeting.all_clashes]
    known = [end for end in ends if end is not None]
    return max(known) if len(known) == len(ends) else None


def _free_before(case: Case, meeting: _Meeting) -> bool:
    before = meeting.before
    return (
        before is not None
        and not before.unknown
        and not any(conflicts(case.plan, meeting.activity, before))
    )


def _room_before(meeting: _Meeting, early: timedelta) -> bool:
    before, begins = meeting.before, meeting.begins
    if before is None or begins is None or before.unknown:
        return False
    return before.begins is None or begins - early >= before.begins


def _long(stretch: timedelta) -> str:
    minutes = round(stretch.total_seconds() / 60)
    hours, minutes = divmod(minutes, 60)
    parts = [f"{hours} h"] if hours else []
    if minutes or not hours:
        parts.append(f"{minutes} min")
    return " ".join(parts)
