"""Strip of the whole raise: the tower after each stage, side by side."""

from collections.abc import Sequence
from dataclasses import replace

from towerlift.drawings.drawing import Drawing, Words
from towerlift.drawings.easel import Easel, scale_for
from towerlift.drawings.elevations import (
    GROUND,
    LINE,
    Panel,
    draw_masonry,
    draw_timber,
    extent_of,
    panel_of,
    panel_words,
)
from towerlift.drawings.instants import Instant, elevation_plane
from towerlift.drawings.lengths import level_words
from towerlift.drawings.paper import Room
from towerlift.drawings.pens import words_width
from towerlift.drawings.titles import fitted
from towerlift.plan.bodies import Face
from towerlift.workflow import Outcome

LETTERS = 0.72
"""Letters of the strip over those of other drawings."""


def whole_strip(
    outcome: Outcome,
    room: Room,
    *,
    stages: Sequence[str] | None = None,
    seen_from: Face = Face.SOUTH,
    top: float = 0.0,
) -> Drawing:
    """The tower after each stage that moves something, side by side.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    room : Room
        On paper.
    stages : sequence of str or None
        Which stages; None takes those after which some heel is elsewhere, and the last.
    seen_from : Face
        Side that is looked from.
    top : float
        Height that every view shows at least. [m]

    Returns
    -------
    drawing : Drawing
        One view for each stage, with the heel and the state of every section below it.

    Raises
    ------
    ValueError
        If the raise has none of the stages.
    """
    instants = _rests(outcome, stages)
    if not instants:
        raise ValueError(f"no stage of this raise with steps is among {stages!r}")
    room = replace(room, text=LETTERS * room.text)
    plane = elevation_plane(outcome, seen_from)
    panels = [panel_of(outcome, instant, plane) for instant in instants]
    extent = extent_of(panels)
    extent = replace(extent, top=max(extent.top, top))
    names = [section.name for section in outcome.plan.sections]
    line = LINE * room.text
    first = max(words_width(name, room.text, bold=True) for name in names) + 3.0
    foot = 2.0 + line * (2 * len(names) + 1.6)
    wide = (room.width - first) / len(panels)
    scale = scale_for(
        (extent.right - extent.left, extent.top + GROUND), (wide - 1.5, room.height - foot)
    )
    views, notes = [], []
    for n, panel in enumerate(panels):
        easel = Easel(scale, room)
        draw_masonry(panel, easel, extent)
        draw_timber(panel, easel, light=True)
        low, high = (extent.left, -GROUND), (extent.right, extent.top)
        view = easel.view(panel.instant.title, low, high, (0.0, foot))
        left = first + n * wide
        views.append(replace(view, corner=(left + (wide - view.width) / 2, foot)))
        notes += _cells(panel, names, room, (left + wide / 2, foot, wide))
    notes += [
        Words(at=(1.0, foot - line * (1.8 + 2 * k)), text=name, height=room.text, bold=True)
        for k, name in enumerate(names)
    ]
    return Drawing(
        key="whole-raise",
        title=f"The tower after each stage, seen from the {seen_from}",
        says=" ".join(panel_words(panel) for panel in panels),
        width=room.width,
        height=room.height,
        measure=room.measure,
        views=tuple(views),
        notes=tuple(notes),
    )


def resting_stages(outcome: Outcome) -> tuple[str, ...]:
    """Stages after which some heel is elsewhere, and the last.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.

    Returns
    -------
    stages : tuple of str
        Names, in order.
    """
    return tuple(instant.title for instant in _rests(outcome, None))


def _rests(outcome: Outcome, stages: Sequence[str] | None) -> list[Instant]:
    """Rests after which some heel is elsewhere than after the one before, and the last."""
    found: list[Instant] = []
    before: dict[str, float] = {}
    rests = outcome.raise_.rests
    for n, rest in enumerate(rests):
        heels = {name: place.heel_to for name, place in rest.standing.items()}
        told = (
            heels != before or n == len(rests) - 1 if stages is None else rest.stage in stages
        )
        before = heels
        if told:
            found.append(
                Instant(
                    title=rest.stage,
                    standing=rest.standing,
                    share=1.0,
                    fixtures=rest.fixtures,
                    fitted=rest.fitted,
                )
            )
    return found


def _cells(
    panel: Panel, names: Sequence[str], room: Room, place: tuple[float, float, float]
) -> list[Words]:
    """Stage, then heel and state of each section, below a picture."""
    x, top, wide = place
    line = LINE * room.text
    rows = [(0.8, panel.instant.title, True)]
    for k, name in enumerate(names):
        standing = panel.instant.standing.get(name)
        if standing is not None:
            heel = level_words(panel.instant.heel(name), room.measure)
            rows.append((1.8 + 2 * k, heel, False))
            rows.append((2.7 + 2 * k, str(standing.state), False))
    return [
        Words(
            at=(x, top - down * line),
            text=fitted(text, room.text, wide - 0.6, bold=bold),
            height=room.text,
            across="middle",
            bold=bold,
        )
        for down, text, bold in rows
    ]
