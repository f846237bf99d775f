"""What a stage card must say of a haul so that nobody is hurt by it, line by line.

Each line is reckoned elsewhere in this package and put in words once, for every paper
that prints it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite, pi

import numpy as np

from towerlift.checks.case import Case, limit_for
from towerlift.checks.cladding import roof_benches
from towerlift.checks.hauls import Haul, Unreckoned, hauls
from towerlift.checks.lowering import CARRIED, STOPS
from towerlift.checks.recovery import drill_of, rehearsal
from towerlift.checks.rope_clearance import opening_card
from towerlift.checks.wind import HAULING, SECURED, held_states
from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.motion.masses import moving_mass
from towerlift.plan.limits import limit_in_plan
from towerlift.programme.windows_reach import leaf_boards
from towerlift.rig.curves import HangCurve
from towerlift.rig.out_of_true import gust_pressure
from towerlift.rig.recovery import STOP_PULL, Rehearsed, worst_of
from towerlift.rig.recovery_ways import Ways, ways_of
from towerlift.rig.sudden import leans_after_loss
from towerlift.rig.wind_gusts import LARGEST
from towerlift.units import rounded_down, rounded_up

# People in step push about so often. [Hz]
STEP_LOW, STEP_HIGH = 0.8, 1.0
# A gust blows so much of a section's width beside its middle; no source was read.
ASIDE = 0.1


LOCKS, TURN, FALLS, WORST = "nearest locks", "turning point", "DOES NOT STAND", "worst failure"
AT_ONCE = (LOCKS, TURN, WORST)
"""Topics that must be known before anything else when a haul stops."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CardLine:
    """One line of a stage card.

    Attributes
    ----------
    topic : str
        What it is about, in a word or two.
    words : str
        What to know or to do, with its figures.
    """

    topic: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WayOut:
    """The ways out of one haul, as numbers.

    Attributes
    ----------
    section, stage, lift : str
        Of the haul.
    ways : Ways
        Locks and times.
    topples : Rehearsed or None
        A single failure that it does not stand; None where it stands them all.
    worst : Rehearsed or None
        The worst of those that it stands.
    """

    section: str
    stage: str
    lift: str
    ways: Ways
    topples: Rehearsed | None
    worst: Rehearsed | None


def ways_out(case: Case, stage: str) -> tuple[WayOut, ...]:
    """Ways out of every haul of a stage, with the worst that was rehearsed.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.
    stage : str
        Which stage.

    Returns
    -------
    found : tuple of WayOut
        In order; none where nothing is hauled.
    """
    told = rehearsal(case)
    return tuple(
        WayOut(
            section=ways.section,
            stage=stage,
            lift=ways.lift,
            ways=ways,
            topples=worst_of(tuple(e for e in told if not e.stands), stage, ways.section),
            worst=worst_of(tuple(e for e in told if e.stands), stage, ways.section),
        )
        for ways in ways_of(case.workshop, drill_of(case.plan))
        if ways.stage == stage
    )


def card_lines(case: Case, stage: str) -> tuple[CardLine, ...]:
    """Lines for the card of a stage: ways out, what never to do, what to watch.

    Parameters
    ----------
    case : Case
        Plan and everything reckoned from it.
    stage : str
        Which stage.

    Returns
    -------
    lines : tuple of CardLine
        Those of each haul of the stage, then those of wind.
    """
    lines = [line for each in ways_out(case, stage) for line in _ways_lines(each)]
    for haul in hauls(case):
        if isinstance(haul, Haul) and haul.stage == stage:
            lines += _haul_lines(case, haul)
        elif isinstance(haul, Unreckoned) and haul.stage == stage:
            lines.append(CardLine(topic=haul.section, words=f"NOT EVALUATED: {haul.why}"))
    wind = (*_pendant_lines(case, stage), *_wind_lines(case, stage))
    passed = (CardLine(topic=topic, words=words) for topic, words in opening_card(case, stage))
    return (*lines, *passed, *wind, *_board_lines(case, stage))


