"""Hands at every capstan: how many it takes, what it asks of them, who will come."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import ceil

import numpy as np

from towerlift.checks.case import Case, limit_for, overrule_for
from towerlift.checks.hauls import Haul, Said, Unreckoned, haul_finding, hauls, not_reckoned
from towerlift.checks.strength import mass_factor
from towerlift.findings import Bound, Finding
from towerlift.mechanics.capstan import (
    CapstanGear,
    hand_power,
    hands_needed,
    held_pull,
    holding_turns,
    level_time,
    rope_speed,
    turns_per_rise,
    walk_per_rise,
)
from towerlift.mechanics.turnout import chance_of, sign_ups_for
from towerlift.motion.masses import moving_mass
from towerlift.motion.pace import haul_speed
from towerlift.plan.limits import UsualLimit
from towerlift.plan.rigging import Capstan
from towerlift.plan.work import Crew
from towerlift.rig.pulls import capstan_gear, line_capstans, line_coils, rope_path
from towerlift.units import Dimension

CHECK = "crew"
# Friction of wet rope on a barrel, and what one hand holds on the tail, for holding turns.
WET_FRICTION, TAIL = 0.2, 100.0
# A fullest tackle so far above the mean points to its rope; bars get no longer than this.
UNEVEN, LONGER_BARS = 1.3, 1.25

HANDS = UsualLimit(
    name="hands at the bars",
    value=0.0,
    unit="count",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="statics of the capstan: hands at the bars beyond those that the worst pull takes",
)
RESERVE = UsualLimit(
    name="hands in reserve",
    value=1.0,
    unit="count",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="common practice, no published source: no start with fewer than one more than are "
    "needed at each capstan",
)
PUSH = UsualLimit(
    name="push at the bar",
    value=180.0,
    unit="N",
    bound=Bound.AT_MOST,
    dimension=Dimension.FORCE,
    source="common practice, 120 to 180 N sustained; an ergonomics handbook (Kodak, 1986) "
    "gives "
    "225 N as the most for one push, standing",
)
POWER = UsualLimit(
    name="power of a hand",
    value=100.0,
    unit="W",
    bound=Bound.AT_MOST,
    dimension=None,
    source="common practice, 60 to 100 W for 20 to 30 min; about 75 W is given for a "
    "labourer's "
    "whole shift",
)
BOUT = UsualLimit(
    name="walking without relief",
    value=30.0,
    unit="min",
    bound=Bound.AT_MOST,
    dimension=Dimension.TIME,
    source="common practice at 60 to 100 W: 20 to 30 min, checks of level not counted as rest",
)
CALLED = UsualLimit(
    name="crew called for",
    value=0.0,
    unit="count",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="people that a crew is called for, beyond all hands and reserves of its capstans",
)
ODDS = UsualLimit(
    name="odds of a full crew",
    value=95.0,
    unit="%",
    bound=Bound.AT_LEAST,
    dimension=Dimension.SHARE,
    source="common practice, no published source: sign up until a full crew is 95 % likely",
)
LEVEL = UsualLimit(
    name="level kept between checks",
    value=1.0,
    unit="1",
    bound=Bound.AT_LEAST,
    dimension=None,
    source="derived: time in which an error of level grows e-fold, over the time hauled "
    "between two checks",
)
LIMITS = (HANDS, RESERVE, PUSH, POWER, BOUT, CALLED, ODDS, LEVEL)


def check_crew(case: Case) -> Iterable[Finding]:
    """Hands, push, walking and odds for every haul and every crew.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.

    Yields
    ------
    finding : Finding
        For each section, lift and stage, each limit at the capstan that is worst; then
        for each crew the odds that it is full.
    """
    for haul in hauls(case):
        if isinstance(haul, Unreckoned):
            yield not_reckoned(case, CHECK, HANDS, haul)
        else:
            yield from _haul(case, haul)
    for crew in case.plan.crews:
        yield _odds(case, crew)


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A capstan at its worst pull in one haul.

    Attributes
    ----------
    capstan : Capstan
        As planned.
    gear : CapstanGear
        Its radii with the rope on.
    tackle : str
        Tackle that it hauls.
    heel : float
        Heel height at which it pulls hardest. [m]
    pull : float
        At the barrel, worst corner, guide friction and mass on top. [N]
    """

    capstan: Capstan
    gear: CapstanGear
    tackle: str
    heel: float
    pull: float

    @property
    def exact(self) -> float:
        """Hands it takes, not rounded."""
        return hands_needed(
            self.gear, self.pull, push=self.capstan.push, efficiency=self.capstan.efficiency
        )

    @property
    def needed(self) -> int:
        """Hands it takes."""
        # A hair over a whole number is rounding of the machine, not a hand.
        return ceil(self.exact - 1e-9)

    @property
    def each(self) -> float:
        """Push of each of the hands at the bars. [N]"""
        return self.exact / self.capstan.hands * self.capstan.push


