"""Capstan crew cards: what a captain of a capstan holds in one stage."""

import re
from collections.abc import Iterator

import numpy as np

from towerlift.checks.crew import Station
from towerlift.documents.arranged import arranged
from towerlift.documents.blocks import (
    Block,
    Facts,
    Leaf,
    Paper,
    Picture,
    Weight,
    Words,
)
from towerlift.documents.edition import Edition, hauling_stages
from towerlift.documents.hauling import STOP_PULL, Hauling, haulings, turns_each_step
from towerlift.documents.holds import NOT_RELEASED, held_back
from towerlift.documents.say import plain_number
from towerlift.drawings.capstan_ring import Ring, capstan_ring
from towerlift.mechanics.capstan import holding_turns, walk_per_rise
from towerlift.motion.pace import haul_speed
from towerlift.plan.rigging import Line
from towerlift.plan.work import Stage

LETTERS = 14.0
WET_FRICTION, TAIL = 0.2, 100.0
"""Friction of wet rope on a barrel, and pull of one hand on the tail [N]."""


def crew_cards(edition: Edition) -> Paper:
    """A card for every capstan in every stage in which it hauls.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    paper : Paper
        Stage by stage; stamped as the stage cards are.
    """
    leaves = [
        leaf for stage in hauling_stages(edition) for leaf in _stage_leaves(edition, stage)
    ]
    if not leaves:
        words = "NOT EVALUATED: no haul could be reckoned, so no capstan has a pull"
        block = Words(words=words, weight=Weight.LOUD)
        leaves = [Leaf(title="Capstan crews", blocks=(block,))]
    return Paper(
        name="crew-cards", title="Capstan crew cards", leaves=tuple(leaves), letters=LETTERS
    )


def _stage_leaves(edition: Edition, stage: Stage) -> Iterator[Leaf]:
    by_capstan: dict[str, list[tuple[Hauling, Station, Line]]] = {}
    for hauling in haulings(edition, stage):
        for station, line in zip(hauling.stations, hauling.haul.lift.lines, strict=False):
            by_capstan.setdefault(station.capstan.mark, []).append((hauling, station, line))
    because = held_back(edition, stage, moves=True)
    for mark in sorted(by_capstan, key=natural):
        blocks: list[Block] = []
        for hauling, station, line in _one_way_each(by_capstan[mark]):
            blocks += _haul_blocks(edition, hauling, station, line)
        blocks += _fixed_words(edition)
        yield Leaf(
            title=f"Capstan {mark}, stage {stage.name}",
            blocks=tuple(blocks),
            stamp=NOT_RELEASED if because else "",
            because=because,
        )


def natural(mark: str) -> tuple[tuple[int, int | str], ...]:
    """Key that sorts K2 before K10.

    Parameters
    ----------
    mark : str
        Any.

    Returns
    -------
    key : tuple
        Numbers as numbers, the rest as it is.
    """
    parts = re.split(r"(\d+)", mark)
    return tuple((0, int(p)) if p.isdigit() and p.isascii() else (1, p) for p in parts if p)


def _one_way_each(
    found: list[tuple[Hauling, Station, Line]],
) -> list[tuple[Hauling, Station, Line]]:
    return sorted(found, key=lambda each: each[0].passages[0].index)


def _haul_blocks(
    edition: Edition, hauling: Hauling, station: Station, line: Line
) -> Iterator[Block]:
    say, haul, capstan = edition.say, hauling.haul, station.capstan
    turns = turns_each_step(hauling, station)
    stops = turns * capstan.pawl_stops
    held = max(3, int(np.ceil(holding_turns(station.pull, TAIL, friction=WET_FRICTION))))
    walked = walk_per_rise(station.gear, haul.pattern.parts) * sum(
        abs(p.travel) for p in hauling.passages
    )
    pace = haul_speed(edition.plan, haul.lift) * 60
    starts, ends, most = _pulls(edition, hauling, capstan.mark)
    yield Facts(
        rows=(
            ("tackle", f"{line.tackle}, {line.lift_point} of the {haul.section}, "
             f"coil {line.coil}"),
            ("heel", f"{say.height(hauling.first)} to {say.height(hauling.last)}, "
             f"{say.when(hauling.passages[0].begins)}"),
            ("turns, seen from above", capstan.turns or "NOT ANSWERED in the plan"),
            ("at the bars", f"{capstan.hands}, reserve {capstan.reserve}; "
             f"start with {station.needed + 1} at least"),
            ("pull, first, last, most", f"{say.force(starts)}, {say.force(ends)}, "
             f"{say.force(most)}"),
            ("STOP if it pulls", f"{say.force(STOP_PULL * most)}; a hand pushes "
             f"{say.push(station.each)} at most"),
            (f"a step, {say.height(haul.lift.step)}",
             f"{plain_number(turns, 3)} turns, {int(np.floor(stops + 1e-9))} whole pawl stops"),
            ("turns on the barrel", f"{held}, for a tail of {say.push(TAIL)}, rope wet"),
            ("on the way", f"{say.height(walked)} walked; {say.height(pace)} a minute"),
        )
    )  # fmt: skip
    yield Picture(svg=_ring(edition, hauling, station, line), caption="", most=80.0)


def _pulls(edition: Edition, hauling: Hauling, capstan: str) -> tuple[float, float, float]:
    column = [line.capstan for line in hauling.haul.lift.lines].index(capstan)
    curves = [edition.curves[p.index] for p in hauling.passages]
    pulls = [curve.pull[:, column] for curve in curves]
    return float(pulls[0][0]), float(pulls[-1][-1]), max(float(each.max()) for each in pulls)


def _ring(edition: Edition, hauling: Hauling, station: Station, line: Line) -> str:
    capstan = station.capstan
    lead = line.leads[-1] if line.leads else None
    return capstan_ring(
        Ring(
            mark=capstan.mark,
            hands=capstan.hands,
            bar_radius=capstan.bar_radius,
            at=(capstan.x, capstan.y),
            lead=None if lead is None else (lead[0], lead[1]),
        ),
        text=21.2,
    )


def _fixed_words(edition: Edition) -> Iterator[Block]:
    yield Words(
        words="Pawls down whenever the ring stands. Haul by the count of pawl stops, not by "
        "feel. If a pawl slips or a bar kicks: let go, step out, shout. Nobody inside the "
        "ring while lowering. Break step; stop if the rope pulses.",
    )
    yield Facts(
        long=True,
        rows=(
            ("signals", arranged(edition, "signals")),
            ("rest", "at every check; the reserve, told off by name, takes over when called"),
        ),
    )