def _board_lines(case: Case, stage: str) -> Iterator[CardLine]:
    """Boards that stand out over the open shaft at the park that a stage leads to."""
    for bench in roof_benches(case):
        for band in bench.bands:
            work = bench.planned.get(band.name)
            park = None if work is None else bench.park_at(work)
            if park is None or park.stage != stage or park.deck is None:
                continue
            width = leaf_boards(park.deck, band, park.heel).width
            if width > 0:
                yield CardLine(
                    topic="leaf boards",
                    words=f"{band.name}: {width:.2f} m out over the open shaft. NOT EVALUATED "
                    "here: their cantilever, hold-down and harness anchors are the engineer's "
                    "to design and sign before anybody stands on them; in before a section "
                    "moves",
                )


def _ways_lines(out: WayOut) -> Iterator[CardLine]:
    ways = out.ways
    foot, head = ways.foot, ways.head
    told = []
    if ways.back is not None:
        time = ways.time_back(head, ways.passages[-1].index)
        took = f"{_minutes(time)} from" if isfinite(time) else "shut from"
        told.append(f"back: {ways.back.carrier} at {ways.back.heel:.2f} m, {took} {head:.2f} m")
    if ways.on is not None:
        told.append(
            f"on: {ways.on.carrier} at {ways.on.heel:.2f} m, "
            f"{_minutes(ways.time_on(foot))} from {foot:.2f} m"
        )
    yield CardLine(topic=LOCKS, words="; ".join(told) or "none in this stage")
    turning = ways.turning_point
    if turning is not None:
        words = f"heel {turning:.2f} m: below it come back, above it go on"
        words += "".join(f"; above {above:.2f} m {why}" for _, above, why in ways.shut)
        yield CardLine(topic=TURN, words=words)
    if out.topples is not None:
        yield CardLine(
            topic=FALLS,
            words=f"{out.topples.failure} ({out.topples.what}): it topples and nothing catches "
            "it: lift points and strops proved before the haul, nobody near while it hangs",
        )
    worst = out.worst
    if worst is not None:
        yield CardLine(
            topic=WORST,
            words=f"{worst.failure} ({worst.what}) at heel {worst.heel:.2f} m: "
            f"{_up(worst.load / 1e3)} kN on a tackle, rope factor {_down(worst.factor, 1)}; "
            f"{worst.do}; then {worst.safe}, {_minutes(worst.minutes * 60)}; {worst.who}",
        )


def _up(value: float, digits: int = 0) -> str:
    """What must be borne or met, never told smaller than it is."""
    return f"{rounded_up(value, digits):.{digits}f}"


def _down(value: float, digits: int = 0) -> str:
    """What holds, never told greater than it is."""
    return f"{rounded_down(value, digits):.{digits}f}"


def _minutes(seconds: float) -> str:
    return f"{np.ceil(seconds / 60):.0f} min" if isfinite(seconds) else "never"


def _haul_lines(case: Case, haul: Haul) -> Iterator[CardLine]:
    last = haul.curves[-1]
    weight = max(float(curve.weight.max()) for curve in haul.curves)
    keep = limit_for(case, CARRIED).value / 100
    yield CardLine(
        topic="never slack",
        words="if it hangs up: stop, pawls down, stoppers on; never below "
        f"{_up(keep * weight / 1e3)} kN in all, "
        f"{_up(keep * weight / len(last.lines) / 1e3, 1)} kN a tackle; free it from fixed "
        "staging",
    )
    yield CardLine(
        topic="bars",
        words=f"{limit_for(case, STOPS).value:.0f} stops down at every capstan, bars pinned, "
        "nobody inside the ring while it is let down; lower by "
        f"{haul.lift.lowered_by or 'NOT EVALUATED: the plan does not say'}, never by walking "
        "back",
    )
    yield _step_line(haul)
    yield _pull_line(haul)
    yield _weigh_line(case, haul)
    if not haul.lift.guided:
        yield from _free_lines(case, haul)