def stations(case: Case, haul: Haul) -> tuple[Station, ...] | None:
    """Every capstan of a haul at its worst pull.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.
    haul : Haul
        Which.

    Returns
    -------
    stations : tuple of Station, or None
        In the order of the lift's lines; None where no rest is found.
    """
    pulls, heels = [], []
    for curve in haul.curves:
        passage = case.raise_.passages[curve.passage]
        factor = mass_factor(case.plan, moving_mass(case.shapes, passage))
        path = rope_path(haul.lift, haul.pattern, factor)
        pulls.append(curve.tensions * path.over * path.barrel)
        heels.append(curve.heels)
    every, at = np.concatenate(pulls), np.concatenate(heels)
    if not np.all(np.isfinite(every)):
        return None
    worst = every.argmax(axis=0)
    return tuple(
        Station(
            capstan=capstan,
            gear=capstan_gear(capstan, coil),
            tackle=line.tackle,
            heel=float(at[worst[n]]),
            pull=float(every[worst[n], n]),
        )
        for n, (line, capstan, coil) in enumerate(
            zip(
                haul.lift.lines,
                line_capstans(case.plan, haul.lift),
                line_coils(case.plan, haul.lift),
                strict=True,
            )
        )
    )


def _finding(case: Case, haul: Haul, usual: UsualLimit, said: Said) -> Finding:
    return haul_finding(case, CHECK, haul, usual, said)


def _haul(case: Case, haul: Haul) -> Iterator[Finding]:
    found = stations(case, haul)
    if found is None:
        why = "it finds no rest near true on its lines, so that no capstan has a pull"
        yield _finding(case, haul, HANDS, Said(value=None, why=why))
        return
    yield _hands(case, haul, found)
    yield _reserve(case, haul, found)
    yield _push(case, haul, found)
    yield _power(case, haul, found)
    yield _bout(case, haul, found)
    yield _called(case, haul)
    if haul.lift.paced == "feel":
        yield _level(case, haul)


def _hands(case: Case, haul: Haul, found: tuple[Station, ...]) -> Finding:
    worst = min(found, key=lambda each: each.capstan.hands - each.exact)
    capstan = worst.capstan
    over = worst.needed - capstan.hands
    why = (
        f"capstan {capstan.mark} (tackle {worst.tackle}) pulls {worst.pull / 1e3:.2f} kN at "
        "worst "
        f"and takes {worst.exact:.2f} hands at {capstan.push:.0f} N; {capstan.hands} stand at "
        "its "
        f"bars, {worst.each:.0f} N each"
    )
    remedy: tuple[str, ...] = ()
    if over > 0:
        remedy = _cures(case, haul, worst)
    return _finding(
        case,
        haul,
        HANDS,
        Said(value=float(-over), why=why, heel=worst.heel, remedy=remedy),
    )


