"""The raise against the clock: what stands and what moves, from when to when."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from towerlift.motion.passages import Passage, Rest, Standing
from towerlift.motion.raises import Raise
from towerlift.plan.model import Plan
from towerlift.plan.work import Stage


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A stretch of time in which every section keeps its state, or one that is not known.

    Attributes
    ----------
    stage : str
        Stage it belongs to or follows; empty before the first stage.
    begins, ends : datetime or None
        None reaches as far as time does.
    passage : Passage or None
        What is done in it; None at rest.
    coming : tuple of str
        Sections that the step at work will pick up later on its way.
    standing : mapping of str to Standing
        Sections on the site.
    fixtures : frozenset of str
        Fixtures in place.
    unknown : str
        Why the states in it cannot be known; empty where they are.
    """

    stage: str
    begins: datetime | None
    ends: datetime | None
    passage: Passage | None = None
    coming: tuple[str, ...] = ()
    standing: Mapping[str, Standing]
    fixtures: frozenset[str]
    unknown: str = ""

    @property
    def moving(self) -> tuple[str, ...]:
        """Sections that move in it, the hauled one first."""
        return () if self.passage is None else self.passage.moving

    def overlap(self, begins: datetime, ends: datetime) -> float:
        """Time that it shares with a stretch of time.

        Parameters
        ----------
        begins, ends : datetime
            The other stretch.

        Returns
        -------
        shared : float
            Zero or less where they only touch or lie apart. [s]
        """
        first = begins if self.begins is None else max(begins, self.begins)
        last = ends if self.ends is None else min(ends, self.ends)
        return (last - first).total_seconds()


def timeline(plan: Plan, raise_: Raise) -> tuple[Span, ...]:
    """All of time, cut where a state changes.

    Parameters
    ----------
    plan : Plan
        Its stages have dates, or not.
    raise_ : Raise
        The same plan's.

    Returns
    -------
    spans : tuple of Span
        In the order of the stages. Where a stage has no date, nothing is known from
        the end of the dated stage before it to the start of the one after it.
    """
    stages = [stage for stage in plan.stages if stage.steps]
    rests = {rest.stage: rest for rest in raise_.rests}
    spans = [_before(stages)]
    for number, stage in enumerate(stages):
        passages = [each for each in raise_.passages if each.stage == stage.name]
        if stage.starts is None:
            if not spans[-1].unknown:
                spans.append(_unknown(stages, number, spans[-1].ends))
        elif any(each.moving and not each.duration > 0 for each in passages):
            spans.append(_timeless(stages, number))
        else:
            spans += _at_work(passages)
            spans += _after(rests[stage.name], stages[number + 1 :])
    return tuple(spans)


def _timeless(stages: list[Stage], number: int) -> Span:
    stage = stages[number]
    later = _unknown(stages, number + 1, stage.starts) if stages[number + 1 :] else None
    return Span(
        stage=stage.name,
        begins=stage.starts,
        ends=None if later is None else later.ends,
        standing={},
        fixtures=frozenset(),
        unknown=f"the time of a haul in stage {stage.name} is not known",
    )


def _before(stages: list[Stage]) -> Span:
    first = stages[0]
    if first.starts is None:
        return _unknown(stages, 0, None)
    return Span(stage="", begins=None, ends=first.starts, standing={}, fixtures=frozenset())


def _unknown(stages: list[Stage], number: int, begins: datetime | None) -> Span:
    dated = [stage.starts for stage in stages[number:] if stage.starts is not None]
    return Span(
        stage=stages[number].name,
        begins=begins,
        ends=dated[0] if dated else None,
        standing={},
        fixtures=frozenset(),
        unknown=f'stage {stages[number].name} has no "starts"',
    )


def _at_work(passages: list[Passage]) -> Iterator[Span]:
    for number, passage in enumerate(passages):
        if passage.begins is None:
            continue
        yield Span(
            stage=passage.stage,
            begins=passage.begins,
            ends=passage.begins + timedelta(seconds=passage.duration),
            passage=passage,
            coming=_coming(passages[number:]),
            standing=passage.standing,
            fixtures=passage.fixtures,
        )


def _coming(passages: list[Passage]) -> tuple[str, ...]:
    # The parts of one haul follow each other, each after the first with a pick-up.
    now, *later = passages
    found: tuple[str, ...] = ()
    if not now.moving:
        return found
    for part in later:
        if part.step != now.step or part.subject != now.subject or not part.event:
            break
        found = tuple(each for each in part.moving if each not in now.moving)
    return found


def _after(rest: Rest, following: list[Stage]) -> Iterator[Span]:
    ends = following[0].starts if following else None
    dated = not following or ends is not None
    if dated and (rest.begins is None or ends is None or ends > rest.begins):
        yield Span(
            stage=rest.stage,
            begins=rest.begins,
            ends=ends,
            standing=rest.standing,
            fixtures=rest.fixtures,
        )