def bounce(curve: HangCurve) -> tuple[float, float]:
    """Least and greatest frequency at which what hangs bounces on its ropes. [Hz]

    Parameters
    ----------
    curve : HangCurve
        Loads along a passage.

    Returns
    -------
    low, high : float
        Not a number where it finds no rest.
    """
    rate = (curve.tensions / curve.stretch).sum(axis=1)
    often = np.sqrt(rate * STANDARD_GRAVITY / curve.weight) / (2 * pi)
    if not np.isfinite(often).any():
        return float("nan"), float("nan")
    return float(np.nanmin(often)), float(np.nanmax(often))


def _step_line(haul: Haul) -> CardLine:
    each = [bounce(curve) for curve in haul.curves]
    low, high = min(a for a, _ in each), max(b for _, b in each)
    words = f"it bounces on its ropes {low:.1f} to {high:.1f} times a second"
    if low <= STEP_HIGH and high >= STEP_LOW:
        words += ", the pace of people in step: break step; stop if a rope pulses"
    else:
        words += "; stop if a rope pulses all the same, and break step"
    return CardLine(topic="step", words=words)


def _pull_line(haul: Haul) -> CardLine:
    told = []
    for curve in haul.curves:
        if np.isfinite(curve.pull).any():
            row = int(
                np.nanargmax(np.where(np.isfinite(curve.pull), curve.pull, -1).max(axis=1))
            )
            most = float(np.nanmax(curve.pull[row])) / 1e3
            told.append(f"{_up(most, 1)} kN at most with {' and '.join(curve.hauled)}")
    words = f"read the pull at every capstan at every step: {'; '.join(dict.fromkeys(told))}"
    return CardLine(
        topic="pull", words=f"{words}; stop at {STOP_PULL:g} times what the step before told"
    )


def _weigh_line(case: Case, haul: Haul) -> CardLine:
    passage = case.raise_.passages[haul.curves[-1].passage]
    mass = moving_mass(case.shapes, passage)
    return CardLine(
        topic="weigh first",
        words=f"{mass.mass:.0f} kg, {mass.tolerance:.0%} more or less: green wood weighs up to "
        "two fifths more than dry; hold at the float until the pulls agree with it",
    )


def _free_lines(case: Case, haul: Haul) -> Iterator[CardLine]:
    curve = min(haul.curves, key=lambda each: float(each.lost_ratio.min()))
    row = int(curve.lost_ratio.argmin())
    lost, ratio = curve.lines[int(curve.lost_line[row])], float(curve.lost_ratio[row])
    says = "IT TOPPLES"
    if ratio > 1:
        rests, peaks = leans_after_loss(case.workshop, curve, np.array([row]))
        length = next(s.length for s in case.plan.sections if s.name == haul.section)
        level = float(curve.lower[row, :, 2].mean() - curve.heels[row])
        peak = float(peaks[0])
        says = f"at rest it would stand, ratio {_down(ratio, 2)}, but it swings over: {says}"
        if isfinite(peak):
            says = (
                f"it stands, ratio {_down(ratio, 2)}, leaning {_up(float(rests[0]) * 1e3)} "
                f"mrad and {_up(peak * 1e3)} as it goes: its head then swings "
                f"{_up(peak * abs(length - level), 2)} m"
            )
    yield CardLine(
        topic="a tackle lost",
        words=f"tackle {lost} at heel {curve.heels[row]:.2f} m: {says}; side ropes manned at "
        "both heights of the section, nobody between it and the wall",
    )
    yield _sway_line(case, haul)
    yield _turning_line(case, haul)


