"""How much a piece of wood grows across its grain with its moisture."""

from dataclasses import dataclass
from enum import StrEnum

from towerlift.timber.species import TimberSpecies
from towerlift.timber.values import Read, Sourced

FIBRE_SATURATION = 0.30
LOWEST, HIGHEST = 0.06, 0.14
"""Moisture contents between which the printed change of size holds."""


class Cut(StrEnum):
    """How a piece lay in the log, as far as it is known.

    FLATSAWN has its rings along the breadth, QUARTERSAWN along the depth. BOXED_HEART
    has the heart within it, so that each side is partly of either kind. With UNKNOWN
    every side is taken to move as the rings do, which is the most.
    """

    FLATSAWN = "flatsawn"
    QUARTERSAWN = "quartersawn"
    BOXED_HEART = "boxed heart"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Change of one dimension.

    Attributes
    ----------
    amount : float
        Growth, negative where it shrinks. [m]
    estimated : bool
        Whether either moisture content lies outside 6 to 14 %, where the printed
        value is only an estimate.
    """

    amount: float
    estimated: bool


def change_coefficient(shrinkage: float) -> float:
    """Change of size for a change of moisture content of one, from total shrinkage.

    Parameters
    ----------
    shrinkage : float
        From green to oven-dry, share of the green size.

    Returns
    -------
    coefficient : float
        Share of the size at 10 % moisture for a moisture change of 100 %; a
        hundredth of it is the printed change for each per cent.

    Raises
    ------
    ValueError
        If the shrinkage is not above 0 and below 1.

    Notes
    -----
    Wood is taken to shrink evenly from 30 % to oven-dry. The size at 10 % moisture is
    then 1 - 20 S / 30 of the green size, and S in per cent gives 1 / (3000 / S - 20)
    for each per cent.

    References
    ----------
    .. [1] Wood Handbook, FPL-GTR-190 (2010), tables 4-3 and 13-5, which agree by it.
    """
    if not 0 < shrinkage < 1:
        raise ValueError(f"shrinkage must be above 0 and below 1, got {shrinkage}")
    return 100.0 / (30.0 / shrinkage - 20.0)


def size_change(size: float, coefficient: float, start: float, end: float) -> Change:
    """Growth of a dimension across the grain from one moisture content to another.

    Parameters
    ----------
    size : float
        At the start. [m]
    coefficient : float
        Change of size for a change of moisture content of one.
    start, end : float
        Moisture contents, share of the oven-dry mass; above fibre saturation, 30 %,
        nothing moves.

    Returns
    -------
    change : Change
        Growth, and whether it is outside what the coefficient was printed for.

    Raises
    ------
    ValueError
        If the size is negative, or a moisture content is negative or not a number.

    References
    ----------
    .. [1] Wood Handbook, FPL-GTR-190 (2010), chapter 13, dimensional change.
    """
    if not size >= 0:
        raise ValueError(f"size must not be negative, got {size} m")
    if not (start >= 0 and end >= 0):
        raise ValueError(f"moisture must not be negative, got {start} and {end}")
    held = [min(moisture, FIBRE_SATURATION) for moisture in (start, end)]
    estimated = not all(LOWEST <= moisture <= HIGHEST for moisture in (start, end))
    return Change(amount=size * coefficient * (held[1] - held[0]), estimated=estimated)


def coefficients(species: TimberSpecies) -> tuple[Sourced | None, Sourced | None]:
    """Radial and tangential change of size: as printed, else from the shrinkage.

    Parameters
    ----------
    species : TimberSpecies
        What was read of it.

    Returns
    -------
    radial, tangential : Sourced or None
        Change of size for a moisture change of one; None where neither was read.
    """
    return (
        species.change_radial or _from_shrinkage(species.radial),
        species.change_tangential or _from_shrinkage(species.tangential),
    )


def _from_shrinkage(shrinkage: Sourced | None) -> Sourced | None:
    if shrinkage is None:
        return None
    return Sourced(
        value=change_coefficient(shrinkage.value),
        source=f"from the shrinkage in {shrinkage.source}",
        read=shrinkage.read,
    )


def side_coefficients(
    species: TimberSpecies, cut: Cut
) -> tuple[Sourced | None, Sourced | None]:
    """Change of breadth and of depth of a piece, for how it was cut.

    Parameters
    ----------
    species : TimberSpecies
        What was read of it.
    cut : Cut
        How the piece lay in the log.

    Returns
    -------
    breadth, depth : Sourced or None
        For a moisture change of one; None where what it needs was not read.
    """
    radial, tangential = coefficients(species)
    if cut is Cut.FLATSAWN:
        return tangential, radial
    if cut is Cut.QUARTERSAWN:
        return radial, tangential
    if cut is Cut.UNKNOWN:
        return tangential, tangential
    if radial is None or tangential is None:
        return None, None
    mean = Sourced(
        value=0.5 * (radial.value + tangential.value),
        source=f"mean of radial and tangential, the heart being boxed: {tangential.source}",
        read=radial.read if tangential.read is Read.PRINTED else tangential.read,
    )
    return mean, mean
