"""Characteristic strengths of the classes of structural timber, and how long they last."""

from dataclasses import dataclass
from enum import StrEnum

from towerlift.timber.species import UnknownSpeciesError, nearest_names
from towerlift.timber.values import Read, Sourced

EN_338_2016 = "EN 338:2016, as two open packages of structural checks repeat it"
EN_1995 = "EN 1995-1-1"
KMOD_SOURCE = f"{EN_1995}, table 3.1, as a structural engineer's manual repeats it"


class Duration(StrEnum):
    """How long a load lies on, in the classes of EN 1995-1-1."""

    PERMANENT = "permanent"
    LONG = "long"
    MEDIUM = "medium"
    SHORT = "short"
    INSTANTANEOUS = "instantaneous"


@dataclass(frozen=True, slots=True, kw_only=True)
class Strengths:
    """Characteristic strengths and stiffness of one material.

    Attributes
    ----------
    name : str
        Class, such as "D30".
    hardwood : bool
        Whether bearing across the grain may not be raised at discrete supports.
    metal : bool
        Whether it has no grain and no duration factor: every strength is then its yield.
    bending, tension, compression : Sourced
        Along the grain. [Pa]
    across, shear : Sourced
        Compression across the grain, and shear. [Pa]
    modulus, modulus_low : Sourced
        Mean and characteristic modulus of elasticity along the grain. [Pa]
    shear_modulus : Sourced
        Mean. [Pa]
    """

    name: str
    hardwood: bool
    metal: bool = False
    bending: Sourced
    tension: Sourced
    compression: Sourced
    across: Sourced
    shear: Sourced
    modulus: Sourced
    modulus_low: Sourced
    shear_modulus: Sourced


# f_m, f_t0, f_c0, f_c90, f_v [N/mm^2]; E_0,mean, E_0,05, G_mean [kN/mm^2].
_ROWS: dict[str, tuple[float, ...]] = {
    "C14": (14, 7.2, 16, 2.0, 3.0, 7.0, 4.7, 0.44),
    "C16": (16, 8.5, 17, 2.2, 3.2, 8.0, 5.4, 0.50),
    "C18": (18, 10.0, 18, 2.2, 3.4, 9.0, 6.0, 0.56),
    "C20": (20, 11.5, 19, 2.3, 3.6, 9.5, 6.4, 0.59),
    "C22": (22, 13.0, 20, 2.4, 3.8, 10.0, 6.7, 0.63),
    "C24": (24, 14.5, 21, 2.5, 4.0, 11.0, 7.4, 0.69),
    "C27": (27, 16.5, 22, 2.5, 4.0, 11.5, 7.7, 0.72),
    "C30": (30, 19.0, 24, 2.7, 4.0, 12.0, 8.0, 0.75),
    "C35": (35, 22.5, 25, 2.7, 4.0, 13.0, 8.7, 0.81),
    "C40": (40, 26.0, 27, 2.8, 4.0, 14.0, 9.4, 0.88),
    "C45": (45, 30.0, 29, 2.9, 4.0, 15.0, 10.1, 0.94),
    "C50": (50, 33.5, 30, 3.0, 4.0, 16.0, 10.7, 1.00),
    "D18": (18, 11, 18, 4.8, 3.5, 9.5, 8.0, 0.59),
    "D24": (24, 14, 21, 4.9, 3.7, 10.0, 8.4, 0.63),
    "D27": (27, 16, 22, 5.1, 3.8, 10.5, 8.8, 0.66),
    "D30": (30, 18, 24, 5.3, 3.9, 11.0, 9.2, 0.69),
    "D35": (35, 21, 25, 5.4, 4.1, 12.0, 10.1, 0.75),
    "D40": (40, 24, 27, 5.5, 4.2, 13.0, 10.9, 0.81),
    "D45": (45, 27, 29, 5.8, 4.4, 13.5, 11.3, 0.84),
    "D50": (50, 30, 30, 6.2, 4.5, 14.0, 11.8, 0.88),
    "D55": (55, 33, 32, 6.6, 4.7, 15.5, 13.0, 0.97),
    "D60": (60, 36, 33, 10.5, 4.8, 17.0, 14.3, 1.06),
}

