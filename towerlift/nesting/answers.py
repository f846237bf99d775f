"""What to pare, how large a section may be, and what each millimetre costs and buys."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from towerlift.nesting.bench import Bench, Pared, Setting
from towerlift.nesting.faces import FaceGaps, best_plumb_line
from towerlift.nesting.movement import FACES
from towerlift.nesting.shims import guide_of
from towerlift.nesting.tolerance import N_SAMPLES, Sampled, Stack, sample_stack
from towerlift.plan.bodies import Face

SMALLEST_CUT = 0.005
"""What a hand can cut and a tape can set. [m]"""
MOST_PIECES = 60
PARED_AT_MOST = 0.06
"""Wood that can come off a piece without asking what it carries. [m]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paring:
    """Wood that must come off one side of a piece.

    Attributes
    ----------
    mark, part : str
        Which piece, and its kind.
    face : Face
        Which side.
    depth : float
        Rounded up to what a hand can cut. [m]
    gap, need : float
        Gap and budget before it is pared. [m]
    heel, height : float
        Heel height and height of the shaft at which it is nearest. [m]
    stage : str
        Stage in which it is.
    """

    mark: str
    part: str
    face: Face
    depth: float
    gap: float
    need: float
    heel: float
    height: float
    stage: str


def pare_list(bench: Bench, setting: Setting) -> tuple[Paring, ...]:
    """Every piece that falls short, with the depth that cures it.

    Parameters
    ----------
    bench : Bench
        The section.
    setting : Setting
        What is turned; what it pares is pared already.

    Returns
    -------
    parings : tuple of Paring
        Deepest first. None where some piece would have to lose more than 60 mm, or more
        than sixty pieces something: no paring then cures it.
    """
    found: list[Paring] = []
    pared: dict[tuple[str, Face], float] = {}
    stages = {travel.passage: travel.stage for travel in bench.travels}
    reach = bench.reach(replace(setting, pared=()))
    for _ in range(MOST_PIECES):
        off = tuple(Pared(mark=m, face=f, depth=d) for (m, f), d in pared.items())
        trial = replace(setting, pared=(*setting.pared, *off))
        gaps = bench.gaps(trial)
        worst = gaps.worst()
        if worst is None or not gaps.spare[worst] < 0:
            break
        row, k = worst
        mark = reach.marks[int(gaps.member[worst])]
        depth = SMALLEST_CUT * ceil(-float(gaps.spare[worst]) / SMALLEST_CUT - 1e-9)
        # Its own side, before the section was turned.
        side = FACES[(k + setting.quarter_turns) % 4]
        if (mark, side) in pared or depth > PARED_AT_MOST:
            return ()
        pared[mark, side] = depth
        found.append(
            Paring(
                mark=mark,
                part=reach.parts[int(gaps.member[worst])],
                face=side,
                depth=depth,
                gap=float(gaps.gap[worst]),
                need=float(gaps.need[worst]),
                heel=float(gaps.heel[worst]),
                height=float(gaps.edges[row : row + 2].mean()),
                stage=stages[int(gaps.passage[worst])],
            )
        )
    else:
        return ()
    return tuple(sorted(found, key=lambda each: -each.depth))


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceChance:
    """Three ways to add what decides the gap on one face.

    Attributes
    ----------
    face : Face
        Which.
    stack : Stack
        What was added.
    sampled : Sampled
        What sampling says.
    """

    face: Face
    stack: Stack
    sampled: Sampled


def face_chances(
    bench: Bench, setting: Setting, *, samples: int = N_SAMPLES
) -> tuple[FaceChance, ...]:
    """Worst case, root-sum-square and sampling on every face.

    Parameters
    ----------
    bench : Bench
        The section.
    setting : Setting
        What is turned.
    samples : int
        How many on each face.

    Returns
    -------
    chances : tuple of FaceChance
        One for each face that something comes by.
    """
    found = []
    for face in FACES:
        stack = bench.stack(setting, face)
        if stack is not None:
            sampled = sample_stack(stack, running=bench.running, samples=samples)
            found.append(FaceChance(face=face, stack=stack, sampled=sampled))
    return tuple(found)


