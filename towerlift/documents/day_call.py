"""The call on raising day as text and as a record."""

from math import isfinite, isnan

from towerlift.drawings.odds import odds_words
from towerlift.programme.weather_call import Word
from towerlift.what_if.calling import CallBench, DayCall
from towerlift.what_if.calling_odds import Odds
from towerlift.what_if.calling_words import call_lines, headline

TITLE = "The call"


def told_call(bench: CallBench, made: DayCall, odds: Odds | str) -> list[tuple[str, str]]:
    """A call as paragraphs, the answer first.

    Parameters
    ----------
    bench : CallBench
        That made it.
    made : DayCall
        As made.
    odds : Odds or str
        Chances by a record, or why none are told.

    Returns
    -------
    paragraphs : list of (str, str)
        Head and text of each.
    """
    asked, ways = made.asked, made.ways
    place = "on its lock" if asked.heel is None else f"its heel at {asked.heel:.2f} m"
    at = asked.at.astimezone(bench.zone)
    return [
        ("", headline(made)),
        ("", f"Stage {ways.stage}, {ways.section}, {place}, at {at:%H:%M on %d %B %Y}."),
        ("why: ", made.call.why),
        *(
            (f"{line.what}: ", f"{line.value} ({line.source})")
            for line in call_lines(bench, made)
        ),
        *(("NOT EVALUATED: ", each) for each in made.unknown),
        ("chance of such a window: ", odds if isinstance(odds, str) else odds_words(odds)),
    ]


def call_record(made: DayCall, odds: Odds | str) -> dict[str, object]:
    """A call for other programs.

    Parameters
    ----------
    made : DayCall
        As made.
    odds : Odds or str
        Chances by a record, or why none are told.

    Returns
    -------
    record : dict
        Times in minutes, moments with their offset; None where there is none.
    """
    ways = made.ways
    return {
        "call": str(made.call.word),
        "words": headline(made),
        "why": made.call.why,
        "stage": ways.stage,
        "section": ways.section,
        "heel_m": made.asked.heel,
        "at": made.asked.at.isoformat(),
        "until": made.left.until.isoformat(),
        "until_why": made.left.why,
        "next_start": None if made.next_start is None else made.next_start.isoformat(),
        "ahead_min": _minutes(made.reach.ahead),
        "back_min": _minutes(made.reach.back),
        "turning_point_m": ways.turning_point,
        "spare_min": _minutes(made.call.spare),
        "not_evaluated": list(made.unknown),
        "chances": odds if isinstance(odds, str) else _chances(odds),
    }


def is_go(made: DayCall) -> bool:
    """Whether the call is to go."""
    return made.call.word is Word.GO


def _chances(odds: Odds) -> dict[str, object]:
    return {
        "source": odds.source,
        "window_min": odds.length / 60.0,
        "by_month": {
            str(month): {
                str(n): None if isnan(chance[month - 1]) else float(chance[month - 1])
                for n, chance, _ in odds.within
            }
            for month in odds.months
        },
    }


def _minutes(seconds: float) -> float | None:
    return seconds / 60.0 if isfinite(seconds) else None
