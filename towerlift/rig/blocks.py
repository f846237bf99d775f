"""Blocks of tackles as bodies: sheaves with the rope in them, and what lies between."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import cos, sin

import numpy as np

from towerlift.gaps import Body, build_body
from towerlift.nesting.curves import Floats
from towerlift.nesting.pairs import Workshop
from towerlift.plan.model import Plan
from towerlift.rig.ropes import CHEEK, Knot, Rope, broad_side, ropes_of, sheaves_in_block

# Corners of a block's outline, which lies outside the circle it stands for.
SIDES = 24


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Block:
    """One block of a tackle.

    Attributes
    ----------
    tackle : str
        Which tackle.
    end : str
        "top block" or "moving block".
    knot : Knot
        Middle of its pin.
    body : Body
        Round the middle of the pin, axes of the shaft, as it hangs when it hangs true.
    box : (2, 3) float
        Least and greatest corner of it. [m]
    """

    tackle: str
    end: str
    knot: Knot
    body: Body
    box: Floats


def blocks_of(shop: Workshop, lift: str) -> tuple[Block, ...]:
    """Both blocks of every tackle of a lift.

    Parameters
    ----------
    shop : Workshop
        Lifts, tackles and coils of its plan.
    lift : str
        Which lift.

    Returns
    -------
    blocks : tuple of Block
        None where the plan gives no diameter of the sheaves.

    Notes
    -----
    A block is taken as wide as its sheaves with the rope outside their grooves, and as
    thick as the sheaves side by side, 70 mm each. Straps and hooks are not drawn.
    """
    return shop.kept(("blocks", lift), lambda: tuple(_blocks(shop.plan, lift)))


def _blocks(plan: Plan, lift: str) -> Iterator[Block]:
    rigged = next(each for each in plan.lifts if each.name == lift)
    pattern = next(each for each in plan.tackles if each.name == rigged.pattern)
    if pattern.sheave is None:
        return
    lines = {line.tackle: line for line in rigged.lines}
    for rope in ropes_of(plan):
        if rope.lift != lift:
            continue
        line = lines[rope.name]
        way = broad_side(line, rope.lower.at) + plan.plumb_line.turn
        corners = _corners(pattern.sheave / 2 + 2 * rope.radius, rope, way)
        body = _body(corners)
        box = np.array([corners.min(axis=0), corners.max(axis=0)])
        for end, knot in (("top block", rope.upper), ("moving block", rope.lower)):
            yield Block(tackle=rope.name, end=end, knot=knot, body=body, box=box)


def _corners(radius: float, rope: Rope, way: float) -> Floats:
    """Two rings of corners, one on each side, (2 SIDES, 3). [m]"""
    around = 2 * np.pi * (np.arange(SIDES) + 0.5) / SIDES
    out = radius / cos(np.pi / SIDES)
    thick = CHEEK * sheaves_in_block(rope.parts)
    broad, pin = np.array([cos(way), sin(way), 0.0]), np.array([sin(way), -cos(way), 0.0])
    ring = out * (np.cos(around)[:, None] * broad + np.sin(around)[:, None] * [0.0, 0.0, 1.0])
    return np.concatenate([ring + pin * thick / 2, ring - pin * thick / 2])


def _body(corners: Floats) -> Body:
    # Seen against the pin the first ring runs anticlockwise, so that its face looks out.
    here, n = np.arange(SIDES), SIDES
    after = (here + 1) % n
    fan = np.column_stack([np.zeros(n - 2, dtype=int), here[1:-1], here[2:]])
    faces = np.concatenate(
        [
            fan,
            n + fan[:, ::-1],
            np.column_stack([here, n + here, n + after]),
            np.column_stack([here, n + after, after]),
        ]
    )
    return build_body(corners, faces, np.zeros(len(faces), dtype=np.int64), closed=True)
