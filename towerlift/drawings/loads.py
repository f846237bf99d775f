"""Load strip: weight on the tackles, and how far from toppling, along a haul."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from towerlift.checks.centre_of_gravity import CHECK, GUIDED, UNGUIDED
from towerlift.drawings.gaps import (
    LIMIT_DASH,
    PLOT_SHARE,
    Strip,
    draw_mark,
    empty_strip,
    name_axis,
)
from towerlift.drawings.runs import haul_near, heel_in_run, run_of
from towerlift.drawings.svg import (
    BOLD,
    HEAVY,
    INK,
    LIMIT,
    LINES,
    MARK,
    Frame,
    Ink,
    Sheet,
    n_ticks,
    round_ticks,
    shorten,
)
from towerlift.findings import Finding
from towerlift.motion.passages import Passage
from towerlift.rig.curves import HangCurve
from towerlift.workflow import Outcome

WORTH_SAYING = 0.005  # share by which the load must change to be told


def load_strip(outcome: Outcome, passage: Passage, strip: Strip | None = None) -> str:
    """Weight and stability ratio along the haul that a passage belongs to.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    passage : Passage
        Where the raise is.
    strip : Strip or None
        Size, and the share of the passage that is done.

    Returns
    -------
    svg : str
        Weight in kN above, stability ratio below, heel of the hauled section in m
        to the right; a pick-up is a step with its name.
    """
    strip = strip or Strip()
    sheet = Sheet(strip.width, strip.height, strip.text)
    haul = haul_near(outcome.raise_, passage)
    run = () if haul is None else run_of(outcome.raise_, haul)
    curves = _curves(outcome.hangs, run)
    if not curves:
        return empty_strip(sheet, passage, "load", run)
    upper, lower = _frames(strip, run, curves, _limits(outcome.findings, passage.stage))
    text = strip.text
    title = f"Load: {passage.stage}, {run[0].moving[0]} on lift {run[0].lift}"
    sheet.write((2, 1.1 * text), title, ink=BOLD)
    sheet.axes(upper, (), round_ticks(upper.y_low, upper.y_high, n_ticks(upper, text, 3)))
    across = round_ticks(lower.x_low, lower.x_high, 7)
    sheet.axes(lower, across, round_ticks(lower.y_low, lower.y_high, n_ticks(lower, text, 3)))
    sheet.write((2, upper.top - 0.35 * text), "kN")
    sheet.write((2, lower.top - 0.35 * text), "ratio")
    name_axis(sheet, lower, run[0])
    limits = _limits(outcome.findings, passage.stage)
    for limit in limits:
        ends = [(lower.left, lower.y(limit)), (lower.right, lower.y(limit))]
        sheet.line(ends, colour=LIMIT, width=1.6, dash=LIMIT_DASH, role="limit")
    _draw_curves(sheet, (upper, lower), curves)
    heel = heel_in_run(run, passage, strip.share)
    draw_mark(sheet, upper, heel)
    x = lower.x(heel)
    sheet.line([(x, lower.top), (x, lower.bottom)], colour=MARK, width=1.6, role="now")
    words = _in_words(run, curves, limits)
    _key(sheet, upper, words)
    return sheet.svg(f"Load along {passage.stage}", "; ".join(line for line, _ in words) + ".")


def _curves(hangs: Sequence[HangCurve], run: Sequence[Passage]) -> list[HangCurve]:
    ours = {passage.index for passage in run}
    found = [curve for curve in hangs if curve.passage in ours and len(curve.heels)]
    return sorted(found, key=lambda curve: curve.passage)


def _limits(findings: Sequence[Finding], stage: str) -> list[float]:
    found = {
        round(finding.limit_in_force.value, 2)
        for finding in findings
        if (finding.check, finding.stage) == (CHECK, stage)
        and finding.why.startswith((GUIDED.name, UNGUIDED.name))
    }
    return sorted(found)


def _frames(
    strip: Strip,
    run: Sequence[Passage],
    curves: Sequence[HangCurve],
    limits: Sequence[float],
) -> tuple[Frame, Frame]:
    text = strip.text
    hauled = run[0].moving[0]
    ends = [run[0].standing[hauled].heel_from, run[-1].standing[hauled].heel_to]
    left, top = 3.6 * text, 2.6 * text
    between = 1.9 * text
    height = (strip.height - top - between - 3.2 * text) / 2
    ratios = np.concatenate([curve.ratio for curve in curves])
    finite = ratios[np.isfinite(ratios)]
    heaviest = max(float(curve.weight.max()) for curve in curves) / 1000
    most = float(finite.max()) if len(finite) else 1.0
    least = float(finite.min()) if len(finite) else 1.0
    asked = max(limits, default=1.0)

    def frame(from_top: float, low: float, high: float) -> Frame:
        return Frame(
            left=left,
            top=from_top,
            width=PLOT_SHARE * strip.width - left,
            height=height,
            x_low=min(ends),
            x_high=max(ends),
            y_low=low,
            y_high=high,
        )

    topmost = max(1.5 * asked, min(1.1 * most, 3.0 * least))
    return frame(top, 0.0, 1.2 * heaviest), frame(
        top + height + between, min(0.0, 1.1 * least), topmost
    )


def _draw_curves(
    sheet: Sheet, frames: tuple[Frame, Frame], curves: Sequence[HangCurve]
) -> None:
    upper, lower = frames
    loads, ratios = [], []
    for curve in curves:
        loads += [
            (upper.x(heel), upper.y(weight / 1000))
            for heel, weight in zip(curve.heels, curve.weight, strict=True)
        ]
        ratios += [
            (lower.x(heel), lower.y(ratio if np.isfinite(ratio) else lower.y_high))
            for heel, ratio in zip(curve.heels, curve.ratio, strict=True)
        ]
    sheet.line(loads, colour=LINES[0][0], width=1.9, role="weight")
    colour, dash = LINES[1]
    sheet.line(ratios, colour=colour, width=1.7, dash=dash, role="ratio")


def _in_words(
    run: Sequence[Passage], curves: Sequence[HangCurve], limits: Sequence[float]
) -> list[tuple[str, str]]:
    """Lines of the key, and which curve each belongs to."""
    first, last = curves[0], curves[-1]
    words = [
        (
            f"weight {first.weight[0] / 1000:.1f}, ends {last.weight[-1] / 1000:.1f} kN",
            "weight",
        ),
    ]
    events = {passage.index: passage.event for passage in run}
    for before, after in pairwise(curves):
        event = events.get(after.passage, "")
        step = after.weight[0] - before.weight[-1]
        if not event and abs(step) < WORTH_SAYING * before.weight[-1]:
            continue
        event = event.partition(" at heel")[0] or "the load changes"
        words.append((f"{_signed(step)} at heel {after.heels[0]:.2f} m:", ""))
        words.append((event, ""))
    ratios = np.concatenate([curve.ratio for curve in curves])
    heels = np.concatenate([curve.heels for curve in curves])
    n = int(np.argmin(ratios))
    if np.isfinite(ratios[n]):
        words.append((f"ratio least {ratios[n]:.2f} at {heels[n]:.2f} m", "ratio"))
    else:
        words.append(("ratio unlimited: stable", "ratio"))
    words += [(f"stability at least {limit:g}", "limit") for limit in limits]
    return words


def _signed(newtons: float) -> str:
    return f"{'+' if newtons >= 0 else '−'}{abs(newtons) / 1000:.1f} kN"


def _key(sheet: Sheet, upper: Frame, words: Sequence[tuple[str, str]]) -> None:
    text, left = sheet.text, upper.right + 1.6 * sheet.text
    words_from = left + 3.4 * text
    styles = {
        "weight": (*LINES[0], INK),
        "ratio": (*LINES[1], INK),
        "limit": (LIMIT, LIMIT_DASH, LIMIT),
    }
    base = 1.1 * text
    for line, kind in words:
        if base > sheet.height - 2:
            break
        ink = INK
        if kind:
            colour, dash, ink = styles[kind]
            y = base - 0.35 * text
            sheet.line([(left, y), (words_from - 5, y)], colour=colour, width=1.8, dash=dash)
        size = HEAVY * text if kind else text
        fitted = shorten(line, size, sheet.width - words_from - 2)
        letters = Ink(colour=ink, bold=bool(kind))
        sheet.write((words_from, base), fitted, ink=letters, role="key")
        base += 1.28 * text
