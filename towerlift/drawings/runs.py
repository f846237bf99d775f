"""What belongs together along the raise: runs of one haul, and the way through it all."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from towerlift.motion.passages import Passage
from towerlift.motion.raises import Raise

# Least width given to a step, travelling or not, so that it can be pointed at. [m]
LEAST_WIDTH = 0.25


def run_of(raise_: Raise, passage: Passage) -> tuple[Passage, ...]:
    """Passages of the same haul: a pick-up or a step that stands between only cuts it.

    Parameters
    ----------
    raise_ : Raise
        The whole raise.
    passage : Passage
        One of its passages.

    Returns
    -------
    run : tuple of Passage
        `passage` and those near it that haul the same section the same way on the
        same lift in the same stage; empty if nothing moves in it.
    """
    if not passage.moving:
        return ()
    before = _while_same(reversed(raise_.passages[: passage.index]), passage)
    after = _while_same(iter(raise_.passages[passage.index + 1 :]), passage)
    return (*reversed(before), passage, *after)


def haul_near(raise_: Raise, passage: Passage) -> Passage | None:
    """The haul that a passage belongs to, or is made ready for, or comes after.

    Parameters
    ----------
    raise_ : Raise
        The whole raise.
    passage : Passage
        One of its passages.

    Returns
    -------
    haul : Passage or None
        Itself if something moves in it; else the next in its stage in which something
        does, else the last before; None where nothing moves in the stage.
    """
    after = (p for p in raise_.passages[passage.index :] if p.stage == passage.stage)
    before = (p for p in reversed(raise_.passages[: passage.index]) if p.stage == passage.stage)
    return next((p for p in (*after, *before) if p.moving), None)


def heel_in_run(run: Sequence[Passage], passage: Passage, share: float) -> float:
    """Heel of what a run hauls, at a place in or near the run.

    Parameters
    ----------
    run : sequence of Passage
        Passages of one haul.
    passage : Passage
        Where the raise is.
    share : float
        Share of the passage's travel that is done.

    Returns
    -------
    heel : float
        Held within the run; its beginning where the section is not built yet. [m]
    """
    unit = run[0].moving[0]
    ends = (run[0].standing[unit].heel_from, run[-1].standing[unit].heel_to)
    if unit not in passage.standing:
        return ends[0]
    return min(max(passage.heel(unit, share), min(ends)), max(ends))


def _while_same(neighbours: Iterator[Passage], passage: Passage) -> list[Passage]:
    found = []
    for other in neighbours:
        if other.stage != passage.stage:
            break
        if other.moving:
            if not _same_haul(other, passage):
                break
            found.append(other)
    return found


def _same_haul(one: Passage, other: Passage) -> bool:
    return (
        one.lift == other.lift
        and one.moving[0] == other.moving[0]
        and one.travel * other.travel > 0
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """The way through the raise: metres hauled, and a little room for every step.

    Attributes
    ----------
    passages : tuple of Passage
        Of the whole raise.
    bounds : tuple of float
        Where each passage begins, and where the last one ends. [m]
    """

    passages: tuple[Passage, ...]
    bounds: tuple[float, ...]

    @property
    def length(self) -> float:
        """All of it. [m]"""
        return self.bounds[-1]

    def along(self, position: float) -> float:
        """Way to a place that is counted in passages.

        Parameters
        ----------
        position : float
            Number of the passage, and the share of it that is done.

        Returns
        -------
        along : float
            Way from the beginning. [m]
        """
        return float(np.interp(position, np.arange(len(self.bounds)), self.bounds))

    def position(self, along: float) -> float:
        """Place, counted in passages, at a way from the beginning.

        Parameters
        ----------
        along : float
            Way from the beginning. [m]

        Returns
        -------
        position : float
            Number of the passage, and the share of it that is done.
        """
        return float(np.interp(along, self.bounds, np.arange(len(self.bounds))))

    def stages(self) -> Iterator[tuple[str, float, float]]:
        """Stages in order of work, with where each begins and ends.

        Returns
        -------
        stages : iterator of (str, float, float)
            Name, way at its beginning, way at its end. [m]
        """
        start = 0
        for n in range(1, len(self.passages) + 1):
            ended = n == len(self.passages)
            if ended or self.passages[n].stage != self.passages[start].stage:
                yield self.passages[start].stage, self.bounds[start], self.bounds[n]
                start = n


def course_of(raise_: Raise) -> Course:
    """Way through a raise.

    Parameters
    ----------
    raise_ : Raise
        The whole raise.

    Returns
    -------
    course : Course
        As long as the way hauled, but 0.25 m at least for each step.
    """
    widths = [max(abs(passage.travel), LEAST_WIDTH) for passage in raise_.passages]
    bounds = tuple(float(bound) for bound in np.concatenate([[0.0], np.cumsum(widths)]))
    return Course(passages=raise_.passages, bounds=bounds)


def heels_of(raise_: Raise, section: str) -> list[list[tuple[float, float]]]:
    """Heel of a section along the course, broken where it is not on the site.

    Parameters
    ----------
    raise_ : Raise
        The whole raise.
    section : str
        Name of the section.

    Returns
    -------
    pieces : list of list of (float, float)
        Way along the course and heel height. [m]
    """
    course = course_of(raise_)
    pieces: list[list[tuple[float, float]]] = [[]]
    for passage, (start, end) in zip(course.passages, pairwise(course.bounds), strict=True):
        place = passage.standing.get(section)
        if place is None:
            if pieces[-1]:
                pieces.append([])
            continue
        pieces[-1] += [(start, place.heel_from), (end, place.heel_to)]
    return [piece for piece in pieces if piece]
