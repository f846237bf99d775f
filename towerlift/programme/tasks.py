"""Tasks of a programme: how long each stage and each part of a work takes, and its hours."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from math import ceil

from towerlift.errors import NoProgrammeError
from towerlift.findings import Bound
from towerlift.motion.raises import Raise
from towerlift.plan.limits import UsualLimit, limit_in_plan
from towerlift.plan.model import Plan
from towerlift.plan.work import Activity, Crew, Stage
from towerlift.programme.hours import (
    Clock,
    Window,
    both,
    hours_of,
    light_windows,
    without,
)
from towerlift.programme.problem import Task
from towerlift.programme.wishes import Ran, Wishes
from towerlift.units import Dimension

LIGHT_LEFT = UsualLimit(
    name="light left after work aloft",
    value=30.0,
    unit="min",
    bound=Bound.AT_LEAST,
    dimension=Dimension.TIME,
    source="common practice, no source: half an hour of light after the last lock, and "
    "after sunrise before the first",
)
LIMITS = (LIGHT_LEFT,)
# Days beyond the last date in the plan that a programme may reach.
ROOM_DAYS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One stage or activity as tasks.

    Attributes
    ----------
    of : Stage or Activity
        As the plan has it.
    tasks : tuple of Task
        Its unbroken parts, in order.
    dated : tuple of int
        Where the plan's own dates put each of them. [min]
    """

    of: Stage | Activity
    tasks: tuple[Task, ...]
    dated: tuple[int, ...]

    @property
    def name(self) -> str:
        """Of the stage or activity."""
        return self.of.name


def clock_of(plan: Plan, *, room_days: int = ROOM_DAYS) -> Clock:
    """The clock of a plan, with room beyond its last date.

    Parameters
    ----------
    plan : Plan
        Its first day and its dates.
    room_days : int
        Days beyond its last date.

    Returns
    -------
    clock : Clock
        From its first day.
    """
    dates = [each.ends.date() for each in plan.activities]
    dates += [stage.starts.date() for stage in plan.stages if stage.starts is not None]
    last = max([*dates, plan.site.day_1])
    return Clock(site=plan.site, n_days=(last - plan.site.day_1).days + room_days)


def ample_days(plan: Plan) -> int:
    """Days in which everything could be done one after another, a week to each part.

    Parameters
    ----------
    plan : Plan
        Its stages, and activities with their parts and cures.

    Returns
    -------
    days : int
        Beyond the plan's last date.
    """
    parts = len(plan.stages) + sum(activity.courses for activity in plan.activities)
    cures = sum(activity.cures for activity in plan.activities)
    return ROOM_DAYS + 7 * parts + ceil(cures / 86400.0)


def stage_minutes(raise_: Raise, stage: Stage) -> int:
    """Time that a stage takes, from its first step to its last. [min]

    Parameters
    ----------
    raise_ : Raise
        Gives the time of each step and haul.
    stage : Stage
        One of the plan's.

    Returns
    -------
    minutes : int
        Rounded up.

    Raises
    ------
    NoProgrammeError
        If the time of a haul is not known.
    """
    passages = [each for each in raise_.passages if each.stage == stage.name]
    for passage in passages:
        if passage.moving and not passage.duration > 0:
            raise NoProgrammeError([f"the time of a haul in stage {stage.name} is not known"])
    return _minutes(sum(passage.duration for passage in passages))


def recovery_minutes(raise_: Raise, stage: Stage) -> int:
    """Light kept after a stage to recover a haul that goes wrong. [min]

    Half the longest haul: above the height from which it is as far to go on as to go back,
    one goes on, below it one comes back, so neither takes longer than that (derived here;
    lowering is taken to be no slower than hauling).

    Parameters
    ----------
    raise_ : Raise
        Gives the time of each haul.
    stage : Stage
        One of the plan's.

    Returns
    -------
    minutes : int
        Rounded up; 0 where nothing is hauled.
    """
    hauls: list[float] = []
    for passage in raise_.passages:
        if passage.stage != stage.name or not passage.moving:
            continue
        if passage.event and hauls:
            hauls[-1] += passage.duration
        else:
            hauls.append(passage.duration)
    return _minutes(max(hauls, default=0.0) / 2.0)


def stage_jobs(plan: Plan, raise_: Raise, clock: Clock, wishes: Wishes) -> Iterator[Job]:
    """Every stage as one unbroken task.

    Parameters
    ----------
    plan : Plan
        Its stages, lifts and crews.
    raise_ : Raise
        The same plan's.
    clock : Clock
        Of the site.
    wishes : Wishes
        Closures, and what has begun.

    Yields
    ------
    job : Job
        In the order of the plan.

    Raises
    ------
    NoProgrammeError
        If the time of a haul is not known.
    """
    for stage in plan.stages:
        duration = stage_minutes(raise_, stage)
        hauls = any(each.stage == stage.name for each in raise_.moving_passages)
        crews = _stage_crews(plan, stage)
        windows: tuple[Window, ...] | None = None
        because = ""
        if duration > 0:
            reserve = recovery_minutes(raise_, stage)
            kind = "lifts" if hauls else ""
            needs = _Needs(crews=crews, kind=kind, reserve=reserve)
            windows, because = _windows(plan, clock, needs, wishes)
        task = Task(
            name=stage.name,
            duration=duration,
            demands=_stage_demands(plan, stage, crews),
            windows=windows,
            windows_because=because,
        )
        dated = clock.minute(stage.starts) if stage.starts is not None else -1
        yield _as_it_went(Job(of=stage, tasks=(task,), dated=(dated,)), clock, wishes)