def _cures(case: Case, haul: Haul, worst: Station) -> tuple[str, ...]:
    loads = haul.curves[0].tensions[0]
    cures = []
    if np.all(np.isfinite(loads)) and loads.max() > UNEVEN * loads.mean():
        cures.append("make the ropes of the lift alike first: one tackle carries too much")
    cures.append(f"{worst.needed} hands at the bars of each capstan")
    if worst.each <= limit_for(case, PUSH).value:
        cures.append(f"{ceil(worst.each)} N a hand")
    radius = worst.capstan.bar_radius * worst.exact / worst.capstan.hands
    if radius <= LONGER_BARS * worst.capstan.bar_radius:
        cures.append(f"bars of {ceil(100 * radius) / 100:.2f} m")
    return (*cures, "a tackle of more parts")


def _reserve(case: Case, haul: Haul, found: tuple[Station, ...]) -> Finding:
    worst = min(found, key=lambda each: each.capstan.hands + each.capstan.reserve - each.exact)
    capstan = worst.capstan
    present = capstan.hands + capstan.reserve
    why = (
        f"capstan {capstan.mark} takes {worst.needed} hands ({worst.exact:.2f}); {present} are "
        f"told off for it, {capstan.reserve} of them in reserve; with fewer than "
        f"{worst.needed + 1} present do not start"
    )
    value = present - worst.needed
    short = value < limit_for(case, RESERVE).value
    remedy = (
        (f"{worst.needed} at the bars and one in reserve at each capstan",) if short else ()
    )
    return _finding(
        case,
        haul,
        RESERVE,
        Said(value=float(value), why=why, heel=worst.heel, remedy=remedy),
    )


def _push(case: Case, haul: Haul, found: tuple[Station, ...]) -> Finding:
    worst = max(found, key=lambda each: max(each.capstan.push, each.each))
    value = max(worst.capstan.push, worst.each)
    turns = holding_turns(worst.pull, TAIL, friction=WET_FRICTION)
    wraps = ceil(turns)
    why = (
        f"capstan {worst.capstan.mark}: {worst.capstan.push:.0f} N is planned of each hand, "
        "and "
        f"{worst.each:.0f} N is what its {worst.capstan.hands} give at worst; a tail of "
        f"{TAIL:.0f} N holds it with {turns:.1f} turns at {WET_FRICTION:g} friction, so "
        f"{wraps} "
        f"turns, which hold {held_pull(TAIL, wraps, friction=WET_FRICTION) / 1e3:.0f} kN"
    )
    remedy = ("more hands at the bars",) if value > limit_for(case, PUSH).value else ()
    return _finding(
        case, haul, PUSH, Said(value=round(value, 9), why=why, heel=worst.heel, remedy=remedy)
    )


def _power(case: Case, haul: Haul, found: tuple[Station, ...]) -> Finding:
    worst = max(found, key=lambda each: each.capstan.push * each.capstan.walk)
    capstan = worst.capstan
    value = round(hand_power(capstan.push, capstan.walk), 9)
    speed = rope_speed(worst.gear, capstan.walk)
    why = (
        f"{capstan.push:.0f} N at {capstan.walk:.2f} m/s at capstan {capstan.mark}; rope comes "
        "in "
        f"at {speed * 1e3:.0f} mm/s, the section rises "
        f"{speed / haul.pattern.parts * 60:.2f} m/min"
    )
    slower = limit_for(case, POWER).value / capstan.push
    remedy = (
        (f"walk no faster than {slower:.2f} m/s",)
        if value > limit_for(case, POWER).value
        else ()
    )
    return _finding(case, haul, POWER, Said(value=value, why=why, remedy=remedy))


