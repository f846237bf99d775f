"""Hold points: what must be signed before work goes on, and which stage needs which.

The marks are this package's own list; a plan names them in its stages.
"""

from collections.abc import Iterator
from types import MappingProxyType

from towerlift.motion.raises import Raise
from towerlift.plan.model import Plan
from towerlift.plan.work import Stage

HOLD_POINTS = MappingProxyType(
    {
        "H1": "the survey is accepted",
        "H2": "the section as built is inside its budget",
        "H3": "anchors and gantry are proved",
        "H4": "every coil is read by its tag against the reeving sheet",
        "H5": "the hands are mustered and drilled",
        "H6": "the weather holds and the latest start is not past",
        "H7": "the column is clear and the deck is out of the way",
        "H8": "the section floats: loads as reckoned, no creep in 10 min",
        "H9": "it is level within the limit at every step",
        "H10": "a pick-up touches all its ledges level",
        "H11": "every lock is in, packed and hammered",
        "H12": "the tackles are slack and nothing has moved in 15 min",
        "H13": "tags on and off the tower are counted",
        "H14": "at the turning point: on, or back",
    }
)


SIGNED_FOR = MappingProxyType(
    {
        "H1": "The survey is accepted as that of the shaft that stands",
        "H2": "What was built has been measured and lies inside the budget of its gaps",
        "H3": "Anchors and gantry are proved by a pull",
        "H4": "Every coil on the rig bears the tag of the reeving list and has its certificate",
        "H5": "Hands are mustered, told off to their bars and drilled",
        "H6": "Weather and light will hold, and the latest start has not passed",
        "H7": "The column is clear of people and loose things, and every deck in the way is "
        "out",
        "H8": "Float: sum of the load cells within 5 % of the reckoned weight, corner shares "
        "within 15 %, nothing creeps for 10 min",
        "H9": "Level within its limit at every step",
        "H10": "Pick-up: the ledges meet level at all four corners",
        "H11": "Locks counted, four of four: in, packed and hammered",
        "H12": "Transfer: tackles slack, and nothing has moved for 15 min",
        "H13": "Roofers' tags counted, off before a move and on after it",
        "H14": "At the turning point: on to the lock above, or back to the one below",
    }
)
"""What a name under each of them says to have seen, with its figures."""


def needed_holds(plan: Plan, raise_: Raise, stage: Stage) -> Iterator[tuple[str, str]]:
    """Hold points that a stage cannot do without.

    Parameters
    ----------
    plan : Plan
        Its stages, in order.
    raise_ : Raise
        The same plan's: gives pick-ups.
    stage : Stage
        One of them.

    Yields
    ------
    mark, why : str
        Mark of the hold point, and what in the stage calls for it.
    """
    does = [step.do for step in stage.steps]
    hauls = [step for step in does if step in ("lift", "lower")]
    if stage is next((each for each in plan.stages if each.steps), None):
        yield "H1", "it is the first stage"
    if "assemble" in does:
        yield "H2", "it assembles a section"
    if hauls and stage is _first_haul(plan):
        for mark in ("H3", "H4", "H5"):
            yield mark, "it is the first to haul"
    if hauls:
        for mark in ("H6", "H7", "H9"):
            yield mark, "it hauls"
    if "float" in does:
        yield "H8", "it takes a weight off what carries it"
    passages = [each for each in raise_.passages if each.stage == stage.name]
    if any("picks up" in each.event for each in passages):
        yield "H10", "it picks a section up"
    if "lock" in does or "secure" in does:
        yield "H11", "it locks or secures a section"
    if "transfer" in does:
        yield "H12", "it takes the tackles off"
    if _on_and_off(plan, stage):
        yield "H13", "people have been on a section that it hauls"
    if "lift" in does:
        yield "H14", "it lifts"


def _first_haul(plan: Plan) -> Stage | None:
    for stage in plan.stages:
        if any(step.do in ("lift", "lower") for step in stage.steps):
            return stage
    return None


def _on_and_off(plan: Plan, stage: Stage) -> bool:
    hauled = {step.section for step in stage.steps if step.do in ("lift", "lower")}
    return any(
        activity.place == "on" and activity.section in hauled for activity in plan.activities
    )
