"""From a plan to a programme: the shortest that keeps every rule, or the rules that clash."""

from collections.abc import Iterator, Mapping
from datetime import date

from towerlift.motion.raises import Raise
from towerlift.plan.model import Plan
from towerlift.plan.work import Activity, Stage
from towerlift.programme.bookings import Booking, Kind, Programme
from towerlift.programme.explaining import Because, explained
from towerlift.programme.graph import fitted_in
from towerlift.programme.hours import working_days
from towerlift.programme.posing import Posed, pose
from towerlift.programme.problem import Task
from towerlift.programme.solving import Solution, shortest
from towerlift.programme.tasks import Job, ample_days
from towerlift.programme.tighten import tightened
from towerlift.programme.verify import broken_rules
from towerlift.programme.wishes import NO_WISHES, Wishes


def schedule(plan: Plan, raise_: Raise, wishes: Wishes = NO_WISHES) -> Programme:
    """The shortest programme that keeps every rule of the plan and of the raise.

    Parameters
    ----------
    plan : Plan
        Its dates are not used, except for what began before `wishes.since`, and to begin
        the search from where they keep every rule.
    raise_ : Raise
        The same plan's: gives what stands and hangs, and how long stages take.
    wishes : Wishes
        What is asked besides.

    Returns
    -------
    programme : Programme
        With a proof that none is shorter, or the gap.

    Raises
    ------
    NoProgrammeError
        If none keeps every rule: it names a smallest set of rules that clash.
    PrecedenceError
        If something waits for itself, or for what the plan does not hold.
    """
    posed = pose(plan, raise_, wishes)
    if wishes.finish_by is None and not tightened(posed.problem).possible:
        # Perhaps for want of days only, which nobody has set.
        posed = pose(plan, raise_, wishes, room_days=ample_days(plan))
    solution = shortest(posed.problem, seconds=wishes.seconds, known=posed.dated)
    return programme_of(posed, solution)


def programme_of(posed: Posed, solution: Solution) -> Programme:
    """A schedule as a programme, with the reason of every start.

    Parameters
    ----------
    posed : Posed
        The plan's problem.
    solution : Solution
        A schedule of it.

    Returns
    -------
    programme : Programme
        Bookings by start.

    Raises
    ------
    AssertionError
        If the schedule breaks a rule: a fault of this package, never of the plan.
    """
    starts = solution.starts
    wrong = [broken.rule for broken in broken_rules(posed.problem, starts)]
    if wrong:
        raise AssertionError(f"the schedule found breaks its rules: {wrong}")
    because = explained(posed, starts)
    starts = _fits_begin_with_their_work(posed, starts)
    bookings = [
        booking
        for job in posed.jobs.values()
        for booking in _bookings(posed, job, starts, because)
    ]
    clock = posed.clock
    last = clock.moment(solution.finish).date()
    return Programme(
        bookings=tuple(sorted(bookings, key=lambda each: (each.starts, each.ends, each.name))),
        day_1=posed.plan.site.day_1,
        working_days=_days(posed, last),
        earliest_finish=clock.moment(solution.bound),
        seconds=solution.seconds,
        zone=clock.zone,
    )


def _days(posed: Posed, last: date) -> tuple[date, ...]:
    return tuple(day for day in working_days(posed.clock) if day <= last)


def _fits_begin_with_their_work(posed: Posed, starts: Mapping[str, int]) -> Mapping[str, int]:
    """A stage that only fits something is dated when the work of it begins."""
    work: dict[str, list[int]] = {}
    for activity in posed.plan.activities:
        stage = fitted_in(posed.plan, activity)
        if stage is not None and posed.jobs[stage.name].tasks[0].duration == 0:
            first = posed.jobs[activity.name].tasks[0]
            work.setdefault(stage.name, []).append(starts[first.name])
    moved = dict(starts) | {name: min(begins) for name, begins in work.items()}
    return starts if any(True for _ in broken_rules(posed.problem, moved)) else moved


def _bookings(
    posed: Posed, job: Job, starts: Mapping[str, int], because: Mapping[str, Because]
) -> Iterator[Booking]:
    pieces = _unbroken(job, starts)
    for number, piece in enumerate(pieces, start=1):
        first, last = piece[0], piece[-1]
        why = because[first.name]
        yield Booking(
            name=job.name,
            kind=Kind.STAGE if isinstance(job.of, Stage) else Kind.WORK,
            part=number,
            parts=len(pieces),
            crews=tuple(sorted(first.demands.items())),
            section=_section(job.of),
            stage=_stage(posed, job),
            starts=posed.clock.moment(starts[first.name]),
            ends=posed.clock.moment(starts[last.name] + last.duration),
            reason=why.words,
            waits_for=why.waits_for,
        )


def _unbroken(job: Job, starts: Mapping[str, int]) -> list[list[Task]]:
    pieces = [[job.tasks[0]]]
    for before, task in zip(job.tasks, job.tasks[1:], strict=False):
        if starts[task.name] == starts[before.name] + before.duration:
            pieces[-1].append(task)
        else:
            pieces.append([task])
    return pieces


def _section(of: Stage | Activity) -> str | None:
    if isinstance(of, Activity):
        return of.section
    hauled = [step.section for step in of.steps if step.do in ("lift", "lower")]
    return hauled[0] if hauled else None


def _stage(posed: Posed, job: Job) -> str | None:
    if isinstance(job.of, Stage):
        return job.name
    fitted = fitted_in(posed.plan, job.of)
    return job.of.during or (None if fitted is None else fitted.name)