def _bout(case: Case, haul: Haul, found: tuple[Station, ...]) -> Finding:
    travel = sum(abs(float(each.heels[-1] - each.heels[0])) for each in haul.curves)
    speed = haul_speed(case.plan, haul.lift)
    worst = max(found, key=lambda each: walk_per_rise(each.gear, haul.pattern.parts))
    turns = turns_per_rise(worst.gear, haul.pattern.parts)
    walk = walk_per_rise(worst.gear, haul.pattern.parts)
    stops = turns * worst.capstan.pawl_stops
    value = round(travel / speed / 60, 9)
    why = (
        f"{travel:.2f} m of travel; each hand walks {walk * travel:.0f} m, {turns:.2f} turns "
        "and "
        f"{stops:.0f} pawl stops for every metre, {turns * haul.lift.step:.2f} turns and "
        f"{stops * haul.lift.step:.0f} stops from one check of level to the next"
    )
    limit = limit_for(case, BOUT)
    remedy = ("relieve the hands on the way",) if value > limit.value else ()
    return _finding(case, haul, BOUT, Said(value=value, why=why, remedy=remedy))


def _called(case: Case, haul: Haul) -> Finding:
    if haul.lift.crew is None:
        why = f"the plan does not say whose people are at the bars of lift {haul.lift.name}"
        return _finding(case, haul, CALLED, Said(value=None, why=why))
    crew = next(each for each in case.plan.crews if each.name == haul.lift.crew)
    manned = {each.mark: each for each in line_capstans(case.plan, haul.lift)}
    wanted = sum(each.hands + each.reserve for each in manned.values())
    why = (
        f"{crew.name} are called for with {crew.need}; {len(manned)} capstans have "
        f"{wanted} hands and reserves"
    )
    value = float(crew.need - wanted)
    remedy = (f"call for {wanted}",) if value < limit_for(case, CALLED).value else ()
    return _finding(case, haul, CALLED, Said(value=value, why=why, remedy=remedy))


def _level(case: Case, haul: Haul) -> Finding:
    speed = haul_speed(case.plan, haul.lift)
    hauled = haul.lift.step / speed
    worst, heel, seconds = np.inf, None, np.inf
    for curve in haul.curves:
        for row, height in enumerate(curve.height):
            if not height > 0:
                continue
            toppling = float(curve.weight[row] * height)
            ratio = float(curve.tilt_stiffness[row]) / toppling
            time = level_time(curve.spacing, float(height), speed, ratio=ratio)
            if time / hauled < worst:
                worst, heel, seconds = time / hauled, float(curve.heels[row]), time
    if not np.isfinite(worst):
        why = "its centre of gravity hangs below the lift points: an error of level dies away"
        return _finding(case, haul, LEVEL, Said(value=999.0, why=why))
    why = (
        f"crews that push by feel let an error of level grow e-fold in {seconds:.0f} s; they "
        f"haul {hauled:.0f} s from one check to the next"
    )
    remedy: tuple[str, ...] = ()
    if worst < limit_for(case, LEVEL).value:
        remedy = (
            "pace the crews by pawl count",
            f"check the level every {haul.lift.step * worst:.2f} m",
        )
    return _finding(case, haul, LEVEL, Said(value=worst, why=why, heel=heel, remedy=remedy))


def _odds(case: Case, crew: Crew) -> Finding:
    shows = crew.shows or (crew.show_rate,) * crew.signed
    limit = limit_for(case, ODDS)
    value = round(100 * chance_of(crew.need, shows), 9)
    how = (
        f"each by his own odds, {np.mean(shows):.0%} on the whole"
        if crew.shows
        else f"{crew.show_rate:.0%} of them expected"
    )
    remedy: tuple[str, ...] = ()
    if value < limit.value:
        rate = float(np.mean(shows)) if len(shows) else crew.show_rate
        enough = sign_ups_for(crew.need, rate, wanted=limit.value / 100)
        remedy = (f"sign up {enough} in all",) if enough else ()
    return Finding(
        check=CHECK,
        subject=crew.name,
        stage="",
        heel=None,
        where=None,
        limit=limit,
        overrule=overrule_for(case, ODDS, crew.name, ""),
        value=value,
        why=(
            f"{ODDS.name}: {len(shows)} have signed, {how}, {crew.need} are needed; people "
            "taken as independent of each other and fit for any capstan"
        ),
        remedy=remedy,
    )
