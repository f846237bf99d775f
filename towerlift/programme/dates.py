"""The dates as the plan writes them: what they break, what cures it, and the least change."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from towerlift.motion.clock import clock as clock_time
from towerlift.motion.raises import Raise
from towerlift.plan.model import Plan
from towerlift.programme.graph import long
from towerlift.programme.posing import Posed, pose
from towerlift.programme.problem import Edge, Exclusion, Link
from towerlift.programme.solving import Wanted, least_change
from towerlift.programme.verify import Broken, broken_rules
from towerlift.programme.wishes import NO_WISHES, Wishes

DAY = 24 * 60  # [min]


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """A rule that the dates of a plan break.

    Attributes
    ----------
    names : tuple of str
        Stages and activities that break it.
    begins, ends : datetime
        When it is broken: of the first of them.
    why : str
        The rule, and what happens when.
    cures : tuple of (float, str)
        Single moves that cure it, the rest staying as dated, the least first: how far, and
        in words. [s]
    of_raise : bool
        Whether people are where the raise forbids it: on or under what moves or hangs.
    """

    names: tuple[str, ...]
    begins: datetime
    ends: datetime
    why: str
    cures: tuple[tuple[float, str], ...]
    of_raise: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One move of the least change.

    Attributes
    ----------
    name : str
        Stage or activity that moves.
    was, becomes : datetime
        When it starts, in the site's zone.
    """

    name: str
    was: datetime
    becomes: datetime

    @property
    def words(self) -> str:
        """In a sentence."""
        by = (self.becomes.astimezone(UTC) - self.was.astimezone(UTC)).total_seconds()
        way = "later" if by > 0 else "sooner"
        return (
            f"{self.name}: from {self.was:%Y-%m-%d %H:%M} to {self.becomes:%Y-%m-%d %H:%M}, "
            f"{long(abs(by))} {way}"
        )


def undated(plan: Plan) -> tuple[str, ...]:
    """Stages without a date, for which nothing can be checked.

    Parameters
    ----------
    plan : Plan
        As read.

    Returns
    -------
    names : tuple of str
        In the order of the plan; empty where every stage has a date.
    """
    return tuple(stage.name for stage in plan.stages if stage.starts is None)


def crossings(plan: Plan, raise_: Raise, wishes: Wishes = NO_WISHES) -> tuple[Crossing, ...]:
    """Every rule that the dates of a plan break.

    Parameters
    ----------
    plan : Plan
        Every stage has a date.
    raise_ : Raise
        The same plan's.
    wishes : Wishes
        Closures that the dates are to keep.

    Returns
    -------
    crossings : tuple of Crossing
        By time.

    Raises
    ------
    ValueError
        If a stage has no date.
    """
    posed = pose(plan, raise_, wishes)
    missing = undated(plan)
    if missing:
        raise ValueError(f"no date for stage {', '.join(missing)}")
    return tuple(_crossings(posed, raise_))


def nearest_dates(plan: Plan, raise_: Raise, wishes: Wishes = NO_WISHES) -> tuple[Change, ...]:
    """The least change of dates that keeps every rule: fewest moves, then shortest.

    Parameters
    ----------
    plan : Plan
        Every stage has a date.
    raise_ : Raise
        The same plan's.
    wishes : Wishes
        What is asked besides, and the time for the search.

    Returns
    -------
    changes : tuple of Change
        Empty where the dates keep every rule.

    Raises
    ------
    ValueError
        If a stage has no date.
    NoProgrammeError
        If no dates keep every rule.
    """
    posed = pose(plan, raise_, wishes)
    missing = undated(plan)
    if missing:
        raise ValueError(f"no date for stage {', '.join(missing)}")
    wanted = Wanted(starts=posed.dated, together=tuple(_moves(posed)), reaches=(DAY, 7 * DAY))
    solution = least_change(posed.problem, wanted, seconds=wishes.seconds)
    return tuple(_changes(posed, solution.starts))


def _moves(posed: Posed) -> Iterator[tuple[str, ...]]:
    """Tasks that count as one move; what takes no time counts for nothing."""
    beside: dict[str, list[str]] = {}
    for job in posed.jobs.values():
        stage = getattr(job.of, "during", None)
        names = [task.name for task in job.tasks if task.duration > 0]
        beside.setdefault(stage or job.name, []).extend(names)
    yield from (tuple(names) for names in beside.values() if names)


def _changes(posed: Posed, starts: Mapping[str, int]) -> Iterator[Change]:
    for job in posed.jobs.values():
        if all(task.duration == 0 for task in job.tasks):
            continue
        first = job.tasks[0].name
        moved = [
            task.name
            for task, dated in zip(job.tasks, job.dated, strict=True)
            if starts[task.name] != dated
        ]
        if moved:
            yield Change(
                name=job.name if moved[0] == first else moved[0],
                was=posed.clock.moment(posed.dated[moved[0]]),
                becomes=posed.clock.moment(starts[moved[0]]),
            )


