"""Steps that change a section's state without hauling it."""

from towerlift.motion.passages import State
from towerlift.motion.rules import Rule
from towerlift.motion.states import STANDS_FAST
from towerlift.motion.walk import GROUND, NOTHING, SAME_HEIGHT, Doing, Place, Walk, heights
from towerlift.plan.work import Assemble, Lock, Secure, Sling, Transfer


def follow_assemble(walk: Walk, step: Assemble) -> None:
    """Build a section on the shaft floor.

    Parameters
    ----------
    walk : Walk
        The site; changed.
    step : Assemble
        The step.
    """
    name = step.section
    if walk.section(name) is None:
        walk.unknown("section", name)
        return
    if name in walk.places:
        walk.breach(
            Rule.STATE,
            name,
            f"the {name} is assembled although it is in the shaft already, {walk.state(name)}",
            ("leave the second assembly out",),
        )
        return
    during, after = walk.follow_change("assemble", name)
    _check_overhead(walk, name, step.at)
    walk.cleared = False
    walk.places[name] = Place(state=during, carrier=GROUND, heel=step.at)
    walk.record(Doing(step=step.do, subject=name, takes=step.takes))
    walk.change(name, after)


def _check_overhead(walk: Walk, name: str, at: float) -> None:
    for other, place in walk.places.items():
        if not place.heel > at + SAME_HEIGHT or place.carrier == GROUND:
            continue
        fast = place.state in STANDS_FAST
        decked = _deck_between(walk, at, place.heel)
        if (fast or place.state is State.SECURED) and decked:
            continue
        held = f"is {place.state} over it at heel {place.heel:.2f} m"
        missing = "" if decked else ", with no deck between"
        walk.breach(
            Rule.UNDER,
            name,
            f"the {name} is assembled while the {other} {held}{missing}",
            (
                f"lock the {other} on needles and put in a deck under it first",
                f"assemble the {name} before the {other} is raised over it",
            ),
            heel=place.heel,
        )


def _deck_between(walk: Walk, low: float, high: float) -> bool:
    for fixture in walk.plan.fixtures:
        if fixture.name in walk.fixtures and fixture.kind == "deck":
            lowest, highest = heights(fixture)
            if low < lowest and highest < high + SAME_HEIGHT:
                return True
    return False


def follow_sling(walk: Walk, step: Sling) -> None:
    """Make the tackles of a lift fast to a section, which still stands where it stood.

    Parameters
    ----------
    walk : Walk
        The site; changed.
    step : Sling
        The step.
    """
    name = step.section
    if not _present(walk, step.do, name):
        return
    during, after = walk.follow_change("sling", name)
    _check_bell_frame(walk, name)
    _check_rig(walk, step)
    if walk.lift(step.lift) is not None:
        walk.rigged.pop(step.lift, None)
        walk.rigged[step.lift] = name
    walk.change(name, during)
    walk.record(Doing(step=step.do, subject=name, lift=step.lift, takes=step.takes))
    walk.change(name, after)


def _check_bell_frame(walk: Walk, name: str) -> None:
    if walk.places[name].slung_before:
        return
    for item in walk.plan.fit_out:
        if item.on == name and item.kind == "bell frame" and item.name not in walk.fitted:
            walk.breach(
                Rule.BELL_FRAME,
                item.name,
                f"the {name} is slung before {item.name} is in it",
                (f'put a step "fit" of {item.name} before the {name} is slung',),
                heel=walk.places[name].heel,
            )


def _check_rig(walk: Walk, step: Sling) -> None:
    lift = walk.lift(step.lift)
    if lift is None:
        walk.unknown("lift", step.lift)
        return
    if lift.section != step.section:
        walk.breach(
            Rule.TACKLES,
            step.section,
            f"lift {lift.name} is drawn for the {lift.section}, not for the {step.section}",
            ("name the lift that is drawn for this section",),
        )
    _check_hung_from(walk, step.section, lift.name, lift.hung_from)
    mine = {line.capstan for line in lift.lines}
    for other, section in walk.rigged.items():
        rigged = walk.lift(other)
        shared = mine & {line.capstan for line in rigged.lines} if rigged else set()
        if other != lift.name and shared:
            walk.breach(
                Rule.TACKLES,
                step.section,
                f"lifts {other} (of the {section}) and {lift.name} (of the {step.section}) "
                f"are both led to capstan {', '.join(sorted(shared))}",
                (
                    f'put a step "transfer" of the {section} before it',
                    "lead one of the two lifts to other capstans",
                ),
            )


