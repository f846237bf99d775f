"""Level pieces as beams: what they carry, what carries them, and what that does to them."""

from dataclasses import dataclass

import numpy as np

from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.mechanics.bending import bend_beam, bending_stress, second_moment, shear_stress
from towerlift.plan.model import Plan
from towerlift.rig.curves import Floats
from towerlift.rig.pieces import Piece
from towerlift.rig.strengths import material_of
from towerlift.timber import Duration, Sourced

# Own weight is laid on a beam in so many lumps.
LUMPS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Support:
    """What holds a beam at one place.

    Attributes
    ----------
    along : float
        From the start of the beam. [m]
    what : str
        Piece or pad, in words.
    """

    along: float
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamLoad:
    """A load on a beam.

    Attributes
    ----------
    along : float
        From the start of the beam. [m]
    load : float
        Design value, downward. [N]
    aside : float
        Design value, level and square to the beam. [N]
    """

    along: float
    load: float
    aside: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamUse:
    """Stresses of one beam under the worst of its patterns of load.

    Attributes
    ----------
    piece : Piece
        Which.
    supports : tuple of Support
        Two, left first.
    reactions : (2,) float
        Greatest at each, design values. [N]
    bending, shear : float
        Stresses; bending of both axes added up. [Pa]
    by_pattern : (k, 2) float
        Reactions in each pattern of load. [N]
    bending_strength, shear_strength : Sourced or None
        Design strengths. [Pa]
    sag : float
        Deflection under the loads without their factor, as a share of the span.
    load : float
        Greatest sum of the loads, design value. [N]
    material, missing : str
        Class, and what the plan does not say of it.
    """

    piece: Piece
    supports: tuple[Support, Support]
    reactions: Floats
    by_pattern: Floats
    bending: float
    shear: float
    bending_strength: Sourced | None
    shear_strength: Sourced | None
    sag: float
    load: float
    material: str
    missing: str


def use_beam(
    plan: Plan,
    piece: Piece,
    supports: list[Support],
    patterns: list[list[BeamLoad]],
    *,
    lasts: tuple[Duration, float],
) -> BeamUse:
    """Stresses of a beam under the worst of several patterns of load, with its own weight.

    Parameters
    ----------
    plan : Plan
        Species and strengths.
    piece : Piece
        A level one.
    supports : list of Support
        At least two; the beam is reckoned on the outermost two.
    patterns : list of list of BeamLoad
        Design loads that may lie on it, one list after the other.
    lasts : tuple of Duration and float
        How long the loads lie on, and the load factor that is in them.

    Returns
    -------
    use : BeamUse
        Greatest of each over the patterns.

    Raises
    ------
    ValueError
        If there are fewer than two supports.

    Notes
    -----
    Supports between the outermost are left out, which is on the safe side for the span but
    not for their own reactions; the checks tell of them.
    """
    if len(supports) < 2:
        raise ValueError(f"{piece.mark} needs two supports, got {len(supports)}")
    duration, factor = lasts
    ends = sorted(supports, key=lambda each: each.along)
    left, right = ends[0], ends[-1]
    density = next(each.density for each in plan.species if each.name == piece.member.species)
    own = factor * density * piece.member.breadth * piece.member.depth * piece.length
    lumps = (np.arange(LUMPS) + 0.5) / LUMPS * piece.length
    material = material_of(plan, piece.member.species, duration)
    crack = 1.0 if isinstance(material, str) else material.crack
    modulus = np.nan if isinstance(material, str) else material.modulus
    rigid = modulus * second_moment(piece.width, piece.height)
    lumped = np.full(LUMPS, own * STANDARD_GRAVITY / LUMPS)
    at = np.array([left.along, right.along])
    down, stress = [], []
    for pattern in patterns or [[]]:
        places = np.array([each.along for each in pattern])
        loads = np.array([each.load for each in pattern])
        bend = bend_beam(at, np.append(places, lumps), np.append(loads, lumped))
        level = bend_beam(at, places, np.array([each.aside for each in pattern]))
        down.append(bend)
        stress.append(
            bending_stress(bend.moment, piece.width, piece.height)
            + bending_stress(level.moment, piece.height, piece.width)
        )
    reactions = np.array([bend.reactions for bend in down])
    span = right.along - left.along
    return BeamUse(
        piece=piece,
        supports=(left, right),
        reactions=reactions.max(axis=0),
        by_pattern=reactions,
        bending=max(stress),
        shear=shear_stress(max(b.shear for b in down), piece.width * crack, piece.height),
        bending_strength=None if isinstance(material, str) else material.bending,
        shear_strength=None if isinstance(material, str) else material.shear,
        sag=max(bend.deflection for bend in down) / rigid / factor / span,
        load=float(reactions.sum(axis=1).max()),
        material="" if isinstance(material, str) else material.name,
        missing=material if isinstance(material, str) else "",
    )
