"""What must not coincide: work against the raise, and work against other work.

The raise is cut where anything changes, as the check of occupancy cuts it; each piece
is bounded by moments of its stages, wherever a programme may put them.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from math import ceil, floor

import networkx as nx

from towerlift.motion.follow import follow_stages
from towerlift.motion.timeline import Span, timeline
from towerlift.plan.model import Plan
from towerlift.plan.work import Activity
from towerlift.programme.conflicts import conflicts, section_of
from towerlift.programme.exclusions import crossing
from towerlift.programme.problem import Edge, Exclusion, Stretch
from towerlift.programme.tasks import Job

Moment = tuple[str, Edge, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A piece of the raise in which nothing changes but the travel.

    Attributes
    ----------
    span : Span
        What stands and what moves; its times mean nothing.
    begins, ends : (str, Edge, int) or None
        Moments of stages; None reaches as far as time does.
    following : str
        The next stage where it is a rest, else empty.
    """

    span: Span
    begins: Moment | None
    ends: Moment | None
    following: str = ""


def pieces_of(plan: Plan) -> tuple[Piece, ...]:
    """The whole raise, cut where anything changes.

    Parameters
    ----------
    plan : Plan
        Its dates are not used.

    Returns
    -------
    pieces : tuple of Piece
        In order, without those that take no time.
    """
    stages = [stage for stage in plan.stages if stage.steps]
    # Far apart, so that every rest between two stages is there to be looked at.
    first = datetime(2000, 1, 1, tzinfo=UTC)
    starts = {s.name: first + timedelta(days=100 * n) for n, s in enumerate(stages)}
    spaced = plan.model_copy(
        update={
            "stages": tuple(
                s.model_copy(update={"starts": starts.get(s.name)}) for s in plan.stages
            )
        }
    )
    raise_ = follow_stages(spaced)
    return tuple(_pieces(timeline(spaced, raise_), starts, [stage.name for stage in stages]))