def room_to_grow(
    chances: tuple[FaceChance, ...], running: float, sure: float
) -> dict[Face, float]:
    """How much each side of a section may stand farther out and still pass.

    Parameters
    ----------
    chances : tuple of FaceChance
        Sampled gaps.
    running : float
        Running clearance to be left. [m]
    sure : float
        Chance with which it is to be left, above 0 and below 1.

    Returns
    -------
    room : dict of Face to float
        Negative where the side must come in. [m]

    Raises
    ------
    ValueError
        If `sure` is not a chance, or too near 1 for the number of samples.
    """
    if not 0 < sure < 1:
        raise ValueError(f"the chance must be above 0 and below 1, got {sure}")
    room = {}
    for each in chances:
        n = len(each.sampled.gaps)
        allowed = int((1.0 - sure) * n)
        if allowed < 10:
            raise ValueError(f"{n} samples are too few to be sure of {sure:.6g}")
        # The sample below which fewer than the allowed share lie.
        room[each.face] = float(each.sampled.gaps[allowed - 1]) - running
    return room


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """Hours of work that a change takes; a yard puts its own in.

    Attributes
    ----------
    pare_piece, pare_mm : float
        To set up at a piece, and for each millimetre off it. [h]
    pack_runner : float
        To pack one runner anew at one height. [h]
    turn : float
        To turn a section on the floor. [h]
    wait_day : float
        That a day of waiting costs. [h]
    cut_mm : float
        For each millimetre off a ledge of masonry, scaffold and engineer included. [h]
    source : str
        Who says so.
    """

    pare_piece: float = 0.5
    pare_mm: float = 0.02
    pack_runner: float = 0.75
    turn: float = 16.0
    wait_day: float = 24.0
    cut_mm: float = 1.0
    source: str = "assumed here, no source: put your own yard's hours in"


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """What one change costs, and what it buys.

    Attributes
    ----------
    what : str
        The change, in a sentence.
    hours : float
        Work it takes.
    buys : float
        How much more is left to spare at the worst place. [m]
    spare : float
        Least left to spare once it is done. [m]
    takes : str
        What it costs elsewhere.
    setting : Setting or None
        The change on the bench, None where the bench cannot show it.
    """

    what: str
    hours: float
    buys: float
    spare: float
    takes: str
    setting: Setting | None = None

    @property
    def enough(self) -> bool:
        """Whether nothing falls short any more."""
        return bool(self.spare >= -1e-9)

    @property
    def hours_per_mm(self) -> float:
        """What each millimetre costs."""
        return self.hours / (self.buys * 1000.0)


def price_list(
    bench: Bench, setting: Setting, *, rates: Rates | None = None
) -> tuple[Price, ...]:
    """Changes that leave more to spare: those that suffice first, cheapest first.

    Parameters
    ----------
    bench : Bench
        The section.
    setting : Setting
        What is turned now.
    rates : Rates or None
        Hours of work.

    Returns
    -------
    prices : tuple of Price
        Only those that buy something.
    """
    rates = rates or Rates()
    now = bench.gaps(setting)
    worst = now.worst()
    if worst is None:
        return ()
    spare = float(now.spare[worst])
    every = [
        *_paring(bench, setting, rates),
        *_moving(bench, setting, rates, now),
        *_turning(bench, setting, rates),
        *_packing(bench, setting, rates),
        *_drying(bench, setting, rates),
        *_cutting(bench, now, rates),
    ]
    bought = [replace(price, buys=price.spare - spare) for price in every]
    # A tenth of a millimetre is nothing.
    worth = [price for price in bought if price.buys > 1e-4]
    return tuple(
        sorted(worth, key=lambda p: (not p.enough, p.hours if p.enough else p.hours_per_mm))
    )


def _least(gaps: FaceGaps) -> float:
    worst = gaps.worst()
    return float("inf") if worst is None else float(gaps.spare[worst])


def _paring(bench: Bench, setting: Setting, rates: Rates) -> Iterator[Price]:
    parings = pare_list(bench, setting)
    if not parings:
        return
    off = tuple(Pared(mark=p.mark, face=p.face, depth=p.depth) for p in parings)
    changed = replace(setting, pared=(*setting.pared, *off))
    names = ", ".join(
        f"{p.depth * 1000:.0f} mm off the {p.face} side of {p.mark}" for p in parings[:3]
    )
    more = f" and {len(parings) - 3} more pieces" if len(parings) > 3 else ""
    yield Price(
        what=f"pare {names}{more}",
        hours=sum(rates.pare_piece + rates.pare_mm * p.depth * 1000 for p in parings),
        buys=0.0,
        spare=_least(bench.gaps(changed)),
        takes="wood: ask the engineer what the piece carries",
        setting=changed,
    )


