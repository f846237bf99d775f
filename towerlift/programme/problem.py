"""The bare problem of scheduling: tasks, links, resources and what must not coincide.

Times are whole steps of a clock that starts at 0; what a step is, the maker of the
problem says (a minute for a raise, a day for a textbook network).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Edge(StrEnum):
    """An end of a task."""

    START = "start"
    END = "end"


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Something done without a break.

    Attributes
    ----------
    name : str
        Unique in the problem.
    duration : int
        In steps.
    demands : mapping of str to int
        How much of each resource it takes while it lasts.
    windows : tuple of (int, int) or None
        Stretches of time in one of which it must lie whole, in order and apart from each
        other; None is any time.
    windows_because : str
        What the windows are, in words, such as "the framers' hours".
    fixed : int or None
        Start that is not to be changed: it has begun or is done.
    """

    name: str
    duration: int
    demands: Mapping[str, int]
    windows: tuple[tuple[int, int], ...] | None = None
    windows_because: str = ""
    fixed: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One task waits for another: an edge of it is so long or longer after an edge of that.

    Attributes
    ----------
    before, after : str
        The task waited for, and the one that waits.
    from_edge, to_edge : Edge
        Edge of `before` from which the lag counts, and edge of `after` it counts to.
    lag : int
        Least time between; a negative one lets them overlap, and turned round sets the
        most time between two edges.
    reason : str
        Why, in words that follow "waits for" or stand alone.
    """

    before: str
    after: str
    from_edge: Edge = Edge.END
    to_edge: Edge = Edge.START
    lag: int = 0
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A stretch of time between two moments of the programme.

    Attributes
    ----------
    begins, ends : (str, Edge, int) or None
        Task, edge of it and steps after that edge; None reaches as far as time does.
    """

    begins: tuple[str, Edge, int] | None
    ends: tuple[str, Edge, int] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Exclusion:
    """Stretches of time that must have no moment in common.

    Attributes
    ----------
    stretches : tuple of Stretch
        Two or three.
    reason : str
        Why, in words.
    tasks : tuple of str
        The tasks that it keeps apart, the one that gives way first.
    words : mapping of str to str
        Why each of the tasks waits when it is the one that waits, in words.
    of_raise : bool
        Whether it keeps people off what moves or hangs, not work off other work.
    """

    stretches: tuple[Stretch, ...]
    reason: str
    tasks: tuple[str, ...]
    words: Mapping[str, str] = field(default_factory=dict)
    of_raise: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """All of it.

    Attributes
    ----------
    tasks : tuple of Task
        To be placed.
    links : tuple of Link
        Precedence, least and most times between.
    capacities : mapping of str to int
        How much there is of each resource at any time.
    exclusions : tuple of Exclusion
        What must not coincide.
    horizon : int
        Everything ends by then.
    horizon_because : str
        Who asks for that, in words.
    """

    tasks: tuple[Task, ...]
    links: tuple[Link, ...] = ()
    capacities: Mapping[str, int]
    exclusions: tuple[Exclusion, ...] = ()
    horizon: int
    horizon_because: str = "the time there is"
