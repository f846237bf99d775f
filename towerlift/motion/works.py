"""Fit-out and fixtures going in and out, and clearing the column."""

from dataclasses import replace

from towerlift.motion.rules import Rule
from towerlift.motion.states import MAY_BE_FITTED
from towerlift.motion.walk import NOTHING, Doing, Walk
from towerlift.plan.work import Clear, Fit, Install, Strike


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
        walk.unknown("fit-out item", step.item)
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
    walk.record(Doing(step=step.do, subject=item.name, takes=step.takes))
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
        walk.unknown("fixture", step.fixture)
        return
    if step.fixture in walk.fixtures:
        walk.breach(
            Rule.PRESENCE,
            step.fixture,
            f"{step.fixture} is put in although it is in place already",
            ("leave the second one out", f"strike {step.fixture} before"),
        )
    walk.cleared = False
    walk.record(Doing(step=step.do, subject=step.fixture, takes=step.takes))
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
        walk.unknown("fixture", name)
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
    walk.record(Doing(step=step.do, subject=name, takes=step.takes))
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
    walk.record(Doing(step=step.do, subject="column", takes=step.takes))
    walk.cleared = True
