"""Frame of a sheet and the block of words along its foot."""

from towerlift.drawings.drawing import Across, Drawing, Layer, Mark, Stroke, Words
from towerlift.drawings.lengths import units_words
from towerlift.drawings.paper import Block, Paper
from towerlift.drawings.pens import words_width

SMALL, PLAIN, LARGE, STAMP = 1.7, 2.2, 3.2, 14.0


def scale_words(drawing: Drawing) -> str:
    """What a sheet says of its scales.

    Parameters
    ----------
    drawing : Drawing
        What is on it.

    Returns
    -------
    words : str
        Such as "Scale 1:50, 1:5", or that nothing is to scale.
    """
    scales = ", ".join(f"1:{scale:g}" for scale in drawing.scales)
    if not scales:
        return "Not to scale"
    return f"Scale {scales}" + (
        "" if all(view.to_scale for view in drawing.views) else ", diagrams not to scale"
    )


def stem(name: str) -> str:
    """A name as any file system takes it, in plain letters, digits and dashes.

    Parameters
    ----------
    name : str
        Of a stage, a lift or a section.

    Returns
    -------
    stem : str
        Two names may give the same: the caller numbers its files.
    """
    kept = "".join(c if c.isascii() and c.isalnum() else "-" for c in name)
    return kept.strip("-") or "x"


def fitted(text: str, height: float, width: float, *, bold: bool = False) -> str:
    """Words cut to a width, with an ellipsis where something was cut off.

    Parameters
    ----------
    text : str
        One line.
    height : float
        Of the capital letters. [mm]
    width : float
        Room there is. [mm]
    bold : bool
        Whether in heavy letters.

    Returns
    -------
    text : str
        As much as there is room for.
    """
    if words_width(text, height, bold=bold) <= width:
        return text
    while text and words_width(text + "…", height, bold=bold) > width:
        text = text[:-1]
    return text.rstrip() + "…"


def wrapped(text: str, height: float, width: float) -> list[str]:
    """Words broken into lines of a width.

    Parameters
    ----------
    text : str
        A sentence or two.
    height : float
        Of the capital letters. [mm]
    width : float
        Room there is. [mm]

    Returns
    -------
    lines : list of str
        A word that is wider than the room is cut.
    """
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and words_width(longer, height) <= width:
            lines[-1] = longer
        else:
            lines.append(fitted(word, height, width))
    return lines


def block_marks(drawing: Drawing, block: Block) -> tuple[Mark, ...]:
    """Frame and block of a sheet, in millimetres from its lower left corner.

    Parameters
    ----------
    drawing : Drawing
        What is on it.
    block : Block
        Plan, version and hash.

    Returns
    -------
    marks : tuple of Mark
        Strokes and words.
    """
    paper = block.paper
    left, foot = paper.margin, paper.margin
    right, head = paper.width - paper.margin, paper.height - paper.margin
    top = foot + paper.block
    split = left + 0.56 * (right - left)
    corners = ((left, foot), (right, foot), (right, head), (left, head))
    marks: list[Mark] = [
        Stroke(points=corners, layer=Layer.SHEET, closed=True),
        Stroke(points=((left, top), (right, top)), layer=Layer.SHEET),
        Stroke(points=((split, foot + 6.6), (split, top)), layer=Layer.SHEET),
        Stroke(points=((left, foot + 6.6), (right, foot + 6.6)), layer=Layer.SHEET),
    ]
    wide, narrow = split - left - 4, right - split - 4
    title = _title_rows((left + 2, top), drawing.title, wide)
    marks += title
    rows: list[tuple[float, float, str, float, float]] = [
        (left + 2, top - (10.4 if len(title) == 1 else 11.8), block.plan, PLAIN, wide),
        (split + 2, top - 3.4, scale_words(drawing), PLAIN, narrow - 16),
        (split + 2, top - 7.4, units_words(drawing.measure), SMALL, narrow),
    ]
    for x, y, text, height, room in rows:
        marks.append(_row((x, y), fitted(text, height, room), height))
    said = f"{paper.name}, version {block.version}, content {block.fingerprint}"
    marks.append(_row((split + 2, top - 11.2), fitted(said, SMALL, narrow), SMALL))
    if block.number:
        marks.append(_row((right - 2, top - 3.4), block.number, PLAIN, across="right"))
    lines = wrapped(block.caution, SMALL, right - left - 4)[:2]
    for n, line in enumerate(lines):
        marks.append(_row((left + 2, foot + 4.8 - 2.9 * n), line, SMALL))
    return (*marks, *_stamp(block, paper))


def _title_rows(corner: tuple[float, float], title: str, wide: float) -> list[Words]:
    """The title as large as it fits in one line, or else in two."""
    x, top = corner
    for height in (LARGE, 2.6):
        if words_width(title, height, bold=True) <= wide:
            return [_row((x, top - 4.3), title, height, bold=True)]
    # Heavy letters are wider than those that lines are broken by.
    lines = wrapped(title, 1.15 * PLAIN, wide)
    if len(lines) > 2:
        lines = [lines[0], " ".join(lines[1:])]
    return [
        _row((x, top - 3.4 - 4.0 * n), fitted(line, PLAIN, wide, bold=True), PLAIN, bold=True)
        for n, line in enumerate(lines)
    ]


def _row(
    at: tuple[float, float], text: str, height: float, *, bold: bool = False,
    across: Across = "left",
) -> Words:  # fmt: skip
    return Words(
        at=at, text=text or "-", height=height, layer=Layer.SHEET, bold=bold, across=across
    )


def _stamp(block: Block, paper: Paper) -> tuple[Mark, ...]:
    if not block.stamp.strip():
        return ()
    height = min(STAMP, STAMP * 0.9 * paper.width / words_width(block.stamp, STAMP, bold=True))
    return (
        Words(
            at=(paper.width / 2, paper.height / 2),
            text=block.stamp,
            height=height,
            layer=Layer.KEEP_OUT,
            across="middle",
            turn=0.5,
            bold=True,
            hollow=True,
        ),
    )