def _pieces(
    spans: Sequence[Span], starts: Mapping[str, datetime], order: Sequence[str]
) -> Iterator[Piece]:
    for span in spans:
        if span.begins is None:
            yield Piece(
                span=span, begins=None, ends=(order[0], Edge.START, 0), following=order[0]
            )
        elif span.passage is None:
            later = order[order.index(span.stage) + 1 :]
            yield Piece(
                span=span,
                begins=(span.stage, Edge.END, 0),
                ends=(later[0], Edge.START, 0) if later else None,
                following=later[0] if later else "",
            )
        elif span.passage.duration > 0:
            after = (span.begins - starts[span.stage]).total_seconds()
            yield Piece(
                span=span,
                begins=(span.stage, Edge.START, floor(after / 60.0 + 1e-9)),
                ends=(
                    span.stage,
                    Edge.START,
                    ceil((after + span.passage.duration) / 60.0 - 1e-9),
                ),
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """Finds what must not coincide in one plan.

    Attributes
    ----------
    plan : Plan
        As written.
    pieces : tuple of Piece
        Its raise.
    graph : networkx.DiGraph
        What waits for what: things that wait for each other need not be kept apart.
    """

    plan: Plan
    pieces: tuple[Piece, ...]
    graph: "nx.DiGraph[str]"
    _crossed: dict[tuple[object, ...], bool] = field(default_factory=dict)

    def from_raise(self, job: Job) -> Iterator[Exclusion]:
        """Exclusions between one work and the raise."""
        activity = job.of
        if not isinstance(activity, Activity):
            return
        reasons = self._reasons(activity)
        for run in _runs([bool(texts) for texts in reasons], [True] * len(reasons)):
            off = _Off(
                first=self.pieces[run[0]],
                last=self.pieces[run[-1]],
                why=tuple(reasons[number] for number in run),
            )
            for task in job.tasks:
                yield _keep_off(activity, task.name, off)

    def between(self, one: Job, other: Job) -> Iterator[Exclusion]:
        """Exclusions between two works."""
        a, b = one.of, other.of
        if not (isinstance(a, Activity) and isinstance(b, Activity)):
            return
        if "outside" in (a.place, b.place) or self._one_after_another(a.name, b.name):
            return
        free_a, free_b = self._reasons(a), self._reasons(b)
        matters = [not x and not y for x, y in zip(free_a, free_b, strict=True)]
        crossed = [
            together and self._cross(a, b, number) for number, together in enumerate(matters)
        ]
        if not any(crossed):
            return
        everywhere = crossed == matters
        runs = [None] if everywhere else list(_runs(crossed, matters))
        for run in runs:
            number = crossed.index(True) if run is None else next(k for k in run if crossed[k])
            words = crossing(self.plan, a, b, self.pieces[number].span)
            for first in one.tasks:
                for second in other.tasks:
                    yield self._part(first.name, second.name, run, words, (a.name, b.name))

    def _part(
        self,
        first: str,
        second: str,
        run: Sequence[int] | None,
        words: str,
        names: tuple[str, str],
    ) -> Exclusion:
        stretches = [_whole(first), _whole(second)]
        if run is not None:
            begins, ends = self.pieces[run[0]].begins, self.pieces[run[-1]].ends
            stretches.append(Stretch(begins=begins, ends=ends))
        return Exclusion(
            stretches=tuple(stretches),
            reason=words,
            tasks=(first, second),
            words={
                first: f"{names[0]} waits for {names[1]} to be over: else {words}",
                second: f"{names[1]} waits for {names[0]} to be over: else {words}",
            },
        )

    def _one_after_another(self, one: str, other: str) -> bool:
        return bool(nx.has_path(self.graph, one, other) or nx.has_path(self.graph, other, one))

    def _reasons(self, activity: Activity) -> list[tuple[str, ...]]:
        return [
            tuple(dict.fromkeys(c.text for c in conflicts(self.plan, activity, piece.span)))
            for piece in self.pieces
        ]

    def _cross(self, a: Activity, b: Activity, number: int) -> bool:
        key = (_looks(self.plan, a), _looks(self.plan, b), number)
        if key not in self._crossed:
            self._crossed[key] = bool(crossing(self.plan, a, b, self.pieces[number].span))
        return self._crossed[key]


def _looks(plan: Plan, activity: Activity) -> tuple[object, ...]:
    place = (activity.place, section_of(plan, activity))
    return (*place, activity.lowest, activity.highest, activity.drops)


def _whole(task: str) -> Stretch:
    return Stretch(begins=(task, Edge.START, 0), ends=(task, Edge.END, 0))


def _runs(wanted: Sequence[bool], matters: Sequence[bool]) -> Iterator[list[int]]:
    """Numbers of consecutive pieces that are wanted, over those that do not matter."""
    run: list[int] = []
    for number, (want, matter) in enumerate(zip(wanted, matters, strict=True)):
        if want:
            run.append(number)
        elif matter and run:
            yield run
            run = []
    if run:
        yield run


@dataclass(frozen=True, slots=True, kw_only=True)
class _Off:
    # Pieces one after another in which people must be off, with the reasons in each.
    first: Piece
    last: Piece
    why: tuple[tuple[str, ...], ...]


def _keep_off(activity: Activity, task: str, off: _Off) -> Exclusion:
    first, last = off.first, off.last
    why_first, why_last = off.why[0], off.why[-1]
    words: dict[str, str] = {}
    tasks = [task]
    if last.ends is not None:
        stage = last.ends[0]
        tasks.append(stage)
        if last.following:
            words[task] = f"{activity.name} waits for {stage}: until then {why_last[0]}"
        else:
            words[task] = f"{activity.name} waits for {stage}: in it {why_last[0]}"
    if first.begins is not None:
        stage = first.begins[0]
        tasks.append(stage)
        when = "after it" if first.following or first.ends is None else "in it"
        words[stage] = (
            f"{stage} waits for the {activity.crew} to be off ({activity.name}): "
            f"{when} {why_first[0]}"
        )
    where = f"on the {activity.section}" if activity.place == "on" else activity.place
    texts = "; ".join(dict.fromkeys(text for texts in off.why for text in texts))
    return Exclusion(
        stretches=(_whole(task), Stretch(begins=first.begins, ends=last.ends)),
        reason=f"{activity.name}: nobody is {where} while {texts}",
        tasks=tuple(dict.fromkeys(tasks)),
        words=words,
        of_raise=True,
    )
