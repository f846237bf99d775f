"""Every step but hauling: what it needs, and what it changes."""

from dataclasses import replace

from towerlift.motion.passages import State
from towerlift.motion.rules import Rule
from towerlift.motion.states import MAY_BE_FITTED, STANDS_FAST
from towerlift.motion.walk import GROUND, NOTHING, SAME_HEIGHT, Doing, Place, Walk, heights
from towerlift.plan.work import (
    Assemble,
    Clear,
    Fit,
    Install,
    Lock,
    Secure,
    Sling,
    Strike,
    Transfer,
)


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
        _unknown(walk, "section", name)
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
    _record(walk, step, name)
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
    _record(walk, step, name, lift=step.lift)
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
        _unknown(walk, "lift", step.lift)
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
    _record(walk, step, name)
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
    _record(walk, step, name)
    walk.rigged = {lift: each for lift, each in walk.rigged.items() if each != name}
    walk.change(name, after, carrier=None if carried else NOTHING)


def follow_fit(walk: Walk, step: Fit) -> None:
    """Put a fit-out item into its section.

    Parameters
    ----------
    walk : Walk
        The site; changed.
    step : Fit
        The step.
    """
    item = next((each for each in walk.plan.fit_out if each.name == step.item), None)
    if item is None:
        _unknown(walk, "fit-out item", step.item)
        return
    state = walk.state(item.on)
    heel = walk.places[item.on].heel if item.on in walk.places else None
    if state not in MAY_BE_FITTED:
        walk.breach(
            Rule.FITTING,
            item.name,
            f"{item.name} is put into the {item.on} while it is {state}",
            (f"fit it while the {item.on} is complete on the ground or locked",),
            heel=heel,
        )
    if item.name in walk.fitted:
        walk.breach(
            Rule.FITTING,
            item.name,
            f"{item.name} is put in twice",
            ("leave one out",),
            heel=heel,
        )
    walk.cleared = False
    _record(walk, step, item.name)
    walk.fitted.add(item.name)


def follow_install(walk: Walk, step: Install) -> None:
    """Put a fixture into the shaft.

    Parameters
    ----------
    walk : Walk
        The site; changed.
    step : Install
        The step.
    """
    if walk.fixture(step.fixture) is None:
        _unknown(walk, "fixture", step.fixture)
        return
    if step.fixture in walk.fixtures:
        walk.breach(
            Rule.PRESENCE,
            step.fixture,
            f"{step.fixture} is put in although it is in place already",
            ("leave the second one out", f"strike {step.fixture} before"),
        )
    walk.cleared = False
    _record(walk, step, step.fixture)
    walk.fixtures.add(step.fixture)


def follow_strike(walk: Walk, step: Strike) -> None:
    """Take a fixture out of the shaft.

    Parameters
    ----------
    walk : Walk
        The site; changed.
    step : Strike
        The step.
    """
    name = step.fixture
    if walk.fixture(name) is None:
        _unknown(walk, "fixture", name)
        return
    if name not in walk.fixtures:
        walk.breach(
            Rule.PRESENCE,
            name,
            f"{name} is struck although it is not in place",
            (f"install {name} before", "leave the step out"),
        )
    _check_free(walk, name)
    walk.cleared = False
    _record(walk, step, name)
    walk.fixtures.discard(name)
    for section, place in walk.places.items():
        if place.carrier == name:
            walk.places[section] = replace(place, carrier=NOTHING)


def _check_free(walk: Walk, name: str) -> None:
    for section, place in walk.places.items():
        if place.carrier == name:
            walk.breach(
                Rule.HELD,
                name,
                f"{name} is struck while it still carries the {section}, {place.state}",
                (f"take the {section} off it first: float it, or lock it elsewhere",),
                heel=place.heel,
            )
    for lift_name, section in walk.rigged.items():
        lift = walk.lift(lift_name)
        if lift is not None and lift.hung_from == name:
            walk.breach(
                Rule.HELD,
                name,
                f"{name} is struck while lift {lift_name} of the {section} hangs from it",
                (f'put a step "transfer" of the {section} before it',),
                heel=walk.places[section].heel,
            )


def follow_clear(walk: Walk, step: Clear) -> None:
    """Send everybody out of the column.

    Parameters
    ----------
    walk : Walk
        The site; changed.
    step : Clear
        The step.
    """
    _record(walk, step, "column")
    walk.cleared = True


def _record(
    walk: Walk,
    step: Assemble | Sling | Secure | Lock | Transfer | Fit | Install | Strike | Clear,
    subject: str,
    *,
    lift: str | None = None,
) -> None:
    walk.record(Doing(step=step.do, subject=subject, lift=lift, takes=step.takes))


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


def _unknown(walk: Walk, kind: str, name: str) -> None:
    walk.breach(
        Rule.PRESENCE,
        name,
        f'the plan has no {kind} named "{name}"',
        (f"correct the name, or add the {kind} to the plan",),
    )