def work_jobs(plan: Plan, clock: Clock, wishes: Wishes) -> Iterator[Job]:
    """Every activity as its unbroken parts.

    Parameters
    ----------
    plan : Plan
        Its activities and crews.
    clock : Clock
        Of the site.
    wishes : Wishes
        Closures, and what has begun.

    Yields
    ------
    job : Job
        In the order of the plan.
    """
    crews = {crew.name: crew for crew in plan.crews}
    for activity in plan.activities:
        aloft = "aloft" if activity.place == "on" else ""
        needs = _Needs(crews=[crews[activity.crew]], kind=aloft)
        windows, because = _windows(plan, clock, needs, wishes)
        total = _work_minutes(activity)
        n = activity.courses
        marks = [round(total * k / n) for k in range(n + 1)]
        tasks = tuple(
            Task(
                name=activity.name if n == 1 else f"{activity.name} ({k + 1} of {n})",
                duration=marks[k + 1] - marks[k],
                demands={activity.crew: activity.count},
                windows=windows,
                windows_because=because,
            )
            for k in range(n)
        )
        dated = _laid_out(clock.minute(activity.starts), tasks, windows)
        yield _as_it_went(Job(of=activity, tasks=tasks, dated=dated), clock, wishes)


def _work_minutes(activity: Activity) -> int:
    if activity.takes is not None:
        return _minutes(activity.takes)
    return _minutes((activity.ends - activity.starts).total_seconds())


def _minutes(seconds: float) -> int:
    return ceil(seconds / 60.0 - 1e-9)


def _laid_out(start: int, tasks: Sequence[Task], windows: Sequence[Window]) -> tuple[int, ...]:
    """Where the parts of a dated work lie: one after another in the hours there are."""
    at, found = start, []
    for number, task in enumerate(tasks):
        fits = [max(b, at) for b, e in windows if max(b, at) + task.duration <= e]
        # The plan's own start stands, in hours or not; the rest follows it.
        if number and fits:
            at = fits[0]
        found.append(at)
        at += task.duration
    return tuple(found)


def _stage_crews(plan: Plan, stage: Stage) -> list[Crew]:
    lifts = {lift.name: lift for lift in plan.lifts}
    names = [lifts[step.lift].crew for step in stage.steps if step.do == "sling"]
    crews = {crew.name: crew for crew in plan.crews}
    wanted = dict.fromkeys([*(name for name in names if name), *stage.crews])
    return [crews[name] for name in wanted if name in crews]


def _stage_demands(plan: Plan, stage: Stage, crews: Sequence[Crew]) -> Mapping[str, int]:
    # Hands whose turn is an activity of its own are counted there.
    elsewhere = {each.crew for each in plan.activities if each.during == stage.name}
    return {crew.name: crew.need for crew in crews if crew.name not in elsewhere}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Needs:
    # What the hours of a task are made of: its crews, light and time kept in hand.
    crews: Sequence[Crew]
    kind: str  # "lifts", "aloft", or empty for work that needs no light
    reserve: int = 0


def _windows(
    plan: Plan, clock: Clock, needs: _Needs, wishes: Wishes
) -> tuple[tuple[Window, ...], str]:
    crews, reserve = needs.crews, needs.reserve
    windows = hours_of(clock, crews)
    whose = "the hours of the " + " and ".join(c.name for c in crews) if crews else "the hours"
    if needs.kind:
        margin = timedelta(minutes=limit_in_plan(plan, LIGHT_LEFT).value)
        windows = both(
            tuple((b, e - reserve) for b, e in windows if e - reserve > b),
            light_windows(clock, margin, reserve),
        )
        kept = f", less {reserve} min kept to recover" if reserve else ""
        whose += f" and of light{kept}"
    closed = [each for each in wishes.closures if each.stops in ("all", needs.kind)]
    if closed:
        shut = [(clock.minute(c.begins), clock.minute_from(c.ends)) for c in closed]
        windows = without(windows, shut)
        whose += ", without " + ", ".join(dict.fromkeys(each.why for each in closed))
    return windows, whose


def _as_it_went(job: Job, clock: Clock, wishes: Wishes) -> Job:
    """A job with what has begun held fast, and the rest kept from the past."""
    if wishes.since is None:
        return job
    now = clock.minute_from(wishes.since)
    tasks, dated = list(job.tasks), list(job.dated)
    ran = wishes.actual.get(job.name)
    if ran is not None:
        tasks, dated = _happened(job, clock, ran, now)
    waits = job.name in wishes.actual and ran is None
    held = []
    for task, start in zip(tasks, dated, strict=True):
        if 0 <= start < now and not waits:
            held.append(replace(task, fixed=start))
        else:
            windows = task.windows or ((0, clock.horizon),)
            because = task.windows_because or "what is still to come"
            left = both(windows, ((now, clock.horizon),))
            held.append(replace(task, windows=left, windows_because=because))
    return replace(job, tasks=tuple(held), dated=tuple(dated))


def _happened(job: Job, clock: Clock, ran: Ran, now: int) -> tuple[list[Task], list[int]]:
    # What is over is one task, of the time it took; what runs on does so till now at least.
    began, ended = ran
    first = clock.minute(began)
    planned = sum(task.duration for task in job.tasks)
    last = clock.minute_from(ended) if ended is not None else max(first + planned, now)
    spans = [last - first, *(0 for _ in job.tasks[1:])]
    tasks = [replace(t, duration=d) for t, d in zip(job.tasks, spans, strict=True)]
    return tasks, [first, *(last for _ in job.tasks[1:])]
