"""What a programme risks, in words."""

from collections.abc import Iterator
from datetime import datetime

from towerlift.programme.risk import Chance
from towerlift.programme.risk_report import RiskReport

RISK = "WHAT IT RISKS"
_MOST = 8  # drivers that are told


def told_risk(report: RiskReport, *, weather: bool) -> Iterator[tuple[str, str]]:
    """A report paragraph by paragraph.

    Parameters
    ----------
    report : RiskReport
        Of many draws.
    weather : bool
        Whether the weather was drawn as well.

    Yields
    ------
    head, text : str
        A mark to put before a paragraph, and the paragraph.
    """
    n = report.programmes.starts.shape[1]
    without = "" if weather else "; the weather is left out"
    yield (
        "",
        f"{n} programmes drawn in the order above, nothing before its date{without}. Each "
        "chance with its standard error, from the number of draws alone.",
    )
    last = report.by
    yield "", f"All done by {last:%a %Y-%m-%d %H:%M}: {percent(report.in_time)}."
    done = " / ".join(_moment(each) for each in report.finish)
    yield "", f"One in ten / half / nine in ten are done by {done}."
    if report.n_stuck:
        yield "", f"{report.n_stuck} found no room for something, and count as late."
    if report.lifts:
        yield "", f"No haul runs into the dark: {percent(report.all_in_light)}."
    for lift in report.lifts:
        yield (
            "* ",
            f"{lift.stage}: over in the light {percent(lift.in_light)}, on its own day "
            f"{percent(lift.on_its_day)}",
        )
    yield "", "What drives the finish, strongest first:"
    for driver in report.drivers[:_MOST]:
        yield (
            "* ",
            f"{driver.name}: correlation of its length with the finish "
            f"{driver.correlation:.2f}; on the chain of what was waited for last in "
            f"{driver.critical:.0%}",
        )
    told = report.drivers[:_MOST]
    for source in dict.fromkeys(each.spread.source for each in told):
        names = [each.name for each in told if each.spread.source == source]
        whose = "all of these" if len(names) == len(told) else ", ".join(names)
        yield "", f"Durations of {whose}: {source}."


def percent(chance: Chance) -> str:
    """A chance in per cent, never rounded up to certain.

    Parameters
    ----------
    chance : Chance
        Any.

    Returns
    -------
    words : str
        Such as "94.3 % ± 0.2".
    """
    share = 100.0 * chance.share
    if 0.0 < share < 100.0:
        share = min(max(share, 0.1), 99.9)
    return f"{share:.1f} % ± {max(100.0 * chance.error, 0.05):.1f}"


def _moment(moment: datetime | None) -> str:
    return "never" if moment is None else f"{moment:%Y-%m-%d %H:%M}"
