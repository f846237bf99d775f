"""Float, lift and lower: what moves, and what it meets on the way."""

from dataclasses import dataclass, replace
from math import ceil, floor

from towerlift.motion.pace import haul_duration, haul_speed
from towerlift.motion.passages import State
from towerlift.motion.rules import Rule
from towerlift.motion.states import STANDS_FAST, literal
from towerlift.motion.walk import GROUND, NOTHING, SAME_HEIGHT, Doing, Walk, names
from towerlift.plan.rigging import Lift
from towerlift.plan.work import Float, Haul, Lower

# How far off a ledge a remedy hangs or stops a heel: the usual float height.
CLEAR_OF_LEDGE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class _Haul:
    # One step of hauling, as it will be followed.
    step: str
    section: str
    lift: Lift | None
    to: float
    rising: bool
    during: State
    after: State
    takes: float
    planned: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Meeting:
    # A ledge that meets the heel of the section above it, with the hauled heel at `heel`.
    child: str
    parent: str
    heel: float


def follow_haul(walk: Walk, step: Float | Haul | Lower) -> None:
    """Move a section to a heel height, with all that it picks up on the way.

    Parameters
    ----------
    walk : Walk
        The site; changed.
    step : Float, Haul or Lower
        The step. What it must not do is recorded, and done.

    Notes
    -----
    Time that the step takes besides hauling is spent at the end, where it is parked.
    """
    name = step.section
    if name not in walk.places:
        walk.breach(
            Rule.PRESENCE,
            name,
            f'step "{step.do}" moves the {name}, which is not in the shaft yet',
            (f"assemble the {name} before it is moved", "leave the step out"),
        )
        return
    during, after = _states(walk, step)
    start = _heel(walk, name)
    to = start + step.height if isinstance(step, Float) else step.to
    haul = _Haul(
        step=step.do,
        section=name,
        lift=_hauling_lift(walk, name),
        to=to,
        rising=to > start + SAME_HEIGHT,
        during=during,
        after=after,
        takes=step.takes,
        planned=step.picks_up if isinstance(step, Haul) else (),
    )
    _check_cleared(walk, haul)
    _check_direction(walk, haul)
    _check_tackles(walk, haul)
    _move(walk, haul)


def _heel(walk: Walk, section: str) -> float:
    return walk.places[section].heel


def _states(walk: Walk, step: Float | Haul | Lower) -> tuple[State, State]:
    name = step.section
    place = walk.places[name]
    if place.state not in {*STANDS_FAST, State.SECURED}:
        return walk.follow_change(step.do, name)
    walk.breach(
        Rule.HELD,
        name,
        f'step "{step.do}" moves the {name} while it is still {place.state} on {place.carrier}',
        (f"sling and float the {name} first, so that {place.carrier} no longer holds it",),
        heel=place.heel,
    )
    change = literal(step.do, place.state)
    return change.during, change.after


def _hauling_lift(walk: Walk, name: str) -> Lift | None:
    rigged = [lift for lift, section in walk.rigged.items() if section == name]
    if rigged:
        return walk.lift(rigged[-1])
    walk.breach(
        Rule.TACKLES,
        name,
        f"the {name} is moved with no tackles made fast to it",
        (f'put a step "sling" of the {name} with its lift before it',),
        heel=_heel(walk, name),
    )
    return next((lift for lift in walk.plan.lifts if lift.section == name), None)


def _check_cleared(walk: Walk, haul: _Haul) -> None:
    if walk.cleared:
        return
    walk.breach(
        Rule.CLEARED,
        haul.section,
        f'step "{haul.step}" takes the weight of the {haul.section}, but the column has not '
        "been cleared since people last worked in it",
        (f'put "clear the column" before the step "{haul.step}" of the {haul.section}',),
        heel=_heel(walk, haul.section),
    )
    walk.cleared = True  # said once: the steps that follow are not at fault for it


def _check_direction(walk: Walk, haul: _Haul) -> None:
    start = _heel(walk, haul.section)
    sinking = haul.to < start - SAME_HEIGHT
    if (haul.step == "lift" and not haul.rising) or (haul.step == "lower" and not sinking):
        other = "lower" if haul.step == "lift" else "lift"
        walk.breach(
            Rule.TRAVEL,
            haul.section,
            f'step "{haul.step}" takes the {haul.section} from heel {start:.3f} m '
            f"to {haul.to:.3f} m",
            ('correct its "to"', f'write it as a step "{other}"'),
            heel=start,
        )
    if haul.to < -SAME_HEIGHT:
        walk.breach(
            Rule.TRAVEL,
            haul.section,
            f"the {haul.section} is taken to heel {haul.to:.3f} m, below the shaft floor",
            ('correct its "to"',),
            heel=0.0,
        )


