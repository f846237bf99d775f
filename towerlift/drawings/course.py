"""Strip of the whole raise: where every heel is, stage by stage."""

from collections.abc import Sequence

from towerlift.drawings.runs import Course, course_of, heels_of
from towerlift.drawings.svg import (
    GRID,
    LINES,
    MARK,
    QUIET,
    Frame,
    Sheet,
    apart,
    round_ticks,
    shorten,
    text_width,
)
from towerlift.findings import Verdict
from towerlift.workflow import Outcome

STAGE_ROWS, ROW = 3, 1.15  # rows of stage names, and their distance in letters


def raise_strip(
    outcome: Outcome,
    position: float,
    marks: Sequence[tuple[float, Verdict]] = (),
    *,
    size: tuple[float, float] = (1120.0, 110.0),
    text: float = 11.0,
) -> str:
    """Heel height of every section along the work, with the stages and what fails.

    Parameters
    ----------
    outcome : Outcome
        Of a checked plan.
    position : float
        Where the raise is: number of the passage, and the share of it that is done.
    marks : sequence of (float, Verdict)
        Positions of findings; those that pass are not drawn.
    size : tuple of float
        Width and height. [px]
    text : float
        Height of the letters. [px]

    Returns
    -------
    svg : str
        Hauling to scale along the strip, standing steps as a small fixed width.
    """
    sheet = Sheet(*size, text)
    course = course_of(outcome.raise_)
    names = [section.name for section in outcome.plan.sections]
    frame = _frame(outcome, course, names, sheet)
    sheet.axes(frame, (), round_ticks(frame.y_low, frame.y_high, 4))
    sheet.write((2, frame.top - 0.35 * text), "heel, m")
    _stages(sheet, frame, course)
    for n, name in enumerate(names):
        colour, dash = LINES[n % len(LINES)]
        for piece in heels_of(outcome.raise_, name):
            points = [(frame.x(along), frame.y(heel)) for along, heel in piece]
            sheet.line(points, colour=colour, width=2.0, dash=dash, role="heel")
    _key(sheet, frame, names)
    _faults(sheet, frame, [(course.along(at), verdict) for at, verdict in marks])
    x = frame.x(course.along(position))
    ends = [(x, frame.top - 2), (x, frame.bottom + 1.3 * text)]
    sheet.line(ends, colour=MARK, width=1.8, role="now")
    return sheet.svg("The whole raise", _in_words(outcome, names))


def strip_insets(width: float, text: float = 11.0) -> tuple[float, float]:
    """Room left of and right of the frame of the strip, to set a slider over it.

    Parameters
    ----------
    width : float
        Of the strip. [px]
    text : float
        Height of its letters. [px]

    Returns
    -------
    insets : tuple of float
        Share of the width on the left, and on the right.
    """
    return 4.4 * text / width, 10.2 * text / width


def _frame(outcome: Outcome, course: Course, names: Sequence[str], sheet: Sheet) -> Frame:
    text = sheet.text
    heels = [
        heel for name in names for piece in heels_of(outcome.raise_, name) for _, heel in piece
    ]
    before, after = strip_insets(sheet.width, text)
    top = (STAGE_ROWS * ROW + 0.4) * text
    return Frame(
        left=before * sheet.width,
        top=top,
        width=(1 - before - after) * sheet.width,
        height=sheet.height - top - 1.7 * text,
        x_low=0.0,
        x_high=max(course.length, 1e-9),
        y_low=min([0.0, *heels]),
        y_high=1.05 * max([1.0, *heels]),
    )


def _stages(sheet: Sheet, frame: Frame, course: Course) -> None:
    text = sheet.text
    stages = list(course.stages())
    for _, start, _ in stages:
        x = frame.x(start)
        sheet.line([(x, frame.top), (x, frame.bottom)], colour=GRID, role="stage")
    extents = []
    for name, start, end in stages:
        middle, half = frame.x((start + end) / 2), text_width(name, text) / 2
        middle = min(max(middle, frame.left + half), frame.right - half)
        extents.append((middle - half, middle + half))
    rows = apart(extents, STAGE_ROWS, 0.3 * text)
    for (name, _, _), (left, right), row in zip(stages, extents, rows, strict=True):
        if row is None:
            continue
        base = frame.top - (0.35 + ROW * row) * text
        sheet.write(((left + right) / 2, base), name, "middle", role="stage")


def _key(sheet: Sheet, frame: Frame, names: Sequence[str]) -> None:
    # Innermost ends highest, so the names stand in the order of the lines.
    text, left = sheet.text, frame.right + 0.8 * sheet.text
    base = 1.1 * text
    for name, n in zip(reversed(names), reversed(range(len(names))), strict=True):
        colour, dash = LINES[n % len(LINES)]
        y = base - 0.35 * text
        sheet.line([(left, y), (left + 2 * text, y)], colour=colour, width=2.0, dash=dash)
        fitted = shorten(name, text, sheet.width - left - 2.4 * text - 2)
        sheet.write((left + 2.4 * text, base), fitted, role="section")
        base += 1.3 * text


def _faults(sheet: Sheet, frame: Frame, marks: Sequence[tuple[float, Verdict]]) -> None:
    base = frame.bottom + 1.3 * sheet.text
    for along, verdict in marks:
        if verdict is Verdict.PASS:
            continue
        x, y, arm = frame.x(along), base - 0.4 * sheet.text, 3.2
        if verdict is Verdict.FAIL:
            sheet.line([(x - arm, y - arm), (x + arm, y + arm)], width=1.8, role="fail")
            sheet.line([(x - arm, y + arm), (x + arm, y - arm)], width=1.8)
        else:
            corners = [(x, y - arm), (x + arm, y), (x, y + arm), (x - arm, y), (x, y - arm)]
            sheet.line(corners, width=1.3, role="open")
    words = "× fails  ◇ open"
    sheet.write((frame.right + 0.8 * sheet.text, base), words, ink=QUIET)


def _in_words(outcome: Outcome, names: Sequence[str]) -> str:
    ends = []
    for name in names:
        pieces = heels_of(outcome.raise_, name)
        if pieces:
            ends.append(f"{name} from {pieces[0][0][1]:.2f} m to {pieces[-1][-1][1]:.2f} m")
    return "Heels: " + "; ".join(ends) + ". Hauling is drawn to scale, standing steps are not."
