"""The rules of order, by name."""

from enum import StrEnum


class Rule(StrEnum):
    """A rule that the order of the stages must keep; the value is how findings name it."""

    PRESENCE = "what a step names is in place"
    PRECEDENCE = "stages follow those they depend on"
    TIMES = "a stage starts when the one before it has ended"
    IN_CHARGE = "every change has a named person in charge"
    STATE = "a step fits the state of its section"
    HELD = "nothing is taken away before what it holds is free"
    TACKLES = "tackles hang from what stands fast, on capstans of their own"
    CLEARED = "the column is cleared before a weight is taken"
    TRAVEL = "lifts rise and lowerings go down, above the shaft floor"
    PICK_UP = "every pick-up is planned"
    NEST = "a section stays above the ledge of the one round it"
    NEEDLE = "no needle stands in the way of a section that rises round it"
    UNDER = "assembly is under what stands fast, with a deck between"
    FITTING = "fit-out goes in while its section stands fast"
    BELL_FRAME = "a bell frame is in before its section is slung"
