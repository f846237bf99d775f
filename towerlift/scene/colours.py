"""Colours of what is drawn: quiet, and told apart by lightness as well as by hue.

Lightness (CIE L*) runs iron 37, not seen 45, oak 52, board 62, larch 68, stone 80, fir 85, so
that a grey print and every common kind of colour blindness keep them apart.
"""

from collections.abc import Mapping

Rgb = tuple[int, int, int]

STONE: Rgb = (206, 199, 187)
NOT_SEEN: Rgb = (112, 104, 120)
OAK: Rgb = (155, 116, 70)
LARCH: Rgb = (203, 155, 106)
FIR: Rgb = (233, 208, 163)
IRON: Rgb = (79, 88, 99)
BOARD: Rgb = (129, 153, 168)
OTHER: Rgb = (150, 150, 140)

PAPER: Rgb = (250, 249, 246)
INK: Rgb = (38, 42, 48)
FAINT: Rgb = (118, 118, 112)
MARK: Rgb = (178, 38, 88)
ROPE: Rgb = (58, 84, 120)
GROUND: Rgb = (222, 220, 212)

# Words looked for in a species or in the kind of a piece, first hit taken.
_WORDS: tuple[tuple[str, Rgb], ...] = (
    ("oak", OAK),
    ("larch", LARCH),
    ("fir", FIR),
    ("pine", FIR),
    ("spruce", FIR),
    ("iron", IRON),
    ("steel", IRON),
    ("board", BOARD),
    ("clad", BOARD),
    ("shell", BOARD),
    ("shingle", BOARD),
    ("bell", IRON),
    ("pendant", IRON),
)


def colour_of(species: str, part: str) -> Rgb:
    """Colour of a piece by what it is made of, else by what it is.

    Parameters
    ----------
    species : str
        Name of its species in the plan, or "" where it has none.
    part : str
        Kind of piece.

    Returns
    -------
    colour : tuple of int
        Red, green, blue, 0 to 255.
    """
    for words in (species.lower(), part.lower()):
        for word, colour in _WORDS:
            if word in words:
                return colour
    return OTHER


LEGEND: Mapping[str, Rgb] = {
    "stone": STONE,
    "oak": OAK,
    "larch": LARCH,
    "fir": FIR,
    "iron": IRON,
    "board": BOARD,
}
