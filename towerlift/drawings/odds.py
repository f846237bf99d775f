"""Chance of a long enough window by month and hour of beginning, as a small table."""

from calendar import month_abbr
from math import isnan

from towerlift.drawings.svg import BOLD, GRID, MARK, QUIET, Ink, Sheet
from towerlift.what_if.calling_odds import Odds

WHITE, DARK = (255, 255, 255), (47, 93, 58)
ROW = 1.75  # of the height of its letters


def odds_table(odds: Odds, *, width: float = 640.0, text: float = 11.0) -> str:
    """Draw the chances of a window.

    Parameters
    ----------
    odds : Odds
        As reckoned from a record.
    width : float
        Of the drawing. [px]
    text : float
        Height of its letters. [px]

    Returns
    -------
    svg : str
        One element: months down, hours of beginning across, then days in a row.
    """
    row, left = ROW * text, 4.0 * text
    # Begun later, it would not be fast while there is light.
    hours = range(odds.part.first, odds.part.last - odds.by_hour.n_hours + 1)
    head = 3.6 * text
    paper = Sheet(width, head + row * len(odds.months) + 0.5 * text, text)
    n = len(hours) + 0.6 + 1.25 * len(odds.within)
    cell = (width - left - 4.0) / n
    paper.write((left, 1.2 * text), "chance in 100, begun at this hour", ink=QUIET)
    days = left + cell * (len(hours) + 0.6)
    paper.write((days, 1.2 * text), "one day of", ink=QUIET)
    for number, hour in enumerate(hours):
        x = left + cell * (number + 0.5)
        paper.write((x, 2.8 * text), f"{hour:02d}", "middle", ink=QUIET)
    for number, (n_days, _, _) in enumerate(odds.within):
        x = days + cell * 1.25 * (number + 0.5)
        paper.write((x, 2.8 * text), f"{n_days}", "middle", ink=QUIET)
    for number, month in enumerate(odds.months):
        top = head + row * number
        paper.line([(4, top), (width - 4, top)], colour=GRID)
        paper.write((4, top + 1.2 * text), month_abbr[month], ink=BOLD)
        for place, hour in enumerate(hours):
            _cell(paper, float(odds.by_hour.chance[month - 1, hour]),
                  (left + cell * place, top), (cell, row))  # fmt: skip
        for place, (_, chance, _) in enumerate(odds.within):
            _cell(paper, float(chance[month - 1]),
                  (days + 1.25 * cell * place, top), (1.25 * cell, row))  # fmt: skip
    return paper.svg("Chance of a long enough window", odds_words(odds))


def window_words(odds: Odds) -> str:
    """What the chances are of.

    Parameters
    ----------
    odds : Odds
        As reckoned from a record.

    Returns
    -------
    words : str
        Length of the window, hours between which it lies, and the record.
    """
    return (
        f"A window of {odds.by_hour.n_hours} whole hours between {odds.part.first:02d}:00 and "
        f"{odds.part.last:02d}:00, by {odds.source}"
    )


def odds_words(odds: Odds) -> str:
    """The same in a sentence.

    Parameters
    ----------
    odds : Odds
        As reckoned from a record.

    Returns
    -------
    words : str
        Chance of one day, and of several to choose from, for each month.
    """
    months = []
    for month in odds.months:
        parts = [
            f"{_percent(float(chance[month - 1]))} in {n} day{'' if n == 1 else 's'}"
            for n, chance, _ in odds.within
        ]
        months.append(f"{month_abbr[month]} {', '.join(parts)}")
    return f"{window_words(odds)}: {'; '.join(months)}."


def _percent(chance: float) -> str:
    # A chance is told no higher than it is.
    return "not known" if isnan(chance) else f"{int(100 * chance + 1e-9)} %"


def _cell(
    paper: Sheet, chance: float, corner: tuple[float, float], size: tuple[float, float]
) -> None:
    text = paper.text
    middle = (corner[0] + size[0] / 2, corner[1] + 1.2 * text)
    if isnan(chance):
        paper.write(middle, "?", "middle", ink=Ink(colour=MARK))
        return
    shade = "#" + "".join(
        f"{round(w + (d - w) * chance):02x}" for w, d in zip(WHITE, DARK, strict=True)
    )
    paper.box((corner[0] + 0.5, corner[1] + 0.5), (size[0] - 1, size[1] - 1), fill=shade,
              role="odds")  # fmt: skip
    ink = Ink(colour="#ffffff" if chance > 0.5 else "#262a30")
    paper.write(middle, f"{int(100 * chance + 1e-9)}", "middle", ink=ink)
