"""How far what is hauled moves towards or away from its ropes."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import ceil

import numpy as np

from towerlift.motion.passages import Passage
from towerlift.nesting.curves import Floats
from towerlift.nesting.needs import Allowed, play_between
from towerlift.nesting.pairs import SHAFT, Pair, Workshop
from towerlift.rig.hanging import moving_block

# Sway is taken at its worst over a bit of travel of this length. [m]
BIT = 0.5
# Heights at which it is looked up. [m]
STEP = 0.5
# So many times its length above the heel of a section what it carries may reach.
HIGHEST = 3.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sway:
    """How far what is hauled moves sideways, over a bit of travel.

    Attributes
    ----------
    low, high : float
        Heel heights between which it holds. [m]
    shift : (n,) float
        At heights 0, `STEP`, twice `STEP` and so on above its heel. [m]
    lean : float
        By which it turns. [rad]
    foot : float
        Height of its moving blocks. [m]
    unknown : str
        Why it is not known; empty where it is.
    """

    low: float
    high: float
    shift: Floats
    lean: float
    foot: float
    unknown: str = ""

    def at(self, height: float) -> float:
        """Shift at a height; never too little, as it is convex in height. [m]"""
        return float(np.interp(height, STEP * np.arange(len(self.shift)), self.shift))

    def beside_rider(self, share: float, height: float) -> float:
        """Farthest that a line and a piece that goes with the section come nearer.

        Parameters
        ----------
        share : float
            How far up the line, from 0 at the moving block to 1 at the top block.
        height : float
            Of the piece above the heel. [m]

        Returns
        -------
        most : float
            [m]

        Notes
        -----
        A section that is shifted by p at its moving blocks and leans by a takes the foot
        of the line along; its head stays. At a share t, at a height s above the blocks,
        the line has gone p (1 - t) and the piece p + a s. They part by p t + a s, which is
        also the piece's own shift less p (1 - t).
        """
        foot = self.at(self.foot)
        leaning = share * foot + self.lean * max(0.0, height - self.foot)
        return min(leaning, self.at(height) + (1.0 - share) * foot)

    def beside_still(self, share: float) -> float:
        """Farthest that a line and a piece that stands come nearer: p (1 - t). [m]"""
        return (1.0 - share) * self.at(self.foot)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HaulSway:
    """How far what a haul moves may be out of true, anywhere on its way.

    Attributes
    ----------
    bits : tuple of Sway
        That together cover the travel.
    """

    bits: tuple[Sway, ...]
    _found: dict[tuple[float, float], Sway] = field(default_factory=dict, repr=False)

    @property
    def unknown(self) -> str:
        """Why it is not known; empty where it is."""
        return next((each.unknown for each in self.bits if each.unknown), "")

    def between(self, low: float, high: float) -> Sway:
        """The worst between two heel heights; of several that hold there, each at its worst.

        Parameters
        ----------
        low, high : float
            Heel heights. [m]

        Returns
        -------
        worst : Sway
            The same for the same heights, worked out once.
        """
        if (low, high) not in self._found:
            self._found[low, high] = self._worst(low, high)
        return self._found[low, high]

    def _worst(self, low: float, high: float) -> Sway:
        mine = [each for each in self.bits if each.low < high and each.high > low]
        mine = mine or list(self.bits)
        return Sway(
            low=low,
            high=high,
            shift=np.max([each.shift for each in mine], axis=0),
            lean=max(each.lean for each in mine),
            foot=mine[0].foot,
            unknown=next((each.unknown for each in mine if each.unknown), ""),
        )


def sway_of(shop: Workshop, allowed: Allowed, passages: Sequence[Passage]) -> HaulSway:
    """How what a haul moves may be out of true, bit by bit of its travel.

    Parameters
    ----------
    shop : Workshop
        Plan and raise.
    allowed : Allowed
        How sections on free lines hang.
    passages : sequence of Passage
        Of one haul.

    Returns
    -------
    sway : HaulSway
        Over its whole travel.
    """
    return HaulSway(
        bits=tuple(
            _sway(shop, allowed, passage, (low, high))
            for passage in passages
            for low, high in _bits(passage)
        )
    )


def _bits(passage: Passage) -> list[tuple[float, float]]:
    place = passage.standing[passage.moving[0]]
    low, high = sorted((place.heel_from, place.heel_to))
    n = max(1, round((high - low) / BIT + 0.5))
    edges = [low + (high - low) * k / n for k in range(n + 1)]
    return list(pairwise(edges))


def _sway(
    shop: Workshop, allowed: Allowed, passage: Passage, between: tuple[float, float]
) -> Sway:
    low, high = between
    hauled = passage.moving[0]
    pair = Pair(shop=shop, passage=passage, moving=hauled, against=SHAFT)
    play = play_between(pair, allowed, low, high)
    section = next(each for each in shop.plan.sections if each.name == hauled)
    lift = next(each for each in shop.plan.lifts if each.name == passage.lift)
    level = min(moving_block(section, line)[2] for line in lift.lines)
    top = HIGHEST * section.length
    heights = STEP * np.arange(ceil(top / STEP) + 1)
    shift = np.array([play.running + sum(play.shift(float(h))) for h in heights])
    foot, head = (play.running + sum(play.shift(height)) for height in (level, top))
    # Between shoes, heel and head may go opposite ways; free on its lines it turns about
    # its lift points.
    apart = head + foot if lift.guided else max(0.0, head - foot)
    return Sway(
        low=low,
        high=high,
        shift=shift,
        lean=apart / (top - level),
        foot=level,
        unknown=play.unknown,
    )
