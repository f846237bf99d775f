"""Words under, over and around pictures."""

from collections.abc import Sequence
from functools import cache

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from towerlift.scene.colours import FAINT, INK, PAPER
from towerlift.scene.marks import Picture

CAUTION = (
    "A planning aid: does not replace a licensed engineer and a competent rigger; "
    "local codes govern."
)
TEXT, SMALL = 13, 11  # height of letters [pixels]
MARGIN = 8  # [pixels]
LINE = 1.35  # distance of lines, in heights of letters


@cache
def font(size: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """Letters of a height. [pixels]"""
    return ImageFont.load_default(size)


def width_of(words: str, size: int) -> float:
    """How wide a line of words comes out. [pixels]"""
    return float(font(size).getlength(words))


def wrapped(words: str, size: int, width: float, most: int) -> list[str]:
    """Words broken into lines.

    Parameters
    ----------
    words : str
        One run of them.
    size : int
        Height of letters. [pixels]
    width : float
        Of a line. [pixels]
    most : int
        Most lines; the last one ends in dots where more is said.

    Returns
    -------
    lines : list of str
        A word wider than a line stands by itself and is cut short.
    """
    lines = [""]
    for word in words.split():
        longer = f"{lines[-1]} {word}".strip()
        if width_of(longer, size) <= width or not lines[-1]:
            lines[-1] = longer
        else:
            lines.append(word)
    kept = [line for line in lines if line][:most]
    if len([line for line in lines if line]) > most:
        kept[-1] += " …"
    return [_cut(line, size, width) for line in kept]


def _cut(line: str, size: int, width: float) -> str:
    if width_of(line, size) <= width:
        return line
    while line and width_of(line + "…", size) > width:
        line = line[:-1].rstrip(" …")
    return line + "…"


def captioned(picture: Picture, title: str, lines: Sequence[str], n_lines: int) -> Picture:
    """A picture with a title and lines below it.

    Parameters
    ----------
    picture : (h, w, 3) uint8
        Left as it is.
    title : str
        Written larger.
    lines : sequence of str
        Below the title.
    n_lines : int
        For how many there is room, so that pictures side by side come out alike.

    Returns
    -------
    picture : (h, w, 3) uint8
        Taller.
    """
    tall = round(LINE * (TEXT + SMALL * n_lines)) + MARGIN
    image = Image.fromarray(np.vstack([picture, paper(picture.shape[1], tall)]))
    pen, y = ImageDraw.Draw(image), float(len(picture) + 3)
    pen.text((4, y), title, font=font(TEXT), fill=INK, stroke_width=0.3, stroke_fill=INK)
    y += LINE * TEXT
    for line in lines[:n_lines]:
        pen.text((4, y), line, font=font(SMALL), fill=INK)
        y += LINE * SMALL
    return np.asarray(image)


def paper(width: int, height: int) -> Picture:
    """An empty picture. [pixels]"""
    return np.tile(np.array(PAPER, dtype=np.uint8), (height, width, 1))


def in_rows(pictures: Sequence[Picture], across: int) -> Picture:
    """Pictures of one size side by side, in as many rows as it takes.

    Parameters
    ----------
    pictures : sequence of (h, w, 3) uint8
        One at least.
    across : int
        Most in a row.

    Returns
    -------
    sheet : (H, W, 3) uint8
        Faint lines between them.
    """
    tall, wide = pictures[0].shape[:2]
    n = min(across, len(pictures))
    rows = -(-len(pictures) // n)
    sheet = paper(n * wide + (n - 1) * MARGIN, rows * tall + (rows - 1) * MARGIN)
    for k, picture in enumerate(pictures):
        top, left = (k // n) * (tall + MARGIN), (k % n) * (wide + MARGIN)
        sheet[top : top + tall, left : left + wide] = picture
        if k % n:
            sheet[top : top + tall, left - MARGIN // 2] = FAINT
    return sheet


def on_sheet(picture: Picture, title: str) -> Picture:
    """A picture under a title, with the caution below it.

    Parameters
    ----------
    picture : (h, w, 3) uint8
        What is shown.
    title : str
        One line.

    Returns
    -------
    sheet : (H, W, 3) uint8
        With a margin all round.
    """
    head, foot = round(LINE * TEXT) + MARGIN, round(LINE * SMALL) + MARGIN
    tall, wide = picture.shape[:2]
    said = wrapped(CAUTION, SMALL, wide, 3)
    foot += round(LINE * SMALL * (len(said) - 1))
    sheet = paper(wide + 2 * MARGIN, tall + head + foot + 2 * MARGIN)
    sheet[MARGIN + head : MARGIN + head + tall, MARGIN : MARGIN + wide] = picture
    image = Image.fromarray(sheet)
    pen = ImageDraw.Draw(image)
    named = _cut(title, TEXT + 2, wide)
    pen.text((MARGIN, MARGIN), named, font=font(TEXT + 2), fill=INK)
    for n, line in enumerate(said):
        y = MARGIN + head + tall + MARGIN + LINE * SMALL * n
        pen.text((MARGIN, y), line, font=font(SMALL), fill=INK)
    return np.asarray(image)