def _sway_line(case: Case, haul: Haul) -> CardLine:
    """Sway of the lift points F L / W, and lean of the head besides."""
    gust = limit_in_plan(case.plan, HAULING).value
    most = (0.0, 0.0, float("nan"))
    for held in held_states(case):
        state, joint = held.state, held.joint
        if state.stage != haul.stage or joint.section != haul.section or not state.moves:
            continue
        curve = next((c for c in haul.curves if c.passage == state.passage.index), None)
        if curve is None:
            continue
        row = int(np.abs(curve.heels - joint.heel).argmin())
        stiff = float(curve.tilt_stiffness[row] - curve.weight[row] * curve.height[row])
        if not stiff > 0:
            continue
        pressure = gust_pressure(gust)
        force = pressure * float(joint.push.force.max())
        level = float(curve.lower[row, :, 2].mean()) - joint.heel
        lean = (pressure * float(joint.push.moment.max()) - force * level) / stiff
        sway = force * float(curve.lengths[row].max() / curve.weight[row])
        length = next(s.length for s in case.plan.sections if s.name == haul.section)
        head = sway + max(0.0, lean) * (length - level)
        if head > most[1]:
            most = (sway, head, joint.heel)
    words = f"no wind of {gust:g} m/s reaches it"
    if most[1] > 0:
        words = (
            f"in a gust of {gust:g} m/s at heel {most[2]:.2f} m its lift points swing "
            f"{_up(most[0] * 1e3)} mm and its head {_up(most[1] * 1e3)} mm"
        )
    return CardLine(topic="sway", words=words)


def _turning_line(case: Case, haul: Haul) -> CardLine:
    """Yaw: four lines at the corners turn it back with W b^2 / 2 L; side ropes do more."""
    worst, at = 0.0, ""
    gust = limit_in_plan(case.plan, HAULING).value
    for held in held_states(case):
        state, joint = held.state, held.joint
        if state.stage != haul.stage or joint.section != haul.section or not state.moves:
            continue
        curve = next((c for c in haul.curves if c.passage == state.passage.index), None)
        if curve is None:
            continue
        row = int(np.abs(curve.heels - joint.heel).argmin())
        half = float(np.abs(joint.stand.supports - joint.stand.supports.mean(axis=0)).max())
        stiff = float(curve.weight[row] * (2 * half) ** 2 / (2 * curve.lengths[row].max()))
        moment = gust_pressure(gust) * float(joint.push.force.max()) * ASIDE * 2 * half
        if moment / stiff * half > worst:
            worst, at = moment / stiff * half, f" at heel {joint.heel:.2f} m"
    return CardLine(
        topic="turning",
        words=f"nothing but its lines keeps it from turning: a gust of {gust:g} m/s a tenth of "
        f"its width aside moves a corner {_up(worst * 1e3)} mm{at}; four side ropes, manned, "
        "and stop if it turns by half the running clearance",
    )


def _pendant_lines(case: Case, stage: str) -> Iterator[CardLine]:
    """What hangs on pendants swings like a bob: F L / W for the chains' length."""
    told: dict[str, str] = {}
    gust = limit_in_plan(case.plan, SECURED).value
    for held in held_states(case):
        joint = held.joint
        if held.state.stage != stage or joint.kind != "pendant" or joint.carrier in told:
            continue
        chains = [
            abs(member.end[2] - member.start[2])
            for fixture in case.plan.fixtures
            if fixture.name == joint.carrier
            for member in fixture.members
        ]
        bob = gust_pressure(gust) * float(joint.push.force.max()) / joint.stand.weight
        told[joint.carrier] = (
            f"the {joint.section} on the {joint.carrier} swings "
            f"{_up(bob * max(chains) * 1e3)} mm in a gust of {gust:g} m/s, and as the square "
            "of it in less, unless its heel is shored: keep the shores in but for the haul "
            "that passes it, and then steady it by side ropes"
        )
    for words in told.values():
        yield CardLine(topic="on pendants", words=words)


def _wind_lines(case: Case, stage: str) -> Iterator[CardLine]:
    least: dict[str, tuple[float, str]] = {}
    for held in held_states(case):
        if held.state.stage != stage:
            continue
        words = f"{held.joint.section} {held.words}"
        if held.missing:
            least[words] = (-1.0, f"NOT EVALUATED: {'; '.join(held.missing)}")
        elif held.gust < LARGEST and held.gust < least.get(words, (LARGEST, ""))[0]:
            least[words] = (
                held.gust,
                f"{_down(held.gust)} m/s, {held.survived[0].limit} first",
            )
    for words, (_, told) in sorted(least.items(), key=lambda each: each[1][0]):
        yield CardLine(topic="gust survived", words=f"{words}: {told}")