def _check_tackles(walk: Walk, haul: _Haul) -> None:
    moving = (haul.section, *walk.carried_by(haul.section))
    for lift_name, section in walk.rigged.items():
        lift = walk.lift(lift_name)
        hung_from = "" if lift is None else lift.hung_from
        if section in moving[1:]:
            _tackles_still_fast(walk, haul, section, lift_name)
        elif section == haul.section and hung_from in moving:
            walk.breach(
                Rule.TACKLES,
                section,
                f"lift {lift_name} hangs from the {hung_from}, which it moves itself",
                ("hang its top blocks from what stands fast",),
                heel=_heel(walk, section),
            )
        elif section not in moving and hung_from in moving:
            walk.breach(
                Rule.HELD,
                haul.section,
                f"the {haul.section} moves while lift {lift_name} of the {section} hangs from "
                f"the {hung_from}",
                (f'put a step "transfer" of the {section} before it',),
                heel=_heel(walk, haul.section),
            )


def _tackles_still_fast(walk: Walk, haul: _Haul, section: str, lift: str) -> None:
    walk.breach(
        Rule.TACKLES,
        section,
        f"the {section} is carried along by the {haul.section} while the tackles of its own "
        f"lift {lift} are still made fast",
        (f'put a step "transfer" of the {section} before the {haul.section} moves',),
        heel=_heel(walk, haul.section),
    )


def _move(walk: Walk, haul: _Haul) -> None:
    walk.change(
        haul.section, haul.during, carrier=NOTHING if haul.lift is None else haul.lift.name
    )
    before = len(walk.passages)
    picked: set[str] = set()
    while (meeting := _next_meeting(walk, haul)) is not None:
        _record_part(walk, haul, meeting.heel)
        _pick_up(walk, haul, meeting)
        picked.add(meeting.child)
    _record_part(walk, haul, haul.to, takes=haul.takes)
    if len(walk.passages) == before:  # nothing moved and no time passed: still a step
        walk.record(_doing(walk, haul))
    walk.change(haul.section, haul.after)
    _check_planned(walk, haul, picked)


def _next_meeting(walk: Walk, haul: _Haul) -> _Meeting | None:
    # The pick-up is the root of parent heel + nest height = child heel, and both sides
    # are linear in the travel: it is found exactly.
    if not haul.rising:
        return None
    start = _heel(walk, haul.section)
    moving = (haul.section, *walk.carried_by(haul.section))
    meetings = []
    for parent in moving:
        child = walk.inner(parent)
        section = walk.section(parent)
        if child is None or child in moving or section is None or section.nest_height is None:
            continue
        rise = _heel(walk, child) - (_heel(walk, parent) + section.nest_height)
        if -SAME_HEIGHT <= rise <= haul.to - start + SAME_HEIGHT:
            heel = min(max(start + rise, start), haul.to)
            meetings.append(_Meeting(child=child, parent=parent, heel=heel))
    return min(meetings, key=lambda meeting: meeting.heel, default=None)


def _doing(walk: Walk, haul: _Haul) -> Doing:
    return Doing(
        step=haul.step,
        subject=haul.section,
        lift=None if haul.lift is None else haul.lift.name,
        during=walk.with_carried(haul.section, haul.during),
    )


def _record_part(walk: Walk, haul: _Haul, to: float, *, takes: float = 0.0) -> None:
    start = _heel(walk, haul.section)
    travel = to - start
    doing = _doing(walk, haul)
    if abs(travel) > SAME_HEIGHT:
        moving = (haul.section, *walk.carried_by(haul.section))
        _check_needles(walk, moving, travel)
        heels = {name: _heel(walk, name) + travel for name in moving}
        heels[haul.section] = to
        takes += _hauling_time(walk, haul, travel)
        walk.record(replace(doing, moving=moving, heels=heels, takes=takes))
    elif takes > 0 or walk.event:  # a pick-up at the very end is told here, where it belongs
        walk.record(replace(doing, takes=takes))


def _hauling_time(walk: Walk, haul: _Haul, travel: float) -> float:
    if haul.lift is None:
        return 0.0
    try:
        return haul_duration(travel, haul_speed(walk.plan, haul.lift), haul.lift)
    except ValueError as error:
        walk.breach(
            Rule.PRESENCE,
            haul.section,
            f"the time of its haul is not known: {error}",
            ("complete the lift's lines, tackle, coils and capstans",),
        )
        return 0.0