# Service class 3: in the open, wet, as a tower is until it is clad.
_K_MOD_WET: dict[Duration, float] = {
    Duration.PERMANENT: 0.50,
    Duration.LONG: 0.55,
    Duration.MEDIUM: 0.65,
    Duration.SHORT: 0.70,
    Duration.INSTANTANEOUS: 0.90,
}


def _repeated(value: float, source: str) -> Sourced:
    return Sourced(value=value, source=source, read=Read.REPEATED)


GAMMA_M = _repeated(1.3, f"{EN_1995}, table 2.3, solid timber")
K_CR = _repeated(0.67, f"{EN_1995}, 6.1.7, solid timber that may have cracked")
K_C90_SOFTWOOD = _repeated(1.5, f"{EN_1995}, 6.1.5, solid softwood on discrete supports")
K_C90_ELSE = _repeated(1.0, f"{EN_1995}, 6.1.5")
SPREAD_ACROSS = _repeated(0.030, f"{EN_1995}, 6.1.5, contact length along the grain")


def known_strengths() -> tuple[Strengths, ...]:
    """Every class whose strengths were read.

    Returns
    -------
    classes : tuple of Strengths
        Softwoods first, weakest first.
    """
    return tuple(_row(name) for name in _ROWS)


def find_strengths(name: str) -> Strengths:
    """Strengths of a class.

    Parameters
    ----------
    name : str
        Such as "C24" or "D30".

    Returns
    -------
    strengths : Strengths
        Characteristic values.

    Raises
    ------
    UnknownSpeciesError
        If the class was not read; the nearest are named.
    """
    key = name.strip().upper()
    if key not in _ROWS:
        near = nearest_names(name, _ROWS) or tuple(_ROWS)
        raise UnknownSpeciesError(
            f'no strengths of a class "{name}" were read; nearest: {", ".join(near)}. Give '
            "them in the table of strengths, with their source"
        )
    return _row(key)


def _row(name: str) -> Strengths:
    values = _ROWS[name]
    stress = [_repeated(value * 1e6, EN_338_2016) for value in values[:5]]
    stiffness = [_repeated(value * 1e9, EN_338_2016) for value in values[5:]]
    return Strengths(
        name=name,
        hardwood=name.startswith("D"),
        bending=stress[0],
        tension=stress[1],
        compression=stress[2],
        across=stress[3],
        shear=stress[4],
        modulus=stiffness[0],
        modulus_low=stiffness[1],
        shear_modulus=stiffness[2],
    )


def duration_factor(duration: Duration) -> Sourced:
    """Share of the strength that is left under a load of a duration, out in the wet.

    Parameters
    ----------
    duration : Duration
        How long the load lies on.

    Returns
    -------
    factor : Sourced
        k_mod of solid timber in service class 3.
    """
    return _repeated(_K_MOD_WET[duration], f"{KMOD_SOURCE}, service class 3")


def design_value(strength: Sourced, duration: Duration, *, metal: bool = False) -> Sourced:
    """Design strength under a load of a duration.

    Parameters
    ----------
    strength : Sourced
        Characteristic. [Pa]
    duration : Duration
        How long the load lies on.
    metal : bool
        Whether neither duration nor the factor of timber applies.

    Returns
    -------
    design : Sourced
        k_mod f_k / gamma_M with both factors in its source; of a metal its yield
        strength. [Pa]
    """
    if metal:
        return strength
    factor = duration_factor(duration)
    return Sourced(
        value=strength.value * factor.value / GAMMA_M.value,
        source=(
            f"{strength.source}: {strength.value / 1e6:g} MPa x {factor.value:g} "
            f"({duration} load, {factor.source}) / {GAMMA_M.value:g} ({GAMMA_M.source})"
        ),
        read=strength.read,
    )
