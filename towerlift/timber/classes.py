"""Strength classes of structural softwood, and bearing across the grain."""

from dataclasses import dataclass

from towerlift.timber.species import UnknownSpeciesError, nearest_names
from towerlift.timber.values import Read, Sourced

EN_338 = "EN 338, strength classes"


@dataclass(frozen=True, slots=True, kw_only=True)
class StrengthClass:
    """Properties of one class.

    Attributes
    ----------
    name : str
        Such as "C24".
    density_low, density_mean : Sourced
        Characteristic and mean density of seasoned wood, not of the wet stick on the
        site. [kg/m^3]
    bearing_across : Sourced
        Characteristic compressive strength across the grain. [Pa]
    """

    name: str
    density_low: Sourced
    density_mean: Sourced
    bearing_across: Sourced


# name: characteristic density, mean density, strength across the grain in N/mm^2.
_ROWS: dict[str, tuple[float, float, float]] = {
    "C14": (290, 350, 2.0),
    "C16": (310, 370, 2.2),
    "C18": (320, 380, 2.2),
    "C20": (330, 400, 2.3),
    "C22": (340, 410, 2.4),
    "C24": (350, 420, 2.5),
    "C27": (360, 430, 2.5),
    "C30": (380, 460, 2.7),
    "C35": (390, 470, 2.7),
    "C40": (400, 480, 2.8),
    "C45": (410, 490, 2.9),
    "C50": (430, 520, 3.0),
}


def _value(value: float) -> Sourced:
    return Sourced(value=value, source=EN_338, read=Read.REPEATED)


def strength_classes() -> tuple[StrengthClass, ...]:
    """Every class of which the values were read.

    Returns
    -------
    classes : tuple of StrengthClass
        Weakest first.
    """
    return tuple(
        StrengthClass(
            name=name,
            density_low=_value(low),
            density_mean=_value(mean),
            bearing_across=_value(bearing * 1e6),
        )
        for name, (low, mean, bearing) in _ROWS.items()
    )


def find_class(name: str) -> StrengthClass:
    """The strength class of a name.

    Parameters
    ----------
    name : str
        Such as "C24".

    Returns
    -------
    strength_class : StrengthClass
        Its properties.

    Raises
    ------
    UnknownSpeciesError
        If it is not one of those that were read; hardwood classes differ between
        editions of the standard and are not here.
    """
    rows = {row.name: row for row in strength_classes()}
    row = rows.get(name.strip().upper())
    if row is None:
        near = nearest_names(name, rows) or tuple(rows)
        raise UnknownSpeciesError(
            f'no strength class "{name}" was read; nearest: {", ".join(near)}. Hardwood '
            "classes differ between editions: take the value from the edition in force"
        )
    return row
