"""A plan with the dates of a programme in place of its own."""

from collections.abc import Iterator

from towerlift.plan.model import Plan
from towerlift.plan.work import Activity
from towerlift.programme.bookings import Booking, Programme


def redated(plan: Plan, programme: Programme) -> Plan:
    """The plan with every stage and activity at the time that a programme gives it.

    Parameters
    ----------
    plan : Plan
        The plan that the programme was made for.
    programme : Programme
        Holds a booking of each of its stages and activities.

    Returns
    -------
    plan : Plan
        Work that is broken off becomes a row for each piece; the last keeps its name,
        since what waits for it waits for its end.

    Raises
    ------
    ValueError
        If the programme has no booking of something in the plan.
    """
    named = [stage.name for stage in plan.stages] + [each.name for each in plan.activities]
    missing = [name for name in named if not programme.of(name)]
    if missing:
        raise ValueError(f"the programme has no booking of {', '.join(missing)}")
    stages = tuple(
        stage.model_copy(update={"starts": programme.of(stage.name)[0].starts})
        for stage in plan.stages
    )
    work = tuple(
        piece
        for activity in plan.activities
        for piece in _pieces(activity, programme.of(activity.name))
    )
    return plan.model_copy(update={"stages": stages, "activities": work})


def _pieces(activity: Activity, bookings: tuple[Booking, ...]) -> Iterator[Activity]:
    if len(bookings) == 1:
        only = bookings[0]
        took = {"starts": only.starts, "ends": only.ends, "takes": None}
        yield activity.model_copy(update=took)
        return
    earlier: tuple[str, ...] = activity.after
    for booking in bookings:
        last = booking.part == booking.parts
        name = activity.name if last else f"{activity.name}, part {booking.part}"
        changes: dict[str, object] = {
            "name": name,
            "starts": booking.starts,
            "ends": booking.ends,
            "takes": None,
            "courses": 1,
            "after": earlier,
        }
        if not last:
            changes |= {"before": (), "cures": 0.0, "within": None, "signs": ()}
        yield activity.model_copy(update=changes)
        earlier = (name,)
