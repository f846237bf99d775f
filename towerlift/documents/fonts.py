"""Letters at hand: which scripts can be printed, and what is said where one cannot."""

import re
import unicodedata
from collections.abc import Iterable
from functools import cache, lru_cache
from pathlib import Path

import typst
from fontTools.ttLib import TTFont, TTLibError  # type: ignore[import-untyped]

FAMILIES = ("DejaVu Sans", "Noto Sans", "Droid Sans Fallback", "NanumGothic")
"""Asked in this order; a letter that none of them has is looked for in every other font."""
# Fonts that draw a box for every letter there is.
_PLACEHOLDERS = ("lastresort", "last resort", "unicode bmp fallback")
# All but plain letters, which every font has.
_SPECIAL = re.compile(r"[^ -~]")
# Joiners and variation selectors have no shape of their own.
_SHAPELESS = frozenset({0x200B, 0x200C, 0x200D, 0x2060, 0xFEFF, *range(0xFE00, 0xFE10)})


@cache
def _book() -> tuple[tuple[str, str, int], ...]:
    fonts = typst.Fonts(include_system_fonts=True, include_embedded_fonts=False).fonts()
    found = {
        (font.family, str(font.path), int(font.index or 0))
        for font in fonts
        if font.path
        and font.style == "normal"
        and not any(word in font.family.lower() for word in _PLACEHOLDERS)
    }
    rank = {family: n for n, family in enumerate(FAMILIES)}
    return tuple(sorted(found, key=lambda font: (rank.get(font[0], len(rank)), font)))


def families() -> tuple[str, ...]:
    """Families that are asked first and are there.

    Returns
    -------
    names : tuple of str
        In the order in which they are asked.
    """
    there = {family for family, _, _ in _book()}
    return tuple(name for name in FAMILIES if name in there)


@lru_cache(maxsize=512)
def _letters(path: str, index: int) -> frozenset[int]:
    try:
        with TTFont(Path(path), fontNumber=index, lazy=True) as font:
            return frozenset(font.getBestCmap() or {})
    except (TTLibError, OSError):
        return frozenset()


@lru_cache(maxsize=65536)
def has_letter(letter: str) -> bool:
    """Whether some font at hand draws a letter.

    Parameters
    ----------
    letter : str
        One character.

    Returns
    -------
    there : bool
        Fonts that draw a placeholder for everything do not count.
    """
    code = ord(letter)
    if letter.isspace() or code in _SHAPELESS:
        return True
    return any(code in _letters(path, index) for _, path, index in _book())


def printable(words: str) -> str:
    """Words as they can be printed.

    Parameters
    ----------
    words : str
        From a plan: in any script.

    Returns
    -------
    words : str
        A letter that no font has, and a character that would steer the line instead of
        standing in it, is written as its number: "[U+1F514]".
    """
    if words.isascii() and words.isprintable():
        return words
    whole = words if words.isascii() else unicodedata.normalize("NFC", words)
    return _SPECIAL.sub(lambda found: _shown(found[0]), whole)


@lru_cache(maxsize=65536)
def _shown(letter: str) -> str:
    if letter in "\n\t ":
        return " "
    category = unicodedata.category(letter)
    steers = category in ("Cc", "Cs", "Co", "Cn") or (
        category == "Cf" and ord(letter) not in _SHAPELESS
    )
    if steers or not has_letter(letter):
        return f"[U+{ord(letter):04X}]"
    return letter


def unprintable(texts: Iterable[str]) -> tuple[str, ...]:
    """Letters of some texts that are written as their numbers.

    Parameters
    ----------
    texts : iterable of str
        From a plan.

    Returns
    -------
    letters : tuple of str
        Such as "U+1F514 (bell)", each once, in order.
    """
    found = {
        letter
        for text in texts
        if not text.isascii()
        for letter in unicodedata.normalize("NFC", text)
        if _shown(letter).startswith("[U+")
    }
    return tuple(
        f"U+{ord(letter):04X} ({unicodedata.name(letter, 'no name').lower()})"
        for letter in sorted(found)
    )