def _crossings(posed: Posed, raise_: Raise) -> Iterator[Crossing]:
    names = {task.name: job.name for job in posed.jobs.values() for task in job.tasks}
    alike: dict[tuple[tuple[str, ...], str], list[Broken]] = {}
    for broken in broken_rules(posed.problem, posed.dated):
        jobs = tuple(dict.fromkeys(names[task] for task in broken.tasks))
        kind = type(broken.source).__name__ if broken.source is not None else broken.rule
        if isinstance(broken.source, Link):
            # Several reasons for one order are one thing to cure.
            kind = f"link {broken.source.lag > 0}"
        alike.setdefault((jobs, kind), []).append(broken)
    found = [_crossing(posed, raise_, jobs, group) for (jobs, _), group in alike.items()]
    yield from sorted(found, key=lambda each: each.begins)


def _crossing(
    posed: Posed, raise_: Raise, jobs: tuple[str, ...], group: list[Broken]
) -> Crossing:
    worst = max(group, key=lambda each: each.short)
    begins, ends = _span(posed, worst.tasks[0])
    why, cures = worst.rule, [(worst.short, f"start {jobs[0]} {{}} later")]
    cures.append((worst.early, f"start {jobs[0]} {{}} sooner"))
    if isinstance(worst.source, Link):
        cures.append((worst.short, f"start {jobs[-1]} {{}} sooner"))
    if isinstance(worst.source, Exclusion):
        begins = min(_span(posed, each.tasks[0])[0] for each in group)
        ends = max(_span(posed, each.tasks[0])[1] for each in group)
        cures = list(_apart(posed, jobs, group))
        why += "".join(f"; {event}" for event in _events(posed, raise_, jobs, (begins, ends)))
    moment = posed.clock.moment
    when = f"{jobs[0]} {moment(begins):%Y-%m-%d %H:%M} to {moment(ends):%H:%M}"
    return Crossing(
        names=jobs,
        begins=moment(begins),
        ends=moment(ends),
        why=f"{when}: {why}",
        cures=tuple(
            (minutes * 60.0, words.format(long(minutes * 60.0)))
            for minutes, words in sorted(cures)
            if minutes > 0
        ),
        of_raise=isinstance(worst.source, Exclusion) and worst.source.of_raise,
    )


def _span(posed: Posed, task: str) -> tuple[int, int]:
    duration = next(each.duration for each in posed.problem.tasks if each.name == task)
    start = posed.dated[task]
    return start, start + duration


def _apart(
    posed: Posed, jobs: tuple[str, ...], group: list[Broken]
) -> Iterator[tuple[int, str]]:
    """Moves that part two things: either waits for the other, or the first is over sooner."""
    spans = [_span(posed, broken.tasks[0]) for broken in group]
    others = []
    for broken in group:
        if isinstance(broken.source, Exclusion):
            stretch = broken.source.stretches[1]
            edges = [
                float(side) if at is None else float(_moment(posed, at))
                for at, side in ((stretch.begins, "-inf"), (stretch.ends, "inf"))
            ]
            others.append((edges[0], edges[1]))
    first, last = min(begins for begins, _ in others), max(ends for _, ends in others)
    begins, ends = min(b for b, _ in spans), max(e for _, e in spans)
    if last < float("inf"):
        rest = (
            "" if begins == posed.dated[posed.jobs[jobs[0]].tasks[0].name] else "the rest of "
        )
        yield int(last - begins), f"start {rest}{jobs[0]} {{}} later"
    if first > float("-inf"):
        yield int(ends - first), f"start {jobs[0]} {{}} sooner"
        if len(jobs) > 1:
            yield int(ends - first), f"start {jobs[-1]} {{}} later"


def _moment(posed: Posed, at: tuple[str, Edge, int]) -> int:
    begins, ends = _span(posed, at[0])
    return (ends if at[1] is Edge.END else begins) + at[2]


def _events(
    posed: Posed, raise_: Raise, jobs: tuple[str, ...], span: tuple[int, int]
) -> Iterator[str]:
    """What moves, and what is picked up, while they are there."""
    zone = posed.clock.zone
    moment = posed.clock.moment
    first, last = moment(span[0]), moment(span[1])
    for passage in raise_.passages:
        if passage.stage not in jobs or passage.begins is None or not passage.moving:
            continue
        begins, ends = passage.begins, passage.begins + timedelta(seconds=passage.duration)
        short = ends - begins < timedelta(minutes=1)
        if begins < last and ends > first and (passage.event or not short):
            if passage.event:
                yield f"the {passage.subject} {passage.event}, at {clock_time(begins, zone)}"
            moving = " and the ".join(passage.moving)
            when = f"{clock_time(begins, zone)} to {clock_time(ends, zone)}"
            yield f"the {moving} move{'s' if len(passage.moving) == 1 else ''} {when}"
