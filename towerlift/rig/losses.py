"""What the other tackles of a guided lift take when one is lost."""

from dataclasses import dataclass

import numpy as np

from towerlift.motion.passages import Passage
from towerlift.nesting.guides import Guide, bearing_spans, section_guides
from towerlift.nesting.pairs import Workshop
from towerlift.plan.model import Plan
from towerlift.rig.curves import Floats, HangCurve


@dataclass(frozen=True, slots=True, kw_only=True)
class Guiding:
    """How shoes hold a hauled section, along one passage.

    Attributes
    ----------
    play : float
        Gap left at each shoe on each side, hanging true, before swelling. [m]
    span : (k,) float
        Least height from the lower to the upper shoe that bear; 0 where no two
        shoes at different heights hold it on some side. [m]
    foot : (k,) float
        Height of the lowest bearing, frame of the hauled section. [m]
    swelling : float
        Growth of one side of the section and of what carries its rails, together. [m]
    """

    play: float
    span: Floats
    foot: Floats
    swelling: float

    @property
    def holds(self) -> bool:
        """Whether shoes hold the section on every side at every height."""
        return bool(np.all(self.span > 0))


def guiding(shop: Workshop, passage: Passage, heels: Floats) -> Guiding:
    """Play and span of the shoes of a hauled section at every sample.

    Parameters
    ----------
    shop : Workshop
        Plan, shapes and raise.
    passage : Passage
        One in which something is hauled.
    heels : (k,) float
        Heel heights of the hauled section. [m]

    Returns
    -------
    guiding : Guiding
        Without a span where nothing holds it.
    """
    key = ("guiding", passage.index, len(heels))
    return shop.kept(key, lambda: _guiding(shop, passage, heels))


def _guiding(shop: Workshop, passage: Passage, heels: Floats) -> Guiding:
    guides = section_guides(shop, passage)
    span, foot = np.zeros(len(heels)), np.zeros(len(heels))
    for row, heel in enumerate(heels):
        span[row], foot[row] = _least_span(guides, passage, float(heel))
    play = max((guide.play for guide in guides), default=0.0)
    return Guiding(
        play=play, span=span, foot=foot, swelling=guide_swelling(shop.plan, passage, guides)
    )


def guide_swelling(plan: Plan, passage: Passage, guides: tuple[Guide, ...]) -> float:
    """Growth of one side that shoes lose: of the section, and of what carries its rails. [m]"""
    grows = {section.name: section.swelling for section in plan.sections}
    carriers = {guide.on for guide in guides}
    most = max((grows.get(name, 0.0) for name in carriers), default=0.0)
    return grows[passage.moving[0]] + most


def _least_span(
    guides: tuple[Guide, ...], passage: Passage, heel: float
) -> tuple[float, float]:
    sides = bearing_spans(guides, passage, heel, heel)
    if not guides or any(spans is None for spans in sides.values()):
        return 0.0, 0.0
    every = [span for spans in sides.values() for span in spans or ()]
    return min(head - foot for foot, head in every), min(foot for foot, _ in every)


def guided_losses(curve: HangCurve, guides: Guiding, *, swing: float = 1.0) -> Floats:
    """Greatest load on each tackle when any other is lost and shoes keep it upright.

    Parameters
    ----------
    curve : HangCurve
        Loads before the loss.
    guides : Guiding
        Of the same passage.
    swing : float
        1 for the rest after the loss, 2 for the peak of a sudden one.

    Returns
    -------
    loads : (k, n) float
        After the loss. [N]

    Notes
    -----
    Derived here: all sink alike by as much as the tackles left take up of the lost
    load; then the section leans by all the play its shoes have, 2 c / a, about both
    axes, away from each tackle in turn. A sudden loss swings in heave; the lean ends
    at the shoes.
    """
    stiffness = curve.tensions / curve.stretch
    arms = np.abs(curve.lower - curve.lower.mean(axis=1, keepdims=True))[..., :2].sum(axis=2)
    lean = 2 * guides.play / guides.span
    loads = np.zeros_like(curve.tensions)
    for lost in range(len(curve.lines)):
        left = stiffness.sum(axis=1) - stiffness[:, lost]
        sink = swing * curve.tensions[:, lost] / left
        after = curve.tensions + stiffness * (sink[:, None] + lean[:, None] * arms)
        after[:, lost] = 0.0
        loads = np.maximum(loads, after)
    return loads
