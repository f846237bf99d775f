"""Species of timber: what is printed of each, value by value with its source."""

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache

from towerlift.errors import TowerliftError
from towerlift.timber.printed import TABLE_4_3, TABLE_13_5
from towerlift.timber.values import Read, Sourced

HANDBOOK = "Wood Handbook, FPL-GTR-190 (2010)"
SHRINKAGE_TABLE = f"{HANDBOOK}, table 4-3"
CHANGE_TABLE = f"{HANDBOOK}, table 13-5"
EUROPEAN_OAK = "European oak page of an association of European timber trades"
OREGON = "Oregon State University, table of physical properties of woods"
N_NEAREST = 3


class UnknownSpeciesError(TowerliftError, ValueError):
    """No species of such a name is in the table."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TimberSpecies:
    """What was read of one species; None where nothing was.

    Attributes
    ----------
    name : str
        As the table writes it.
    radial, tangential, volumetric : Sourced or None
        Shrinkage from green to oven-dry, share of the green size.
    change_radial, change_tangential : Sourced or None
        Change of size for a change of moisture content of one (100 %), share of the
        size, as printed for 6 to 14 %.
    gravity_12 : Sourced or None
        Oven-dry mass over the volume at 12 % moisture, relative to water.
    """

    name: str
    radial: Sourced | None = None
    tangential: Sourced | None = None
    volumetric: Sourced | None = None
    change_radial: Sourced | None = None
    change_tangential: Sourced | None = None
    gravity_12: Sourced | None = None


def _percent(value: float | None, source: str, read: Read = Read.PRINTED) -> Sourced | None:
    return None if value is None else Sourced(value=value / 100.0, source=source, read=read)


def _of_handbook(name: str) -> TimberSpecies:
    radial, tangential, volumetric = TABLE_4_3.get(name, (None, None, None))
    by_radius, by_ring = TABLE_13_5.get(name, (None, None))
    return TimberSpecies(
        name=name,
        radial=_percent(radial, SHRINKAGE_TABLE),
        tangential=_percent(tangential, SHRINKAGE_TABLE),
        volumetric=_percent(volumetric, SHRINKAGE_TABLE),
        change_radial=_percent(None if by_radius is None else 1e4 * by_radius, CHANGE_TABLE),
        change_tangential=_percent(None if by_ring is None else 1e4 * by_ring, CHANGE_TABLE),
        gravity_12=_GRAVITY.get(name),
    )


def _gravity(value: float) -> Sourced:
    return Sourced(value=value, source=OREGON, read=Read.REPEATED)


_GRAVITY = {
    "coast Douglas-fir": _gravity(0.48),
    "noble fir": _gravity(0.39),
    "grand fir": _gravity(0.39),
    "subalpine fir": _gravity(0.32),
    "Pacific silver fir": _gravity(0.43),
    "California red fir": _gravity(0.38),
}

_OTHERS = (
    TimberSpecies(
        name="European oak",
        radial=_percent(4.3, EUROPEAN_OAK, Read.REPEATED),
        tangential=_percent(8.9, EUROPEAN_OAK, Read.REPEATED),
        # 702 kg/m^3 at 12 %, of which 0.12 in 1.12 is water.
        gravity_12=Sourced(value=0.702 / 1.12, source=EUROPEAN_OAK, read=Read.REPEATED),
    ),
    TimberSpecies(
        # The page has one column of shrinkage; for every fir and Douglas-fir in it that
        # column is the tangential one of the handbook's table 4-3.
        name="western larch",
        tangential=_percent(9.1, OREGON, Read.REPEATED),
        gravity_12=_gravity(0.52),
    ),
    TimberSpecies(
        name="western hemlock",
        tangential=_percent(7.8, OREGON, Read.REPEATED),
        gravity_12=_gravity(0.45),
    ),
    TimberSpecies(
        name="Engelmann spruce",
        tangential=_percent(7.1, OREGON, Read.REPEATED),
        gravity_12=_gravity(0.35),
    ),
)


@cache
def known_species() -> tuple[TimberSpecies, ...]:
    """Every species of the table.

    Returns
    -------
    species : tuple of TimberSpecies
        By name.
    """
    names = dict.fromkeys([*TABLE_4_3, *TABLE_13_5])
    rows = [*(_of_handbook(name) for name in names), *_OTHERS]
    return tuple(sorted(rows, key=lambda row: row.name.lower()))


def nearest_names(name: str, among: Iterable[str]) -> tuple[str, ...]:
    """Names that are most like one that is not there.

    Parameters
    ----------
    name : str
        What was asked for.
    among : iterable of str
        What there is.

    Returns
    -------
    names : tuple of str
        At most three, those that share a word before those that look alike.
    """
    by_folded = {other.lower(): other for other in among}
    words = [word for word in name.lower().replace("-", " ").split() if word]
    shared = [
        folded
        for folded in by_folded
        if any(word in folded.replace("-", " ").split() for word in words)
    ]
    alike = get_close_matches(name.lower(), by_folded, n=N_NEAREST, cutoff=0.5)
    ranked = get_close_matches(name.lower(), shared, n=len(shared) or 1, cutoff=0.0)
    found = dict.fromkeys([*ranked, *alike])
    return tuple(by_folded[folded] for folded in list(found)[:N_NEAREST])


def find_species(name: str) -> TimberSpecies:
    """The species of a name.

    Parameters
    ----------
    name : str
        Case is not minded.

    Returns
    -------
    species : TimberSpecies
        What was read of it.

    Raises
    ------
    UnknownSpeciesError
        If there is none of that name; the message gives the nearest names and how to
        give the values of a species that is not in the table.
    """
    rows = {row.name.lower(): row for row in known_species()}
    row = rows.get(name.strip().lower())
    if row is None:
        near = nearest_names(name, (row.name for row in known_species()))
        hint = f"; nearest: {', '.join(near)}" if near else ""
        raise UnknownSpeciesError(
            f'no species "{name}" in the table of timbers{hint}. To use another, leave '
            "`timber` out of its row and give `shrinkage_radial` and "
            "`shrinkage_tangential` (green to oven-dry) with their source"
        )
    return row
