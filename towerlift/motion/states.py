"""The permitted changes of a section's state, in one table."""

from dataclasses import dataclass

from towerlift.motion.passages import State


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What one step does to a section's state.

    Attributes
    ----------
    before : State
        State the section must be in.
    during, after : State
        State while the step lasts, and when it is done.
    """

    before: State
    during: State
    after: State


_ROWS: tuple[tuple[str, State, State, State], ...] = (
    # step       before               during               after
    ("assemble", State.GROUND, State.ASSEMBLING, State.COMPLETE),
    ("sling", State.COMPLETE, State.SLUNG, State.SLUNG),
    ("sling", State.SECURED, State.SLUNG, State.SLUNG),
    ("sling", State.LOCKED, State.SLUNG, State.SLUNG),
    ("sling", State.TRANSFERRED, State.SLUNG, State.SLUNG),
    ("float", State.SLUNG, State.FLOATED, State.FLOATED),
    ("lift", State.FLOATED, State.MOVING, State.PARKED),
    ("lift", State.PARKED, State.MOVING, State.PARKED),
    ("lower", State.FLOATED, State.MOVING, State.PARKED),
    ("lower", State.PARKED, State.MOVING, State.PARKED),
    ("secure", State.PARKED, State.PARKED, State.SECURED),
    ("lock", State.PARKED, State.PARKED, State.LOCKED),
    ("lock", State.SECURED, State.SECURED, State.LOCKED),
    ("transfer", State.SECURED, State.SECURED, State.SECURED),
    ("transfer", State.LOCKED, State.LOCKED, State.TRANSFERRED),
)

CHANGES: dict[tuple[str, State], Change] = {
    (step, before): Change(before=before, during=during, after=after)
    for step, before, during, after in _ROWS
}

# What a step leads to when it is followed although the state forbids it.
_RESULT: dict[str, tuple[State, State]] = {
    step: (during, after) for step, _, during, after in reversed(_ROWS)
}

HELD_BY_TACKLES = frozenset({State.SLUNG, State.FLOATED, State.MOVING, State.PARKED})
STANDS_FAST = frozenset({State.LOCKED, State.TRANSFERRED})
MAY_BE_FITTED = frozenset(
    {State.ASSEMBLING, State.COMPLETE, State.SECURED, State.LOCKED, State.TRANSFERRED}
)


def permitted(step: str, state: State) -> Change | None:
    """The change a step makes to a section in a state, or None if it is forbidden.

    Parameters
    ----------
    step : str
        What is done, such as "sling".
    state : State
        State the section is in.

    Returns
    -------
    change : Change or None
        Row of the table.
    """
    return CHANGES.get((step, state))


def states_before(step: str) -> tuple[State, ...]:
    """States in which a step is permitted, in the order a section passes through them.

    Parameters
    ----------
    step : str
        What is done, such as "sling".

    Returns
    -------
    states : tuple of State
        Empty for a step that changes no section's state.
    """
    return tuple(state for state in State if (step, state) in CHANGES)


def literal(step: str, state: State) -> Change:
    """The change a step makes when it is carried out whatever the state.

    Parameters
    ----------
    step : str
        A step of the table.
    state : State
        State the section is in, permitted or not.

    Returns
    -------
    change : Change
        The permitted one where there is one, else what the step leads to elsewhere.
    """
    change = permitted(step, state)
    if change is not None:
        return change
    during, after = _RESULT[step]
    return Change(before=state, during=during, after=after)