def _check_hung_from(walk: Walk, name: str, lift: str, hung_from: str) -> None:
    if walk.section(hung_from) is not None:
        state = walk.state(hung_from)
        if state in {*STANDS_FAST, State.COMPLETE}:
            return
        why = f"the {hung_from}, which is {state}"
        remedy = f"lock the {hung_from} before the {name} is slung from it"
    else:
        if hung_from in walk.fixtures:
            return
        why = f"{hung_from}, which is not in place"
        remedy = f"install {hung_from} before the {name} is slung"
    walk.breach(Rule.TACKLES, name, f"lift {lift} hangs from {why}", (remedy,))


def follow_secure(walk: Walk, step: Secure | Lock) -> None:
    """Hand a parked section to pendants, needles or another section.

    Parameters
    ----------
    walk : Walk
        The site; changed.
    step : Secure or Lock
        The step.
    """
    name = step.section
    if not _present(walk, step.do, name):
        return
    during, after = walk.follow_change(step.do, name)
    walk.cleared = False
    walk.change(name, during)
    walk.record(Doing(step=step.do, subject=name, takes=step.takes))
    carrier = step.on if _may_carry(walk, step) else None
    if walk.state(step.on) is State.SECURED:
        after = State.SECURED  # it stands no faster than what carries it
    walk.change(name, after, carrier=carrier)


def _may_carry(walk: Walk, step: Secure | Lock) -> bool:
    # A carrier that is not there is recorded, and the section stays on what holds it.
    name, on = step.section, step.on
    if walk.section(on) is None:
        if on in walk.fixtures:
            return True
        why = f"{on}, which is not in place"
        remedy = f"install {on} before it"
    elif on == name or on in walk.carried_by(name):
        why = f"the {on}, which stands on it"
        remedy = "name what is to carry it"
    elif on not in walk.places:
        why = f"the {on}, which is not in the shaft"
        remedy = f"assemble the {on} before it"
    elif step.do == "secure":
        why = f"the {on}, which is no pendant"
        remedy = f'write it as a step "lock" on the {on}'
    elif walk.state(on) in {*STANDS_FAST, State.COMPLETE, State.SECURED}:
        return True
    else:
        why = f"the {on}, which is itself {walk.state(on)}"
        remedy = f"lock the {on} before it"
    walk.breach(
        Rule.PRESENCE if "not in" in why else Rule.HELD,
        name,
        f'step "{step.do}" hands the {name} to {why}',
        (remedy,),
        heel=walk.places[name].heel,
    )
    return on in walk.places and on != name and on not in walk.carried_by(name)


def follow_transfer(walk: Walk, step: Transfer) -> None:
    """Take the tackles off a section that something else carries.

    Parameters
    ----------
    walk : Walk
        The site; changed.
    step : Transfer
        The step.
    """
    name = step.section
    if not _present(walk, step.do, name):
        return
    carrier = walk.places[name].carrier
    carried = carrier in walk.fixtures or carrier in walk.places or carrier == GROUND
    state = walk.state(name)
    if carried or state in STANDS_FAST:
        during, after = walk.follow_change("transfer", name)
    else:
        during, after = state, state
    if not carried:
        walk.breach(
            Rule.HELD,
            name,
            f"the tackles come off the {name}, {state}, which nothing else carries",
            (f"lock the {name} on needles or on another section, or secure it, first",),
            heel=walk.places[name].heel,
        )
    walk.cleared = False
    walk.change(name, during)
    walk.record(Doing(step=step.do, subject=name, takes=step.takes))
    walk.rigged = {lift: each for lift, each in walk.rigged.items() if each != name}
    walk.change(name, after, carrier=None if carried else NOTHING)


def _present(walk: Walk, do: str, name: str) -> bool:
    if name in walk.places:
        return True
    walk.breach(
        Rule.PRESENCE,
        name,
        f'step "{do}" is about the {name}, which is not in the shaft yet',
        (f"assemble the {name} before it", "leave the step out"),
    )
    return False