def _moving(bench: Bench, setting: Setting, rates: Rates, now: FaceGaps) -> Iterator[Price]:
    spare = {face: _on_face(now, face) for face in FACES}
    if not all(np.isfinite(list(spare.values()))):
        return
    line = bench.line(setting)
    best = best_plumb_line(spare, line)
    x, y = _room_for_runners(bench, best[0], best[1])
    # Set to the millimetre, as a line is.
    x, y = round(x, 3), round(y, 3)
    changed = replace(setting, x=x, y=y)
    after = bench.gaps(changed)
    lost = [
        f"{(spare[face] - _on_face(after, face)) * 1000:.0f} mm on the {face} side"
        for face in FACES
        if spare[face] - _on_face(after, face) > 5e-4
    ]
    n_packings = 2 * 4 * len(bench.walls.heights)
    yield Price(
        what=f"hang the plumb line at ({x * 1000:.0f}, {y * 1000:.0f}) mm",
        hours=rates.pack_runner * n_packings,
        buys=0.0,
        spare=_least(after),
        takes=", ".join([*lost, "every runner packed anew, every section moved with it"]),
        setting=changed,
    )


def _room_for_runners(bench: Bench, x: float, y: float) -> tuple[float, float]:
    """The nearest place of the axis at which runners need no masonry cut for them."""
    guide = guide_of(bench.plan, bench.section.name)
    if guide is None:
        return x, y
    room = bench.walls.faces.min(axis=0) - guide.reach - guide.runner - guide.running
    north, east, south, west = room.tolist()
    # Where even the middle has no room, the middle it stays.
    if north + south >= 0:
        y = min(max(y, -south), north)
    if east + west >= 0:
        x = min(max(x, -west), east)
    return x, y


def _on_face(gaps: FaceGaps, face: Face) -> float:
    worst = gaps.worst(face)
    return float("inf") if worst is None else float(gaps.spare[worst])


def _turning(bench: Bench, setting: Setting, rates: Rates) -> Iterator[Price]:
    for turns in (1, 2, 3):
        changed = replace(setting, quarter_turns=(setting.quarter_turns + turns) % 4)
        yield Price(
            what=f"turn the section by {90 * turns} degrees, anticlockwise from above",
            hours=rates.turn,
            buys=0.0,
            spare=_least(bench.gaps(changed)),
            takes="shoes, rails, fids and lift points must fit turned so",
            setting=changed,
        )


def _packing(bench: Bench, setting: Setting, rates: Rates) -> Iterator[Price]:
    play = max((float(t.play.max()) for t in bench.moving(setting)), default=0.0)
    if not play > 0:
        return
    tighter = max(0.5 * bench.running, 0.0)
    if not play > tighter:
        return
    changed = replace(setting, play=tighter)
    yield Price(
        what=f"pack the runners to {tighter * 1000:.0f} mm of play",
        hours=rates.pack_runner * 2 * 4 * len(bench.walls.heights),
        buys=0.0,
        spare=_least(bench.gaps(changed)),
        takes="the shoes bind sooner when the wood swells",
        setting=changed,
    )


def _drying(bench: Bench, setting: Setting, rates: Rates) -> Iterator[Price]:
    if setting.moisture is None or not setting.moisture > 0:
        return
    changed = replace(setting, moisture=0.0)
    yield Price(
        what="wait until the wood is as dry as when it was cut",
        hours=rates.wait_day * 14,
        buys=0.0,
        spare=_least(bench.gaps(changed)),
        takes="days: the humidity calendar says how many; a fortnight is reckoned here",
        setting=changed,
    )


def _cutting(bench: Bench, now: FaceGaps, rates: Rates) -> Iterator[Price]:
    worst = now.worst()
    if worst is None or not now.spare[worst] < 0:
        return
    _, k = worst
    short = now.spare[:, k] < 0
    depth = SMALLEST_CUT * ceil(-float(now.spare[worst]) / SMALLEST_CUT - 1e-9)
    others = np.where(short, np.inf, now.spare[:, k])
    cured = min(
        float(np.nanmin(np.append(others, np.inf))),
        float(now.spare[worst]) + depth,
        *(_on_face(now, face) for j, face in enumerate(FACES) if j != k),
    )
    low, high = now.edges[np.flatnonzero(short)[0]], now.edges[np.flatnonzero(short)[-1] + 1]
    yield Price(
        what=f"cut {depth * 1000:.0f} mm off the {FACES[k]} face of the masonry, "
        f"z {low:.1f} to {high:.1f} m",
        hours=rates.cut_mm * depth * 1000,
        buys=0.0,
        spare=cured,
        takes="old masonry: only if the engineer allows it",
    )
