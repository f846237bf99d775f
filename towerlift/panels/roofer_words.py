"""The roofer's windows in words."""

from datetime import date
from html import escape
from math import isnan

from towerlift.programme.windows import RoofBench
from towerlift.programme.windows_limits import MEAN, MEAN_SHEETS
from towerlift.programme.windows_sheet import BandSheet, RoofSheet, Window


def chance_words(chance: float) -> str:
    """A chance in per cent, or that it is not known."""
    return "weather not known" if isnan(chance) else f"weather {100 * chance:.0f} %"


def windows_of_day(sheet: RoofSheet, day: date) -> str:
    """What may be clad on a date.

    Parameters
    ----------
    sheet : RoofSheet
        Bands with their windows.
    day : date
        At the site.

    Returns
    -------
    words : str
        Empty where nothing may.
    """
    said = []
    for each in sheet.bands:
        found = [w for w in each.windows if w.opening.begins.date() == day and w.complete]
        best = max(found, key=lambda window: window.share, default=None)
        if best is None:
            continue
        part = "" if best.whole else "part of "
        said.append(
            (
                -best.share * best.whole,
                f"{part}{short(each.band.name)} {best.opening.begins:%H:%M}, off by "
                f"{best.off_by:%H:%M}, {chance_words(best.chance)}",
            )
        )
    return "; ".join(words for _, words in sorted(said, key=lambda one: one[0]))


def short(name: str) -> str:
    """A band's name without the word band."""
    return name.removeprefix("band ")


def verdict_html(bench: RoofBench, sheet: RoofSheet) -> str:
    """The verdict on the plan's dates, parks and wind, in a few lines.

    Parameters
    ----------
    bench : RoofBench
        Gives the plan's own limits.
    sheet : RoofSheet
        What was asked, and what came of it.

    Returns
    -------
    html : str
        With what is wrong in words.
    """
    wrong = [each for each in sheet.bands if each.fault]
    undated = [each.band.name for each in sheet.bands if each.planned is None]
    if wrong:
        lines = [f"{len(wrong)} of {len(sheet.bands)} DATES WILL NOT DO"]
    else:
        lines = ["every date lies in a window"]
    if undated:
        lines.append(f"NO DATE for {', '.join(undated)}")
    marked = ' class="wrong"' if wrong or undated else ""
    parts = [f"<h4{marked}>{escape('; '.join(lines))}</h4>"]
    parts.append(f"<p>{escape(_parks(sheet))} {escape(_wind(bench, sheet))}</p>")
    return "".join(parts)


def _parks(sheet: RoofSheet) -> str:
    n = len(sheet.cover.parks)
    told = f"{n} parks are the fewest that reach all that can be reached"
    if sheet.unreached:
        lost = ", ".join(f"{low:.2f} to {high:.2f} m" for low, high in sheet.unreached)
        return f"NO PARK reaches s {lost}; {told}."
    return f"Every height is reached; {told}."


def _wind(bench: RoofBench, sheet: RoofSheet) -> str:
    needs = {each.band.sheets: bench.need(each.band, sheet.ask) for each in sheet.bands}
    small, sheets = needs.get(False), needs.get(True)
    told = []
    if small is not None:
        told.append(f"shingles stop at {small.mean:.1f} m/s, gust {small.gust:.1f}")
    if sheets is not None:
        told.append(f"lead at {sheets.mean:.1f}, gust {sheets.gust:.1f}, and in rain")
    words = f"Wind at the deck: {'; '.join(told)}"
    need = small or sheets
    source = "" if need is None else f" ({need.source})"
    usual = MEAN.value if small is not None else MEAN_SHEETS.value
    if need is not None and sheet.ask.mean is not None and need.mean > usual:
        return f"{words}. ABOVE THE USUAL LIMIT: to try, not to work by{source}."
    return f"{words}{source}."


def band_table(sheet: RoofSheet) -> str:
    """Every band with its date, what is wrong with it, and its first window.

    Parameters
    ----------
    sheet : RoofSheet
        Bands with their windows.

    Returns
    -------
    html : str
        A table.
    """
    head = "".join(
        f"<th>{each}</th>"
        for each in ("band", "in the plan", "first whole window from the date on")
    )
    rows = "".join(_row(each) for each in sheet.bands)
    laps = "".join(
        f"<p>Lap at s {lap.s:.2f} m, {1000 * lap.overlap:.0f} mm: {escape(lap.words)}.</p>"
        for lap in sheet.laps[:1]
    )
    more = "" if len(sheet.laps) < 2 else f"<p>{len(sheet.laps) - 1} more laps alike.</p>"
    ways = dict.fromkeys(_way(each) for each in sheet.bands)
    told = "".join(f"<p>Way off{_whose(sheet, way)}: {escape(way)}.</p>" for way in ways)
    up = f"<p>{escape(_masses(sheet))}</p>" if sheet.masses else ""
    return f"<table><tr>{head}</tr>{rows}</table>{told}{up}{laps}{more}"


def _masses(sheet: RoofSheet) -> str:
    """What each haul of the section carries of the cladding that is then on."""
    carried: dict[str, float] = {}
    for each in sheet.masses:
        if each.next_haul:
            carried[each.next_haul] = each.total
    told = ", ".join(f"{stage} {total:.0f} kg" for stage, total in carried.items())
    return f"Cladding that goes up with the next haul: {told}."


def _whose(sheet: RoofSheet, way: str) -> str:
    names = [short(each.band.name) for each in sheet.bands if _way(each) == way]
    return "" if len(names) == len(sheet.bands) else f" of {', '.join(names)}"


def _row(each: BandSheet) -> str:
    mark = ' class="wrong"' if each.fault or each.planned is None else ""
    planned = "no date"
    if each.planned is not None:
        planned = f"{each.planned.starts:%d %b %H:%M}-{each.planned.ends:%H:%M}"
    if each.fault:
        planned += f" WILL NOT DO: {each.fault}"
    cells = (short(each.band.name), planned, _first(each.first))
    return f"<tr{mark}>" + "".join(f"<td>{escape(cell)}</td>" for cell in cells) + "</tr>"


def _first(window: Window | None) -> str:
    if window is None:
        return "none by the plan's dates"
    return (
        f"{window.opening.begins:%d %b %H:%M}-{window.off_by:%H:%M} "
        f"({chance_words(window.chance)}), then {window.opening.because}"
    )


def _way(each: BandSheet) -> str:
    work = each.planned
    if work is None or not work.way_off:
        return "NOT GIVEN"
    takes = "minutes NOT GIVEN"
    if work.rescue_takes is not None:
        takes = f"{work.rescue_takes / 60:.0f} min"
    return f"{work.way_off}; rescue: {work.rescue or 'NOT GIVEN'}, {takes}"
