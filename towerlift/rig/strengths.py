"""What a piece of the plan is strong enough for, or what is missing to say so."""

from dataclasses import dataclass
from math import sqrt

from towerlift.plan.model import Plan
from towerlift.timber import Duration, Read, Sourced, Strengths, design_value, find_strengths
from towerlift.timber.strengths import K_C90_ELSE, K_C90_SOFTWOOD, K_CR


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """Design strengths of a piece under a load of one duration.

    Attributes
    ----------
    name : str
        Species and class.
    metal : bool
        Whether it has no grain.
    bending, tension, compression, across, shear : Sourced or None
        Design strengths; None where nobody gives one. [Pa]
    modulus, modulus_low, shear_modulus : float or None
        Mean and characteristic modulus of elasticity, mean shear modulus. [Pa]
    crack : float
        Share of the breadth that takes shear.
    characteristic_compression : float
        Along the grain, before duration and factors; nil where nobody gives one. [Pa]
    """

    name: str
    metal: bool
    bending: Sourced | None
    tension: Sourced | None
    compression: Sourced | None
    across: Sourced | None
    shear: Sourced | None
    modulus: float
    modulus_low: float | None
    shear_modulus: float
    crack: float
    characteristic_compression: float


def material_of(plan: Plan, species: str, duration: Duration) -> Material | str:
    """Design strengths of a species as the plan grades it.

    Parameters
    ----------
    plan : Plan
        Species, and the strengths it gives itself.
    species : str
        Name of one of them.
    duration : Duration
        How long the load lies on.

    Returns
    -------
    material : Material, or str
        In words what the plan does not say.
    """
    row = next((each for each in plan.species if each.name == species), None)
    if row is None or row.strength_class is None:
        return f"the plan gives no strength class of {species}: it must be graded"
    given = next((each for each in plan.strengths if each.name == row.strength_class), None)
    if given is None:
        return _of_class(species, find_strengths(row.strength_class), duration)
    metal = given.kind == "metal"

    def sourced(value: float | None, or_else: float | None = None) -> Sourced | None:
        value = or_else if value is None else value
        if value is None:
            return None
        made = Sourced(value=value, source=given.source, read=Read.GIVEN)
        return design_value(made, duration, metal=metal)

    same = given.bending if metal else None
    across = sourced(given.across, same)
    factor = K_C90_SOFTWOOD if given.kind == "softwood" else K_C90_ELSE
    return Material(
        name=f"{species}, {given.name}",
        metal=metal,
        bending=sourced(given.bending),
        tension=sourced(given.tension, same),
        compression=sourced(given.compression, same),
        across=across if metal else _times(across, factor),
        shear=sourced(given.shear, None if same is None else same / sqrt(3.0)),
        modulus=given.modulus,
        modulus_low=given.modulus if metal else given.modulus_low,
        shear_modulus=given.shear_modulus,
        crack=1.0 if metal else K_CR.value,
        characteristic_compression=given.compression or same or 0.0,
    )


def _of_class(species: str, row: Strengths, duration: Duration) -> Material:
    factor = K_C90_ELSE if row.hardwood else K_C90_SOFTWOOD
    return Material(
        name=f"{species}, {row.name}",
        metal=False,
        bending=design_value(row.bending, duration),
        tension=design_value(row.tension, duration),
        compression=design_value(row.compression, duration),
        across=_times(design_value(row.across, duration), factor),
        shear=design_value(row.shear, duration),
        modulus=row.modulus.value,
        modulus_low=row.modulus_low.value,
        shear_modulus=row.shear_modulus.value,
        crack=K_CR.value,
        characteristic_compression=row.compression.value,
    )


def _times(strength: Sourced | None, factor: Sourced) -> Sourced | None:
    if strength is None or factor.value == 1.0:
        return strength
    return Sourced(
        value=strength.value * factor.value,
        source=f"{strength.source} x {factor.value:g} ({factor.source})",
        read=strength.read,
    )
