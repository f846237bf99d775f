"""The sections as they nest, and taken apart along their axis."""

from collections.abc import Mapping
from itertools import pairwise

import numpy as np
from PIL import Image, ImageDraw

from towerlift.plan.model import Plan
from towerlift.scene.bodies import Scene
from towerlift.scene.colours import INK, MARK, PAPER
from towerlift.scene.lettering import MARGIN, SMALL, TEXT, font, on_sheet
from towerlift.scene.marks import Picture, Said, draw_marks
from towerlift.scene.painter import Posed, painter_of
from towerlift.scene.standpoints import Standpoint
from towerlift.scene.studio import STUDIO

PULLED_APART = 2.0  # between sections of a nest taken apart [m]
DASH = 6.0  # of the line that joins what was pulled apart [pixels]


def exploded_nest(scene: Scene, plan: Plan, *, size: tuple[int, int] = (760, 900)) -> Picture:
    """The sections as they nest, and beside them taken apart along their axis.

    Parameters
    ----------
    scene : Scene
        What is drawn; the sections stand with all that is fitted in the end.
    plan : Plan
        Gives names and nest heights.
    size : tuple of int
        Width and height of the two together. [pixels]

    Returns
    -------
    picture : (h, w, 3) uint8
        Each section with its name and length, and how high in the one round it it nests.

    Raises
    ------
    ValueError
        If no passage has every section on the site.
    """
    names = list(scene.lengths)
    passage = next(
        (p for p in reversed(scene.raise_.passages) if set(names) <= set(p.standing)), None
    )
    if passage is None:
        raise ValueError("no step has every section on the site: there is no nest to show")
    nested, apart = _nested_heels(plan), _apart_heels(scene)
    top = max(apart[name] + scene.lengths[name] for name in names)
    line = scene.raise_.plumb_line
    view = Standpoint(focus=(line.x, line.y, top / 2), span=1.08 * top)
    pictures = []
    for heels in (nested, apart):
        moved = {name: scene.raise_.shaft_from_section(heels[name]) for name in names}
        posed = Posed(passage=passage, share=1.0, moved=moved, alone=True)
        bare = _painted(scene, posed, view, (size[0] // 2, size[1]))
        pictures.append(_lettered(draw_marks(bare, view, Said()), scene, heels, view))
    pictures[0] = _heights(pictures[0], plan)
    pictures[1] = _axis(pictures[1], scene, apart, view)
    return on_sheet(np.hstack(pictures), f"{plan.name}: nested, and taken apart")


def _painted(scene: Scene, posed: Posed, view: Standpoint, size: tuple[int, int]) -> Picture:
    return STUDIO.do(lambda: painter_of(scene).paint_posed(posed, view, size))


def _nested_heels(plan: Plan) -> dict[str, float]:
    """Heels of the whole nest, the outermost on the ground; None nests at its heel."""
    heels, heel = {}, 0.0
    for section in plan.sections:
        heels[section.name] = heel
        heel += section.nest_height or 0.0
    return heels


def _apart_heels(scene: Scene) -> dict[str, float]:
    """Heels of the sections one above the other, the outermost lowest."""
    heels, heel = {}, 0.0
    for name, length in scene.lengths.items():
        heels[name] = heel
        heel += length + PULLED_APART
    return heels


def _lettered(
    picture: Picture, scene: Scene, heels: Mapping[str, float], view: Standpoint
) -> Picture:
    """Names and lengths at the right edge, each at the middle of what shows of it."""
    image = Image.fromarray(picture)
    pen, size = ImageDraw.Draw(image), image.size
    per_metre = size[1] / view.span
    names = list(scene.lengths)
    heads = [heels[name] + scene.lengths[name] for name in names]
    for n, name in enumerate(names):
        # Of a nested section only what stands out above the one round it is seen.
        foot = min(max([heels[name], *heads[:n]]), heads[n])
        if foot >= heads[n] or heels[name] >= max([0.0, *heads[:n]]):
            foot = heels[name]
        middle = (foot + heads[n]) / 2
        y = size[1] / 2 - (middle - view.focus[2]) * per_metre
        words = f"{name}, {scene.lengths[name]:.2f} m"
        pen.text(
            (size[0] - 6, y), words, font=font(TEXT), fill=INK, anchor="rm",
            stroke_width=2, stroke_fill=PAPER,
        )  # fmt: skip
    return np.asarray(image)


def _heights(picture: Picture, plan: Plan) -> Picture:
    """How high each section nests, in words at the top."""
    image = Image.fromarray(picture)
    pen = ImageDraw.Draw(image)
    y = MARGIN + 0.0
    for outer, inner in pairwise(plan.sections):
        words = f"{inner.name} in {outer.name}: nest height not given"
        if outer.nest_height is not None:
            words = f"heel of {inner.name} {outer.nest_height:.2f} m above heel of {outer.name}"
        pen.text((46, y), words, font=font(SMALL), fill=INK, stroke_width=2, stroke_fill=PAPER)
        y += 1.4 * SMALL
    return np.asarray(image)


def _axis(
    picture: Picture, scene: Scene, heels: Mapping[str, float], view: Standpoint
) -> Picture:
    """A dashed line along the axis wherever a section was pulled out of another."""
    image = Image.fromarray(picture)
    pen = ImageDraw.Draw(image)
    for outer, inner in pairwise(scene.lengths):
        ends = np.array(
            [
                [*view.focus[:2], heels[outer] + scene.lengths[outer]],
                [*view.focus[:2], heels[inner]],
            ]
        )
        (x, low), (_, high) = view.pixels(ends, image.size)
        for y in np.arange(high, low, 2 * DASH):
            pen.line([(x, y), (x, min(y + DASH, low))], fill=MARK, width=2)
    return np.asarray(image)
