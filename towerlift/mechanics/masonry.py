"""How a section shares its weight among its legs, and how honest its locks are."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
MOST_ROUNDS = 64
# Share of the distance of two feet by which their line may miss the resultant.
ACROSS = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Stance:
    """A rigid section on its feet.

    Attributes
    ----------
    feet : (n, 2) float
        Where its feet stand, seen from above. [m]
    weight : float
        [N]
    centre : (2,) float
        Centre of gravity, seen from above. [m]
    moment : (2,) float
        Of what pushes from the side about the level of the feet, as the arm by which it
        moves the weight: eastward and northward overturning. [N m]
    """

    feet: Floats
    weight: float
    centre: Floats
    moment: Floats

    def __post_init__(self) -> None:
        if self.feet.ndim != 2 or self.feet.shape[1] != 2 or len(self.feet) < 3:
            raise ValueError(f"a section stands on three feet or more, got {self.feet.shape}")
        if not (self.weight > 0 and np.all(np.isfinite(self.centre))):
            raise ValueError(f"weight must be positive, got {self.weight} N")
        if not np.all(np.isfinite(self.moment)):
            raise ValueError(f"moment must be a number, got {self.moment} N m")

    @property
    def resultant(self) -> Floats:
        """Where the resultant of weight and side load meets the level of the feet. [m]"""
        return np.asarray(self.centre + self.moment / self.weight)


def foot_loads(stance: Stance, heights: Floats | None = None, stiffness: float = 1.0) -> Floats:
    r"""Load of each foot of a rigid section on equal springs that cannot pull.

    Parameters
    ----------
    stance : Stance
        Feet, weight and side load.
    heights : (n,) float, optional
        Height of each ledge against the others; level where left out. [m]
    stiffness : float
        Of one foot on its ledge; without heights it changes nothing. [N/m]

    Returns
    -------
    loads : (n,) float
        None below nothing. [N]

    Raises
    ------
    ValueError
        If the resultant falls outside the feet, so that the section falls over.

    Notes
    -----
    A plane :math:`w = a + b x + c y` sinks into the ledges; foot i bears
    :math:`k \max(0, w_i + z_i)`. The feet that bear are found by taking them in and out
    until the plane agrees with them.
    """
    raised = np.zeros(len(stance.feet)) if heights is None else np.asarray(heights, float)
    at = np.column_stack([np.ones(len(stance.feet)), stance.feet])
    wanted = stance.weight * np.array([1.0, *stance.resultant])
    bears = np.ones(len(at), dtype=bool)
    if heights is not None:
        # The highest ledges meet their feet first.
        bears = raised >= np.sort(raised)[-3]
    seen: set[bytes] = set()
    for _ in range(MOST_ROUNDS):
        rows = at[bears]
        matrix = stiffness * rows.T @ rows
        right = wanted - stiffness * rows.T @ raised[bears]
        plane, *_ = np.linalg.lstsq(matrix, right)
        sink = at @ plane + raised
        loads = np.where(bears, stiffness * sink, 0.0)
        tight = 1e-9 * stance.weight
        balanced = np.abs(at.T @ loads - wanted).max() <= 1e-6 * stance.weight
        if balanced and loads.min() >= -tight and np.all(stiffness * sink[~bears] <= tight):
            return np.maximum(loads, 0.0)
        after = sink > 0
        if after.sum() < 2 or after.tobytes() in seen:
            break
        seen.add(after.tobytes())
        bears = after
    return _by_optimising(at, raised, wanted, stiffness)


def _by_optimising(at: Floats, raised: Floats, wanted: Floats, stiffness: float) -> Floats:
    # The same plane is where the springs' energy is least: convex, so it cannot miss it.
    from scipy.optimize import minimize

    scale = wanted[0] / stiffness / len(at)

    def energy(plane: Floats) -> tuple[float, Floats]:
        sink = np.maximum(at @ (plane * scale) + raised, 0.0)
        value = stiffness * (sink @ sink) / 2 - wanted @ plane * scale
        slope = (stiffness * at.T @ sink - wanted) * scale
        return value / (wanted[0] * scale), slope / (wanted[0] * scale)

    found = minimize(energy, np.array([1.0, 0.0, 0.0]), jac=True, method="BFGS", tol=1e-12)
    loads = np.asarray(
        stiffness * np.maximum(at @ (found.x * scale) + raised, 0.0), dtype=np.float64
    )
    if not np.abs(at.T @ loads - wanted).max() <= 1e-4 * wanted[0]:
        raise ValueError("the resultant falls outside the feet: the section falls over")
    return loads


def leg_patterns(stance: Stance) -> Floats:
    """Ways in which a section may stand while contact of all its feet is not proved.

    Parameters
    ----------
    stance : Stance
        Feet in any order.

    Returns
    -------
    patterns : (k, n) float
        Loads of the feet: on even springs first, then each diagonal alone, sharing by the
        lever along it. [N]

    Raises
    ------
    ValueError
        If the section falls over.

    Notes
    -----
    Derived here: a rigid body on two feet stands only on two that face each other across
    its resultant, so it is diagonals that carry all; two feet of one side cannot, since
    nothing would balance the moment. A pair counts as facing each other if the line
    between them passes within a quarter of its length of the resultant.
    """
    feet, where = stance.feet, stance.resultant
    patterns = [foot_loads(stance)]
    for i, j in combinations(range(len(feet)), 2):
        along = feet[j] - feet[i]
        length = float(np.linalg.norm(along))
        away = where - feet[i]
        share = float(away @ along) / length**2
        aside = abs(float(along[0] * away[1] - along[1] * away[0])) / length
        if 0 < share < 1 and aside <= ACROSS * length:
            loads = np.zeros(len(feet))
            loads[i], loads[j] = stance.weight * (1 - share), stance.weight * share
            patterns.append(loads)
    return np.array(patterns)


def two_leg_loads(stance: Stance) -> Floats:
    """Greatest load that each foot may carry while contact of all is not proved.

    Parameters
    ----------
    stance : Stance
        Feet in any order.

    Returns
    -------
    loads : (n,) float
        Half the weight each where the resultant is in the middle. [N]
    """
    return np.asarray(leg_patterns(stance).max(axis=0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Packing:
    """What packing makes the legs of a section share alike.

    Attributes
    ----------
    packs : (n,) float
        Thickness to put under each foot, in whole steps. [m]
    before, after : (n,) float
        Loads of the feet. [N]
    """

    packs: Floats
    before: Floats
    after: Floats

    @property
    def ratio_before(self) -> float:
        """Greatest load over the mean, as measured."""
        return float(self.before.max() / self.before.mean())

    @property
    def ratio_after(self) -> float:
        """Greatest load over the mean, packed."""
        return float(self.after.max() / self.after.mean())


def pack_feet(
    stance: Stance, heights: Floats, stiffness: float, *, aim: float = 1.3, step: float = 1e-3
) -> Packing:
    """Packing in steps until no foot bears more than its fair share.

    Parameters
    ----------
    stance : Stance
        Feet, weight and side load.
    heights : (n,) float
        Measured heights of the ledges. [m]
    stiffness : float
        Of one foot on its ledge. [N/m]
    aim : float
        Greatest load over the mean at which packing stops.
    step : float
        Of the packing. [m]

    Returns
    -------
    packing : Packing
        Packs that only raise; where no pack helps any more, as far as they bring it.

    Raises
    ------
    ValueError
        If the section falls over, or aim, step or stiffness are not positive.
    """
    if not (aim >= 1 and step > 0 and stiffness > 0):
        raise ValueError(f"aim, step and stiffness must be positive, got {aim}, {step}")
    packs = np.zeros(len(heights))
    before = foot_loads(stance, np.asarray(heights, float), stiffness)
    loads = before
    for _ in range(400):
        if loads.max() / loads.mean() <= aim:
            break
        trial = packs.copy()
        trial[int(loads.argmin())] += step
        packed = foot_loads(stance, heights + trial, stiffness)
        if packed.max() > loads.max() + 1e-9 * stance.weight:
            break
        packs, loads = trial, packed
    return Packing(packs=packs, before=before, after=loads)
