"""Where the ropes of every haul run, and how near they come to everything they pass.

A part of a tackle runs straight from the moving block to the top block, and a fall from
the top block over its lead blocks to the barrel. Both ends of each run go up and down
with what carries them, so that the engine follows it as a round line over the whole haul.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import hypot

import numpy as np

from towerlift.motion.passages import Passage
from towerlift.nesting.curves import Floats
from towerlift.nesting.needs import Allowed
from towerlift.nesting.pairs import SHAFT, Workshop
from towerlift.plan.rigging import Opening
from towerlift.rig.rope_search import RopeGap, Run, least_left
from towerlift.rig.rope_sway import HaulSway, sway_of
from towerlift.rig.ropes import Knot, Rope, ropes_of
from towerlift.shapes.unseen import UNSEEN


@dataclass(frozen=True, slots=True, kw_only=True)
class RopeWay:
    """One tackle with its fall in one stage.

    Attributes
    ----------
    stage, lift, tackle : str
        Which.
    gaps : tuple of RopeGap
        The one that leaves least, then others that leave too little; none where nothing
        is near.
    unknown : str
        Why it cannot be said how far things move; empty where it can.
    """

    stage: str
    lift: str
    tackle: str
    gaps: tuple[RopeGap, ...]
    unknown: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """A stretch of travel of what is hauled past one body that stays as it is.

    Attributes
    ----------
    body : str
        Section, fixture or the shaft.
    fitted : frozenset of str
        Fit-out of it.
    rides : bool
        Whether it goes with what is hauled.
    at : float
        Where it rides, its heel above that of what is hauled; else its heel in the shaft,
        0 for what has none. [m]
    low, high : float
        Heel heights of what is hauled. [m]
    """

    body: str
    fitted: frozenset[str]
    rides: bool
    at: float
    low: float
    high: float


def rope_ways(shop: Workshop, allowed: Allowed) -> Iterator[RopeWay]:
    """Every line of every haul past everything it could touch.

    Parameters
    ----------
    shop : Workshop
        Bodies of the plan, and the raise.
    allowed : Allowed
        Clearance that a line must keep, and how sections on free lines hang.

    Yields
    ------
    way : RopeWay
        One for each stage and tackle.
    """
    ropes = list(ropes_of(shop.plan))
    for (stage, lift), passages in hauls_of(shop).items():
        trips = trips_of(shop, passages)
        sway = sway_of(shop, allowed, passages)
        heels = {name: place.heel_from for name, place in passages[0].standing.items()}
        for rope in ropes:
            if rope.lift != lift or passages[0].moving[0] != rope.lower.rides:
                continue
            absent = rope.upper.rides is not None and rope.upper.rides not in heels
            runs = [
                _run(shop, rope, n, (trip, heels, sway))
                for trip in trips
                for n in range(len(rope.runs))
                if not absent
            ]
            yield RopeWay(
                stage=stage,
                lift=lift,
                tackle=rope.name,
                gaps=least_left(runs, allowed.running),
                unknown=f"{rope.upper.rides}, which carries its top block, is not on the site"
                if absent
                else sway.unknown,
            )


def hauls_of(shop: Workshop) -> dict[tuple[str, str], list[Passage]]:
    """Passages of every haul.

    Parameters
    ----------
    shop : Workshop
        Plan and raise.

    Returns
    -------
    hauls : dict of (str, str) to list of Passage
        By stage and lift, in the order of the raise.
    """
    hauls: dict[tuple[str, str], list[Passage]] = {}
    for passage in shop.raise_.moving_passages:
        if passage.lift is not None:
            hauls.setdefault((passage.stage, passage.lift), []).append(passage)
    return hauls


def trips_of(shop: Workshop, passages: list[Passage]) -> list[Trip]:
    """Travel of a haul past each body.

    Parameters
    ----------
    shop : Workshop
        Fit-out of the plan.
    passages : list of Passage
        Of one haul.

    Returns
    -------
    trips : list of Trip
        One for each state that a body is in.
    """
    trips: dict[tuple[object, ...], Trip] = {}
    for passage in passages:
        place = passage.standing[passage.moving[0]]
        low, high = sorted((place.heel_from, place.heel_to))
        walls = (SHAFT, UNSEEN) if shop.shapes.unseen else (SHAFT,)
        for body in (*walls, *passage.standing, *sorted(passage.fixtures)):
            standing = passage.standing.get(body)
            at = 0.0 if standing is None else standing.heel_from
            rides = body in passage.moving
            if rides:
                at = round(at - place.heel_from, 6)
            fitted = frozenset(i for i in passage.fitted if shop.shapes.fitted_on[i] == body)
            key = (body, fitted, rides, at)
            old = trips.get(key)
            trips[key] = Trip(
                body=body,
                fitted=fitted,
                rides=rides,
                at=at,
                low=low if old is None else min(low, old.low),
                high=high if old is None else max(high, old.high),
            )
    return list(trips.values())


def _run(
    shop: Workshop,
    rope: Rope,
    n: int,
    over: tuple[Trip, Mapping[str, float], HaulSway],
) -> Run:
    trip, heels, sway = over
    hauled = rope.lower.rides or ""
    knots = rope.runs[n]
    tackle = n < rope.parts
    if tackle and knots[0].rides != hauled:
        knots = knots[::-1]
    return Run(
        shop=shop,
        body=trip.body,
        fitted=trip.fitted,
        rides=trip.rides,
        above=trip.at,
        tackle=tackle,
        radius=rope.radius,
        low=trip.low,
        high=trip.high,
        ends=np.array(
            [
                [place_past(shop, knot, (trip, heels, hauled, heel)) for knot in knots]
                for heel in (trip.low, trip.high)
            ]
        ),
        sway=sway,
        spread=spread_of(shop, hauled, trip.body),
        openings=openings_for(shop, (rope.lift, rope.name), trip.body),
    )


def place_past(
    shop: Workshop, knot: Knot, at: tuple[Trip, Mapping[str, float], str, float]
) -> Floats:
    """Where a knot is at one heel of what is hauled.

    Parameters
    ----------
    shop : Workshop
        Says where sections stand.
    knot : Knot
        What.
    at : tuple
        Trip, heels of all sections before it, what is hauled, and its heel. [m]

    Returns
    -------
    place : (3,) float
        Frame of the body that is passed. [m]
    """
    trip, heels, hauled, heel = at
    # Sections differ by their heels alone.
    shaft_from_foot = shop.kept(("foot",), lambda: shop.raise_.shaft_from_section(0.0))
    turn, origin = shaft_from_foot[:3, :3], shaft_from_foot[:3, 3]
    here = np.array(knot.at)
    if knot.rides is not None:
        up = heel if knot.rides == hauled else heels[knot.rides]
        here = turn @ here + origin + np.array([0.0, 0.0, up])
    if not trip.rides and trip.body not in shop.shapes.sections:
        return here
    level = heel + trip.at if trip.rides else trip.at
    local: Floats = (here - origin - np.array([0.0, 0.0, level])) @ turn
    return local


def spread_of(shop: Workshop, hauled: str, body: str) -> float:
    """Errors of workshop and survey between what is hauled and what it passes.

    Parameters
    ----------
    shop : Workshop
        Tolerances of the plan.
    hauled, body : str
        Which two.

    Returns
    -------
    spread : float
        [m]
    """
    plan = shop.plan
    made = {each.name: each.fabrication for each in plan.sections}
    if body == hauled:
        return made[hauled]
    return hypot(made[hauled], made.get(body, plan.shaft.uncertainty))


def openings_for(shop: Workshop, line: tuple[str, str], body: str) -> Mapping[str, Opening]:
    """Openings for a line in a body and its fit-out.

    Parameters
    ----------
    shop : Workshop
        Openings of the plan.
    line : tuple of str
        Lift and tackle.
    body : str
        In which.

    Returns
    -------
    openings : mapping of str to Opening
        By label of the piece.
    """
    found = {}
    for each in shop.plan.openings:
        mine = not each.lifts or line[0] in each.lifts
        if mine and (not each.tackles or line[1] in each.tackles):
            label = each.member if each.of == body else f"{each.of}: {each.member}"
            found[label] = each
    return found