def _check_needles(walk: Walk, moving: tuple[str, ...], travel: float) -> None:
    order = [section.name for section in walk.plan.sections]
    for outer in moving:
        section = walk.section(outer)
        low = _heel(walk, outer) + min(travel, 0.0)
        head = _heel(walk, outer) + (0.0 if section is None else section.length)
        for inner, place in walk.places.items():
            fixture = walk.fixture(place.carrier)
            stands_round = order.index(inner) > order.index(outer) and inner not in moving
            if fixture is None or fixture.kind != "needle" or not stands_round:
                continue
            if low < place.heel < head + max(travel, 0.0) - SAME_HEIGHT:
                reached = _heel(walk, moving[0]) + max(place.heel - head, 0.0)
                _needle_in_the_way(walk, outer, inner, reached)


def _needle_in_the_way(walk: Walk, outer: str, inner: str, heel: float) -> None:
    needle = walk.places[inner].carrier
    walk.breach(
        Rule.NEEDLE,
        outer,
        f"{needle} carries the {inner} at {walk.places[inner].heel:.3f} m across the path of "
        f"the {outer}, whose head reaches it at heel {heel:.3f} m",
        (
            f"hang the {inner} on pendants inside the {outer} and strike {needle} first",
            f"stop the {outer} below {needle}",
        ),
        heel=heel,
    )


def _pick_up(walk: Walk, haul: _Haul, meeting: _Meeting) -> None:
    child, parent = meeting.child, meeting.parent
    place = walk.places[child]
    taker = "" if parent == haul.section else f"the {parent} "
    walk.event = f"{taker}picks up the {child} at heel {meeting.heel:.2f} m"
    if child not in haul.planned:
        _unplanned_pick_up(walk, haul, meeting)
    if place.state in STANDS_FAST and place.carrier != GROUND:
        walk.breach(
            Rule.HELD,
            child,
            f"the {parent} picks up the {child} while it is still {place.state} on "
            f"{place.carrier}",
            (f"hang the {child} on pendants, free of {place.carrier}, before it is picked up",),
            heel=meeting.heel,
        )
    load = (child, *walk.carried_by(child))
    for lift, section in walk.rigged.items():
        if section in load:
            _tackles_still_fast(walk, haul, section, lift)
    walk.places[child] = replace(place, carrier=parent)
    walk.change(child, haul.during)


def _unplanned_pick_up(walk: Walk, haul: _Haul, meeting: _Meeting) -> None:
    child, hauled = meeting.child, haul.section
    beyond = haul.to - meeting.heel
    hang = ceil(100 * (_heel(walk, child) + beyond + CLEAR_OF_LEDGE) - 1e-6) / 100
    stop = floor(100 * (meeting.heel - CLEAR_OF_LEDGE) + 1e-6) / 100
    load = (child, *walk.carried_by(child))
    walk.breach(
        Rule.PICK_UP,
        child,
        f"the {hauled}, on its way to heel {haul.to:.2f} m, picks up the {child} at heel "
        f"{meeting.heel:.2f} m, which the step does not plan: the whole weight of the "
        f"{names(load)} comes on its tackles for the last {1000 * beyond:.0f} mm",
        (
            f"hang the {child} at heel {hang:.2f} m or higher before the {hauled} rises, and "
            "lower it on its ledge afterwards with its own tackles",
            f"stop the {hauled} at heel {stop:.2f} m or lower",
            f'plan it: list "{child}" in picks_up, and prove ropes, capstans and crews for '
            "the heavier load",
        ),
        heel=meeting.heel,
    )


def _check_planned(walk: Walk, haul: _Haul, picked: set[str]) -> None:
    for child in haul.planned:
        if child in picked:
            continue
        if child not in walk.places:
            why = f"the {child} is not in the shaft"
        elif child in walk.carried_by(haul.section):
            why = f"the {child} stands on it already"
        else:
            why = f"the {child}, at heel {_heel(walk, child):.2f} m, is never reached"
        walk.breach(
            Rule.PICK_UP,
            child,
            f"the {haul.section} is meant to pick up the {child} on its way to heel "
            f"{haul.to:.2f} m, but {why}",
            (
                f'correct "to" of the {haul.section}, or the heel at which the {child} hangs',
                f'strike "{child}" from picks_up',
            ),
            heel=haul.to,
        )
