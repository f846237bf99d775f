"""Why everything starts when it does: which rule it would break if it started sooner."""

from collections.abc import Mapping
from dataclasses import dataclass

from towerlift.programme.posing import Posed
from towerlift.programme.problem import Exclusion, Link, Task
from towerlift.programme.verify import Broken, broken_rules

FIRST = "nothing has to come before it"
HELD = "it has begun, or is done"
# Most reasons told of one start.
_TOLD = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Because:
    """Why one task does not start sooner.

    Attributes
    ----------
    words : str
        In a sentence.
    waits_for : tuple of str
        Names of the stages and activities that keep it.
    """

    words: str
    waits_for: tuple[str, ...]


def explained(posed: Posed, starts: Mapping[str, int]) -> dict[str, Because]:
    """Why each task does not start sooner, all others staying where they are.

    Parameters
    ----------
    posed : Posed
        The plan's problem.
    starts : mapping of str to int
        A schedule that keeps every rule. [min]

    Returns
    -------
    reasons : dict of str to Because
        By task.
    """
    names = {task.name: job.name for job in posed.jobs.values() for task in job.tasks}
    groups = _together(posed)
    found = {}
    for job in posed.jobs.values():
        for task in job.tasks:
            group = groups[task.name]
            found[task.name] = _because(posed, starts, task, group, names)
    return found


def _together(posed: Posed) -> dict[str, tuple[Task, ...]]:
    """Tasks that must start at one moment, by the name of each."""
    tasks = {task.name: task for task in posed.problem.tasks}
    groups = {name: {name} for name in tasks}
    for job in posed.jobs.values():
        stage = getattr(job.of, "during", None)
        if stage is not None:
            one, other = job.tasks[0].name, posed.jobs[stage].tasks[0].name
            groups[other] |= groups[one]
            for name in groups[other]:
                groups[name] = groups[other]
    return {name: tuple(tasks[each] for each in group) for name, group in groups.items()}


def _because(
    posed: Posed,
    starts: Mapping[str, int],
    task: Task,
    group: tuple[Task, ...],
    names: Mapping[str, str],
) -> Because:
    now = starts[task.name]
    if task.fixed is not None:
        return Because(words=HELD, waits_for=())
    stage = getattr(posed.jobs[names[task.name]].of, "during", None)
    if stage is not None:
        return Because(words=f"it goes with {stage}", waits_for=(stage,))
    sooner = _sooner(group, now)
    if sooner is None:
        why = f"it has the first of {task.windows_because}" if task.windows_because else FIRST
        return Because(words=why, waits_for=())
    moved = dict(starts) | {each.name: sooner for each in group}
    inside = {each.name for each in group}
    broken = [
        rule
        for each in group
        for rule in broken_rules(posed.problem, moved, about=each.name)
        if not set(rule.tasks) <= inside
    ]
    return _told(broken, inside, names, task, jumped=now - sooner > 1)


def _sooner(group: tuple[Task, ...], now: int) -> int | None:
    """The last moment before now at which the hours of all let them start."""
    latest = now - 1
    while latest >= 0:
        fits = [_last_fit(task, latest) for task in group]
        if any(fit is None for fit in fits):
            return None
        least = min(fit for fit in fits if fit is not None)
        if least == latest:
            return latest
        latest = least
    return None


def _last_fit(task: Task, at: int) -> int | None:
    if task.windows is None:
        return at
    for begins, ends in reversed(task.windows):
        if begins <= at and ends - begins >= task.duration:
            return min(at, ends - task.duration)
    return None


def _told(
    broken: list[Broken],
    inside: set[str],
    names: Mapping[str, str],
    task: Task,
    *,
    jumped: bool,
) -> Because:
    if not broken:
        why = "it could start sooner without ending anything sooner"
        return Because(words=why, waits_for=())
    own = names[task.name]
    words: list[str] = []
    waits: list[str] = []
    for rule in sorted(broken, key=_weight):
        others = [names[name] for name in rule.tasks if name not in inside]
        if own in others:
            words.append(f"{own} goes on where it was broken off")
        elif not set(others) <= set(waits):
            words.append(_words(rule, inside))
        waits += others
    text = "; ".join(list(dict.fromkeys(words))[:_TOLD])
    if jumped:
        text += f"; then come the next of {task.windows_because}"
    return Because(words=text, waits_for=tuple(n for n in dict.fromkeys(waits) if n != own))


def _words(rule: Broken, inside: set[str]) -> str:
    if isinstance(rule.source, Exclusion):
        told = [rule.source.words[name] for name in inside if name in rule.source.words]
        return told[0] if told else rule.rule
    return rule.rule


def _weight(rule: Broken) -> tuple[int, int]:
    # What keeps it longest first; of those alike, what people do rather than mere order.
    kind = 3
    if isinstance(rule.source, Exclusion):
        kind = 0
    elif isinstance(rule.source, Link):
        kind = 1 if rule.source.lag > 0 else 2
    return -rule.short, kind
