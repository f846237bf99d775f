"""Light and dates: when a stage must have begun, and which rules the plan's dates break."""

from datetime import datetime, timedelta

from towerlift.documents.blocks import Block, Column, Grid, Weight, Words
from towerlift.documents.edition import Edition
from towerlift.motion.passages import Passage
from towerlift.plan.limits import limit_in_plan
from towerlift.plan.work import Stage
from towerlift.programme import crossings, daylight, undated
from towerlift.programme.tasks import LIGHT_LEFT


def locked_at(edition: Edition, stage: Stage) -> datetime | None:
    """When the last thing that moves in a stage is locked or secured.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    stage : Stage
        Which.

    Returns
    -------
    moment : datetime or None
        None where the stage has no date, or nothing in it is locked.
    """
    last: Passage | None = None
    for passage in edition.passages(stage.name):
        if passage.step in ("lock", "secure"):
            last = passage
    if last is None or last.begins is None:
        return None
    return last.begins + timedelta(seconds=last.duration)


def light_words(edition: Edition, stage: Stage) -> str:
    """Sunset of a stage's day, and the latest that it may begin.

    Parameters
    ----------
    edition : Edition
        Of which plan.
    stage : Stage
        Which.

    Returns
    -------
    words : str
        Loudly failing where it would not be locked with light to spare.
    """
    say, done = edition.say, locked_at(edition, stage)
    if stage.starts is None or done is None:
        return "NOT EVALUATED: no date, or no lock in this stage"
    day = stage.starts.astimezone(say.zone).date()
    sunset = daylight(edition.plan.site, day).sunset
    if sunset is None:
        return "NOT EVALUATED: the sun does not set on this day"
    left = timedelta(minutes=limit_in_plan(edition.plan, LIGHT_LEFT).value)
    latest = sunset - left - (done - stage.starts)
    told = f"sunset {say.clock(sunset)}, locked {say.clock(done)}"
    if latest < stage.starts:
        return f"FAIL, too late: {told}"
    return f"start by {_minute_before(edition, latest)} at the latest; {told}"


def _minute_before(edition: Edition, moment: datetime) -> str:
    # Rounded down: a latest start is never told too late.
    return edition.say.clock(moment - timedelta(seconds=30))


def date_blocks(edition: Edition) -> list[Block]:
    """Rules of order, light and exclusion that the plan's dates break.

    Parameters
    ----------
    edition : Edition
        Of which plan.

    Returns
    -------
    blocks : list of Block
        Loudly not evaluated where a stage has no date.
    """
    missing = undated(edition.plan)
    if missing:
        words = f"NOT EVALUATED: dates: no date for stage {', '.join(missing)}"
        return [Words(words=words, weight=Weight.LOUD)]
    broken = crossings(edition.plan, edition.outcome.raise_)
    if not broken:
        words = "The dates keep every rule of order, light, rest and exclusion."
        return [Words(words=words, weight=Weight.STRONG)]
    say = edition.say
    return [
        Grid(
            name=f"RULES THAT THE DATES BREAK: {len(broken)}",
            columns=(Column(head="verdict"), Column(head="who", width=1),
                     Column(head="when", width=1), Column(head="why", width=3)),
            rows=tuple(
                ("FAIL", ", ".join(each.names), say.when(each.begins), each.why)
                for each in broken
            ),
        )
    ]  # fmt: skip
