"""Gap strip: every gap of a haul against the heel height of what is hauled."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from towerlift.drawings.runs import haul_near, heel_in_run, run_of
from towerlift.drawings.svg import (
    BOLD,
    FAINT,
    HEAVY,
    LIMIT,
    LINES,
    MARK,
    OVER_LINES,
    QUIET,
    Frame,
    Ink,
    Sheet,
    n_ticks,
    round_ticks,
    shorten,
    stair,
)
from towerlift.findings import Bound, Finding
from towerlift.motion.passages import Floats, Passage
from towerlift.nesting.curves import GapCurve
from towerlift.workflow import Outcome

LETTERS = "abcdefghijklmnopqrstuvwxyz"
# A strip shows at least so much, and so many times the limit: more is drawn off its top.
SHOWN_MM, SHOWN_LIMITS = 120.0, 2.2
LIMIT_DASH = "10 3 2 3 2 3"
MOST_STEPS = 400
MOST_LIMIT_MM = 300.0  # a limit above this does not stretch the strip
LEADING = 1.28  # lines of the key apart, in letters
UNNAMED = (FAINT, "")
PLOT_SHARE = 0.52  # of the width; the key has the rest


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """Size of a strip and of its letters, and where the raise is.

    Attributes
    ----------
    share : float
        Share of the passage's travel that is done.
    width, height : float
        Of the drawing. [px]
    text : float
        Height of its letters. [px]
    plot : float
        Share of the width that the curves take; the key has the rest.
    """

    share: float = 0.0
    width: float = 620.0
    height: float = 170.0
    text: float = 11.0
    plot: float = PLOT_SHARE


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    moving: str
    against: str
    bounds: Floats
    least_mm: Floats
    at: float
    marks: tuple[str, str]
    certified: bool
    shift: float

    @property
    def lowest(self) -> float:
        return float(self.least_mm.min())


def gap_strip(outcome: Outcome, passage: Passage, strip: Strip | None = None) -> str:
    """Gap of every pair of bodies along the haul that a passage belongs to.

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
        Gap in mm up, heel of the hauled section in m to the right, least gaps
        lettered and named at the side, limits of the clearance check as lines.
    """
    strip = strip or Strip()
    sheet = Sheet(strip.width, strip.height, strip.text)
    haul = haul_near(outcome.raise_, passage)
    run = () if haul is None else run_of(outcome.raise_, haul)
    pairs = _pairs(outcome.gaps, run)
    if not pairs:
        return empty_strip(sheet, passage, "gap", run)
    limits = _limits(outcome.findings, passage.stage, pairs)
    frame = _frame(strip, run, pairs, limits)
    unit = run[0].moving[0]
    title = f"Gap, mm: {passage.stage}, {unit}"
    sheet.write((2, 1.1 * strip.text), title, ink=BOLD)
    sheet.axes(
        frame,
        round_ticks(frame.x_low, frame.x_high, 7),
        round_ticks(frame.y_low, frame.y_high, n_ticks(frame, strip.text, 5)),
    )
    name_axis(sheet, frame, run[0])
    _draw_limits(sheet, frame, limits)
    named = _n_named(sheet, pairs, limits)
    for n, pair in reversed(tuple(enumerate(pairs))):
        _draw_pair(sheet, frame, pair, LINES[n % len(LINES)] if n < named else UNNAMED)
    _letters(sheet, frame, pairs[:named])
    draw_mark(sheet, frame, heel_in_run(run, passage, strip.share))
    _key(sheet, frame, pairs, limits)
    return sheet.svg(f"Gap along {passage.stage}", _in_words(pairs, limits))


def name_axis(sheet: Sheet, frame: Frame, passage: Passage) -> None:
    """Write under a frame what is measured along it.

    Parameters
    ----------
    sheet : Sheet
        Drawing.
    frame : Frame
        Its frame, heels of the hauled section along it.
    passage : Passage
        First of the haul.
    """
    way = "raised this way →" if passage.travel > 0 else "← lowered this way"
    words = f"heel of {passage.moving[0]}, m   {way}"
    base = frame.bottom + 2.75 * sheet.text
    sheet.write(((frame.left + frame.right) / 2, base), words, "middle")


def draw_mark(sheet: Sheet, frame: Frame, heel: float) -> None:
    """Draw the mark that moves with the raise.

    Parameters
    ----------
    sheet : Sheet
        Drawing.
    frame : Frame
        Its frame, heels along it.
    heel : float
        Present heel height of the hauled section. [m]
    """
    x, top = frame.x(heel), frame.top
    sheet.line([(x, top), (x, frame.bottom)], colour=MARK, width=1.6, role="now")
    sheet.line([(x - 4, top - 6), (x + 4, top - 6), (x, top), (x - 4, top - 6)], colour=MARK)
    right = x > frame.left + 0.7 * frame.width
    anchor, start = ("end", x - 7) if right else ("start", x + 7)
    words = f"heel {heel:.2f} m"
    sheet.write((start, top - 3), words, anchor, ink=Ink(colour=MARK), role="now")


def empty_strip(sheet: Sheet, passage: Passage, what: str, run: Sequence[Passage]) -> str:
    """A strip that says why it shows nothing.

    Parameters
    ----------
    sheet : Sheet
        Drawing, still empty.
    passage : Passage
        Where the raise is.
    what : str
        What would be drawn.
    run : sequence of Passage
        Haul it would be drawn for; empty where nothing moves.

    Returns
    -------
    svg : str
        One line of words.
    """
    words = f"No {what} curve: nothing moves in stage {passage.stage}."
    if run:
        words = f"No {what} curve was reckoned for {passage.stage}, {run[0].moving[0]}."
    fitted = shorten(words, sheet.text, sheet.width - 4)
    sheet.write((2, 1.1 * sheet.text), fitted, ink=QUIET)
    return sheet.svg(f"No {what} curve", words)


def _pairs(gaps: Sequence[GapCurve], run: Sequence[Passage]) -> list[_Pair]:
    by_index = {passage.index: passage for passage in run}
    ours = [curve for curve in gaps if curve.passage in by_index and len(curve.least)]

    def bodies(curve: GapCurve) -> tuple[str, str]:
        return curve.moving, curve.against

    pairs = []
    for _, group in groupby(sorted(ours, key=bodies), bodies):
        curves = sorted(group, key=lambda curve: curve.passage)
        pieces = [_joined(curve, by_index[curve.passage]) for curve in curves]
        tightest = min(curves, key=lambda curve: float(curve.least.min()))
        step = int(tightest.least.argmin())
        shift = _shift(tightest, by_index[tightest.passage])
        pairs.append(
            _Pair(
                moving=tightest.moving,
                against=tightest.against,
                bounds=np.concatenate([bounds for bounds, _ in pieces]),
                least_mm=np.concatenate([least for _, least in pieces]),
                at=float(tightest.at[step]) + shift,
                marks=(tightest.marks[step], tightest.opposite_marks[step]),
                certified=all(bool(curve.certified.all()) for curve in curves),
                shift=shift,
            )
        )
    return sorted(pairs, key=lambda pair: pair.lowest)


def _shift(curve: GapCurve, passage: Passage) -> float:
    # From the heel of the body that moves to the heel of the section that is hauled.
    standing = passage.standing
    return standing[passage.moving[0]].heel_from - standing[curve.moving].heel_from


def _joined(curve: GapCurve, passage: Passage) -> tuple[Floats, Floats]:
    """Begin and end of each step, (k, 2), and its least gap in mm."""
    heels = curve.heels + _shift(curve, passage)
    firsts = np.arange(0, len(curve.least), max(1, -(-len(curve.least) // MOST_STEPS)))
    least = np.minimum.reduceat(curve.least, firsts)
    ends = np.append(firsts[1:], len(curve.least))
    return np.column_stack([heels[firsts], heels[ends]]), 1000.0 * least


def _limits(
    findings: Sequence[Finding], stage: str, pairs: Sequence[_Pair]
) -> list[tuple[float, float]]:
    """Heel and limit in mm of every clearance finding of these pairs."""
    shifts = {pair.moving: pair.shift for pair in pairs}
    found = set()
    for finding in findings:
        moving = finding.subject.partition(":")[0]
        limit = finding.limit_in_force
        if (finding.check, finding.stage) != ("clearance", stage) or moving not in shifts:
            continue
        if finding.heel is not None and (limit.unit, limit.bound) == ("mm", Bound.AT_LEAST):
            found.add((finding.heel + shifts[moving], round(limit.value, 1)))
    return sorted(found)


def _draw_limits(sheet: Sheet, frame: Frame, limits: Sequence[tuple[float, float]]) -> None:
    # One limit holds all along; where it changes with height, a bar at each place checked.
    if len({limit for _, limit in limits}) == 1:
        y = frame.y(limits[0][1])
        ends = [(frame.left, y), (frame.right, y)]
        sheet.line(ends, colour=LIMIT, width=1.6, dash=LIMIT_DASH, role="limit")
        return
    for heel, limit in limits:
        if limit > frame.y_high:
            continue
        x, y = frame.x(heel), frame.y(limit)
        ends = [(max(x - 9, frame.left), y), (min(x + 9, frame.right), y)]
        sheet.line(ends, colour=LIMIT, width=2.4, role="limit")


def _frame(
    strip: Strip,
    run: Sequence[Passage],
    pairs: Sequence[_Pair],
    limits: Sequence[tuple[float, float]],
) -> Frame:
    hauled = run[0].moving[0]
    ends = [run[0].standing[hauled].heel_from, run[-1].standing[hauled].heel_to]
    lowest = min(pair.lowest for pair in pairs)
    asked = max((limit for _, limit in limits), default=0.0)
    shown = max(SHOWN_MM, SHOWN_LIMITS * min(asked, MOST_LIMIT_MM), 1.4 * lowest)
    text = strip.text
    left, top = 3.6 * text, 2.6 * text
    return Frame(
        left=left,
        top=top,
        width=strip.plot * strip.width - left,
        height=strip.height - top - 3.2 * text,
        x_low=min(ends),
        x_high=max(ends),
        y_low=min(0.0, 1.1 * lowest),
        y_high=shown,
    )


def _n_named(
    sheet: Sheet, pairs: Sequence[_Pair], limits: Sequence[tuple[float, float]]
) -> int:
    """How many pairs the key has room for, two lines each."""
    lines = int(sheet.height / (LEADING * sheet.text) - (1 if limits else 0) - 0.2)
    return len(pairs) if 2 * len(pairs) <= lines else max(0, (lines - 1) // 2)


def _draw_pair(sheet: Sheet, frame: Frame, pair: _Pair, style: tuple[str, str]) -> None:
    if pair.lowest > frame.y_high:
        return
    colour, dash = style
    corners: list[tuple[float, float]] = []
    for (start, end), value in zip(pair.bounds, pair.least_mm, strict=True):
        corners += stair((start, end), (value,))
    points = [(frame.x(heel), frame.y(gap)) for heel, gap in corners]
    width = 0.8 if style == UNNAMED else 1.7
    sheet.line(points, colour=colour, width=width, dash=dash, role="gap")


def _letters(sheet: Sheet, frame: Frame, pairs: Sequence[_Pair]) -> None:
    text = sheet.text
    taken: list[tuple[float, float]] = []
    for n, pair in enumerate(pairs[: len(LETTERS)]):
        if pair.lowest > frame.y_high:
            continue
        x, y = frame.x(pair.at), frame.y(pair.lowest)
        sheet.dot(x, y, colour=LINES[n % len(LINES)][0], role="least")
        # Above its dot, or the nearest free place to the right or left of that.
        tries = [(x + side * text, y - 0.5 * text) for side in (0, 1, -1, 2, -2, 3, -3)]
        tries += [(x + side * text, y + 1.2 * text) for side in (0, 1, -1, 2, -2)]
        free = [
            (a, b)
            for a, b in tries
            if frame.left + text / 2 < a < frame.right - text / 2
            and frame.top + text < b < frame.bottom - 2
            and all(abs(a - c) >= 0.9 * text or abs(b - d) >= 1.25 * text for c, d in taken)
        ]
        if free:
            taken.append(free[0])
            sheet.write(free[0], LETTERS[n], "middle", ink=OVER_LINES, role="letter")


def _key(
    sheet: Sheet, frame: Frame, pairs: Sequence[_Pair], limits: Sequence[tuple[float, float]]
) -> None:
    text, left = sheet.text, frame.right + 1.6 * sheet.text
    words_from, line = left + 3.4 * text, LEADING * text
    room = sheet.width - words_from - 2
    base = 1.1 * text
    if limits:
        values = sorted({limit for _, limit in limits})
        one = len(values) == 1
        span = f"{values[0]:g}" if one else f"{values[0]:g} to {values[-1]:g}"
        y = base - 0.35 * text
        ends = [(left, y), (words_from - 5, y)]
        width, dash = (1.6, LIMIT_DASH) if one else (2.4, "")
        sheet.line(ends, colour=LIMIT, width=width, dash=dash)
        words = shorten(f"clearance ≥ {span} mm", HEAVY * text, room)
        sheet.write((words_from, base), words, ink=Ink(colour=LIMIT, bold=True), role="limit")
        base += line
    shown = _n_named(sheet, pairs, limits)
    for n, pair in enumerate(pairs[:shown]):
        _key_entry(sheet, (left, base), pair, n, frame)
        base += 2 * line
    if shown < len(pairs):
        rest = pairs[shown:]
        words = f"and {len(rest)} more, each {rest[0].lowest:.0f} mm or more"
        sheet.write((left, base), shorten(words, text, sheet.width - left), ink=QUIET)


def _key_entry(
    sheet: Sheet, corner: tuple[float, float], pair: _Pair, n: int, frame: Frame
) -> None:
    (left, base), text = corner, sheet.text
    colour, dash = LINES[n % len(LINES)]
    words_from = left + 3.4 * text
    sheet.write((left, base), LETTERS[n % len(LETTERS)], ink=BOLD)
    y = base - 0.35 * text
    if pair.lowest <= frame.y_high:
        ends = [(left + text, y), (words_from - 5, y)]
        sheet.line(ends, colour=colour, width=1.7, dash=dash)
    room = sheet.width - words_from - 2
    head = f"{pair.lowest:.0f} mm at heel {pair.at:.2f} m"
    if not pair.certified:
        head += ", not certified"
    elif pair.lowest > frame.y_high:
        head += ", off the top"
    sheet.write((words_from, base), shorten(head, HEAVY * text, room), ink=BOLD)
    names = f"{pair.moving}: {pair.marks[0]} – {pair.against}: {pair.marks[1]}"
    tail = shorten(names, text, room)
    sheet.write((words_from, base + LEADING * text), tail, role="pair")


def _in_words(pairs: Sequence[_Pair], limits: Sequence[tuple[float, float]]) -> str:
    said = [
        f"{pair.moving} ({pair.marks[0]}) to {pair.against} ({pair.marks[1]}): "
        f"least {pair.lowest:.0f} mm at heel {pair.at:.2f} m"
        for pair in pairs
    ]
    asked = [f"limit at least {limit:g} mm at heel {heel:.2f} m" for heel, limit in limits]
    return "; ".join(said + asked) + "."
