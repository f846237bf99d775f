"""What stands where at one moment of the raise, as bodies in the shaft."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from towerlift.drawings.cuts import Body, Plane
from towerlift.motion.passages import Passage, Standing
from towerlift.plan.bodies import Face
from towerlift.workflow import Outcome

# Right and away of one who looks from a side.
_AXES = {
    Face.SOUTH: ((1.0, 0.0), (0.0, 1.0)),
    Face.NORTH: ((-1.0, 0.0), (0.0, -1.0)),
    Face.EAST: ((0.0, 1.0), (-1.0, 0.0)),
    Face.WEST: ((0.0, -1.0), (1.0, 0.0)),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Instant:
    """What stands where, at one moment.

    Attributes
    ----------
    title : str
        What the moment is.
    standing : mapping of str to Standing
        Sections on the site.
    share : float
        Share of the passage that is done.
    fixtures, fitted : frozenset of str
        In place.
    passage : Passage or None
        One in which something hangs, whose ropes are drawn.
    """

    title: str
    standing: Mapping[str, Standing]
    share: float
    fixtures: frozenset[str]
    fitted: frozenset[str]
    passage: Passage | None = None

    def heel(self, section: str) -> float:
        """Heel height of a section, shaft frame. [m]"""
        place = self.standing[section]
        return place.heel_from + self.share * (place.heel_to - place.heel_from)


def stage_instants(outcome: Outcome, stage: str) -> tuple[Instant, ...]:
    """Before a stage, at the end of its longest haul, and after it.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    stage : str
        Its name.

    Returns
    -------
    instants : tuple of Instant
        Two where nothing is hauled.

    Raises
    ------
    ValueError
        If the raise has no such stage with steps.
    """
    passages = [p for p in outcome.raise_.passages if p.stage == stage]
    if not passages:
        raise ValueError(f"no stage of this raise with steps is called {stage!r}")
    found = [_before(outcome, stage, passages[0])]
    moving = [p for p in passages if p.moving]
    if moving:
        longest = max(moving, key=lambda p: abs(p.travel))
        same = [
            p
            for p in moving
            if p.moving[0] == longest.moving[0] and p.travel * longest.travel > 0
        ]
        found.append(
            Instant(
                title=f"{stage} hauled" if longest.travel > 0 else f"{stage} lowered",
                standing=same[-1].standing,
                share=1.0,
                fixtures=same[-1].fixtures,
                fitted=same[-1].fitted,
                passage=same[-1],
            )
        )
    found.append(_after(outcome, stage, passages[-1]))
    return tuple(found)


def _before(outcome: Outcome, stage: str, first: Passage) -> Instant:
    """What stood when the stage before was done; an empty shaft before the first."""
    order = list(dict.fromkeys(p.stage for p in outcome.raise_.passages))
    earlier = order[: order.index(stage)]
    rests = {rest.stage: rest for rest in outcome.raise_.rests}
    rest = next((rests[name] for name in reversed(earlier) if name in rests), None)
    if rest is not None:
        return Instant(
            title=f"Before {stage}",
            standing=rest.standing,
            share=1.0,
            fixtures=rest.fixtures,
            fitted=rest.fitted,
        )
    # No rest to look at: what the first step brings is taken away again.
    brings = {first.subject} if first.step in ("install", "fit", "assemble") else set()
    return Instant(
        title=f"Before {stage}",
        standing={k: v for k, v in first.standing.items() if k not in brings},
        share=0.0,
        fixtures=first.fixtures - brings,
        fitted=first.fitted - brings,
    )


def _after(outcome: Outcome, stage: str, last: Passage) -> Instant:
    rest = next((r for r in outcome.raise_.rests if r.stage == stage), None)
    return Instant(
        title=f"After {stage}",
        standing=last.standing if rest is None else rest.standing,
        share=1.0,
        fixtures=last.fixtures if rest is None else rest.fixtures,
        fitted=last.fitted if rest is None else rest.fitted,
    )


def elevation_plane(outcome: Outcome, seen_from: Face) -> Plane:
    """Upright plane through the axis of the tower, facing the one who looks.

    Parameters
    ----------
    outcome : Outcome
        Gives the plumb line.
    seen_from : Face
        Side that is looked from.

    Returns
    -------
    plane : Plane
        Its origin is on the shaft floor beside the plumb datum, so that a drawing keeps
        the heights and offsets of the shaft.
    """
    (rx, ry), (dx, dy) = _AXES[seen_from]
    line = outcome.plan.plumb_line
    away = line.x * dx + line.y * dy
    return Plane(
        origin=np.array([away * dx, away * dy, 0.0]),
        right=np.array([rx, ry, 0.0]),
        up=np.array([0.0, 0.0, 1.0]),
    )


def standing_bodies(outcome: Outcome, instant: Instant) -> list[Body]:
    """Sections with their fit-out, then fixtures, where they stand.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    instant : Instant
        When.

    Returns
    -------
    bodies : list of Body
        Shaft frame.
    """
    shop = outcome.nesting.workshop
    bodies = []
    for section in instant.standing:
        drawn = shop.assembly(section, instant.fitted)
        pose = outcome.raise_.shaft_from_section(instant.heel(section))
        bodies.append(
            Body(
                name=section,
                vertices=drawn.vertices @ pose[:3, :3].T + pose[:3, 3],
                faces=drawn.faces,
                members=drawn.members,
                marks=tuple(label.within(section) for label in drawn.labels),
            )
        )
    for name, solid in outcome.shapes.fixtures.items():
        if name in instant.fixtures:
            bodies.append(
                Body(
                    name=name,
                    vertices=solid.vertices,
                    faces=solid.faces,
                    members=solid.members,
                    marks=solid.marks,
                )
            )
    return bodies


def shaft_body(outcome: Outcome) -> Body:
    """The masonry, in the shaft frame.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.

    Returns
    -------
    body : Body
        Its inside faces.
    """
    solid = outcome.shapes.shaft
    return Body(
        name="shaft",
        vertices=solid.vertices,
        faces=solid.faces,
        members=solid.members,
        marks=solid.marks,
    )
