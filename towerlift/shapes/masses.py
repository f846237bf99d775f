"""Mass, centre of gravity and inertia of solids, lumped masses and sets of both."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from towerlift.plan import bodies
from towerlift.shapes.solids import Floats, Ints, MassProperties, Shapes, Solid, combine

_ORIGIN = np.zeros(3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Volume:
    """What the triangles of a closed solid enclose.

    Attributes
    ----------
    volume : float
        [m^3]
    centre : (3,) float
        Centre of the volume. [m]
    inertia : (3, 3) float
        About the centre, at a density of one. [m^5]
    """

    volume: float
    centre: Floats
    inertia: Floats


def enclosed_volume(vertices: Floats, faces: Ints) -> Volume:
    """Volume, centre and inertia enclosed by triangles, by the divergence theorem.

    Parameters
    ----------
    vertices : (n, 3) float
        [m]
    faces : (m, 3) int
        Corner numbers of a closed surface, anticlockwise from outside.

    Returns
    -------
    enclosed : Volume
        Where bodies cross, what they share counts twice.

    Raises
    ------
    ValueError
        If the triangles enclose no volume, or face inward.

    Notes
    -----
    Every triangle makes a tetrahedron with one fixed point, taken at the middle of
    the corners to keep rounding small. A tetrahedron 0, a, b, c of determinant d has
    the volume d / 6, the first moment d (a + b + c) / 24, and the second moment
    d (aa + bb + cc + ss) / 120 with s = a + b + c.
    """
    middle = vertices[faces].mean(axis=(0, 1))
    corners = vertices[faces] - middle
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    determinants = np.einsum("ni,ni->n", a, np.cross(b, c))
    volume = float(determinants.sum() / 6)
    if not volume > 0:
        raise ValueError(
            f"triangles must enclose a volume and face outward, got {volume:g} m^3"
        )
    sums = a + b + c
    centre = determinants @ sums / (24 * volume)
    points = np.concatenate([corners, sums[:, None]], axis=1)
    second = np.einsum("n,npi,npj->ij", determinants, points, points) / 120
    second -= volume * np.outer(centre, centre)
    inertia = np.trace(second) * np.eye(3) - second
    return Volume(volume=volume, centre=middle + centre, inertia=inertia)


def mesh_mass(solid: Solid, density: float, tolerance: float) -> MassProperties:
    """Mass properties of a closed solid of one density.

    Parameters
    ----------
    solid : Solid
        Closed.
    density : float
        [kg/m^3]
    tolerance : float
        Share by which the mass may be out.

    Returns
    -------
    mass : MassProperties
        Frame of the solid.

    Raises
    ------
    ValueError
        If the solid is not closed or the density is not above zero.
    """
    if not solid.closed:
        raise ValueError(f"{solid.name}: an open solid has no volume")
    if not density > 0:
        raise ValueError(f"{solid.name}: density must be above zero, got {density} kg/m^3")
    enclosed = enclosed_volume(solid.vertices, solid.faces)
    return MassProperties(
        mass=density * enclosed.volume,
        centre=enclosed.centre,
        inertia=density * enclosed.inertia,
        tolerance=tolerance,
    )


def point_mass(lump: bodies.LumpedMass, tolerance: float) -> MassProperties:
    """Mass properties of a lumped mass, which has no size.

    Parameters
    ----------
    lump : LumpedMass
        As planned.
    tolerance : float
        Share by which the mass may be out.

    Returns
    -------
    mass : MassProperties
        Without inertia of its own.
    """
    return MassProperties(
        mass=lump.mass,
        centre=np.array(lump.centre, dtype=np.float64),
        inertia=np.zeros((3, 3)),
        tolerance=tolerance,
    )


def add_masses(masses: Sequence[MassProperties]) -> MassProperties:
    """Mass properties of bodies that share one frame.

    Parameters
    ----------
    masses : sequence of MassProperties
        At least one.

    Returns
    -------
    together : MassProperties
        In the same frame.

    Raises
    ------
    ValueError
        If there is nothing to add.
    """
    return combine([(mass, _ORIGIN) for mass in masses])


def apply_weighing(computed: MassProperties, weighed: bodies.Weighed) -> MassProperties:
    """Put a scale reading in place of a computed mass.

    Parameters
    ----------
    computed : MassProperties
        Members and lumped masses together.
    weighed : Weighed
        The reading and its tolerance.

    Returns
    -------
    mass : MassProperties
        The reading, with the computed centre: a scale under the whole says nothing
        about where the mass lies. The inertia grows or shrinks with the mass.
    """
    return MassProperties(
        mass=weighed.mass,
        centre=computed.centre,
        inertia=computed.inertia * (weighed.mass / computed.mass),
        tolerance=weighed.tolerance,
    )


def mass_of(
    shapes: Shapes, names: Sequence[str], origins: Mapping[str, Floats] | None = None
) -> MassProperties:
    """Mass, centre of gravity and inertia of any set of sections and fit-out.

    Parameters
    ----------
    shapes : Shapes
        Everything the plan draws.
    names : sequence of str
        Sections and fit-out items, each once.
    origins : mapping of str to (3,) float, optional
        Place of the heel of each section, on its axis, in a common frame with
        parallel axes; an item follows its section unless it is named itself. None
        takes every origin as that frame's own. [m]

    Returns
    -------
    together : MassProperties
        In the common frame.

    Raises
    ------
    ValueError
        If no name is given, one is given twice or not known, or a section has no
        place.
    """
    if len(set(names)) != len(names):
        raise ValueError(f"each name may be given once, got {sorted(names)}")
    pieces = []
    for name in names:
        piece = shapes.sections.get(name) or shapes.fit_out.get(name)
        if piece is None:
            known = sorted([*shapes.sections, *shapes.fit_out])
            raise ValueError(f'no section or fit-out item "{name}"; there are {known}')
        pieces.append((piece.mass, _origin(shapes, name, origins)))
    return combine(pieces)


def _origin(shapes: Shapes, name: str, origins: Mapping[str, Floats] | None) -> Floats:
    if origins is None:
        return _ORIGIN
    for key in (name, shapes.fitted_on.get(name)):
        if key is not None and key in origins:
            return origins[key]
    raise ValueError(f'no place given for "{name}"; places are given for {sorted(origins)}')
