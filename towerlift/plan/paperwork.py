"""What goes to paper only: signatures, arrangements on site, and the ways in for members."""

from typing import Literal

from towerlift.plan.quantities import Coordinate, Instant, Length, Name, PlanModel


class Signed(PlanModel):
    """A hold point that somebody has signed.

    Attributes
    ----------
    hold_point : str
        Its mark, such as "H4".
    stage : str
        Stage that it releases.
    by : str
        Name of one of the plan's people.
    at : datetime
        When it was signed.
    content : str
        Content mark of the plan it was signed for, from the foot of its papers; a
        signature for another content does not count. Empty where none was written down.
    """

    hold_point: Name
    stage: Name
    by: Name
    at: Instant
    content: str = ""
    note: str = ""


class Arrangement(PlanModel):
    """Something that is arranged on site and that no reckoning gives.

    Attributes
    ----------
    about : str
        What it is about.
    words : str
        What is arranged, for whoever reads the papers.
    by : str
        Name of one of the plan's people, who answers for it.
    """

    about: Literal[
        "scope",
        "communication",
        "signals",
        "hospital route",
        "emergency plan",
        "access",
        "ground and support",
        "services",
        "protective equipment",
        "qualifications",
        "inspection and testing",
        "set-up and dismantling",
        "parts that could shift",
        "lighting",
        "site change",
        "assumption",
        "cost",
        "briefing",
    ]
    words: Name
    by: Name


class WayIn(PlanModel):
    """A way by which members come into the shaft.

    Attributes
    ----------
    kind : str
        "door": a piece comes in level and is turned up inside; "over the wall-head": it
        is lowered upright from a hook.
    width, height : float
        Clear opening: of a door, across and up; over the wall-head, the two sides of the
        opening in whatever covers it. [m]
    across : float or None
        Of a door, clear distance from it to what a piece meets inside. [m]
    hook : float or None
        Over the wall-head, the highest that the eye of a sling can be, shaft frame. [m]
    """

    name: Name
    kind: Literal["door", "over the wall-head"]
    width: Length
    height: Length
    across: Length | None = None
    hook: Coordinate | None = None
    source: str
